"""C of f = C/Re: closed forms, generalised least squares in NumPy, simulated benches."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc.analysis.laminar_constant import fit_laminar_constant
from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    PropagationError,
    RangeError,
    ShapeError,
)
from flowunc.core.kinds import FrictionFactor, Length, Ratio, ReynoldsNumber
from flowunc.core.statements import shared, standard
from flowunc.pipe import laws

RE = np.array([600.0, 900.0, 1300.0, 1700.0, 2100.0])
# Relative standard uncertainties of an invented bench: in common (bore, spacing, flow meter,
# viscosity) and of each run (pressure drop, flow).
U_D, U_L, U_Q, U_MU = 0.002, 0.001, 0.015, 0.01
U_DP = np.array([0.06, 0.04, 0.03, 0.025, 0.02])
U_READ = np.array([0.02, 0.015, 0.01, 0.01, 0.008])


def bench(product: np.ndarray) -> tuple[ReynoldsNumber, FrictionFactor]:
    """Return Re and f of runs with given f Re, each input a factor 1 with its relative error."""
    one = np.ones(RE.size)
    D, L, Q, mu = (Ratio(1, "1", standard(u)) for u in (U_D, U_L, U_Q, U_MU))
    dp, read = Ratio(one, "1", standard(U_DP)), Ratio(one, "1", standard(U_READ))
    # Re = 4 rho Q/(pi mu D), f = pi^2 D^5 dp/(8 rho L Q^2) [White 2003, ch. 6]
    re = RE * (Q * read) / (mu * D)
    f = (product / RE) * D**5 * dp / (L * (Q * read) ** 2)
    return ReynoldsNumber._from_node(re._node), FrictionFactor._from_node(f._node)


def relative_covariance() -> np.ndarray:
    """Return that of f Re, in proportion to D^4 dp/(L Q mu): Hagen-Poiseuille, by hand."""
    common = (4 * U_D) ** 2 + U_L**2 + U_Q**2 + U_MU**2
    return np.diag(U_DP**2 + U_READ**2) + common


def test_generalised_least_squares_of_a_bench() -> None:
    y = np.array([70.1, 62.9, 66.0, 63.2, 65.5])
    found = fit_laminar_constant(*bench(y))
    V = np.linalg.inv(relative_covariance())
    one = np.ones(5)
    weights = V @ one / (one @ V @ one)
    C = float(weights @ y)
    assert found.constant.value == pytest.approx(C, rel=1e-12)
    np.testing.assert_allclose(found.weights, weights, rtol=1e-9)
    r = y / C - 1
    assert found.chi_square == pytest.approx(r @ V @ r, rel=1e-9)
    assert found.dof == 4
    assert found.p_value == pytest.approx(stats.chi2.sf(found.chi_square, 4), rel=1e-9)
    # u of sum w_i y_i, each y_i with its own relative errors
    u = math.sqrt((weights * y) @ relative_covariance() @ (weights * y))
    assert found.constant.u == pytest.approx(u, rel=1e-12)
    assert found.normalised_error == pytest.approx((C - 64) / (2 * u), rel=1e-9)
    common = (4 * U_D) ** 2 + U_L**2 + U_Q**2 + U_MU**2
    assert found.shared_share == pytest.approx(common * C**2 / u**2, rel=1e-9)


def test_shared_relative_error_drops_out_of_the_weights() -> None:
    # equal relative errors in common change no weight: w_i in proportion to 1/u_i^2 [C]
    y = np.array([60.0, 66.0, 69.0])
    own = np.array([0.02, 0.01, 0.04])
    for s in (0.0, 0.2):
        re = ReynoldsNumber([500, 1000, 2000], "1", standard(0))
        factor = Ratio(1, "1", standard(s)) * Ratio(np.ones(3), "1", standard(own))
        f = FrictionFactor._from_node((y / re * factor)._node)
        found = fit_laminar_constant(re, f)
        assert found.constant.value == pytest.approx(np.average(y, weights=own**-2), rel=1e-12)


def test_no_pull_below_the_runs() -> None:
    # Peelle's puzzle [Agostini 1994]: 1.5 and 1.0, each to 10 % and both to 20 % in common. With
    # the common error in proportion to each of the two, least squares gives 0.88, below both.
    y = np.array([1.5, 1.0])
    V = np.diag((0.1 * y) ** 2) + 0.04 * np.outer(y, y)
    naive = float(np.sum(np.linalg.solve(V, y)) / np.sum(np.linalg.inv(V)))
    assert naive == pytest.approx(0.88, abs=0.005)
    re = ReynoldsNumber([1.0, 1.0], "1")
    f = Ratio(y, "1", standard(0.1 * y)) * Ratio(1, "1", standard(0.2))
    found = fit_laminar_constant(re, FrictionFactor._from_node(f._node))
    assert found.constant.value == pytest.approx(1.25, rel=1e-12)


def test_true_constant_is_covered_at_the_stated_rate() -> None:
    # 250 benches drawn with NumPy, the truth being 64; three standard deviations of a binomial.
    rng = np.random.default_rng(64)
    trials = 250
    covered = surprised = 0
    for _ in range(trials):
        common = 4 * U_D * rng.normal() + math.hypot(U_L, U_Q, U_MU) * rng.normal()
        own = U_DP * rng.normal(size=5) - U_READ * rng.normal(size=5)
        found = fit_laminar_constant(*bench(64 * (1 + common + own)))
        covered += abs(found.constant.value - 64) <= 1.96 * found.constant.u
        surprised += found.p_value < 0.05
    assert abs(covered / trials - 0.95) < 3 * math.sqrt(0.95 * 0.05 / trials)
    assert abs(surprised / trials - 0.05) < 3 * math.sqrt(0.95 * 0.05 / trials)


def test_wrong_bore_is_seen_as_a_wrong_constant_only_beyond_its_uncertainty() -> None:
    fair = fit_laminar_constant(*bench(64 * 1.004 * np.ones(5)))
    wrong = fit_laminar_constant(*bench(64 * 1.20 * np.ones(5)))
    assert fair.agrees
    assert "agree with f = 64/Re" in fair.sentence
    assert not wrong.agrees
    assert "contradict f = 64/Re" in wrong.sentence
    assert wrong.goodness.verdict == "too small", "all runs lie on one C"


def test_constant_is_recorded() -> None:
    bore = Length(20, "mm", standard(0.1), label="bore")
    scale = (bore / Length(20, "mm")) ** 4
    re = ReynoldsNumber([500, 1000], "1")
    f = FrictionFactor._from_node(
        (Ratio([0.128, 0.064], "1", standard([0.001, 0.001])) * scale)._node
    )
    first, second = fit_laminar_constant(re, f), fit_laminar_constant(re, f)
    assert (first.constant - second.constant).u == 0
    # 4 u(D)/D of the constant comes from the bore
    share = 4 * 0.005 * first.constant.value / first.constant.u
    assert first.constant.correlation(bore) == pytest.approx(share, rel=1e-9)


def test_run_entered_twice_counts_once() -> None:
    re, f = bench(np.array([66.0, 63.0, 62.0, 65.0, 64.5]))
    rows = np.array([0, 1, 1, 2, 3, 4])
    once, twice = fit_laminar_constant(re, f), fit_laminar_constant(re[rows], f[rows])
    assert twice.constant.value == pytest.approx(once.constant.value, rel=1e-9)
    assert twice.constant.u == pytest.approx(once.constant.u, rel=1e-9)
    assert twice.chi_square == pytest.approx(once.chi_square, rel=1e-6)
    assert twice.dof == once.dof == 4


def test_one_run_has_no_chi_square() -> None:
    re, f = bench(64.0 * np.ones(5))
    found = fit_laminar_constant(re[:1], f[:1])
    assert found.constant.value == pytest.approx(64, rel=1e-12)
    assert found.dof == 0
    assert math.isnan(found.p_value)
    assert "one run alone" in found.sentence


def test_errors_all_in_common() -> None:
    re = ReynoldsNumber([500.0, 1000.0, 2000.0], "1")
    relative = Ratio(1, "1", standard(0.01))
    exact = FrictionFactor._from_node((65 / re * relative)._node)
    found = fit_laminar_constant(re, exact)
    assert found.constant.value == pytest.approx(65, rel=1e-12)
    assert found.constant.u == pytest.approx(0.65, rel=1e-9)
    assert found.dof == 0
    scattered = FrictionFactor._from_node((np.array([65, 64, 63.0]) / re * relative)._node)
    assert "only 1 independent error" in fit_laminar_constant(re, scattered).sentence
    # an error in common that is larger in one run: the others would fix C without uncertainty
    zero = FrictionFactor([0.13, 0.064, 0.032], "1", shared(standard(0.001)))
    with pytest.raises(PropagationError, match=r"stand only 1 independent error, .* resolution"):
        fit_laminar_constant(re, zero)


def test_refusals() -> None:
    re, f = bench(64.0 * np.ones(5))
    with pytest.raises(PropagationError, match="reading 0 has no uncertainty"):
        fit_laminar_constant(ReynoldsNumber([500.0], "1"), FrictionFactor([0.1], "1"))
    with pytest.raises(PropagationError, match="f was computed from Re"):
        fit_laminar_constant(re, laws.laminar(re))
    with pytest.raises(DimensionError, match="friction"):
        fit_laminar_constant(re, re)  # type: ignore[arg-type]
    with pytest.raises(ShapeError, match="a single value"):
        fit_laminar_constant(re[0], f[0])  # type: ignore[arg-type]
    with pytest.raises(ShapeError, match="5 Reynolds numbers and 2 friction factors"):
        fit_laminar_constant(re, f[:2])
    with pytest.raises(RangeError, match="above 0"):
        fit_laminar_constant(re, FrictionFactor([0.1, -0.1, 0.1, 0.1, 0.1], "1", standard(0.01)))


def test_run_beyond_laminar_flow_is_warned_of() -> None:
    re = ReynoldsNumber([1000.0, 2500.0], "1")
    f = FrictionFactor([0.064, 0.0256], "1", standard(1e-3))
    with pytest.warns(FlowuncWarning, match="2500 at reading 1; 64/Re holds up to 2300"):
        fit_laminar_constant(re, f)


def test_text_and_table() -> None:
    found = fit_laminar_constant(*bench(np.array([90.0, 62.9, 50.0, 63.2, 65.5])))
    assert "varies more than the stated uncertainties allow" in found.sentence
    lines = str(found).splitlines()
    assert max(map(len, lines)) <= 100
    assert lines[0] == "laminar constant C = f Re from 5 runs, Re 600 to 2100"
    table = found.table()
    assert table["weight"].sum() == pytest.approx(1)
    np.testing.assert_allclose(table["f Re"], [90.0, 62.9, 50.0, 63.2, 65.5])
    assert "<ul>" in found._repr_html_()
