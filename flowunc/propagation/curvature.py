"""Second and third derivatives of a result by all components: two sweeps of jets.

Forward over the record, along a few directions at once: every node gets its value with first
and second derivatives along them. Backward from the output with these jets as values: the
weight that reaches an input is the sensitivity to it, and carries its own first and second
derivatives along the same directions. So one pair of sweeps along direction j gives f_i, f_ij
and f_ijj for all i, in units of the standard uncertainties.

Only the readings that a block of output rows needs are computed. The cost is that of the
linear sweep times the number of directions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.apply import UserFunction
from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise
from flowunc.core.record import Concatenate, Input, Node, Take, topological_order
from flowunc.propagation.directions import Direction
from flowunc.propagation.jets import Jet, derivatives_of, unwrapped
from flowunc.propagation.pieces import (
    Columns,
    Indices,
    Piece,
    coalesce,
    disjoint,
    entries_in,
    explicit,
    pattern_key,
    rows_of,
    through_concatenate,
    through_take,
    through_total,
)

__all__ = ["Derivatives", "JetSweep"]

Values = NDArray[np.float64]
Waiting = dict[int, dict[Any, Piece]]

MOST_NUMBERS = 1 << 20  # in the first derivatives of all nodes at a time: 8 MB
MOST_PIECES = 4  # more different row-to-reading patterns at one node are merged into one


class Derivatives(NamedTuple):
    """Derivatives of the rows of a block by the errors of one component, times their u.

    ``rows`` and ``columns`` say which row each entry belongs to and which reading of the
    component it is about; no pair stands twice. ``first`` is f_i u_i; along each direction j,
    ``second`` is f_ij u_i u_j and ``third`` f_ijj u_i u_j^2, of shape (directions, entries).
    """

    component: Component
    rows: Indices
    columns: Indices
    first: Values
    second: Values
    third: Values


class JetSweep:
    """Both sweeps for a block of rows of one output.

    Parameters
    ----------
    output : Node
    rows : slice
        Rows of the block, with explicit bounds.

    Raises
    ------
    PropagationError
        A function without known second derivatives stands in the record.
    """

    def __init__(self, output: Node, rows: slice) -> None:
        self.output = output
        self.rows = rows
        self._count = rows.stop - rows.start
        order = topological_order([output], active_only=True)
        self._ranges = _ranges_behind(order, output, rows)
        self._order = [node for node in order if id(node) in self._ranges]
        for node in self._order:
            if isinstance(node.operation, UserFunction):
                raise PropagationError(
                    f"the function '{node.operation.name}' given to apply has no exact second "
                    "derivative, so the second-order method has no answer: use .monte_carlo() for "
                    "this result, or write the formula with quantities"
                )
        self._jets: dict[int, Jet] = {}

    def run(
        self, directions: Sequence[Direction], pairs: int
    ) -> Iterator[tuple[Sequence[Direction], list[Derivatives]]]:
        """Run the sweeps, along as many directions at a time as memory allows.

        Parameters
        ----------
        directions : sequence of Direction
        pairs : int
            Number of (row, reading) pairs of all components.
        """
        numbers = sum(stop - start for start, stop in self._ranges.values()) + pairs
        step = max(1, MOST_NUMBERS // numbers)
        for start in range(0, len(directions), step):
            chosen = directions[start : start + step]
            with np.errstate(all="ignore"):
                self._forward(chosen)
                found = self._backward(len(chosen))
            yield chosen, found

    # -- forward ---------------------------------------------------------------------------------
    def _forward(self, directions: Sequence[Direction]) -> None:
        self._jets = {}
        for node in self._order:
            start, stop = self._ranges[id(node)]
            operation = node.operation
            found: Any
            if isinstance(operation, Input):
                found = _seeded(node, operation, start, stop, directions)
            elif isinstance(operation, Elementwise):
                arguments = [self._at(child, slice(start, stop)) for child in node.inputs]
                found = unwrapped(_followed(operation, operation.evaluate, *arguments))
            elif isinstance(operation, Take):
                found = self._at(node.inputs[0], _picked(operation, start, stop))
            elif isinstance(operation, Concatenate):
                found = np.concatenate(self._joined(node, start, stop))
            else:
                found = self._at(node.inputs[0], slice(0, rows_of(node.inputs[0]))).total()
            if not isinstance(found, Jet):  # of the readings needed, none is uncertain
                nothing = np.zeros((len(directions), 1))
                found = Jet(np.atleast_1d(found), nothing, nothing)
            self._jets[id(node)] = _broadcast(found, stop - start)

    def _at(self, node: Node, columns: Columns) -> Any:
        """Return the values of some readings: a jet, or plain ones where nothing is uncertain."""
        alone = node.size in (None, 1)
        if not node.active:
            return np.ravel(node.value)[0] if alone else node.value[columns]
        jet, start = self._jets[id(node)], self._ranges[id(node)][0]
        if alone:
            return jet
        if isinstance(columns, slice):
            return jet[columns.start - start : columns.stop - start]
        if isinstance(columns, int):
            return jet[columns - start : columns - start + 1]
        return jet[columns - start]

    def _joined(self, node: Node, start: int, stop: int) -> list[Any]:
        parts: list[Any] = []
        before = 0
        for child in node.inputs:
            first, last = max(start - before, 0), min(stop - before, rows_of(child))
            if first < last:
                part = self._at(child, slice(first, last))
                parts.append(part if isinstance(part, Jet) else np.atleast_1d(part))
            before += rows_of(child)
        return parts

    # -- backward --------------------------------------------------------------------------------
    def _backward(self, directions: int) -> list[Derivatives]:
        whole: Columns = 0 if self.output.size in (None, 1) else self.rows
        waiting: Waiting = {}
        _send(waiting, self.output, Piece(None, whole, 1.0))
        arrived: dict[Component, list[Piece]] = {}
        for node in reversed(self._order):
            pieces = list(waiting.pop(id(node), {}).values())
            if len(pieces) > MOST_PIECES:
                pieces = [coalesce(pieces, self._count, rows_of(node))]
            for piece in pieces:
                if isinstance(node.operation, Input):
                    self._into_components(node.operation, piece, arrived)
                else:
                    self._through(node, piece, waiting)
        return [
            self._derivatives(component, pieces, directions)
            for component, pieces in arrived.items()
        ]

    def _through(self, node: Node, piece: Piece, waiting: Waiting) -> None:
        """Carry a piece from a node to its inputs."""
        operation = node.operation
        if isinstance(operation, Elementwise):
            columns = piece.columns
            values = tuple([self._at(child, columns) for child in node.inputs])
            needed = tuple([child.active for child in node.inputs])
            result = self._at(node, columns)
            pull = operation.pull
            weights = _followed(operation, pull, piece.weight, values, result, needed)
            entries = entries_in(piece.rows, self._count)
            for child, weight in zip(node.inputs, weights, strict=True):
                if child.active:
                    own: Columns = 0 if child.size in (None, 1) else columns
                    _send(waiting, child, Piece(piece.rows, own, _broadcast(weight, entries)))
        elif isinstance(operation, Take):
            _send(waiting, node.inputs[0], through_take(node, operation, piece))
        elif isinstance(operation, Concatenate):
            for child, part in through_concatenate(node, piece, self._count):
                _send(waiting, child, part)
        else:
            for part in through_total(node, piece, self._count):
                _send(waiting, node.inputs[0], part)

    def _into_components(
        self, operation: Input, piece: Piece, arrived: dict[Component, list[Piece]]
    ) -> None:
        entries = entries_in(piece.rows, self._count)
        for term in operation.terms:
            width: Any = term.width
            weight = piece.weight * (width[piece.columns] if np.ndim(width) else width)
            columns = piece.columns if term.component.scope == "each" else 0
            if not np.ndim(weight):
                weight = np.full(entries, weight)
            arrived.setdefault(term.component, []).append(Piece(piece.rows, columns, weight))

    def _derivatives(
        self, component: Component, pieces: list[Piece], directions: int
    ) -> Derivatives:
        apart = disjoint(pieces, self._count)
        rows = [explicit(p.rows, self._count) for p in apart]
        columns = [explicit(p.columns, r.size) for p, r in zip(apart, rows, strict=True)]
        weights = [p.weight for p in apart]
        weight = weights[0] if len(weights) == 1 else np.concatenate(weights)
        first, second, third = derivatives_of(weight)
        nothing = np.zeros((directions, first.size))
        return Derivatives(
            component,
            np.concatenate(rows),
            np.concatenate(columns),
            first,
            nothing if second is None else second,
            nothing if third is None else third,
        )


def _ranges_behind(order: list[Node], output: Node, rows: slice) -> dict[int, tuple[int, int]]:
    """Return for each node the run of readings that covers those behind some output rows."""
    ranges = {id(output): (rows.start, rows.stop)}

    def need(node: Node, start: int, stop: int) -> None:
        if not node.active or start >= stop:
            return
        if node.size in (None, 1):
            start, stop = 0, 1
        low, high = ranges.get(id(node), (start, stop))
        ranges[id(node)] = (min(low, start), max(high, stop))

    for node in reversed(order):
        if id(node) not in ranges:
            continue
        start, stop = ranges[id(node)]
        operation = node.operation
        if isinstance(operation, Take):
            picked = _picked(operation, start, stop)
            if isinstance(picked, slice):
                need(node.inputs[0], picked.start, picked.stop)
            else:
                need(node.inputs[0], int(np.min(picked)), int(np.max(picked)) + 1)
        elif isinstance(operation, Concatenate):
            before = 0
            for child in node.inputs:
                need(child, max(start - before, 0), min(stop - before, rows_of(child)))
                before += rows_of(child)
        elif isinstance(operation, Elementwise):
            for child in node.inputs:
                need(child, start, stop)
        else:
            for child in node.inputs:
                need(child, 0, rows_of(child))
    return ranges


def _picked(operation: Take, start: int, stop: int) -> Columns:
    """Return the readings that a run of picked ones was picked from."""
    index = operation.index
    if isinstance(index, int):
        return index
    if isinstance(index, slice):
        return slice(index.start + start, index.start + stop)
    return index[start:stop]


def _seeded(
    node: Node, operation: Input, start: int, stop: int, directions: Sequence[Direction]
) -> Jet:
    """Return an input that moves with the components of the directions."""
    value = np.atleast_1d(node.value)[start:stop]
    first = np.zeros((len(directions), stop - start))
    readings = np.arange(start, stop)
    for term in operation.terms:
        width: Any = term.width
        width = width[start:stop] if np.ndim(width) else width
        for line, direction in zip(first, directions, strict=True):
            if direction.component == term.component:
                line += np.where(direction.moves(readings), width, 0.0)
    return Jet(value, first, np.zeros((len(directions), 1)))


def _followed(operation: Elementwise, function: Callable[..., Any], *arguments: Any) -> Any:
    """Run a part of an operation on jets; what it cannot do is said with the operation's name."""
    try:
        return function(*arguments)
    except PropagationError as error:
        raise PropagationError(f"{operation.label}: {error}") from None


def _broadcast(weight: Any, entries: int) -> Any:
    """Give one weight to each entry; a plain number stays one for all."""
    weight = unwrapped(weight)
    if np.ndim(weight) and weight.size != entries:
        return np.broadcast_to(weight, (entries,))
    return weight


def _send(waiting: Waiting, node: Node, piece: Piece) -> None:
    """Add a piece to what has reached a node; equal patterns add up."""
    if not node.active:
        return
    arrived = waiting.setdefault(id(node), {})
    key = pattern_key(piece)
    present = arrived.get(key)
    if present is not None:
        piece = piece._replace(weight=present.weight + piece.weight)
    arrived[key] = piece
