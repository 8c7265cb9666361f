"""Flow from a pressure drop: the inverse of what the `fluids` package computes from a flow."""

from __future__ import annotations

import fluids.friction
import numpy as np
import pytest

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    Length,
    Pressure,
    RangeError,
    VolumeFlowRate,
    limits,
    standard,
)
from flowunc.pipe import (
    darcy_friction_factor,
    flow_from_drop,
    laws,
    mean_velocity,
    reynolds_number,
)
from flowunc.propagation.monte_carlo import monte_carlo_joint

BORE, SPACING = Length(20, "mm"), Length(2.4, "m")
RHO, MU = Density(998.2, "kg/m^3"), DynamicViscosity(1.0016, "mPa*s")


def drop_of(flow: float, roughness: float) -> float:
    drop: float = fluids.friction.one_phase_dP(
        m=flow * 998.2, rho=998.2, mu=1.0016e-3, D=0.02, roughness=roughness, L=2.4
    )
    return drop


@pytest.mark.parametrize("roughness", [0.0, 2e-6, 1e-4, 9.9e-4])
@pytest.mark.parametrize("flow", [1e-7, 2e-5, 3.1e-5, 7e-5, 1e-3, 0.5])
def test_flow_that_the_fluids_package_made_the_pressure_drop_with(
    flow: float, roughness: float
) -> None:
    found = flow_from_drop(
        Pressure(drop_of(flow, roughness), "Pa"),
        BORE,
        SPACING,
        RHO,
        MU,
        Length(roughness, "m") if roughness else None,
    )
    assert type(found) is VolumeFlowRate
    # the package calls flow laminar up to Re 2040: none of these lies between that and 4000
    assert found.value == pytest.approx(flow, rel=1e-10)


def test_runs_of_both_regimes_are_those_of_each_by_itself() -> None:
    drop = Pressure([5, 400, 15, 900], "Pa", limits(0.5))
    bore, eps = Length(20, "mm", limits(0.05)), Length(20, "um", limits(5))
    together = flow_from_drop(drop, bore, SPACING, RHO, MU, eps)
    for run in range(4):
        alone = flow_from_drop(drop[run], bore, SPACING, RHO, MU, eps)
        assert together[run].value == pytest.approx(alone.value, rel=1e-14)
        assert together[run].u == pytest.approx(alone.u, rel=1e-12)
        assert (together[run] - alone).u == pytest.approx(0, abs=1e-14 * alone.u)


def test_laminar_sensitivities_are_those_of_hagen_poiseuille() -> None:
    # Q = pi D^4 dp/(128 mu L): 4 times 1 %, and the law brings no error of its own
    bore = Length(20, "mm", standard(0.2))
    found = flow_from_drop(Pressure(15, "Pa"), bore, SPACING, RHO, MU)
    assert found.u / found.value == pytest.approx(0.04, rel=1e-12)
    rough = flow_from_drop(Pressure(15, "Pa"), BORE, SPACING, RHO, MU, Length(50, "um", limits(9)))
    assert rough.components == ()


@pytest.mark.parametrize("roughness", [None, Length(30, "um", limits(4))])
def test_friction_factor_of_the_flow_found_is_that_of_the_law(roughness: Length | None) -> None:
    # the measured factor at the flow found and the law there are one quantity: errors cancel
    drop, bore = Pressure([350, 5000], "Pa", limits(5)), Length(20, "mm", limits(0.1))
    rho, mu = Density(998.2, "kg/m^3", limits(2)), DynamicViscosity(1.0, "mPa*s", limits(0.02))
    flow = flow_from_drop(drop, bore, SPACING, rho, mu, roughness)
    velocity = mean_velocity(flow, bore)
    friction = darcy_friction_factor(drop, rho, velocity, bore, SPACING)
    re = reynolds_number(velocity, bore, rho, mu)
    law = laws.colebrook_white(re, 0 if roughness is None else roughness / bore)
    np.testing.assert_allclose(friction.value, law.value, rtol=1e-13)
    np.testing.assert_allclose((friction / law).u, 0, atol=1e-15)
    drawn = monte_carlo_joint([friction, law], trials=1000, seed=1)
    np.testing.assert_allclose(drawn[0].samples(), drawn[1].samples(), rtol=1e-12)


def test_derivatives_by_differences_of_the_root_of_the_fluids_package() -> None:
    drop = drop_of(2e-4, 3e-5)
    step = 1e-4
    # dQ/d(dp) is 1/(d(dp)/dQ); the package goes from flow to drop
    slope = (drop_of(2e-4 * (1 + step), 3e-5) - drop_of(2e-4 * (1 - step), 3e-5)) / (4e-4 * step)
    given = Pressure(drop, "Pa", standard(1))
    found = flow_from_drop(given, BORE, SPACING, RHO, MU, Length(30, "um"))
    assert found.covariance(given) == pytest.approx(1 / slope, rel=1e-6)


def test_one_value_for_each_density_though_it_has_no_effect() -> None:
    densities = Density([997, 998, 999], "kg/m^3")
    found = flow_from_drop(Pressure(15, "Pa"), BORE, SPACING, densities, MU)
    assert found.value.shape == (3,)
    assert len(set(found.value)) == 1
    several = Length([0, 20, 40], "um")
    assert flow_from_drop(Pressure(15, "Pa"), BORE, SPACING, RHO, MU, several).value.shape == (3,)
    assert flow_from_drop(Pressure(800, "Pa"), BORE, SPACING, RHO, MU, several).u.shape == (3,)


def test_between_the_regimes_is_refused_with_the_reason() -> None:
    # by the fluids package: 2300 laminar needs 22.2 Pa, 4000 turbulent in a smooth pipe 96 Pa
    edge = 64 / 2300 * 2.4 / 0.02 * 998.2 / 2 * (2300 * 1.0016e-3 / 998.2 / 0.02) ** 2
    assert flow_from_drop(Pressure(0.999 * edge, "Pa"), BORE, SPACING, RHO, MU).value > 0
    for drop in (1.001 * edge, 60.0, 95.0):
        with pytest.raises(
            RangeError,
            match=r"laminar flow would have Re = \d+, turbulent flow \d+ at reading 1; expected "
            r"2300 at most or 4000 and more.*no law gives the flow",
        ):
            flow_from_drop(Pressure([10, drop], "Pa"), BORE, SPACING, RHO, MU)
    turbulent = (
        fluids.friction.Colebrook(4000.0, 0.0, tol=0) * edge * 2300 / 64 * (4000 / 2300) ** 2
    )
    assert flow_from_drop(Pressure(1.001 * turbulent, "Pa"), BORE, SPACING, RHO, MU).value > 0
    with pytest.raises(RangeError, match="turbulent flow 39"):
        flow_from_drop(Pressure(0.999 * turbulent, "Pa"), BORE, SPACING, RHO, MU)


@pytest.mark.parametrize(
    ("argument", "value", "message"),
    [
        ("pressure_drop", Pressure([10, 0], "Pa"), r"pressure_drop=.*0 Pa at reading 1; .*above 0"),
        (
            "pressure_drop",
            Pressure(1e14, "Pa"),
            r"would have Re = .*e\+10; expected 1e\+08 at most",
        ),
        ("bore", Length(-20, "mm"), r"bore=.*-20 mm"),
        ("roughness", Length(-1, "um"), r"roughness=.*-1 um; expected a value 0 or more"),
        ("roughness", Length([0, 2], "mm"), r"roughness=.*0\.1 of the bore at reading 1.*0\.05"),
        ("viscosity", DynamicViscosity(0, "Pa*s"), "viscosity="),
        ("density", Density(0, "kg/m^3"), "density="),
    ],
)
def test_values_without_meaning_are_refused(argument: str, value: object, message: str) -> None:
    given = {
        "pressure_drop": Pressure(15, "Pa"),
        "bore": BORE,
        "tap_spacing": SPACING,
        "density": RHO,
        "viscosity": MU,
    }
    with pytest.raises(RangeError, match=message):
        flow_from_drop(**(given | {argument: value}))


def test_other_kinds_are_refused() -> None:
    with pytest.raises(DimensionError, match=r"pressure_drop=.*Length.*Pressure"):
        flow_from_drop(BORE, BORE, SPACING, RHO, MU)
    with pytest.raises(DimensionError, match=r"roughness=.*float.*Length"):
        flow_from_drop(Pressure(15, "Pa"), BORE, SPACING, RHO, MU, 1e-3)
