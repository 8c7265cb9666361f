"""Which output rows depend on which readings: the bookkeeping of the backward sweep.

Where readings are picked, joined or summed, row ``i`` of the output may depend on other readings
of an input than reading ``i``. A `Piece` holds weights together with that pattern; the usual
patterns (a run of readings, one reading for all rows) need no index arrays.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.operations import Weight
from flowunc.core.record import Node, Take

__all__ = [
    "FEW_READINGS",
    "Columns",
    "Indices",
    "Piece",
    "Rows",
    "add_to_rows",
    "coalesce",
    "disjoint",
    "entries_in",
    "explicit",
    "pattern_key",
    "rows_of",
    "spread_over",
    "through_concatenate",
    "through_take",
    "through_total",
]

Indices = NDArray[np.intp]
Rows = None | slice | Indices
Columns = slice | int | Indices

MOST_EMPTY = 4  # a table of pairs may be this many times larger than what stands in it
FEW_READINGS = 8  # a sum over so few readings is carried as one piece for each


class Piece(NamedTuple):
    """Weights with which readings of a node enter rows of the output block.

    ``rows`` is None when entry ``i`` belongs to block row ``i``, a slice for a run of rows.
    ``columns`` are the readings of the node: a run (slice), one reading for all entries (int),
    or one per entry (array). ``weight`` is a number where it is the same for all entries.
    """

    rows: Rows
    columns: Columns
    weight: Weight


def rows_of(node: Node) -> int:
    """Return the number of output rows of a node: a scalar counts as one."""
    return 1 if node.size is None else node.size


def entries_in(rows: Rows, count: int) -> int:
    """Return the number of entries of a piece over a block of ``count`` rows."""
    if rows is None:
        return count
    return rows.stop - rows.start if isinstance(rows, slice) else rows.size


def explicit(pattern: Rows | Columns, entries: int) -> Indices:
    """Return rows or columns as an index array with one entry each."""
    if pattern is None:
        return np.arange(entries)
    if isinstance(pattern, slice):
        return np.arange(pattern.start, pattern.stop)
    if isinstance(pattern, np.ndarray):
        return pattern
    return np.full(entries, pattern, dtype=np.intp)


def add_to_rows(total: NDArray[np.float64], rows: Rows, values: Any) -> None:
    """Add values to the rows they belong to, in place; a row may stand several times."""
    if rows is None:
        total += values
    elif isinstance(rows, slice):
        total[rows] += values
    else:
        total += np.bincount(rows, np.broadcast_to(values, rows.shape), total.size)


def pattern_key(piece: Piece) -> tuple[Any, ...]:
    """Return what is equal for pieces whose weights may be added."""
    return _part_of_key(piece.rows) + _part_of_key(piece.columns)


def _part_of_key(pattern: Rows | Columns) -> tuple[Any, ...]:
    if isinstance(pattern, slice):
        return pattern.start, pattern.stop
    if isinstance(pattern, np.ndarray):
        return id(pattern), "array"
    return (pattern, None)


def through_take(node: Node, operation: Take, piece: Piece) -> Piece:
    """Carry a piece from picked readings to the readings they were picked from."""
    index, columns = operation.index, piece.columns
    onward: Columns
    if node.inputs[0].size == 1:
        onward = 0
    elif isinstance(index, int):
        onward = index
    elif isinstance(index, np.ndarray):
        picked: Any = index[columns]
        onward = picked if np.ndim(picked) else int(picked)
    elif isinstance(columns, slice):
        onward = slice(index.start + columns.start, index.start + columns.stop)
    else:
        onward = columns + index.start
    return Piece(piece.rows, onward, piece.weight)


def through_concatenate(node: Node, piece: Piece, count: int) -> Iterator[tuple[Node, Piece]]:
    """Share a piece out to the nodes that were joined."""
    bounds = np.cumsum([0] + [rows_of(child) for child in node.inputs])
    columns = piece.columns
    if isinstance(columns, int):
        which = int(np.searchsorted(bounds, columns, side="right")) - 1
        yield node.inputs[which], piece._replace(columns=columns - int(bounds[which]))
        return
    if isinstance(columns, slice):
        low = int(np.searchsorted(bounds, columns.start, side="right")) - 1
        high = int(np.searchsorted(bounds, columns.stop, side="left"))
        for which in range(low, high):
            begin = max(columns.start, int(bounds[which]))
            end = min(columns.stop, int(bounds[which + 1]))
            entries: slice | Indices = slice(begin - columns.start, end - columns.start)
            onward = slice(begin - int(bounds[which]), end - int(bounds[which]))
            if begin < end:
                yield _restricted(node.inputs[which], piece, count, entries, onward)
        return
    child_of = np.searchsorted(bounds, columns, side="right") - 1
    for which in np.unique(child_of):
        entries = np.flatnonzero(child_of == which)
        yield _restricted(
            node.inputs[which], piece, count, entries, columns[entries] - bounds[which]
        )


def _restricted(
    child: Node, piece: Piece, count: int, entries: slice | Indices, onward: slice | Indices
) -> tuple[Node, Piece]:
    weight = piece.weight[entries] if np.ndim(piece.weight) else piece.weight
    columns: Columns = 0 if child.size in (None, 1) else onward
    if isinstance(piece.rows, np.ndarray):
        return child, Piece(piece.rows[entries], columns, weight)
    if isinstance(entries, slice):
        first = 0 if piece.rows is None else piece.rows.start
        run = slice(first + entries.start, first + entries.stop)
        whole = run.start == 0 and run.stop == count
        return child, Piece(None if whole else run, columns, weight)
    rows = explicit(piece.rows, count)
    return child, Piece(rows[entries], columns, weight)


def through_total(node: Node, piece: Piece, count: int) -> Iterator[Piece]:
    """Carry a piece from a sum to every reading in it."""
    readings = rows_of(node.inputs[0])
    ones = np.ones(readings)
    yield from spread_over(piece, np.arange(readings), ones, count)


def spread_over(
    piece: Piece, columns: Indices, factors: NDArray[np.float64], count: int
) -> Iterator[Piece]:
    """Carry a piece from a scalar to readings that enter it with given factors."""
    if columns.size <= FEW_READINGS:
        for column, factor in zip(columns.tolist(), factors.tolist(), strict=True):
            yield piece._replace(columns=column, weight=piece.weight * factor)
        return
    rows = explicit(piece.rows, count)
    weight = np.outer(np.broadcast_to(piece.weight, rows.shape), factors).ravel()
    run = rows.size == 1 and int(columns[-1] - columns[0]) == columns.size - 1
    onward: slice | Indices
    if run and bool(np.all(np.diff(columns) == 1)):
        onward = slice(int(columns[0]), int(columns[-1]) + 1)
    else:
        onward = np.tile(columns, rows.size)
    yield Piece(np.repeat(rows, columns.size), onward, weight)


def disjoint(pieces: list[Piece], count: int) -> list[Piece]:
    """Join pieces so that no (row, reading) stands twice."""
    if len(pieces) > 1:
        merged: dict[tuple[Any, ...], Piece] = {}
        for piece in pieces:
            key = pattern_key(piece)
            present = merged.get(key)
            if present is not None:
                piece = piece._replace(weight=present.weight + piece.weight)
            merged[key] = piece
        pieces = list(merged.values())
    if len(pieces) == 1:
        # one entry a row, or one entry a reading
        apart = not isinstance(pieces[0].rows, np.ndarray) or isinstance(pieces[0].columns, slice)
    else:
        apart = all(piece.rows is None and isinstance(piece.columns, int) for piece in pieces)
    return pieces if apart else [coalesce(pieces, count)]


def coalesce(pieces: list[Piece], count: int, readings: int | None = None) -> Piece:
    """Merge pieces into one with explicit rows and readings, equal pairs added up."""
    rows, columns, weights = [], [], []
    for piece in pieces:
        row = explicit(piece.rows, count)
        rows.append(row)
        columns.append(explicit(piece.columns, row.size))
        weights.append(np.broadcast_to(piece.weight, row.shape))
    all_rows, all_columns = np.concatenate(rows), np.concatenate(columns)
    all_weights = np.concatenate(weights)
    width = int(all_columns.max(initial=0)) + 1 if readings is None else readings
    place = all_rows * width + all_columns
    if place.size * MOST_EMPTY > count * width:
        # nearly every pair occurs (deviations from a mean): a full table needs no sorting
        table = np.bincount(place, all_weights, count * width)
        occurs = np.flatnonzero(np.bincount(place, minlength=count * width))
        return Piece(occurs // width, occurs % width, table[occurs])
    pairs, inverse = np.unique(place, return_inverse=True)
    return Piece(pairs // width, pairs % width, np.bincount(inverse, all_weights, pairs.size))
