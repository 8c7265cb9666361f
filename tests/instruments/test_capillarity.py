"""Capillary rise against the Young-Laplace equation, and what columns make of it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Acceleration, Angle, Density, Length
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import InclinedManometer, Scale
from flowunc.instruments.capillarity import capillarity, capillary_rise

WATER = {
    "surface_tension": Quantity(
        72.736, "mN/m"
    ),  # [IAPWS R1-76], 20 degC, by the `iapws` package [C]
    "density": Density(998.2, "kg/m^3"),
    "gravity": Acceleration(9.81, "m/s^2"),
}
CAPILLARY_LENGTH = math.sqrt(0.072736 / (998.2 * 9.81)) * 1e3  # mm


def exact_rise(radius: float) -> float:
    """Height of the lowest point of a wetting meniscus, all in capillary lengths [C].

    Young-Laplace for an axisymmetric meniscus along its arc: the sum of both curvatures is the
    height, and the meniscus meets the wall upright.
    """

    def wall(height: float) -> float:
        def slope(arc, y):
            r, z, angle = y
            second = height / 2 if r < 1e-9 else z + height - math.sin(angle) / r
            return [math.cos(angle), math.sin(angle), second]

        def upright(arc, y):
            return y[2] - math.pi / 2

        upright.terminal = True
        run = solve_ivp(slope, [0, 50], [0, 0, 0], events=upright, rtol=1e-9, atol=1e-11)
        return float(run.y[0, -1])

    return float(brentq(lambda h: wall(h) - radius, 0.3 / radius, 2 / radius))


# The formula stands for a narrow tube; the docstring says how much it gives too much.
@pytest.mark.parametrize(("bore", "excess"), [(0.5, 0.003), (2.0, 0.025), (5.4, 0.17)])
def test_rise_in_a_narrow_tube(bore, excess) -> None:
    exact = exact_rise(bore / 2 / CAPILLARY_LENGTH) * CAPILLARY_LENGTH
    rise = capillary_rise(Length(bore, "mm"), **WATER).to("mm")
    assert exact < rise.value < exact * (1 + excess)


def test_what_does_not_wet_is_pressed_down_as_far() -> None:
    up, down = (
        capillary_rise(Length(2, "mm"), **WATER, contact_angle=Angle(theta, "deg"))
        for theta in (40, 140)
    )
    assert down.value < 0
    assert down.value == pytest.approx(-up.value, rel=1e-12)
    # the wall carries the column: sigma cos(theta) pi d = rho g h pi d^2/4; cos 60 deg = 1/2
    half = capillary_rise(Length(2, "mm"), **WATER, contact_angle=Angle(60, "deg")).value
    weight = 998.2 * 9.81 * half * math.pi * 1e-3**2
    assert weight == pytest.approx(0.072736 / 2 * math.pi * 2e-3, rel=1e-12)


def test_uncertainty_of_the_rise() -> None:
    rise = capillary_rise(
        Length(2, "mm", standard(0.04)),
        **WATER | {"surface_tension": Quantity(70, "mN/m", standard(2.1))},
    )
    assert rise.u / rise.value == pytest.approx(math.hypot(0.02, 0.03), rel=1e-12)
    drawn = rise.monte_carlo(20_000, seed=5)
    assert drawn.u == pytest.approx(rise.u, rel=0.03)


def test_wide_tubes_are_refused_and_the_limits_still_hold() -> None:
    with pytest.raises(RangeError, match=r"at reading 1: 8 mm; expected above 0 and up to 5\.45"):
        capillary_rise(Length([4, 8], "mm"), **WATER)
    angles = (Angle(0, "deg"), Angle(90, "deg"))
    statement = capillarity(Length(8, "mm"), **WATER, contact_angles=angles)
    half = Length(0, "mm", statement).u * math.sqrt(3)
    # half of what a meniscus can move: between a wetted wall and none
    exact = exact_rise(4 / CAPILLARY_LENGTH) * CAPILLARY_LENGTH
    assert exact / 2 < half < exact


def test_wetting_limits_are_half_the_difference_of_both_rises() -> None:
    statement = capillarity(
        Length(4, "mm"), **WATER, contact_angles=(Angle(0, "deg"), Angle(60, "deg"))
    )
    # cos 60 deg = 1/2: a quarter of the whole rise
    whole = capillary_rise(Length(4, "mm"), **WATER).to("mm").value
    assert Length(0, "mm", statement).u * math.sqrt(3) == pytest.approx(whole / 4, rel=1e-12)


# -- in a manometer --------------------------------------------------------------------------------
EXACT = {
    "density": Density(1000, "kg/m^3"),
    "gravity": Acceleration(9.80665, "m/s^2"),
    "air_density": Density(0, "kg/m^3"),
}
MMH2O = 9.80665  # Pa [NIST SP 811, B.8]


def manometer(capillarity):
    return InclinedManometer(
        Scale(1, "mm", read_to=1e-9), angle=Angle(90, "deg"), capillarity=capillarity
    )


def test_each_column_has_its_meniscus_in_readings_and_zero() -> None:
    drop = manometer(limits(0.3)).pressure_drop(
        high=[320.0, 330.0], low=[280.0, 270.0], zero=(300.0, 300.0), **EXACT
    )
    one = 0.3 / math.sqrt(3) * MMH2O
    assert drop.u == pytest.approx([2 * one] * 2, rel=1e-9)
    # the zero is common to both readings
    assert (drop[1] - drop[0]).u == pytest.approx(2 * one, rel=1e-9)
    assert [c.label for c in drop.components if "capillarity" in c.label] == [
        "manometer capillarity, high column",
        "manometer capillarity, low column",
        "manometer capillarity, zero, high column",
        "manometer capillarity, zero, low column",
    ]


def test_a_meniscus_that_stays_the_same_cancels_with_the_zero() -> None:
    steady = manometer(shared(limits(0.3)))
    given = {"high": [320.0, 330.0], "low": [280.0, 270.0], **EXACT}
    drop = steady.pressure_drop(zero=[(300.0, 300.0), (300.0, 300.0)], **given)
    assert drop.u == pytest.approx([0, 0], abs=1e-6)
    # against a zero that was not read it stays, two columns of it
    assumed = steady.pressure_drop(zero=Length(0, "mm"), **given)
    expected = math.sqrt(2) * 0.3 / math.sqrt(3) * MMH2O
    np.testing.assert_allclose(assumed.u, expected, rtol=1e-9)
    assert steady.capillarity == shared(limits(0.3))


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        ({"surface_tension": 0.07}, DimensionError, "surface_tension=.*got 0.07"),
        ({"surface_tension": Quantity(0, "N/m")}, RangeError, "surface_tension=.*above 0"),
        ({"density": Length(1, "m")}, DimensionError, "density="),
        ({"contact_angle": Angle(200, "deg")}, RangeError, "from 0 to 180 deg"),
        ({"bore": Length(-1, "mm")}, RangeError, "-1 mm; expected above 0"),
    ],
)
def test_misuse_is_named(change, error, match) -> None:
    with pytest.raises(error, match=match):
        capillary_rise(**{"bore": Length(2, "mm")} | WATER | change)


def test_misuse_of_the_statement_is_named() -> None:
    with pytest.raises(StatementError, match="expected two"):
        capillarity(Length(4, "mm"), **WATER, contact_angles=(Angle(0, "deg"),))
    with pytest.raises(RangeError, match="one bore above 0"):
        capillarity(Length([4, 5], "mm"), **WATER, contact_angles=(Angle(0, "deg"),) * 2)
    with pytest.raises(StatementError, match=r"capillarity=0\.3"):
        manometer(0.3)
