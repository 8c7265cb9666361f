"""Moments of draws of any size, and their merging."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import Quantity, standard
from flowunc.propagation.moments import Moments


def moments_of(values, sizes):
    """Merge the moments of runs of columns, shape (rows, count)."""
    parts = []
    for run in np.split(values, np.cumsum(sizes)[:-1], axis=1):
        part = Moments.empty(values.shape[0], run.shape[1])
        part.fill(np.arange(values.shape[0]), run.copy())
        parts.append(part)
    whole = parts[0]
    for part in parts[1:]:
        whole = whole.merge(part)
    return whole


@pytest.mark.parametrize("scale", [1e-170, 1e160])
@pytest.mark.parametrize("options", [{}, {"control": True}, {"sampler": "sobol"}])
def test_drawn_u_at_any_size(scale, options):
    drawn = Quantity(scale, "m", standard(0.01 * scale)).monte_carlo(4000, **options)
    assert drawn.u / scale == pytest.approx(0.01, rel=0.05)
    assert drawn.u_error > 0


@pytest.mark.parametrize("scale", [1e-170, 1e160])
def test_digits_are_reached_at_any_size(scale):
    few, many = (
        Quantity(scale, "m", standard(0.1 * scale)).monte_carlo(digits=digits, seed=1)
        for digits in (1, 3)
    )
    assert many.trials > 4 * few.trials  # stable to 0.0005 u, not at once: 2.5e6 trials or more
    assert many.u / scale == pytest.approx(0.1, abs=0.0001)


@given(
    exponent=st.integers(-900, 900),
    sizes=st.lists(st.integers(1, 30), min_size=1, max_size=5),
    seed=st.integers(0, 99),
)
def test_a_power_of_two_changes_no_digit(exponent, sizes, seed):
    values = np.random.default_rng(seed).normal(3.0, 1.0, (2, sum(sizes)))
    values[1] = 2.5
    plain = moments_of(values, sizes)
    scaled = moments_of(np.ldexp(values, exponent), sizes)
    np.testing.assert_array_equal(np.ldexp(scaled.mean, -exponent), plain.mean)
    if sum(sizes) > 1:
        u = np.ldexp(scaled.deviation(), -exponent)
        np.testing.assert_allclose(u, plain.deviation(), rtol=1e-14, atol=1e-15)
        np.testing.assert_allclose(u, values.std(axis=1, ddof=1), rtol=1e-12, atol=1e-14)


def test_rows_of_different_size_stand_side_by_side():
    values = np.random.default_rng(1).normal(0.0, 1.0, (3, 500)) * [[1e-200], [1.0], [1e200]]
    found = moments_of(values, [100, 400])
    expected = (values / [[1e-200], [1.0], [1e200]]).std(axis=1, ddof=1)
    np.testing.assert_allclose(found.deviation() / [1e-200, 1.0, 1e200], expected, rtol=1e-12)


def test_a_sum_beyond_float64_still_has_a_mean():
    values = np.full((1, 1000), 1e306) * np.linspace(0.9, 1.1, 1000)
    found = moments_of(values, [1000])
    assert found.mean[0] == pytest.approx(1e306, rel=1e-12)
    assert found.deviation()[0] / 1e306 == pytest.approx(np.linspace(0.9, 1.1, 1000).std(ddof=1))


def test_a_block_of_one_trial_keeps_the_size_of_the_others():
    values = np.random.default_rng(2).normal(0.0, 1e-200, (1, 101))
    found = moments_of(values, [100, 1])
    assert found.deviation()[0] / 1e-200 == pytest.approx((values / 1e-200).std(ddof=1))


@pytest.mark.parametrize("size", [1e-200, 1.0, 1e200])
def test_blocks_of_one_trial_each_have_the_deviation_of_all(size):
    values = np.array([[3.0, 5.0, 4.5]]) * size
    for sizes in ([1, 1, 1], [1, 2], [2, 1]):
        found = moments_of(values, sizes)
        assert found.deviation()[0] / size == pytest.approx(np.std([3.0, 5.0, 4.5], ddof=1))
    two = moments_of(values[:, :2], [1, 1])
    assert two.deviation()[0] / size == pytest.approx(np.sqrt(2), rel=1e-14)
