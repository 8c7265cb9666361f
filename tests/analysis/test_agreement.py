"""E_n with shared components, against closed forms; joint chi-square against scipy.stats."""

from __future__ import annotations

import math
import pickle
import sys
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from flowunc.analysis import agreement
from flowunc.analysis.agreement import MOST_TOGETHER
from flowunc.analysis.chi_square import joint_chi_square
from flowunc.core.errors import DimensionError, PropagationError, ShapeError, StatementError
from flowunc.core.kinds import (
    FrictionFactor,
    Length,
    Pressure,
    Ratio,
    ReynoldsNumber,
    Temperature,
    Velocity,
    VolumeFlowRate,
)
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits, shared, standard

# Relative standard uncertainties of an invented bench.
U_D, U_DP, U_MU, U_L, U_Q, U_RHO = 0.002, 0.03, 0.01, 0.0005, 0.02, 0.0001


def bench(off: float = 1.0) -> tuple[FrictionFactor, FrictionFactor]:
    """Return f and 64/Re of one run by plain arithmetic; f is ``off`` times 64/Re."""
    D = Length(0.02, "m", standard(0.02 * U_D))
    L = Length(2.4, "m", standard(2.4 * U_L))
    Q = VolumeFlowRate(2e-5, "m^3/s", standard(2e-5 * U_Q))
    mu = Quantity(1e-3, "Pa*s", standard(1e-3 * U_MU))
    rho = Quantity(998.0, "kg/m^3", standard(998.0 * U_RHO))
    # Hagen-Poiseuille: dp = 128 mu L Q/(pi D^4)
    drop = off * 128 * 1e-3 * 2.4 * 2e-5 / (math.pi * 0.02**4)
    dp = Pressure(drop, "Pa", standard(drop * U_DP))
    v = 4 * Q / (math.pi * D**2)
    re = rho * v * D / mu
    f = 2 * D * dp / (rho * L * v**2)
    return (
        FrictionFactor._from_node(f._node, label="f"),
        FrictionFactor._from_node((64 / re)._node, label="64/Re"),
    )


def test_laminar_check_cancels_what_both_sides_share() -> None:
    # f Re/64 = pi D^4 dp/(128 mu L Q): relative sensitivities 4, 1, -1, -1, -1 and none to the
    # density [C], by Hagen-Poiseuille [White 2003, ch. 6]. At f = 64/Re, u(f - 64/Re) = f u(ratio).
    f, expected = bench()
    found = agreement(f, expected)
    u = f.value * math.sqrt((4 * U_D) ** 2 + U_DP**2 + U_MU**2 + U_L**2 + U_Q**2)
    assert found.expanded == pytest.approx(2 * u, rel=1e-12)
    assert found.deviation.u == pytest.approx(u, rel=1e-12)
    # As if independent: f = pi^2 D^5 dp/(8 rho L Q^2), 64/Re = 16 pi mu D/(rho Q).
    apart = f.value * math.sqrt(
        (25 + 1) * U_D**2 + U_DP**2 + U_MU**2 + U_L**2 + (4 + 1) * U_Q**2 + 2 * U_RHO**2
    )
    assert math.hypot(f.u, expected.u) == pytest.approx(apart, rel=1e-12)
    assert apart / u > 1.2, "the case must tell the two apart"


@pytest.mark.parametrize("off", [0.7, 1.08, 1.5])
def test_normalised_error_away_from_the_law(off: float) -> None:
    # With f = off X, X = 64/Re: d(f - X)/X = off (5 D + dp - rho - L - 2 Q) - (D + mu - rho - Q).
    f, expected = bench(off)
    u = expected.value * math.sqrt(
        ((5 * off - 1) * U_D) ** 2
        + (off * U_DP) ** 2
        + ((1 - off) * U_RHO) ** 2
        + (off * U_L) ** 2
        + ((1 - 2 * off) * U_Q) ** 2
        + U_MU**2
    )
    found = agreement(f, expected, k=2)
    assert found.normalised_error == pytest.approx((off - 1) * expected.value / (2 * u), rel=1e-9)
    assert found.satisfied is (abs(found.normalised_error) <= 1)
    assert found.chi_square == pytest.approx((2 * found.normalised_error) ** 2, rel=1e-12)


def test_independent_results_give_the_root_sum_of_squares() -> None:
    # [ISO/IEC 17043] (from memory): E_n = (x - X)/sqrt(U_x^2 + U_X^2), both U with k = 2.
    meter = Velocity([0.10, 0.25], "m/s", standard([0.002, 0.003]))
    dye = Velocity([10.6, 24.0], "cm/s", standard([0.2, 0.5]))
    found = agreement(meter, dye)
    assert found.unit == "m/s"
    np.testing.assert_allclose(
        found.normalised_error,
        [(0.10 - 0.106) / math.hypot(0.004, 0.004), (0.25 - 0.24) / math.hypot(0.006, 0.010)],
        rtol=1e-9,
    )
    np.testing.assert_allclose(found.normalised_error, found.independent_normalised_error)
    assert found.satisfied.tolist() == [False, True]
    assert found.chi_square == pytest.approx(4 * np.sum(np.square(found.normalised_error)))
    assert found.dof == 2
    assert found.p_value == pytest.approx(stats.chi2.sf(found.chi_square, 2), rel=1e-12)


def test_correlation_enters_the_denominator() -> None:
    # u^2(x - X) = u_x^2 + u_X^2 - 2 r u_x u_X [JCGM 100, 5.2.2], r from a common part c.
    common = Length(0.0, "mm", standard(0.3))
    first = Length(10.0, "mm", standard(0.4)) + common
    second = Length(11.0, "mm", standard(1.2)) + common
    u_x, u_X = math.hypot(0.4, 0.3), math.hypot(1.2, 0.3)
    r = 0.3**2 / (u_x * u_X)
    expected = -1.0 / (2 * math.sqrt(u_x**2 + u_X**2 - 2 * r * u_x * u_X))
    assert agreement(first, second).normalised_error == pytest.approx(expected, rel=1e-12)


def test_shared_calibration_does_not_count_as_many_witnesses() -> None:
    # V = u^2 I + s^2 1 1^T, inverted by the Sherman-Morrison formula:
    # chi^2 = (sum d^2 - s^2 (sum d)^2/(u^2 + n s^2))/u^2.
    d = np.array([0.9, 1.3, 0.8, 1.1])
    u, s, n = 0.3, 0.9, 4
    measured = Length(5 + d, "mm", standard(u), shared(standard(s)))
    found = agreement(measured, Length(5.0, "mm"))
    expected = (d @ d - s**2 * d.sum() ** 2 / (u**2 + n * s**2)) / u**2
    assert found.chi_square == pytest.approx(expected, rel=1e-10)
    assert found.dof == 4
    assert found.p_value == pytest.approx(stats.chi2.sf(expected, 4), rel=1e-9)
    # with the shared part taken as independent the sum would be another
    assert abs(4 * np.sum(np.square(found.normalised_error)) / expected - 1) > 0.2


def test_wholly_shared_errors_count_once() -> None:
    measured = Length([5.4, 6.4, 9.4], "mm", shared(standard(0.3)))
    found = agreement(measured, Length([5, 6, 9], "mm"))
    assert found.dof == 1
    assert found.chi_square == pytest.approx((0.4 / 0.3) ** 2, rel=1e-9)


def test_wholly_shared_errors_cannot_explain_different_deviations() -> None:
    found = agreement(Length([5.4, 6.5], "mm", shared(standard(0.3))), Length([5, 6], "mm"))
    assert found.chi_square == math.inf
    assert found.p_value == 0
    assert "only 1 independent error" in found.sentence
    assert "2 of 2 agree" in found.sentence


def test_a_reading_given_twice_adds_nothing() -> None:
    measured = Length([5.4, 6.5], "mm", standard(0.3), shared(standard(0.2)))
    expected = Length([5, 6], "mm")
    once = agreement(measured, expected)
    twice = agreement(measured[[0, 1, 1]], expected[[0, 1, 1]])
    assert twice.dof == once.dof == 2
    assert twice.chi_square == pytest.approx(once.chi_square, rel=1e-9)


def test_joint_chi_square_has_its_distribution() -> None:
    # Simulated sessions with a shared error: chi-square over 4000 of them must have mean n and
    # variance 2 n; 5 standard errors are granted.
    u, s, n, sessions = 0.3, 0.9, 5, 4000
    rng = np.random.default_rng(20)
    errors = rng.normal(0, u, (sessions, n)) + rng.normal(0, s, (sessions, 1))
    template = Length(np.zeros(n), "m", standard(u), shared(standard(s)))
    correlation = template.correlation(template)
    found = [joint_chi_square(e / template.u, correlation, np.zeros(n)).value for e in errors]
    assert abs(np.mean(found) - n) < 5 * math.sqrt(2 * n / sessions)
    assert stats.kstest(found, stats.chi2(n).cdf).pvalue > 1e-4


def test_identical_results_agree_exactly() -> None:
    f, _ = bench()
    found = agreement(f, f)
    assert (found.normalised_error, found.independent_normalised_error) == (0.0, 0.0)
    assert found.satisfied is True
    assert found.dof == 0
    assert math.isnan(found.p_value)
    assert "identical" in found.sentence


def test_rounding_is_not_taken_for_a_difference() -> None:
    # The same model written in another order differs by rounding in value and in u.
    D = Length(19.05, "mm", limits(0.05))
    L = Length(2.4, "m", limits(1, "mm"))
    found = agreement(D / L * D * 3.3, 3.3 * (D * D) / L)
    assert found.normalised_error == 0.0


def test_difference_without_uncertainty_is_refused() -> None:
    a = Length([1.0, 2.0], "mm")
    with pytest.raises(PropagationError, match=r"-0.5 mm at reading 1 has no uncertainty"):
        agreement(a, Length([1.0, 2.5], "mm"))
    b = Length(1.0, "mm", standard(0.1))
    with pytest.raises(PropagationError, match="common to both"):
        agreement(b, b + Length(0.2, "mm"))


def test_readings_without_difference_are_left_out_of_the_joint_test() -> None:
    a = Length([1.0, 2.3], "mm", standard([0, 0.2]))
    found = agreement(a, Length([1.0, 2.0], "mm"))
    assert found.normalised_error.tolist() == pytest.approx([0.0, 0.75])
    assert found.dof == 1
    assert found.chi_square == pytest.approx(2.25)


def test_the_joint_test_is_made_when_asked_for_and_once(monkeypatch: pytest.MonkeyPatch) -> None:
    # the module by its name: the package has the function of the same name
    module = sys.modules["flowunc.analysis.agreement"]
    calls = []

    def counted(*given: Any) -> Any:
        calls.append(given)
        return joint_chi_square(*given)

    monkeypatch.setattr(module, "joint_chi_square", counted)
    measured = Length([1.0, 2.3, 2.9], "mm", standard(0.2), shared(standard(0.1)))
    found = agreement(measured, Length([1.0, 2.0, 3.0], "mm"))
    assert len(found.table()) == 3
    assert not calls
    assert found.joint is found.joint
    assert (found.dof, len(calls)) == (3, 1)
    assert pickle.loads(pickle.dumps(found)).joint == found.joint


def test_many_readings_are_told_one_by_one_and_not_tested_together() -> None:
    n = MOST_TOGETHER + 1
    found = agreement(
        Length(np.full(n, 1.1), "mm", standard(0.1), shared(standard(0.1))), Length(1.0, "mm")
    )
    assert f"{n} of {n} agree (|E_n| <= 1); not tested together, as these are more" in str(found)
    assert "joint" not in vars(found)
    assert "together chi-square" in agreement(found.measured[1:], found.theory).sentence


def test_k_scales_the_expanded_uncertainty() -> None:
    f, expected = bench(1.1)
    assert agreement(f, expected, k=3).normalised_error == pytest.approx(
        agreement(f, expected).normalised_error * 2 / 3
    )
    with pytest.raises(StatementError, match="coverage factor above 0"):
        agreement(f, expected, k=0)


def test_temperatures_are_compared_by_their_difference() -> None:
    one = Temperature(20.0, "degC", standard(0.3))
    other = Temperature(293.65, "K", standard(0.4))
    found = agreement(one, other)
    assert found.unit == "K"
    assert found.difference == pytest.approx(-0.5)
    assert found.expanded == pytest.approx(1.0)
    assert "20" in str(found)
    with pytest.raises(DimensionError, match="Temperature"):
        agreement(one, Quantity(0.3, "K", standard(0.1)))


@pytest.mark.parametrize(
    ("measured", "theory", "message"),
    [
        (Length(1, "m", standard(0.1)), Pressure(1, "Pa"), "Length in 'm' with Pressure"),
        (FrictionFactor(0.03, "1", standard(0.1)), ReynoldsNumber(900, "1"), "ReynoldsNumber"),
        (FrictionFactor(0.03, "1", standard(0.1)), 0.03, "got float 0.03"),
        (0.03, FrictionFactor(0.03, "1", standard(0.1)), "got float 0.03"),
    ],
)
def test_other_kinds_are_refused(measured: object, theory: object, message: str) -> None:
    with pytest.raises(DimensionError, match=message):
        agreement(measured, theory)  # type: ignore[arg-type]  # that is what is tested


def test_a_ratio_stands_for_any_kind_of_dimension_one() -> None:
    found = agreement(FrictionFactor(0.03, "1", standard(0.001)), Ratio(0.032, "1"))
    assert found.normalised_error == pytest.approx(-1.0)


def test_lengths_must_fit_and_one_value_serves_all() -> None:
    a = Length([1.0, 2.0, 3.0], "mm", standard(0.5))
    with pytest.raises(ShapeError, match="3 and 2"):
        agreement(a, Length([1.0, 2.0], "mm"))
    found = agreement(a, Length(2.0, "mm", standard(0.5)))
    assert found.dof == 3
    assert len(found.table()) == 3
    # the one expected value is common to all three differences: V = 0.25 (I + 1 1^T), and the
    # differences -1, 0, 1 have no part along 1
    assert found.chi_square == pytest.approx(2 / 0.25, rel=1e-9)


@given(
    st.lists(st.floats(-3, 3), min_size=2, max_size=5),
    st.permutations(range(5)),
    st.sampled_from(["mm", "m", "in", "ft"]),
)
def test_order_and_unit_change_nothing(values: list[float], order: list[int], unit: str) -> None:
    chosen = [i for i in order if i < len(values)]
    measured = Length(values, "m", standard(0.4), shared(standard(0.7)))
    theory = Length(0.5, "m", standard(0.2))
    plain = agreement(measured, theory)
    moved = agreement(measured[chosen].to(unit), theory)
    np.testing.assert_allclose(moved.normalised_error, plain.normalised_error[chosen], atol=1e-9)
    assert moved.chi_square == pytest.approx(plain.chi_square, rel=1e-7, abs=1e-9)
    assert moved.dof == plain.dof


def test_text_says_what_is_going_on() -> None:
    f, expected = bench(1.02)
    text = str(agreement(f, expected))
    assert "1 of 1 agree" in text
    assert max(map(len, text.splitlines())) <= 100
    bias = Length([1.5, 1.6, 1.5, 1.6], "mm", standard(0.35))
    sentence = agreement(bias, Length(1.0, "mm")).sentence
    assert sentence.startswith("4 of 4 agree")
    assert "look for an error in common" in sentence
    close = Length([1.001, 1.002, 0.999, 1.0], "mm", standard(0.35))
    assert "closer than the stated" in agreement(close, Length(1.0, "mm")).sentence
    assert "closer" not in agreement(close[3:], Length(1.0, "mm")).sentence


def test_long_labels_and_many_rows_stay_within_the_page() -> None:
    many = Length(np.linspace(1e-7, 1e7, 60), "mm", standard(1234.5), label="word " * 40)
    text = str(agreement(many, Length(5.0, "mm", label="other " * 30)))
    assert max(map(len, text.splitlines())) <= 100
    assert "20 more" in text


def test_table_and_html() -> None:
    found = agreement(
        Length([5.4, 6.5], "mm", standard(0.3), label="<rule>"), Length([0.5, 0.6], "cm")
    )
    table = found.table()
    assert table["theory"].tolist() == pytest.approx([5.0, 6.0])
    assert table["expanded"].tolist() == pytest.approx([0.6, 0.6])
    html = found._repr_html_()
    assert "&lt;rule&gt;" in html
    assert "<rule>" not in html


def test_result_is_frozen_and_survives_pickling() -> None:
    found = agreement(Length([5.4, 6.5], "mm", standard(0.3)), Length(5.0, "mm"))
    with pytest.raises(ValueError, match="read-only"):
        found.normalised_error[0] = 0.0
    again = pickle.loads(pickle.dumps(found))
    assert str(again) == str(found)
    assert (again.deviation - found.deviation).u.max() == 0
