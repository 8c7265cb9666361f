"""The unweighted line whose uncertainty comes from the scatter of the points about it.

Centre and slope of such a line are uncorrelated, and both come from one sample: a pool of two
components with n - 2 degrees of freedom, so that every prediction has n - 2 too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flowunc.analysis.least_squares import Solution
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.magnitude import exponent_of, times_power_of_two
from flowunc.core.quantity import Quantity
from flowunc.core.record import input_node
from flowunc.core.units import coherent_unit
from flowunc.propagation.contributions import contributions

__all__ = ["Scattered", "fit_scatter"]

_LABEL = "scatter about the line"


@dataclass(frozen=True, slots=True)
class Scattered:
    """An unweighted line with the errors that its scatter gives the parameters.

    Attributes
    ----------
    solution : Solution
    intercept_error, slope_error : Quantity
        Zero in value, with the pooled components behind them.
    """

    solution: Solution
    intercept_error: Quantity
    slope_error: Quantity


def fit_scatter(x: Quantity, y: Quantity) -> Scattered:
    """Fit by ordinary least squares and make components of the residual scatter.

    Raises
    ------
    RangeError
        Fewer than three points.
    StatementError
        x or y has stated errors of single readings.

    Notes
    -----
    s^2 = sum r^2/(n - 2); u^2(slope) = s^2/S_xx, u^2(line at the mean of x) = s^2/n
    [JCGM 100, H.3.2].
    """
    n = len(x)
    if n < 3:
        raise RangeError(
            f"fit_line(scatter=True): {n} points leave no scatter; expected at least three"
        )
    for axis, quantity in (("x", x), ("y", y)):
        _refuse_own_errors(axis, quantity)
    x_exponent, y_exponent = exponent_of(x._node.value), exponent_of(y._node.value)
    abscissas = times_power_of_two(x._node.value, -x_exponent)
    ordinates = times_power_of_two(y._node.value, -y_exponent)
    mean = float(np.mean(abscissas))
    centred = abscissas - mean
    S_xx = float(centred @ centred)
    slope = float(centred @ (ordinates - np.mean(ordinates))) / S_xx
    intercept = float(np.mean(ordinates)) - slope * mean
    residuals = ordinates - np.mean(ordinates) - slope * centred
    s = math.sqrt(float(residuals @ residuals) / (n - 2))
    weights = np.stack([1 / n - mean * centred / S_xx, centred / S_xx])
    solution = Solution(
        intercept, slope, weights, residuals, np.full(n, s), abscissas, math.nan, n - 2
    ).of_larger(x_exponent, y_exponent)
    u_centre = float(times_power_of_two(s / math.sqrt(n), y_exponent))
    u_slope = float(times_power_of_two(s / math.sqrt(S_xx), y_exponent - x_exponent))
    mean = float(times_power_of_two(mean, x_exponent))

    pool = Pool(label=_LABEL, dof=float(n - 2))
    y_unit = coherent_unit(y._unit.dimension)
    slope_unit = coherent_unit(y._unit.dimension / x._unit.dimension)
    centre_error, slope_error = (
        Component(
            f"{_LABEL}, {name}",
            Normal(spread),
            unit,
            evaluation="A",
            dof=float(n - 2),
            source=_LABEL,
            pool=pool,
        )
        for name, spread, unit in (
            ("height", u_centre, y_unit),
            ("slope", u_slope, slope_unit),
        )
    )
    return Scattered(
        solution,
        Quantity._result(
            input_node(0.0, [Term(centre_error), Term(slope_error, -mean)]), y_unit.dimension
        ),
        Quantity._result(input_node(0.0, [Term(slope_error)]), slope_unit.dimension),
    )


def _refuse_own_errors(axis: str, quantity: Quantity) -> None:
    for part in contributions(quantity._node):
        # a component that reaches one reading only is that reading's own, whatever its scope
        if part.component.scope == "each" or np.count_nonzero(part.values) == 1:
            raise StatementError(
                f"fit_line(scatter=True): {axis} has '{part.component.label}', an error of single "
                "readings, which the scatter of the residuals already contains; leave the "
                "statement out, or fit with scatter=False"
            )
