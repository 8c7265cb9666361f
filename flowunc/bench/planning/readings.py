"""What will be read: from a flow to readings of meter, thermometer and manometer.

The law gives the friction factor, and what the instruments show of it is the inverse of what
they are read with (`indications`). So the readings predicted here, evaluated, give back the law
that they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.corrected_temperature import reading_at
from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.indications import flow_readings, indicated, misfit, off_span
from flowunc.core.kinds import Density, Pressure, Ratio, Temperature, VolumeFlowRate
from flowunc.pipe import laws
from flowunc.pipe.flow import mean_velocity, reynolds_number
from flowunc.pipe.friction import darcy_friction_factor

__all__ = ["PlannedReadings", "predict"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class PlannedReadings:
    """What is expected of each cell of a plan; all have shape (n,).

    Attributes
    ----------
    meter : tuple of str
    repeats : ndarray of int
    inclination : ndarray
        In deg; that of the manometer itself where it is not set.
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
        On the scale of the manometer, in its unit. Two columns stand symmetrically about the
        middle of its span (about 0 if it has none); the one reading of other manometers is
        ``high``, counted from where `indications` says that their zero stands, and ``low`` 0.
    flow_readable, readable : ndarray of bool
        Whether the meter can show the flow; whether the manometer can show its drop as well.
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
        Of the liquid; its value counts.
    inclination : ndarray, shape (n,)
        In deg; does not count for a manometer that is not set to one.
    repeats : ndarray of int, shape (n,)

    Returns
    -------
    PlannedReadings
    """
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
    set_to = inclination if bench.inclines else np.full(count, bench.fixed_angle)
    shows = indicated(bench, drop, set_to, density)
    readings, shown = _flow_readings(bench, meter, flow, density, notes)
    for row in np.flatnonzero(~shows.fits).tolist():
        notes[row].append(misfit(bench, float(shows.deflection[row])))
    readable = shown & shows.fits
    return PlannedReadings(
        meter=tuple(meter),
        repeats=repeats,
        inclination=set_to,
        flow=flow,
        flow_reading=readings,
        temperature_reading=reading_at(bench.thermometer, kelvin),
        reynolds=reynolds,
        friction=friction,
        regime=tuple(regime.tolist()),
        law=law,
        deflection=shows.deflection,
        high=np.where(readable, shows.high, np.nan),
        low=np.where(readable, shows.low, np.nan),
        flow_readable=shown,
        readable=readable,
        note=tuple("; ".join(parts) for parts in notes),
    )


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


def _flow_readings(
    bench: Bench, meter: Sequence[str], flow: Floats, density: Density, notes: list[list[str]]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return what the meters show, and whether they reach so far, with notes where they do not."""
    names = np.asarray(meter)
    readings = np.empty(flow.size)
    shown = np.zeros(flow.size, dtype=np.bool_)
    for name in dict.fromkeys(meter):
        mine = np.flatnonzero(names == name)
        readings[mine], shown[mine] = flow_readings(bench, name, flow[mine], density[mine])
        for row in mine[~shown[mine]].tolist():
            notes[row].append(off_span(bench.meters[name], float(readings[row]), name))
    return readings, shown
