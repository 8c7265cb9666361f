"""Variance of rows that depend on sums over many readings, such as deviations from a mean.

Each row of ``x - x.mean()`` depends on every reading. Written out that is a full table of
weights; but it is a sparse part plus products of a row factor and a reading factor, and the
variance follows from their inner products at a cost linear in the readings.

The inner products cancel where a row hardly depends on anything. Such rows are found by
comparing the result with its terms, and written out.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.propagation.pieces import Columns, Piece, Rows, add_to_rows, explicit

__all__ = ["Spread", "variance_with_sums"]

Values = NDArray[np.float64]

CANCELLED = 1e-4  # a variance below this share of its terms has lost four digits: write it out
MOST_ENTRIES = 1 << 22  # weights written out at a time


class Spread(NamedTuple):
    """Weights that are a row factor times a reading factor."""

    rows: Rows
    weight: Values
    columns: Columns
    factors: Values


def variance_with_sums(sparse: list[Piece], sums: list[Spread], count: int) -> Values:
    """Return the variance of each row of a block for one component with readings of its own.

    Parameters
    ----------
    sparse : list of Piece
        Weights of single readings; no (row, reading) stands twice.
    sums : list of Spread
        Weights on many readings at once.
    count : int
        Rows of the block.
    """
    readings = [explicit(s.columns, s.factors.size) for s in sums]
    columns = [explicit(p.columns, np.size(p.weight)) for p in sparse]
    width = 1 + max(int(c.max(initial=0)) for c in [*readings, *columns])
    by_reading = np.zeros((len(sums), width))
    by_row = np.zeros((len(sums), count))
    for position, (spread, places) in enumerate(zip(sums, readings, strict=True)):
        np.add.at(by_reading[position], places, spread.factors)
        add_to_rows(by_row[position], spread.rows, spread.weight)
    inner = by_reading @ by_reading.T
    variance = np.einsum("si,st,ti->i", by_row, inner, by_row)
    terms = np.einsum("si,st,ti->i", np.abs(by_row), np.abs(inner), np.abs(by_row))
    for piece, places in zip(sparse, columns, strict=True):
        rows = explicit(piece.rows, count)
        cross = 2.0 * piece.weight * np.einsum("sk,sk->k", by_row[:, rows], by_reading[:, places])
        square = np.square(piece.weight)
        add_to_rows(variance, rows, square + cross)
        add_to_rows(terms, rows, square + np.abs(cross))
    lost = np.flatnonzero(~(variance > CANCELLED * terms) & (terms > 0))
    step = max(1, MOST_ENTRIES // width)
    for start in range(0, lost.size, step):
        chosen = lost[start : start + step]
        table = by_row[:, chosen].T @ by_reading
        place = np.full(count, -1)
        place[chosen] = np.arange(chosen.size)
        for piece, places in zip(sparse, columns, strict=True):
            rows = place[explicit(piece.rows, count)]
            inside = rows >= 0
            weight = np.broadcast_to(piece.weight, rows.shape)
            np.add.at(table, (rows[inside], places[inside]), weight[inside])
        variance[chosen] = np.einsum("ij,ij->i", table, table)
    found: Values = variance
    return found
