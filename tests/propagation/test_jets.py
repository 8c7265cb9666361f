"""Jets through every recorded operation, against mpmath.

Each argument runs along a curve x + v t + w t^2/2, two of them at once as two directions.
mpmath differentiates the function along the curve numerically at 50 digits; the derivatives of
a pull are those of weight times partial derivative along the same curve.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from iapws._iapws import _Liquid
from scipy import special

from flowunc.core import operations as op
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise
from flowunc.fluids.water import WATER_DENSITY, WATER_VISCOSITY
from flowunc.pipe.laws.implicit import WRIGHT_OMEGA
from flowunc.propagation.jets import Jet, unwrapped

mp = mpmath.mp.clone()
mp.dps = 50

# Operation, the function of mpmath (or of the iapws package, in plain arithmetic) that stands
# for it, a domain for each argument.
TABLE = [
    (op.ADD, lambda x, y: x + y, (-9, 9), (-9, 9)),
    (op.SUBTRACT, lambda x, y: x - y, (-9, 9), (-9, 9)),
    (op.MULTIPLY, lambda x, y: x * y, (-9, 9), (-9, 9)),
    (op.DIVIDE, lambda x, y: x / y, (-9, 9), (-9, -0.5)),
    (op.POWER, mp.power, (0.2, 9), (-4, 4)),
    (op.POLE_POWER, mp.power, (0.2, 9), (-4, -0.1)),
    (op.HYPOT, mp.hypot, (-9, 9), (1, 9)),
    (op.ARCTAN2, mp.atan2, (-9, 9), (0.5, 9)),
    (op.ARCTAN2, mp.atan2, (0.5, 9), (-9, 9)),
    (op.MAXIMUM, max, (0, 1), (2, 3)),
    (op.MAXIMUM, max, (2, 3), (0, 1)),
    (op.MINIMUM, min, (0, 1), (2, 3)),
    (op.MINIMUM, min, (2, 3), (0, 1)),
    (op.NEGATIVE, lambda x: -x, (-9, 9)),
    (op.RECIPROCAL, lambda x: 1 / x, (-20, -0.05)),
    (op.ABSOLUTE, abs, (0.01, 9)),
    (op.ABSOLUTE, abs, (-9, -0.01)),
    (op.SQUARE, lambda x: x * x, (-9, 9)),
    (op.SQRT, mp.sqrt, (1e-2, 1e3)),
    (op.CBRT, lambda x: mp.sign(x) * mp.cbrt(abs(x)), (-1e3, -1e-2)),
    (op.EXP, mp.exp, (-20, 20)),
    (op.EXP2, lambda x: mp.power(2, x), (-20, 20)),
    (op.EXPM1, mp.expm1, (-2, 2)),
    (op.LOG, mp.log, (1e-2, 1e3)),
    (op.LOG2, lambda x: mp.log(x, 2), (1e-2, 1e3)),
    (op.LOG10, mp.log10, (1e-2, 1e3)),
    (op.LOG1P, lambda x: mp.log(1 + x), (-0.9, 9)),
    (op.SIN, mp.sin, (-9, 9)),
    (op.COS, mp.cos, (-9, 9)),
    (op.TAN, mp.tan, (-1.4, 1.4)),
    (op.ARCSIN, mp.asin, (-0.99, 0.99)),
    (op.ARCCOS, mp.acos, (-0.99, 0.99)),
    (op.ARCTAN, mp.atan, (-99, 99)),
    (op.SINH, mp.sinh, (-9, 9)),
    (op.COSH, mp.cosh, (-9, 9)),
    (op.TANH, mp.tanh, (-9, 9)),
    (op.ARCSINH, mp.asinh, (-99, 99)),
    (op.ARCCOSH, mp.acosh, (1.05, 99)),
    (op.ARCTANH, mp.atanh, (-0.99, 0.99)),
    (op.ERF, mp.erf, (-4, 4)),
    (op.ERFC, mp.erfc, (-4, 9)),
    (op.NDTR, mp.ncdf, (-9, 4)),
    # w + ln w = z for real z is w = W(exp z)
    (WRIGHT_OMEGA, lambda z: mp.lambertw(mp.exp(z)).real, (-9, 30)),
    (WATER_DENSITY, lambda t: _Liquid(t)["rho"], (273.2, 373)),
    (WATER_VISCOSITY, lambda t: _Liquid(t)["mu"], (273.2, 373)),
]
POINTS = 5


def name_of(row):
    return f"{row[0].label}{row[2:]}"


@pytest.fixture(autouse=True)
def _logarithm_of_many_digits(monkeypatch):
    monkeypatch.setattr("iapws._iapws.log", mp.log)  # its entropy takes numpy's, which refuses mpf


def curves(domains, seed):
    """Return points, and for two directions the first and second derivatives of the curves."""
    generator = np.random.default_rng(seed)
    points = [generator.uniform(low, high, POINTS) for low, high in domains]
    slopes = [generator.uniform(-1, 1, (2, 2, POINTS)) for _ in domains]
    return points, slopes


def jets(points, slopes):
    return tuple(Jet(x, s[0], s[1]) for x, s in zip(points, slopes, strict=True))


def expected(function, points, slopes, order):
    """Return the derivative of function(t, arguments) along the curves, shape (2, points)."""
    result = np.empty((2, POINTS))
    for k in range(2):
        for i in range(POINTS):

            def along(t, k=k, i=i):
                place = [
                    mp.mpf(float(x[i])) + float(s[0, k, i]) * t + float(s[1, k, i]) * t * t / 2
                    for x, s in zip(points, slopes, strict=True)
                ]
                return function(t, i, k, *place)

            result[k, i] = float(mp.diff(along, 0, order))
    return result


def agrees(found, wanted):
    np.testing.assert_allclose(found, wanted, rtol=1e-11, atol=1e-12 * np.abs(wanted).max())


def test_table_covers_every_operation():
    known = {value for value in vars(op).values() if isinstance(value, Elementwise)}
    assert known <= {row[0] for row in TABLE}


@pytest.mark.parametrize("row", TABLE, ids=name_of)
def test_forward_derivatives_are_those_of_mpmath(row):
    operation, function, *domains = row
    points, slopes = curves(domains, seed=1)
    found = unwrapped(operation.evaluate(*jets(points, slopes)))
    np.testing.assert_array_equal(found.value, operation.evaluate(*points))
    for order, part in ((1, found.first), (2, found.second)):
        agrees(part, expected(lambda t, i, k, *x: function(*x), points, slopes, order))


@pytest.mark.parametrize("row", TABLE, ids=name_of)
def test_pulled_weights_are_those_of_mpmath(row):
    operation, function, *domains = row
    points, slopes = curves(domains, seed=2)
    arguments = jets(points, slopes)
    result = unwrapped(operation.evaluate(*arguments))
    (w,), (w_slopes,) = curves([(-2, 2)], seed=3)
    weight = Jet(w, w_slopes[0], w_slopes[1])
    pulled = operation.pull(weight, arguments, result, (True,) * len(arguments))
    for position, found in enumerate(pulled):

        def weighted(t, i, k, *x, position=position):
            factor = (
                float(w[i]) + float(w_slopes[0, k, i]) * t + float(w_slopes[1, k, i]) * t**2 / 2
            )

            def partial(value):
                return function(*x[:position], value, *x[position + 1 :])

            return factor * mp.diff(partial, x[position])

        for order, part in ((1, found.first), (2, found.second)):
            agrees(part, expected(weighted, points, slopes, order))


@pytest.mark.parametrize("constant", [0, 1])
@pytest.mark.parametrize("row", [row for row in TABLE if len(row) == 4], ids=name_of)
def test_one_argument_may_be_a_constant(row, constant):
    operation, function, *domains = row
    points, slopes = curves(domains, seed=4)
    slopes[constant][:] = 0.0
    arguments = list(jets(points, slopes))
    arguments[constant] = points[constant]
    found = operation.evaluate(*arguments)
    for order, part in ((1, found.first), (2, found.second)):
        agrees(part, expected(lambda t, i, k, *x: function(*x), points, slopes, order))


# -- places where a factor of zero meets a pole ----------------------------------------------------
def line(value, second=0.0):
    """Return a jet that runs along t."""
    values = np.atleast_1d(np.asarray(value, dtype=float))
    return Jet(values, np.ones((1, values.size)), np.full((1, values.size), second))


@pytest.mark.parametrize(
    ("exponent", "slope", "curvature"), [(0.0, 0, 0), (1.0, 1, 0), (2.0, 0, 2), (3.0, 0, 0)]
)
def test_whole_powers_at_zero(exponent, slope, curvature):
    with np.errstate(all="ignore"):
        found = np.power(line(0.0), exponent)
    assert (found.first[0, 0], found.second[0, 0]) == (slope, curvature)


def test_whole_powers_of_negative_numbers():
    found = np.power(line(-2.0), 3.0)
    assert (found.value[0], found.first[0, 0], found.second[0, 0]) == (-8.0, 12.0, -12.0)


def test_where_a_derivative_is_missing_there_is_no_number():
    with np.errstate(all="ignore"):
        assert np.isnan(np.absolute(line(0.0)).first).all()
        assert np.isnan(np.maximum(line(1.0), np.ones(1)).first).all()
        assert not np.isfinite(np.power(line(0.0), 1.5).second).any()
        assert not np.isfinite(np.sqrt(line(0.0)).first).any()


def test_hypotenuse_of_huge_sides_stays_in_range():
    # h = sqrt(x^2 + y^2) at x = y: h' = 1/sqrt 2 along x
    found = np.hypot(line(1e200), np.full(1, 1e200))
    assert found.first[0, 0] == pytest.approx(0.5**0.5, rel=1e-14)


# -- how a jet behaves among arrays ----------------------------------------------------------------
def test_decisions_look_at_the_values():
    x = line([-1.0, 2.0])
    np.testing.assert_array_equal(x > 0, [False, True])
    np.testing.assert_array_equal(np.isfinite(x), [True, True])
    np.testing.assert_array_equal(np.sign(x), [-1.0, 1.0])
    chosen = np.where(x > 0, x * x, 5.0)
    np.testing.assert_array_equal(chosen.value, [5.0, 4.0])
    np.testing.assert_array_equal(chosen.first, [[0.0, 4.0]])
    np.testing.assert_array_equal(chosen.second, [[0.0, 2.0]])


def test_a_jet_as_the_condition_decides_by_its_value():
    x = line([0.0, 2.0])
    (places,) = np.where(x)
    assert places.tolist() == [1]
    assert np.where(x, 7.0, 8.0).tolist() == [8.0, 7.0]  # nothing uncertain is chosen
    chosen = np.where(x, x, 3.0)
    np.testing.assert_array_equal(chosen.value, [3.0, 2.0])
    np.testing.assert_array_equal(chosen.first, [[0.0, 1.0]])


def test_text_of_a_jet_shows_all_three_parts():
    text = repr(Jet(np.array([2.0]), np.array([[3.0]]), np.array([[5.0]])))
    assert text == "Jet([2.], [[3.]], [[5.]])"


def test_in_place_steps_replace_derivatives_and_leave_the_argument_alone():
    x = line([2.0, 3.0])
    y = np.multiply(x, x, out=np.empty_like(x))
    y *= x
    y += 1.0
    np.testing.assert_array_equal(y.value, [9.0, 28.0])  # x^3 + 1
    np.testing.assert_array_equal(y.first, [[12.0, 27.0]])
    np.testing.assert_array_equal(y.second, [[12.0, 18.0]])
    np.testing.assert_array_equal(x.value, [2.0, 3.0])
    y[...] = 0.0
    assert not y.value.any()
    assert not y.first.any()


def test_derivatives_are_never_written_into_a_plain_array():
    with pytest.raises(PropagationError, match="empty_like"):
        np.multiply(line(1.0), 2.0, out=np.empty(1))


def test_asarray_of_a_jet_keeps_it():
    x = line(1.0)
    assert unwrapped(np.asarray(x)) is x
    plain = np.ones(2)
    assert unwrapped(plain) is plain


def test_one_value_spreads_over_many():
    total = line([1.0]) + np.arange(3.0)
    assert total.first.shape == (1, 3)
    spread = np.broadcast_to(line([2.0]), (4,))
    np.testing.assert_array_equal(spread[1:3].value, [2.0, 2.0])


def test_sums_by_place_keep_every_direction():
    parts = Jet(np.array([1.0, 2.0, 4.0]), np.eye(3)[:2], np.ones((2, 3)))
    places = np.array([2, 0, 2])
    found = np.bincount(places, parts, 4)
    np.testing.assert_array_equal(found.value, [2.0, 0.0, 5.0, 0.0])
    np.testing.assert_array_equal(found.first, [[0, 0, 1, 0], [1, 0, 0, 0]])
    np.testing.assert_array_equal(found.second, [[1, 0, 2, 0]] * 2)


@pytest.mark.parametrize(("places", "length"), [([0, 0], 1), ([2], 3)])
def test_sums_by_place_are_as_long_as_those_of_numpy(places, length):
    found = np.bincount(np.array(places, dtype=np.intp), line(np.ones(len(places))))
    assert found.shape == (length,)
    np.testing.assert_array_equal(found.value, np.bincount(places, minlength=0))
    np.testing.assert_array_equal(found.first[0], np.bincount(places, minlength=0))


def test_sum_over_readings_keeps_every_direction():
    first, second = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]), np.eye(3)[:2]
    found = Jet(np.array([1.0, 2.0, 4.0]), first, second).total()
    np.testing.assert_array_equal(found.value, [7.0])
    np.testing.assert_array_equal(found.first, [[6.0], [15.0]])
    np.testing.assert_array_equal(found.second, [[1.0], [1.0]])


def test_jets_filled_like_another_are_flat_and_hold_decimals():
    x = line([1.0, 2.0])
    for made, value in (
        (np.full_like(x, 2), 2.0),
        (np.ones_like(x), 1.0),
        (np.zeros_like(x), 0.0),
    ):
        np.testing.assert_array_equal(made.value, [value, value])
        assert made.value.dtype == np.float64
        assert not made.first.any()
        assert not made.second.any()
        made[1:] = 0.5
        assert made.value[1] == 0.5


def test_products_of_rows_and_readings():
    found = np.outer(Jet(np.array([1.0, 2.0]), np.eye(2), np.eye(2)), np.array([3.0, 5.0])).ravel()
    np.testing.assert_array_equal(found.value, [3.0, 5.0, 6.0, 10.0])
    np.testing.assert_array_equal(found.first, [[3, 5, 0, 0], [0, 0, 3, 5]])


def test_joined_constants_and_jets():
    found = np.concatenate([np.array([7.0]), line([1.0, 2.0])])
    np.testing.assert_array_equal(found.value, [7.0, 1.0, 2.0])
    np.testing.assert_array_equal(found.first, [[0.0, 1.0, 1.0]])


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda x: special.gamma(x), "gamma"),
        (lambda x: np.heaviside(x, 0.5), "heaviside"),
        (lambda x: np.add.reduce(x), "add"),
        (lambda x: np.add(x, 1.0, where=np.array([True])), "add"),
        (lambda x: np.sort(x), "sort"),
    ],
)
def test_what_has_no_rule_is_refused_by_name(call, name):
    with pytest.raises(PropagationError, match=rf"{name}\b.*monte_carlo"):
        call(line(1.0))
