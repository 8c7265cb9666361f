"""Sums over components and readings: rows in blocks, means, neighbours, shapes by reading.

All formulas but one are quadratic in their errors, for which the second order is exact; the
variances are elementary and written beside them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import (
    PropagationError,
    Quantity,
    Ratio,
    concatenate,
    limits,
    shared,
    standard,
)
from flowunc.propagation import curvature, higher_terms
from flowunc.propagation.second_order import second_order

M, S = 0.7, 0.3


def normal(mean=M, u=S):
    return Ratio(mean, "1", standard(u))


def test_readings_in_blocks_picked_and_joined(monkeypatch):
    monkeypatch.setattr(higher_terms, "BLOCK", 64)
    values = np.linspace(0.5, 3.0, 300)
    x = Ratio(values, "1", standard(S))
    backward = x[::-1] ** 2
    made = concatenate(backward[:200], x**2)
    found = second_order(made)
    mean = np.concatenate([values[::-1][:200], values])
    np.testing.assert_allclose(found.mean, mean**2 + S**2, rtol=1e-13)
    np.testing.assert_allclose(found.u, np.sqrt(4 * mean**2 * S**2 + 2 * S**4), rtol=1e-13)


def test_mean_over_readings():
    # mean of n squares: variance is the sum of theirs over n^2
    values = np.linspace(0.0, 1.0, 40)
    found = second_order((Ratio(values, "1", standard(S)) ** 2).mean())
    assert found.mean == pytest.approx((values**2).mean() + S**2, rel=1e-13)
    variance = (4 * values**2 * S**2 + 2 * S**4).sum() / 40**2
    assert found.u == pytest.approx(math.sqrt(variance), rel=1e-13)
    assert isinstance(found.u, float)


@pytest.mark.parametrize("numbers", [1, 500])
def test_few_directions_at_a_time_give_the_same(monkeypatch, numbers):
    made = (Ratio(np.linspace(0, 1, 9), "1", limits(S)) ** 2).mean() / normal()
    at_once = second_order(made)
    monkeypatch.setattr(curvature, "MOST_NUMBERS", numbers)
    in_turn = second_order(made)
    assert in_turn.u == pytest.approx(at_once.u, rel=1e-14)
    assert in_turn.shift == pytest.approx(at_once.shift, rel=1e-14)


def test_deep_formulas_do_not_recurse():
    # x (1 + 1e-4)^3000: linear, so that nothing is added
    x = normal()
    for _ in range(3000):
        x = x * 1.0001
    found = second_order(x)
    assert found.u == pytest.approx(S * 1.0001**3000, rel=1e-10)
    assert found.curvatures == ("small",)


def test_square_of_a_mean():
    # the mean of n readings is one normal number of u = s/sqrt n
    values = np.linspace(0.0, 1.0, 40)
    found = second_order(Ratio(values, "1", standard(S)).mean() ** 2)
    u = S / math.sqrt(40)
    assert found.shift == pytest.approx(u**2, rel=1e-12)
    assert found.u == pytest.approx(math.sqrt(4 * 0.5**2 * u**2 + 2 * u**4), rel=1e-12)


def test_products_of_neighbours():
    # E[(XY - ab)^2] = a^2 s^2 + b^2 s^2 + s^4 for independent X, Y of one u
    values = np.linspace(0.5, 2.0, 30)
    x = Ratio(values, "1", standard(S))
    found = second_order(x[1:] * x[:-1])
    a, b = values[1:], values[:-1]
    np.testing.assert_allclose(found.u, np.sqrt((a**2 + b**2) * S**2 + S**4), rtol=1e-13)
    np.testing.assert_allclose(found.shift, 0.0, atol=1e-15)


def test_one_error_behind_all_readings_is_one_direction():
    # (a + e)(b + e), one normal e: (a + b)^2 s^2 + 2 s^4
    x = Ratio([1.5, 2.5], "1", shared(standard(S)))
    found = second_order(x[0] * x[1])
    assert found.shift == pytest.approx(S**2, rel=1e-13)
    assert found.u == pytest.approx(math.sqrt(16 * S**2 + 2 * S**4), rel=1e-13)


def test_one_kurtosis_for_each_reading():
    # a rectangle with inexact limits: kurtosis between 1.8 and more, reading by reading
    statement = limits(0.4, inexact=0.4)
    one = second_order(Ratio(M, "1", statement) ** 2)
    exact = second_order(Ratio(M, "1", limits(0.4)) ** 2)
    # E[e^4] = 0.4^4 (1 + 2 + 1/5)/5 and E[e^2] = 0.4^2 (1 + 1/3)/3 for a half-width in 0 .. 0.8
    fourth, second = 0.4**4 * 0.64, 0.4**2 * 4 / 9
    assert one.u**2 == pytest.approx(4 * M**2 * second + fourth - second**2, rel=1e-12)
    both = second_order(concatenate(Ratio(M, "1", statement), Ratio(M, "1", limits(0.4))) ** 2)
    np.testing.assert_allclose(both.u, [one.u, exact.u], rtol=1e-14)


def test_cost_does_not_grow_with_readings_that_stand_alone(monkeypatch):
    # one direction for each component, not for each of its readings
    counts = []
    original = higher_terms.directions_of

    def counted(*arguments):
        found = original(*arguments)
        counts.append(len(found))
        return found

    monkeypatch.setattr(higher_terms, "directions_of", counted)
    x = Ratio(np.linspace(1, 2, 500), "1", standard(S), shared(limits(0.1)))
    second_order(x**2 / Ratio(2.0, "1", standard(0.1)))
    assert counts == [1, 1, 1]


# -- sizes whose squares leave float64 ---------------------------------------------------------
@pytest.mark.parametrize("scale", [1e-300, 1e-170, 1e160, 1e300])
def test_second_order_at_any_size(scale):
    # NaN above, first order alone below. For independent normal X, Y: var XY = a^2 s^2 + b^2 r^2
    # + r^2 s^2; var X^2 = 4 a^2 s^2 + 2 s^4, E[X^2] = a^2 + s^2
    x, y = Quantity(scale, "m", standard(0.1 * scale)), normal(1.0, 0.2)
    product = second_order(x * y)
    assert product.u / scale == pytest.approx(math.sqrt(0.01 + 0.04 + 0.0004), rel=1e-12)
    square = second_order(Quantity(scale, "m") * Ratio([0.0, 1.0, 2.0], "1", standard(S)) ** 2)
    a = np.array([0.0, 1.0, 2.0])
    np.testing.assert_allclose(square.u / scale, np.sqrt(4 * a**2 * S**2 + 2 * S**4), rtol=1e-12)
    np.testing.assert_allclose(square.shift / scale, S**2, rtol=1e-12)
    ordinary = second_order(Ratio([0.0, 1.0, 2.0], "1", standard(S)) ** 2)
    assert square.curvatures == ordinary.curvatures
    assert "nan" not in str(square)


def test_rows_of_different_size_each_have_their_own():
    sizes = np.array([1e-250, 1.0, 1e250])
    found = second_order(Quantity(sizes, "m") * normal(1.0, 0.2) ** 2)
    np.testing.assert_allclose(found.u / sizes, math.sqrt(4 * 0.04 + 2 * 0.0016), rtol=1e-12)
    np.testing.assert_allclose(found.shift / sizes, 0.04, rtol=1e-12)


@pytest.mark.parametrize(
    ("limit", "most"), [("MOST_PRODUCTS", 5 * 25), ("MOST_DIRECTIONS", 5)], ids=["pairs", "count"]
)
def test_rows_with_too_many_readings_each_are_refused(limit, most, monkeypatch):
    # each of 5 deviations from the mean depends on all 5 readings: 25 pairs, 5 directions
    x = Ratio(np.linspace(1.0, 2.0, 5), "1", standard(0.1))
    made = (x - x.mean()) ** 2 + x
    monkeypatch.setattr(higher_terms, limit, most)
    assert np.isfinite(second_order(made).u).all()
    monkeypatch.setattr(higher_terms, limit, most - 1)
    with pytest.raises(PropagationError, match=r"rows 0 to 4 depend on 25 readings.*5 directions"):
        second_order(made)
    # readings by themselves are one direction for all, however many
    monkeypatch.setattr(higher_terms, "MOST_PRODUCTS", 1)
    monkeypatch.setattr(higher_terms, "MOST_DIRECTIONS", 1)
    assert np.isfinite(second_order(x**2).u).all()
