"""Friction factor and wall shear against the `fluids` package and closed forms."""

from __future__ import annotations

import math

import fluids.core
import fluids.friction
import numpy as np
import pytest

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    FrictionFactor,
    Length,
    Pressure,
    RangeError,
    ReynoldsNumber,
    Velocity,
    VolumeFlowRate,
    limits,
    standard,
)
from flowunc.pipe import (
    darcy_friction_factor,
    fanning,
    laws,
    mean_velocity,
    reynolds_number,
    wall_shear_stress,
)

RHO = Density(998.2, "kg/m^3")
SPACING = Length(2.4, "m")


def friction_of(
    flow: VolumeFlowRate, bore: Length, drop: Pressure, density: Density = RHO
) -> FrictionFactor:
    return darcy_friction_factor(drop, density, mean_velocity(flow, bore), bore, SPACING)


@pytest.mark.parametrize("flow", [1e-5, 3e-5, 2e-4, 5e-3])
def test_factor_that_the_fluids_package_made_the_pressure_drop_with(flow: float) -> None:
    # its pressure drop of a pipe flow, from its own choice of friction factor
    drop = fluids.friction.one_phase_dP(
        m=flow * 998.2, rho=998.2, mu=1.0016e-3, D=0.01905, roughness=1.5e-6, L=2.4
    )
    re = fluids.core.Reynolds(
        V=flow / (math.pi / 4 * 0.01905**2), D=0.01905, rho=998.2, mu=1.0016e-3
    )
    expected = fluids.friction.friction_factor(Re=re, eD=1.5e-6 / 0.01905)
    found = friction_of(VolumeFlowRate(flow, "m^3/s"), Length(19.05, "mm"), Pressure(drop, "Pa"))
    assert type(found) is FrictionFactor
    assert found.label == "Darcy friction factor"
    assert found.value == pytest.approx(expected, rel=1e-12)


def test_bore_enters_to_the_fifth_power() -> None:
    # f = pi^2 D^5 dp/(8 rho L Q^2): 1 % in D is 5 % in f
    bore = Length(20.0, "mm", standard(0.2))
    found = friction_of(VolumeFlowRate(2, "L/min"), bore, Pressure(25, "Pa"))
    assert found.u / found.value == pytest.approx(0.05, rel=1e-12)
    assert found.correlation(bore) == pytest.approx(1.0)


def test_velocity_taken_as_independent_is_wrong() -> None:
    # D and v^-2 with u(v)/v = 2 %: sqrt(1 + 16) = 4.123 %
    bore = Length(20.0, "mm", standard(0.2))
    known = mean_velocity(VolumeFlowRate(2, "L/min"), bore)
    independent = Velocity(known.value, "m/s", standard(known.u))
    wrong = darcy_friction_factor(Pressure(25, "Pa"), RHO, independent, bore, SPACING)
    assert wrong.u / wrong.value == pytest.approx(0.04123, rel=1e-4)


@pytest.mark.parametrize(
    ("uncertain", "expected"),
    [("bore", 4), ("drop", 1), ("viscosity", -1), ("spacing", -1), ("flow", -1), ("density", 0)],
)
def test_laminar_check_has_the_sensitivities_of_hagen_poiseuille(
    uncertain: str, expected: int
) -> None:
    # f Re/64 = pi D^4 dp/(128 mu L Q): the density cancels
    def stated(name: str, value: float) -> tuple[object, ...]:
        return (standard(0.01 * value),) if name == uncertain else ()

    bore = Length(20, "mm", *stated("bore", 20))
    drop = Pressure(20, "Pa", *stated("drop", 20))
    viscosity = DynamicViscosity(1, "mPa*s", *stated("viscosity", 1))
    spacing = Length(2.4, "m", *stated("spacing", 2.4))
    flow = VolumeFlowRate(1.5, "L/min", *stated("flow", 1.5))
    density = Density(998, "kg/m^3", *stated("density", 998))
    velocity = mean_velocity(flow, bore)
    friction = darcy_friction_factor(drop, density, velocity, bore, spacing)
    re = reynolds_number(velocity, bore, density, viscosity)
    check = friction / laws.laminar(re)
    # 1 % in the one quantity makes `expected` % in the check
    assert check.u / check.value == pytest.approx(abs(expected) * 0.01, rel=1e-12, abs=1e-16)
    of = {"bore": bore, "drop": drop, "viscosity": viscosity, "spacing": spacing, "flow": flow}
    if uncertain in of:
        assert check.correlation(of[uncertain]) == pytest.approx(math.copysign(1, expected))


def test_closed_form_is_the_same_quantity() -> None:
    flow = VolumeFlowRate([0.8, 2.4], "L/min", limits(0.03))
    bore, drop = Length(19.05, "mm", limits(0.05)), Pressure([3, 20], "Pa", limits(0.2))
    found = friction_of(flow, bore, drop)
    by_hand = math.pi**2 * bore**5 * drop / (8 * RHO * SPACING * flow**2)
    np.testing.assert_allclose((found / by_hand).value, 1.0, rtol=1e-14)
    np.testing.assert_allclose((found / by_hand).u, 0.0, atol=1e-15)
    drawn = found[1].monte_carlo(40_000, seed=2)
    assert drawn.u == pytest.approx(found[1].u, rel=0.02)


def test_a_drop_below_zero_is_a_result() -> None:
    found = friction_of(VolumeFlowRate(1, "L/min"), Length(20, "mm"), Pressure(-0.5, "Pa"))
    assert found.value < 0


def test_fanning_is_a_quarter() -> None:
    # laminar flow: 64/Re is Darcy's, 16/Re Fanning's (any text on pipe flow)
    re = ReynoldsNumber([500, 2000], "1", standard(10))
    found = fanning(laws.laminar(re))
    assert type(found) is FrictionFactor
    assert found.label == "Fanning friction factor"
    np.testing.assert_allclose(found.value, [0.032, 0.008], rtol=1e-14)
    np.testing.assert_allclose((found * re).u, 0, atol=1e-15)


def test_wall_shear_balances_the_pressure_drop() -> None:
    # the drop times the cross-section equals the stress times the wall
    bore, drop = Length(20, "mm", limits(0.1)), Pressure([3, 20], "Pa", limits(0.2))
    found = wall_shear_stress(drop, bore, SPACING)
    assert type(found) is Pressure
    assert found.label == "wall shear stress"
    balance = found * (math.pi * bore * SPACING) - drop * (math.pi / 4 * bore**2)
    np.testing.assert_allclose(balance.value, 0, atol=1e-17)
    np.testing.assert_allclose(balance.u, 0, atol=1e-17)


def test_factor_by_the_wall_shear_stress() -> None:
    # f = 8 tau/(rho v^2), definition of the Darcy friction factor by the wall shear stress
    flow, bore = VolumeFlowRate(2, "L/min", limits(0.05)), Length(20, "mm", limits(0.1))
    drop = Pressure(25, "Pa", limits(0.5))
    velocity = mean_velocity(flow, bore)
    by_shear = 8 * wall_shear_stress(drop, bore, SPACING) / (RHO * velocity**2)
    ratio = friction_of(flow, bore, drop) / by_shear
    assert ratio.value == pytest.approx(1, rel=1e-14)
    assert ratio.u == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize(
    ("argument", "value", "message"),
    [
        (
            "velocity",
            Velocity([0.1, 0.0], "m/s"),
            r"velocity=.*0 m/s at reading 1; expected .*above",
        ),
        ("velocity", Velocity(-0.1, "m/s"), r"velocity=.*-0\.1 m/s"),
        ("density", Density(0, "kg/m^3"), "density="),
        ("bore", Length(-19, "mm"), "bore=.*-19 mm"),
        ("tap_spacing", Length(0, "m"), "tap_spacing="),
    ],
)
def test_values_without_meaning_are_refused(argument: str, value: object, message: str) -> None:
    given = {
        "pressure_drop": Pressure(20, "Pa"),
        "density": RHO,
        "velocity": Velocity(0.1, "m/s"),
        "bore": Length(20, "mm"),
        "tap_spacing": SPACING,
    }
    with pytest.raises(RangeError, match=message):
        darcy_friction_factor(**(given | {argument: value}))
    if argument in ("bore", "tap_spacing"):
        del given["density"], given["velocity"]
        with pytest.raises(RangeError, match=message):
            wall_shear_stress(**(given | {argument: value}))


def test_other_kinds_are_refused() -> None:
    velocity, bore = Velocity(0.1, "m/s"), Length(20, "mm")
    with pytest.raises(DimensionError, match=r"pressure_drop=.*Length in 'mm'.*Pressure"):
        darcy_friction_factor(Length(20, "mm"), RHO, velocity, bore, SPACING)
    with pytest.raises(DimensionError, match=r"velocity=.*Length in 'mm'.*Velocity"):
        darcy_friction_factor(Pressure(20, "Pa"), RHO, bore, velocity, SPACING)
    with pytest.raises(DimensionError, match=r"friction_factor=.*ReynoldsNumber.*FrictionFactor"):
        fanning(ReynoldsNumber(1000, "1"))
    with pytest.raises(DimensionError, match=r"bore=.*Pressure in 'Pa'.*Length"):
        wall_shear_stress(Pressure(20, "Pa"), Pressure(20, "Pa"), SPACING)


def test_swapped_bore_and_tap_spacing_are_refused() -> None:
    bore, spacing, drop = Length(19.05, "mm"), Length(2.4, "m"), Pressure(22.0, "Pa")
    message = r"bore 2400 mm and tap_spacing 19.05 mm; expected a bore smaller .* swapped\?"
    with pytest.raises(RangeError, match=f"darcy_friction_factor: {message}"):
        darcy_friction_factor(drop, RHO, Velocity(0.1, "m/s"), bore=spacing, tap_spacing=bore)
    with pytest.raises(RangeError, match=f"wall_shear_stress: {message}"):
        wall_shear_stress(drop, bore=spacing, tap_spacing=bore)


def test_a_bore_as_long_as_the_section_is_named_by_its_reading() -> None:
    spacings = Length([2.4, 0.02, 0.01], "m")
    with pytest.raises(RangeError, match=r"20 mm and tap_spacing 20 mm at reading 1 \(and 1 more"):
        wall_shear_stress(Pressure(22.0, "Pa"), Length(20, "mm"), spacings)
