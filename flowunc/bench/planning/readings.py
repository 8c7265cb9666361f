"""What the instruments will show: from a flow to two column readings, before any measurement.

Nothing here is a formula of its own. Pressure drop and deflection come from the functions that
evaluate readings, which are linear in them: what one unit of it amounts to is asked, and
divided by. So the readings predicted here, evaluated, give back the law that they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.bench import Bench
from flowunc.bench.corrected_temperature import reading_at
from flowunc.bench.manometer_kinds import KINDS
from flowunc.bench.pressure_reading import pressure_drop
from flowunc.core.errors import BenchError
from flowunc.core.kinds import Angle, Density, Length, Pressure, Ratio, Temperature, VolumeFlowRate
from flowunc.instruments.scale import Scale
from flowunc.pipe import laws
from flowunc.pipe.flow import mean_velocity, reynolds_number
from flowunc.pipe.friction import darcy_friction_factor

__all__ = ["PlannedReadings", "predict"]

Floats = NDArray[np.float64]

# of a division: what a span end may lose by rounding, as a Scale allows too
_ROUNDING = 1e-9


@dataclass(frozen=True, eq=False, kw_only=True)
class PlannedReadings:
    """What is expected of each cell of a plan; all have shape (n,).

    Attributes
    ----------
    meter : tuple of str
    repeats : ndarray of int
    inclination : ndarray
        In deg.
    flow : ndarray
        In m^3/s.
    flow_reading : ndarray
        On the scale of the meter, in its unit.
    temperature_reading : ndarray
        In the unit of the thermometer.
    reynolds, friction : ndarray
        Expected, by the law.
    regime, law : tuple of str
    deflection, high, low : ndarray
        Along the scale of the manometer, in its unit; the columns stand symmetrically about
        the middle of its span (about 0 if it has none).
    flow_readable, readable : ndarray of bool
        Whether the meter can show the flow; whether the columns fit the board as well.
    note : tuple of str
        What is to be said of the cell, "" if nothing.
    """

    meter: tuple[str, ...]
    repeats: NDArray[np.intp]
    inclination: Floats
    flow: Floats
    flow_reading: Floats
    temperature_reading: Floats
    reynolds: Floats
    friction: Floats
    regime: tuple[str, ...]
    law: tuple[str, ...]
    deflection: Floats
    high: Floats
    low: Floats
    flow_readable: NDArray[np.bool_]
    readable: NDArray[np.bool_]
    note: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.meter)


def predict(
    bench: Bench,
    meter: Sequence[str],
    flow: Floats,
    temperature: Temperature,
    inclination: Floats,
    repeats: NDArray[np.intp],
) -> PlannedReadings:
    """Predict the readings of cells.

    Parameters
    ----------
    bench : Bench
    meter : sequence of str, length n
    flow : ndarray, shape (n,)
        In m^3/s.
    temperature : Temperature, scalar or shape (n,)
        Of the water; its value counts.
    inclination : ndarray, shape (n,)
        In deg.
    repeats : ndarray of int, shape (n,)

    Returns
    -------
    PlannedReadings
    """
    _check_plannable(bench, meter)
    count = len(meter)
    kelvin = np.broadcast_to(np.asarray(temperature._node.value), (count,))
    given = Temperature(kelvin, "K")
    density = bench.density(given)
    velocity = mean_velocity(VolumeFlowRate(flow, "m^3/s"), bench.bore)
    reynolds = np.asarray(
        reynolds_number(velocity, bench.bore, density, bench.viscosity(given))._node.value
    )
    regime = _regimes(reynolds, bench)
    friction, law, notes = _friction(reynolds, regime, bench)
    per_pascal = darcy_friction_factor(
        Pressure(1.0, "Pa"), density, velocity, bench.bore, bench.tap_spacing
    )
    drop = friction / np.asarray(per_pascal._node.value)
    scale = bench.manometer.scale
    deflection = np.asarray(
        scale.parsed_unit.from_si(drop / _drop_per_metre(bench, inclination, density))
    )
    readings, shown = _flow_readings(bench, meter, flow, density)
    fits, middle = _board(scale, deflection)
    tilted = _tilted(bench, inclination)
    for row in np.flatnonzero(tilted).tolist():
        notes[row].append(f"the manometer is {bench.manometer_kind.title}: 90 deg only")
    _describe_misfits(bench, meter, readings, shown, deflection, fits, notes)
    readable = shown & fits & ~tilted
    half = np.where(readable, deflection / 2, np.nan)
    return PlannedReadings(
        meter=tuple(meter),
        repeats=repeats,
        inclination=inclination,
        flow=flow,
        flow_reading=readings,
        temperature_reading=reading_at(bench.thermometer, kelvin),
        reynolds=reynolds,
        friction=friction,
        regime=tuple(regime.tolist()),
        law=law,
        deflection=deflection,
        high=middle + half,
        low=middle - half,
        flow_readable=shown,
        readable=readable,
        note=tuple("; ".join(parts) for parts in notes),
    )


def _check_plannable(bench: Bench, meter: Sequence[str]) -> None:
    """Refuse what cannot be predicted yet: one reading of a manometer, a calibrated meter."""
    kind = bench.manometer_kind
    if "reading" in kind.columns:
        raise BenchError(
            f"{kind.title}; a session can be planned with two columns only: "
            f"{', '.join(one.word for one in KINDS.values() if one.columns != kind.columns)}",
            bench.file,
            "manometer",
        )
    for name in dict.fromkeys(meter):
        if bench.meters[name].line is not None:
            raise BenchError(
                "goes by a calibration line; a session can be planned with what the data sheet "
                "says only: plan with accuracy in place of calibration, or with another meter",
                bench.file,
                f"meters.{name}",
            )


def _tilted(bench: Bench, inclination: Floats) -> NDArray[np.bool_]:
    """Tell which inclinations a manometer that stands upright cannot have."""
    if bench.inclines:
        return np.zeros(inclination.size, dtype=np.bool_)
    return np.asarray(inclination != bench.fixed_angle)


def _regimes(reynolds: Floats, bench: Bench) -> NDArray[np.str_]:
    names = np.where(reynolds > bench.turbulent_above, "turbulent", "transitional")
    return np.where(reynolds < bench.laminar_below, "laminar", names)


def _friction(
    reynolds: Floats, regime: NDArray[np.str_], bench: Bench
) -> tuple[Floats, tuple[str, ...], list[list[str]]]:
    """Evaluate 64/Re or the turbulent law, which also stands in where no law holds."""
    laminar = regime == "laminar"
    rough = 0.0 if bench.relative_roughness is None else float(bench.relative_roughness._node.value)
    friction = np.empty(reynolds.size)
    names = np.where(laminar, laws.laminar.name, bench.law.name)
    notes: list[list[str]] = [[] for _ in range(reynolds.size)]
    for law, mine in ((laws.laminar, laminar), (bench.law, ~laminar)):
        if not mine.any():
            continue
        found = law.equation(Ratio(reynolds[mine], "1"), Ratio(rough, "1"))
        friction[mine] = found._node.value
        low, high = law.reynolds_range
        for row in np.flatnonzero(mine & ((reynolds < low) | (reynolds > high))):
            if regime[row] != "transitional":
                notes[row].append(f"{law.name} beyond its range")
    for row in np.flatnonzero(regime == "transitional"):
        notes[row].append(f"transitional, no law holds: {bench.law.name} taken as a guide")
    return friction, tuple(names.tolist()), notes


def _drop_per_metre(bench: Bench, inclination: Floats, density: Density) -> Floats:
    """Return the pressure drop of one metre of deflection."""
    drop = pressure_drop(
        bench,
        high=Length(1.0, "m"),
        low=Length(0.0, "m"),
        zero=Length(0.0, "m"),
        density=density,
        angle=Angle(inclination, "deg") if bench.inclines else None,
    )
    return np.asarray(drop._node.value)


def _flow_readings(
    bench: Bench, meter: Sequence[str], flow: Floats, density: Density
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return what the meters show, and whether their scales reach so far."""
    names = np.asarray(meter)
    readings = np.empty(flow.size)
    shown = np.zeros(flow.size, dtype=np.bool_)
    for name in dict.fromkeys(meter):
        mine = np.flatnonzero(names == name)
        scale = bench.meters[name].scale
        found = np.asarray(scale.parsed_unit.from_si(flow[mine]))
        if bench.meters[name]._densities is not None:
            found = found / _correction(bench, name, density[mine])
        low, high = scale.span or (0.0, np.inf)
        slack = _ROUNDING * scale.division
        inside = (found >= low - slack) & (found <= high + slack) & (found > 0)
        readings[mine] = np.where(inside, np.clip(found, low, high), found)
        shown[mine] = inside
    return readings, shown


def _correction(bench: Bench, name: str, density: Density) -> Floats:
    """Return what a reading of this meter is multiplied with, for the density that flows."""
    meter = bench.meters[name]
    full = (meter.scale.span or (0.0, 1.0))[1]
    corrected = meter.read(np.full(density.size, full), density=density)
    return np.asarray(corrected.value) / full


def _board(scale: Scale, deflection: Floats) -> tuple[NDArray[np.bool_], float]:
    if scale.span is None:
        return np.ones(deflection.size, dtype=np.bool_), 0.0
    low, high = scale.span
    return deflection <= (high - low) + _ROUNDING * scale.division, (low + high) / 2


def _describe_misfits(
    bench: Bench,
    meter: Sequence[str],
    readings: Floats,
    shown: NDArray[np.bool_],
    deflection: Floats,
    fits: NDArray[np.bool_],
    notes: list[list[str]],
) -> None:
    for row in np.flatnonzero(~shown).tolist():
        scale = bench.meters[meter[row]].scale
        low, high = scale.span or (0.0, np.inf)
        notes[row].append(
            f"{readings[row]:.4g} {scale.unit} is off the scale of {meter[row]}, "
            f"{low:g} to {high:g} {scale.unit}"
        )
    board = bench.manometer.scale
    low, high = board.span or (0.0, np.inf)
    for row in np.flatnonzero(~fits).tolist():
        notes[row].append(
            f"deflection of {deflection[row]:.4g} {board.unit} exceeds the board's "
            f"{high - low:g} {board.unit}"
        )
