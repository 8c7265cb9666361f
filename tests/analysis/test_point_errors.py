"""Singular covariances of points: what is dropped, what is kept, what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc.analysis.point_errors import PointErrors, reduced, refuse_same_quantity
from flowunc.core.errors import PropagationError

N = 5
NOTHING = np.zeros((N, N))
X = np.array([-1.4, -0.7, 0.0, 0.7, 1.4])
Y = np.array([-1.3, -0.9, 0.2, 0.8, 1.2])


def test_independent_errors_leave_every_point_as_it_is() -> None:
    found = reduced(X, Y, PointErrors(NOTHING, np.eye(N), NOTHING))
    assert found.matrix is None
    assert not found.anchored


def test_weighing_solves_like_the_inverse() -> None:
    rng = np.random.default_rng(1)
    factor = rng.normal(size=(2 * N, 2 * N))
    C = factor @ factor.T
    errors = PointErrors(C[:N, :N], C[N:, N:], C[:N, N:])
    c, s = 0.6, 0.8
    weighing = reduced(X, Y, errors).weighing(c, s)
    assert weighing is not None
    combine = np.concatenate([-s * np.eye(N), c * np.eye(N)], axis=1)
    V = combine @ C @ combine.T
    np.testing.assert_allclose(weighing.solve(X), np.linalg.solve(V, X), rtol=1e-8)
    right = np.stack([X, Y], axis=1)
    np.testing.assert_allclose(weighing.solve(right), np.linalg.solve(V, right), rtol=1e-8)


def test_derivative_of_the_covariance_with_the_angle() -> None:
    rng = np.random.default_rng(2)
    factor = rng.normal(size=(2 * N, 2 * N))
    C = factor @ factor.T
    errors = PointErrors(C[:N, :N], C[N:, N:], C[:N, N:])
    rows = reduced(X, Y, errors)
    e, angle, h = rng.normal(size=N), 0.3, 1e-6
    ahead, behind = (
        e @ errors.of_residual(np.cos(turned), np.sin(turned)) @ e
        for turned in (angle + h, angle - h)
    )
    exact = rows.covariance_turning(np.cos(angle), np.sin(angle), e)
    assert exact == pytest.approx((ahead - behind) / (2 * h), rel=1e-7)


def test_repeated_point_is_dropped() -> None:
    pick = np.eye(N)[[0, 1, 2, 2, 4]]
    yy = pick @ np.diag([1.0, 2, 3, 4, 5]) @ pick.T
    found = reduced(pick @ X, pick @ Y, PointErrors(NOTHING, yy, NOTHING))
    assert found.one.size == 4
    assert not found.anchored


def test_repeated_point_with_another_value_is_refused() -> None:
    pick = np.eye(N)[[0, 1, 2, 2, 4]]
    yy = pick @ pick.T
    with pytest.raises(PropagationError, match="only 4 independent errors"):
        reduced(pick @ X, Y, PointErrors(NOTHING, yy, NOTHING))


def test_exact_point_becomes_an_anchor() -> None:
    found = reduced(X, Y, PointErrors(NOTHING, np.diag([1.0, 1, 0, 1, 1]), NOTHING))
    assert found.anchored
    assert found.one.size == N
    assert (found.x[-1] / found.one[-1], found.y[-1] / found.one[-1]) == pytest.approx((0.0, 0.2))


def test_exact_abscissas_alone_are_no_anchor() -> None:
    # x of one point exact, its y not: nothing is exact about the point
    found = reduced(X, Y, PointErrors(np.diag([1.0, 1, 0, 1, 1]), np.eye(N), NOTHING))
    assert found.matrix is None


def test_errors_in_common_are_refused_by_their_number() -> None:
    gains = np.stack([np.ones(N), X])
    with pytest.raises(PropagationError, match="only 2 independent errors"):
        reduced(X, Y, PointErrors(NOTHING, gains.T @ gains, NOTHING))


def test_errors_in_common_through_both_axes_are_counted_together() -> None:
    # y shares one error, x shares another: two errors in all
    with pytest.raises(PropagationError, match="only 1 independent error,"):
        reduced(X, Y, PointErrors(np.ones((N, N)), np.ones((N, N)), NOTHING))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_y_that_is_x_is_refused(sign: float) -> None:
    errors = PointErrors(np.eye(N), np.eye(N), sign * np.eye(N))
    with pytest.raises(PropagationError, match="given twice"):
        refuse_same_quantity(X, sign * X, errors)
    refuse_same_quantity(X, Y, errors)
    refuse_same_quantity(X, sign * X, PointErrors(np.eye(N), np.eye(N), 0.9 * sign * np.eye(N)))
    refuse_same_quantity(X, sign * X, PointErrors(NOTHING, NOTHING, NOTHING))
