"""Ranks of coverage intervals by JCGM 101, 7.7, on samples small enough to count by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from flowunc import FlowuncError, Ratio, exponential, limits, standard
from flowunc.propagation.intervals import (
    coverage_ranks,
    interval_of_draws,
    shortest_error,
    symmetric_error,
)

# (level, trials) -> q, r by 7.7.1: q = p M, or the integer part of p M + 1/2; 7.7.2: r = (M - q)/2,
# or the integer part of (M - q + 1)/2. Counted by hand.
RANKS = [
    (0.95, 200_000, 190_000, 5_000),
    (0.95, 100, 95, 3),  # M - q = 5, r = int(6/2)
    (0.95, 40, 38, 1),
    (0.50, 10, 5, 3),  # M - q = 5, r = int(6/2)
    (0.50, 11, 6, 3),  # p M = 5.5, q = int(6.0); M - q = 5
    (0.80, 10, 8, 1),
    (0.60, 10, 6, 2),
    (0.95, 60, 57, 2),  # p M = 57 although 0.95 * 60 is not exact in binary; r = int(4/2)
    (0.99, 1_000, 990, 5),
    (0.55, 9, 5, 2),  # p M = 4.95, q = int(5.45)
    (0.70, 10, 7, 2),  # 0.7 * 10 is 7 exactly though 0.7 is not; r = int(4/2)
]


@pytest.mark.parametrize(("level", "trials", "covered", "rank"), RANKS)
def test_ranks_are_those_of_the_standard(level, trials, covered, rank):
    assert coverage_ranks(level, trials) == (rank, covered)


def test_symmetric_interval_runs_from_rank_r_to_rank_r_plus_q():
    draws = np.array([7.0, 1.0, 9.0, 3.0, 5.0, 2.0, 8.0, 4.0, 6.0, 10.0])
    # M = 10, p = 0.6: q = 6, r = 2: y(2), y(8)
    assert interval_of_draws(draws.copy(), 0.6, "symmetric") == (2.0, 8.0)


def test_shortest_interval_is_the_narrowest_of_all_that_cover():
    # sorted 0 1 2 3 10 20 30 40 50 60; q = 6: widths y(7)-y(1)=30, y(8)-y(2)=39, 48, 57
    draws = np.array([60.0, 0, 10, 1, 20, 2, 30, 3, 40, 50])
    assert interval_of_draws(draws.copy(), 0.6, "shortest") == (0.0, 30.0)
    assert interval_of_draws(-draws, 0.6, "shortest") == (-30.0, 0.0)
    # q = 3 of 10: y(4)-y(1) = 3
    assert interval_of_draws(draws.copy(), 0.3, "shortest") == (0.0, 3.0)


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=20, max_size=80),
    st.sampled_from([0.05, 0.2, 0.5, 0.6827, 0.9]),
)
def test_shortest_interval_against_trying_all(values, level):
    draws = np.array(values)
    rank, covered = coverage_ranks(level, draws.size)
    ordered = np.sort(draws)
    low, high = interval_of_draws(draws.copy(), level, "shortest")
    widths = ordered[covered:] - ordered[: draws.size - covered]
    assert high - low == widths.min()
    assert low == ordered[int(np.argmin(widths))]
    symmetric = interval_of_draws(draws.copy(), level, "symmetric")
    assert symmetric == (ordered[rank - 1], ordered[rank + covered - 1])
    assert high - low <= symmetric[1] - symmetric[0]


@given(st.lists(st.integers(0, 9), min_size=20, max_size=80), st.sampled_from([0.2, 0.5, 0.9]))
def test_ends_among_equal_draws_are_those_of_the_ordered_draws(values, level):
    draws = np.array(values, dtype=float)
    rank, covered = coverage_ranks(level, draws.size)
    ordered = np.sort(draws)
    found = interval_of_draws(draws, level, "symmetric")
    assert found == (ordered[rank - 1], ordered[rank + covered - 1])


@pytest.mark.parametrize("level", [0.01, 0.3, 0.5, 0.6827, 0.95, 0.999])
@pytest.mark.parametrize("trials", [5_000, 5_001])
def test_ends_of_many_draws_are_those_of_the_ordered_draws(level, trials):
    # the draws are not sorted for it, only the ranks that are asked for are put in their place
    draws = np.random.default_rng(7).exponential(size=trials)
    ordered = np.sort(draws)
    rank, covered = coverage_ranks(level, trials)
    symmetric = interval_of_draws(draws.copy(), level, "symmetric")
    assert symmetric == (ordered[rank - 1], ordered[rank + covered - 1])
    widths = ordered[covered:] - ordered[: trials - covered]
    best = int(np.argmin(widths))
    shortest = interval_of_draws(draws.copy(), level, "shortest")
    assert shortest == (ordered[best], ordered[best + covered])


@pytest.mark.parametrize(("level", "trials"), [(0.95, 10), (0.999, 500), (1e-4, 100)])
def test_too_few_trials_for_a_level_are_refused_with_both(level, trials):
    drawn = Ratio(0.0, "1", standard(1.0)).monte_carlo(trials, seed=1)
    for kind in ("shortest", "symmetric"):
        with pytest.raises(FlowuncError, match=rf"{trials}.*{level}"):
            drawn.interval(level, kind)


@pytest.mark.parametrize("kind", ["shorter", "", None, 1])
def test_unknown_kind_is_refused_with_itself(kind):
    drawn = Ratio(0.0, "1", standard(1.0)).monte_carlo(1_000, seed=1)
    with pytest.raises(FlowuncError, match=f"kind={kind!r}"):
        drawn.interval(0.95, kind)


@pytest.mark.parametrize("level", [0.0, 1.0, 95, math.nan, "0.95", True, -0.5])
def test_level_outside_0_to_1_is_refused_with_itself(level):
    drawn = Ratio(0.0, "1", standard(1.0)).monte_carlo(1_000, seed=1)
    for ask in (drawn.interval, drawn.interval_error):
        with pytest.raises(FlowuncError, match=str(level)):
            ask(level)


# -- the intervals of known distributions ------------------------------------------------------
def test_shortest_interval_of_an_exponential_starts_at_its_edge():
    # density falls from the edge on: [0, -ln(1 - p)]; symmetric: [-ln(1 - t), -ln t], t = 0.025
    drawn = Ratio(1.0, "1", exponential(1.0)).monte_carlo(400_000, seed=1)
    low, high = drawn.interval(0.95, "shortest")
    assert 0.0 <= low < 1e-3
    assert high == pytest.approx(-math.log(0.05), abs=0.03)
    low, high = drawn.interval(0.95, "symmetric")
    assert low == pytest.approx(-math.log(0.975), abs=2e-3)
    assert high == pytest.approx(-math.log(0.025), abs=0.05)


def test_symmetric_ends_are_within_their_stated_error_of_the_quantiles():
    for statement, quantile in (
        (standard(1.0), 1.959964),
        (limits(1.0), 0.95),
        (limits(2.0), 1.9),
    ):
        drawn = Ratio(0.0, "1", statement).monte_carlo(100_000, seed=4)
        ends, errors = drawn.interval(0.95, "symmetric"), drawn.interval_error(0.95)
        for end, error, true in zip(ends, errors, (-quantile, quantile), strict=True):
            assert abs(end - true) < 4 * error
            assert error < 0.02


def test_stated_error_of_the_ends_is_the_spread_over_seeds():
    # 200 repetitions of 2000 trials: the standard error is known to 5 %, so +/- 20 % is 4 sigma
    for model in (Ratio(0.0, "1", standard(1.0)), Ratio(1.0, "1", exponential(1.0))):
        drawn = [model.monte_carlo(2_000, seed=seed) for seed in range(200)]
        ends = np.array([result.interval(0.95, "symmetric") for result in drawn])
        stated = np.array([result.interval_error(0.95) for result in drawn])
        spread = ends.std(axis=0, ddof=1)
        np.testing.assert_allclose(np.sqrt((stated**2).mean(axis=0)), spread, rtol=0.2)


@pytest.mark.parametrize("level", [0.5, 0.95])
def test_stated_error_of_the_shortest_ends_is_about_their_spread(level):
    # the ends converge with the cube root of the trials, as those of the shortest half do
    # (robust statistics, from memory); parts of 1/20 scatter 20^(1/3) = 2.7 times as much
    generator = np.random.default_rng(3)
    draws = generator.normal(size=(300, 4_000))
    ends = np.array([interval_of_draws(each.copy(), level, "shortest") for each in draws])
    stated = np.array([shortest_error(each.copy(), level) for each in draws])
    ratio = np.sqrt((stated**2).mean(axis=0)) / ends.std(axis=0, ddof=1)
    assert ((ratio > 0.6) & (ratio < 1.6)).all(), ratio


def test_error_shrinks_with_the_root_of_the_trials():
    model = Ratio(0.0, "1", standard(1.0))
    errors = [np.mean(model.monte_carlo(n, seed=1).interval_error(0.95)) for n in (10**4, 10**6)]
    assert errors[0] / errors[1] == pytest.approx(10.0, rel=0.25)


@pytest.mark.parametrize("level", [0.05, 0.5, 0.95])
@pytest.mark.parametrize("trials", [4, 20, 60])
def test_error_of_the_shortest_interval_from_few_draws_is_all_of_their_width(level, trials):
    # too few for parts of their own at one of the levels: nothing is claimed then
    draws = np.random.default_rng(1).normal(size=trials)
    few = trials * min(level, 1 - level) / 4 < 2
    low, high = shortest_error(draws.copy(), level)
    if few:
        assert low == high == draws.max() - draws.min()
    else:
        assert 0 < max(low, high) < draws.max() - draws.min()


def test_asking_leaves_the_draws_as_they_were():
    drawn = Ratio([0.0, 1.0], "1", standard(1.0)).monte_carlo(5_000, seed=1)
    before = drawn.samples().copy()
    first = drawn.interval(0.95)
    drawn.interval(0.9, "symmetric")
    drawn.interval_error(0.9)
    np.testing.assert_array_equal(drawn.samples(), before)
    np.testing.assert_array_equal(drawn.interval(0.95), first)


def test_samples_are_the_caller_s_own():
    drawn = Ratio([0.0, 1.0], "1", standard(1.0)).monte_carlo(5_000, seed=1)
    first = drawn.interval(0.95)
    samples = drawn.samples()
    if samples.flags.writeable:
        samples[:] = 0.0
    again = Ratio([0.0, 1.0], "1", standard(1.0)).monte_carlo(5_000, seed=1)
    np.testing.assert_array_equal(drawn.interval(0.95), first)
    np.testing.assert_array_equal(drawn.samples(), again.samples())


def test_symmetric_error_of_a_constant_is_zero():
    assert symmetric_error(np.full(1_000, 3.0), 0.95) == (0.0, 0.0)


def test_symmetric_error_where_the_ranks_reach_the_outermost_draws():
    # level 0.95 of 40: the ends are draws 1 and 39; the rank of a quantile is binomial, with
    # nearly 1 as standard deviation, so one draw either way, below the first of which is none
    draws = np.random.default_rng(1).permutation(np.arange(1.0, 41.0) ** 2)
    spread = stats.binom(40, 1 / 40).std()
    low, high = symmetric_error(draws, 0.95)
    assert low == pytest.approx((2**2 - 1) * spread, rel=1e-12)
    assert high == pytest.approx((40**2 - 38**2) / 2 * spread, rel=1e-12)
