"""A plan as tables: all cells, the best for each flow, few inclinations that serve all flows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.conclusions import limiting_sources
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.indications import reads_one
from flowunc.bench.planning.readings import PlannedReadings
from flowunc.bench.planning.record import PlannedResults
from flowunc.core.kinds import VolumeFlowRate

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["best_lines", "cell_table", "few_settings"]

Floats = NDArray[np.float64]

# what a flow that cannot be read has not
_OF_READING = ("inclination", "reading", "deflection", "high", "low", "manometer reading")
_EQUAL = 1 + 1e-9  # times the smallest U: no better by more than rounding


def cell_table(
    conditions: Conditions,
    flows: VolumeFlowRate,
    readings: PlannedReadings,
    results: PlannedResults | None,
) -> pd.DataFrame:
    """Return one line for each cell, in their order; the flows run fastest in it."""
    import pandas as pd

    bench = conditions.bench
    given = np.atleast_1d(np.asarray(flows.value))
    reynolds, friction = np.full((2, len(readings)), np.nan)
    sources, shares = ["-"] * len(readings), np.full(len(readings), np.nan)
    if results is not None:
        reynolds[readings.readable] = conditions.relative(results.reynolds)
        friction[readings.readable] = conditions.relative(results.friction)
        rows = np.flatnonzero(readings.readable).tolist()
        for row, found in zip(rows, limiting_sources(results.friction), strict=True):
            sources[row], shares[row] = found
    read = {"high": readings.high, "low": readings.low}
    if reads_one(bench):
        read = {"manometer reading": readings.high}
    return pd.DataFrame(
        {
            "meter": readings.meter,
            "flow": np.tile(given, len(readings) // given.size),
            "flow unit": flows.unit,
            "reading": np.where(readings.flow_readable, readings.flow_reading, np.nan),
            "reading unit": [bench.meters[name].scale.unit for name in readings.meter],
            "inclination": readings.inclination,
            "repeats": readings.repeats,
            "Re": readings.reynolds,
            "regime": readings.regime,
            "law": readings.law,
            "f": readings.friction,
            "deflection": readings.deflection,
            **read,
            "scale unit": bench.manometer.scale.unit,
            "U(Re)/Re": reynolds,
            "U(f)/f": friction,
            "limited by": sources,
            "share": shares,
            "note": readings.note,
        }
    )


def best_lines(table: pd.DataFrame, flows: int) -> pd.DataFrame:
    """Return the best line for each flow from a table that is sorted by them."""
    size = len(table) // flows
    places, notes = [], {}
    for flow in range(flows):
        mine = table.iloc[flow * size : (flow + 1) * size]
        smallest = mine["U(f)/f"].min()
        if np.isnan(smallest):
            # the steepest board is what a meter fails at last
            last = mine.groupby("meter", sort=False)["note"].last()
            notes[flow] = "; ".join(dict.fromkeys(last))
            places.append(mine.index[0])
        else:
            equal = mine[mine["U(f)/f"] <= smallest * _EQUAL]
            places.append(equal["repeats"].idxmin())
    best = table.loc[places].reset_index(drop=True)
    if notes:
        unread = list(notes)
        best.loc[unread, ["meter", "reading unit"]] = "-"
        best.loc[unread, [name for name in _OF_READING if name in best]] = np.nan
        best.loc[unread, "note"] = list(notes.values())
    return best


def few_settings(table: pd.DataFrame, allowed: float) -> pd.DataFrame:
    """Return inclinations for stretches of flows, U(f)/f nowhere more than ``allowed`` larger."""
    import pandas as pd

    read = table.dropna(subset=["U(f)/f"])
    smallest = read.groupby(["flow", "inclination"])["U(f)/f"].min().unstack()
    excess = smallest.div(smallest.min(axis=1), axis=0).fillna(np.inf).to_numpy() - 1
    stretches: list[list[int]] = []
    worst: list[Floats] = []
    for row, own in enumerate(excess):
        joined = np.maximum(worst[-1], own) if worst else own
        if worst and joined.min() <= allowed:
            stretches[-1].append(row)
            worst[-1] = joined
        else:
            stretches.append([row])
            worst.append(own)
    return pd.DataFrame(
        {
            "from": [smallest.index[rows[0]] for rows in stretches],
            "to": [smallest.index[rows[-1]] for rows in stretches],
            "flow unit": table["flow unit"].iloc[0],
            "inclination": [smallest.columns[int(one.argmin())] for one in worst],
            "excess": [float(one.min()) for one in worst],
        }
    )
