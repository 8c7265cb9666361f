"""The backward sweep: blocks, patterns of readings, places without a derivative, cost."""

from __future__ import annotations

import math
import time
import tracemalloc

import numpy as np
import pytest

from flowunc import Length, PropagationError, Ratio, concatenate, limits, shared, standard
from flowunc.propagation.linear import BLOCK

LONG = 2 * BLOCK + 500


def long_readings(seed=1):
    generator = np.random.default_rng(seed)
    values = generator.uniform(1.0, 2.0, LONG)
    own = generator.uniform(0.01, 0.1, LONG)
    return Ratio(values, "1", standard(own), shared(standard(0.05)), label="x")


def model(x, bore):
    return np.sqrt(x * x + bore) * np.exp(-x) / bore


# -- more readings than one block --------------------------------------------------------------
def test_blocks_equal_pieces():
    x, bore = long_readings(), Ratio(0.3, "1", standard(0.01))
    whole = model(x, bore)
    for piece in (slice(0, 100), slice(BLOCK - 50, BLOCK + 50), slice(LONG - 70, LONG)):
        part = model(x[piece], bore)
        np.testing.assert_array_equal(whole.value[piece], part.value)
        np.testing.assert_allclose(whole.u[piece], part.u, rtol=1e-14)
        np.testing.assert_allclose((whole[piece] - part).u, 0.0, atol=1e-16)


def test_blocks_equal_pieces_behind_a_choice_of_readings():
    x, bore = long_readings(), Ratio(0.3, "1", standard(0.01))
    order = np.random.default_rng(2).integers(0, LONG, LONG)
    whole = model(x[order], bore) + x[::-1]
    for piece in (slice(0, 60), slice(BLOCK - 30, BLOCK + 30), slice(LONG - 60, LONG)):
        part = model(x[order[piece]], bore) + x[np.arange(LONG)[::-1][piece]]
        np.testing.assert_allclose(whole.u[piece], part.u, rtol=1e-13)
        np.testing.assert_allclose((whole[piece] - part).u, 0.0, atol=1e-15)


def test_blocks_equal_pieces_behind_a_concatenation():
    x, bore = long_readings(), Ratio(0.3, "1", standard(0.01))
    joined = concatenate(x[BLOCK + 7 :], bore, x[: BLOCK + 9], x[5])
    whole = model(joined, bore) * joined[::-1]
    rows = np.array([0, LONG - BLOCK - 8, LONG - BLOCK - 7, BLOCK - 1, BLOCK, LONG + 2])
    part = model(joined[rows], bore) * joined[len(joined) - 1 - rows]
    np.testing.assert_allclose(whole.u[rows], part.u, rtol=1e-13)


def test_blocks_equal_pieces_behind_a_mean():
    x = long_readings()[: BLOCK + 300]
    mean = x.mean()
    expected = math.sqrt(np.sum((x - x.value).u ** 2 - 0.05**2) / len(x) ** 2 + 0.05**2)
    assert mean.u == pytest.approx(expected, rel=1e-12)
    scaled = x / Ratio(2.0, "1", standard(0.1)) * mean.value
    np.testing.assert_allclose(scaled.u[[0, -1]], (scaled[[0, -1]]).u, rtol=1e-13)


@pytest.mark.parametrize("shifts", [1, 3, 4, 5, 9])
def test_many_patterns_at_one_node_add_up(shifts):
    # y_i = sum over k of (k + 1) x_(i+k): u^2 = u0^2 * sum of (k + 1)^2, one x_j in many rows
    x = Ratio(np.linspace(1, 2, 40), "1", standard(0.1), shared(standard(0.2)))
    count = 40 - shifts
    total = sum((k + 1) * x[k : k + count] for k in range(shifts))
    weights = np.arange(1, shifts + 1)
    expected = math.sqrt(0.01 * (weights**2).sum() + 0.04 * weights.sum() ** 2)
    np.testing.assert_allclose(total.u, expected, rtol=1e-13)
    neighbours = total[:-1].covariance(total[1:]).diagonal()
    own = 0.01 * (weights[1:] * weights[:-1]).sum()
    np.testing.assert_allclose(neighbours, own + 0.04 * weights.sum() ** 2, rtol=1e-12)


def test_many_patterns_of_one_square_node():
    # the same, with a node of its own between the slices and the input
    x = Ratio(np.linspace(1, 2, 30), "1", standard(0.1))
    square = np.square(x)
    total = sum(square[k : k + 20] for k in range(8)) + square[::-1][:20]
    slopes = np.zeros((20, 30))
    for row in range(20):
        for k in range(8):
            slopes[row, row + k] += 2 * x.value[row + k]
        slopes[row, 29 - row] += 2 * x.value[29 - row]
    np.testing.assert_allclose(total.u, 0.1 * np.sqrt((slopes**2).sum(axis=1)), rtol=1e-13)
    np.testing.assert_allclose(
        total.covariance(total), 0.01 * slopes @ slopes.T, rtol=1e-12, atol=1e-15
    )


@pytest.mark.parametrize("count", [2, 3, 5, 8, 9, 30, 200])
def test_means_over_few_and_over_many_readings(count):
    x = Ratio(np.linspace(1, 2, count), "1", standard(0.1), shared(standard(0.2)))
    weighted = (x * np.arange(count)).sum() / x.mean()
    w = np.arange(count)
    total, mean = float((x.value * w).sum()), float(x.value.mean())
    own = w / mean - total / mean**2 / count
    expected = math.sqrt(0.01 * (own**2).sum() + 0.04 * own.sum() ** 2)
    assert weighted.u == pytest.approx(expected, rel=1e-12)
    normalised = x / x.mean()
    slopes = np.eye(count) / mean - np.outer(x.value, np.ones(count)) / mean**2 / count
    np.testing.assert_allclose(
        normalised.covariance(normalised),
        0.01 * slopes @ slopes.T + 0.04 * np.outer(slopes.sum(axis=1), slopes.sum(axis=1)),
        rtol=1e-10,
        atol=1e-15,
    )


def test_sum_of_a_joined_quantity_counts_a_repeated_reading_twice():
    x = Length([1.0, 2.0], "m", standard(0.1))
    assert concatenate(x, x, x[0]).sum().u == pytest.approx(0.1 * math.sqrt(9 + 4), rel=1e-14)
    assert x[[0, 0, 0, 1]].sum().u == pytest.approx(0.1 * math.sqrt(9 + 1), rel=1e-14)
    assert x[[0, 0]].mean().u == pytest.approx(0.1, rel=1e-14)


def test_zero_sensitivity_is_no_uncertainty():
    x = Ratio([0.0, 1.0], "1", standard(0.1))
    assert (x**2).u.tolist() == [0.0, 0.2]
    np.testing.assert_allclose((x * 0).u, 0.0, atol=0)


# -- no derivative -----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("result", "place"),
    [
        (lambda x: np.sqrt(x), r"sqrt\(0\) at reading 1"),
        (lambda x: abs(x), r"absolute\(0\) at reading 1"),
        (lambda x: np.maximum(x, 0.0), r"maximum\(0, 0\) at reading 1"),
        (lambda x: np.cbrt(x) + x, r"cbrt\(0\) at reading 1"),
        (lambda x: 2 * np.arcsin(1 - x[1]), r"arcsin\(1\) at reading 0"),
        (lambda x: np.hypot(x, x), r"hypot\(0, 0\) at reading 1"),
    ],
)
def test_place_without_a_derivative_is_named(result, place):
    x = Ratio([0.5, 0.0, 0.25], "1", standard(0.1))
    quantity = result(x)
    for ask in (lambda: quantity.u, lambda: quantity.interval(), lambda: quantity.dof):
        with pytest.raises(PropagationError, match=rf"{place}.*monte_carlo"):
            ask()


def test_covariance_and_budget_refuse_a_missing_derivative_too():
    x = Ratio(0.0, "1", standard(0.1))
    root = np.sqrt(x)
    for ask in (lambda: root.covariance(x), lambda: root.budget(), lambda: root.to_ufloats()):
        with pytest.raises(PropagationError, match=r"sqrt\(0\)"):
            ask()


def test_uncertainty_beyond_all_numbers_is_said():
    # u = 2 x u(x) = 2e350, the largest float64 is 1.8e308; the second row alone would do
    x = Ratio([1e150, 1.0], "1", standard([1e200, 0.5]))
    with pytest.raises(PropagationError, match=r"rows 0 to 1 leaves the range .* magnitudes"):
        (x**2).u  # noqa: B018 - asking is what computes it
    assert (x[1] ** 2).u == 1.0


def test_power_zero_is_a_constant_everywhere():
    # x**0 is 1; its derivative is 0 also at x = 0
    assert (Ratio(0.0, "1", standard(0.1)) ** 0).u == 0.0


# -- cost --------------------------------------------------------------------------------------
def seconds(count):
    generator = np.random.default_rng(1)
    x = Ratio(generator.uniform(1, 2, count), "1", standard(0.1), shared(limits(0.1)))
    y = Ratio(generator.uniform(1, 2, count), "1", standard(0.1))
    best = math.inf
    for _ in range(5):
        result = model(x, y) + np.log(x * y)
        start = time.thread_time()
        result.u  # noqa: B018 - asking is what computes it
        best = min(best, time.thread_time() - start)
    return best


def test_cost_grows_like_the_number_of_readings():
    # ten times the readings: about ten times the time, a hundred if it were quadratic
    assert seconds(200_000) < 30 * seconds(20_000)


def test_cost_grows_like_the_number_of_operations():
    def time_of(count):
        value = Ratio(1.0, "1", standard(0.1))
        for _ in range(count):
            value = value * 1.0001
        start = time.thread_time()
        value.u  # noqa: B018
        return time.thread_time() - start

    time_of(200)
    # the fastest of several on both sides: a pause of the machine in one of them says nothing
    assert min(time_of(10_000) for _ in range(3)) < 40 * min(time_of(1_000) for _ in range(3))


def test_cost_of_deviations_from_the_mean_grows_moderately():
    # x - x.mean() is what every straight-line fit and every zero correction does; eight times the
    # readings took 64 times the time and memory, 10 000 readings some gigabytes
    def time_of(count):
        x = Ratio(np.linspace(1, 2, count), "1", standard(0.1))
        start = time.thread_time()
        u = (x - x.mean()).u
        elapsed = time.thread_time() - start
        np.testing.assert_allclose(u, 0.1 * math.sqrt(1 - 1 / count), rtol=1e-10)
        return elapsed

    time_of(100)
    assert min(time_of(1_600) for _ in range(3)) < 30 * min(time_of(200) for _ in range(3))


@pytest.mark.parametrize("last", [lambda d: Ratio(1.0, "1"), lambda d: d[0] - d[0]])
def test_memory_of_deviations_from_the_mean_next_to_a_certain_reading(last):
    # one row of exactly zero variance sent its whole block through a table of every row with
    # every reading: 80 MB for 1000 readings, 1.3 GB for 4000
    x = Ratio(np.linspace(1, 2, 1_000), "1", standard(0.1))
    deviations = x - x.mean()
    joined = concatenate(deviations, last(deviations))
    tracemalloc.start()
    u = joined.u
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    np.testing.assert_allclose(u[:-1], 0.1 * math.sqrt(1 - 1e-3), rtol=1e-10)
    assert u[-1] == 0.0
    assert peak < 20e6
