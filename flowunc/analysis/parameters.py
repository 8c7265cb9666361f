"""Intercept and slope as recorded results: weighted sums over the readings.

Plain arithmetic on quantities, so that a fitted parameter correlates with everything that
shares a component with the points.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.least_squares import Solution
from flowunc.core.dimensions import Dimension
from flowunc.core.quantity import Quantity
from flowunc.core.record import constant

__all__ = ["covariance_matrix", "named_parameters", "recorded_parameters"]


def recorded_parameters(x: Quantity, y: Quantity, found: Solution) -> tuple[Quantity, Quantity]:
    """Record how intercept and slope follow the points, to first order.

    Notes
    -----
    theta = theta_0 + G (y - b_0 x - values), with the estimates theta_0 = (a_0, b_0) and the
    weights G of the fit.
    """
    y_dimension, x_dimension = y._unit.dimension, x._unit.dimension
    slope_dimension = y_dimension / x_dimension
    slope = _exact(found.slope, slope_dimension)
    moving = y - slope * x
    # zero in value, so that the estimates are not rounded twice; only its errors count
    moving = moving - _exact(moving.si.value, y_dimension)
    to_slope = _exact(found.weights[1], slope_dimension / y_dimension)
    intercept = _exact(found.intercept, y_dimension) + (found.weights[0] * moving).sum()
    return named_parameters(x, y, intercept, slope + (to_slope * moving).sum())


def named_parameters(
    x: Quantity, y: Quantity, intercept: Quantity, slope: Quantity
) -> tuple[Quantity, Quantity]:
    """Give both parameters their unit and name."""
    return (
        intercept.to(y.unit).labelled("intercept"),
        slope.to(_quotient(y.unit, x.unit)).labelled("slope"),
    )


def covariance_matrix(*parameters: Quantity) -> NDArray[np.float64]:
    """Return the covariances of scalar parameters in their units, shape (p, p)."""
    return np.array([[float(a.covariance(b)) for b in parameters] for a in parameters])


def _exact(values: float | NDArray[np.float64], dimension: Dimension) -> Quantity:
    return Quantity._result(constant(values), dimension)


def _quotient(above: str, below: str) -> str:
    if above == below:
        return "1"
    if below == "1":
        return above
    return f"{above}/{below}" if below.isalnum() else f"{above}/({below})"
