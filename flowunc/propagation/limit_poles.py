"""Denominators that come down to zero just at the end of stated limits.

No draw is ever zero or beyond, so draws do not show such a pole. But the support of a sum of
limited errors ends where all of them are at their end, and there its distribution goes like a
power: within t of the end lies a probability of t**order, the orders of independent errors adding
up. For a rectangle the order is 1, for a triangle, which is the sum of two, it is 2.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.distributions import (
    Arcsine,
    Distribution,
    Exponential,
    InexactRectangular,
    Trapezoidal,
)
from flowunc.core.errors import PropagationError
from flowunc.core.law_parameters import Parameter
from flowunc.core.operations import Elementwise
from flowunc.core.record import Input, Node, Total, topological_order
from flowunc.propagation.contributions import contributions
from flowunc.propagation.control import is_linear
from flowunc.propagation.evaluation import pole_factors
from flowunc.propagation.marks import strengths_of_poles
from flowunc.propagation.pieces import add_to_rows, rows_of

__all__ = ["End", "ends_of", "strengths_at_limits"]

Values = NDArray[np.float64]

ROUNDING = 1e-12  # of the estimate: nearer to zero, limits end there
FARTHEST = 3.0 * (1.0 + ROUNDING)  # end in u: limits inexact by their whole width reach 3 u
MANY = 32  # errors in a sum: order 16 or more, and no pole for any power in use
LIMITED = (Trapezoidal, Arcsine, Exponential, InexactRectangular)


class End(NamedTuple):
    """One end of a distribution.

    Attributes
    ----------
    distance : float or ndarray
        From the estimate, in standard uncertainties; infinite where there is no end.
    order : float or ndarray
        Power of a small distance from the end with which the probability within it goes.
    """

    distance: Parameter
    order: Parameter


NOWHERE = End(np.inf, np.inf)


def ends_of(distribution: Distribution) -> tuple[End, End]:
    """Return the lower and the upper end of an error.

    Examples
    --------
    >>> from flowunc.core.distributions import Triangular
    >>> low, high = ends_of(Triangular(0.5))
    >>> print(round(low.distance**2, 9), low.order)
    6.0 2.0
    """
    if isinstance(distribution, Trapezoidal):
        top: Any = distribution.top
        end = End(np.sqrt(6.0 / (1.0 + top**2)), np.where(np.equal(top, 1.0), 1.0, 2.0)[()])
        return end, end
    if isinstance(distribution, Arcsine):
        return End(np.sqrt(2.0), 0.5), End(np.sqrt(2.0), 0.5)
    if isinstance(distribution, InexactRectangular):
        widest = distribution.half_width + distribution.inexact
        u = np.where(np.equal(widest, 0.0), 1.0, distribution.standard_uncertainty)
        end = End(widest / u, np.where(np.equal(distribution.inexact, 0.0), 1.0, 2.0)[()])
        return end, end
    if isinstance(distribution, Exponential):
        mirrored = np.less(distribution.mean, 0.0)
        low = End(np.where(mirrored, np.inf, 1.0), np.where(mirrored, np.inf, 1.0))
        return low, End(np.where(mirrored, 1.0, np.inf), np.where(mirrored, 1.0, np.inf))
    return NOWHERE, NOWHERE


def strengths_at_limits(order: list[Node], outputs: list[Node]) -> Values:
    """Return how strong the poles at the ends of limits behind each row of the outputs are.

    Parameters
    ----------
    order : list of Node
        Topological order of the whole record.
    outputs : list of Node

    Returns
    -------
    ndarray, shape (rows of all outputs,)
        0 without such a pole; the standard deviation exists below 1/2, the mean below 1.

    Notes
    -----
    1/F^r is larger than y with a probability that goes like y^(-order/r). Its mean is finite for
    order > r, its variance for order > 2 r; the strength is r/order. Only denominators that are
    linear in their errors are looked at: for others the end of the support is not known.
    """
    factors = {
        id(factor): factor
        for node in order
        if node.active and isinstance(node.operation, Elementwise)
        if node.operation.pole is not None
        for factor in pole_factors(node.inputs[node.operation.pole])
    }
    at_zero: dict[int, Values] = {}
    for key, factor in factors.items():
        if _is_linear_and_limited(factor):
            found = _strength_at_zero(factor)
            if found.any():
                at_zero[key] = found
    if not at_zero:
        return np.zeros(sum(rows_of(node) for node in outputs))
    return strengths_of_poles(order, outputs, at_zero)


def _is_linear_and_limited(factor: Node) -> bool:
    """Tell whether a factor is a sum of errors that all have an end, with fixed weights.

    Of an input, whether it may come down to zero as well.
    """
    if isinstance(factor.operation, Input):
        widths = sum(np.abs(term.width) for term in factor.operation.terms)
        if np.all(np.abs(factor.value) > FARTHEST * widths):
            return False
    waiting, seen = [factor], {id(factor)}
    while waiting:
        node = waiting.pop()
        if isinstance(node.operation, Input):
            if not all(isinstance(t.component.distribution, LIMITED) for t in node.operation.terms):
                return False
            continue
        if isinstance(node.operation, Total) and _adds_many(node):
            return False
        behind = [child for child in node.inputs if child.active]
        if not is_linear(node, {id(child) for child in behind}):
            return False
        waiting += [child for child in behind if id(child) not in seen]
        seen.update(id(child) for child in behind)
    return True


def _adds_many(total: Node) -> bool:
    """Tell whether a sum has so many errors of their own that it hardly ever comes near its end.

    A table of all of them, for every row, would be as large as the readings squared.
    """
    return rows_of(total.inputs[0]) > MANY and any(
        term.component.scope == "each" and np.any(term.width)
        for node in topological_order([total], active_only=True)
        if isinstance(node.operation, Input)
        for term in node.operation.terms
    )


def _strength_at_zero(node: Node) -> Values:
    """Return 1/order for rows whose support ends at zero, 0 for all others."""
    value = np.atleast_1d(node.value)
    distance, order = np.zeros((2, value.size)), np.zeros((2, value.size))  # downwards, upwards
    try:
        parts = contributions(node)
    except PropagationError:
        return np.zeros(value.size)
    for part in parts:
        low, high = ends_of(part.component.distribution)
        readings = part.column_indices()
        rising, still = part.values > 0, part.values == 0
        size = np.abs(part.values)
        for side, (below, above) in enumerate(((low, high), (high, low))):
            far, power = (
                np.where(rising, _at(one, readings), _at(other, readings))
                for one, other in zip(below, above, strict=True)
            )
            add_to_rows(distance[side], part.rows, np.where(still, 0.0, far) * size)
            add_to_rows(order[side], part.rows, np.where(still, 0.0, power))
    to_zero = np.where(value > 0, distance[0], distance[1])
    ends = np.abs(np.abs(value) - to_zero) <= ROUNDING * np.abs(value)
    orders = np.where(value > 0, order[0], order[1])
    return np.where(ends & (to_zero > 0), 1.0 / np.where(orders > 0, orders, np.inf), 0.0)


def _at(end: Parameter, readings: NDArray[np.intp]) -> Parameter:
    return end[readings] if isinstance(end, np.ndarray) and end.ndim else end
