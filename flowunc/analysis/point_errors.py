"""Covariance of points in a plane, and what to do where it has no inverse.

Errors wholly in common, an exact point (an origin), or one reading entered twice make the
covariance of the residuals singular. `reduced` finds the combinations of points that carry no
error, and sorts them: repetitions are dropped, an exact point is kept as one the line must go
through, and everything else is refused with the reason.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.analysis.chi_square import RELATIVE_CUTOFF
from flowunc.core.errors import PropagationError

__all__ = ["PointErrors", "Reduced", "Weighing", "reduced", "refuse_same_quantity"]

Floats = NDArray[np.float64]

# Combinations without error must fit the line to this part of the spread of the points.
_FITS = 1e-9


@dataclass(frozen=True, slots=True)
class PointErrors:
    """Covariance of x, of y, and of x (rows) with y (columns).

    Each of shape (n, n), or (n,) where no two points have an error in common.
    """

    xx: Floats
    yy: Floats
    xy: Floats

    @property
    def independent(self) -> bool:
        """Whether no two points have an error in common, and the variances alone are kept."""
        return self.xx.ndim == 1

    def compressed(self) -> PointErrors:
        """Return the diagonals alone where nothing else is there: cost n in place of n**3."""
        parts = self.xx, self.yy, self.xy
        if self.independent or any(
            np.count_nonzero(part) != np.count_nonzero(np.diag(part)) for part in parts
        ):
            return self
        return PointErrors(*(np.diag(part).copy() for part in parts))

    def scaled(self, sx: float, sy: float) -> PointErrors:
        """Return the covariance of x/sx and y/sy."""
        return PointErrors(self.xx / sx / sx, self.yy / sy / sy, self.xy / sx / sy)

    def of_residual(self, c: float, s: float) -> Floats:
        """Return the covariance of c y - s x."""
        return c * c * self.yy - c * s * (self.xy + self.xy.T) + s * s * self.xx

    def u_of_residual(self, slope: float) -> Floats:
        """Return the standard uncertainty of y - slope x, shape (n,)."""
        return np.sqrt(np.maximum(_variances(self.of_residual(1.0, slope)), 0.0))

    def of_x_with_residual(self, slope: float, e: Floats) -> Floats:
        """Return the covariance of x with y - slope x, times a vector."""
        covariance = self.xy - slope * self.xx
        return covariance * e if self.independent else np.asarray(covariance @ e)

    def seen_by(self, matrix: Floats) -> PointErrors:
        """Return the covariance of linear combinations of the points."""
        parts = (self.xx, self.yy, self.xy)
        if self.independent:
            return PointErrors(*((matrix * part) @ matrix.T for part in parts))
        return PointErrors(*(matrix @ part @ matrix.T for part in parts))


def _variances(covariance: Floats) -> Floats:
    return covariance if covariance.ndim == 1 else np.diag(covariance)


@dataclass(frozen=True, slots=True)
class Weighing:
    """A covariance that can be solved with: variances alone, or a scaled Cholesky factor."""

    scale: Floats
    factor: Floats | None

    def solve(self, right: Floats) -> Floats:
        """Return V^-1 times a vector or the columns of a matrix."""
        scale = self.scale if right.ndim == 1 else self.scale[:, np.newaxis]
        if self.factor is None:
            return np.asarray(right / scale / scale)
        solved = scipy.linalg.cho_solve((self.factor, True), right / scale, check_finite=False)
        return np.asarray(solved / scale)


@dataclass(frozen=True, slots=True)
class Reduced:
    """Combinations of points with independent errors, of which a line is fitted.

    Attributes
    ----------
    matrix : ndarray, shape (m, n), or None
        The combinations; None where every point stands for itself.
    one, x, y : ndarray, shape (m,)
        The combinations of 1, x and y.
    errors : PointErrors
        Of the combinations.
    anchored : bool
        The last combination is exact.
    """

    matrix: Floats | None
    one: Floats
    x: Floats
    y: Floats
    errors: PointErrors
    anchored: bool

    def of_points(self, values: Floats) -> Floats:
        """Return the combinations of one value for each point."""
        return values if self.matrix is None else np.asarray(self.matrix @ values)

    def to_points(self, weights: Floats) -> Floats:
        """Return weights of the combinations, shape (..., m), as weights of the points."""
        return weights if self.matrix is None else np.asarray(weights @ self.matrix)

    def weighing(self, c: float, s: float) -> Weighing | None:
        """Return the covariance of c y - s x ready to solve with, None where it is singular."""
        V = self.errors.of_residual(c, s)
        if self.anchored:
            # An exact combination has no inverse variance. Adding a multiple of 1 1^T changes
            # neither the estimate nor chi-square, as the intercept is free [Rao 1973, 4i].
            V = V + np.outer(self.one, self.one) * (np.trace(V) / float(self.one @ self.one))
        variances = _variances(V)
        largest = float(np.max(variances))
        if not float(np.min(variances)) > RELATIVE_CUTOFF**2 * largest:
            return None
        scale = np.sqrt(variances)
        if V.ndim == 1:
            return Weighing(scale, None)
        try:
            factor = np.linalg.cholesky(V / np.outer(scale, scale))
        except np.linalg.LinAlgError:
            return None
        if float(np.min(np.diag(factor))) ** 2 < RELATIVE_CUTOFF:
            return None
        return Weighing(scale, factor)

    def covariance_turning(self, c: float, s: float, e: Floats) -> float:
        """Return e^T V' e, V' being the derivative of the covariance with the angle."""
        parts = self.errors
        if parts.independent:
            square = e * e
            yy, xx, xy = (float(part @ square) for part in (parts.yy, parts.xx, parts.xy))
        else:
            yy, xx, xy = (float(e @ part @ e) for part in (parts.yy, parts.xx, parts.xy))
        return 2 * c * s * (xx - yy) - 2 * (c * c - s * s) * xy


def refuse_same_quantity(x: Floats, y: Floats, errors: PointErrors) -> None:
    """Refuse a y that follows x along a line, errors included: nothing is left to fit.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Centred and scaled to the spread of the points, so that such a line has slope 1 or -1.
    errors : PointErrors

    Raises
    ------
    PropagationError
        y and x are the same quantity but for two exact numbers.
    """
    slope = math.copysign(1.0, float(x @ y))
    variances = _variances(errors.xx) + _variances(errors.yy)
    left = _variances(errors.of_residual(1.0, slope))
    if (
        variances.any()
        and float(np.max(np.abs(y - slope * x))) <= _FITS
        and bool(np.all(np.abs(left) <= RELATIVE_CUTOFF * variances))
    ):
        raise PropagationError(
            "fit of a line: by its record y is a line in x, errors included, so that no error is "
            "left to weigh the points with: check that the same readings were not given twice; "
            "expected x and y with independent errors, or scatter=True if they have none"
        )


def reduced(x: Floats, y: Floats, errors: PointErrors) -> Reduced:
    """Separate points with errors of their own from combinations without any.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Centred and scaled to the spread of the points.
    errors : PointErrors

    Raises
    ------
    PropagationError
        Combinations without error that cannot all lie on one line.
    """
    n = x.size
    if n == 2:
        return _every_point(x, y, errors)
    # v^T x and v^T y are both exact just where v^T (V_xx + V_yy) v = 0
    both = errors.xx + errors.yy
    variances = _variances(both)
    if not variances.any():
        raise PropagationError(
            "fit of a line: neither x nor y has an uncertainty, so the points have no weights: "
            "state the uncertainties, or use scatter=True to estimate the scatter from the fit"
        )
    inexact = variances > RELATIVE_CUTOFF**2 * float(np.max(variances))
    if errors.independent and inexact.all():
        return _every_point(x, y, errors)
    scale = np.sqrt(np.where(inexact, variances, 1.0))
    correlation = (np.diag(both) if both.ndim == 1 else both) / np.outer(scale, scale)
    values, vectors = np.linalg.eigh(correlation[np.ix_(inexact, inexact)])
    kept = values > RELATIVE_CUTOFF * float(values[-1])
    if inexact.all() and kept.all():
        return _every_point(x, y, errors)

    spread = np.zeros((n, vectors.shape[1]))
    spread[inexact] = vectors
    along = (spread / scale[:, np.newaxis]).T
    exact = np.concatenate([np.eye(n)[~inexact], along[~kept]])
    exact /= np.linalg.norm(exact, axis=1, keepdims=True)
    anchor = _anchor(exact, x, y, int(np.count_nonzero(kept)))
    matrix = along[kept] if anchor is None else np.concatenate([along[kept], [anchor]])
    if matrix.shape[0] < 2:
        raise _common(n, matrix.shape[0])
    return _combined(matrix, x, y, errors, anchored=anchor is not None)


def _anchor(exact: Floats, x: Floats, y: Floats, left: int) -> Floats | None:
    """Return the one exact point behind the combinations, None if they say nothing at all."""
    says = exact @ np.stack([np.ones_like(x), x, y], axis=1)
    left_vectors, sizes, right_vectors = np.linalg.svd(says, full_matrices=False)
    if sizes[0] < _FITS:
        return None
    second = float(sizes[1]) if sizes.size > 1 else 0.0
    if second > _FITS or abs(right_vectors[0, 0]) < _FITS:
        raise _common(x.size, left)
    combination: Floats = left_vectors[:, 0] @ exact
    return combination


def _common(points: int, left: int) -> PropagationError:
    return PropagationError(
        f"fit of a line: behind the {points} points stand only {left} independent "
        f"error{'' if left == 1 else 's'}, the rest is in common: points that share all their "
        "errors carry no independent information on the line. State the independent errors of "
        "the readings, such as resolution, or use scatter=True if x and y have none"
    )


def _every_point(x: Floats, y: Floats, errors: PointErrors) -> Reduced:
    return Reduced(None, np.ones_like(x), x, y, errors, anchored=False)


def _combined(
    matrix: Floats, x: Floats, y: Floats, errors: PointErrors, *, anchored: bool
) -> Reduced:
    seen = errors.seen_by(matrix)
    if anchored:
        # exact by construction; what is left there is rounding
        for part in (seen.xx, seen.yy, seen.xy):
            part[-1, :] = part[:, -1] = 0.0
    return Reduced(matrix, matrix @ np.ones_like(x), matrix @ x, matrix @ y, seen, anchored)
