"""Mean velocity and Reynolds number against the `fluids` package and closed forms."""

from __future__ import annotations

import math

import fluids.core
import numpy as np
import pytest

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    KinematicViscosity,
    Length,
    RangeError,
    ReynoldsNumber,
    Velocity,
    VolumeFlowRate,
    limits,
    standard,
)
from flowunc.pipe import mean_velocity, reynolds_number

RHO = Density(998.2, "kg/m^3")
MU = DynamicViscosity(1.0016, "mPa*s")


def test_velocity_of_one_litre_a_second_through_one_square_decimetre() -> None:
    # area 1 dm2: bore sqrt(4/pi) dm; 1 dm3/s over it is 1 dm/s
    found = mean_velocity(VolumeFlowRate([60, -30], "L/min"), Length(math.sqrt(4 / math.pi), "dm"))
    assert type(found) is Velocity
    np.testing.assert_allclose(found.value, [0.1, -0.05], rtol=1e-14)
    assert found.label == "mean velocity"


@pytest.mark.parametrize("velocity", [0.0, 0.04, 3.0])
def test_reynolds_number_of_the_fluids_package(velocity: float) -> None:
    found = reynolds_number(Velocity(velocity, "m/s"), Length(19.05, "mm"), RHO, MU)
    assert type(found) is ReynoldsNumber
    assert found.label == "Reynolds number"
    expected = fluids.core.Reynolds(V=velocity, D=0.01905, rho=998.2, mu=1.0016e-3)
    assert found.value == pytest.approx(expected, rel=1e-14)


def test_bore_counts_once() -> None:
    # Re = 4 rho Q/(pi mu D): 1 % in D is -1 % in Re; 2 % in the velocity
    bore = Length(20.0, "mm", standard(0.2), label="bore")
    velocity = mean_velocity(VolumeFlowRate(1.5, "L/min"), bore)
    assert velocity.u / velocity.value == pytest.approx(0.02, rel=1e-12)
    re = reynolds_number(velocity, bore, RHO, MU)
    assert re.u / re.value == pytest.approx(0.01, rel=1e-12)
    assert re.correlation(bore) == pytest.approx(-1.0)
    # with the velocity independent of the bore: sqrt(2^2 + 1), wrong by a factor
    independent = Velocity(velocity.value, "m/s", standard(velocity.u))
    wrong = reynolds_number(independent, bore, RHO, MU)
    assert wrong.u / wrong.value == pytest.approx(0.02236, rel=1e-3)


def test_closed_form_is_the_same_quantity() -> None:
    flow = VolumeFlowRate([0.8, 2.4], "L/min", limits(0.05))
    bore = Length(19.05, "mm", limits(0.05))
    rho = Density(998.2, "kg/m^3", standard(0.3))
    mu = DynamicViscosity(1.0016, "mPa*s", standard(0.005))
    found = reynolds_number(mean_velocity(flow, bore), bore, rho, mu)
    by_hand = 4 * rho * flow / (math.pi * mu * bore)
    np.testing.assert_allclose((found / by_hand).value, 1.0, rtol=1e-14)
    np.testing.assert_allclose((found / by_hand).u, 0.0, atol=1e-16)
    drawn = found.monte_carlo(40_000, seed=2)
    np.testing.assert_allclose(drawn.u, found.u, rtol=0.02)


@pytest.mark.parametrize(
    ("argument", "value", "message"),
    [
        ("velocity", Velocity([0.1, -0.2], "m/s"), r"velocity=.*-0\.2 m/s at reading 1.*0 or more"),
        ("bore", Length(0, "mm"), r"bore=.*0 mm; expected a value above 0"),
        ("density", Density(-1, "g/cm^3"), r"density=.*-1 g/cm\^3; expected a value above 0"),
        ("viscosity", DynamicViscosity(0, "Pa*s"), r"viscosity=.*expected a value above 0"),
    ],
)
def test_values_without_meaning_are_refused(argument: str, value: object, message: str) -> None:
    given = {
        "velocity": Velocity(0.1, "m/s"),
        "bore": Length(20, "mm"),
        "density": RHO,
        "viscosity": MU,
    }
    with pytest.raises(RangeError, match=r"reynolds_number\(" + message):
        reynolds_number(**(given | {argument: value}))


def test_several_bad_readings_are_counted() -> None:
    with pytest.raises(RangeError, match=r"mean_velocity\(bore.*0 mm at reading 0 \(and 1 more\)"):
        mean_velocity(VolumeFlowRate(1, "L/min"), Length([0, 20, -20], "mm"))


def test_other_kinds_are_refused() -> None:
    with pytest.raises(DimensionError, match=r"flow=.*got Velocity in 'm/s'.*VolumeFlowRate"):
        mean_velocity(Velocity(1, "m/s"), Length(20, "mm"))
    with pytest.raises(DimensionError, match=r"viscosity=.*KinematicViscosity.*DynamicViscosity"):
        reynolds_number(Velocity(1, "m/s"), Length(20, "mm"), RHO, KinematicViscosity(1, "mm^2/s"))
    with pytest.raises(DimensionError, match=r"bore=.*float 0\.02.*Length"):
        reynolds_number(Velocity(1, "m/s"), 0.02, RHO, MU)
