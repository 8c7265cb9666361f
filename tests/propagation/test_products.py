"""Products of powers in one step of the sweep, against single values, where every step is swept."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import Ratio, limits, shared, standard
from flowunc.core.record import topological_order
from flowunc.propagation.products import products

READINGS = np.array([1.2, 0.7, 3.1])


def inputs(row=None):
    """Return readings and single values; with a row, that reading as a single value."""
    x, y = (READINGS, READINGS[::-1]) if row is None else (READINGS[row], READINGS[::-1][row])
    return [
        Ratio(x, "1", limits(0.02)),
        Ratio(y, "1", standard(0.01)),
        Ratio(1.9, "1", standard(0.03)),
        Ratio(-0.8, "1", limits(0.05)),
    ]


def found_in(quantity):
    return products(topological_order([quantity._node], active_only=True))


def agrees(formula):
    """Hold u and every contribution of readings against those of single values."""
    whole = formula(*inputs())
    for row in range(READINGS.size):
        single = formula(*inputs(row))
        assert whole.u[row] == pytest.approx(single.u, rel=1e-13)
        own, alone = whole.budget(row), single.budget()
        # what cancels, cancels here to the last bit
        close = {"rtol": 1e-13, "atol": 1e-15 * abs(float(single.value))}
        np.testing.assert_allclose(own["contribution"], alone["contribution"], **close)


@pytest.mark.parametrize(
    "formula",
    [
        lambda x, y, s, z: 2 * s * x / (z * y**2),
        lambda x, y, s, z: s * x * (y - s) / z,  # s is met twice
        lambda x, y, s, z: np.sqrt(s * x * y * z * z) / x,
        lambda x, y, s, z: np.sqrt(x * z * -y * s),
        lambda x, y, s, z: -(x * z) / s + x * y,
        lambda x, y, s, z: 1 / (x * z) * np.cbrt(y * z),
        lambda x, y, s, z: x * s / s * y,
        lambda x, y, s, z: np.sin(x * s * y) * z * s,
        lambda x, y, s, z: (x * s) * (x * s) * y,
        lambda x, y, s, z: (x * x) * (y * 3.0) * s.mean() if s.ndim else x * x * (y * 3.0) * s,
    ],
)
def test_closed_formulas(formula):
    agrees(formula)
    assert found_in(formula(*inputs()))


@given(
    exponents=st.lists(st.tuples(st.integers(0, 3), st.sampled_from("*/")), min_size=2, max_size=8)
)
def test_any_product(exponents):
    def formula(*given):
        result = given[0]
        for which, sign in exponents:
            result = result * given[which] if sign == "*" else result / given[which]
        return result

    agrees(formula)


def test_a_pipe_formula_by_hand():
    # f = 2 D dp/(rho L v^2): relative variances add with the squares of the exponents
    # [JCGM 100, 5.1.6]
    dp, v = Ratio([80.0, 200.0], "1", standard(2.0)), Ratio([0.3, 0.5], "1", standard(0.01))
    bore, length = Ratio(0.016, "1", standard(1e-5)), Ratio(2.0, "1", standard(1e-3))
    f = 2 * bore * dp / (998.0 * length * v**2)
    relative = [
        math.hypot(1e-5 / 0.016, 2 / a, 1e-3 / 2, 2 * 0.01 / b) for a, b in ((80, 0.3), (200, 0.5))
    ]
    np.testing.assert_allclose(f.u / f.value, relative, rtol=1e-14)


def test_a_reading_of_zero_is_swept_step_by_step():
    x = Ratio([0.0, 2.0], "1", standard(0.1))
    y, s = Ratio([3.0, 4.0], "1", standard(0.2)), Ratio(5.0, "1", standard(0.3))
    z = x * y * s
    assert not found_in(z)
    np.testing.assert_allclose(z.u, [1.5, 40 * math.hypot(0.05, 0.05, 0.06)], rtol=1e-14)


@pytest.mark.parametrize("huge", [1e200, 1e-200])
def test_single_values_whose_product_leaves_float64(huge):
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    a = Ratio(huge, "1", standard(0.01 * huge))
    z = x * a * huge**-0.75 * a * huge**-1.25  # a^2 alone is no float64
    relative = np.hypot([0.1, 0.05], 0.02)
    np.testing.assert_allclose(z.u / z.value, relative, rtol=1e-13)


def test_what_is_used_elsewhere_is_a_factor_of_its_own():
    x, s = Ratio([1.0, 2.0], "1", standard(0.1)), Ratio(3.0, "1", shared(standard(0.2)))
    inner = x * s
    z = inner * x * s + inner
    # z = x^2 s^2 + x s
    to_x, to_s = 2 * x.value * 9 + 3, 2 * x.value**2 * 3 + x.value
    np.testing.assert_allclose(z.u, np.hypot(to_x * 0.1, to_s * 0.2), rtol=1e-14)


def test_a_product_that_enters_several_times():
    # the same error: it doubles, or it cancels
    x, y, s, _ = inputs()
    product = x * s * y
    assert found_in(product + product)
    np.testing.assert_allclose((product + product).u, 2 * product.u, rtol=1e-14)
    np.testing.assert_allclose((product - product + y).u, y.u, rtol=1e-14)
    np.testing.assert_array_equal((product - product).u, 0.0)
