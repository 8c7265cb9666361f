"""A record with another value of one error, against the same formula with another input."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import Length, PropagationError, concatenate, limits, percent_of_reading, shared
from flowunc.analysis.moved_errors import with_moved_error
from flowunc.core.quantity import Quantity
from flowunc.instruments import Rule, Scale


def moved(quantity: Quantity, of: Quantity, error: float, column: int | None = None) -> np.ndarray:
    (component,) = of.components
    return np.asarray(with_moved_error(quantity._node, component, column, error).value)


def test_every_kind_of_step_is_computed_again() -> None:
    # a scalar, readings, picked, joined and summed ones
    side = Length(2.0, "m", limits(0.1))
    marks = Length([1.0, 2.0, 3.0, 4.0], "m")

    def result(length: Quantity) -> Quantity:
        area = length * marks
        joined = concatenate([area[1:3], area[[3, 0]], area[2]])
        return joined * joined.sum() / np.sqrt(length)

    assert moved(result(side), side, 0.25) == pytest.approx(
        np.asarray(result(Length(2.25, "m")).si.value), rel=1e-14
    )


def test_one_reading_of_an_error_that_is_new_for_each() -> None:
    marks = Length([1.0, 2.0, 3.0], "m", limits(0.1))
    assert moved(marks**2, marks, 0.5, column=1) == pytest.approx([1.0, 6.25, 9.0], rel=1e-14)
    # picked before it counts: the component keeps its readings
    assert moved(marks[[2, 1]], marks, 0.5, column=1) == pytest.approx([3.0, 2.5], rel=1e-14)
    assert moved(marks, marks, 0.5, column=7) == pytest.approx([1.0, 2.0, 3.0], rel=0)


def test_gain_of_a_reading() -> None:
    # 1 % of the reading: an error of 1 is the reading itself
    marks = Length([1.0, 2.0], "m", shared(percent_of_reading(1)))
    assert moved(marks, marks, 0.01) == pytest.approx([1.01, 2.02], rel=1e-14)


def test_what_has_no_part_in_it_stays_the_very_same() -> None:
    side, other = Length(2.0, "m", limits(0.1)), Length(1.0, "m", limits(0.1))
    (component,) = other.components
    node = (side**2)._node
    assert with_moved_error(node, component, None, 1.0) is node


def test_errors_stay_behind_the_result() -> None:
    side = Length(2.0, "m", limits(0.3))
    (component,) = side.components
    square = side**2
    again = Quantity._result(
        with_moved_error(square._node, component, None, 1.0), square._unit.dimension
    )
    assert again.components == side.components
    # the slope is that at 3 m: 2 * 3 in place of 2 * 2
    assert float(again.u) == pytest.approx(1.5 * float(square.u), rel=1e-12)


def test_no_value_there() -> None:
    side = Length(2.0, "m", limits(0.1))
    with pytest.raises(PropagationError, match="has no finite value"):
        moved(np.sqrt(side), side, -3.0)


def test_calibration_of_an_instrument_moves_all_of_its_readings() -> None:
    rule = Rule(Scale(1, "mm"), accuracy=limits(0.5))
    near, far = rule.read(100.0), rule.read(900.0)
    (component,) = rule.calibration
    node = (far - near)._node
    assert float(with_moved_error(node, component, None, 1e-3).value) == pytest.approx(0.8)
    summed = (far + near)._node
    assert float(with_moved_error(summed, component, None, 1e-3).value) == pytest.approx(1.002)
