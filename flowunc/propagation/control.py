"""The linear model as a control variate for the draws.

The linear result L of the same components is known exactly: its mean is the value, its variance
the sum of squares. Drawn together with the result Y, it takes away the part of the numerical
error that is linear in the draws:

    mean = y + (mean of Y - mean of L),    variance = var L + (s^2 of Y - s^2 of L)

The gain for the mean is s^2 of Y over s^2 of Y - L: the nearer the model is to linear, the larger.
Source: [Hammersley 1964, section 5.5].
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.record import Node, constant, elementwise, error_node, take
from flowunc.propagation.contributions import Contribution, contributions
from flowunc.propagation.pieces import rows_of

__all__ = ["linear_control"]

Values = NDArray[np.float64]


def linear_control(node: Node) -> tuple[Node, Values]:
    """Record the linear model of a result and return it with its exact variance, shape (n,).

    Raises
    ------
    PropagationError
        A row depends on several readings of one component, or a component has no variance.
    """
    control = constant(node.value)
    variance = np.zeros(rows_of(node))
    for part in contributions(node):
        component = part.component
        if part.rows is not None:
            raise PropagationError(
                f"control=True: rows depend on several readings of '{component.label}' or not all "
                "rows depend on it, for which no linear control is made; leave control out"
            )
        spread = part.standard_uncertainty_per_row()
        slope = part.values / spread
        columns = part.column_indices()
        deviation = _standard_deviation(component)
        variance += np.square(slope * (deviation if deviation.size == 1 else deviation[columns]))
        if not np.isfinite(variance).all():
            raise PropagationError(
                f"control=True: '{component.label}' has too few degrees of freedom for a variance; "
                "leave control out"
            )
        error = elementwise(
            op.MULTIPLY, _errors(part, node), constant(slope.reshape(node.value.shape))
        )
        control = elementwise(op.ADD, control, error)
    return control, variance


def _errors(part: Contribution, node: Node) -> Node:
    """Record the errors of a component as they stand behind the rows of the result."""
    columns = part.column_indices()
    errors = error_node(part.component, int(columns.max()))
    if errors.size is None:
        return errors
    return take(errors, int(columns[0]) if node.size is None else columns)


def _standard_deviation(component: Component) -> Values:
    spread = np.atleast_1d(np.asarray(component.distribution.standard_deviation, dtype=float))
    pool = component.pool
    if pool is None:
        return spread
    dof = np.atleast_1d(np.asarray(pool.dof, dtype=float))
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.where(dof > 2, np.sqrt(dof / (dof - 2)), np.inf)
    return spread * factor
