"""Rows whose mean or standard deviation does not exist, found by following marks forward.

Two causes: a denominator that reaches zero, and a component from so few
repeats that its t distribution has no variance (2 degrees of freedom or fewer) or no mean
(1 or fewer) [JCGM 101, 6.4.9.4]. The coverage interval exists all the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.operations import Elementwise
from flowunc.core.record import Concatenate, Input, Node, Take
from flowunc.propagation.evaluation import Signs
from flowunc.propagation.pieces import rows_of
from flowunc.propagation.products import exponents_of

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
    found: dict[int, _Poles] = {}
    for node in order:
        poles = _poles_of(node, [found[id(child)] for child in node.inputs if node.active])
        if id(node) in at_zero:
            poles = poles._replace(powers={id(node): (at_zero[id(node)], np.ones(rows_of(node)))})
        found[id(node)] = poles
    return np.concatenate([found[id(node)].strongest() for node in outputs])


class _Poles(NamedTuple):
    """Poles behind the rows of a node.

    Attributes
    ----------
    settled : ndarray, shape (rows,)
        The strongest that stands behind a step that is no product.
    powers : dict
        Strength at zero and power of every factor that comes to zero, as long as there are only
        products: x/y/y is as strong as x/y**2, and x*x/x has no pole.
    """

    settled: Values
    powers: dict[Any, tuple[Values, Values]]

    def strongest(self, below: float = -1.0) -> Values:
        """Return the strongest pole; with ``below`` 1, where the reciprocal is taken."""
        strongest = self.settled
        for strength, power in self.powers.values():
            strongest = np.maximum(strongest, strength * np.maximum(below * power, 0.0))
        return strongest


def _poles_of(node: Node, behind: list[_Poles]) -> _Poles:
    """Return the poles of a node from those of its inputs, none given where it is certain."""
    operation, nothing = node.operation, np.zeros(rows_of(node))
    powers: dict[Any, tuple[Values, Values]] = {}
    if not behind:
        return _Poles(nothing, powers)
    if isinstance(operation, Take):
        # readings of one factor are factors of their own: what is picked has another name
        for key, pair in behind[0].powers.items():
            strength, power = (np.atleast_1d(part[operation.index]) for part in pair)
            powers[id(node), key] = strength, power
        return _Poles(np.atleast_1d(behind[0].settled[operation.index]), powers)
    if isinstance(operation, Concatenate):
        bounds = np.cumsum([0] + [rows_of(child) for child in node.inputs])
        for which, one in enumerate(behind):
            own = slice(bounds[which], bounds[which + 1])
            for place, pair in enumerate(one.powers.values()):  # one name will do for all inputs
                if (id(node), place) not in powers:
                    powers[id(node), place] = np.zeros(nothing.size), np.zeros(nothing.size)
                strength, power = powers[id(node), place]
                strength[own], power[own] = pair
        return _Poles(np.concatenate([one.settled for one in behind]), powers)
    if not isinstance(operation, Elementwise):
        return _Poles(nothing + behind[0].strongest().max(), powers)
    settled = nothing
    exponents = _exponents(node)
    if not exponents:
        for one in behind:
            settled = np.maximum(settled, one.strongest())
        if operation.pole is not None:
            settled = np.maximum(settled, behind[operation.pole].strongest(1.0))
        return _Poles(settled, powers)
    for one, exponent in zip(behind, exponents, strict=True):
        settled = np.maximum(settled, one.settled if exponent is not None else one.strongest())
        for key, (strength, power) in one.powers.items() if exponent is not None else ():
            before = powers[key][1] if key in powers else nothing
            powers[key] = strength + nothing, before + power * exponent
    return _Poles(settled, powers)


def _exponents(node: Node) -> tuple[Any, ...]:
    """Return the power to which a product takes each input, None for an exponent; () if none."""
    operation = node.operation
    if operation in (op.POWER, op.POLE_POWER):
        return node.inputs[1].value, None
    if operation is op.ABSOLUTE:
        return (1.0,)
    return exponents_of(node)


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
