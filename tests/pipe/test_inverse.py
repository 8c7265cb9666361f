"""Roughness and viscosity found back from what the `fluids` package made of known ones."""

from __future__ import annotations

import math

import fluids.friction
import numpy as np
import pytest
from mpmath import mp
from scipy.optimize import brentq

from flowunc import (
    Density,
    DimensionError,
    FrictionFactor,
    Length,
    Pressure,
    RangeError,
    ReynoldsNumber,
    ShapeError,
    VolumeFlowRate,
    standard,
)
from flowunc.pipe import laws, roughness_from_friction, viscosity_from_laminar_drop
from flowunc.propagation.monte_carlo import monte_carlo_joint

# Colebrook-White by root finding, checked with the fluids package (computed): Re, eps/D, f
TABLE = [
    (4000, 0.01, 0.0490822694),
    (10000, 0.001, 0.0323818064),
    (100000, 0.0001, 0.0185138661),
    (100000, 0.01, 0.0385035435),
    (1000000, 1e-05, 0.0118695448),
    (10000000, 0.001, 0.0196670524),
]


@pytest.mark.parametrize(("re", "roughness", "friction"), TABLE)
def test_roughness_of_the_table(re: float, roughness: float, friction: float) -> None:
    found = roughness_from_friction(ReynoldsNumber(re, "1"), FrictionFactor(friction, "1"))
    assert found.label == "relative roughness"
    # the table ends at the tenth decimal of f
    step = fluids.friction.Colebrook(re, roughness * 1.001) - friction
    assert found.value == pytest.approx(roughness, rel=1e-3 * 6e-11 / step + 1e-9)


@pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")  # inside that package
def test_roughness_that_the_fluids_package_made_the_friction_factor_with() -> None:
    re, roughness = np.meshgrid(np.geomspace(5e3, 9e7, 7), [3e-4, 2e-3, 0.0499])
    re, roughness = re.ravel(), roughness.ravel()
    friction = [fluids.friction.Colebrook(r, e, tol=0) for r, e in zip(re, roughness, strict=True)]
    found = roughness_from_friction(ReynoldsNumber(re, "1"), FrictionFactor(friction, "1"))
    np.testing.assert_allclose(found.value, roughness, rtol=1e-10)


def test_law_at_the_roughness_found_is_the_measured_factor_uncertainty_included() -> None:
    re = ReynoldsNumber([2e4, 2e5], "1", standard(300))
    f = FrictionFactor([0.041, 0.03], "1", standard(0.0004)) * (re / re.value) ** -0.4
    back = laws.colebrook_white(re, roughness_from_friction(re, f))
    np.testing.assert_allclose(back.value, f.value, rtol=1e-14)
    np.testing.assert_allclose((back - f).u, 0, atol=1e-17)
    # and in every draw
    drawn = monte_carlo_joint([back, f], trials=2000, seed=1)
    np.testing.assert_allclose(drawn[0].samples(), drawn[1].samples(), rtol=1e-12)


def test_derivatives_by_implicit_differentiation_with_forty_digits() -> None:
    re, f = 3e4, 0.06

    def gap(e: object, friction: object, reynolds: object) -> object:
        x = 1 / mp.sqrt(friction)
        return x + 2 * mp.log10(e / mp.mpf("3.7") + mp.mpf("2.51") * x / reynolds)

    def solved(friction: object, reynolds: object) -> object:
        return mp.findroot(lambda e: gap(e, friction, reynolds), (2e-2, 4e-2), solver="anderson")

    with mp.workdps(40):
        at = (mp.mpf("0.06"), mp.mpf(30000))
        value = float(solved(*at))
        by_f, by_re = (float(mp.diff(solved, at, order)) for order in ((1, 0), (0, 1)))
    friction, reynolds = (
        FrictionFactor(f, "1", standard(1e-4)),
        ReynoldsNumber(re, "1", standard(100)),
    )
    found = roughness_from_friction(reynolds, friction)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.covariance(friction) / 1e-8 == pytest.approx(by_f, rel=1e-10)
    assert found.covariance(reynolds) / 1e4 == pytest.approx(by_re, rel=1e-10)
    # fully rough, e Re sqrt(f/8) above 70: the law's own 10 % (from memory) acts as 10 % of f
    assert value * re * math.sqrt(f / 8) > 70
    parts = [by_f * 1e-4, by_re * 100, by_f * f * 0.1 / math.sqrt(3)]
    assert found.u == pytest.approx(math.hypot(*parts), rel=1e-9)


def test_the_error_of_the_law_is_that_of_the_wall_found() -> None:
    # it was that of a rough wall throughout, which the law itself does not state here:
    # e Re sqrt(f/8) below 5 is smooth [Schlichting 1979], 5 % [Moody 1944], both from memory
    re, f, step = 1e4, 0.0315, 1e-6
    found = roughness_from_friction(ReynoldsNumber(re, "1"), FrictionFactor(f, "1"))
    assert found.value * re * math.sqrt(f / 8) < 5
    high, low = (
        brentq(lambda e, to=to: fluids.friction.Colebrook(re, e) - f - to, 1e-6, 1e-2, xtol=1e-15)
        for to in (step, -step)
    )
    by_f = (high - low) / (2 * step)
    assert found.u == pytest.approx(by_f * f * 0.05 / math.sqrt(3), rel=1e-4)


def test_draws_below_zero_are_kept() -> None:
    f = FrictionFactor(0.0315, "1", standard(0.0003))
    drawn = roughness_from_friction(ReynoldsNumber(1e4, "1"), f).monte_carlo(20_000, seed=1)
    assert drawn.not_finite == 0
    assert 0.1 < np.mean(drawn.samples() < 0) < 0.5


@pytest.mark.parametrize("below", [0.0300, 0.0200])
def test_below_a_smooth_wall_is_refused_with_the_run(below: float) -> None:
    # Colebrook-White, smooth, Re 1e4: 0.0308829504 (computed)
    with pytest.raises(
        RangeError,
        match=rf"f = {below:g} at Re = 10000 at reading 1 is not above the 0\.030883 of a smooth "
        r"wall by Colebrook-White \(u\(f\) = 0\.0006\), .* take the wall as smooth",
    ):
        roughness_from_friction(
            ReynoldsNumber(1e4, "1"), FrictionFactor([0.032, below], "1", standard(6e-4))
        )


def test_other_values_without_a_roughness_are_refused() -> None:
    re = ReynoldsNumber(1e4, "1")
    with pytest.raises(RangeError, match="no uncertainty is stated for f"):
        roughness_from_friction(re, FrictionFactor(0.03, "1"))
    with pytest.raises(RangeError, match=r"needs eps/D = 0\.\d+; expected at most 0\.05"):
        roughness_from_friction(re, FrictionFactor(0.12, "1"))
    with pytest.raises(RangeError, match=r"friction=.*-0\.03; expected a value above 0"):
        roughness_from_friction(re, FrictionFactor(-0.03, "1"))
    with pytest.raises(RangeError, match=r"reynolds=.*3000 at reading 1; expected 4000 to 1e\+08"):
        roughness_from_friction(ReynoldsNumber([1e4, 3e3], "1"), FrictionFactor(0.05, "1"))
    with pytest.raises(DimensionError, match=r"friction=.*ReynoldsNumber.*FrictionFactor"):
        roughness_from_friction(re, re)
    with pytest.raises(DimensionError, match=r"reynolds=.*FrictionFactor.*ReynoldsNumber"):
        roughness_from_friction(FrictionFactor(0.05, "1"), re)  # the order of the name's words


@pytest.mark.parametrize("viscosity", [0.9e-3, 1.0016e-3, 40e-3])
def test_viscosity_that_the_fluids_package_made_the_pressure_drop_with(viscosity: float) -> None:
    flow = 2e-5
    drop = fluids.friction.one_phase_dP(m=flow * 998.2, rho=998.2, mu=viscosity, D=0.02, L=2.4)
    found = viscosity_from_laminar_drop(
        Pressure(drop, "Pa"),
        VolumeFlowRate(flow, "m^3/s"),
        Length(20, "mm"),
        Length(2.4, "m"),
        density=Density(998.2, "kg/m^3"),
    )
    assert found.unit == "Pa*s"
    assert found.value == pytest.approx(viscosity, rel=1e-12)


@pytest.mark.parametrize(
    ("uncertain", "power"), [("bore", 4), ("drop", 1), ("spacing", -1), ("flow", -1)]
)
def test_viscosity_has_the_sensitivities_of_hagen_poiseuille(uncertain: str, power: int) -> None:
    def stated(name: str, value: float) -> tuple[object, ...]:
        return (standard(0.01 * value),) if name == uncertain else ()

    given = {
        "drop": Pressure(15, "Pa", *stated("drop", 15)),
        "flow": VolumeFlowRate(1.5, "L/min", *stated("flow", 1.5)),
        "bore": Length(20, "mm", *stated("bore", 20)),
        "spacing": Length(2.4, "m", *stated("spacing", 2.4)),
    }
    found = viscosity_from_laminar_drop(*given.values())
    assert found.u / found.value == pytest.approx(abs(power) * 0.01, rel=1e-12)
    assert found.correlation(given[uncertain]) == pytest.approx(math.copysign(1, power))


def test_viscosity_refusals() -> None:
    drop, flow = Pressure([15, 20], "Pa"), VolumeFlowRate([1.5, 5.0], "L/min")
    bore, spacing, water = Length(20, "mm"), Length(2.4, "m"), Density(998.2, "kg/m^3")
    # by hand: mu = pi 0.02^4 20/(128 * 2.4 * 8.333e-5) = 0.3927e-3 Pa s, Re = 4 rho Q/(pi mu D)
    with pytest.raises(
        RangeError, match=r"found Re is 13\d{3} at reading 1; expected 2300 at most"
    ):
        viscosity_from_laminar_drop(drop, flow, bore, spacing, density=water)
    assert viscosity_from_laminar_drop(drop, flow, bore, spacing).value.shape == (2,)
    with pytest.raises(RangeError, match=r"pressure_drop=.*-1 Pa; expected a value above 0"):
        viscosity_from_laminar_drop(Pressure(-1, "Pa"), flow, bore, spacing)
    with pytest.raises(ShapeError):
        viscosity_from_laminar_drop(
            drop, flow, bore, spacing, density=Density([998, 998, 998], "kg/m^3")
        )
    with pytest.raises(DimensionError, match=r"flow=.*Length.*VolumeFlowRate"):
        viscosity_from_laminar_drop(drop, bore, bore, spacing)
