"""Ellipses against covariances in closed form and their eigenvalues.

Re = c q and f = p/q^2 with independent relative uncertainties s of q and t of p: ln Re has s, ln f
has -2 s and t. So V = [[s^2, -2 s^2], [-2 s^2, 4 s^2 + t^2]].
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from flowunc import Length, Quantity, standard
from flowunc.bench.charts.coverage_ellipse import log_covariances, log_ellipses

Floats = NDArray[np.float64]


def pair(q: list[float], s: float, p: list[float], t: float) -> tuple[Quantity, Quantity]:
    flow = Length(q, "m", standard([s * x for x in q]), label="q")
    drop = Length(p, "m", standard([t * x for x in p]), label="p")
    return flow * 7.0, drop / flow**2


def closed(s: float, t: float) -> Floats:
    return np.array([[s**2, -2 * s**2], [-2 * s**2, 4 * s**2 + t**2]])


def test_covariance_in_closed_form() -> None:
    q = np.linspace(1.0, 3.0, 450)  # more than are taken at a time
    re, f = pair(list(q), 0.03, list(5 * q), 0.02)
    found = log_covariances(re, f)
    assert found == pytest.approx(np.broadcast_to(closed(0.03, 0.02), (450, 2, 2)), rel=1e-9)


@pytest.mark.parametrize(("s", "t", "k"), [(0.03, 0.02, 2.0), (0.1, 0.3, 2.45), (0.02, 0.001, 1.0)])
def test_geometry_against_eigenvalues_in_closed_form(s: float, t: float, k: float) -> None:
    re, f = pair([2.0], s, [3.0], t)
    (outline,) = log_ellipses(np.asarray(re.value), np.asarray(f.value), log_covariances(re, f), k)
    z = np.log(outline / [14.0, 0.75])
    matrix = closed(s, t)
    # every point lies on z^T V^-1 z = k^2
    distance = np.einsum("ni,ij,nj->n", z, np.linalg.inv(matrix), z)
    assert distance == pytest.approx(np.full(len(z), k**2), rel=1e-8)
    # semi-axes k sqrt(lambda) of a symmetric 2 x 2 matrix, from its trace and determinant
    half, determinant = (5 * s**2 + t**2) / 2, s**2 * t**2
    root = np.sqrt(half**2 - determinant)
    radius = np.hypot(*z.T)
    assert radius.max() == pytest.approx(k * np.sqrt(half + root), rel=1e-3)
    assert radius.min() == pytest.approx(k * np.sqrt(determinant / (half + root)), rel=2e-2)
    # the long axis lies along the eigenvector (V12, lambda - V11)
    long = z[radius.argmax()]
    slope = (half + root - s**2) / (-2 * s**2)
    assert long[1] / long[0] == pytest.approx(slope, rel=2e-2)
    # seen from an axis it spans k u
    assert np.abs(z).max(axis=0) == pytest.approx([k * s, k * np.sqrt(4 * s**2 + t**2)], rel=2e-3)
    assert np.array_equal(outline[0], outline[-1])


def test_one_error_behind_both_leaves_a_line() -> None:
    re, f = pair([2.0], 0.05, [3.0], 1e-12)
    (outline,) = log_ellipses(
        np.asarray(re.value), np.asarray(f.value), log_covariances(re, f), 2.0
    )
    z = np.log(outline / [14.0, 0.75])
    assert z[:, 1] == pytest.approx(-2 * z[:, 0], abs=1e-8)
    assert z[:, 0].max() == pytest.approx(0.1, rel=1e-2)


def test_without_correlation_it_stands_upright() -> None:
    re = Length([2.0], "m", standard(0.1), label="a") * 1.0
    f = Length([5.0], "m", standard(0.5), label="b") * 1.0
    (outline,) = log_ellipses(
        np.asarray(re.value), np.asarray(f.value), log_covariances(re, f), 2.0
    )
    z = np.log(outline / [2.0, 5.0])
    assert np.square(z / [0.1, 0.2]).sum(axis=1) == pytest.approx(np.ones(len(z)))
