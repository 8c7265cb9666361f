"""The covariance of two results as an ellipse, on logarithmic axes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowunc.core.quantity import Quantity

__all__ = ["log_covariances", "log_ellipses"]

Floats = NDArray[np.float64]

_AT_A_TIME = 200  # readings; a covariance of all with all grows with their square
_POINTS = 73  # of an outline, the first repeated at the end


def log_covariances(first: Quantity, second: Quantity) -> Floats:
    """Return the covariance matrix of (ln x, ln y) of each reading, shape (n, 2, 2).

    Parameters
    ----------
    first, second : Quantity, shape (n,)
        Both above 0.

    Notes
    -----
    u(ln x) = u(x)/x and cov(ln x, ln y) = cov(x, y)/(x y), as far as the linear method holds
    [JCGM 100, 5.1.2 and 5.2.2].
    """
    x, y = np.asarray(first.value), np.asarray(second.value)
    found = np.empty((x.size, 2, 2))
    found[:, 0, 0] = np.square(np.asarray(first.u) / x)
    found[:, 1, 1] = np.square(np.asarray(second.u) / y)
    for start in range(0, x.size, _AT_A_TIME):
        rows = slice(start, start + _AT_A_TIME)
        both = np.diagonal(np.asarray(first[rows].covariance(second[rows])))
        found[rows, 0, 1] = found[rows, 1, 0] = both / (x[rows] * y[rows])
    return found


def log_ellipses(x: Floats, y: Floats, covariances: Floats, k: float) -> Floats:
    """Return the outlines of ellipses, shape (n, points, 2), for logarithmic axes.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Centres, above 0.
    covariances : ndarray, shape (n, 2, 2)
        Of (ln x, ln y).
    k : float
        Coverage factor: the ellipse spans k u of ln x and of ln y.

    Notes
    -----
    All points z with z^T V^-1 z = k^2 are z = k S w with S S = V, w on the unit circle. The root
    of V from its eigenvalues exists as well where V is singular (two results with one error
    behind both), and where the ellipse is only a line.
    """
    angles = np.linspace(0.0, 2.0 * np.pi, _POINTS)
    circle = np.stack([np.cos(angles), np.sin(angles)])
    values, vectors = np.linalg.eigh(covariances)
    root = vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]
    outline = k * (root @ circle).transpose(0, 2, 1)
    outline[:, -1] = outline[:, 0]
    found: Floats = np.stack([x, y], axis=-1)[:, None, :] * np.exp(outline)
    return found
