"""Every elementwise operation against mpmath: its value and its exact derivative."""

from __future__ import annotations

import math
import pickle

import mpmath
import numpy as np
import pytest

from flowunc.core import operations as op
from flowunc.core.operations import Elementwise, power_operation

mp = mpmath.mp.clone()
mp.dps = 50

# Operation, the function of mpmath that stands for it, a domain for each argument. The functions
# are those of mpmath (or one line of its functions); nothing here is taken from flowunc.
TABLE = [
    ("ADD", lambda x, y: x + y, (-9, 9), (-9, 9)),
    ("SUBTRACT", lambda x, y: x - y, (-9, 9), (-9, 9)),
    ("MULTIPLY", lambda x, y: x * y, (-9, 9), (-9, 9)),
    ("DIVIDE", lambda x, y: x / y, (-9, 9), (0.1, 9)),
    ("DIVIDE", lambda x, y: x / y, (-9, 9), (-9, -0.1)),
    ("POWER", lambda x, y: mp.power(x, y), (0.01, 9), (-4, 4)),
    ("POLE_POWER", lambda x, y: mp.power(x, y), (0.01, 9), (-4, -0.1)),
    ("HYPOT", lambda x, y: mp.hypot(x, y), (-9, 9), (-9, 9)),
    ("ARCTAN2", lambda x, y: mp.atan2(x, y), (-9, 9), (0.1, 9)),
    ("ARCTAN2", lambda x, y: mp.atan2(x, y), (0.1, 9), (-9, 9)),
    ("MAXIMUM", lambda x, y: max(x, y), (0, 1), (2, 3)),
    ("MAXIMUM", lambda x, y: max(x, y), (2, 3), (0, 1)),
    ("MINIMUM", lambda x, y: min(x, y), (0, 1), (2, 3)),
    ("MINIMUM", lambda x, y: min(x, y), (2, 3), (0, 1)),
    ("NEGATIVE", lambda x: -x, (-9, 9)),
    ("RECIPROCAL", lambda x: 1 / x, (0.05, 20)),
    ("RECIPROCAL", lambda x: 1 / x, (-20, -0.05)),
    ("ABSOLUTE", lambda x: abs(x), (0.01, 9)),
    ("ABSOLUTE", lambda x: abs(x), (-9, -0.01)),
    ("SQUARE", lambda x: x * x, (-9, 9)),
    ("SQRT", mp.sqrt, (1e-3, 1e3)),
    ("CBRT", lambda x: mp.sign(x) * mp.cbrt(abs(x)), (1e-3, 1e3)),
    ("CBRT", lambda x: mp.sign(x) * mp.cbrt(abs(x)), (-1e3, -1e-3)),
    ("EXP", mp.exp, (-20, 20)),
    ("EXP2", lambda x: mp.power(2, x), (-20, 20)),
    ("EXPM1", mp.expm1, (-2, 2)),
    ("EXPM1", mp.expm1, (1e-9, 1e-7)),
    ("LOG", mp.log, (1e-3, 1e3)),
    ("LOG2", lambda x: mp.log(x, 2), (1e-3, 1e3)),
    ("LOG10", mp.log10, (1e-3, 1e3)),
    ("LOG1P", lambda x: mp.log(1 + x), (-0.9, 9)),
    ("LOG1P", lambda x: mp.log(1 + x), (1e-9, 1e-7)),
    ("SIN", mp.sin, (-9, 9)),
    ("COS", mp.cos, (-9, 9)),
    ("TAN", mp.tan, (-1.5, 1.5)),
    ("ARCSIN", mp.asin, (-0.999, 0.999)),
    ("ARCCOS", mp.acos, (-0.999, 0.999)),
    ("ARCSIN", mp.asin, (0.999999, 0.9999999)),
    ("ARCCOS", mp.acos, (-0.9999999, -0.999999)),
    ("ARCTAN", mp.atan, (-99, 99)),
    ("SINH", mp.sinh, (-9, 9)),
    ("COSH", mp.cosh, (-9, 9)),
    ("TANH", mp.tanh, (-9, 9)),
    ("ARCSINH", mp.asinh, (-99, 99)),
    ("ARCCOSH", mp.acosh, (1.001, 99)),
    ("ARCCOSH", mp.acosh, (1.0000001, 1.000001)),
    ("ARCTANH", mp.atanh, (-0.999, 0.999)),
    ("ERF", mp.erf, (-4, 4)),
    ("ERFC", mp.erfc, (-4, 9)),
    ("NDTR", mp.ncdf, (-9, 4)),
]
OPERATIONS = {name: value for name, value in vars(op).items() if isinstance(value, Elementwise)}


def _arguments(domains, seed):
    generator = np.random.default_rng(seed)
    return tuple(generator.uniform(low, high, 25) for low, high in domains)


def _by_mpmath(function, arguments):
    columns = zip(*(a.tolist() for a in arguments), strict=True)
    return np.array([float(function(*(mp.mpf(v) for v in point))) for point in columns])


def _slopes(function, arguments, position):
    """Return partial derivatives by mpmath: 50 digits, far below float64 rounding."""
    result = []
    for point in zip(*(a.tolist() for a in arguments), strict=True):
        exact = [mp.mpf(v) for v in point]

        def along(x, exact=exact):
            return function(*exact[:position], x, *exact[position + 1 :])

        result.append(float(mp.diff(along, exact[position])))
    return np.array(result)


def test_table_covers_every_operation():
    assert {row[0] for row in TABLE} == set(OPERATIONS)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]}{row[2:]}")
def test_value_is_that_of_mpmath(row):
    name, function, *domains = row
    arguments = _arguments(domains, seed=1)
    expected = _by_mpmath(function, arguments)
    np.testing.assert_allclose(OPERATIONS[name].evaluate(*arguments), expected, rtol=2e-14)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]}{row[2:]}")
def test_derivative_is_that_of_mpmath(row):
    name, function, *domains = row
    arguments = _arguments(domains, seed=2)
    operation = OPERATIONS[name]
    result = operation.evaluate(*arguments)
    weight = np.linspace(-2.0, 3.0, 25)
    pulled = operation.pull(weight, arguments, result, (True,) * len(arguments))
    for position in range(len(arguments)):
        expected = weight * _slopes(function, arguments, position)
        np.testing.assert_allclose(pulled[position], expected, rtol=2e-14, atol=1e-300)


@pytest.mark.parametrize(
    "row", [row for row in TABLE if len(row) == 4], ids=lambda row: f"{row[0]}{row[2:]}"
)
@pytest.mark.parametrize("wanted", [0, 1])
def test_derivative_to_one_of_two_arguments_is_that_to_both(row, wanted):
    # where the other argument is certain, only what is needed is worked out
    arguments = _arguments(row[2:], seed=4)
    operation = OPERATIONS[row[0]]
    result = operation.evaluate(*arguments)
    weight = np.linspace(-2.0, 3.0, 25)
    both = operation.pull(weight, arguments, result, (True, True))
    one = operation.pull(weight, arguments, result, (wanted == 0, wanted == 1))
    np.testing.assert_array_equal(one[wanted], both[wanted])


@pytest.mark.parametrize("name", sorted(OPERATIONS))
def test_evaluate_writes_where_it_is_told(name):
    row = next(row for row in TABLE if row[0] == name)
    arguments = tuple(a.reshape(5, 5) for a in _arguments(row[2:], seed=3))
    out = np.full((5, 5), np.nan)
    returned = OPERATIONS[name].evaluate(*arguments, out=out)
    assert returned is out
    np.testing.assert_array_equal(out, OPERATIONS[name].evaluate(*arguments))


@pytest.mark.parametrize("name", sorted(OPERATIONS))
def test_pickle_brings_back_the_same_operation(name):
    assert pickle.loads(pickle.dumps(OPERATIONS[name])) is OPERATIONS[name]


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("ABSOLUTE", (0.0,)),
        ("SQRT", (0.0,)),
        ("CBRT", (0.0,)),
        ("ARCSIN", (1.0,)),
        ("ARCCOS", (-1.0,)),
        ("ARCCOSH", (1.0,)),
        ("HYPOT", (0.0, 0.0)),
        ("ARCTAN2", (0.0, 0.0)),
        ("MAXIMUM", (2.0, 2.0)),
        ("MINIMUM", (2.0, 2.0)),
    ],
)
def test_no_finite_derivative_where_there_is_none(name, arguments):
    # corner, vertical tangent or tie: no slope exists, and none may be made up
    values = tuple(np.array(a) for a in arguments)
    operation = OPERATIONS[name]
    with np.errstate(all="ignore"):
        result = np.asarray(operation.evaluate(*values))
        pulled = operation.pull(1.0, values, result, (True,) * len(values))
    assert not np.isfinite(pulled[0])


@pytest.mark.parametrize(
    ("exponent", "slope"),
    # d/dx x**n at 0 is n * 0**(n - 1): 0 for n > 1, 1 for n = 1, 0 for the constant x**0 = 1
    [(3.0, 0.0), (2.0, 0.0), (1.5, 0.0), (1.0, 1.0), (0.0, 0.0)],
)
def test_power_of_zero_has_the_slope_of_calculus(exponent, slope):
    values = (np.array(0.0), np.array(exponent))
    with np.errstate(all="ignore"):
        pulled = op.POWER.pull(1.0, values, np.array(0.0**exponent), (True, False))
    assert pulled[0] == slope


@pytest.mark.parametrize("exponent", [0.3, 0.5, 1.0, 2.0])
def test_power_of_zero_does_not_change_with_its_exponent(exponent):
    # 0**p is 0 for every p > 0, so d/dp is 0
    values = (np.array(0.0), np.array(exponent))
    with np.errstate(all="ignore"):
        pulled = op.POWER.pull(1.0, values, np.array(0.0), (False, True))
    assert pulled[1] == 0.0


def test_power_of_negative_base_has_the_slope_of_calculus():
    # d/dx x**3 at -2 is 12, of x**-3 it is -3/16
    cube, pole = np.array(3.0), np.array(-3.0)
    base = np.array(-2.0)
    assert op.POWER.pull(1.0, (base, cube), np.array(-8.0), (True, False))[0] == 12.0
    assert op.POLE_POWER.pull(1.0, (base, pole), np.array(-0.125), (True, False))[0] == -3 / 16


def test_derivatives_hold_at_the_ends_of_float64():
    # limits of calculus: tanh' vanishes far out, arctan' too; ratios of huge sides stay finite
    with np.errstate(all="ignore"):
        assert op.TANH.pull(1.0, (np.array(800.0),), np.array(1.0), (True,))[0] == 0.0
        assert op.ARCTAN.pull(1.0, (np.array(1e200),), np.array(math.pi / 2), (True,))[0] == 0.0
        sides = (np.array(3e200), np.array(4e200))
        hypotenuse = op.HYPOT.evaluate(*sides)
        first, second = op.HYPOT.pull(1.0, sides, hypotenuse, (True, True))
        assert (first, second) == pytest.approx((0.6, 0.8), rel=1e-15)
        first, second = op.ARCTAN2.pull(1.0, sides, np.array(0.0), (True, True))
        assert (first, second) == pytest.approx((0.8 / 5e200, -0.6 / 5e200), rel=1e-14)


def test_only_a_negative_exponent_watches_the_base_for_a_pole():
    assert power_operation(np.array(2.5)).pole is None
    assert power_operation(np.array(-0.5)).pole == 0
    assert op.DIVIDE.pole == 1
    assert op.RECIPROCAL.pole == 0
