"""Drawn agreement against closed forms and scipy's distributions; linear E_n beside it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    DimensionError,
    FlowuncWarning,
    Length,
    PropagationError,
    Ratio,
    ReynoldsNumber,
    StatementError,
    agreement,
    limits,
    repeated,
    standard,
)
from flowunc.analysis.drawn_agreement import drawn_agreement

TRIALS = 100_000


def lognormal(spread: float) -> Ratio:
    return np.exp(Ratio(0.0, "1", standard(spread)))  # type: ignore[no-any-return]  # NumPy's stubs know no Ratio


def test_lognormal_result_against_scipy() -> None:
    found = drawn_agreement(lognormal(0.6), Ratio(3.0, "1"), trials=TRIALS, seed=1)
    exact = stats.lognorm(0.6)
    # three standard errors of a quantile: sqrt(p (1 - p)/n)/density
    for end, tail in ((found.low, 0.025), (found.high, 0.975)):
        place = exact.ppf(tail)
        error = math.sqrt(0.025 * 0.975 / TRIALS) / exact.pdf(place)
        assert end == pytest.approx(place - 3.0, abs=3 * error)
    p = 2 * exact.sf(3.0)  # 0.067
    assert found.p == pytest.approx(p, abs=3 * found.p_error)
    assert found.p_error == pytest.approx(2 * math.sqrt(p / 2 / TRIALS), rel=0.05)
    # the linear method puts 1 +- 0.6 there: E_n = -2/(1.96 * 0.6)
    assert found.normalised_error == pytest.approx(-2 / (stats.norm.ppf(0.975) * 0.6), rel=1e-9)
    assert (found.verdicts, found.linear_verdicts) == (("agrees",), ("disagrees",))
    assert found.contested == (0,)
    assert found.contains_zero is True
    assert "the linear one says it does not (E_n = -1.70), the draws that it agrees" in (
        found.sentence
    )


def test_the_other_tail_is_the_other_way_round() -> None:
    # below a lognormal there is little room: P(x < 0.25) = Phi(ln 0.25/0.6) = 0.0104
    found = drawn_agreement(lognormal(0.6), Ratio(0.25, "1"), trials=TRIALS, seed=1)
    assert found.p == pytest.approx(2 * stats.norm.cdf(math.log(0.25) / 0.6), abs=3 * found.p_error)
    assert (found.verdicts, found.linear_verdicts) == (("disagrees",), ("agrees",))
    assert found.normalised_error == pytest.approx(0.75 / (1.95996 * 0.6), rel=1e-5)


@pytest.mark.parametrize(("distance", "verdict"), [(1.90, "agrees"), (2.02, "disagrees")])
def test_normal_differences_give_what_the_linear_method_gives(
    distance: float, verdict: str
) -> None:
    measured = Length(10.0 + 0.5 * distance, "mm", standard(0.3))
    theory = Length(10.0, "mm", standard(0.4))
    found = drawn_agreement(measured, theory, trials=TRIALS, seed=3)
    assert found.unit == "mm"
    assert found.p == pytest.approx(2 * stats.norm.sf(distance), abs=3 * found.p_error)
    assert found.verdicts == found.linear_verdicts == (verdict,)
    assert found.normalised_error == pytest.approx(distance / stats.norm.ppf(0.975), rel=1e-9)
    # E_n with k = 2 is another number
    expected = agreement(measured, theory).normalised_error
    assert expected == pytest.approx(distance / 2, rel=1e-9)


def test_what_is_in_common_cancels_in_the_draws() -> None:
    # (a + c) - c: a triangle from two rectangles of half-width 1, c taken out; P(sum > 1.5) is
    # (2 - 1.5)^2/8 = 1/32
    common = Length(50.0, "mm", standard(30.0))
    a = Length(1.5, "mm", limits(1)) + Length(0.0, "mm", limits(1))
    found = drawn_agreement((a + common).to("mm"), common, trials=TRIALS, seed=2)
    assert found.p == pytest.approx(2 / 32, abs=3 * found.p_error)
    low = 1.5 - (2 - math.sqrt(8 * 0.025))  # the triangle's quantile in closed form
    assert found.low == pytest.approx(low, abs=0.01)
    apart = drawn_agreement((a + common).to("mm"), Length(50, "mm", standard(30)), seed=2)
    assert apart.p > 0.9, "as if independent"


def test_few_repeats_have_a_t_distribution_on_both_sides() -> None:
    readings = [10.0, 10.4, 10.2, 9.8, 10.6]
    mean, s = np.mean(readings), np.std(readings, ddof=1) / math.sqrt(5)
    # 2.5 u away: outside for a normal distribution, inside for t with 4 degrees of freedom
    theory = Length(mean - 2.5 * s, "mm")
    found = drawn_agreement(Length(mean, "mm", repeated(readings)), theory, trials=TRIALS, seed=5)
    expected = stats.ttest_1samp(readings, theory.value).pvalue
    assert found.p == pytest.approx(expected, abs=3 * found.p_error)
    assert found.normalised_error == pytest.approx(2.5 / stats.t.ppf(0.975, 4), rel=1e-9)
    assert found.verdicts == found.linear_verdicts == ("agrees",)


def test_readings_one_by_one_and_as_table() -> None:
    swing = Length([10.0, 20.0, 40.0], "mm", standard(2.0))
    measured = (Length(10.0, "mm") / swing) ** 2
    theory = Ratio([2.0, 0.25, 0.25], "1")
    found = drawn_agreement(measured, theory, trials=TRIALS, seed=1)
    # (10/s)^2 > X is s < 10/sqrt(X), s normal
    for row, (centre, x) in enumerate(zip((10, 20, 40), (2.0, 0.25, 0.25), strict=True)):
        below = stats.norm(centre, 2.0).cdf(10 / math.sqrt(x))
        p = 2 * min(below, 1 - below)
        assert found.p[row] == pytest.approx(p, abs=3 * found.p_error[row] + 1e-5)
    assert found.verdicts == ("agrees", "agrees", "disagrees")
    assert found.contains_zero.tolist() == [True, True, False]
    assert found.linear_verdicts == ("disagrees", "agrees", "disagrees")
    assert found.contested == (0,)
    assert "the methods differ for reading 0" in found.sentence
    table = found.table()
    assert table.drawn.tolist() == list(found.verdicts)
    assert len(str(found).splitlines()) >= 5
    assert max(map(len, str(found).splitlines())) <= 100
    assert "<table" in found._repr_html_()


def test_the_same_seed_gives_the_same_answer() -> None:
    first, second, third = (
        drawn_agreement(lognormal(0.6), Ratio(3.0, "1"), trials=5000, seed=seed).p
        for seed in (1, 1, 2)
    )
    assert first == second != third


def test_too_few_draws_leave_it_undecided() -> None:
    # p = 0.05 but for 1 %: 2000 draws know it to 0.007
    theory = Ratio(stats.lognorm(0.6).isf(0.02525), "1")
    found = drawn_agreement(lognormal(0.6), theory, trials=2000, seed=4)
    assert found.verdicts == ("undecided",)
    assert found.contested == ()
    assert "draw more trials" in found.sentence


def test_identical_results_agree() -> None:
    value = Length([3.0, 4.0], "mm", standard(0.1))
    found = drawn_agreement(value, value * 1.0, trials=1000)
    assert found.verdicts == found.linear_verdicts == ("agrees", "agrees")
    assert found.p.tolist() == [1.0, 1.0]
    assert "the linear method says the same" in found.sentence


def test_draws_without_value_are_unknown() -> None:
    root = np.sqrt(Ratio(0.01, "1", standard(0.02)))
    with pytest.warns(FlowuncWarning, match="have no finite value"):
        found = drawn_agreement(root, Ratio(0.2, "1"), trials=1000)
    assert found.verdicts == ("unknown",)
    assert math.isnan(found.p)
    assert found.contains_zero is False
    assert "unknown, as some draws have no value" in found.sentence
    assert "none" in str(found)


def test_a_pole_still_has_an_interval() -> None:
    # 1/s^2 with s normal, 3 +- 2, is chi-square like: P(1/s^2 > 1/36) = P(-6 < s < 6)
    swing = Length(3.0, "mm", standard(2.0))
    measured = (Length(1.0, "mm") / swing) ** 2
    with pytest.warns(FlowuncWarning, match="a denominator changes sign"):
        found = drawn_agreement(measured, Ratio(1 / 36, "1"), trials=TRIALS, seed=1)
    outside = stats.norm.sf(1.5) + stats.norm.cdf(-4.5)
    assert found.p == pytest.approx(2 * outside, abs=3 * found.p_error)
    assert found.verdicts == ("agrees",)


def test_what_cannot_be_compared_is_refused() -> None:
    with pytest.raises(PropagationError, match="has no uncertainty, so E_n would be infinite"):
        drawn_agreement(Length(1, "mm"), Length(2, "mm"))
    with pytest.raises(DimensionError, match="expected the same kind"):
        drawn_agreement(Length(1, "mm", standard(0.1)), ReynoldsNumber(1, "1", standard(0.1)))
    with pytest.raises(StatementError, match="level=1"):
        drawn_agreement(Length(1, "mm", standard(0.1)), Length(2, "mm"), level=1)
