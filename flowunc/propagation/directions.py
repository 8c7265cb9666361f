"""Directions along which a block of output rows is differentiated.

A shared component is one direction. For readings with errors of their own, all readings are
moved at once as long as no row depends on two of them; each row then sees its own reading
only. Where rows do depend on several readings, the readings are coloured so that no row has
two of one colour, and every colour is a direction: a mean over m readings takes m of them,
differences of neighbours two.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.propagation.linear import BlockPart
from flowunc.propagation.pieces import Indices, explicit

__all__ = ["Direction", "coloured", "directions_of", "pairs_of"]


class Direction(NamedTuple):
    """Some readings of one component, moved together by one standard uncertainty.

    ``readings`` is a mask over the readings of a component that has one error for each; it
    is None where all move, as they do for a shared component.
    """

    component: Component
    readings: NDArray[np.bool_] | None

    def moves(self, columns: Indices) -> NDArray[np.bool_]:
        """Tell for each reading of an index array whether it is among those moved."""
        if self.readings is None:
            return np.ones(columns.shape, dtype=bool)
        inside = columns < self.readings.size
        return inside & self.readings[np.where(inside, columns, 0)]


def pairs_of(parts: Sequence[BlockPart], count: int) -> tuple[Indices, Indices]:
    """Return the rows of a block and the readings that they depend on, pair by pair."""
    rows = [explicit(part.rows, count) for part in parts]
    columns = [
        explicit(0 if part.columns is None else part.columns, row.size)
        for part, row in zip(parts, rows, strict=True)
    ]
    return np.concatenate(rows), np.concatenate(columns)


def directions_of(component: Component, rows: Indices, columns: Indices) -> list[Direction]:
    """Return the directions of one component for rows that depend on certain readings.

    Parameters
    ----------
    component : Component
    rows, columns : ndarray of int
        Pairs of a row and a reading that it depends on, none of them twice.
    """
    if component.scope == "shared":
        return [Direction(component, None)]
    colours = coloured(rows, columns)
    if not colours.any():
        return [Direction(component, None)]
    return [Direction(component, colours == colour) for colour in range(int(colours.max()) + 1)]


def coloured(rows: Indices, columns: Indices) -> Indices:
    """Give every reading a colour, counted from 0, so that no row has two readings of one colour.

    Readings are coloured one after the other with the first colour that is free in all
    their rows. Readings that occur nowhere get 0.
    """
    colours = np.zeros(int(columns.max(initial=0)) + 1, dtype=np.intp)
    fullest = int(np.bincount(rows).max(initial=0))
    if fullest <= 1:
        return colours
    order = np.argsort(columns, kind="stable")
    readings, starts = np.unique(columns[order], return_index=True)
    if fullest == readings.size:
        # a row that depends on all of them leaves no choice
        colours[readings] = np.arange(readings.size)
        return colours
    taken = np.zeros((int(rows.max()) + 1, fullest), dtype=bool)
    for reading, rows_of_it in zip(
        readings.tolist(), np.split(rows[order], starts[1:]), strict=True
    ):
        used = taken[rows_of_it].any(axis=0)
        if used.all():
            taken = np.pad(taken, ((0, 0), (0, taken.shape[1])))
            colour = used.size
        else:
            colour = int(np.argmin(used))
        colours[reading] = colour
        taken[rows_of_it, colour] = True
    return colours
