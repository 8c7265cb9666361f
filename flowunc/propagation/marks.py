"""Rows whose mean or standard deviation does not exist, found by following marks forward.

Two causes: a denominator that reaches zero, and a component from so few
repeats that its t distribution has no variance (2 degrees of freedom or fewer) or no mean
(1 or fewer) [JCGM 101, 6.4.9.4]. The coverage interval exists all the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.operations import Elementwise
from flowunc.core.record import Concatenate, Input, Node, Take
from flowunc.propagation.evaluation import ZERO_KEEPING, Signs
from flowunc.propagation.pieces import rows_of

__all__ = ["rows_with_few_dof", "rows_with_poles", "strengths_of_poles"]

Mask = NDArray[np.bool_]
Values = NDArray[np.float64]


def rows_with_poles(order: list[Node], outputs: list[Node], signs: Signs) -> Mask:
    """Tell for each row of the outputs whether a denominator behind it reached zero."""
    crossing = {}
    for place in signs.low:
        crosses = signs.crosses(place, rows_of(order[place]))
        if crosses.any():
            crossing[id(order[place])] = crosses.astype(np.float64)
    if not crossing:
        return np.zeros(sum(rows_of(node) for node in outputs), dtype=bool)
    found: Mask = strengths_of_poles(order, outputs, crossing) > 0
    return found


def strengths_of_poles(
    order: list[Node], outputs: list[Node], at_zero: dict[int, Values]
) -> Values:
    """Return the strongest pole behind each row of the outputs.

    Parameters
    ----------
    order : list of Node
        Topological order of the whole record.
    outputs : list of Node
    at_zero : dict of node id to array, shape (rows,)
        Strength that a pole has where the reciprocal of a node is taken; powers multiply it.
    """
    strength: dict[int, Values] = {}

    def own(node: Node) -> Values:
        operation = node.operation
        nothing = np.zeros(rows_of(node))
        strength[id(node)] = at_zero.get(id(node), nothing)
        if not node.active or isinstance(operation, Input):
            return nothing
        reached = [strength[id(child)] for child in node.inputs]
        if isinstance(operation, Take):
            strength[id(node)] = np.atleast_1d(reached[0][operation.index])
        elif isinstance(operation, Concatenate):
            strength[id(node)] = np.concatenate(reached)
        elif isinstance(operation, Elementwise):
            if operation is op.MULTIPLY:
                same = node.inputs[0] is node.inputs[1]
                strength[id(node)] = nothing + (2.0 * reached[0] if same else np.maximum(*reached))
            elif operation is op.DIVIDE:
                strength[id(node)] = nothing + reached[0]
            elif operation in ZERO_KEEPING:
                strength[id(node)] = nothing + reached[0] * _power(node)
            if operation.pole is not None:
                pole = nothing + reached[operation.pole]
                if operation is op.POLE_POWER:
                    pole = pole * np.maximum(-node.inputs[1].value, 0.0)
                return pole
        return nothing

    return _followed(order, outputs, own)


def _power(node: Node) -> Any:
    """Return the power to which a zero-keeping operation takes its argument."""
    if node.operation is op.POWER:
        return np.abs(node.inputs[1].value)
    powers: dict[Any, float] = {op.SQUARE: 2.0, op.SQRT: 1 / 2, op.CBRT: 1 / 3}
    return powers.get(node.operation, 1.0)


def rows_with_few_dof(order: list[Node], outputs: list[Node], fewest: float) -> Mask:
    """Tell for each row whether a t distribution of ``fewest`` degrees of freedom is behind it."""

    def own(node: Node) -> Mask:
        mask = np.zeros(rows_of(node), dtype=bool)
        if isinstance(node.operation, Input):
            for term in node.operation.terms:
                pool = term.component.pool
                distribution: Any = term.component.distribution
                dof = getattr(distribution, "dof", np.inf) if pool is None else pool.dof
                mask |= (np.asarray(dof) <= fewest) & (np.asarray(term.width) != 0)
        return mask

    return _followed(order, outputs, own)


def _followed(
    order: list[Node], outputs: list[Node], own: Callable[[Node], NDArray[Any]]
) -> NDArray[Any]:
    """Carry marks from where they arise to every row computed from there: the largest counts."""
    marked: dict[int, NDArray[Any]] = {}
    for node in order:
        mark = own(node)
        if node.active and node.inputs:
            behind = [marked[id(child)] for child in node.inputs]
            operation = node.operation
            if isinstance(operation, Take):
                mark = np.maximum(mark, behind[0][operation.index])
            elif isinstance(operation, Concatenate):
                mark = np.maximum(mark, np.concatenate(behind))
            elif isinstance(operation, Elementwise):
                for other in behind:
                    mark = np.maximum(mark, other)
            else:
                mark = np.maximum(mark, behind[0].max())
        marked[id(node)] = mark
    return np.concatenate([marked[id(node)] for node in outputs])
