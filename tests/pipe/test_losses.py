"""Fittings and head against the `fluids` package; a sloping pipe with piezometric taps."""

from __future__ import annotations

import fluids.core
import numpy as np
import pytest

from flowunc import (
    Acceleration,
    Angle,
    Density,
    DimensionError,
    InclinedManometer,
    Length,
    Pressure,
    RangeError,
    Ratio,
    Scale,
    Velocity,
    limits,
    standard,
)
from flowunc.pipe import head_loss, hydraulic_gradient, minor_loss, pressure_from_head

RHO, G = Density(998.2, "kg/m^3"), Acceleration(9.81, "m/s^2")


@pytest.mark.parametrize("coefficient", [0.0, 0.04, 0.5, 10])
def test_minor_loss(coefficient: float) -> None:
    found = minor_loss(coefficient, RHO, Velocity(0.31, "m/s"))
    assert type(found) is Pressure
    expected = fluids.core.dP_from_K(coefficient, rho=998.2, V=0.31)
    assert found.value == pytest.approx(expected, rel=1e-14)


def test_loss_coefficient_with_an_uncertainty() -> None:
    # relative: K 10 %, v 2 % twice
    K, v = Ratio(0.5, "1", standard(0.05)), Velocity(0.3, "m/s", standard(0.006))
    found = minor_loss(K, RHO, v)
    assert found.u / found.value == pytest.approx(np.hypot(0.10, 0.04), rel=1e-12)
    assert minor_loss([0.5, 1.0], RHO, v).value.shape == (2,)


@pytest.mark.parametrize("drop", [-3.0, 0.0, 25.0, 4e4])
def test_head_both_ways(drop: float) -> None:
    head = head_loss(Pressure(drop, "Pa"), RHO, gravity=G)
    assert type(head) is Length
    # the package has standard gravity, 9.80665 m/s^2
    expected = fluids.core.head_from_P(drop, rho=998.2) * 9.80665 / 9.81
    assert head.value == pytest.approx(expected, rel=1e-13)
    back = pressure_from_head(head, RHO, gravity=G)
    assert type(back) is Pressure
    assert back.value == pytest.approx(drop, rel=1e-14)
    standard_gravity = Acceleration(9.80665, "m/s^2")
    again = pressure_from_head(Length(expected, "m"), RHO, gravity=standard_gravity)
    assert again.value == pytest.approx(fluids.core.P_from_head(expected, rho=998.2), rel=1e-13)


def test_there_and_back_is_the_same_quantity() -> None:
    drop = Pressure([10, 40], "Pa", limits(0.3))
    rho = Density(998.2, "kg/m^3", limits(1))
    back = pressure_from_head(head_loss(drop, rho), rho)
    np.testing.assert_allclose((back - drop).u, 0, atol=1e-15)


def test_gravity_not_stated_is_that_of_the_manometers() -> None:
    # a gravity of wide limits, 9.81 +- 0.03 m/s^2; the same component, so that it cancels
    meter = InclinedManometer(Scale(1, "mm", span=(0, 500)), angle=Angle(90, "deg"))
    air = Density(0, "kg/m^3")
    drop = meter.pressure_drop(
        high=meter.read(212), low=meter.read(200), density=RHO, zero=(200, 200), air_density=air
    )
    head = head_loss(drop, RHO)
    assert head.to("mm").value == pytest.approx(12, rel=1e-12)
    assert "gravity" in {c.label for c in drop.components}
    budget = head.budget()
    assert budget.loc[budget["component"] == "gravity", "share"].sum() == pytest.approx(0)
    alone = head_loss(Pressure(100, "Pa"), RHO)
    assert alone.u / alone.value == pytest.approx(0.03 / np.sqrt(3) / 9.81, rel=1e-12)


def test_gradient_of_a_sloping_pipe_is_that_of_a_level_one() -> None:
    # static pressures at the taps of a pipe that rises by 30 mm, and what columns of the liquid,
    # both read at one height, make of them
    drop, spacing, rise = 80.0, 2.0, 0.03
    upstream, weight = 5000.0, 998.2 * 9.81
    downstream = upstream - drop - weight * rise
    columns = (upstream / weight, downstream / weight + rise)
    head = Length(columns[0] - columns[1], "m")
    found = hydraulic_gradient(pressure_from_head(head, RHO, gravity=G), RHO, Length(spacing, "m"))
    level = hydraulic_gradient(Pressure(drop, "Pa"), RHO, Length(spacing, "m"))
    assert found.value == pytest.approx(level.value, rel=1e-9)
    assert level.value == pytest.approx(80 / (998.2 * 9.81 * 2), rel=1e-12)
    # a gauge at each tap sees the slope
    gauges = hydraulic_gradient(Pressure(upstream - downstream, "Pa"), RHO, Length(spacing, "m"))
    assert gauges.value - level.value == pytest.approx(rise / spacing, rel=1e-9)


def test_refusals() -> None:
    velocity = Velocity(0.1, "m/s")
    with pytest.raises(RangeError, match=r"loss_coefficient=.*-0\.5; expected a value 0 or more"):
        minor_loss(-0.5, RHO, velocity)
    with pytest.raises(RangeError, match=r"loss_coefficient=.*NaN"):
        minor_loss(float("nan"), RHO, velocity)
    with pytest.raises(DimensionError, match=r"loss_coefficient=.*Length.*Ratio"):
        minor_loss(Length(1, "m"), RHO, velocity)
    with pytest.raises(RangeError, match=r"velocity=.*-0\.1 m/s; expected a value 0 or more"):
        minor_loss(1, RHO, -velocity)
    for call in (
        lambda rho, g: head_loss(Pressure(1, "Pa"), rho, gravity=g),
        lambda rho, g: pressure_from_head(Length(1, "m"), rho, gravity=g),
        lambda rho, g: hydraulic_gradient(Pressure(1, "Pa"), rho, Length(1, "m"), gravity=g),
    ):
        with pytest.raises(RangeError, match=r"density=.*0 kg/m\^3; expected a value above 0"):
            call(Density(0, "kg/m^3"), G)
        with pytest.raises(RangeError, match=r"gravity=.*above 0"):
            call(RHO, Acceleration(0, "m/s^2"))
        with pytest.raises(DimensionError, match=r"gravity=.*Density.*Acceleration"):
            call(RHO, RHO)
    with pytest.raises(RangeError, match=r"tap_spacing=.*0 m"):
        hydraulic_gradient(Pressure(1, "Pa"), RHO, Length(0, "m"))
