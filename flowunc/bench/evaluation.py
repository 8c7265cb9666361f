"""`analyse`: from a lab sheet to Re and f of every run, correlations kept."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.checks.column_balance import column_balance
from flowunc.bench.corrected_temperature import slope_at
from flowunc.bench.description.bench import Bench
from flowunc.bench.nearest_name import nearest
from flowunc.bench.pressure_reading import pressure_drop
from flowunc.bench.repeats import FLOW, TEMPERATURE, Scatter, scatter_of
from flowunc.bench.runs import Runs
from flowunc.bench.sheets.form import form_of
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.errors import BenchError, DimensionError
from flowunc.core.kinds import (
    Angle,
    Density,
    DynamicViscosity,
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

__all__ = ["Flowing", "analyse", "evaluated", "flowing"]


def analyse(sheet: Sheet, bench: Bench) -> Runs:
    """Compute Reynolds number and friction factor of every run of a lab sheet.

    Parameters
    ----------
    sheet : Sheet
        What `read_sheet` gave.
    bench : Bench
        Where it was filled in.

    Returns
    -------
    Runs
        With one quantity per result, shape (runs,), in the order of the sheet.

    Raises
    ------
    SheetError, BenchError, RangeError
        A sheet that was read for a bench with other meters or units, or that does not fit.

    Notes
    -----
    One instrument has one calibration error behind all of its readings; two meters have two.
    Each inclination setting has one error of the angle; each set of runs has one zero, with the
    drift over it.

    A run with repeats stands for the means of its rows. Their scatter is Type A: the covariance
    matrix of the four means, with n - 1 degrees of freedom, so that columns that swing together
    do so in the result too [JCGM 100, 4.2.3 and H.2]. The resolution of a mean stays that of one
    reading, in full: rows that are rounded to the same mark have the same rounding error, and
    no number of them averages it out.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> len(runs.friction) == len(runs.labels)
    True
    """
    _check(sheet, bench)
    return evaluated(sheet, scatter_of(sheet), bench)


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


def evaluated(sheet: Sheet, scatter: Scatter, bench: Bench) -> Runs:
    """Compute the results of a sheet that fits the bench, with a given scatter of its readings."""
    found = flowing(sheet, scatter, bench)
    drop = _pressure_drop(sheet, scatter, bench, found.density)
    friction = darcy_friction_factor(
        drop, found.density, found.velocity, bench.bore, bench.tap_spacing
    )
    return Runs(
        labels=tuple(run.label for run in sheet.runs),
        bench=bench,
        sheet=sheet,
        pressure_drop=drop,
        friction=friction,
        **found._asdict(),
    )


def _check(sheet: Sheet, bench: Bench) -> None:
    for value, kind in ((sheet, Sheet), (bench, Bench)):
        if not isinstance(value, kind):
            raise DimensionError(
                f"analyse(sheet, bench): got {type(value).__name__}; expected {kind.__name__}, as "
                "read_sheet and load_bench give them"
            )
    if sheet.columns != form_of(bench).columns:
        raise BenchError(
            f"{bench.manometer_kind.title}, but {sheet.file} was read for a bench whose sheets "
            f"have the columns {', '.join(sheet.columns)}; read it again with read_sheet and this "
            "bench",
            bench.file,
            "manometer",
        )
    used = {run.meter for run in sheet.runs}
    wanted = {"thermometer": bench.thermometer.scale.unit, "manometer": bench.manometer.scale.unit}
    for name in used:
        if name not in bench.meters:
            raise BenchError(
                f"no meter {name!r}, which {sheet.file} names; {nearest(name, bench.meters)}"
                f"expected it among {', '.join(bench.meters)}",
                bench.file,
                "meters",
            )
        wanted[f"meters.{name}"] = bench.meters[name].scale.unit
    for key, unit in wanted.items():
        if sheet.units.get(key) != unit:
            raise BenchError(
                f"unit '{unit}', but {sheet.file} was read for a bench with "
                f"'{sheet.units.get(key)}'; read it again with read_sheet and this bench",
                bench.file,
                f"{key}.unit",
            )


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
