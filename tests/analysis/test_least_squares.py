"""The minimisation on plain numbers: no deeper minimum may exist, whatever the covariance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from flowunc.analysis.least_squares import solve_line
from flowunc.analysis.point_errors import PointErrors
from flowunc.core.errors import PropagationError

Floats = NDArray[np.float64]


def lowest_on_grid(x: Floats, y: Floats, xx: Floats, yy: Floats, xy: Floats) -> float:
    """Find the least r^T V^-1 r over a dense grid of slopes by plain matrix inversion."""
    one = np.ones_like(x)
    angles = np.linspace(-math.pi / 2, math.pi / 2, 6002)[1:-1]
    b = np.tan(angles)[:, None, None]
    inverse = np.linalg.inv(yy - b * (xy + xy.T) + b * b * xx)
    r = y - b[:, 0] * x
    a = np.einsum("i,kij,kj->k", one, inverse, r) / np.einsum("i,kij,j->k", one, inverse, one)
    r = r - a[:, None]
    return float(np.min(np.einsum("ki,kij,kj->k", r, inverse, r)))


@pytest.mark.parametrize("seed", range(25))
def test_independent_points_have_no_deeper_minimum(seed: int) -> None:
    # scattered points with very unequal errors: the sum of squares has several minima
    rng = np.random.default_rng(seed)
    n = 5
    x, y = rng.normal(size=n), rng.normal(size=n)
    xx, yy = (np.diag(np.exp(2 * rng.normal(size=n))) * 0.09 for _ in range(2))
    errors = PointErrors(xx, yy, np.zeros((n, n)))
    found = solve_line(x, y, errors)
    lowest = lowest_on_grid(x, y, errors.xx, errors.yy, errors.xy)
    assert lowest * (1 - 1e-3) < found.chi_square <= lowest * (1 + 1e-12)


@pytest.mark.parametrize("seed", range(25))
def test_correlated_points_have_no_deeper_minimum(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    n = 5
    x, y = rng.normal(size=n), rng.normal(size=n)
    factor = rng.normal(size=(2 * n, 2 * n)) * 0.3 * np.exp(rng.normal(size=2 * n))[:, None]
    C = factor @ factor.T
    found = solve_line(x, y, PointErrors(C[:n, :n], C[n:, n:], C[:n, n:]))
    lowest = lowest_on_grid(x, y, C[:n, :n], C[n:, n:], C[:n, n:])
    assert lowest * (1 - 1e-3) < found.chi_square <= lowest * (1 + 1e-12)


def test_rivals_are_reported_with_their_depth() -> None:
    # A cross whose bars are long along their errors. Mirror symmetry makes the slopes +1 and -1
    # equally good, each with r^2/V = (1/2)/(0.5 (0.05^2 + 0.5^2)) per point.
    x, y = np.array([-1.0, 1, 0, 0]), np.array([0.0, 0, -1, 1])
    small, large = 0.05**2, 0.5**2
    errors = PointErrors(
        np.diag([small, small, large, large]),
        np.diag([large, large, small, small]),
        np.zeros((4, 4)),
    )
    found = solve_line(x, y, errors)
    ((slope, depth),) = found.rivals
    assert slope == pytest.approx(-found.slope, rel=1e-9)
    assert abs(slope) == pytest.approx(1.0, rel=1e-9)
    assert depth == pytest.approx(4 / (small + large), rel=1e-9)
    assert found.chi_square == pytest.approx(depth, rel=1e-9)


def test_vertical_line_is_refused() -> None:
    # the same x for two of three points that alone have weight along y
    x, y = np.array([-1.0, 1, 0, 0]), np.array([0.0, 0, -1, 1])
    large, small = 0.5**2, 0.05**2
    errors = PointErrors(
        np.diag([large, large, small, small]),
        np.diag([large, large, large, large]),
        np.zeros((4, 4)),
    )
    with pytest.raises(PropagationError, match="vertical"):
        solve_line(x, y, errors)


def test_full_and_diagonal_covariances_give_the_same() -> None:
    rng = np.random.default_rng(8)
    n = 6
    x = np.arange(n) + rng.normal(0, 0.1, n)
    y = 2 - 0.7 * np.arange(n) + rng.normal(0, 0.1, n)
    xx, yy, xy = np.full(n, 0.02), np.full(n, 0.03), np.full(n, 0.01)
    diagonal = solve_line(x, y, PointErrors(np.diag(xx), np.diag(yy), np.diag(xy)))
    # an off-diagonal term far below rounding forces the general way
    off = np.zeros((n, n))
    off[0, 1] = off[1, 0] = 1e-20
    full = solve_line(x, y, PointErrors(np.diag(xx) + off, np.diag(yy), np.diag(xy)))
    assert diagonal.slope == pytest.approx(full.slope, rel=1e-12)
    assert diagonal.chi_square == pytest.approx(full.chi_square, rel=1e-10)
    np.testing.assert_allclose(diagonal.weights, full.weights, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(diagonal.adjusted_x, full.adjusted_x, rtol=1e-10)
    np.testing.assert_allclose(diagonal.residual_u, full.residual_u, rtol=1e-12)


def test_weights_reproduce_a_line() -> None:
    # the estimator is unbiased: moving all y by a line moves the parameters by that line
    rng = np.random.default_rng(4)
    n = 6
    x, u = np.arange(n) + 3.0, rng.uniform(0.1, 0.5, n)
    y = 1 + 2 * x + rng.normal(0, u)
    found = solve_line(x, y, PointErrors(np.zeros((n, n)), np.diag(u**2) + 0.1, np.zeros((n, n))))
    np.testing.assert_allclose(found.weights @ np.ones(n), [1, 0], atol=1e-12)
    np.testing.assert_allclose(found.weights @ x, [0, 1], atol=1e-11)
