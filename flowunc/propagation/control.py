"""The linear model as a control variate for the draws.

The linear result L of the same components is known exactly: its mean is the value, its variance
the sum of squares. Drawn together with the result Y, it takes away the part of the numerical
error that is linear in the draws:

    mean = y + mean of (Y - L),    variance = var L + (s^2 of Y - s^2 of L)

The gain for the mean is s^2 of Y over s^2 of Y - L: the nearer the model is to linear, the larger.
Source: [Hammersley 1964, section 5.5].

L is recorded like the model itself, step by step: every step is replaced by its tangent at the
estimates, and a part of the record that is linear already stands for itself. So rows may depend
on any readings, in sums and differences as well, at the cost of one more model.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.component import Component, Term
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise
from flowunc.core.record import Input, Node, constant, freeze, topological_order
from flowunc.propagation.evaluation import compile_rows
from flowunc.propagation.linear import standard_uncertainty
from flowunc.propagation.marks import rows_with_few_dof
from flowunc.propagation.pieces import Indices, rows_of

__all__ = ["is_linear", "linear_control"]

Values = NDArray[np.float64]


def linear_control(outputs: list[Node]) -> tuple[list[Node], Values]:
    """Record the linear models of some results and return them with their exact deviations.

    Returns
    -------
    controls : list of Node
        Shaped as the results, of the same value.
    deviations : ndarray, shape (rows of all results,)
        Standard deviation of each, whose square may leave float64.

    Raises
    ------
    PropagationError
        A row has no linear model, or a component behind a row has no variance. It is raised
        even if other rows have both: with the row left out, they get their control.

    Notes
    -----
    Components of one pool share a chi factor c and are uncorrelated given c, with zero mean, so
    that their variances add, each multiplied by E[c^2] = dof / (dof - 2) [JCGM 102, 5.3.2].
    """
    order = topological_order(outputs)
    _refuse_without_variance(order, outputs)
    try:
        roots = [
            np.atleast_1d(standard_uncertainty(node)) for node in _with_deviations(order, outputs)
        ]
        controls = _Linearised(order, outputs).outputs()
    except PropagationError as error:
        raise PropagationError(
            f"control=True needs the linear model of every row: {error}; leave control out"
        ) from error
    return controls, np.concatenate(roots)


class _Linearised:
    """Tangents of the steps of a record at its estimates.

    The tangent of a node is its deviation from its value, to first order in the errors.
    """

    def __init__(self, order: list[Node], outputs: list[Node]) -> None:
        self._outputs = outputs
        self._linear: set[int] = set()
        self._tangents: dict[int, Node] = {}
        wanted = {id(node): (node, np.arange(rows_of(node))) for node in outputs if node.active}
        # only readings that the results depend on need a derivative
        for step in compile_rows(order, wanted, set()).steps:
            if is_linear(step.node, self._linear):
                self._linear.add(id(step.node))
            else:
                self._tangents[id(step.node)] = self._tangent_of_step(step.node, step.rows)

    def outputs(self) -> list[Node]:
        """Return the linear models of the results."""
        return [
            node
            if not node.active or id(node) in self._linear
            else Node(op.ADD, (self._tangents[id(node)], constant(node.value)), node.value)
            for node in self._outputs
        ]

    def _tangent(self, node: Node) -> Node:
        found = self._tangents.get(id(node))
        if found is None:
            zero = freeze(np.zeros(node.value.shape))
            found = constant(zero)
            if node.active:
                found = Node(op.SUBTRACT, (node, constant(node.value)), zero)
            self._tangents[id(node)] = found
        return found

    def _tangent_of_step(self, node: Node, rows: Indices) -> Node:
        zero = freeze(np.zeros(node.value.shape))
        if not isinstance(node.operation, Elementwise):
            tangents = tuple(self._tangent(child) for child in node.inputs)
            return Node(node.operation, tangents, zero)
        total: Node | None = None
        for child, slope in zip(node.inputs, _slopes(node, rows), strict=True):
            if not child.active:
                continue
            part = self._tangent(child)
            if np.ndim(slope) or slope != 1.0 or child.value.shape != node.value.shape:
                slope = np.broadcast_to(slope, node.value.shape)
                part = Node(op.MULTIPLY, (part, constant(slope)), zero)
            total = part if total is None else Node(op.ADD, (total, part), zero)
        if total is None:
            raise PropagationError(f"{node.operation.label} has no uncertain argument")
        return total


def is_linear(node: Node, linear: set[int]) -> bool:
    """Tell whether a step is linear in the errors, given which of its inputs are."""
    active = [child for child in node.inputs if child.active]
    if any(id(child) not in linear for child in active):
        return False
    if node.operation is op.MULTIPLY:
        return len(active) == 1
    if node.operation is op.DIVIDE:
        return not node.inputs[1].active
    if isinstance(node.operation, Elementwise):
        return node.operation in (op.ADD, op.SUBTRACT, op.NEGATIVE)
    return True


def _slopes(node: Node, rows: Indices) -> tuple[Any, ...]:
    """Return the derivative of an elementwise step to each input, zero outside the rows."""
    operation = node.operation
    if node.slope is not None or not isinstance(operation, Elementwise):
        return (node.slope,)
    some = rows.size < rows_of(node)

    def picked(array: Values) -> Values:
        return array[rows] if some and array.size > 1 else array

    values = tuple(picked(child.value) for child in node.inputs)
    needed = tuple(child.active for child in node.inputs)
    result = picked(node.value)
    with np.errstate(all="ignore"):
        slopes = operation.pull(1.0, values, result, needed)
    if not some:
        return slopes
    spread: list[Any] = []
    for slope, is_needed in zip(slopes, needed, strict=True):
        whole = np.zeros(node.value.shape)
        if is_needed:
            whole[rows] = slope
        spread.append(whole)
    return tuple(spread)


def _with_deviations(order: list[Node], outputs: list[Node]) -> list[Node]:
    """Return the results with components as wide as their draws, where t is wider than u says."""
    new: dict[int, Node] = {}
    for node in order:
        new[id(node)] = node
        if isinstance(node.operation, Input):
            terms = tuple(_with_deviation(term, node) for term in node.operation.terms)
            if any(a is not b for a, b in zip(terms, node.operation.terms, strict=True)):
                new[id(node)] = Node(Input(terms), (), node.value)
            continue
        inputs = tuple(new[id(child)] for child in node.inputs)
        if any(a is not b for a, b in zip(inputs, node.inputs, strict=True)):
            new[id(node)] = Node(node.operation, inputs, node.value, node.slope)
    return [new[id(node)] for node in outputs]


def _with_deviation(term: Term, node: Node) -> Term:
    component = term.component
    spread, deviation = np.broadcast_arrays(
        np.asarray(component.distribution.standard_uncertainty, dtype=float),
        np.asarray(component.distribution.standard_deviation, dtype=float),
    )
    # a reading of no width has no draws to widen; those of no variance were refused before
    wide = (spread > 0) & np.isfinite(deviation)
    ratio = np.ones(spread.shape)
    np.divide(deviation, spread, out=ratio, where=wide)
    if component.pool is not None:
        share = 1.0 - 2.0 / np.asarray(component.pool.dof, dtype=float)
        ratio = ratio / np.sqrt(np.where(share > 0, share, 1.0))
    if np.all(ratio == 1.0):
        return term
    return Term(component, term.gain * (float(ratio.flat[0]) if node.size is None else ratio))


def _refuse_without_variance(order: list[Node], outputs: list[Node]) -> None:
    rows = np.flatnonzero(rows_with_few_dof(order, outputs, 2.0))
    if rows.size:
        labels = dict.fromkeys(
            f"'{term.component.label}'"
            for node in order
            if isinstance(node.operation, Input)
            for term in node.operation.terms
            if np.any(_dof(term.component) <= 2.0)
        )
        raise PropagationError(
            f"control=True: {', '.join(labels)} with 2 degrees of freedom or fewer leaves row "
            f"{int(rows[0])} without a variance; leave control out, or leave out that row"
        )


def _dof(component: Component) -> Values:
    pool = component.pool
    dof = getattr(component.distribution, "dof", np.inf) if pool is None else pool.dof
    return np.asarray(dof, dtype=float)
