"""Second-order mean and u: closed forms, published examples, and draws.

Where a formula is quadratic in its errors the second order is exact, whatever their
distributions. Elsewhere it is the exact moment as a series in the size of the error, cut after
the fourth power in the variance and after the second in the mean; mpmath makes the series.
"""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from scipy import stats

from flowunc import (
    Acceleration,
    Angle,
    Density,
    Length,
    Mass,
    Quantity,
    Ratio,
    Temperature,
    VolumeFlowRate,
    apply,
    arcsine,
    concatenate,
    cross_check,
    darcy_friction_factor,
    limits,
    mean_velocity,
    shared,
    standard,
    triangular,
    water,
)
from flowunc.core.component import Component, Term
from flowunc.core.distributions import Exponential
from flowunc.core.errors import DimensionError, PropagationError, RangeError
from flowunc.core.units import parse_unit
from flowunc.propagation.second_order import SecondOrder, second_order

mp = mpmath.mp.clone()
mp.dps = 40

M, S = 0.7, 0.3


def normal(mean=M, u=S):
    return Ratio(mean, "1", standard(u))


def series(moment, powers, size=S):
    """Return an exact moment as a series in the size of the error, up to some power."""
    terms = mp.taylor(moment, 0, powers)
    return float(sum(term * mp.mpf(size) ** k for k, term in enumerate(terms)))


# -- closed forms ----------------------------------------------------------------------------------
def test_square_is_exact():
    found = second_order(normal() ** 2)
    assert found.mean == pytest.approx(M**2 + S**2, rel=1e-14)
    assert found.u == pytest.approx(math.sqrt(4 * M**2 * S**2 + 2 * S**4), rel=1e-14)
    assert found.u_first == pytest.approx(2 * M * S, rel=1e-14)


def test_square_of_zero_mean_has_only_second_order():
    found = second_order(normal(0.0) ** 2)
    assert (found.u_first, found.shift) == (0.0, pytest.approx(S**2, rel=1e-14))
    assert found.u == pytest.approx(math.sqrt(2) * S**2, rel=1e-14)
    assert found.curvatures == ("large",)
    assert "zero to first order" in found.sentence()
    assert found.u_ratio == math.inf


def test_product_of_two_is_exact():
    found = second_order(normal(2.0, 0.5) * normal(3.0, 0.8))
    assert found.mean == 6.0
    variance = 4 * 0.64 + 9 * 0.25 + 0.64 * 0.25
    assert found.u == pytest.approx(math.sqrt(variance), rel=1e-14)


def test_reciprocal():
    # next term of the variance 8 s^4/x^6, of the mean s^2/x^3
    found = second_order(1 / normal(2.0, 0.2))
    assert found.shift == pytest.approx(0.2**2 / 2.0**3, rel=1e-13)
    assert found.u**2 == pytest.approx(0.2**2 / 2.0**4 + 8 * 0.2**4 / 2.0**6, rel=1e-13)


def test_exponential():
    # exact: mean exp(m + s^2/2), variance exp(2 m + s^2)(exp(s^2) - 1), which begins
    # exp(2 m)(s^2 + 3/2 s^4)
    found = second_order(np.exp(normal()))
    assert found.mean == pytest.approx(math.exp(M) * (1 + S**2 / 2), rel=1e-14)
    variance = series(lambda s: mp.exp(2 * M + s * s) * mp.expm1(s * s), 4)
    assert found.u**2 == pytest.approx(variance, rel=1e-12)
    assert variance == pytest.approx(math.exp(2 * M) * (S**2 + 1.5 * S**4), rel=1e-12)


def sine_mean(s):
    return mp.sin(M) * mp.exp(-s * s / 2)


def sine_variance(s):
    return (1 - mp.cos(2 * M) * mp.exp(-2 * s * s)) / 2 - sine_mean(s) ** 2


def test_sine():
    found = second_order(np.sin(normal()))
    assert found.mean == pytest.approx(series(sine_mean, 2), rel=1e-12)
    assert found.u**2 == pytest.approx(series(sine_variance, 4), rel=1e-12)
    # the next term helps: the exact u is 0.2235
    exact = math.sqrt(sine_variance(S))
    assert abs(found.u - exact) < 0.1 * abs(found.u_first - exact)


def test_inverse_square_of_a_rectangle():
    # X rectangular 1 +/- a: E[X^-2] = 1/(1 - a^2), E[X^-4] = ((1-a)^-3 - (1+a)^-3)/(6 a)
    a = 0.1

    def fourth(a):
        # the quotient written out, so that it has a series at a = 0
        return (3 + a * a) / (3 * (1 - a * a) ** 3)

    assert float(fourth(a)) == pytest.approx(((1 - a) ** -3 - (1 + a) ** -3) / (6 * a), rel=1e-13)
    found = second_order(Ratio(1.0, "1", limits(a)) ** -2)
    assert found.mean == pytest.approx(1 + a * a, rel=1e-14)
    variance = series(lambda a: fourth(a) - (1 - a * a) ** -2, 4, a)
    assert found.u**2 == pytest.approx(variance, rel=1e-12)
    # the formula for normal components is another one: kurtosis 3 in place of 1.8
    as_normal = second_order(Ratio(1.0, "1", limits(a)) ** -2, normal=True)
    s2 = a * a / 3
    # f = x^-2: f' = -2, f'' = 6, f''' = -24
    assert as_normal.u**2 == pytest.approx(4 * s2 + (36 / 2 + 48) * s2**2, rel=1e-12)
    assert as_normal.u > found.u


@pytest.mark.parametrize(
    ("statement", "known"),
    [
        (limits(0.4), stats.uniform(-0.4, 0.8)),
        (triangular(0.4), stats.triang(0.5, -0.4, 0.8)),
        (arcsine(0.4), stats.arcsine(-0.4, 0.8)),
        (standard(0.4), stats.norm(0, 0.4)),
    ],
)
def test_square_is_exact_for_every_distribution(statement, known):
    # (m + e)^2 has variance 4 m^2 mu_2 + 4 m mu_3 + mu_4 - mu_2^2
    second, third, fourth = (known.moment(order) for order in (2, 3, 4))
    found = second_order(Ratio(M, "1", statement) ** 2)
    assert found.shift == pytest.approx(second, rel=1e-12)
    variance = 4 * M**2 * second + 4 * M * third + fourth - second**2
    assert found.u**2 == pytest.approx(variance, rel=1e-12)


@pytest.mark.parametrize("gain", [0.4, -0.4])
def test_square_is_exact_for_a_skew_component(gain):
    error = Component("leak", Exponential(1.0), parse_unit("1"))
    x = Ratio._from_terms(M, [Term(error, gain)], parse_unit("1"))
    known = stats.expon(-1.0)
    second, third, fourth = (gain**k * known.moment(k) for k in (2, 3, 4))
    variance = 4 * M**2 * second + 4 * M * third + fourth - second**2
    found = second_order(x**2)
    assert found.u**2 == pytest.approx(variance, rel=1e-12)
    # without the skewness it would be as different as this
    assert second_order(x**2, normal=True).u ** 2 != pytest.approx(variance, rel=0.1)


def test_few_degrees_of_freedom_count_as_normal():
    few = second_order(Ratio(M, "1", standard(S, dof=3)) ** 2)
    many = second_order(normal() ** 2)
    assert (few.mean, few.u) == (many.mean, many.u)


# -- published examples ----------------------------------------------------------------------------
def test_end_gauge():
    # [JCGM 100, H.1.7]: second-order terms 11.7 and 1.7 nm, u_c 34 nm (printed, from memory);
    # 11.726 and 1.667 nm, from theta and alpha, which do not enter at first order (computed)
    length = Length(50.000623, "mm", standard(25, "nm"))
    difference = Length(215, "nm", standard(9.664))
    dalpha, dtheta = Quantity(0, "1/K", limits(1e-6)), Quantity(0, "K", limits(0.05))
    alpha = Quantity(11.5e-6, "1/K", limits(2e-6))
    theta = Quantity(-0.1, "K", standard(0.2), arcsine(0.5))

    def gauge(theta, alpha):
        made = length + difference - length * (dalpha * theta + alpha * dtheta)
        return second_order(made.to("nm"))

    found = gauge(theta, alpha)
    assert found.u_first == pytest.approx(31.658, abs=5e-4)
    assert round(found.u) == 34
    assert found.u == pytest.approx(math.hypot(31.658, 11.726, 1.667), abs=2e-3)
    assert found.shift == pytest.approx(0.0, abs=1e-6)
    exact = Quantity(theta.value, "K"), Quantity(alpha.value, "1/K")
    without = gauge(exact[0], alpha).u, gauge(theta, exact[1]).u
    assert math.sqrt(found.u**2 - without[0] ** 2) == pytest.approx(11.726, abs=1e-3)
    assert math.sqrt(found.u**2 - without[1] ** 2) == pytest.approx(1.667, abs=1e-3)


@pytest.mark.parametrize("as_normal", [False, True])
def test_mass_calibration(as_normal):
    # [JCGM 101, 9.3]: first order 0.0539 mg, with higher-order terms 0.0750 mg (printed, from
    # memory), 0.053852 and 0.074963 (computed)
    reference = Mass(100_000.0, "mg", standard(0.05)) + Mass(1.234, "mg", standard(0.02))
    air = Density(1.2, "kg/m^3", limits(0.1)) - Density(1.2, "kg/m^3")
    weight, other = Density(8000, "kg/m^3", limits(1000)), Density(8000, "kg/m^3", limits(50))
    made = reference * (1 + air * (1 / weight - 1 / other)) - Mass(100, "g")
    found = second_order(made.to("mg"), normal=as_normal)
    assert found.mean == pytest.approx(1.2340, abs=5e-5)
    assert found.u_first == pytest.approx(0.053852, abs=5e-7)
    assert found.u == pytest.approx(0.074963, abs=5e-7)
    assert found.curvatures == ("large",)


# -- draws -----------------------------------------------------------------------------------------
def friction(flows):
    """Make friction factors of an invented bench at small flows."""
    count = len(flows)
    flow = VolumeFlowRate(flows, "L/min", shared(limits(0.03)), limits(0.02))
    temperature = Temperature(20, "degC", limits(0.5))
    bore = Length(9.0, "mm", standard(0.05))
    high = Length(np.full(count, 40.0), "mm", limits(0.5))
    low = Length(np.full(count, 20.0), "mm", limits(0.5))
    density = water.density(temperature)
    angle = Angle(10, "deg", limits(0.25))
    drop = density * Acceleration(9.81, "m/s^2", limits(0.005)) * (high - low) * np.sin(angle)
    return darcy_friction_factor(
        drop, density, mean_velocity(flow, bore), bore, Length(1.5, "m", limits(0.001))
    )


def test_friction_near_zero_flow_agrees_with_draws_better_than_the_linear_result():
    made = friction([0.2, 0.3, 0.6])
    drawn = made.monte_carlo(1_000_000, seed=3)
    found = second_order(made)
    for row in range(2):
        assert abs(found.mean[row] - drawn.mean[row]) < 0.2 * abs(made.value[row] - drawn.mean[row])
        assert abs(found.u[row] - drawn.u[row]) < 0.25 * abs(made.u[row] - drawn.u[row])
    # standard errors of the draws are about 0.1 % of u
    np.testing.assert_allclose(found.mean, drawn.mean, atol=0.02 * made.u[0])
    np.testing.assert_allclose(found.u[2], drawn.u[2], rtol=4e-3)
    assert made.u[0] < 0.95 * drawn.u[0]  # so that there is something to see


def test_verdicts_go_with_those_of_the_cross_check():
    # both extremes: a fifth of the value, where the interval is bent, and a thousandth
    made = concatenate(normal(1.0, 0.2), normal(1.0, 0.001)) ** -2
    assert second_order(made).curvatures == ("large", "small")
    assert cross_check(made, seed=1).verdicts == ("fails", "holds")


def test_no_curvature_does_not_mean_a_normal_interval():
    # [JCGM 101, 9.2.4]: a linear sum whose interval fails at two digits because of its shape
    made = sum(Ratio(0.0, "1", limits(w * math.sqrt(3))) for w in (1, 1, 1, 10))
    assert cross_check(made, digits=2, seed=1).verdicts == ("fails",)
    assert second_order(made, digits=2).sentence() == "no curvature: the linear value and u stand"


# -- readings without an answer --------------------------------------------------------------------
def test_negative_variance_is_marked():
    # sin at 0: s^2 - s^4 + ... is negative for s > 1
    found = second_order(np.sin(concatenate(normal(0.0, 0.1), normal(0.0, 1.2))))
    assert found.curvatures == ("small", "negative")
    assert found.u[0] == pytest.approx(math.sqrt(0.01 - 0.0001), rel=1e-12)
    assert math.isnan(found.u[1])
    assert found.u_first[1] == pytest.approx(1.2, rel=1e-14)
    assert "negative" in found.sentence(1)
    assert "monte_carlo" in found.sentence(1)


@pytest.mark.parametrize("function", [np.sqrt, np.absolute, lambda x: x**1.5])
def test_a_reading_without_derivatives_does_not_hide_the_others(function):
    found = second_order(function(Ratio([0.0, 4.0], "1", standard(0.01))))
    assert found.curvatures == ("undefined", "small")
    assert np.isnan([found.mean[0], found.shift[0], found.u[0]]).all()
    assert "does not exist" in found.sentence(0)
    assert np.isfinite([found.mean[1], found.shift[1], found.u[1]]).all()


def test_function_of_the_user_is_refused_by_name():
    def solver(x):
        return x**3

    made = 2 * apply(solver, normal())
    with pytest.raises(PropagationError, match=r"solver.*apply.*monte_carlo"):
        second_order(made)


def test_too_many_readings_behind_each_row_are_refused():
    x = Ratio(np.linspace(1, 2, 5000), "1", standard(S))
    with pytest.raises(PropagationError, match=r"5000 directions.*monte_carlo"):
        second_order((x**2).mean())


@pytest.mark.parametrize("given", [3.0, "x", None])
def test_something_else_than_a_quantity_is_refused(given):
    with pytest.raises(DimensionError, match="expected a quantity"):
        second_order(given)


@pytest.mark.parametrize("digits", [0, 7, 1.5])
def test_digits_are_checked(digits):
    with pytest.raises(RangeError, match="digits"):
        second_order(normal(), digits=digits)


# -- what it says ----------------------------------------------------------------------------------
def test_units_and_kinds_of_numbers():
    side = Length(10, "mm", standard(1.5))
    found = second_order((side**2).to("mm^2"))
    assert (found.mean, found.shift) == (pytest.approx(102.25), pytest.approx(2.25))
    assert found.u == pytest.approx(math.sqrt(900 + 2 * 1.5**4), rel=1e-13)
    assert all(isinstance(x, float) for x in (found.mean, found.shift, found.u_first, found.u))
    assert found.shift_ratio == pytest.approx(2.25 / 30)
    assert found.u_ratio == pytest.approx(found.u / 30)
    many = second_order(Length([1, 2, 3], "mm", standard(0.1)) ** 2)
    assert all(x.shape == (3,) for x in (many.mean, many.shift, many.u_first, many.u))
    with pytest.raises(ValueError, match="read-only"):
        many.u[0] = 0.0
    assert second_order(Length([1], "mm", standard(0.1)) ** 2).u.shape == (1,)


def test_temperatures_shift_by_a_difference():
    made = Temperature(20, "degC", standard(0.5))
    found = second_order(made + Quantity(2.0, "1/K") * Quantity(0, "K", standard(0.3)) ** 2)
    made_in_celsius = second_order(
        (made + Quantity(2.0, "1/K") * Quantity(0, "K", standard(0.3)) ** 2).to("degC")
    )
    assert found.shift == pytest.approx(0.18, rel=1e-12)
    assert made_in_celsius.mean == pytest.approx(20.18, abs=1e-9)
    assert made_in_celsius.shift == pytest.approx(0.18, rel=1e-12)


def test_what_is_linear_has_no_curvature():
    made = 3 * normal() - 2 * normal() + 1
    found = second_order(made)
    assert (found.shift, found.u) == (0.0, made.u)
    assert found.sentence() == "no curvature: the linear value and u stand"
    certain = second_order(Length(3.0, "m"))
    assert (certain.mean, certain.u, certain.curvatures) == (3.0, 0.0, ("small",))


def test_what_cancels_leaves_no_curvature():
    bore = Length(0.02, "m", limits(0.002))
    found = second_order(bore**5 / (bore**2) ** 2 / bore)
    assert found.u == pytest.approx(0.0, abs=1e-14)
    assert found.curvatures == ("small",)


def test_sentences():
    small = second_order((Length(10, "mm", standard(1.5)) ** 2).to("mm^2"))
    assert small.sentence() == (
        "curvature shifts the mean by 2.2 mm^2 and raises u from 30 to 30.2 mm^2; below 1 digit of "
        "u: the linear value and u stand"
    )
    assert "cross_check" in second_order(np.sin(normal()), digits=2).sentence()
    assert "lowers u from 0.229 to 0.223" in second_order(np.sin(normal())).sentence()
    # 1/X at u = 60 %: next term of the variance 8 * 0.6^2 = 2.88 times the first
    assert "further terms may count" in second_order(1 / normal(0.5, 0.3)).sentence()
    assert "leaves the mean where it is" in second_order(normal(2.0) * normal(3.0)).sentence()
    assert "leaves u at" in second_order(normal(2.0, 1e-4) ** 2).sentence()


@pytest.mark.parametrize(
    ("u", "advice"),
    [(1.2, "hold it against draws by cross_check"), (1.5, "use .monte_carlo()")],
)
def test_advice_goes_by_how_much_the_variance_grows(u, advice):
    # X^2 of a normal X around 1: 4 u^2 + 2 u^4 over 4 u^2 is 1 + u^2/2, here 1.72 and 2.125
    found = second_order(normal(1.0, u) ** 2)
    assert found.u_ratio**2 == pytest.approx(1 + u**2 / 2, rel=1e-12)
    assert found.sentence().endswith(advice)


def test_text_is_narrow_and_names_the_result():
    made = friction([0.2, 0.3, 0.6]).labelled("friction factor of the first setting")
    text = str(second_order(made, normal=True))
    assert max(map(len, text.splitlines())) <= 100
    assert text.startswith("Second order of friction factor of the first setting")
    assert "as normal" in text
    assert [line[2:6] for line in text.splitlines()[1:] if line[4:5].isdigit()] == [
        "  0 ",
        "  1 ",
        "  2 ",
    ]


def test_text_of_many_readings_says_how_many_are_left_out():
    text = str(second_order(Ratio(np.linspace(1, 2, 100), "1", standard(S)) ** 2))
    assert "70 of 100 readings not shown" in text
    assert text.count("curvature shifts") == 30


def test_table_and_notebook_form():
    found = second_order(Ratio([1.0, 2.0], "1", standard(S)) ** 2)
    table = found.table()
    assert list(table.columns) == [
        *("value", "mean", "shift", "shift_ratio", "u_first", "u", "u_ratio"),
        *("curvature", "sentence"),
    ]
    np.testing.assert_array_equal(table["u"], found.u)
    np.testing.assert_array_equal(table["sentence"], [found.sentence(0), found.sentence(1)])
    assert found._repr_html_().startswith("<table")
    assert len(second_order(normal()).table()) == 1
    assert isinstance(found, SecondOrder)
    with pytest.raises(AttributeError):
        found.u = 0.0
