"""From predicted readings to Re and f, through the very model that evaluates a lab sheet.

The readings become a `Sheet`: one set for each inclination, its zero read before and after where
`indications` says that it stands. Only the scatter is not taken from rows, as there are none yet,
but from what is expected of a single reading.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.measurement_model import flowing, measured
from flowunc.bench.planning.arguments import ExpectedScatter
from flowunc.bench.planning.indications import zero_levels
from flowunc.bench.planning.readings import PlannedReadings
from flowunc.bench.repeats import FLOW, HIGH, TEMPERATURE, Scatter
from flowunc.bench.sheets.form import form_of
from flowunc.bench.sheets.sheet import Run, RunSet, Sheet, SheetRow
from flowunc.core.component import Component, Pool
from flowunc.core.distributions import Normal
from flowunc.core.kinds import FrictionFactor, Pressure, ReynoldsNumber, VolumeFlowRate
from flowunc.core.units import parse_unit

__all__ = ["PlannedResults", "planned_results", "planned_reynolds"]

Rows = NDArray[np.intp]

_READ = (("flow", FLOW), ("temperature", TEMPERATURE), ("deflection", HIGH))


class PlannedResults(NamedTuple):
    """Results of the readable cells, one record behind all of them; shape (m,)."""

    flow: VolumeFlowRate
    reynolds: ReynoldsNumber
    pressure_drop: Pressure
    friction: FrictionFactor


def planned_results(
    bench: Bench, readings: PlannedReadings, rows: Rows, scatter: ExpectedScatter
) -> PlannedResults:
    """Evaluate predicted readings as `analyse` evaluates a sheet.

    Parameters
    ----------
    bench : Bench
    readings : PlannedReadings
    rows : ndarray of int, shape (m,)
        Readable cells.
    scatter : ExpectedScatter
    """
    # a sheet lists its runs by inclination
    order = np.argsort(readings.inclination[rows], kind="stable")
    sheet, expected = _sheet(bench, readings, rows[order], scatter)
    as_read = measured(sheet, expected, bench)
    found = PlannedResults(
        as_read.flowing.flow, as_read.flowing.reynolds, as_read.pressure_drop, as_read.friction
    )
    if np.array_equal(order, np.arange(order.size)):
        return found
    back = np.argsort(order)
    return PlannedResults(
        found.flow[back], found.reynolds[back], found.pressure_drop[back], found.friction[back]
    )


def planned_reynolds(
    bench: Bench, readings: PlannedReadings, rows: Rows, scatter: ExpectedScatter
) -> ReynoldsNumber:
    """Evaluate flow and temperature alone, whether the manometer can show them or not."""
    sheet, expected = _sheet(bench, readings, rows, scatter)
    return flowing(sheet, expected, bench).reynolds


def _sheet(
    bench: Bench, readings: PlannedReadings, rows: Rows, scatter: ExpectedScatter
) -> tuple[Sheet, Scatter]:
    means = np.column_stack(
        [
            readings.flow_reading[rows],
            readings.temperature_reading[rows],
            readings.high[rows],
            readings.low[rows],
        ]
    )
    zero = zero_levels(bench)
    angles = readings.inclination[rows]
    starts = np.flatnonzero(np.diff(angles, prepend=np.nan) != 0)
    sets, line = [], 1
    for start, stop in zip(starts, [*starts[1:], len(rows)], strict=True):
        angle, warmth = float(angles[start]), float(means[start, 1])
        runs = []
        before = SheetRow(line + 1, "zero", "", 0.0, warmth, angle, *zero, "planned")
        line += 1
        for place in range(start, stop):
            line += 1
            flow, temperature, high, low = means[place].tolist()
            name = readings.meter[rows[place]]
            row = SheetRow(
                line, str(place + 1), name, flow, temperature, angle, high, low, "planned"
            )
            runs.append(Run((row,)))
        line += 1
        after = SheetRow(line, "zero", "", 0.0, warmth, angle, *zero, "planned")
        sets.append(RunSet(angle, tuple(runs), (before,), (after,)))
    units = {
        "thermometer": bench.thermometer.scale.unit,
        "manometer": bench.manometer.scale.unit,
        **{f"meters.{name}": meter.scale.unit for name, meter in bench.meters.items()},
    }
    sheet = Sheet("<plan>", (), tuple(sets), units, form_of(bench).columns)
    return sheet, _scatter(bench, readings, rows, scatter, means)


def _scatter(
    bench: Bench,
    readings: PlannedReadings,
    rows: Rows,
    scatter: ExpectedScatter,
    means: NDArray[np.float64],
) -> Scatter:
    """Turn expected standard deviations into the errors of the means of repeats.

    A single reading cannot show its scatter; it has it all the same, so there the expected
    standard deviation counts as it was stated.
    """
    count = rows.size
    expected = [name for name, _ in _READ if getattr(scatter, name) is not None]
    if not expected:
        none = np.zeros(0, dtype=np.intp)
        return Scatter(means, none, np.zeros((0, 0, 4)), ())
    repeats = readings.repeats[rows]
    dof = np.maximum(repeats - 1, 1).astype(np.float64)
    dof.setflags(write=False)
    pool = Pool(dof=dof, label="repeats")
    gains, components = [], []
    for name, column in _READ:
        if name not in expected:
            continue
        deviation = _deviation(bench, readings, rows, scatter, name) / np.sqrt(repeats)
        for several in (True, False):
            gain = np.zeros((count, 4))
            gain[:, column] = np.where((repeats > 1) == several, deviation, 0.0)
            gains.append(gain)
            components.append(_component(name, several, dof, pool))
    return Scatter(means, np.arange(count), np.stack(gains), tuple(components))


def _component(name: str, several: bool, dof: NDArray[np.float64], pool: Pool) -> Component:
    return Component(
        label=f"repeats, {name}" if several else f"expected scatter, {name}",
        distribution=Normal(1.0),
        unit=parse_unit("1"),
        scope="each",
        evaluation="A" if several else "B",
        dof=dof if several else math.inf,
        source="repeats" if several else "expected scatter",
        pool=pool if several else None,
    )


def _deviation(
    bench: Bench, readings: PlannedReadings, rows: Rows, scatter: ExpectedScatter, name: str
) -> NDArray[np.float64]:
    """Return the standard deviation of single readings in the unit of their instrument."""
    if name == "flow":
        factors = np.array(
            [bench.meters[readings.meter[row]].scale.parsed_unit.factor for row in rows]
        )
        return np.asarray(scatter.of(name, readings.flow_reading[rows] * factors) / factors)
    scale = bench.thermometer.scale if name == "temperature" else bench.manometer.scale
    unit = scale.parsed_unit
    size = readings.deflection[rows] if name == "deflection" else np.zeros(rows.size)
    deviations = scatter.of(name, np.asarray(unit.scale_to_si(size)))
    return np.asarray(unit.scale_from_si(deviations), dtype=np.float64)
