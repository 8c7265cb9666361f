"""From what a manometer showed to the pressure drop, whatever kind of manometer it is."""

from __future__ import annotations

from typing import Any

from flowunc.bench.description.bench import Bench
from flowunc.core.kinds import Angle, Density, Pressure
from flowunc.instruments.gauge_liquid import WellManometer
from flowunc.instruments.manometer import InclinedManometer
from flowunc.instruments.transmitter import PressureTransmitter

__all__ = ["pressure_drop"]


def pressure_drop(
    bench: Bench, high: Any, low: Any, zero: Any, density: Density, angle: Angle | None = None
) -> Pressure:
    """Turn readings of the bench's manometer into the piezometric pressure difference.

    Parameters
    ----------
    bench : Bench
    high, low : Length or Pressure, scalar or shape (n,)
        What was read; ``low`` does not count for a manometer with one reading.
    zero : Length or Pressure
        The same without flow: the difference, or the one reading.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    angle : Angle, optional
        Inclination where it was set; what the manometer has of its own if left out.
    """
    manometer = bench.manometer
    if isinstance(manometer, PressureTransmitter):
        drop = manometer.pressure_drop(
            reading=high, zero=zero, temperature=bench.transmitter_temperature
        )
        return drop.to("Pa")
    if isinstance(manometer, InclinedManometer):
        board = manometer if angle is None else manometer.at(angle)
        return board.pressure_drop(
            high=high,
            low=low,
            density=density,
            zero=zero,
            gravity=bench.gravity,
            air_density=bench.air_density,
        )
    if isinstance(manometer, WellManometer):
        tube = manometer if angle is None else manometer.at(angle)
        gauge = bench.gauge_density
        return tube.pressure_drop(
            reading=high,
            density=density if gauge is None else gauge,
            zero=zero,
            gravity=bench.gravity,
            air_density=bench.air_density if gauge is None else density,
        )
    return manometer.pressure_drop(
        high=high, low=low, density=density, zero=zero, gravity=bench.gravity
    )
