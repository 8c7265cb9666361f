"""Poles behind products: what exists, against integrals of the law of the denominator."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from flowunc import FlowuncWarning, Ratio, concatenate, limits, standard, triangular

TRIALS = 5_000


def drawn(quantity):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FlowuncWarning)
        return quantity.monte_carlo(TRIALS, seed=1)


def powers():
    """Return results equal to x**p, with x rectangular or triangular from 0 to 2, and p."""
    x = Ratio(1.0, "1", limits(1.0))
    z = Ratio(1.0, "1", triangular(1.0))
    return {
        "root of a reciprocal": (np.sqrt(1.0 / x), 1, -0.5),
        "power of a reciprocal": ((1.0 / x) ** 0.4, 1, -0.4),
        "cube root of a reciprocal": (np.cbrt(1.0 / x), 1, -1 / 3),
        "square of a reciprocal": ((1.0 / z) ** 2, 2, -2.0),
        "reciprocal times itself": ((1.0 / z) * (1.0 / z), 2, -2.0),
        "divided twice": (1.0 / z / z, 2, -2.0),
        "divided by its root as well": (1.0 / z / np.sqrt(z), 2, -1.5),
        "cancelled": (x / x, 1, 0.0),
        "cancelled in part": (x * x / x, 1, 1.0),
        "cancelled but one": (z / z**2, 2, -1.0),
        "reciprocal of a reciprocal": (1.0 / (1.0 / x), 1, 1.0),
        "size of a reciprocal": (abs(-1.0 / z), 2, -1.0),
    }


@pytest.mark.parametrize(("result", "order", "power"), powers().values(), ids=powers())
def test_powers_of_a_factor_add_up_over_products(result, order, power):
    # near zero the density goes like x**(order - 1), so that the integral of x**q times it is
    # finite for order + q > 0
    found = drawn(result)
    assert math.isfinite(found.mean) == (order + power > 0)
    assert math.isfinite(found.u) == (order + 2 * power > 0)
    assert found.has_pole == (order + power <= 0)


def test_another_reading_does_not_cancel():
    x = Ratio([1.0, 1.0, 3.0], "1", limits(1.0))
    assert drawn(x[1] / x[0]).has_pole
    joined = concatenate([x[:1] / x[1:2], x[2:] / x[1:2], 1.0 / x[2:]])
    np.testing.assert_array_equal(drawn(joined).has_pole, [True, True, False])
    np.testing.assert_array_equal(drawn(x**2 / x).has_pole, [False, False, False])
    assert drawn((1.0 / x).mean() * x[0]).has_pole


def test_joined_readings_keep_their_own_poles():
    x = Ratio([1.0, 1.0, 3.0], "1", limits(1.0))
    y = Ratio(1.0, "1", limits(1.0))
    parts = concatenate([y / x[:1], x[1:] / x[1:] / y, 1.0 / (y * x[2:] * x[:1])])
    np.testing.assert_array_equal(drawn(parts).has_pole, [True, True, True, True])
    np.testing.assert_array_equal(drawn(parts * y).has_pole, [True, True, True, True])
    np.testing.assert_array_equal(drawn(x / concatenate([y, y, y])).has_pole, [True] * 3)
    joined = concatenate([y, x[2:]])
    np.testing.assert_array_equal(drawn(joined**2 / joined).has_pole, [False, False])


def test_sums_settle_a_pole():
    x = Ratio(1.0, "1", limits(1.0))
    assert drawn((1.0 / x + 1.0) * 2.0).has_pole
    assert drawn(np.exp(-1.0 / x)).has_pole  # nothing is known of what a function makes of it


def test_factors_that_change_sign_cancel_as_well():
    x = Ratio(1.0, "1", standard(0.5))
    y = Ratio(5.0, "1", limits(0.1))
    assert drawn(y / x).has_pole
    assert not drawn(x * y / x).has_pole
