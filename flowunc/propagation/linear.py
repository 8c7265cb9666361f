"""The linear engine: the law of propagation by one backward sweep over the record.

The adjoint (the weight with which a node enters the output) is carried from the output to
the inputs, reading by reading, so one sweep gives the sensitivity to *every* component at
a cost that does not depend on their number. Output rows are processed in blocks that stay
in cache. Source: [JCGM 100, 5.1.2, eq. 10]; the sweep is the chain rule itself, no step to
choose.

Scalars behind readings (bore, angle, a zero offset) are differentiated once, not once per
row: the sweep over readings ends at them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise
from flowunc.core.record import Concatenate, Input, Node, Take, topological_order
from flowunc.propagation.missing_slope import why_not_finite
from flowunc.propagation.pieces import (
    FEW_READINGS,
    Columns,
    Indices,
    Piece,
    Rows,
    add_to_rows,
    coalesce,
    disjoint,
    entries_in,
    explicit,
    pattern_key,
    rows_of,
    spread_over,
    through_concatenate,
    through_take,
    through_total,
)
from flowunc.propagation.products import products
from flowunc.propagation.sums import MOST_ENTRIES, Spread, variance_with_sums

__all__ = ["BlockPart", "Sweep", "standard_uncertainty"]

Values = NDArray[np.float64]

BLOCK = 16_384  # output rows a sweep: intermediate arrays of 128 kB stay in a 2 MB cache
MOST_PIECES = 4  # more different row-to-reading patterns at one node are merged into one
SMALLEST, LARGEST = 1e-280, 1e280  # variances beyond are computed again, scaled


class BlockPart(NamedTuple):
    """What one component contributes to the output rows of one block.

    ``values`` are contributions (sensitivity times standard uncertainty, signed). For a
    shared component ``rows`` and ``columns`` are None: one value per row. For readings of
    their own, ``columns`` says which reading; ``rows`` is None when there is one per row.
    """

    rows: Rows
    columns: Columns | None
    values: Values


class Reached:
    """What a sweep over a block has brought to the components so far.

    Sums over many readings are kept as products of a row and a reading factor unless every
    weight is to be ``written_out``.
    """

    def __init__(self, count: int, *, written_out: bool) -> None:
        self.count = count
        self.written_out = written_out
        self.shared: dict[Component, Values] = {}
        self.each: dict[Component, list[Piece]] = {}
        self.sums: dict[Component, list[Spread]] = {}

    def add_shared(self, component: Component, rows: Rows, values: Values) -> None:
        """Add contributions of a component that all readings share."""
        present = self.shared.get(component)
        if present is None and rows is None:
            self.shared[component] = values
            return
        total = np.zeros(self.count) if present is None else present.copy()
        add_to_rows(total, rows, values)
        self.shared[component] = total


def standard_uncertainty(node: Node) -> Values:
    """Return u of every reading in coherent SI, shape () or (n,) as the value."""
    result = np.zeros(rows_of(node))
    if node.active:
        sweep = Sweep(node)
        for rows in sweep.blocks():
            result[rows] = sweep.standard_uncertainty(rows)
            if not np.isfinite(result[rows]).all():
                raise PropagationError(why_not_finite(node, rows))
    return result.reshape(node.value.shape)


class Sweep:
    """The backward sweep from one output, prepared once and run block by block.

    Parameters
    ----------
    output : Node
    """

    def __init__(self, output: Node) -> None:
        self.output = output
        everything = topological_order([output], active_only=True)
        self._products = products(everything)
        # below a scalar output there is no row to save, so its scalars are swept like the rest
        self._ends_at_scalars = output.size is not None
        self._order = self._down_to_ends(everything)
        self._gradients: dict[int, dict[Component, list[BlockPart]]] = {}
        self._lone_variance: dict[int, Any] = {}
        behind: dict[int, tuple[Component, ...]] = {}
        for node in self._order:
            if self._is_end(node):
                behind[id(node)] = self._components_of(node)
        self.components = dict.fromkeys(c for found in behind.values() for c in found)
        uses = Counter(c for found in behind.values() for c in set(found))
        for node in self._order:
            own = behind.get(id(node), ())
            # once in the whole record, and once in its own input
            if own and len(set(own)) == len(own) and all(uses[c] == 1 for c in own):
                self._lone_variance[id(node)] = self._variance_of_end(node)

    def blocks(self, *, written_out: bool = False) -> Iterator[slice]:
        """Return the blocks of output rows.

        With ``written_out``, blocks whose every weight fits into memory, where a row depends
        on many readings.
        """
        count = rows_of(self.output)
        step = self._rows_written_out() if written_out else BLOCK
        return (slice(start, min(start + step, count)) for start in range(0, count, step))

    def _rows_written_out(self) -> int:
        """Return how many rows fit into memory with a weight for every reading behind them."""
        widest = max(
            (
                part.values.size
                for gradient in self._gradients.values()
                for found in gradient.values()
                for part in found
            ),
            default=1,
        )
        return int(np.clip(MOST_ENTRIES // widest, 1, BLOCK))

    def parts(self, rows: slice) -> dict[Component, list[BlockPart]]:
        """Return what each component contributes to a block, in the order of the record.

        No (row, reading) stands in two parts of one list.
        """
        count = rows.stop - rows.start
        reached = Reached(count, written_out=True)
        shared, each = reached.shared, reached.each
        with np.errstate(all="ignore"):
            for node, pieces in self._arrivals(rows):
                for piece in pieces:
                    self._into_components(node, piece, reached)
            found: dict[Component, list[BlockPart]] = {}
            for component in self.components:
                if component in shared:
                    found[component] = [BlockPart(None, None, shared[component])]
                elif component in each:
                    found[component] = [
                        BlockPart(*piece) for piece in disjoint(each[component], count)
                    ]
        return found

    def standard_uncertainty(self, rows: slice) -> Values:
        """Return u of the rows of a block, coherent SI."""
        count = rows.stop - rows.start
        variance = np.zeros(count)
        reached = Reached(count, written_out=False)
        with np.errstate(all="ignore"):
            for node, pieces in self._arrivals(rows):
                lone = self._lone_variance.get(id(node))
                for piece in pieces:
                    one_a_row = not isinstance(piece.rows, np.ndarray)
                    if lone is not None and len(pieces) == 1 and one_a_row:
                        # components met nowhere else: their squares share the square of the weight
                        own = lone[piece.columns] if np.ndim(lone) else lone
                        square = np.square(piece.weight)
                        square *= own
                        add_to_rows(variance, piece.rows, square)
                    else:
                        self._into_components(node, piece, reached)
            for values in reached.shared.values():
                variance += np.square(values)
            for component in {**reached.each, **reached.sums}:
                found = disjoint(reached.each.get(component, []), count)
                if component in reached.sums:
                    variance += variance_with_sums(found, reached.sums[component], count)
                    continue
                for piece in found:
                    add_to_rows(variance, piece.rows, np.square(piece.weight))
            usual = variance.min() > SMALLEST and variance.max() < LARGEST
            outside = None if usual else ~((variance > SMALLEST) & (variance < LARGEST))
            root = np.sqrt(variance, out=variance)
            if outside is not None:
                self._write_out(np.flatnonzero(outside), rows, root)
            return root

    def _write_out(self, extreme: Indices, rows: slice, root: Values) -> None:
        """Compute again the rows of a block whose squares left the range of float64."""
        step = self._rows_written_out()
        for run in np.split(extreme, np.flatnonzero(np.diff(extreme) > 1) + 1):
            for first in range(int(run[0]), int(run[-1]) + 1, step):
                last = min(first + step, int(run[-1]) + 1)
                root[first:last] = self._scaled_root(slice(rows.start + first, rows.start + last))

    def _scaled_root(self, rows: slice) -> Values:
        """Return u where squares leave the range of float64 but the contributions do not."""
        count = rows.stop - rows.start
        parts = [part for found in self.parts(rows).values() for part in found]
        largest = np.zeros(count)
        for part in parts:
            np.maximum.at(largest, explicit(part.rows, count), np.abs(part.values))
        scale = np.where(largest > 0, largest, 1.0)
        variance = np.zeros(count)
        for part in parts:
            by_entry = scale if part.rows is None else scale[part.rows]
            add_to_rows(variance, part.rows, np.square(part.values / by_entry))
        root: Values = scale * np.sqrt(variance)
        return root

    def _is_end(self, node: Node) -> bool:
        if isinstance(node.operation, Input):
            return True
        return self._ends_at_scalars and node.size is None

    def _down_to_ends(self, everything: list[Node]) -> list[Node]:
        """Return the nodes to sweep through, inputs first."""
        reached = {id(self.output)}
        downwards: list[Node] = []
        for node in reversed(everything):
            if id(node) in reached:
                steps = [node]
                if id(node) in self._products:  # all factors that are no readings, as one
                    steps += [factor for factor in self._step(node).inputs if factor.size is None]
                for step in steps:
                    if not self._is_end(step):
                        inputs = self._step(step).inputs
                        reached.update(id(child) for child in inputs if child.active)
                downwards += steps
        return downwards[::-1]

    def _step(self, node: Node) -> Node:
        """Return what to sweep through at a node: a product of several steps is one."""
        return self._products.get(id(node), node)

    def _components_of(self, node: Node) -> tuple[Component, ...]:
        if isinstance(node.operation, Input):
            return tuple(term.component for term in node.operation.terms)
        return tuple(self._gradient(node))

    def _gradient(self, node: Node) -> dict[Component, list[BlockPart]]:
        """Return the contributions to a scalar on which readings depend, found once."""
        found = self._gradients.get(id(node))
        if found is None:
            found = self._gradients[id(node)] = Sweep(node).parts(slice(0, 1))
        return found

    def _variance_of_end(self, node: Node) -> Any:
        """Return the variance of an end itself, a number or one per reading."""
        with np.errstate(all="ignore"):
            if isinstance(node.operation, Input):
                return sum(np.square(term.width) for term in node.operation.terms)
            return sum(
                float(np.square(part.values).sum())
                for found in self._gradient(node).values()
                for part in found
            )

    def _arrivals(self, rows: slice) -> Iterator[tuple[Node, list[Piece]]]:
        """Run the sweep over a block and yield each end with the pieces that reached it."""
        count = rows.stop - rows.start
        whole: slice | int = 0 if self.output.size in (None, 1) else rows
        first = Piece(None, whole, 1.0)
        waiting: dict[int, dict[Any, Piece]] = {id(self.output): {pattern_key(first): first}}
        for node in reversed(self._order):
            arrived = waiting.pop(id(node), None)
            if arrived is None:
                continue
            pieces = list(arrived.values())
            if len(pieces) > MOST_PIECES:
                pieces = _fewer(pieces, count, rows_of(node))
            if self._is_end(node):
                yield node, pieces
                continue
            node = self._step(node)
            operation = node.operation
            for piece in pieces:
                if isinstance(operation, Elementwise):
                    _through_elementwise(node, operation, piece, waiting)
                elif isinstance(operation, Take):
                    _send(waiting, node.inputs[0], through_take(node, operation, piece))
                elif isinstance(operation, Concatenate):
                    for child, part in through_concatenate(node, piece, count):
                        _send(waiting, child, part)
                else:
                    for part in through_total(node, piece, count):
                        _send(waiting, node.inputs[0], part)

    def _into_components(self, node: Node, piece: Piece, reached: Reached) -> None:
        """Carry a piece from an end to the components behind it."""
        entries = entries_in(piece.rows, reached.count)
        if not isinstance(node.operation, Input):
            weight = np.broadcast_to(piece.weight, (entries,))
            self._into_scalar(node, piece._replace(weight=weight), reached)
            return
        for term in node.operation.terms:
            width: Any = term.width
            values = piece.weight * (width[piece.columns] if np.ndim(width) else width)
            if np.ndim(values) == 0:
                values = np.full(entries, values)
            if term.component.scope == "each":
                found = reached.each.setdefault(term.component, [])
                found.append(Piece(piece.rows, piece.columns, values))
            else:
                reached.add_shared(term.component, piece.rows, values)

    def _into_scalar(self, node: Node, piece: Piece, reached: Reached) -> None:
        for component, found in self._gradient(node).items():
            for part in found:
                if component.scope == "shared":
                    reached.add_shared(component, piece.rows, piece.weight * part.values[0])
                    continue
                columns: Any = part.columns
                if not reached.written_out and part.values.size > FEW_READINGS:
                    spread_out = Spread(piece.rows, piece.weight, columns, part.values)
                    reached.sums.setdefault(component, []).append(spread_out)
                    continue
                readings = explicit(columns, part.values.size)
                spread = spread_over(piece, readings, part.values, reached.count)
                reached.each.setdefault(component, []).extend(spread)


def _fewer(pieces: list[Piece], count: int, readings: int) -> list[Piece]:
    """Merge pieces with readings of their own; one reading for all rows is small as it is."""
    whole = [piece for piece in pieces if isinstance(piece.columns, int)]
    spread = [piece for piece in pieces if not isinstance(piece.columns, int)]
    return whole + ([coalesce(spread, count, readings)] if spread else [])


def _send(waiting: dict[int, dict[Any, Piece]], node: Node, piece: Piece) -> None:
    """Add a piece to what has reached a node; equal patterns add up."""
    if not node.active:
        return
    arrived = waiting.get(id(node))
    key = pattern_key(piece)
    if arrived is None:
        waiting[id(node)] = {key: piece}
        return
    present = arrived.get(key)
    if present is not None:
        piece = Piece(piece.rows, piece.columns, present.weight + piece.weight)
    arrived[key] = piece


def _values_at(node: Node, columns: Columns) -> Values:
    if node.size is None:
        return node.value
    if node.size == 1:
        single: Values = node.value[0]
        return single
    picked: Values = node.value[columns]
    return picked


def _through_elementwise(
    node: Node, operation: Elementwise, piece: Piece, waiting: dict[int, dict[Any, Piece]]
) -> None:
    columns = piece.columns
    if node.slope is not None:
        slope = node.slope[0 if node.size == 1 else columns]
        own: Columns = 0 if node.size == 1 else columns
        _send(waiting, node.inputs[0], Piece(piece.rows, own, piece.weight * slope))
        return
    values = tuple([_values_at(child, columns) for child in node.inputs])
    needed = tuple([child.active for child in node.inputs])
    weights = operation.pull(piece.weight, values, _values_at(node, columns), needed)
    for child, weight in zip(node.inputs, weights, strict=True):
        if child.active:
            own = 0 if child.size in (None, 1) else columns
            _send(waiting, child, Piece(piece.rows, own, weight))
