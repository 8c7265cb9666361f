"""The linear engine: the law of propagation by one backward sweep over the record.

The adjoint (the weight with which a node enters the output) is carried from the output to
the inputs, reading by reading, so one sweep gives the sensitivity to *every* component at
a cost that does not depend on their number. Output rows are processed in blocks that stay
in cache. Source: [JCGM 100, 5.1.2, eq. 10]; the sweep is the chain rule itself, no step to
choose.

Where readings are picked, joined or summed, row ``i`` of the output may depend on other
readings of an input. A `Piece` therefore says which output rows depend on which readings.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise, Weight
from flowunc.core.record import Concatenate, Input, Node, Take, topological_order

__all__ = ["BlockPart", "Piece", "block_parts", "coalesce", "rows_of", "standard_uncertainty"]

Indices = NDArray[np.intp]

BLOCK = 8192  # output rows a sweep; 30 arrays of 64 kB stay inside a 2 MB cache
MOST_PIECES = 4  # more different row-to-reading patterns at one node are merged into one
FEW_READINGS = 8  # a sum over so few readings is carried as one piece for each


class Piece(NamedTuple):
    """Weights with which readings of a node enter rows of the output block.

    ``rows`` is None when entry ``i`` belongs to block row ``i``. ``columns`` are the readings
    of the node: a run (slice), one reading for all entries (int), or one per entry (array).
    ``weight`` is a number where it is the same for all entries.
    """

    rows: Indices | None
    columns: slice | int | Indices
    weight: Weight


class BlockPart(NamedTuple):
    """What one component contributes to the output rows of one block.

    ``values`` are contributions (sensitivity times standard uncertainty, signed). For a
    shared component ``rows`` and ``columns`` are None: one value per row. For readings of
    their own, ``columns`` says which reading; ``rows`` is None when there is one per row.
    """

    rows: Indices | None
    columns: slice | int | Indices | None
    values: NDArray[np.float64]


def rows_of(node: Node) -> int:
    """Return the number of output rows of a node: a scalar counts as one."""
    return 1 if node.size is None else node.size


def block_parts(node: Node) -> Iterator[tuple[slice, dict[Component, list[BlockPart]]]]:
    """Sweep the record behind ``node`` block by block.

    Yields
    ------
    rows : slice
        Output rows of this block.
    parts : dict of Component to list of BlockPart
        In the order of the record. No (row, reading) stands in two parts of a list.
    """
    order = topological_order([node], active_only=True)
    count = rows_of(node)
    for start in range(0, count, BLOCK):
        stop = min(start + BLOCK, count)
        with np.errstate(all="ignore"):
            parts = _sweep(order, node, start, stop)
        yield slice(start, stop), parts


def standard_uncertainty(node: Node) -> NDArray[np.float64]:
    """Return u of every reading in coherent SI, shape () or (n,) as the value."""
    result = np.zeros(rows_of(node))
    if node.active:
        for rows, parts in block_parts(node):
            with np.errstate(all="ignore"):
                every = [part for disjoint in parts.values() for part in disjoint]
                result[rows] = _root_sum_of_squares(every, rows.stop - rows.start)
            if not np.isfinite(result[rows]).all():
                raise PropagationError(_why_not_finite(node, rows))
    return result.reshape(node.value.shape)


def _root_sum_of_squares(parts: list[BlockPart], count: int) -> NDArray[np.float64]:
    variance = np.zeros(count)
    for part in parts:
        variance += squares_per_row(part, count)
    # squares leave the range of float64 long before the contributions do
    extreme = ~((variance > 1e-280) & (variance < 1e280))
    if not extreme.any():
        return np.sqrt(variance, out=variance)
    largest = np.zeros(count)
    for part in parts:
        if part.rows is None:
            np.maximum(largest, np.abs(part.values), out=largest)
        else:
            np.maximum.at(largest, part.rows, np.abs(part.values))
    scale = np.where(largest > 0, largest, 1.0)
    variance[:] = 0.0
    for part in parts:
        by_entry = scale if part.rows is None else scale[part.rows]
        variance += squares_per_row(part._replace(values=part.values / by_entry), count)
    root: NDArray[np.float64] = scale * np.sqrt(variance)
    return root


def squares_per_row(part: BlockPart, count: int) -> NDArray[np.float64]:
    """Return the variance that a part adds to each row of its block."""
    if part.rows is None:
        return np.square(part.values)
    return np.bincount(part.rows, np.square(part.values), count).astype(np.float64, copy=False)


def _sweep(
    order: list[Node], output: Node, start: int, stop: int
) -> dict[Component, list[BlockPart]]:
    count = stop - start
    first: slice | int = 0 if output.size in (None, 1) else slice(start, stop)
    waiting: dict[int, dict[Any, Piece]] = {
        id(output): {(None, _key(first)): Piece(None, first, 1.0)}
    }
    shared: dict[Component, NDArray[np.float64]] = {}
    each: dict[Component, list[Piece]] = {}
    for node in reversed(order):
        arrived = waiting.pop(id(node), None)
        if arrived is None:
            continue
        pieces = list(arrived.values())
        if len(pieces) > MOST_PIECES:
            whole = [piece for piece in pieces if isinstance(piece.columns, int)]
            spread = [piece for piece in pieces if not isinstance(piece.columns, int)]
            pieces = whole + ([coalesce(spread, count, rows_of(node))] if spread else [])
        operation = node.operation
        for piece in pieces:
            if isinstance(operation, Elementwise):
                _through_elementwise(node, operation, piece, waiting)
            elif isinstance(operation, Input):
                _into_components(node, operation, piece, count, shared, each)
            elif isinstance(operation, Take):
                _send(waiting, node.inputs[0], _through_take(node, operation, piece))
            elif isinstance(operation, Concatenate):
                for child, part in _through_concatenate(node, piece, count):
                    _send(waiting, child, part)
            else:
                for part in _through_total(node, piece, count):
                    _send(waiting, node.inputs[0], part)
    parts: dict[Component, list[BlockPart]] = {}
    for node in order:
        if isinstance(node.operation, Input):
            for term in node.operation.terms:
                component = term.component
                if component in parts:
                    continue
                if component in shared:
                    parts[component] = [BlockPart(None, None, shared[component])]
                elif component in each:
                    parts[component] = _disjoint(each[component], count)
    return parts


def _key(pattern: slice | int | Indices | None) -> Any:
    if isinstance(pattern, slice):
        return pattern.start, pattern.stop
    if isinstance(pattern, np.ndarray):
        return id(pattern), "array"
    return pattern


def _send(waiting: dict[int, dict[Any, Piece]], node: Node, piece: Piece) -> None:
    """Add a piece to what has reached a node; equal patterns add up."""
    if not node.active:
        return
    arrived = waiting.setdefault(id(node), {})
    key = (_key(piece.rows), _key(piece.columns))
    present = arrived.get(key)
    if present is not None:
        piece = Piece(piece.rows, piece.columns, present.weight + piece.weight)
    arrived[key] = piece


def _values_at(node: Node, columns: slice | int | Indices) -> NDArray[np.float64]:
    if node.size is None:
        return node.value
    if node.size == 1:
        single: NDArray[np.float64] = node.value[0]
        return single
    picked: NDArray[np.float64] = node.value[columns]
    return picked


def _through_elementwise(
    node: Node, operation: Elementwise, piece: Piece, waiting: dict[int, dict[Any, Piece]]
) -> None:
    values = tuple(_values_at(child, piece.columns) for child in node.inputs)
    needed = tuple(child.active for child in node.inputs)
    result = _values_at(node, piece.columns)
    weights = operation.pull(piece.weight, values, result, needed)
    for child, weight, wanted in zip(node.inputs, weights, needed, strict=True):
        if wanted:
            columns = 0 if child.size in (None, 1) else piece.columns
            _send(waiting, child, Piece(piece.rows, columns, weight))


def _through_take(node: Node, operation: Take, piece: Piece) -> Piece:
    index, columns = operation.index, piece.columns
    onward: slice | int | Indices
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


def _through_concatenate(node: Node, piece: Piece, count: int) -> Iterator[tuple[Node, Piece]]:
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
    child: Node,
    piece: Piece,
    count: int,
    entries: slice | Indices,
    onward: slice | Indices,
) -> tuple[Node, Piece]:
    rows = np.arange(count)[entries] if piece.rows is None else piece.rows[entries]
    weight = piece.weight[entries] if np.ndim(piece.weight) else piece.weight
    columns: slice | int | Indices = 0 if child.size in (None, 1) else onward
    whole = piece.rows is None and rows.size == count
    return child, Piece(None if whole else rows, columns, weight)


def _through_total(node: Node, piece: Piece, count: int) -> Iterator[Piece]:
    readings = rows_of(node.inputs[0])
    if readings <= FEW_READINGS:
        for reading in range(readings):
            yield piece._replace(columns=reading)
        return
    rows = np.arange(count) if piece.rows is None else piece.rows
    weight = piece.weight
    if np.ndim(weight):
        weight = np.repeat(weight, readings)
    columns: slice | Indices = slice(0, readings)
    if rows.size > 1:
        columns = np.tile(np.arange(readings), rows.size)
    yield Piece(np.repeat(rows, readings), columns, weight)


def _into_components(
    node: Node,
    operation: Input,
    piece: Piece,
    count: int,
    shared: dict[Component, NDArray[np.float64]],
    each: dict[Component, list[Piece]],
) -> None:
    entries = count if piece.rows is None else piece.rows.size
    for term in operation.terms:
        component = term.component
        gain: Any = term.gain
        if np.ndim(gain):
            gain = gain[piece.columns]
        spread: Any = component.distribution.standard_uncertainty
        if np.ndim(spread):
            spread = spread[piece.columns]
        values = piece.weight * (gain * spread)
        if np.ndim(values) == 0:
            values = np.full(entries, values)
        if component.scope == "each":
            each.setdefault(component, []).append(Piece(piece.rows, piece.columns, values))
            continue
        if piece.rows is not None:
            values = np.bincount(piece.rows, weights=values, minlength=count)
        present = shared.get(component)
        shared[component] = values if present is None else present + values


def _disjoint(pieces: list[Piece], count: int) -> list[BlockPart]:
    """Join the pieces of one component so that no (row, reading) stands twice."""
    merged: dict[Any, Piece] = {}
    for piece in pieces:
        key = (_key(piece.rows), _key(piece.columns))
        present = merged.get(key)
        merged[key] = (
            piece if present is None else piece._replace(weight=present.weight + piece.weight)
        )
    kept = list(merged.values())
    if len(kept) == 1:
        apart = kept[0].rows is None or isinstance(kept[0].columns, slice)
    else:
        apart = all(piece.rows is None and isinstance(piece.columns, int) for piece in kept)
    if not apart:
        kept = [coalesce(kept, count)]
    return [BlockPart(piece.rows, piece.columns, piece.weight) for piece in kept]


def coalesce(pieces: list[Piece], count: int, readings: int | None = None) -> Piece:
    """Merge pieces into one with explicit rows and readings, equal pairs added up."""
    rows, columns, weights = [], [], []
    for piece in pieces:
        row = np.arange(count) if piece.rows is None else piece.rows
        column = piece.columns
        if isinstance(column, slice):
            column = np.arange(column.start, column.stop)
        rows.append(row)
        columns.append(np.broadcast_to(column, row.shape))
        weights.append(np.broadcast_to(piece.weight, row.shape))
    all_rows, all_columns = np.concatenate(rows), np.concatenate(columns)
    width = int(all_columns.max(initial=0)) + 1 if readings is None else readings
    pairs, inverse = np.unique(all_rows * width + all_columns, return_inverse=True)
    weight = np.bincount(inverse, weights=np.concatenate(weights), minlength=pairs.size)
    return Piece(pairs // width, pairs % width, weight)


def _why_not_finite(node: Node, rows: slice) -> str:
    """Find the operation whose derivative does not exist and say where."""
    with np.errstate(all="ignore"):
        for step in topological_order([node], active_only=True):
            operation = step.operation
            if not isinstance(operation, Elementwise):
                continue
            values = tuple(child.value for child in step.inputs)
            needed = tuple(child.active for child in step.inputs)
            slopes = operation.pull(1.0, values, step.value, needed)
            for slope in [slope for slope, wanted in zip(slopes, needed, strict=True) if wanted]:
                bad = np.flatnonzero(~np.isfinite(np.atleast_1d(slope)))
                if bad.size:
                    arguments = ", ".join(
                        f"{float(np.broadcast_to(v, step.value.shape).flat[bad[0]]):.6g}"
                        for v in values
                    )
                    return (
                        f"{operation.label}({arguments}) at reading {int(bad[0])} (SI) has no "
                        "derivative there, so the linear method has no answer: use "
                        ".monte_carlo() for this result"
                    )
    return (
        f"the linear uncertainty of rows {rows.start} to {rows.stop - 1} leaves the range of "
        "floating-point numbers: check the magnitudes of the readings"
    )
