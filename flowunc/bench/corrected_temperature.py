"""Corrections of a thermometer that depend on the reading: their slope, and their inverse."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowunc.core.kinds import Temperature
from flowunc.instruments.correction_table import CorrectionTable
from flowunc.instruments.thermometer import Thermometer

__all__ = ["reading_at", "slope_at"]

Floats = NDArray[np.float64]

_STEP = 1e-3  # K; corrections are of the first or second degree between two points
_CLOSE = 1e-10  # K
_MOST_ROUNDS = 200


def slope_at(thermometer: Thermometer, readings: Floats) -> Floats:
    """Return how much the corrected temperature changes per change of the reading.

    Parameters
    ----------
    thermometer : Thermometer
    readings : ndarray, shape (n,)
        In the unit of the thermometer.
    """
    kelvin = np.asarray(thermometer.scale.parsed_unit.to_si(readings), dtype=np.float64)
    slope = np.ones(kelvin.shape)
    for item in thermometer.varying_corrections:
        step = np.full(kelvin.shape, _STEP)
        if isinstance(item, CorrectionTable):
            first, last = item.points._node.value[[0, -1]]
            step = np.where(kelvin > (first + last) / 2, -_STEP, _STEP)
        here, there = (
            np.asarray(item.at(Temperature(t, "K"), thermometer.label)._node.value)
            for t in (kelvin, kelvin + step)
        )
        slope += (there - here) / step
    return slope


def reading_at(thermometer: Thermometer, kelvin: Floats) -> Floats:
    """Return what the thermometer shows at temperatures, in its unit.

    Parameters
    ----------
    thermometer : Thermometer
    kelvin : ndarray, shape (n,)

    Raises
    ------
    RangeError
        A temperature at which a correction does not hold.

    Notes
    -----
    The reading r with r + c(r) = T, by r = T - c(r) over and over: a correction changes by far
    less than the reading does.
    """
    correction = thermometer.correction
    wanted = kelvin - (0.0 if correction is None else float(correction._node.value))
    reading = wanted
    for _ in range(_MOST_ROUNDS):
        before = reading
        reading = wanted - _varying(thermometer, _held(thermometer, before))
        if np.max(np.abs(reading - before)) <= _CLOSE:
            break
    _varying(thermometer, reading)  # refuses what lies outside a table
    return np.asarray(thermometer.scale.parsed_unit.from_si(reading), dtype=np.float64)


def _held(thermometer: Thermometer, kelvin: Floats) -> Floats:
    """Return readings moved into all tables, since a step on the way may leave them."""
    for item in thermometer.varying_corrections:
        if isinstance(item, CorrectionTable):
            first, last = item.points._node.value[[0, -1]]
            kelvin = np.clip(kelvin, first, last)
    return kelvin


def _varying(thermometer: Thermometer, kelvin: Floats) -> Floats:
    total = np.zeros(kelvin.shape)
    for item in thermometer.varying_corrections:
        total = total + np.asarray(item.at(Temperature(kelvin, "K"), thermometer.label)._node.value)
    return total
