"""The recorded model: an immutable graph of nodes, written while values are computed.

Each `Node` holds an operation, the nodes it took, and the value found (coherent SI,
float64, a scalar or one value per reading). Nothing here knows units, kinds or
uncertainty methods; the engines walk the record in `topological_order`.

Readings run along one axis. A node is a scalar (``size is None``) or has ``size`` readings;
a scalar or a length of one broadcasts against any length.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core import memory
from flowunc.core.component import Component, Term
from flowunc.core.errors import PropagationError, ShapeError
from flowunc.core.operations import Elementwise

__all__ = [
    "Concatenate",
    "Input",
    "Node",
    "Operation",
    "Take",
    "Total",
    "common_size",
    "concatenate_nodes",
    "constant",
    "elementwise",
    "error_node",
    "freeze",
    "from_flat",
    "input_node",
    "take",
    "to_flat",
    "topological_order",
    "total",
]


class Input:
    """An estimate with the components behind it: value = estimate + sum of gain * error."""

    __slots__ = ("terms",)

    def __init__(self, terms: tuple[Term, ...] = ()) -> None:
        self.terms = terms


class Take:
    """Readings picked by an index: an int gives a scalar, a slice or an array readings.

    A slice has explicit bounds and step 1, so that a run of readings stays a view.
    """

    __slots__ = ("index",)

    def __init__(self, index: int | slice | NDArray[np.intp]) -> None:
        self.index = index


class Concatenate:
    """Readings of several nodes, one after the other; a scalar counts as one reading."""

    __slots__ = ()


class Total:
    """The sum over all readings, a scalar."""

    __slots__ = ()


Operation = Elementwise | Input | Take | Concatenate | Total


class Node:
    """One step of the recorded model. Immutable.

    Attributes
    ----------
    operation : Operation
    inputs : tuple of Node
    value : ndarray, shape () or (n,)
        Read-only, coherent SI.
    size : int or None
        Number of readings, None for a scalar.
    active : bool
        Whether any component stands behind it.
    slope : ndarray, shape (n,), or None
        Derivative to its only input, where it was found together with the value.
    """

    __slots__ = ("active", "inputs", "operation", "size", "slope", "value")

    def __init__(
        self,
        operation: Operation,
        inputs: tuple[Node, ...],
        value: NDArray[np.float64],
        slope: NDArray[np.float64] | None = None,
    ) -> None:
        self.operation = operation
        self.inputs = inputs
        self.value = value
        self.slope = slope
        self.size = None if value.ndim == 0 else value.shape[0]
        if isinstance(operation, Input):
            self.active = bool(operation.terms)
        else:
            self.active = any(node.active for node in inputs)


def freeze(value: Any) -> NDArray[np.float64]:
    """Return a read-only float64 array of its own (a copy where the caller could still write)."""
    array = np.array(value, dtype=np.float64)
    array.setflags(write=False)
    return array


def _own(array: Any) -> NDArray[np.float64]:
    """Make read-only an array that was just computed and that nobody else holds."""
    own: NDArray[np.float64] = np.asarray(array, dtype=np.float64)
    own.setflags(write=False)
    return own


def constant(value: Any) -> Node:
    """Record a number (or readings) without uncertainty."""
    return Node(Input(), (), freeze(value))


def input_node(value: Any, terms: Iterable[Term]) -> Node:
    """Record an estimate with its components; those without any width are left out.

    A float64 array becomes the record's own and read-only: hand over one that was just made.
    """
    kept = tuple(term for term in terms if not term.component.distribution.is_zero)
    return Node(Input(kept), (), _own(value))


def error_node(component: Component, last_reading: int) -> Node:
    """Record the error of a component by itself: a scalar, or readings up to ``last_reading``.

    A component with a width or degrees of freedom for each reading keeps all its readings.
    """
    if component.scope == "shared":
        return input_node(np.zeros(()), [Term(component)])
    pool = component.pool
    known = (component.distribution.size, np.size(pool.dof) if pool is not None else None)
    return input_node(
        np.zeros(max(last_reading + 1, *(size or 0 for size in known))), [Term(component)]
    )


def common_size(nodes: Sequence[Node]) -> int | None:
    """Return the length that the nodes broadcast to, None when all are scalars."""
    size: int | None = None
    for node in nodes:
        if node.size is None or node.size == size:
            continue
        if size is None or size == 1:
            size = node.size
        elif node.size != 1:
            raise ShapeError(
                f"readings of lengths {size} and {node.size} do not fit together: "
                "expected equal lengths, or a single value for all readings"
            )
    return size


def elementwise(operation: Elementwise, *inputs: Node) -> Node:
    """Record an operation that works reading by reading."""
    size = common_size(inputs) if len(inputs) > 1 else inputs[0].size
    values = tuple(node.value for node in inputs)
    try:
        with np.errstate(divide="raise", over="raise", invalid="raise", under="ignore"):
            if size is None:
                result = operation.evaluate(*values)
            elif operation.with_slope is not None and inputs[0].active:
                result, slope = operation.with_slope(values[0])
                return Node(operation, inputs, _own(result), _own(slope))
            else:
                result = operation.evaluate(*values, out=memory.empty(size))
    except FloatingPointError:
        raise PropagationError(_not_finite(operation, values)) from None
    return Node(operation, inputs, _own(result))


def _not_finite(operation: Elementwise, values: tuple[NDArray[np.float64], ...]) -> str:
    with np.errstate(all="ignore"):
        result = np.asarray(operation.evaluate(*values))
    broadcast = np.broadcast_arrays(*values)
    if result.ndim == 0:
        where, shown = "", [float(v) for v in broadcast]
    else:
        bad = np.flatnonzero(~np.isfinite(result))
        row = int(bad[0]) if bad.size else 0
        where = f" at reading {row}" + (f" and {bad.size - 1} more" if bad.size > 1 else "")
        shown = [float(v[row]) for v in broadcast]
    arguments = ", ".join(f"{v:.6g}" for v in shown)
    return (
        f"{operation.label}({arguments}){where} has no finite value (SI): expected arguments "
        "inside the domain of the function; check for a zero or negative reading"
    )


def take(node: Node, index: int | NDArray[np.intp]) -> Node:
    """Record a choice of readings, by one index (0 or more) or an array of them."""
    if isinstance(index, int):
        return Node(Take(index), (node,), _own(node.value[index]))
    chosen: slice | NDArray[np.intp]
    if index.size and bool(np.all(np.diff(index) == 1)):
        chosen = slice(int(index[0]), int(index[-1]) + 1)
    else:
        chosen = index.copy()
        chosen.setflags(write=False)
    return Node(Take(chosen), (node,), _own(node.value[chosen]))


def concatenate_nodes(nodes: Sequence[Node]) -> Node:
    """Record readings joined end to end."""
    parts = [np.atleast_1d(node.value) for node in nodes]
    value = np.concatenate(parts, out=memory.empty(sum(part.size for part in parts)))
    return Node(Concatenate(), tuple(nodes), _own(value))


def total(node: Node) -> Node:
    """Record the sum over readings."""
    with np.errstate(over="ignore"):
        summed = node.value.sum()
    if not np.isfinite(summed):
        raise PropagationError(
            f"the sum over {node.size} readings leaves the range of floating-point numbers: check "
            "the magnitudes of the readings"
        )
    return Node(Total(), (node,), _own(summed))


def topological_order(outputs: Sequence[Node], *, active_only: bool = False) -> list[Node]:
    """Return the nodes behind the outputs, inputs always before what uses them.

    The order depends only on the structure of the record (depth first, inputs from left to
    right), so that a script run twice meets its components in the same order. Iterative:
    a model may be thousands of operations deep.
    """
    order: list[Node] = []
    done: set[int] = set()
    for output in outputs:
        stack: list[tuple[Node, bool]] = [(output, False)]
        while stack:
            node, expanded = stack.pop()
            if id(node) in done:
                continue
            if expanded:
                done.add(id(node))
                order.append(node)
                continue
            if active_only and not node.active:
                continue
            stack.append((node, True))
            stack.extend((child, False) for child in reversed(node.inputs) if id(child) not in done)
    return order


FlatRecord = tuple[
    list[tuple[Operation, tuple[int, ...], NDArray[np.float64], NDArray[np.float64] | None],],
    tuple[int, ...],
]


def to_flat(outputs: Sequence[Node]) -> FlatRecord:
    """Return the record behind some nodes as a flat list, so that pickling never recurses.

    The second entry says where in the list the outputs are.
    """
    order = topological_order(outputs)
    place = {id(node): position for position, node in enumerate(order)}
    steps = [
        (node.operation, tuple(place[id(child)] for child in node.inputs), node.value, node.slope)
        for node in order
    ]
    return steps, tuple(place[id(node)] for node in outputs)


def from_flat(flat: FlatRecord) -> list[Node]:
    """Rebuild the nodes that `to_flat` laid flat."""
    nodes: list[Node] = []
    for operation, inputs, value, slope in flat[0]:
        kept = None if slope is None else freeze(slope)
        nodes.append(Node(operation, tuple(nodes[i] for i in inputs), freeze(value), kept))
    return [nodes[position] for position in flat[1]]
