"""Fitted roughness: Colebrook-White of another library, scipy.optimize, simulated benches."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.friction import friction_factor
from scipy import optimize, stats

from flowunc.analysis.roughness_fit import fit_roughness
from flowunc.core.errors import DimensionError, PropagationError, RangeError, ShapeError
from flowunc.core.kinds import FrictionFactor, Length, Ratio, ReynoldsNumber
from flowunc.core.statements import limits, shared, standard
from flowunc.pipe import laws

NUMBERS = np.array([2e4, 4e4, 7e4, 1.2e5])
RE = ReynoldsNumber(NUMBERS, "1")
LAW_ERROR = 0.05 / math.sqrt(3)  # +-5 % of Colebrook-White in smooth pipes [Moody 1944]


def colebrook(e: float, numbers: np.ndarray = NUMBERS) -> np.ndarray:
    """Return f by Colebrook's equation as Clamond solves it in the fluids package."""
    return np.array([friction_factor(Re=n, eD=e, Method="Clamond") for n in numbers])


def law_error(e: float, numbers: np.ndarray = NUMBERS) -> np.ndarray:
    """Return u of ln f by the law: from 5 % smooth to twice that fully rough, as it states."""
    acting = e * numbers * np.sqrt(colebrook(e, numbers) / 8)
    scale = np.log(np.maximum(acting, 1e-9))
    return LAW_ERROR * np.interp(scale, np.log([5.0, 70.0]), [1.0, 2.0])


def measured(values: np.ndarray, relative: float) -> FrictionFactor:
    return FrictionFactor(values, "1", standard(relative * values))


@pytest.mark.parametrize("e", [1e-5, 1e-4, 1e-3, 0.01, 0.045])
def test_roughness_behind_exact_friction_factors(e: float) -> None:
    found = fit_roughness(RE, measured(colebrook(e), 1e-5))
    assert found.relative_roughness is not None
    assert found.relative_roughness.value == pytest.approx(e, rel=1e-5)
    assert found.chi_square < 1e-3
    assert found.dof == 3


# Read off the Moody chart, two digits of e/D: f = 0.0222 at Re 1e5 and e/D = 0.001, 0.038 where
# e/D = 0.01 is fully rough [Moody 1944], from memory.
@pytest.mark.parametrize(("re", "f", "e"), [(1e5, 0.0222, 0.001), (1e8, 0.0379, 0.01)])
def test_published_friction_factors(re: float, f: float, e: float) -> None:
    found = fit_roughness(ReynoldsNumber([re], "1"), measured(np.array([f]), 1e-4))
    assert found.relative_roughness is not None
    assert found.relative_roughness.value == pytest.approx(e, rel=0.02)


def independent(values: np.ndarray, own: float, common: float) -> tuple[float, float, float]:
    """Minimise r^T V^-1 r with scipy.optimize; e, its chi-square, and the limit at 95 %.

    V has the error of the law at the e found: minimised again until both are the same.
    """

    def chi_square(e: float, error_at: float) -> float:
        r = np.log(values / colebrook(e))
        V = np.diag(np.full(values.size, own**2)) + common**2
        V += np.outer(law_error(error_at), law_error(error_at))
        return float(r @ np.linalg.solve(V, r))

    e, before = 0.003, 0.0
    while abs(e - before) > 1e-9 * e:
        before = e
        best = optimize.minimize_scalar(
            chi_square, bounds=(1e-7, 0.05), args=(e,), method="bounded", options={"xatol": 1e-12}
        )
        e = float(best.x)
    limit = optimize.brentq(lambda e: chi_square(e, e) - best.fun - 1.6449**2, e, 0.05)
    return e, float(best.fun), float(limit)


SCATTER = np.array([1.012, 0.995, 0.991, 1.004])


def test_minimum_and_limit_against_scipy() -> None:
    values = colebrook(0.003) * SCATTER
    f = measured(values, 0.01) * Ratio(1, "1", standard(0.02))
    found = fit_roughness(RE, FrictionFactor._from_node(f._node))
    e, chi_square, limit = independent(values, 0.01, 0.02)
    assert found.relative_roughness is not None
    assert found.relative_roughness.value == pytest.approx(e, rel=1e-5)
    assert found.chi_square == pytest.approx(chi_square, rel=1e-6)
    assert found.p_value == pytest.approx(stats.chi2.sf(chi_square, 3), rel=1e-6)
    assert found.upper_limit == pytest.approx(limit, rel=1e-4)
    assert 0 < found.relative_roughness.value < found.upper_limit


def test_uncertainty_is_how_the_minimum_moves() -> None:
    # the minimum found again by scipy with each reading, and all together, moved a little
    values = colebrook(0.003)
    f = measured(values, 0.01) * Ratio(1, "1", standard(0.02))
    found = fit_roughness(RE, FrictionFactor._from_node(f._node)).relative_roughness
    assert found is not None
    slopes, step = [], 0.0005
    for i in range(4):
        moved = values * np.exp(step * (np.arange(4) == i))
        back = values * np.exp(-step * (np.arange(4) == i))
        both = independent(moved, 0.01, 0.02)[0], independent(back, 0.01, 0.02)[0]
        slopes.append((both[0] - both[1]) / (2 * step))
    moves = np.array(slopes)
    parts = [*(moves * 0.01), moves.sum() * 0.02, moves @ law_error(0.003)]
    assert found.u == pytest.approx(math.hypot(*parts), rel=2e-3)


def test_errors_that_re_and_f_share() -> None:
    # the flow Q enters f as Q^-2 and Re as Q: independent of each other they give another u
    flow = Ratio(np.ones(4), "1", standard(0.02))
    values = colebrook(0.003)
    re = ReynoldsNumber._from_node((NUMBERS * flow)._node)
    f = FrictionFactor._from_node((measured(values, 0.001) / flow**2)._node)
    found = fit_roughness(re, f)
    step = 1e-4
    slope = np.log(colebrook(0.003, NUMBERS * (1 + step)) / values) / step  # d ln f/d ln Re
    u = np.sqrt(0.001**2 + (0.02 * (2 + slope)) ** 2 + law_error(0.003) ** 2)
    np.testing.assert_allclose(found.residual_u, u, rtol=1e-3)


def test_one_run_carries_the_error_of_the_law() -> None:
    f = colebrook(0.01, np.array([1e5]))
    found = fit_roughness(ReynoldsNumber([1e5], "1"), measured(f, 0.001)).relative_roughness
    assert found is not None
    slope = np.log(colebrook(0.0101, np.array([1e5])) / colebrook(0.0099, np.array([1e5])))[0]
    own = float(law_error(0.01, np.array([1e5]))[0])
    assert found.u == pytest.approx(math.hypot(0.001, own) / (slope / 2e-4), rel=1e-3)


def test_smooth_wall_gets_an_upper_limit() -> None:
    values = colebrook(0.0) * 0.998
    found = fit_roughness(RE, measured(values, 0.01), Length(20, "mm", limits(0.05)))
    assert found.smooth
    assert found.relative_roughness is None
    assert found.roughness is None
    assert not found.smooth_excluded
    assert found.dof == 4, "nothing was fitted"

    def chi_square(e: float) -> float:
        r = np.log(values / colebrook(e))
        V = np.diag(np.full(4, 0.01**2)) + np.outer(law_error(e), law_error(e))
        return float(r @ np.linalg.solve(V, r))

    assert found.chi_square == pytest.approx(chi_square(0.0), rel=1e-4)
    limit = optimize.brentq(lambda e: chi_square(e) - chi_square(0.0) - 1.6449**2, 1e-7, 0.05)
    assert found.upper_limit == pytest.approx(limit, rel=1e-3)
    assert found.roughness_limit is not None
    assert found.roughness_limit.value == pytest.approx(20 * limit, rel=1e-3)
    assert "smooth wall explains the runs best; eps/D below" in found.sentence
    assert "mm at 95 % (one-sided)" in found.sentence
    wider = fit_roughness(RE, measured(values, 0.01), level=0.99)
    assert wider.upper_limit > found.upper_limit


def test_smooth_wall_excluded_or_not() -> None:
    rough = fit_roughness(RE, measured(colebrook(0.005), 0.01))
    nearly = fit_roughness(RE, measured(colebrook(3e-5), 0.01))
    assert rough.smooth_excluded
    assert "smooth wall is excluded" in rough.sentence
    assert not nearly.smooth
    assert not nearly.smooth_excluded
    assert "not excluded; eps/D below" in nearly.sentence


def test_roughness_as_a_length_is_recorded() -> None:
    bore = Length(20, "mm", standard(0.02), label="bore")
    f = measured(colebrook(0.003), 0.01) * (bore / Length(20, "mm")) ** 5
    friction = FrictionFactor._from_node(f._node)
    found = fit_roughness(RE, friction, bore)
    again = fit_roughness(RE, friction, bore)
    assert found.relative_roughness is not None
    assert found.roughness is not None
    assert again.roughness is not None
    assert found.roughness.unit == "mm"
    assert found.roughness.value == pytest.approx(20 * 0.003, rel=1e-4)
    assert (found.roughness - again.roughness).u <= 1e-15 * found.roughness.u
    # the bore acts through f as 5 of its relative errors, and directly as one more
    e = found.relative_roughness
    of_bore = e.covariance(bore) / 0.02**2
    direct = found.roughness.covariance(bore) / 0.02**2
    assert direct == pytest.approx(20 * of_bore + e.value, rel=1e-6)
    assert of_bore > 0


def test_larger_error_of_a_rougher_law_does_not_pass_for_a_better_fit() -> None:
    # runs 6 % above the law, its own error being 5 % or more there: minimised over an error that
    # grows with e, chi-square had its least value at the kink where the first run turns rough
    found = fit_roughness(RE, measured(colebrook(0.003) * SCATTER * math.exp(0.06), 0.01))
    assert found.relative_roughness is not None
    e = found.relative_roughness.value
    assert e == pytest.approx(independent(colebrook(0.003) * SCATTER * math.exp(0.06), 0.01, 0)[0])
    kink = optimize.brentq(lambda e: e * 2e4 * math.sqrt(colebrook(e)[0] / 8) - 5, 1e-4, 0.05)
    assert abs(e / kink - 1) > 1e-3


@pytest.mark.slow
def test_true_roughness_with_the_error_of_the_law_that_it_states() -> None:
    # as below, with the errors of the law drawn as large as it states them at each Re
    rng = np.random.default_rng(7)
    trials, covered, limited, truth = 300, 0, 0, colebrook(0.002)
    for _ in range(trials):
        law = math.sqrt(3) * rng.uniform(-1, 1) * law_error(0.002)
        values = truth * np.exp(0.01 * rng.normal() + law + 0.01 * rng.normal(size=4))
        f = measured(values, 0.01) * Ratio(1, "1", standard(0.01))
        found = fit_roughness(RE, FrictionFactor._from_node(f._node))
        limited += found.upper_limit >= 0.002
        e = found.relative_roughness
        covered += e is not None and abs(e.value - 0.002) <= 1.96 * e.u
    for counted in (covered, limited):
        assert abs(counted / trials - 0.95) < 3 * math.sqrt(0.95 * 0.05 / trials)


@pytest.mark.slow
def test_true_roughness_is_covered_at_the_stated_rate() -> None:
    # 300 benches drawn with NumPy and the fluids package, errors normal, that of the law included
    rng = np.random.default_rng(3)
    trials, covered, surprised = 300, 0, 0
    truth = colebrook(0.004)
    for _ in range(trials):
        common = 0.01 * rng.normal() + LAW_ERROR / 3 * rng.normal()
        values = truth * np.exp(common + 0.01 * rng.normal(size=4))
        f = measured(values, 0.01) * Ratio(1, "1", standard(0.01))
        # the error of the law is made a third by hand, for the fit to be nearly linear
        found = fit_roughness(RE, FrictionFactor._from_node(f._node), law=_LESS)
        assert found.relative_roughness is not None
        covered += abs(found.relative_roughness.value - 0.004) <= 1.96 * found.relative_roughness.u
        surprised += found.p_value < 0.05
    assert abs(covered / trials - 0.95) < 3 * math.sqrt(0.95 * 0.05 / trials)
    assert abs(surprised / trials - 0.05) < 3 * math.sqrt(0.95 * 0.05 / trials)


@pytest.mark.slow
@pytest.mark.parametrize("e", [0.0, 2e-5, 1e-4])
def test_upper_limit_covers_at_least_as_often_as_stated(e: float) -> None:
    rng = np.random.default_rng(5)
    trials, below = 200, 0
    truth = colebrook(e)
    for _ in range(trials):
        common = LAW_ERROR / 3 * rng.normal()
        values = truth * np.exp(common + 0.01 * rng.normal(size=4))
        below += fit_roughness(RE, measured(values, 0.01), law=_LESS).upper_limit >= e
    assert below / trials > 0.95 - 3 * math.sqrt(0.95 * 0.05 / trials)


def _less() -> laws.FrictionLaw:
    from dataclasses import replace

    from flowunc.core.component import Component, Term
    from flowunc.core.distributions import Normal
    from flowunc.core.units import parse_unit

    error = Component("law", Normal(LAW_ERROR / 3), parse_unit("%"))
    return replace(laws.colebrook_white, model_error=lambda re, e: (Term(error),))


_LESS = _less()


def test_rougher_than_the_law_knows() -> None:
    with pytest.raises(RangeError, match=r"beyond 0.05.*Fanning"):
        fit_roughness(RE, measured(4 * colebrook(0.01), 0.01))


def test_no_upper_limit_within_the_law() -> None:
    found = fit_roughness(RE[:1], measured(colebrook(0.03)[:1], 0.7))
    assert math.isinf(found.upper_limit)
    assert "no upper limit" in found.sentence
    assert found.roughness_limit is None


def test_refusals() -> None:
    f = measured(colebrook(0.001), 0.01)
    with pytest.raises(DimensionError, match=r"law=blasius.*takes a roughness"):
        fit_roughness(RE, f, law=laws.blasius)
    with pytest.raises(RangeError, match=r"fully rough.*colebrook_white"):
        fit_roughness(RE, f, law=laws.nikuradse_rough)
    with pytest.raises(DimensionError, match="friction"):
        fit_roughness(RE, RE)  # type: ignore[arg-type]
    with pytest.raises(DimensionError, match="bore"):
        fit_roughness(RE, f, Ratio(1, "1"))  # type: ignore[arg-type]
    with pytest.raises(ShapeError, match="a single value"):
        fit_roughness(RE[0], f[0])  # type: ignore[arg-type]
    with pytest.raises(ShapeError, match="4 Reynolds numbers and 2 friction factors"):
        fit_roughness(RE, f[:2])
    with pytest.raises(ShapeError, match="2 bores"):
        fit_roughness(RE, f, Length([20, 21], "mm"))
    with pytest.raises(RangeError, match="Reynolds number 2000"):
        fit_roughness(ReynoldsNumber([2000.0, 5000.0], "1"), f[:2])
    with pytest.raises(PropagationError, match="independent errors"):
        fit_roughness(RE, FrictionFactor(colebrook(0.001), "1", shared(standard(1e-4))))


def test_text_and_table() -> None:
    found = fit_roughness(RE, measured(colebrook(0.003) * SCATTER**5, 0.005), Length(20, "mm"))
    assert "more than the stated uncertainties allow" in found.sentence
    lines = str(found).splitlines()
    assert lines[0] == "roughness by Colebrook-White from 4 runs, Re 2e+04 to 1.2e+05"
    assert max(map(len, lines)) <= 100
    table = found.table()
    np.testing.assert_allclose(
        table["fitted"] * np.exp(table["relative_residual"]), table["friction factor"]
    )
    assert "<ul>" in found._repr_html_()
