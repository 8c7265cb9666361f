"""What the instruments will show: a meter for a flow, a manometer for a pressure drop.

Nothing here is a formula of its own. Flow and pressure drop come from the functions that evaluate
readings: what a reading of one amounts to is asked, and divided by. A calibration line, which is
straight, is gone back along.

Where the zero is read, without flow: two columns stand in the middle of their span, and move
apart from there. The one level of a well manometer stands at the 0 of its scale, or at the lowest
mark of a scale without one, and rises. A transmitter shows what stands for no pressure: 0, or
after a calibration the reading at which its line gives 0.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.pressure_reading import pressure_drop
from flowunc.core.kinds import Angle, Density, Length, Pressure
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.meter_calibration import CalibratedByLine
from flowunc.instruments.transmitter import PressureTransmitter

__all__ = [
    "Indicated",
    "flow_readings",
    "flows_shown",
    "indicated",
    "largest_deflection",
    "misfit",
    "off_span",
    "reads_one",
    "slope_of",
    "span_of_meter",
    "zero_levels",
]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# of a division: what a span end may lose by rounding, as a Scale allows too
_ROUNDING = 1e-9


class Indicated(NamedTuple):
    """What a manometer shows, in the unit of its scale; all have shape (n,).

    Attributes
    ----------
    deflection : ndarray
        Counted from the zero.
    high, low : ndarray
        The readings, NaN where they do not fit; the one reading is ``high``, and ``low`` 0.
    fits : ndarray of bool
    """

    deflection: Floats
    high: Floats
    low: Floats
    fits: Flags


def reads_one(bench: Bench) -> bool:
    """Tell a manometer with one reading from one with two columns."""
    return "reading" in bench.manometer_kind.columns


def slope_of(instrument: Any) -> float:
    """Return what a change of the reading counts: 1, or the slope of a calibration line."""
    return _line(instrument)[1]


def _line(instrument: Any) -> tuple[float, float]:
    """Return intercept in coherent SI and slope of what an instrument goes by."""
    if not isinstance(instrument, CalibratedByLine) or instrument.line is None:
        return 0.0, 1.0
    line = instrument.line
    return float(line.intercept._node.value), float(line.slope._node.value)


def _span(instrument: Any) -> tuple[float, float]:
    """Return lowest and highest reading: of the calibration line, or of the scale."""
    if isinstance(instrument, CalibratedByLine) and instrument.line is not None:
        return instrument.line.span
    span: tuple[float, float] = instrument.scale.span or (-math.inf, math.inf)
    return span


def _inside(instrument: Any, readings: Floats) -> Flags:
    low, high = _span(instrument)
    slack = _ROUNDING * instrument.scale.division
    return np.asarray((readings >= low - slack) & (readings <= high + slack))


def off_span(instrument: Any, reading: float, name: str) -> str:
    """Say that a reading lies off the span of an instrument."""
    low, high = _span(instrument)
    unit = instrument.scale.unit
    lined = isinstance(instrument, CalibratedByLine) and instrument.line is not None
    place = "outside the calibration" if lined else "off the scale"
    return f"{reading:.4g} {unit} is {place} of {name}, {low:g} to {high:g} {unit}"


# -- meters ----------------------------------------------------------------------------------------
def flow_readings(bench: Bench, name: str, flow: Floats, density: Density) -> tuple[Floats, Flags]:
    """Return what a meter shows, in its unit, and whether it reaches so far.

    Parameters
    ----------
    bench : Bench
    name : str
        Of the meter.
    flow : ndarray, shape (n,)
        In m^3/s.
    density : Density, shape (n,)
        Of what flows.
    """
    meter = bench.meters[name]
    intercept, slope = _line(meter)
    on_line = flow / _density_factor(meter, density)
    found = np.asarray(meter.scale.parsed_unit.from_si((on_line - intercept) / slope))
    shown = _inside(meter, found) & (found > 0)
    return np.where(shown, np.clip(found, *_span(meter)), found), shown


def flows_shown(bench: Bench, name: str, readings: Floats, density: Density) -> Floats:
    """Return the flows in m^3/s that stand behind readings of a meter; as `flow_readings`."""
    meter = bench.meters[name]
    given = None if meter._densities is None else density
    return np.asarray(meter.read(readings, density=given)._node.value)


def span_of_meter(bench: Bench, name: str) -> tuple[float, float]:
    """Return lowest and highest reading of a meter, in its unit."""
    return _span(bench.meters[name])


def _density_factor(meter: VariableAreaMeter, density: Density) -> Floats:
    """Return what the flow on the scale is multiplied with, for the density that flows."""
    if meter._densities is None:
        return np.ones(1)
    top = _span(meter)[1]
    intercept, slope = _line(meter)
    corrected = meter.read(np.full(density.size, top), density=density)
    on_line = intercept + slope * float(meter.scale.parsed_unit.to_si(top))
    return np.asarray(corrected._node.value) / on_line


# -- manometers ------------------------------------------------------------------------------------
def zero_levels(bench: Bench) -> tuple[float, float]:
    """Return what is read without flow: high and low, or the one reading and 0."""
    manometer = bench.manometer
    if isinstance(manometer, PressureTransmitter):
        intercept, slope = _line(manometer)
        # + 0.0, as a line through 0 would give a zero reading of -0
        return float(manometer.scale.parsed_unit.from_si(-intercept / slope)) + 0.0, 0.0
    span = manometer.scale.span
    if reads_one(bench):
        return 0.0 if span is None or span[0] <= 0 < span[1] else span[0], 0.0
    middle = 0.0 if span is None else (span[0] + span[1]) / 2
    return middle, middle


def largest_deflection(bench: Bench) -> float:
    """Return the largest deflection that can be read, in the unit of the scale."""
    low, high = _span(bench.manometer)
    return high - zero_levels(bench)[0] if reads_one(bench) else high - low


def indicated(bench: Bench, drop: Floats, inclination: Floats, density: Density) -> Indicated:
    """Return what the manometer shows of pressure drops in Pa, at inclinations in deg."""
    manometer = bench.manometer
    scale = manometer.scale
    deflection = np.asarray(
        scale.parsed_unit.from_si(drop / _drop_of_one(bench, inclination, density))
    )
    zero_high, zero_low = zero_levels(bench)
    if reads_one(bench):
        reading = zero_high + deflection
        fits = _inside(manometer, reading)
        high = np.where(fits, np.clip(reading, *_span(manometer)), np.nan)
        return Indicated(deflection, high, np.where(fits, 0.0, np.nan), fits)
    fits = np.asarray(deflection <= largest_deflection(bench) + _ROUNDING * scale.division)
    half = np.where(fits, deflection / 2, np.nan)
    return Indicated(deflection, zero_high + half, zero_low - half, fits)


def _drop_of_one(bench: Bench, inclination: Floats, density: Density) -> Floats:
    """Return the pressure drop in Pa of a deflection of 1 m, or 1 Pa, along the scale."""
    kind: Any = Pressure if isinstance(bench.manometer, PressureTransmitter) else Length
    unit = "Pa" if kind is Pressure else "m"
    drop = pressure_drop(
        bench,
        high=kind(slope_of(bench.manometer), unit),
        low=kind(0.0, unit),
        zero=kind(0.0, unit),
        density=density,
        angle=Angle(inclination, "deg") if bench.inclines else None,
    )
    return np.asarray(drop._node.value)


def misfit(bench: Bench, deflection: float) -> str:
    """Say that a deflection does not fit the scale of the manometer."""
    manometer = bench.manometer
    if reads_one(bench):
        word = "transmitter" if isinstance(manometer, PressureTransmitter) else "manometer"
        return off_span(manometer, zero_levels(bench)[0] + deflection, f"the {word}")
    unit = manometer.scale.unit
    return (
        f"deflection of {deflection:.4g} {unit} exceeds the "
        f"{'board' if bench.inclines else 'scale'}'s {largest_deflection(bench):g} {unit}"
    )
