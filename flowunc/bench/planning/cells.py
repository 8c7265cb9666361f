"""`Cells`: what a planned session consists of; `Plan` asks questions of it, charts draw it."""

from __future__ import annotations

from dataclasses import dataclass

from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.readings import PlannedReadings
from flowunc.bench.planning.record import PlannedResults
from flowunc.core.kinds import VolumeFlowRate

__all__ = ["Cells"]


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Cells:
    """Every flow on every meter at every inclination, by every number of repeats.

    Attributes
    ----------
    conditions : Conditions
        Bench, temperature, scatter and coverage.
    flows : VolumeFlowRate, shape (n,)
        Asked for.
    meters : tuple of str
    inclinations : tuple of float
        In deg; that of the manometer alone where it is not set to any.
    repeats : tuple of int
    target : float
        U(f)/f that the printed plan looks for the smallest flow of.
    readings : PlannedReadings
        Of all cells: inclination by inclination, meter by meter, by repeats, by flow.
    results : PlannedResults or None
        Of the cells that can be read, one record behind all of them; None if there is none.
    """

    conditions: Conditions
    flows: VolumeFlowRate
    meters: tuple[str, ...]
    inclinations: tuple[float, ...]
    repeats: tuple[int, ...]
    target: float
    readings: PlannedReadings
    results: PlannedResults | None
