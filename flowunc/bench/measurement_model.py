"""The measurement model [JCGM 100, 4.1]: from readings of a sheet to Re and f, correlations kept.

Readings come with their scatter: of a lab sheet from its rows, of a plan from what is expected.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.checks.column_balance import column_balance
from flowunc.bench.corrected_temperature import slope_at
from flowunc.bench.description.bench import Bench
from flowunc.bench.pressure_reading import pressure_drop
from flowunc.bench.repeats import FLOW, TEMPERATURE, Scatter
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.kinds import (
    Angle,
    Density,
    DynamicViscosity,
    FrictionFactor,
    Pressure,
    ReynoldsNumber,
    Temperature,
    Velocity,
    VolumeFlowRate,
)
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.pipe.flow import mean_velocity, reynolds_number
from flowunc.pipe.friction import darcy_friction_factor

__all__ = ["Flowing", "Measured", "flowing", "measured"]


class Flowing(NamedTuple):
    """What follows from float and thermometer alone, without the manometer."""

    flow: VolumeFlowRate
    temperature: Temperature
    density: Density
    viscosity: DynamicViscosity
    velocity: Velocity
    reynolds: ReynoldsNumber


def flowing(sheet: Sheet, scatter: Scatter, bench: Bench) -> Flowing:
    """Compute flow, properties of the liquid and Re of a sheet that fits the bench."""
    temperature = _temperature(scatter, bench)
    density = bench.density(temperature)
    viscosity = bench.viscosity(temperature)
    flow = _flow(sheet, scatter, bench, density)
    velocity = mean_velocity(flow, bench.bore)
    reynolds = reynolds_number(velocity, bench.bore, density, viscosity)
    return Flowing(flow, temperature, density, viscosity, velocity, reynolds)


class Measured(NamedTuple):
    """What follows from all readings of a sheet."""

    flowing: Flowing
    pressure_drop: Pressure
    friction: FrictionFactor

    def by_name(self) -> dict[str, Any]:
        """Return one quantity for each result, shape (runs,)."""
        both = {"pressure_drop": self.pressure_drop, "friction": self.friction}
        return self.flowing._asdict() | both


def measured(sheet: Sheet, scatter: Scatter, bench: Bench) -> Measured:
    """Compute the results of a sheet that fits the bench, with a given scatter of its readings."""
    found = flowing(sheet, scatter, bench)
    drop = _pressure_drop(sheet, scatter, bench, found.density)
    friction = darcy_friction_factor(
        drop, found.density, found.velocity, bench.bore, bench.tap_spacing
    )
    return Measured(found, drop, friction)


def _temperature(scatter: Scatter, bench: Bench) -> Temperature:
    reading = bench.thermometer.read(scatter.means[:, TEMPERATURE])
    # the scatter of a reading goes through the corrections like the reading
    slope = None
    if bench.thermometer.varying_corrections and scatter.repeated.size:
        slope = slope_at(bench.thermometer, scatter.means[:, TEMPERATURE])
    swing = scatter.of(TEMPERATURE, Quantity, bench.thermometer.scale.parsed_unit, slope)
    if swing is None:
        return reading
    temperature: Temperature = (reading + swing).to(bench.thermometer.scale.unit)
    return temperature.labelled(reading.label)


def _flow(sheet: Sheet, scatter: Scatter, bench: Bench, density: Density) -> VolumeFlowRate:
    """Read every meter once, and put the readings back into the order of the runs."""
    meters = [run.meter for run in sheet.runs]
    parts, rows, factor = [], [], np.ones(len(meters))
    gain = np.ones(len(meters))
    for name in dict.fromkeys(meters):
        meter = bench.meters[name]
        mine = np.flatnonzero([other == name for other in meters])
        readings = scatter.means[mine, FLOW]
        corrected = meter._densities is not None
        flow = meter.read(readings, density=density[mine] if corrected else None)
        # the scatter of a reading goes through line and density correction like the reading
        factor[mine] = np.asarray(flow.value) / _on_line(meter, readings)
        if meter.line is not None:
            factor[mine] *= meter.line.slope._node.value
        gain[mine] = meter.scale.parsed_unit.factor
        parts.append(flow.si)
        rows.append(mine)
    order = np.argsort(np.concatenate(rows))
    joined: VolumeFlowRate = concatenate(parts)[order]
    swing = scatter.of(FLOW, VolumeFlowRate, joined._unit, factor * gain)
    if swing is not None:
        joined = joined + swing
    units = {bench.meters[name].scale.unit for name in meters}
    return (joined.to(units.pop()) if len(units) == 1 else joined).labelled("flow")


def _on_line(meter: VariableAreaMeter, readings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what the calibration line makes of readings, in the unit of the scale."""
    if meter.line is None:
        return readings
    intercept = float(meter.line.intercept.to(meter.scale.unit).value)
    return intercept + float(meter.line.slope._node.value) * readings


def _pressure_drop(sheet: Sheet, scatter: Scatter, bench: Bench, density: Density) -> Pressure:
    balance = column_balance(sheet, bench, scatter)
    angle: Angle | None = None
    if bench.inclines:
        settings = dict.fromkeys(found.angle for found in sheet.sets)
        place = {setting: number for number, setting in enumerate(settings)}
        of_run: NDArray[np.intp] = np.repeat(
            [place[found.angle] for found in sheet.sets], [len(found.runs) for found in sheet.sets]
        )
        found = concatenate([bench.angle(setting) for setting in settings])[of_run]
        angle = found.labelled("manometer angle")
    return pressure_drop(bench, balance.high, balance.low, balance.zero, density, angle)
