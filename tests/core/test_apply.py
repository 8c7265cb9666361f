"""A user's own function as a step of the model: derivatives, refusals, pickling."""

from __future__ import annotations

import functools
import math
import pickle

import mpmath
import numpy as np
import pytest
from scipy import optimize, special

from flowunc import (
    Angle,
    DimensionError,
    FlowuncError,
    FrictionFactor,
    Length,
    Mass,
    PropagationError,
    Quantity,
    Ratio,
    ReynoldsNumber,
    ShapeError,
    Temperature,
    UnitError,
    apply,
    concatenate,
    limits,
    standard,
)


def double_in_place(x):
    x *= 2.0
    return x


def cube(x):
    return x**3


def smooth(x, y):
    return np.exp(-x) * np.sin(x * y) + y**2


def colebrook(re, roughness):
    """Solve Colebrook-White by fixed-point iteration, vectorised, to rounding."""
    x = np.full_like(re, 8.0)
    for _ in range(60):
        x = -2.0 * np.log10(roughness / 3.7 + 2.51 * x / re)
    return 1.0 / x**2


def solve_one_by_one(x):
    """Cube root by a scalar root finder with a loose tolerance."""
    return np.array([optimize.brentq(lambda y, a=a: y**3 - a, 0.0, 100.0, xtol=1e-9) for a in x])


# -- derivatives -------------------------------------------------------------------------------
def test_derivatives_against_mpmath():
    x = Ratio([0.3, 1.2, 2.5], "1", standard(1e-3))
    y = Ratio([2.0, -1.5, 0.7], "1", standard(1e-3))
    result = apply(smooth, x, y)
    exact = lambda a, b: mpmath.exp(-a) * mpmath.sin(a * b) + b**2  # noqa: E731
    expected = [
        1e-3
        * math.hypot(
            float(mpmath.diff(exact, (a, b), (1, 0))), float(mpmath.diff(exact, (a, b), (0, 1)))
        )
        for a, b in zip(x.value, y.value, strict=True)
    ]
    np.testing.assert_allclose(result.u, expected, rtol=1e-8)


def test_exact_operation_and_the_same_function_by_apply_agree():
    x = Ratio([0.2, 1.0, 40.0], "1", standard(0.01))
    for function in (np.sqrt, np.log, np.exp, np.arctan, special.erf, np.square, np.reciprocal):
        by_hand = apply(function, x)
        exact = function(x)
        np.testing.assert_allclose(by_hand.u, exact.u, rtol=1e-8, atol=1e-300)
        np.testing.assert_allclose((by_hand - exact).u, 0.0, atol=1e-8 * exact.u.max())


def test_iterative_solver_against_the_implicit_derivative():
    # f from Colebrook-White: with x = 1/sqrt(f) and F(x, Re) = x + 2 log10(r/3.7 + 2.51 x/Re) = 0,
    # dx/dRe = -F_Re/F_x (implicit function theorem), df = -2 dx / x^3
    re = Ratio([1e4, 1e5], "1", standard([100.0, 1e3]))
    roughness = Ratio(1e-3, "1")
    f = apply(colebrook, re, roughness, kind=FrictionFactor, label="friction factor")
    assert type(f) is FrictionFactor
    assert f.label == "friction factor"
    # [Colebrook 1939], computed with the fluids package: 0.0323818064, 0.0221745359 at eps/D = 1e-3
    np.testing.assert_allclose(f.value, [0.0323818064, 0.0221745359], rtol=3e-9)
    x = f.value**-0.5
    inside = 1e-3 / 3.7 + 2.51 * x / re.value
    slope = 2 / math.log(10) / inside
    dx = slope * 2.51 * x / re.value**2 / (1 + slope * 2.51 / re.value)
    np.testing.assert_allclose(f.u, 2 * dx / x**3 * re.u, rtol=1e-8)


def test_noise_of_a_solver_is_lived_with():
    result = apply(solve_one_by_one, Ratio([8.0, 27.0], "1", standard(0.01)))
    np.testing.assert_allclose(result.u, [0.01 / 12, 0.01 / 27], rtol=1e-5)


def test_bore_in_two_places_is_counted_once():
    # f = D^5 and v = D^-2 of one bore: 1 % in D is 3 % in the product
    bore = Length(0.02, "m", standard(2e-4))
    product = apply(lambda d: d**5, bore, unit="m^5") * bore**-2
    assert product.u / product.value == pytest.approx(0.03, rel=1e-8)


def test_zero_argument_has_a_derivative():
    assert apply(np.sin, Angle(0.0, "rad", standard(0.01))).u == pytest.approx(0.01, rel=1e-8)
    many = apply(np.sin, Ratio([0.0, 1.0], "1", standard(0.01)))
    np.testing.assert_allclose(many.u, [0.01, 0.01 * math.cos(1.0)], rtol=1e-8)


def test_flat_place_has_derivative_zero():
    assert apply(np.cos, Ratio(0.0, "1", standard(0.01))).u == pytest.approx(0.0, abs=1e-10)
    assert apply(np.square, Ratio(0.0, "1", standard(0.01))).u == pytest.approx(0.0, abs=1e-10)
    constant = apply(lambda x: np.full_like(x, 3.0), Ratio([1.0, 2.0], "1", standard(0.01)))
    np.testing.assert_array_equal(constant.u, 0.0)


@pytest.mark.parametrize("at", [0.9999, -0.9999, 0.5])
def test_argument_close_to_the_edge_of_the_domain(at):
    # the first step, 1/64 of the argument, leaves the domain; the derivative exists all the same
    result = apply(np.arcsin, Ratio(at, "1", standard(1e-6)))
    assert result.u == pytest.approx(1e-6 / math.sqrt(1 - at * at), rel=1e-6)


def test_function_may_change_what_it_was_given():
    # doc: "copies, which it may change". The moved argument was handed over itself, so the
    # step it was divided by doubled as well and the derivative of 2x came out as 1
    given = Length([1.0, 3.0], "m", standard(0.1))
    result = apply(double_in_place, given, unit="m")
    assert result.value.tolist() == [2.0, 6.0]
    assert given.value.tolist() == [1.0, 3.0]
    np.testing.assert_allclose(result.u, 0.2, rtol=1e-9)


def ragged(x):
    """Return numbers in -1..1 that look random: the noise of a solver that stopped early."""
    wild = np.sin(x * 12989.8) * 43758.5453
    return 2.0 * (wild - np.floor(wild)) - 1.0


@pytest.mark.parametrize(
    "function",
    [
        lambda x: np.round(x, 5),
        lambda x: np.round(x, 4),
        lambda x: 1e3 + x + 1e-6 * ragged(x),
        lambda x: 1e3 + x + 1e-4 * ragged(x),
    ],
    ids=["table of 5 decimals", "table of 4 decimals", "noise 1e-6 on 1000", "noise 1e-4 on 1000"],
)
def test_slope_that_comes_out_is_right_or_refused(function):
    # doc: relative error of the derivative "required below 1e-5". All have the slope 1 (ten times
    # that error is granted). Quotients of rounded values agree by chance, which passed for an
    # error of zero; and an offset raised the error that is allowed
    wrong = []
    for at in np.linspace(1.0, 2.0, 41):
        try:
            u = apply(function, Ratio(at, "1", standard(1.0))).u
        except PropagationError:
            continue
        if abs(u - 1.0) > 1e-4:
            wrong.append((at, u))
    assert wrong == []


# -- kinks and noise ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("function", "at"),
    [
        (np.abs, 0.0),
        (lambda x: np.maximum(x, 2.0), 2.0),
        (lambda x: np.where(x < 2300, 64 / x, 0.3164 * x**-0.25), 2300.0),
        (lambda x: x * (1 + 0.1 * (x > 5.0)), 5.0),
        (lambda x: np.sqrt(np.abs(x)), 0.0),
    ],
)
def test_kink_or_jump_at_the_reading_is_refused(function, at):
    result = apply(function, Ratio([at, 7.0], "1", standard(0.01)))
    with pytest.raises(PropagationError, match=rf"reading 0 .* {at:.6g}.*monte_carlo"):
        _ = result.u
    # drawing needs no derivative
    assert result.monte_carlo(1_000).u[0] > 0


@pytest.mark.parametrize("size", [1e-12, 1e-6, 1.0, 1e6, 1e12])
def test_a_kink_is_known_by_its_shape_whatever_the_unit(size):
    x = Length(1.0, "m", standard(0.01))

    def steep(value):
        return size * np.abs(value - 1.0)

    with pytest.raises(PropagationError, match="its slope differs on the two sides"):
        apply(steep, x, unit="m").u  # noqa: B018
    # nothing of the kind in an exponential: d/dx size exp x = size exp x
    smooth = apply(lambda value: size * np.exp(value), x, unit="m")
    assert smooth.u == pytest.approx(size * math.e * 0.01, rel=1e-8)


def test_kink_away_from_the_reading_is_no_matter():
    result = apply(np.abs, Ratio([-3.0, 2.0], "1", standard(0.01)))
    np.testing.assert_allclose(result.u, 0.01, rtol=1e-8)


def test_noise_that_hides_the_slope_is_refused():
    generator = np.random.default_rng(1)
    result = apply(
        lambda x: x + 1e-4 * generator.standard_normal(x.size), Ratio(1.0, "1", standard(0.01))
    )
    with pytest.raises(PropagationError, match="monte_carlo"):
        _ = result.u


# -- what the function may see and give back ---------------------------------------------------
def test_function_sees_equal_1d_arrays_in_si():
    seen = []

    def look(a, b, c):
        seen.append((a, b, c))
        return a + b + c

    apply(look, Length([1, 2], "mm"), Length(3, "m"), Length([4], "m"), unit="m")
    for arrays in seen:
        assert len({array.shape for array in arrays}) == 1
        assert all(type(array) is np.ndarray and array.dtype == np.float64 for array in arrays)
    assert [arrays[0].size for arrays in seen] == [2, 1, 1]  # all, then first and last alone
    np.testing.assert_allclose(seen[0][0], [0.001, 0.002], rtol=1e-15)


def test_scalar_arguments_give_a_scalar():
    result = apply(cube, Length(2.0, "m", standard(0.1)), unit="m^3")
    assert type(result.value) is float
    assert result.u == pytest.approx(1.2, rel=1e-9)
    assert apply(cube, Length([2.0], "m"), unit="m^3").shape == (1,)


def test_kind_follows_the_unit_unless_asked():
    assert type(apply(cube, Length(2.0, "m"), unit="m^3")).__name__ == "Volume"
    assert type(apply(cube, Ratio(2.0, "1"))) is Ratio
    assert type(apply(cube, Ratio(2.0, "1"), kind=ReynoldsNumber)) is ReynoldsNumber
    kelvin = Temperature(20, "degC", standard(0.1))
    assert type(apply(lambda t: t + 1, kelvin, unit="K")) is Quantity
    assert type(apply(lambda t: t + 1, kelvin, unit="K", kind=Temperature)) is Temperature


@pytest.mark.parametrize(
    ("function", "shape"),
    [
        (lambda x: x[:1], r"\(1,\)"),
        (lambda x: x.sum(), r"\(\)"),
        (lambda x: np.outer(x, x), r"\(3, 3\)"),
        (lambda x: 1.0, r"\(\)"),
    ],
)
def test_result_of_another_shape_is_refused(function, shape):
    with pytest.raises(ShapeError, match=shape):
        apply(function, Ratio([1.0, 2.0, 3.0], "1"))


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_result_that_is_not_finite_is_refused(bad):
    # doc: PropagationError if the function "returns something ... not finite"; a NaN that no
    # floating-point flag announced went through as a value
    with pytest.raises(PropagationError):
        apply(lambda x: np.full_like(x, bad), Ratio([1.0, 2.0], "1", standard(0.1)))


def test_result_outside_the_domain_is_refused_with_function_and_argument():
    with pytest.raises(PropagationError, match=r"sqrt\(-4\) at reading 1"):
        apply(np.sqrt, Ratio([1.0, -4.0], "1"))


@pytest.mark.parametrize("size", [2, 3, 7])
@pytest.mark.parametrize(
    "function",
    [
        lambda x: x - x.mean(),
        lambda x: x / x.sum(),
        lambda x: x - x[-1],
        np.cumsum,
        np.sort,
        lambda x: np.where(np.arange(x.size) > 0, x, 0.0),
    ],
)
def test_function_that_mixes_readings_is_refused(function, size):
    # their derivatives would be taken as those of reading i to reading i only
    readings = Length(np.linspace(3.0, 1.0, size), "m", standard(0.01))
    with pytest.raises(PropagationError, match=r"mixes readings: reading [0-9]"):
        apply(function, readings, unit="m")


def test_warning_inside_the_function_is_its_own_business():
    # the result is finite everywhere: a branch that is masked out raised FloatingPointError
    masked = apply(
        lambda x: np.where(x > 0, np.log(np.abs(x)), 0.0), Ratio([1.0, 0.0], "1", standard(0.01))
    )
    assert masked.value.tolist() == [0.0, 0.0]


def test_failure_inside_the_function_is_named_and_chained():
    def broken(x):
        raise KeyError("no table")

    with pytest.raises(PropagationError, match=r"broken.*length 1: KeyError.*no table") as caught:
        apply(broken, Ratio(1.0, "1"))
    assert isinstance(caught.value.__cause__, KeyError)


@pytest.mark.parametrize(
    ("attempt", "text"),
    [
        (lambda: apply("sqrt", Ratio(1.0, "1")), "sqrt"),
        (lambda: apply(np.sqrt), "at least one quantity"),
        (lambda: apply(np.sqrt, 2.0), "2.0"),
        (lambda: apply(np.sqrt, Ratio(1.0, "1"), kind="Ratio"), "Ratio"),
        (lambda: apply(np.sqrt, Length(1.0, "m"), unit="mm"), "mm"),
        (lambda: apply(np.sqrt, Temperature(1.0, "K"), unit="degC", kind=Temperature), "degC"),
        (lambda: apply(np.sqrt, Ratio(1.0, "1"), unit="m", kind=Mass), "Mass"),
        (lambda: apply(np.sqrt, Ratio(1.0, "1"), unit="furlong"), "furlong"),
        (lambda: apply(np.add, Ratio([1, 2], "1"), Ratio([1, 2, 3], "1")), "2 and 3"),
        (lambda: apply(lambda t: t - 300, Temperature(20, "degC"), unit="K", kind=Temperature), ""),
    ],
)
def test_bad_arguments_are_refused_with_themselves(attempt, text):
    with pytest.raises(FlowuncError) as refusal:
        attempt()
    assert text in str(refusal.value)
    assert isinstance(refusal.value, (DimensionError, UnitError, ShapeError, ValueError))


# -- Monte Carlo and pickling ------------------------------------------------------------------
def test_draws_go_through_the_function():
    x = Ratio([1.0, 2.0], "1", limits(0.1))
    by_hand, exact = apply(cube, x).monte_carlo(5_000, seed=2), (x**3).monte_carlo(5_000, seed=2)
    np.testing.assert_allclose(by_hand.samples(), exact.samples(), rtol=1e-14)


def test_function_that_changes_its_input_spoils_no_draws():
    x = Length([1.0, 3.0], "m", standard(0.1))
    joined = concatenate(apply(double_in_place, x, unit="m"), x)
    samples = joined.monte_carlo(1_000, seed=2).samples()
    np.testing.assert_array_equal(samples[:, :2], 2 * samples[:, 2:])


def test_result_of_a_named_function_survives_pickling():
    length = Length([1.0, 2.0], "m", standard(0.1))
    volume = apply(cube, length, unit="m^3")
    back = pickle.loads(pickle.dumps(volume))
    np.testing.assert_array_equal((back - volume).u, 0.0)
    np.testing.assert_allclose((back - length**3).u, 0.0, atol=1e-9)


def test_partial_survives_pickling():
    volume = apply(functools.partial(smooth, y=2.0), Ratio(1.0, "1", standard(0.1)))
    assert (pickle.loads(pickle.dumps(volume)) - volume).u == 0.0


def test_lambda_cannot_be_pickled_and_is_named():
    root = apply(lambda x: x**0.5, Ratio(2.0, "1", standard(0.1)))
    with pytest.raises(PropagationError, match=r"<lambda>.*def at the top level"):
        pickle.dumps(root + 1)


def test_local_function_cannot_be_pickled_and_is_named():
    def root_of_x(x):
        return x**0.5

    with pytest.raises(PropagationError, match=r"root_of_x.*def at the top level"):
        pickle.dumps(apply(root_of_x, Ratio(2.0, "1", standard(0.1))))


def test_complex_result_is_refused_and_named():
    def root_of_x(x):
        return np.sqrt(x.astype(complex) - 3.0)

    message = r"root_of_x.*complex128 with an imaginary part of up to 1\b.*expected real"
    with pytest.raises(PropagationError, match=message):
        apply(root_of_x, Ratio(2.0, "1", standard(0.1)))


def branching(x):
    return x if x > 1 else -x


@pytest.mark.parametrize("scalar_solver", [branching, lambda x: math.exp(x)])
def test_scalar_solver_is_told_what_to_do(scalar_solver):
    readings = Ratio([2.0, 3.0], "1", standard(0.1))
    with pytest.raises(PropagationError, match=r"gets arrays; wrap a scalar solver with numpy\.v"):
        apply(scalar_solver, readings)
    assert apply(np.vectorize(scalar_solver), readings).size == 2


def test_other_failures_get_no_hint_about_arrays():
    def broken(x):
        raise ValueError("no root in the bracket")

    with pytest.raises(PropagationError, match=r"no root in the bracket$"):
        apply(broken, Ratio([2.0, 3.0], "1", standard(0.1)))
