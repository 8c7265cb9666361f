"""Moist air against CoolProp's real-gas mixture (ASHRAE RP-1485), which shares no formula."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from flowunc import (
    Density,
    DimensionError,
    Length,
    Pressure,
    RangeError,
    Ratio,
    Temperature,
    limits,
    standard,
)
from flowunc.fluids import air
from flowunc.instruments.balance import buoyancy_factor

STANDARD_AIR = Ratio(0.0004, "1")  # CO2 mole fraction behind the published molar mass


def real_gas(celsius: float, pascal: float, humidity: float) -> float:
    """Density of humid air; Vha is the volume per mass of humid air."""
    found: float = 1 / HAPropsSI("Vha", "T", celsius + 273.15, "P", pascal, "R", humidity)
    return found


def slope(function: Callable[[float], float], at: float, step: float) -> float:
    return (function(at + step) - function(at - step)) / (2 * step)


@pytest.mark.parametrize("celsius", [15.0, 20.0, 27.0])
@pytest.mark.parametrize("pascal", [60e3, 101_325.0, 110e3])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
def test_density_over_the_range(celsius: float, pascal: float, humidity: float) -> None:
    # 5e-5: the two differ in the molar mass of air (28.96546 and 28.966); humidity makes 0.4 %
    found = air.density(
        Temperature(celsius, "degC"),
        Pressure(pascal, "Pa"),
        Ratio(humidity, "1"),
        carbon_dioxide=STANDARD_AIR,
    )
    assert found.value == pytest.approx(real_gas(celsius, pascal, humidity), rel=5e-5)


@pytest.mark.parametrize("pascal", [60e3, 101_325.0, 110e3])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
def test_change_with_temperature(pascal: float, humidity: float) -> None:
    # the ratio of two densities is free of the molar mass, so it is much sharper
    state = (Pressure(pascal, "Pa"), Ratio(humidity, "1"))
    cold, warm = (
        air.density(Temperature(t, "degC"), *state, carbon_dioxide=STANDARD_AIR).value
        for t in (15, 27)
    )
    expected = real_gas(27, pascal, humidity) / real_gas(15, pascal, humidity)
    assert warm / cold == pytest.approx(expected, rel=4e-6)


def test_sensitivities() -> None:
    temperature = Temperature(22, "degC", standard(0.3))
    pressure = Pressure(98.5, "kPa", standard(0.1))
    humidity = Ratio(60, "%", standard(4))
    found = air.density(temperature, pressure, humidity)
    for given, expected in (
        (temperature, slope(lambda t: real_gas(t, 98.5e3, 0.6), 22.0, 0.1)),
        (pressure, slope(lambda p: real_gas(22.0, p, 0.6), 98.5e3, 100.0)),
        (humidity, slope(lambda h: real_gas(22.0, 98.5e3, h), 0.6, 0.01)),
    ):
        sensitivity = found.covariance(given.si) / given.si.u**2
        assert sensitivity == pytest.approx(expected, rel=1e-3)


def test_carbon_dioxide_takes_the_place_of_oxygen() -> None:
    # so a mole of it adds the molar mass of carbon, 12.011 g/mol, to 28.965 g/mol of air
    state = (Temperature(20, "degC"), Pressure(100, "kPa"), Ratio(0, "%"))
    outdoor, indoor = (
        air.density(*state, carbon_dioxide=Ratio(x, "ppm")).value for x in (400, 1400)
    )
    assert indoor / outdoor - 1 == pytest.approx(1e-3 * 12.011 / 28.965, rel=1e-3)


def test_uncertainty_of_the_equation() -> None:
    # [CIPM-2007]: 2.2e-5 (from memory)
    state = (Temperature(20, "degC"), Pressure(100, "kPa"), Ratio(50, "%"))
    known = air.density(*state, carbon_dioxide=STANDARD_AIR)
    assert known.u / known.value == pytest.approx(2.2e-5, rel=1e-9)
    room = air.density(*state)
    assert {c.label for c in room.components} == {
        "air density formulation",
        "carbon dioxide in room air",
    }
    # limits of 3e-4 in the mole fraction, by the molar mass of carbon
    expected = np.hypot(2.2e-5, 3e-4 / np.sqrt(3) * 12.011 / 28.965)
    assert room.u / room.value == pytest.approx(expected, rel=1e-3)


def test_constant_covers_ordinary_rooms() -> None:
    found = air.density()
    assert isinstance(found, Density)
    half_width = found.u * np.sqrt(3)
    corners = [
        real_gas(t, p, h) for t in (10.0, 27.0) for p in (96.5e3, 104.5e3) for h in (0.0, 1.0)
    ]
    assert found.value - half_width < min(corners)
    assert max(corners) < found.value + half_width
    # and is no wider than it must be
    assert half_width < 1.10 * max(abs(np.array(corners) - found.value))


def test_constant_is_one_and_the_same_error_everywhere() -> None:
    assert (air.density() - air.density()).u == 0.0
    # a balance that was told nothing of the air takes the same: buoyancy of water, [ISO 4185]
    water = Density(998.2, "kg/m^3")
    ratio = buoyancy_factor(water) / buoyancy_factor(water, air.density())
    assert (ratio.value, ratio.u) == (pytest.approx(1, rel=1e-14), pytest.approx(0, abs=1e-15))


def test_readings() -> None:
    found = air.density(
        Temperature([18, 20, 22], "degC", limits(0.2)), Pressure(100, "kPa"), Ratio(50, "%")
    )
    assert found.value.shape == found.u.shape == (3,)
    assert found.label == "air density"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            {"temperature": Temperature(14.9, "degC")},
            "14.9 degC; expected 15 to 27 degC.*CIPM-2007",
        ),
        ({"temperature": Temperature(27.1, "degC")}, "27.1 degC"),
        ({"pressure": Pressure(1013.25, "Pa")}, "1.01325 kPa; expected 60 to 110 kPa.*CIPM-2007"),
        ({"humidity": Ratio(50, "1")}, "5000 %; expected 0 to 100 %"),
        ({"carbon_dioxide": Ratio(400, "1")}, "40000 %; expected 0 to 1 %"),
    ],
)
def test_values_outside_are_refused(change: dict[str, object], message: str) -> None:
    state = {
        "temperature": Temperature(20, "degC"),
        "pressure": Pressure(100, "kPa"),
        "humidity": Ratio(50, "%"),
    }
    with pytest.raises(RangeError, match=message):
        air.density(**(state | change))


def test_some_without_the_others_are_refused() -> None:
    with pytest.raises(DimensionError, match="no pressure and no humidity; expected temperature"):
        air.density(Temperature(20, "degC"))
    with pytest.raises(DimensionError, match="no temperature and no pressure and no humidity"):
        air.density(carbon_dioxide=STANDARD_AIR)


def test_other_kinds_are_refused() -> None:
    with pytest.raises(DimensionError, match=r"air\.density\(pressure.*Length in 'mm'.*Pressure"):
        air.density(Temperature(20, "degC"), Length(760, "mm"), Ratio(50, "%"))
