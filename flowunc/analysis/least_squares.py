"""A straight line through points with errors in both axes and any covariance between them.

Minimises r^T V(b)^-1 r over intercept a and slope b, with r = y - a - b x and V(b) the covariance
of r. The intercept is eliminated, and the slope becomes an angle: on the circle of angles the
sum is smooth and periodic, so that every local minimum can be found, steep lines included.

Plain numbers only; `line` connects this with quantities.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.analysis.chi_square import RELATIVE_CUTOFF
from flowunc.analysis.point_errors import PointErrors, Reduced, reduced, refuse_same_quantity
from flowunc.core.errors import PropagationError, RangeError
from flowunc.core.magnitude import LARGEST_EXPONENT, times_power_of_two

__all__ = ["Solution", "solve_line"]

Floats = NDArray[np.float64]

_STEPS = 90  # angles of the even grid, 2 degrees apart
# Where errors of the axes differ by powers of ten, narrow peaks lie at flat and steep angles.
_STEEPNESS = np.logspace(-6, 6, 49)
# A second minimum within this chi-square of the best is a rival: two standard uncertainties.
_RIVAL = 4.0
_VERTICAL = 1e-8
_CANCELLED = 1e-14


@dataclass(frozen=True, slots=True)
class Solution:
    """The best line, and how it moves with the data.

    Attributes
    ----------
    intercept, slope : float
    weights : ndarray, shape (2, n)
        Change of intercept and slope per unit of y_i - slope x_i.
    residuals : ndarray, shape (n,)
        y - intercept - slope x.
    residual_u : ndarray, shape (n,)
        Standard uncertainty of y - slope x.
    adjusted_x : ndarray, shape (n,)
        Most probable abscissas, on the line.
    chi_square : float
    dof : int
    rivals : tuple of (float, float)
        Slope and chi-square of other local minima that are nearly as deep.
    """

    intercept: float
    slope: float
    weights: Floats
    residuals: Floats
    residual_u: Floats
    adjusted_x: Floats
    chi_square: float
    dof: int
    rivals: tuple[tuple[float, float], ...] = ()

    def of_larger(self, x_exponent: int, y_exponent: int) -> Solution:
        """Return the solution for x and y times powers of two: no digit changes.

        Raises
        ------
        RangeError
            A parameter, or how it moves with the data, leaves float64.
        """
        larger = times_power_of_two
        to_slope = y_exponent - x_exponent
        solution = replace(
            self,
            intercept=float(larger(self.intercept, y_exponent)),
            slope=float(larger(self.slope, to_slope)),
            weights=np.stack([self.weights[0], larger(self.weights[1], -x_exponent)]),
            residuals=larger(self.residuals, y_exponent),
            residual_u=larger(self.residual_u, y_exponent),
            adjusted_x=larger(self.adjusted_x, x_exponent),
            rivals=tuple((float(larger(b, to_slope)), value) for b, value in self.rivals),
        )
        # the slope moves by 1/x with y and by y/x^2 with x
        needed = x_exponent, y_exponent, to_slope, to_slope - x_exponent
        if max(map(abs, needed)) > LARGEST_EXPONENT or not math.isfinite(solution.intercept):
            raise RangeError(
                "fit of a line: the sizes of x, y, the slope y/x or its change y/x^2 with a point "
                "are outside 1e-301 to 1e301 in coherent SI, where numbers end: multiply x or y "
                "by a constant"
            )
        return solution


def solve_line(x: Floats, y: Floats, errors: PointErrors) -> Solution:
    """Fit a line by generalised least squares.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least two points, not all at the same x.
    errors : PointErrors
        Covariance of x, of y, and between them.

    Raises
    ------
    PropagationError
        The covariance leaves points without an independent error and they do not fit a line, or
        y is a line in x by its record.
    """
    x0, y0 = float(np.mean(x)), float(np.mean(y))
    sx = float(np.std(x))
    sy = float(np.std(y)) or float(np.mean(errors.u_of_residual(0.0))) or 1.0
    X, Y = (x - x0) / sx, (y - y0) / sy
    scaled = errors.scaled(sx, sy).compressed()
    refuse_same_quantity(X, Y, scaled)
    rows = reduced(X, Y, scaled)
    rivals: list[tuple[float, float]] = []
    if rows.one.size == 2:
        A, B = _through_two(rows)
        chi_square = 0.0
    elif not scaled.xx.any():
        A, B, chi_square = _exact_x(rows)
    else:
        (A, B, chi_square), *others = _minima(rows)
        rivals = [(b * sy / sx, value) for _, b, value in others if value - chi_square < _RIVAL]
    adjusted, G = _linearised(rows, X, scaled, A, B)
    to_origin = x0 * G[1] / sx
    at_origin = G[0] - to_origin
    # what is left of a difference that cancels (an exact origin) must not pass for a weight
    at_origin[np.abs(at_origin) < _CANCELLED * (np.abs(G[0]) + np.abs(to_origin))] = 0.0
    weights = np.stack([at_origin, G[1] / sx])
    slope = B * sy / sx
    intercept = y0 + sy * A - slope * x0
    return Solution(
        intercept,
        slope,
        weights,
        y - intercept - slope * x,
        errors.u_of_residual(slope),
        x0 + sx * adjusted,
        chi_square,
        rows.one.size - 2,
        tuple(rivals),
    )


def _through_two(rows: Reduced) -> tuple[float, float]:
    design = np.stack([rows.one, rows.x], axis=1)
    if abs(np.linalg.det(design)) < RELATIVE_CUTOFF * float(
        np.prod(np.linalg.norm(design, axis=1))
    ):
        raise PropagationError(
            "fit of a line: all errors but those of points at one x are in common, so nothing "
            "fixes the slope: state the independent errors of the readings, such as resolution"
        )
    A, B = np.linalg.solve(design, rows.y)
    return float(A), float(B)


def _exact_x(rows: Reduced) -> tuple[float, float, float]:
    """Fit with errors in y alone: V does not depend on the slope, so one step suffices."""
    V = rows.weighing(1.0, 0.0)
    if V is None:
        raise _no_inverse()
    design = np.stack([rows.one, rows.x], axis=1)
    weighted = V.solve(design)
    A, B = np.linalg.solve(design.T @ weighted, weighted.T @ rows.y)
    residual = rows.y - design @ np.array([A, B])
    return float(A), float(B), float(residual @ V.solve(residual))


def _no_inverse() -> PropagationError:
    return PropagationError(
        "fit of a line: the errors of the points are so far in common that no independent error "
        "is left along the line: state the independent errors of the readings, such as "
        "resolution, or use scatter=True"
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """The sum of squares at one angle, its derivative, and the best intercept there."""

    value: float
    derivative: float
    offset: float


_NOWHERE = _Place(math.inf, math.nan, math.nan)


def _at(rows: Reduced, angle: float) -> _Place:
    """Evaluate the line cos(angle) y - sin(angle) x = offset."""
    c, s = math.cos(angle), math.sin(angle)
    V = rows.weighing(c, s)
    if V is None:
        return _NOWHERE
    across = c * rows.y - s * rows.x
    solved = V.solve(np.stack([rows.one, across], axis=1))
    offset = float(rows.one @ solved[:, 1]) / float(rows.one @ solved[:, 0])
    residual = across - offset * rows.one
    e = solved[:, 1] - offset * solved[:, 0]
    turned = -s * rows.y - c * rows.x
    # d(r^T V^-1 r) at the best offset, whose own derivative drops out
    derivative = 2 * float(e @ turned) - rows.covariance_turning(c, s, e)
    return _Place(float(e @ residual), derivative, offset)


def _minima(rows: Reduced) -> list[tuple[float, float, float]]:
    """Return intercept, slope and sum of squares of every local minimum, the best first."""
    start = math.atan(float(rows.x @ rows.y) / float(rows.x @ rows.x))  # ordinary least squares
    even = (np.arange(_STEPS) + 0.5) * math.pi / _STEPS - math.pi / 2
    steep = np.arctan(_STEEPNESS)
    angles = np.unique(np.concatenate([even, steep, -steep, [start]]))
    values = np.array([_at(rows, angle).value for angle in angles])
    if not np.isfinite(values).any():
        raise _no_inverse()
    # the circle closes: a line at -90 degrees is the line at +90 degrees
    before, after = np.roll(values, 1), np.roll(values, -1)
    left, right = np.roll(angles, 1), np.roll(angles, -1)
    left[0] -= math.pi
    right[-1] += math.pi
    found: list[tuple[float, _Place]] = []
    for i in np.flatnonzero(np.isfinite(values) & (values <= before) & (values <= after)):
        angle = _refined(rows, float(left[i]), float(angles[i]), float(right[i]))
        if all(abs(math.sin(angle - other)) > 1e-6 for other, _ in found):
            found.append((angle, _at(rows, angle)))
    found.sort(key=lambda pair: pair[1].value)
    if abs(math.cos(found[0][0])) < _VERTICAL:
        raise PropagationError(
            "fit of a line: the best line is vertical, so it has no slope: exchange x and y"
        )
    return [
        (place.offset / math.cos(angle), math.tan(angle), place.value)
        for angle, place in found
        if abs(math.cos(angle)) >= _VERTICAL
    ]


def _refined(rows: Reduced, low: float, middle: float, high: float) -> float:
    """Find the minimum within a bracket to full precision."""
    coarse = scipy.optimize.minimize_scalar(
        lambda angle: min(_at(rows, angle).value, 1e300),
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-6 * (high - low)},
    )
    angle = float(coarse.x) if coarse.fun <= _at(rows, middle).value else middle
    # A minimum is flat, so searching it stops at half the digits; its derivative has them all.
    step = 1e-8
    while step < 1e-2:
        ends = angle - step, angle + step
        slopes = [_at(rows, end).derivative for end in ends]
        if slopes[0] < 0 < slopes[1]:
            return float(
                scipy.optimize.brentq(
                    lambda turned: _at(rows, turned).derivative, *ends, xtol=1e-16, rtol=1e-15
                )
            )
        step *= 4
    return angle


def _linearised(
    rows: Reduced, x: Floats, errors: PointErrors, intercept: float, slope: float
) -> tuple[Floats, Floats]:
    """Return the adjusted x and G, the change of both parameters with y - slope x, shape (2, n).

    G = (D^T V^-1 D)^-1 D^T V^-1 with the design D = [1, adjusted x]: G V G^T =
    (D^T V^-1 D)^-1 is the parameter covariance of [York 2004], whatever the covariance.
    """
    if rows.one.size == 2:
        # the line goes through both: nothing is adjusted, and no weights are involved
        return x, rows.to_points(np.linalg.inv(np.stack([rows.one, rows.x], axis=1)))
    V = rows.weighing(1.0, slope)
    if V is None:
        raise _no_inverse()
    residual = rows.y - intercept * rows.one - slope * rows.x
    e = rows.to_points(V.solve(residual))
    adjusted = x - errors.of_x_with_residual(slope, e)
    design = np.stack([rows.one, rows.of_points(adjusted)], axis=1)
    weighted = V.solve(design)
    G = np.asarray(np.linalg.solve(design.T @ weighted, weighted.T), dtype=np.float64)
    return adjusted, rows.to_points(G)
