"""The inclination of both manometers that have one: range, names, change."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import Angle
from flowunc.core.statements import limits
from flowunc.instruments import InclinedManometer, Scale, WellManometer, percent_of_reading

Manometer = InclinedManometer | WellManometer
Make = Callable[[Angle], Manometer]


def inclined(angle: Angle) -> InclinedManometer:
    return InclinedManometer(Scale(1, "mm"), angle=angle, accuracy=percent_of_reading(3))


def well(angle: Angle) -> WellManometer:
    return WellManometer(
        Scale(1, "mm"), angle=angle, accuracy=percent_of_reading(3), area_ratio=0.02
    )


BOTH = pytest.mark.parametrize("make", [inclined, well])


@BOTH
@pytest.mark.parametrize("degrees", [0.0, -10.0, 90.1, 170.0])
def test_an_angle_out_of_range_is_refused(make: Make, degrees: float) -> None:
    expected = f"manometer angle: {degrees:g} deg; expected .*above 0 and up to 90 deg"
    with pytest.raises(RangeError, match=expected):
        make(Angle(degrees, "deg"))
    with pytest.raises(RangeError, match=expected):
        make(Angle(45, "deg")).at(Angle(degrees, "deg"))


@BOTH
def test_the_reading_of_a_wrong_angle_is_named(make: Make) -> None:
    with pytest.raises(RangeError, match="angle at reading 1: 100 deg"):
        make(Angle([10, 100], "deg"))


@BOTH
def test_an_angle_without_unit_is_refused(make: Make) -> None:
    ten: Any = 10
    upright = make(Angle(90, "deg"))
    for take in (make, upright.at):
        with pytest.raises(DimensionError, match=r"Manometer\(angle=.*got int 10"):
            take(ten)


@BOTH
@pytest.mark.parametrize("upright", [Angle(math.pi / 2, "rad"), Angle(5400, "arcmin")])
def test_an_upright_tube_is_in_range_in_any_unit(make: Make, upright: Angle) -> None:
    assert make(upright).angle.to("deg").value == pytest.approx(90, rel=1e-12)


@BOTH
def test_another_inclination_leaves_the_first_and_the_calibration_alone(make: Make) -> None:
    flat = make(Angle(10, "deg", limits(0.25)))
    steep = flat.at(Angle(30, "deg", limits(0.25)))
    assert type(steep) is type(flat)
    assert steep.angle.to("deg").value == pytest.approx(30, rel=1e-12)
    assert flat.angle.to("deg").value == pytest.approx(10, rel=1e-12)
    assert steep.calibration == flat.calibration
    assert steep.angle.correlation(flat.angle) == 0.0


@BOTH
def test_an_angle_without_name_is_that_of_the_manometer(make: Make) -> None:
    (component,) = make(Angle(10, "deg", limits(0.25))).angle.components
    assert component.label == "manometer angle"
