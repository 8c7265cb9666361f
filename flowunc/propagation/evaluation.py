"""Evaluates a record on draws: the program that a simulation runs for every block of trials.

Values have shape (readings, trials), trials contiguous. Only the readings that the wanted
rows need are drawn and computed, a few at a time so that intermediate results stay in cache;
scalars are computed once per block and serve all rows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from flowunc.core import memory
from flowunc.core import operations as op
from flowunc.core.component import Component
from flowunc.core.operations import Elementwise
from flowunc.core.record import Concatenate, Input, Node, Take
from flowunc.propagation.pieces import rows_of

__all__ = ["Program", "Signs", "compile_rows", "pole_factors"]

Rows = NDArray[np.intp]
Values = NDArray[np.float64]


@dataclass
class Signs:
    """Lowest and highest value of each watched node's readings, over the draws so far.

    Nodes go by their place in the topological order of the record, which is the same in every
    process.
    """

    low: dict[int, Values] = field(default_factory=dict)
    high: dict[int, Values] = field(default_factory=dict)

    def watch(self, place: int, size: int, rows: Rows, values: Values) -> None:
        """Take in the draws of some of the ``size`` readings of a node."""
        low = self.low.get(place)
        if low is None:
            low = self.low[place] = np.full(size, np.inf)
            self.high[place] = np.full(size, -np.inf)
        high = self.high[place]
        low[rows] = np.minimum(low[rows], values.min(axis=1))
        high[rows] = np.maximum(high[rows], values.max(axis=1))

    def merge(self, other: Signs) -> None:
        """Take in what another block saw."""
        for key, low in other.low.items():
            if key in self.low:
                np.minimum(self.low[key], low, out=self.low[key])
                np.maximum(self.high[key], other.high[key], out=self.high[key])
            else:
                self.low[key], self.high[key] = low, other.high[key]

    def crosses(self, place: int, size: int) -> NDArray[np.bool_]:
        """Tell for each reading of a node whether its draws were seen to reach both signs."""
        low = self.low.get(place)
        if low is None:
            return np.zeros(size, dtype=bool)
        crossing: NDArray[np.bool_] = (low <= 0) & (self.high[place] >= 0)
        return crossing


ZERO_KEEPING = (op.SQUARE, op.ABSOLUTE, op.NEGATIVE, op.SQRT, op.CBRT, op.POWER)


def pole_factors(node: Node) -> list[Node]:
    """Return the active factors of a denominator: it is zero exactly where one of them is.

    v**2 never changes sign, but v does; a quotient is zero where its numerator is.
    """
    found: dict[int, Node] = {}
    waiting = [node]
    seen: set[int] = set()
    while waiting:
        factor = waiting.pop()
        if not factor.active or id(factor) in seen:
            continue
        seen.add(id(factor))
        if factor.operation is op.MULTIPLY:
            waiting.extend(factor.inputs)
        elif factor.operation is op.DIVIDE or factor.operation in ZERO_KEEPING:
            waiting.append(factor.inputs[0])
        elif isinstance(factor.operation, (Take, Concatenate)):
            waiting.extend(factor.inputs)
        else:
            found[id(factor)] = factor
    return list(found.values())


@dataclass
class Step:
    """One node to compute: which rows of it, and where its inputs' rows lie."""

    node: Node
    rows: Rows
    slot: int
    arguments: list[tuple[int | None, Rows | None, Values | None]]
    place: int  # in the topological order
    watched: bool
    last_use: list[int]


class DrawSource(Protocol):
    """Hands out the draws of components while a program runs."""

    def shared(self, component: Component, count: int) -> Values:
        """Draws of a shared component, shape (count,)."""

    def each(self, component: Component, readings: Rows, out: Values) -> None:
        """Fill the draws of some readings of a component, shape (readings, count)."""


class Program:
    """Steps that compute the wanted rows of some nodes, given those already computed."""

    def __init__(self, steps: list[Step], outputs: dict[int, tuple[int, Rows]]) -> None:
        self.steps = steps
        self.outputs = outputs  # id of node -> (slot, rows)

    @property
    def widest(self) -> int:
        """Most readings that any step holds."""
        return max((step.rows.size for step in self.steps), default=1)

    def drawn(self) -> Iterable[tuple[Component, Rows]]:
        """Return the components that are drawn, with the readings of their inputs."""
        return (
            (term.component, step.rows)
            for step in self.steps
            if isinstance(step.node.operation, Input)
            for term in step.node.operation.terms
        )

    def run(
        self, draws: DrawSource, count: int, ready: dict[int, Values], signs: Signs
    ) -> dict[int, Values]:
        """Compute one piece of a block.

        Parameters
        ----------
        draws : DrawSource
        count : int
            Trials in this piece.
        ready : dict of node id to array, shape (1, count)
            Scalars computed before.
        signs : Signs
            Takes in the draws of watched nodes.

        Returns
        -------
        dict of node id to array, shape (rows, count)
            Scratch: to be released when read.
        """
        values: list[Values | None] = [None] * len(self.steps)
        kept = {slot for slot, _ in self.outputs.values()}
        for step in self.steps:
            computed = memory.scratch((step.rows.size, count))
            _compute(step, values, ready, draws, computed)
            values[step.slot] = computed
            if step.watched:
                signs.watch(step.place, rows_of(step.node), step.rows, computed)
            for slot in step.last_use:
                done = values[slot]
                if slot not in kept and done is not None:
                    memory.release(done)
                    values[slot] = None
        results: dict[int, Values] = {}
        for key, (slot, _) in self.outputs.items():
            final = values[slot]
            assert final is not None
            results[key] = final
        return results


def _compute(
    step: Step,
    values: list[Values | None],
    ready: dict[int, Values],
    draws: DrawSource,
    buffer: Values,
) -> None:
    """Fill a buffer, shape (rows of the step, count), with the draws of a step."""
    node, operation = step.node, step.node.operation
    if isinstance(operation, Input):
        _draw_input(node, operation, step.rows, draws, buffer)
        return
    arguments = []
    for child, (slot, positions, fixed) in zip(node.inputs, step.arguments, strict=True):
        if fixed is not None:
            arguments.append(fixed)
            continue
        found = ready[id(child)] if slot is None else values[slot]
        assert found is not None
        arguments.append(found if positions is None else found[positions])
    if isinstance(operation, Elementwise):
        operation.evaluate(*arguments, out=buffer)
    elif isinstance(operation, Take):
        buffer[:] = arguments[0]
    elif isinstance(operation, Concatenate):
        _lay_end_to_end(step, arguments, buffer)
    else:
        np.sum(arguments[0], axis=0, keepdims=True, out=buffer)


def _lay_end_to_end(step: Step, arguments: list[Values], buffer: Values) -> None:
    bounds = np.cumsum([0] + [rows_of(child) for child in step.node.inputs])
    for which, argument in enumerate(arguments):
        inside = np.flatnonzero((step.rows >= bounds[which]) & (step.rows < bounds[which + 1]))
        if inside.size:
            buffer[inside] = argument


def _draw_input(
    node: Node, operation: Input, rows: Rows, draws: DrawSource, buffer: Values
) -> None:
    estimate = node.value[rows, None] if node.size is not None else node.value
    for position, term in enumerate(operation.terms):
        gain: Any = term.gain
        if np.ndim(gain):
            gain = gain[rows, None]
        target = memory.scratch(buffer.shape) if position else buffer
        if term.component.scope == "shared":
            draw = draws.shared(term.component, buffer.shape[1])
            np.multiply(draw, gain, out=target)
        else:
            draws.each(term.component, rows, target)
            if np.ndim(gain) or gain != 1.0:
                target *= gain
        if position:
            buffer += target
            memory.release(target)
    buffer += estimate


def compile_rows(
    order: list[Node], wanted: dict[int, tuple[Node, Rows]], ready: set[int]
) -> Program:
    """Lay out the steps for the wanted rows of some nodes.

    Parameters
    ----------
    order : list of Node
        Topological order of the whole record.
    wanted : dict of node id to (node, rows)
    ready : set of node id
        Active scalars that are computed before.
    """
    demand: dict[int, Rows] = {}
    for key, (_, rows) in wanted.items():
        demand[key] = np.unique(rows)
    for node in reversed(order):
        if id(node) not in demand or not node.active:
            continue
        for child, child_rows in _children_rows(node, demand[id(node)]):
            if child.active and id(child) not in ready and child_rows.size:
                present = demand.get(id(child))
                demand[id(child)] = (
                    np.unique(child_rows) if present is None else np.union1d(present, child_rows)
                )
    watched = {
        id(factor)
        for node in order
        if isinstance(node.operation, Elementwise)
        and node.operation.pole is not None
        and node.active
        for factor in pole_factors(node.inputs[node.operation.pole])
    }
    steps: list[Step] = []
    slots: dict[int, int] = {}
    for place, node in enumerate(order):
        if id(node) not in demand or not node.active:
            continue
        rows = demand[id(node)]
        arguments = [
            _argument(child, child_rows, slots, demand, ready)
            for child, child_rows in _children_rows(node, rows)
        ]
        slots[id(node)] = len(steps)
        steps.append(Step(node, rows, len(steps), arguments, place, id(node) in watched, []))
    last: dict[int, Step] = {}
    for step in steps:
        for slot, _, _ in step.arguments:
            if slot is not None:
                last[slot] = step
    for slot, step in last.items():
        step.last_use.append(slot)
    outputs = {key: (slots[key], demand[key]) for key in wanted}
    return Program(steps, outputs)


def _children_rows(node: Node, rows: Rows) -> list[tuple[Node, Rows]]:
    """Return for each input the readings that the given rows of the node are computed from."""
    operation = node.operation
    if isinstance(operation, Elementwise):
        return [
            (child, rows if child.size not in (None, 1) else np.zeros(1, dtype=np.intp))
            for child in node.inputs
        ]
    if isinstance(operation, Take):
        index = operation.index
        if isinstance(index, int):
            picked: Rows = np.array([index], dtype=np.intp)
        elif isinstance(index, slice):
            picked = rows + index.start
        else:
            picked = index[rows]
        return [(node.inputs[0], picked)]
    if isinstance(operation, Concatenate):
        bounds = np.cumsum([0] + [rows_of(child) for child in node.inputs])
        return [
            (child, rows[(rows >= bounds[i]) & (rows < bounds[i + 1])] - bounds[i])
            for i, child in enumerate(node.inputs)
        ]
    return [(child, np.arange(rows_of(child))) for child in node.inputs]


def _argument(
    child: Node, rows: Rows, slots: dict[int, int], demand: dict[int, Rows], ready: set[int]
) -> tuple[int | None, Rows | None, Values | None]:
    if not child.active:
        return None, None, child.value[rows, None] if child.size is not None else child.value
    if id(child) in ready:
        return None, None, None
    if rows.size == 0:
        return None, None, np.empty((0, 1))
    present = demand[id(child)]
    positions = None if np.array_equal(present, rows) else np.searchsorted(present, rows)
    return slots[id(child)], positions, None
