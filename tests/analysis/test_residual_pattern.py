"""Signs and trend of deviations: exact tables, enumeration, least squares of whitened numbers."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from flowunc.analysis.agreement import agreement
from flowunc.analysis.residual_pattern import residual_pattern, runs_probability
from flowunc.core.errors import DimensionError, PropagationError, RangeError, ShapeError
from flowunc.core.kinds import FrictionFactor, Length, Ratio, ReynoldsNumber, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.statements import shared, standard

RE = ReynoldsNumber([5e3, 7e3, 1e4, 1.5e4, 2e4, 3e4, 5e4, 8e4], "1")


def deviations(values: np.ndarray, own: float = 1.0, common: float = 0.0) -> Quantity:
    """Return deviations with independent errors and one in common."""
    return Ratio(values, "1", standard(own)) + Ratio(0, "1", standard(common))


# P(number of rows <= r) for a and b signs, as printed in the tables of [Swed 1943, table I]
# (from memory, and computed by counting all orders in the test below).
@pytest.mark.parametrize(
    ("a", "b", "cumulative"),
    [
        (2, 3, {2: 0.200, 3: 0.500, 4: 0.900, 5: 1.000}),
        (3, 3, {2: 0.100, 3: 0.300, 4: 0.700, 5: 0.900}),
        (4, 4, {2: 0.029, 3: 0.114, 4: 0.371, 5: 0.629, 6: 0.886, 7: 0.971}),
        (5, 5, {2: 0.008, 3: 0.040, 4: 0.167, 5: 0.357, 6: 0.643, 7: 0.833, 8: 0.960, 9: 0.992}),
    ],
)
def test_published_probabilities_of_rows(a: int, b: int, cumulative: dict[int, float]) -> None:
    for rows, p in cumulative.items():
        assert runs_probability(rows, a, b) == pytest.approx(p, abs=0.00051)


# Largest number of rows that is too small, and smallest that is too large, at 2.5 % each way
# [Swed 1943, tables II and III], from memory.
@pytest.mark.parametrize(
    ("a", "b", "few", "many"), [(5, 5, 2, 10), (8, 8, 4, 14), (10, 10, 6, 16), (20, 20, 14, 28)]
)
def test_published_critical_numbers_of_rows(a: int, b: int, few: int, many: int) -> None:
    assert runs_probability(few, a, b) <= 0.025 < runs_probability(few + 1, a, b)
    assert 1 - runs_probability(many - 1, a, b) <= 0.025 < 1 - runs_probability(many - 2, a, b)


@pytest.mark.parametrize(("a", "b"), [(1, 1), (1, 6), (2, 5), (4, 3), (6, 6)])
def test_probability_of_rows_by_counting_every_order(a: int, b: int) -> None:
    counts: dict[int, int] = {}
    for places in itertools.combinations(range(a + b), a):
        signs = [i in places for i in range(a + b)]
        rows = 1 + sum(x != y for x, y in itertools.pairwise(signs))
        counts[rows] = counts.get(rows, 0) + 1
    total = math.comb(a + b, a)
    for rows in range(1, a + b + 2):
        expected = sum(number for r, number in counts.items() if r <= rows) / total
        assert runs_probability(rows, a, b) == pytest.approx(expected, rel=1e-12)


def test_probability_of_rows_against_a_permutation_test() -> None:
    signs = np.array([1, 1, -1, -1, 1, -1])

    def rows(order: np.ndarray, axis: int = -1) -> np.ndarray:
        return 1 + np.count_nonzero(np.diff(order, axis=axis), axis=axis)

    # all 720 orders
    exact = stats.permutation_test(
        (signs,), rows, permutation_type="pairings", alternative="less", vectorized=True
    )
    assert runs_probability(4, 3, 3) == pytest.approx(exact.pvalue, rel=1e-12)


def test_independent_deviations_are_left_as_they_are() -> None:
    values = np.array([0.3, -1.2, 0.8, 2.0, -0.4, 0.1, -0.9, 1.1])
    found = residual_pattern(deviations(values * 0.5, own=0.5), RE)
    np.testing.assert_allclose(found.whitened, values, rtol=1e-12)
    assert (found.positive, found.negative, found.runs) == (5, 3, 7)
    # P(7 or more rows of 5 and 3 signs) = 1 - P(<= 6): P(7) = C(4,3) C(2,2)/C(8,3) [C]
    assert found.runs_p_value == pytest.approx(2 * (4 * 1) / 56, rel=1e-12)
    assert found.balance_p_value == pytest.approx(stats.binomtest(3, 8).pvalue, rel=1e-12)
    assert found.random


def test_shared_error_explains_one_sign() -> None:
    # all far above zero, as one error in common makes them: independent, they are mixed
    values = 5.0 + np.array([0.3, -1.2, 0.8, 2.0, -0.4, 0.1, -0.9, 1.1])
    apart = residual_pattern(deviations(values), RE)
    common = residual_pattern(deviations(values, common=5.0), RE)
    assert (apart.positive, apart.negative) == (8, 0)
    assert apart.balance_p_value == pytest.approx(2 / 2**8)
    assert math.isnan(apart.runs_p_value)
    assert not apart.random
    assert "more of one sign than by chance" in apart.sentence
    assert common.random
    assert min(common.positive, common.negative) >= 2


def test_whitened_is_what_is_new_after_those_before() -> None:
    # compound symmetry: given m readings, the next has mean s^2 sum/(u^2 + m s^2) and variance
    # u^2 + s^2 - m s^4/(u^2 + m s^2) [C]: conditional normal distribution [Rao 1973, 8a]
    values, u, s = np.array([0.9, 1.3, 0.8, 1.1]), 0.3, 0.9
    found = residual_pattern(deviations(values, u, s), RE[:4])
    for m in range(4):
        gain = s**2 / (u**2 + m * s**2)
        variance = u**2 + s**2 - m * s**2 * gain
        expected = (values[m] - gain * values[:m].sum()) / math.sqrt(variance)
        assert found.whitened[m] == pytest.approx(expected, rel=1e-9)


def test_order_is_that_of_the_other_quantity() -> None:
    values = np.arange(8.0) - 3.6
    rows = np.array([3, 0, 7, 1, 6, 2, 5, 4])
    sorted_first = residual_pattern(deviations(values, common=2.0), RE)
    mixed = residual_pattern(deviations(values, common=2.0)[rows], RE[rows])
    np.testing.assert_allclose(mixed.whitened, sorted_first.whitened, rtol=1e-9)
    assert mixed.order.tolist() == np.argsort(rows).tolist()
    assert mixed.table()["against"].is_monotonic_increasing


def test_trend_is_generalised_least_squares() -> None:
    rng = np.random.default_rng(8)
    values = rng.normal(size=8)
    d = deviations(values, 0.7, 1.5) + Ratio(np.linspace(0, 1, 8), "1") * Ratio(
        1, "1", standard(0.4)
    )
    found = residual_pattern(d, RE)
    V = 0.49 * np.eye(8) + 2.25 + 0.16 * np.outer(np.linspace(0, 1, 8), np.linspace(0, 1, 8))
    X = np.stack([np.ones(8), np.log(RE.value)], axis=1)
    of_parameters = np.linalg.inv(X.T @ np.linalg.inv(V) @ X)
    slope = (of_parameters @ X.T @ np.linalg.inv(V) @ d.value)[1]
    assert found.trend is not None
    assert found.trend.value == pytest.approx(slope, rel=1e-9)
    assert found.trend.u == pytest.approx(math.sqrt(of_parameters[1, 1]), rel=1e-9)
    p = 2 * stats.norm.sf(abs(slope) / math.sqrt(of_parameters[1, 1]))
    assert found.trend_p_value == pytest.approx(p, rel=1e-9)


def test_trend_is_seen_and_an_offset_is_none() -> None:
    slope = 1.5 * (np.log(RE.value) - 9.5)
    rising = residual_pattern(deviations(slope, common=0.1), RE)
    assert "rises with it" in rising.sentence
    assert "falls with it" in residual_pattern(deviations(-slope, common=0.1), RE).sentence
    ten = ReynoldsNumber(np.linspace(5e3, 8e4, 10), "1")
    halves = residual_pattern(deviations(np.repeat([-1.0, 1.0], 5)), ten)
    # 2 of the C(10, 5) = 252 orders have two rows, twice that two-sided [C]
    assert halves.runs_p_value == pytest.approx(4 / 252, rel=1e-12)
    assert "like signs lie together" in halves.sentence
    assert not halves.random
    flat = residual_pattern(deviations(np.full(8, 10.0)), RE)
    assert flat.trend_p_value == pytest.approx(1, abs=1e-9)
    wave = residual_pattern(deviations(np.tile([1.0, -1.0], 5)), ten)
    assert "change more often than by chance" in wave.sentence


def test_rates_of_false_alarm() -> None:
    # 400 sets of 8 deviations drawn with NumPy, nothing wrong with them: z is standard normal,
    # a continuous test at 5 % alarms in 5 %, the discrete ones in at most that.
    rng = np.random.default_rng(21)
    trials = 400
    trend = balance = rows = 0
    everything = []
    for _ in range(trials):
        values = rng.normal(size=8) + 2 * rng.normal()
        found = residual_pattern(deviations(values, 1.0, 2.0), RE)
        trend += found.trend_p_value < 0.05
        balance += found.balance_p_value < 0.05
        rows += found.runs_p_value < 0.05
        everything.append(found.whitened)
    sigma = math.sqrt(0.05 * 0.95 * trials)
    assert abs(trend - 0.05 * trials) < 3 * sigma
    assert max(balance, rows) < 0.05 * trials + 3 * sigma
    z = np.array(everything)
    assert stats.kstest(z.ravel(), "norm").pvalue > 1e-3
    correlation = np.corrcoef(z.T) - np.eye(8)
    assert np.abs(correlation).max() < 4.5 / math.sqrt(trials)


def test_reading_entered_twice_is_left_out() -> None:
    d = deviations(np.array([0.3, -1.2, 0.8, 2.0, -0.4, 0.1, -0.9, 1.1]), common=1.0)
    rows = np.array([0, 1, 1, 2, 3, 4, 5, 6, 7])
    once, twice = residual_pattern(d, RE), residual_pattern(d[rows], RE[rows])
    np.testing.assert_allclose(twice.whitened, once.whitened, rtol=1e-6)
    assert twice.trend is not None
    assert once.trend is not None
    assert twice.trend.value == pytest.approx(once.trend.value, rel=1e-6)


def test_refusals() -> None:
    values = np.array([1.0, 2.0, 4.0])
    re = RE[:3]
    with pytest.raises(PropagationError, match=r"cannot make them differ .* resolution"):
        residual_pattern(Ratio(values, "1", shared(standard(1.0))), re)
    with pytest.raises(PropagationError, match="at reading 1 has no uncertainty"):
        residual_pattern(Ratio(values, "1", standard([1.0, 0.0, 1.0])), re)
    with pytest.raises(DimensionError, match="deviation"):
        residual_pattern(values, re)  # type: ignore[arg-type]
    with pytest.raises(DimensionError, match="difference"):
        residual_pattern(deviations(values), Temperature([1, 2, 3], "degC"))
    with pytest.raises(ShapeError, match="a single value"):
        residual_pattern(Ratio(1.0, "1", standard(1)), re)
    with pytest.raises(ShapeError, match="3 deviations against 8"):
        residual_pattern(deviations(values), RE)
    with pytest.raises(RangeError, match="above 0"):
        residual_pattern(deviations(values), Ratio([1.0, 0.0, 2.0], "1"))
    with pytest.raises(RangeError, match="at least two"):
        residual_pattern(deviations(values)[:1], re[:1])


def test_too_little_for_a_trend() -> None:
    values = np.array([1.0, -2.0])
    assert residual_pattern(deviations(values), RE[:2]).trend is None
    same = residual_pattern(deviations(np.array([1.0, -2.0, 0.5])), Ratio([2.0, 2.0, 2.0], "1"))
    assert same.trend is None
    assert "no test of a trend" in same.sentence


def test_agreement_and_text() -> None:
    f = FrictionFactor([0.031, 0.029, 0.028], "1", standard(0.001))
    expected = FrictionFactor([0.030, 0.030, 0.027], "1")
    found = residual_pattern(agreement(f, expected), RE[:3].labelled("Reynolds number"))
    np.testing.assert_allclose(found.whitened, [1, -1, 1], rtol=1e-9)
    lines = str(found).splitlines()
    assert lines[0] == "pattern of 3 deviations against Reynolds number"
    assert max(map(len, lines)) <= 100
    assert list(found.table()["reading"]) == [0, 1, 2]
    assert "<ul>" in found._repr_html_()


def test_deviation_with_a_unit() -> None:
    d = Length([1.0, -2.0, 4.0], "mm", standard(1.0))
    found = residual_pattern(d, RE[:3])
    np.testing.assert_allclose(found.whitened, [1, -2, 4], rtol=1e-12)
    assert found.trend is not None
    assert found.trend.unit == "mm"
    # unweighted line through three points
    assert found.trend.value == pytest.approx(
        np.polyfit(np.log(RE.value[:3]), [1, -2, 4], 1)[0], rel=1e-9
    )
