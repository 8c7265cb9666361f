"""Rows whose mean or standard deviation does not exist, found by following marks forward.

Two causes: a denominator that reaches zero among the draws, and a component from so few
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

__all__ = ["rows_with_few_dof", "rows_with_poles"]

Mask = NDArray[np.bool_]


def rows_with_poles(order: list[Node], outputs: list[Node], signs: Signs) -> Mask:
    """Tell for each row of the outputs whether a denominator behind it reached zero."""
    zero: dict[int, Mask] = {}
    places = {id(node): place for place, node in enumerate(order)}

    def own(node: Node) -> Mask:
        operation = node.operation
        nothing = np.zeros(rows_of(node), dtype=bool)
        zero[id(node)] = signs.crosses(places[id(node)], rows_of(node)) | nothing
        if not node.active or isinstance(operation, Input):
            return nothing
        reached = [zero[id(child)] for child in node.inputs]
        if isinstance(operation, Take):
            zero[id(node)] = np.atleast_1d(reached[0][operation.index])
        elif isinstance(operation, Concatenate):
            zero[id(node)] = np.concatenate(reached)
        elif isinstance(operation, Elementwise):
            if operation is op.MULTIPLY:
                zero[id(node)] = nothing | reached[0] | reached[1]
            elif operation is op.DIVIDE or operation in ZERO_KEEPING:
                zero[id(node)] = nothing | reached[0]
            if operation.pole is not None:
                pole = reached[operation.pole]
                if operation is op.POLE_POWER:
                    pole = pole & (node.inputs[1].value < 0)
                return nothing | pole
        return nothing

    return _followed(order, outputs, own)


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


def _followed(order: list[Node], outputs: list[Node], own: Callable[[Node], Mask]) -> Mask:
    """Carry marks from where they arise to every row computed from there."""
    marked: dict[int, Mask] = {}
    for node in order:
        mask = own(node)
        if node.active and node.inputs:
            behind = [marked[id(child)] for child in node.inputs]
            operation = node.operation
            if isinstance(operation, Take):
                mask = mask | behind[0][operation.index]
            elif isinstance(operation, Concatenate):
                mask = mask | np.concatenate(behind)
            elif isinstance(operation, Elementwise):
                for other in behind:
                    mask = mask | other
            else:
                mask = mask | behind[0].any()
        marked[id(node)] = mask
    return np.concatenate([marked[id(node)] for node in outputs])
