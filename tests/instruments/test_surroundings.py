"""Gravity and air where nothing is stated: the limits must cover what they claim to cover."""

import math
import pickle

import pytest
from CoolProp.CoolProp import HAPropsSI

from flowunc.core.errors import DimensionError, RangeError, ShapeError
from flowunc.core.kinds import Acceleration, Density
from flowunc.core.statements import limits, standard
from flowunc.instruments.surroundings import (
    air_density_or_default,
    density_contrast,
    gravity_or_default,
)


# [WGS 84] normal gravity at sea level, equator and pole.
@pytest.mark.parametrize("extreme", [9.7803253359, 9.8321849378])
def test_default_gravity_covers_sea_level(extreme):
    gravity = gravity_or_default(None, "f")
    half_width = gravity.u * math.sqrt(3)
    assert abs(gravity.value - extreme) <= half_width
    assert half_width < 1.02 * max(abs(9.81 - 9.7803253359), abs(9.81 - 9.8321849378))


# Moist air by an independent library at the corners of the stated range (degC, hPa, humidity).
@pytest.mark.parametrize(
    ("celsius", "hectopascal", "humidity"),
    [(10, 1045, 0.0), (27, 965, 0.7), (20, 1013.25, 0.5), (10, 965, 0.7), (27, 1045, 0.0)],
)
def test_default_air_covers_a_usual_room(celsius, hectopascal, humidity):
    state = ("T", celsius + 273.15, "P", hectopascal * 100, "R", humidity)
    density = (1 + HAPropsSI("W", *state)) / HAPropsSI("Vda", *state)
    air = air_density_or_default(None, "f")
    assert abs(air.value - density) <= air.u * math.sqrt(3)


def test_default_air_is_that_of_a_standard_room():
    # [CIPM-2007], 20 degC, 101.325 kPa, 50 %: 1.199 kg/m^3 [M]
    assert air_density_or_default(None, "f").value == pytest.approx(1.199, abs=0.0015)


@pytest.mark.parametrize("default", [gravity_or_default, air_density_or_default])
def test_defaults_are_one_error_in_every_process(default):
    first, second = default(None, "f"), default(None, "g")
    again = pickle.loads(pickle.dumps(second))
    assert (first - second).u == 0.0
    assert (first - again).u == 0.0
    assert first.u > 0.0


def test_what_is_given_is_used_and_named_by_role():
    gravity = gravity_or_default(Acceleration(9.8124, "m/s^2", limits(0.0005)), "f")
    assert gravity.value == 9.8124
    assert [c.label for c in gravity.components] == ["gravity"]
    air = air_density_or_default(Density(1.15, "kg/m^3", standard(0.01)), "f")
    assert [c.label for c in air.components] == ["air density"]


@pytest.mark.parametrize(
    ("call", "error", "match"),
    [
        (lambda: gravity_or_default(9.81, "drop"), DimensionError, r"drop\(gravity=.*9\.81"),
        (lambda: gravity_or_default(Acceleration(-9.81, "m/s^2"), "drop"), RangeError, "above 0"),
        (lambda: air_density_or_default(1.2, "drop"), DimensionError, r"drop\(air_density="),
        (lambda: air_density_or_default(Density(-1, "kg/m^3"), "drop"), RangeError, "0 or more"),
    ],
)
def test_what_does_not_fit_is_refused(call, error, match):
    with pytest.raises(error, match=match):
        call()


def test_a_liquid_lighter_than_what_is_above_it_is_refused():
    names = ("density of the liquid", "that of the air")
    heavy, light = Density([1000, 1.0], "kg/m^3"), Density(1.2, "kg/m^3")
    with pytest.raises(RangeError) as caught:
        density_contrast(heavy, light, "drop", names)
    assert str(caught.value).startswith(
        "drop at reading 1: density of the liquid 1 kg/m^3 is not above that of the air 1.2 kg/m^3"
    )
    with pytest.raises(ShapeError):
        density_contrast(heavy, Density([1, 1, 1], "kg/m^3"), "drop", names)
