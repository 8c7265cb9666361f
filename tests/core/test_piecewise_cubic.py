"""The curve through a table against SciPy, and its estimate of what it may miss."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from flowunc.core.errors import RangeError, ShapeError
from flowunc.core.piecewise_cubic import PiecewiseCubic
from flowunc.propagation.jets import Jet, unwrapped

KNOTS = np.array([280.0, 285.0, 300.0, 310.0, 350.0])
VALUES = np.array([5.0, 3.0, 2.9, 3.4, 1.0])
CURVE = PiecewiseCubic.through("thing", KNOTS, VALUES)
SCIPY = PchipInterpolator(KNOTS, VALUES)
INSIDE = np.linspace(280.0, 350.0, 701)


def slope(curve: PiecewiseCubic, x: np.ndarray) -> np.ndarray:
    (found,) = curve.pull(1.0, (x,), curve.evaluate(x), (True,))
    return found


def test_value_and_derivative_inside() -> None:
    np.testing.assert_allclose(CURVE.evaluate(INSIDE), SCIPY(INSIDE), rtol=1e-13)
    np.testing.assert_allclose(
        slope(CURVE, INSIDE), SCIPY.derivative()(INSIDE), rtol=1e-11, atol=1e-13
    )


def test_entries_are_met_and_not_overshot() -> None:
    np.testing.assert_allclose(CURVE.evaluate(KNOTS), VALUES, rtol=1e-14)
    found = CURVE.evaluate(INSIDE)
    for low, high, at_low, at_high in zip(
        KNOTS[:-1], KNOTS[1:], VALUES[:-1], VALUES[1:], strict=True
    ):
        part = found[(low <= INSIDE) & (high >= INSIDE)]
        assert part.min() >= min(at_low, at_high) - 1e-12
        assert part.max() <= max(at_low, at_high) + 1e-12


def test_straight_beyond_the_ends() -> None:
    for end, side in ((280.0, -1.0), (350.0, 1.0)):
        x = end + side * np.array([0.0, 1e-9, 5.0, 50.0])
        step = float(SCIPY.derivative()(end))
        np.testing.assert_allclose(
            CURVE.evaluate(x), SCIPY(end) + step * (x - end), rtol=1e-12, atol=1e-12
        )
        np.testing.assert_allclose(slope(CURVE, x), step, rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("x", [250.0, 280.0, 283.0, 285.0, 299.0, 310.0, 349.0, 350.0, 400.0])
def test_a_single_number_is_placed_as_in_an_array(x: float) -> None:
    assert CURVE.evaluate(x) == CURVE.evaluate(np.array([x]))[0]
    assert slope(CURVE, x) == slope(CURVE, np.array([x]))[0]


@pytest.mark.parametrize("x", [250.0, 283.0, 299.0, 330.0, 400.0])
def test_derivatives_of_second_order_run_along_the_same_piece(x: float) -> None:
    found = unwrapped(CURVE.evaluate(Jet(np.array([x]), np.ones((1, 1)), np.zeros((1, 1)))))
    assert found.value[0] == pytest.approx(float(CURVE.evaluate(x)), rel=1e-15)
    assert found.first[0, 0] == pytest.approx(float(slope(CURVE, x)), rel=1e-13)
    # SciPy inside, straight outside
    bend = float(SCIPY.derivative(2)(x)) if 280 < x < 350 else 0.0
    assert found.second[0, 0] == pytest.approx(bend, rel=1e-11, abs=1e-15)


def test_a_curve_stays_as_it_is() -> None:
    own = PiecewiseCubic.through("own", KNOTS.copy(), VALUES)
    for array in (own.knots, own.coefficients):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0


@pytest.mark.parametrize("shape", [(), (1,), (7,), (3, 5)])
def test_any_shape(shape: tuple[int, ...]) -> None:
    x = np.full(shape, 299.0)
    found = CURVE.evaluate(x)
    assert np.shape(found) == shape
    out = np.empty(shape)
    assert np.array_equal(CURVE.evaluate(x, out=out), found)
    assert np.array_equal(out, found)


def test_departure_is_zero_at_entries_and_on_straight_lines() -> None:
    np.testing.assert_allclose(CURVE.departure(KNOTS), 0.0, atol=1e-15)
    straight = PiecewiseCubic.through("line", KNOTS, 2.0 - 0.01 * KNOTS)
    np.testing.assert_allclose(straight.departure(INSIDE), 0.0, atol=1e-14)


def test_departure_is_that_of_a_straight_line_through_a_parabola() -> None:
    # y = c x^2 on even knots 2 apart: a chord misses c (x - x_i)(x_i+1 - x), 0.5 in the middle of
    # c = 0.5. The estimate takes the slopes of the curve, which at the steep side are within 10 %.
    x = np.arange(20.0, 41.0, 2.0)
    curve = PiecewiseCubic.through("parabola", x, 0.5 * x**2)
    assert curve.departure(np.array([31.0]))[0] == pytest.approx(0.5, rel=0.1)
    # half the distance, a quarter of the departure
    fine = np.arange(20.0, 41.0, 1.0)
    finer = PiecewiseCubic.through("parabola", fine, 0.5 * fine**2)
    assert finer.departure(np.array([30.5]))[0] == pytest.approx(0.125, rel=0.1)


def test_bracket() -> None:
    below, share = CURVE.bracket(np.array([280.0, 282.5, 285.0, 330.0, 350.0]))
    assert below.tolist() == [0, 0, 1, 3, 3]
    np.testing.assert_allclose(share, [0.0, 0.5, 0.0, 0.5, 1.0])


def test_pickle_and_constancy() -> None:
    copy = pickle.loads(pickle.dumps(CURVE))
    assert np.array_equal(copy.evaluate(INSIDE), CURVE.evaluate(INSIDE))
    assert copy.label == "thing"
    with pytest.raises(ValueError, match="read-only"):
        CURVE.coefficients[0, 0] = 1.0


def test_comparisons_and_the_search_find_the_same_piece() -> None:
    # a search is for arrays, so that many knots are no matter; second derivatives compare
    class Compared:
        def __init__(self, x: np.ndarray) -> None:
            self.x, self.shape = x, x.shape

        def __ge__(self, knot: float) -> np.ndarray:
            return self.x >= knot

    x = np.concatenate([INSIDE, KNOTS, [-1e9, 1e9, np.nextafter(285.0, 0.0)]])
    assert np.array_equal(CURVE._piece(x), CURVE._piece(Compared(x)))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("knots", "coefficients", "error", "message"),
    [
        ([1.0], np.zeros((4, 2)), ShapeError, "1 knots"),
        ([1.0, 2.0], np.zeros((4, 2)), ShapeError, "two knots or more, and four coefficients"),
        ([1.0, np.nan], np.zeros((4, 3)), RangeError, "not a finite number"),
        ([2.0, 1.0], np.zeros((4, 3)), RangeError, "rising knots"),
        ([1.0, 2.0], np.eye(4)[:, [2, 0, 1]], RangeError, "straight pieces"),
        ([1.0, 2.0], np.eye(4)[:, [0, 0, 1]], RangeError, "a step or a kink at knot 1"),
    ],
)
def test_what_is_no_curve_is_refused(
    knots: list[float], coefficients: np.ndarray, error: type[Exception], message: str
) -> None:
    with pytest.raises(error, match=message):
        PiecewiseCubic("own", np.array(knots), coefficients)
