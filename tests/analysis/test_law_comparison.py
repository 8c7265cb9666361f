"""Comparison of laws: likelihoods by scipy.stats, separations by matrix inversion."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.friction import Blasius, friction_factor
from scipy import stats

from flowunc.analysis.agreement import agreement
from flowunc.analysis.law_comparison import compare_laws
from flowunc.analysis.roughness_fit import fit_roughness
from flowunc.core.errors import DimensionError, PropagationError, RangeError, ShapeError
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber
from flowunc.core.statements import shared, standard
from flowunc.pipe import laws

NUMBERS = np.array([1e4, 2e4, 4e4, 8e4])
RE = ReynoldsNumber(NUMBERS, "1")
SMOOTH = (laws.blasius, laws.prandtl_smooth)


def blasius() -> np.ndarray:
    return np.array([Blasius(n) for n in NUMBERS])


def prandtl() -> np.ndarray:
    """Return f by 1/sqrt f = 2 log10(Re sqrt f) - 0.8 [Prandtl 1933], by iteration."""
    f = np.full(4, 0.02)
    for _ in range(100):
        f = (2 * np.log10(NUMBERS * np.sqrt(f)) - 0.8) ** -2.0
    return f


def rough(e: float) -> np.ndarray:
    return np.array([friction_factor(Re=n, eD=e, Method="Clamond") for n in NUMBERS])


def measured(values: np.ndarray, relative: float) -> FrictionFactor:
    return FrictionFactor(values, "1", standard(relative * values))


VALUES = np.array([0.0312, 0.0269, 0.0223, 0.0189])
OWN = 0.006 * VALUES
# covariances by hand: own errors, and that of each law in common, rectangular +-3.5 % and +-3 %
LAWS = {"blasius": (blasius(), 0.035), "prandtl_smooth": (prandtl(), 0.03)}


def covariance(name: str) -> np.ndarray:
    f, half_width = LAWS[name]
    return np.diag(OWN**2) + np.outer(f, f) * half_width**2 / 3


def test_likelihood_is_that_of_a_multivariate_normal() -> None:
    found = compare_laws(RE, measured(VALUES, 0.006), SMOOTH)
    for each in found.laws:
        f = LAWS[each.law.name][0]
        logarithm = stats.multivariate_normal.logpdf(VALUES, f, covariance(each.law.name))
        assert each.likelihood == pytest.approx(
            -2 * logarithm - 4 * math.log(2 * math.pi), rel=1e-6
        )
        d = VALUES - f
        chi_square = d @ np.linalg.inv(covariance(each.law.name)) @ d
        assert each.goodness is not None
        assert each.goodness.value == pytest.approx(chi_square, rel=1e-5)
        assert each.goodness.dof == 4
        assert each.goodness.p_value == pytest.approx(stats.chi2.sf(chi_square, 4), rel=1e-4)
        u = np.sqrt(np.diag(covariance(each.law.name)))
        assert each.largest_normalised_error == pytest.approx(np.max(np.abs(d / u)) / 2, rel=1e-5)


def test_difference_and_separation() -> None:
    found = compare_laws(RE, measured(VALUES, 0.006), SMOOTH)
    best, other = found.laws
    assert found.best is best
    assert best.verdict == "best"
    assert (best.difference, best.separation) == (0, 0)
    assert other.difference == pytest.approx(other.likelihood - best.likelihood, rel=1e-9)
    assert other.difference > 0
    V = (covariance("blasius") + covariance("prandtl_smooth")) / 2
    delta = blasius() - prandtl()
    assert other.separation == pytest.approx(delta @ np.linalg.inv(V) @ delta, rel=1e-4)


@pytest.mark.parametrize("which", ["blasius", "prandtl_smooth"])
def test_the_law_that_runs_come_from_wins_where_they_can_tell(which: str) -> None:
    # 0.1 % runs on one law: no confusion; 5 % runs: nothing can be said
    sharp = compare_laws(RE, measured(LAWS[which][0], 0.001), SMOOTH)
    assert sharp.best is not None
    assert sharp.best.law.name == which
    assert sharp.laws[1].told_apart
    assert sharp.laws[1].verdict == "worse"
    assert "; worse: " in sharp.sentence
    dull = compare_laws(RE, measured(LAWS[which][0], 0.05), SMOOTH)
    assert not dull.laws[1].told_apart
    assert dull.laws[1].verdict == "not told apart"
    assert "these data cannot tell it from" in dull.sentence


def test_rate_of_choosing_the_right_law() -> None:
    # -2 ln likelihood of two simple hypotheses with the same errors differs by a normal variable
    # of mean D^2 and variance 4 D^2 under the true one: it is chosen with probability
    # Phi(D/2) [C]. The errors of the laws are left out here to make it so.
    from dataclasses import replace

    exact = [replace(law, model_error=lambda re, e: ()) for law in SMOOTH]
    own = 0.02 * blasius()
    separation = float(np.sum(((blasius() - prandtl()) / own) ** 2))
    rng = np.random.default_rng(9)
    trials, right = 300, 0
    for _ in range(trials):
        f = FrictionFactor(blasius() + own * rng.normal(size=4), "1", standard(own))
        found = compare_laws(RE, f, exact)
        assert found.best is not None
        right += found.best.law.name == "blasius"
        assert found.laws[1].separation == pytest.approx(separation, rel=1e-5)
    p = stats.norm.cdf(math.sqrt(separation) / 2)
    assert 0.6 < p < 0.95, "the case must be able to fail"
    assert abs(right / trials - p) < 3 * math.sqrt(p * (1 - p) / trials)


def test_fitted_roughness_is_paid_for() -> None:
    f = measured(rough(0.004) * np.array([1.004, 0.998, 0.995, 1.003]), 0.005)
    found = compare_laws(RE, f, [laws.colebrook_white])
    (only,) = found.laws
    fit = fit_roughness(RE, f)
    assert fit.relative_roughness is not None
    assert only.fitted == 1
    assert only.relative_roughness == fit.relative_roughness.value
    assert only.goodness is not None
    assert only.goodness.dof == 3
    assert only.score == only.likelihood + 2
    given = compare_laws(RE, f, [laws.colebrook_white], only.relative_roughness).laws[0]
    assert given.fitted == 0
    assert given.goodness is not None
    assert given.goodness.dof == 4
    assert given.likelihood == pytest.approx(only.likelihood, rel=1e-12)
    assert given.score == pytest.approx(only.score - 2, rel=1e-12)


@pytest.mark.parametrize("values", [0.99 * rough(0), rough(0.004) * [1.004, 0.998, 0.995, 1.003]])
def test_one_fit_has_one_answer(values: np.ndarray) -> None:
    # a smooth wall had chi-square 0.415 on 2 dof here, and 0.183 on 3 in the fit
    f = measured(values, 0.005)
    for law in (laws.colebrook_white, laws.haaland):
        (only,), fit = compare_laws(RE, f, [law]).laws, fit_roughness(RE, f, law=law)
        assert only.goodness == fit.goodness
        assert only.fitted == len(RE) - fit.dof
        e = 0 if fit.relative_roughness is None else fit.relative_roughness.value
        assert only.relative_roughness == e
        # and the same errors of the law: relative u of f - law at the law, u of ln(f/law)
        assert only.found is not None
        u = only.found.deviation.u / only.found.theory.value
        np.testing.assert_allclose(u, fit.residual_u, rtol=0.02)


def test_uncertain_roughness_widens_the_law() -> None:
    f = measured(rough(0.004), 0.005)
    e = Ratio(0.004, "1", standard(0.002))
    sure, unsure = (compare_laws(RE, f, [laws.haaland], given).laws[0] for given in (0.004, e))
    assert unsure.likelihood > sure.likelihood
    assert unsure.found is not None
    expected = agreement(f, laws.haaland(RE, e))
    assert unsure.goodness is not None
    assert unsure.goodness.value == pytest.approx(expected.chi_square, rel=1e-12)


def test_approximations_of_one_law_are_not_told_apart() -> None:
    found = compare_laws(RE, measured(rough(0.004), 0.005))
    verdicts = {each.law.name: each.verdict for each in found.laws}
    assert verdicts.pop("laminar") == "not compared"
    assert verdicts.pop("nikuradse_rough") == "not compared"
    rough_laws = ("churchill_1977", "colebrook_white", "haaland", "swamee_jain")
    of_rough = sorted(verdicts.pop(name) for name in rough_laws)
    assert of_rough == ["best", *3 * ["not told apart"]]
    assert {"blasius", "prandtl_smooth"} <= set(verdicts)
    assert set(verdicts.values()) == {"worse"}, "all others are for a smooth wall"


def test_runs_outside_a_law_are_not_extrapolated() -> None:
    re = ReynoldsNumber([1e4, 5e4, 2e5], "1")
    f = FrictionFactor([0.031, 0.0209, 0.0156], "1", standard(1e-4))
    found = compare_laws(re, f, SMOOTH)
    assert [each.law.name for each in found.laws] == ["prandtl_smooth", "blasius"]
    out = found.laws[1]
    assert out.inside == 2
    assert out.verdict == "not compared"
    assert "Re 4000 to 100000" in out.reason
    assert out.goodness is None
    assert math.isnan(out.largest_normalised_error)
    assert "not compared: Blasius" in found.sentence
    nothing = compare_laws(re, f, [laws.laminar])
    assert nothing.best is None
    assert "no law covers all of these runs" in nothing.sentence


def test_law_of_a_fully_rough_wall_needs_its_roughness() -> None:
    # e Re sqrt(f/8) is 70 or more from Re 22 000 at e = 0.045, f = 0.0682 [C]
    f = measured(rough(0.045), 0.01)
    unknown = compare_laws(RE[2:], f[2:], [laws.nikuradse_rough]).laws[0]
    assert "has to be given" in unknown.reason
    known = compare_laws(RE[2:], f[2:], [laws.nikuradse_rough], 0.045).laws[0]
    assert known.compared
    assert known.fitted == 0
    too_slow = compare_laws(RE, f, [laws.nikuradse_rough], 0.045).laws[0]
    assert too_slow.inside < 4
    assert "fully rough" in too_slow.reason


def test_smooth_wall_and_too_rough() -> None:
    smooth = compare_laws(RE, measured(0.99 * rough(0), 0.001), [laws.colebrook_white]).laws[0]
    assert smooth.relative_roughness == 0
    assert smooth.fitted == 0, "nothing was left to fit"
    out = compare_laws(RE, measured(5 * rough(0.01), 0.01), [laws.colebrook_white]).laws[0]
    assert "no roughness in its range" in out.reason


def test_no_law_explains_the_runs() -> None:
    found = compare_laws(RE, measured(np.array([0.03, 0.05, 0.02, 0.04]), 0.01), SMOOTH)
    assert "no law explains them within the stated uncertainties" in found.sentence


def test_refusals() -> None:
    f = measured(VALUES, 0.01)
    with pytest.raises(DimensionError, match="expected laws such as"):
        compare_laws(RE, f, ["blasius"])  # type: ignore[list-item]
    with pytest.raises(DimensionError, match="friction"):
        compare_laws(RE, RE)  # type: ignore[arg-type]
    with pytest.raises(RangeError, match="no law"):
        compare_laws(RE, f, [])
    with pytest.raises(ShapeError, match="a single value"):
        compare_laws(RE[0], f[0])  # type: ignore[arg-type]
    with pytest.raises(ShapeError, match="4 Reynolds numbers and 3"):
        compare_laws(RE, f[:3])
    common = FrictionFactor(VALUES, "1", shared(standard(1e-4)))
    with pytest.raises(PropagationError, match="independent error"):
        compare_laws(RE, common, SMOOTH)


def test_text_and_table() -> None:
    found = compare_laws(RE, measured(rough(0.004), 0.005))
    lines = str(found).splitlines()
    assert max(map(len, lines)) <= 100
    assert any(line.startswith("* fitted to these runs") for line in lines)
    table = found.table()
    assert len(table) == len(laws.table())
    assert table["difference"].dropna().is_monotonic_increasing
    assert table["fitted"].sum() == 4
    assert "<table" in found._repr_html_()
