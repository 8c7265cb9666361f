"""The fitted line against published fits, closed forms and brute-force minimisation."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import linalg, optimize, stats

from flowunc.analysis import LineFit, fit_line
from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    PropagationError,
    RangeError,
    ShapeError,
)
from flowunc.core.kinds import Length, Ratio, Temperature, Time, Velocity
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.statements import shared, standard

Floats = NDArray[np.float64]

# Pearson's data with York's weights w = 1/u^2 [York 1966]; read in a test that quotes them [T].
PEARSON_X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WEIGHTS_X = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
WEIGHTS_Y = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def pearson() -> tuple[Length, Time]:
    return (
        Length(PEARSON_X, "mm", standard(WEIGHTS_X**-0.5)),
        Time(PEARSON_Y, "ms", standard(WEIGHTS_Y**-0.5)),
    )


def test_errors_in_both_axes_york() -> None:
    # computed from the equations of [York 2004], u with adjusted x (with observed x it would be
    # 0.05830 and 0.29713) [C]; slope and intercept are printed as -0.480533407 and 5.47991022 [M]
    fit = fit_line(*pearson())
    assert fit.slope.unit == "ms/mm"
    assert fit.intercept.unit == "ms"
    assert fit.slope.value == pytest.approx(-0.4805334074, rel=1e-9)
    assert fit.intercept.value == pytest.approx(5.4799102240, rel=1e-9)
    assert fit.slope.u == pytest.approx(0.0579850090, rel=1e-9)
    assert fit.intercept.u == pytest.approx(0.2949707355, rel=1e-9)
    assert fit.correlation == pytest.approx(-0.9630881375, rel=1e-9)
    assert fit.chi_square == pytest.approx(11.866353194, rel=1e-9)
    assert fit.dof == 8
    assert fit.p_value == pytest.approx(stats.chi2.sf(11.866353194, 8), rel=1e-8)


def test_covariance_matrix_holds_the_same_numbers() -> None:
    fit = fit_line(*pearson())
    covariance = fit.covariance
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), [0.2949707355, 0.0579850090])
    assert covariance[0, 1] == covariance[1, 0]
    assert covariance[0, 1] < 0


# --- errors in y alone: general-purpose libraries -------------------------------------------

X = np.array([1.0, 2.0, 3.5, 4.0, 6.0, 7.5])
Y = np.array([2.1, 3.8, 7.3, 7.9, 12.4, 14.6])
U = np.array([0.1, 0.3, 0.2, 0.15, 0.4, 0.2])


def fit_by_scipy(sigma: Floats) -> tuple[Floats, Floats]:
    """Return (a, b) of the line and their covariance by `curve_fit`.

    With differences in place of the partial derivatives, which are its default, its covariance is
    off by 1e-8 to 3e-6, depending on the version of SciPy. With the derivatives it agrees with the
    normal equations at 40 digits (mpmath) to 1e-14, as `fit_line` does [C].
    """
    found, covariance = optimize.curve_fit(
        lambda x, a, b: a + b * x,
        X,
        Y,
        p0=[0, 2],
        sigma=sigma,
        absolute_sigma=True,
        jac=lambda x, a, b: np.column_stack([np.ones_like(x), x]),
    )
    return found, covariance


def test_errors_in_y_alone_against_curve_fit_and_polyfit() -> None:
    fit = fit_line(Ratio(X, "1"), Ratio(Y, "1", standard(U)))
    found, covariance = fit_by_scipy(U)
    assert (fit.intercept.value, fit.slope.value) == pytest.approx(tuple(found), rel=1e-12)
    np.testing.assert_allclose(fit.covariance, covariance, rtol=1e-12)

    (b, a), unscaled = np.polyfit(X, Y, 1, w=1 / U, cov="unscaled")
    assert (fit.intercept.value, fit.slope.value) == pytest.approx((a, b), rel=1e-10)
    np.testing.assert_allclose(fit.covariance, unscaled[::-1, ::-1], rtol=1e-10)
    assert fit.chi_square == pytest.approx(np.sum(((Y - a - b * X) / U) ** 2), rel=1e-10)


def test_correlated_errors_of_y_against_curve_fit() -> None:
    # curve_fit takes a full covariance of y
    fit = fit_line(Ratio(X, "1"), Ratio(Y, "1", standard(U), shared(standard(0.5))))
    found, covariance = fit_by_scipy(np.diag(U**2) + 0.25)
    assert (fit.intercept.value, fit.slope.value) == pytest.approx(tuple(found), rel=1e-12)
    np.testing.assert_allclose(fit.covariance, covariance, rtol=1e-12)


# --- any covariance: minimise over the line and all true points -----------------------------


def brute_force(x: Floats, y: Floats, joint: Floats, start: Floats) -> tuple[Floats, Floats, float]:
    """Minimise the joint sum of squares over a, b and every true x.

    ``joint`` is the covariance of (x_1..x_n, y_1..y_n). Returns (a, b), its covariance from the
    information matrix of all n + 2 unknowns, and the sum of squares.
    """
    n = x.size
    root = np.linalg.inv(np.linalg.cholesky(joint))

    def misfit(p: Floats) -> Floats:
        true_x = p[2:]
        return root @ np.concatenate([x - true_x, y - p[0] - p[1] * true_x])

    def jacobian(p: Floats) -> Floats:
        J = np.zeros((2 * n, n + 2))
        J[n:, 0] = -1
        J[n:, 1] = -p[2:]
        J[:n, 2:] = -np.eye(n)
        J[n:, 2:] = -p[1] * np.eye(n)
        return root @ J

    found = optimize.least_squares(
        misfit, np.concatenate([start, x]), jacobian, xtol=1e-15, ftol=1e-15, gtol=1e-14
    )
    J = jacobian(found.x)
    return found.x[:2], np.linalg.inv(J.T @ J)[:2, :2], 2 * found.cost


def correlated_points(seed: int, n: int = 7) -> tuple[Quantity, Quantity, Floats]:
    """Make points whose axes share two errors with each other, and their joint covariance."""
    rng = np.random.default_rng(seed)
    t = np.sort(rng.uniform(1, 8, n))
    u_x, u_y = rng.uniform(0.05, 0.3, n), rng.uniform(0.05, 0.3, n)
    offset = Ratio(0.0, "1", standard(0.4))
    gain = Ratio(0.0, "1", standard(0.03))
    own = Ratio(np.zeros(n), "1", standard(0.2))  # of each reading, in both axes
    x = Ratio(t + rng.normal(0, u_x), "1", standard(u_x)) + offset + gain * t + own
    y = Ratio(1.5 - 0.8 * t + rng.normal(0, u_y), "1", standard(u_y)) + 0.5 * offset - gain * t
    y = y + 0.7 * own
    # the same covariance, written by hand
    L = np.zeros((2 * n, 2 + 3 * n))
    L[:n, 0], L[n:, 0] = 0.4, 0.2
    L[:n, 1], L[n:, 1] = 0.03 * t, -0.03 * t
    L[:n, 2 : 2 + n], L[n:, 2 : 2 + n] = 0.2 * np.eye(n), 0.14 * np.eye(n)
    L[:n, 2 + n : 2 + 2 * n] = np.diag(u_x)
    L[n:, 2 + 2 * n :] = np.diag(u_y)
    return x, y, L @ L.T


@pytest.mark.parametrize("seed", range(6))
def test_any_covariance_against_brute_force(seed: int) -> None:
    x, y, C = correlated_points(seed)
    fit = fit_line(x, y)
    start = np.array([fit.intercept.value + 0.3, fit.slope.value * 1.1])
    line, covariance, sum_of_squares = brute_force(
        np.asarray(x.value), np.asarray(y.value), C, start
    )
    assert fit.chi_square == pytest.approx(sum_of_squares, rel=1e-10)
    np.testing.assert_allclose([fit.intercept.value, fit.slope.value], line, rtol=1e-6)
    np.testing.assert_allclose(fit.covariance, covariance, rtol=1e-5)


def test_brute_force_notices_missing_correlation() -> None:
    # the comparison above must be able to fail: without the terms between x and y it does
    x, y, C = correlated_points(0)
    fit = fit_line(x, y)
    n = len(x)
    C[:n, n:] = C[n:, :n] = 0
    _, covariance, _ = brute_force(
        np.asarray(x.value), np.asarray(y.value), C, np.array([1.5, -0.8])
    )
    assert abs(covariance[1, 1] / fit.covariance[1, 1] - 1) > 0.02


# --- closed forms ---------------------------------------------------------------------------


def test_shared_offset_of_y_moves_the_intercept_alone() -> None:
    s = 0.7
    alone = fit_line(Ratio(X, "1"), Ratio(Y, "1", standard(U)))
    offset = fit_line(Ratio(X, "1"), Ratio(Y, "1", standard(U), shared(standard(s))))
    assert offset.slope.value == pytest.approx(alone.slope.value, rel=1e-12)
    assert offset.slope.u == pytest.approx(alone.slope.u, rel=1e-10)
    assert offset.intercept.u == pytest.approx(math.hypot(alone.intercept.u, s), rel=1e-10)
    assert offset.chi_square == pytest.approx(alone.chi_square, rel=1e-9)


def test_shared_offset_of_x_moves_the_intercept_by_the_slope() -> None:
    s = 0.7
    alone = fit_line(Ratio(X, "1"), Ratio(Y, "1", standard(U)))
    offset = fit_line(Ratio(X, "1", shared(standard(s))), Ratio(Y, "1", standard(U)))
    b = alone.slope.value
    assert offset.slope.u == pytest.approx(alone.slope.u, rel=1e-9)
    assert offset.intercept.u == pytest.approx(math.hypot(alone.intercept.u, b * s), rel=1e-9)


def test_shared_relative_error_of_y_scales_the_line() -> None:
    # points on y = a + b x exactly, and an error g y of all: both parameters move by g
    a, b, g = 1.5, 2.0, 0.04
    y = a + b * X
    alone = fit_line(Ratio(X, "1"), Ratio(y, "1", standard(U)))
    scaled = fit_line(Ratio(X, "1"), Ratio(y, "1", standard(U)) * Ratio(1, "1", standard(g)))
    expected = alone.covariance + g**2 * np.outer([a, b], [a, b])
    np.testing.assert_allclose(scaled.covariance, expected, rtol=1e-9)


def test_exact_origin_leaves_one_parameter() -> None:
    # line through an exact (0, 0): b = sum xy/sum x^2, u(b) = u/sqrt(sum x^2) for equal u
    x, y = np.array([0.0, *X]), np.array([0.0, *Y])
    u = np.array([0.0] + [0.2] * 6)
    fit = fit_line(Ratio(x, "1"), Ratio(y, "1", standard(u)))
    assert fit.slope.value == pytest.approx(X @ Y / (X @ X), rel=1e-10)
    assert fit.slope.u == pytest.approx(0.2 / math.sqrt(X @ X), rel=1e-10)
    assert fit.intercept.value == pytest.approx(0.0, abs=1e-12)
    assert fit.intercept.u == 0
    assert fit.dof == 5
    assert math.isnan(fit.correlation)
    residual = Y - X * (X @ Y) / (X @ X)
    assert fit.chi_square == pytest.approx(residual @ residual / 0.04, rel=1e-9)
    assert "slope" in str(fit)


def test_exact_point_with_errors_in_both_axes_is_the_limit_of_a_good_one() -> None:
    x = np.array([2.0, *PEARSON_X])
    y = np.array([4.5, *PEARSON_Y])
    exact, good = (
        fit_line(
            Ratio(x, "1", standard(np.array([tiny, *WEIGHTS_X**-0.5]))),
            Ratio(y, "1", standard(np.array([tiny, *WEIGHTS_Y**-0.5]))),
        )
        for tiny in (0.0, 1e-5)
    )
    assert exact.slope.value == pytest.approx(good.slope.value, rel=1e-7)
    np.testing.assert_allclose(exact.covariance, good.covariance, rtol=1e-6)
    assert exact.chi_square == pytest.approx(good.chi_square, rel=1e-7)
    assert exact.dof == good.dof == 9


def test_a_point_given_twice_counts_once() -> None:
    x, y = pearson()
    again = [*range(10), 3, 3, 7]
    once, twice = fit_line(x, y), fit_line(x[again], y[again])
    assert twice.dof == once.dof
    assert twice.chi_square == pytest.approx(once.chi_square, rel=1e-9)
    assert (twice.slope - once.slope).u < 1e-9 * once.slope.u
    assert twice.slope.u == pytest.approx(once.slope.u, rel=1e-9)


def test_two_points_have_a_line_but_no_chi_square() -> None:
    x = Ratio([1.0, 3.0], "1", standard([0.1, 0.2]))
    y = Ratio([2.0, 8.0], "1", standard([0.3, 0.4]), shared(standard(5.0)))
    fit = fit_line(x, y)
    slope = (y[1] - y[0]) / (x[1] - x[0])  # the record itself
    assert fit.slope.value == pytest.approx(3.0)
    assert (fit.slope - slope).u < 1e-12
    assert fit.slope.u == pytest.approx(
        math.sqrt(0.3**2 + 0.4**2 + 9 * (0.1**2 + 0.2**2)) / 2, rel=1e-12
    )
    assert fit.dof == 0
    assert math.isnan(fit.p_value)
    assert "measure a third point" in str(fit)


def test_two_points_with_shared_errors_only_still_fix_a_slope() -> None:
    fit = fit_line(Ratio([1.0, 3.0], "1"), Ratio([2.0, 8.0], "1", shared(standard(5.0))))
    assert fit.slope.u == pytest.approx(0.0, abs=1e-14)
    assert fit.intercept.u == pytest.approx(5.0)


def test_exchanging_the_axes_gives_the_same_line() -> None:
    x, y = (q / Quantity(1, q.unit) for q in pearson())
    there, back = fit_line(x, y), fit_line(y, x)
    assert back.slope.value == pytest.approx(1 / there.slope.value, rel=1e-9)
    assert back.chi_square == pytest.approx(there.chi_square, rel=1e-9)


# --- the record -----------------------------------------------------------------------------


def test_parameters_are_the_weighted_sums_of_the_readings() -> None:
    # closed form of the weighted line written with quantities: the difference must not vary
    x, y = Ratio(X, "1"), Ratio(Y, "1", standard(U), shared(standard(0.3)))
    w = 1 / U**2
    centre = (w @ X) / w.sum()
    slope = (w * (X - centre) * y).sum() / (w @ np.square(X - centre))
    intercept = (w * y).sum() / w.sum() - centre * slope
    fit = fit_line(x, y)
    assert (fit.slope - slope).u < 1e-12
    assert (fit.intercept - intercept).u < 1e-12
    assert fit.slope.value == pytest.approx(slope.value, rel=1e-12)


def test_parameters_follow_the_data() -> None:
    # near-exact points: moving one reading moves the fitted slope by the recorded sensitivity
    x, y = np.array([1.0, 2.0, 4.0, 5.0]), np.array([3.0, 5.0, 9.0, 11.0])

    def fitted(dx: float = 0.0, dy: float = 0.0) -> tuple[LineFit, Quantity, Quantity]:
        moved_x = Ratio(x + np.array([0, 0, dx, 0]), "1", standard([0.1, 0.2, 0.1, 0.3]))
        moved_y = Ratio(y + np.array([0, 0, dy, 0]), "1", standard([0.4, 0.2, 0.1, 0.3]))
        return fit_line(moved_x, moved_y), moved_x, moved_y

    h = 1e-4
    here, qx, qy = fitted()
    by_x = (fitted(dx=h)[0].slope.value - fitted(dx=-h)[0].slope.value) / (2 * h)
    by_y = (fitted(dy=h)[0].slope.value - fitted(dy=-h)[0].slope.value) / (2 * h)
    # covariance with an input = sensitivity times its variance
    assert here.slope.covariance(qx[2]) == pytest.approx(by_x * 0.01, rel=1e-6)
    assert here.slope.covariance(qy[2]) == pytest.approx(by_y * 0.01, rel=1e-6)


def test_parameters_correlate_with_what_shares_their_components() -> None:
    offset = Ratio(0.0, "1", standard(0.7))
    fit = fit_line(Ratio(X, "1"), Ratio(Y, "1", standard(U)) + offset)
    assert fit.intercept.covariance(offset) == pytest.approx(0.49, rel=1e-9)
    assert abs(fit.slope.covariance(offset)) < 1e-12
    again = pickle.loads(pickle.dumps(fit))
    assert (again.intercept - fit.intercept).u == 0


def test_drawn_parameters_agree_with_the_linear_ones() -> None:
    fit = fit_line(*pearson())
    drawn = fit.slope.monte_carlo(40_000, seed=3)
    # linear in normal errors: standard error of u is u/sqrt(2 trials)
    assert drawn.u == pytest.approx(0.0579850090, rel=5 / math.sqrt(80_000))


def test_prediction_has_the_variance_of_the_line() -> None:
    (b, a), C = np.polyfit(X, Y, 1, w=1 / U, cov="unscaled")
    fit = fit_line(Length(X, "m"), Velocity(Y, "mm/s", standard(U)))
    found = fit.predict(Length([0.0, 250.0, 1000.0], "cm"))
    assert isinstance(found, Velocity)
    assert found.unit == "mm/s"
    at = np.array([0.0, 2.5, 10.0])
    np.testing.assert_allclose(found.value, a + b * at, rtol=1e-10)
    np.testing.assert_allclose(
        np.square(found.u), C[1, 1] + 2 * at * C[0, 1] + at**2 * C[0, 0], rtol=1e-9
    )
    # an uncertain x adds b u(x)
    uncertain = fit.predict(Length(2.5, "m", standard(0.1)))
    assert uncertain.u == pytest.approx(math.hypot(found.u[1], b * 0.1), rel=1e-9)


def test_points_are_moved_onto_the_line_along_the_errors() -> None:
    # equal errors in both axes: the foot of the perpendicular
    x, y = np.array([0.0, 1, 2, 3]), np.array([0.2, 0.7, 2.3, 2.8])
    fit = fit_line(Ratio(x, "1", standard(0.1)), Ratio(y, "1", standard(0.1)))
    a, b = fit.intercept.value, fit.slope.value
    np.testing.assert_allclose(fit.adjusted_x, (x + b * (y - a)) / (1 + b**2), rtol=1e-9)
    np.testing.assert_allclose(fit.residual_u, 0.1 * math.sqrt(1 + b**2), rtol=1e-9)
    # total least squares: the line is the first principal axis
    axes = linalg.svd(np.stack([x - x.mean(), y - y.mean()], axis=1))[2]
    assert b == pytest.approx(axes[0, 1] / axes[0, 0], rel=1e-10)


@given(st.permutations(range(10)))
def test_order_of_the_points_does_not_matter(order: list[int]) -> None:
    x, y = pearson()
    fit = fit_line(x[order], y[order])
    assert fit.slope.value == pytest.approx(-0.4805334074, rel=1e-9)
    assert fit.slope.u == pytest.approx(0.0579850090, rel=1e-9)


@given(
    st.floats(-8, 8),
    st.floats(-8, 8),
    st.floats(-5, 5),
    st.floats(-5, 5),
)
def test_units_and_origins_do_not_matter(
    x_power: float, y_power: float, x_shift: float, y_shift: float
) -> None:
    sx, sy = 10.0**x_power, 10.0**y_power
    x = sx * (PEARSON_X + x_shift)
    y = sy * (PEARSON_Y + y_shift)
    fit = fit_line(
        Ratio(x, "1", standard(sx * WEIGHTS_X**-0.5)), Ratio(y, "1", standard(sy * WEIGHTS_Y**-0.5))
    )
    assert fit.slope.value * sx / sy == pytest.approx(-0.4805334074, rel=1e-8)
    assert fit.slope.u * sx / sy == pytest.approx(0.0579850090, rel=1e-8)
    # the line is at the same place: its value at the old origin
    at_zero = fit.predict(Ratio(sx * x_shift, "1")) / sy
    assert at_zero.value - y_shift == pytest.approx(5.4799102240, rel=1e-8)
    assert at_zero.u == pytest.approx(0.2949707355, rel=1e-7)


def test_numbers_far_from_zero_keep_their_digits() -> None:
    fit = fit_line(
        Ratio(1e6 + PEARSON_X, "1", standard(WEIGHTS_X**-0.5)),
        Ratio(PEARSON_Y, "1", standard(WEIGHTS_Y**-0.5)),
    )
    assert fit.slope.value == pytest.approx(-0.4805334074, rel=1e-8)


def test_independent_points_cost_no_matrices() -> None:
    # 2000 points took a minute when their covariance was handled as a full matrix
    rng = np.random.default_rng(5)
    t = np.linspace(0, 10, 2000)
    x = Ratio(t + rng.normal(0, 0.1, t.size), "1", standard(0.1))
    y = Ratio(1 + 2 * t + rng.normal(0, 0.1, t.size), "1", standard(0.1))
    fit = fit_line(x, y)
    assert abs(fit.slope.value - 2) < 4 * fit.slope.u
    assert 1e-4 < fit.p_value < 1 - 1e-4


# --- refusals and texts ---------------------------------------------------------------------


def test_wholly_shared_errors_are_refused_with_the_reason() -> None:
    with pytest.raises(PropagationError, match=r"only 1 independent error, .* no independent"):
        fit_line(Ratio(X, "1"), Ratio(Y, "1", shared(standard(0.1))))
    gain = Ratio(1, "1", standard(0.01))
    with pytest.raises(PropagationError, match="only 2 independent errors"):
        fit_line(Ratio(X, "1", shared(standard(0.1))), Ratio(Y, "1") * gain)


def test_points_without_uncertainty_are_refused() -> None:
    with pytest.raises(PropagationError, match=r"neither x nor y has an uncertainty.*scatter=True"):
        fit_line(Ratio(X, "1"), Ratio(Y, "1"))


def test_two_exact_points_are_refused() -> None:
    with pytest.raises(PropagationError, match="in common"):
        fit_line(Ratio([0, 1, 2.0], "1"), Ratio([0, 1, 2.1], "1", standard([0, 0, 0.1])))


def test_a_second_line_that_fits_as_well_is_announced() -> None:
    # A cross: two points that fix x, two that fix y. By symmetry the lines of slope +b and -b
    # fit equally well.
    x = Ratio([-1.0, 1.0, 0.0, 0.0], "1", standard([0.05, 0.05, 0.5, 0.5]))
    y = Ratio([0.0, 0.0, -1.0, 1.0], "1", standard([0.5, 0.5, 0.05, 0.05]))
    with pytest.warns(FlowuncWarning, match=r"fits nearly as well .* wider range of x"):
        fit = fit_line(x, y)
    assert abs(fit.slope.value) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize(
    ("x", "y", "error", "message"),
    [
        (Ratio(1, "1"), Ratio([1, 2], "1"), ShapeError, "x=...*: a single value"),
        (Ratio([1, 2, 3], "1"), Ratio([1, 2], "1"), ShapeError, "3 readings of x and 2 of y"),
        (Ratio([1], "1"), Ratio([1], "1"), RangeError, "1 point; expected at least two"),
        (Length([2, 2], "mm"), Ratio([1, 2], "1"), RangeError, "all 2 points at x = 2 mm"),
        ([1, 2], Ratio([1, 2], "1"), DimensionError, "x=...*: got list"),
        (Ratio([1, 2], "1"), np.array([1, 2]), DimensionError, "y=...*: got ndarray"),
        (Temperature([1, 2], "degC"), Ratio([1, 2], "1"), DimensionError, "expected a difference"),
    ],
)
def test_unusable_points(x: object, y: object, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        fit_line(x, y)  # type: ignore[arg-type]  # that is what is tested


def test_prediction_needs_the_dimension_of_x() -> None:
    fit = fit_line(*pearson())
    with pytest.raises(DimensionError, match="unit like 'mm'"):
        fit.predict(Time(1, "s"))
    with pytest.raises(DimensionError, match="got float"):
        fit.predict(1.0)  # type: ignore[arg-type]  # that is what is tested


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1.0, "the scatter fits the stated"),
        (0.5, "underestimated, or they do not lie on one line"),
        (4.0, "overestimated, or errors stated for each reading are in fact shared"),
    ],
)
def test_sentence_judges_the_scatter(factor: float, words: str) -> None:
    # chi-square 11.87 on 8 degrees of freedom, divided by the square of the factor
    x, y = (
        Ratio(PEARSON_X, "1", standard(factor * WEIGHTS_X**-0.5)),
        Ratio(PEARSON_Y, "1", standard(factor * WEIGHTS_Y**-0.5)),
    )
    fit = fit_line(x, y)
    assert words in fit.sentence
    assert fit.chi_square == pytest.approx(11.866353194 / factor**2, rel=1e-9)


def test_text_table_and_html() -> None:
    x, y = pearson()
    fit = fit_line(x.labelled("<place> " * 20), y.labelled("time"))
    text = str(fit)
    assert max(map(len, text.splitlines())) <= 100
    assert "slope: -0.481 ± 0.058 ms/mm" in text
    assert "p = 0.16" in text
    assert "<place>" not in fit._repr_html_()
    table = fit.table()
    np.testing.assert_allclose(table["fitted"] + table["residual"], PEARSON_Y)
    np.testing.assert_allclose(table["x"], PEARSON_X)
    with pytest.raises(ValueError, match="read-only"):
        fit.residuals[0] = 0


def test_readings_joined_from_several_instruments_fit_together() -> None:
    low = Ratio(X[:3], "1", standard(0.1), shared(standard(0.2)))
    high = Ratio(X[3:], "1", standard(0.1), shared(standard(0.2)))
    x, y = concatenate(low, high), Ratio(Y, "1", standard(U))
    fit = fit_line(x, y)
    C = np.zeros((12, 12))
    C[:3, :3] = C[3:6, 3:6] = 0.04
    C[:6, :6] += 0.01 * np.eye(6)
    C[6:, 6:] = np.diag(U**2)
    line, covariance, _ = brute_force(X, Y, C, np.array([0.0, 2.0]))
    np.testing.assert_allclose([fit.intercept.value, fit.slope.value], line, rtol=1e-6)
    np.testing.assert_allclose(fit.covariance, covariance, rtol=1e-5)


# --- sizes whose squares leave float64; one quantity given twice; tables beyond memory ---------
def pearson_of_size(x_scale: float, y_scale: float) -> tuple[Quantity, Quantity]:
    return (
        Quantity(PEARSON_X * x_scale, "m", standard(WEIGHTS_X**-0.5 * x_scale)),
        Quantity(PEARSON_Y * y_scale, "s", standard(WEIGHTS_Y**-0.5 * y_scale)),
    )


@pytest.mark.parametrize(
    ("x_scale", "y_scale"),
    [(1e-300, 1e-300), (1.0, 1e-170), (1.0, 1e300), (1e160, 1e200), (1e299, 1e299), (1e149, 1.0)],
)
def test_lines_of_any_size(x_scale: float, y_scale: float) -> None:
    # IndexError in point_errors, or warnings of NumPy
    x, y = pearson_of_size(x_scale, y_scale)
    fit = fit_line(x, y)
    # as in test_errors_in_both_axes_york
    slope = y_scale / x_scale
    assert fit.slope.value == pytest.approx(-0.4805334074 * slope, rel=1e-9)
    assert fit.slope.u == pytest.approx(0.0579850090 * slope, rel=1e-9)
    assert fit.intercept.value == pytest.approx(5.4799102240 * y_scale, rel=1e-9)
    assert fit.intercept.u == pytest.approx(0.2949707355 * y_scale, rel=1e-9)
    assert fit.correlation == pytest.approx(-0.9630881375, rel=1e-9)
    assert fit.chi_square == pytest.approx(11.866353194, rel=1e-9)
    residuals = (PEARSON_Y - 5.4799102240 + 0.4805334074 * PEARSON_X) * y_scale
    np.testing.assert_allclose(fit.residuals, residuals, rtol=1e-7)
    assert fit.residual_standard_deviation == pytest.approx(
        math.hypot(*(residuals / y_scale)) / math.sqrt(8) * y_scale, rel=1e-7
    )
    assert fit.predict(x[0]).value == pytest.approx(5.4799102240 * y_scale, rel=1e-9)


@pytest.mark.parametrize(
    ("x_scale", "y_scale"), [(1e-300, 1e200), (1e160, 1e-170), (1e-300, 1e-170)]
)
def test_slopes_beyond_float64_are_refused(x_scale: float, y_scale: float) -> None:
    # of 1e500 and 1e-330; the last is of 1e130, but moves by 1e430 with x
    with pytest.raises(RangeError, match="y/x"):
        fit_line(*pearson_of_size(x_scale, y_scale))


def test_abscissas_at_both_ends_of_float64_give_no_warning_of_numpy() -> None:
    with pytest.raises(RangeError, match="1e301"):
        fit_line(Ratio([-1.7e308, 0.0, 1.7e308], "1"), Ratio([1.0, 2.0, 3.0], "1", standard(0.1)))


@pytest.mark.parametrize("make", [lambda y: y, lambda y: 2 * y, lambda y: 3.0 - y / 7])
def test_a_line_through_a_quantity_against_itself_is_refused(make) -> None:
    # slope 0 +- 5e13 and chi-square 500: at the slope where y - b x has no error chi-square is 0/0
    y = Ratio([1.0, 2.0, 3.0, 4.0], "1", standard(0.1), shared(standard(0.2)))
    for points in (y, y[:2]):
        with pytest.raises(PropagationError, match="given twice"):
            fit_line(points, make(points))


def test_a_line_with_an_error_of_its_own_is_none_through_itself() -> None:
    x = Ratio([1.0, 2.0, 3.0, 4.0], "1", standard(0.1))
    fit = fit_line(x, 2 * x + Ratio(np.zeros(4), "1", standard(0.01)))
    assert fit.slope.value == pytest.approx(2.0, rel=1e-9)
    # y - 2 x leaves 0.01 at each point: the line of exact x, about which sum (x - mean)^2 = 5
    assert fit.slope.u == pytest.approx(0.01 / math.sqrt(5), rel=1e-6)


def test_more_points_than_a_table_holds_are_refused() -> None:
    # NumPy's MemoryError for a table of 7 TiB
    x = Ratio(np.linspace(1.0, 2.0, 1_000_000), "1", standard(0.01))
    y = Ratio(np.linspace(1.0, 2.0, 1_000_000), "1", standard(0.01))
    with pytest.raises(PropagationError, match=r"1e\+12 numbers.*means over groups"):
        fit_line(x, y)
