"""Gauge liquids against conventional and computed densities, and in the manometers they are for."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from flowunc import (
    Acceleration,
    Density,
    DimensionError,
    RangeError,
    Scale,
    Temperature,
    UTubeManometer,
    WellManometer,
    limits,
    standard,
)
from flowunc.fluids import air, gauge_liquids, water
from flowunc.fluids.gauge_liquids import GaugeLiquid

LIQUIDS = list(gauge_liquids.table.values())


def half_width(density: Density) -> float:
    """Half-width of the limits of the density itself."""
    component = next(c for c in density.components if c.label.endswith(" density"))
    return component.distribution.standard_uncertainty * np.sqrt(3) * density.value


def test_mercury_of_the_conventional_column() -> None:
    # [NIST SP 811] conventional mercury of 0 degC: 13 595.1 kg/m3
    found = gauge_liquids.mercury.density(Temperature(0, "degC"))
    assert found.value == pytest.approx(13_595.1, abs=1.0)


def test_mercury_of_handbooks() -> None:
    # handbook tables (from memory): 13 533.6 kg/m3 at 25 degC, 13 521.4 at 30 degC
    for celsius, expected in ((25, 13_533.6), (30, 13_521.4)):
        found = gauge_liquids.mercury.density(Temperature(celsius, "degC"))
        assert found.value == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize("celsius", [5.0, 20.0, 35.0])
def test_ethanol_of_coolprop(celsius: float) -> None:
    # pure ethanol lies inside the limits, in their lower half: what is sold holds some water
    found = gauge_liquids.ethanol.density(Temperature(celsius, "degC"))
    pure = PropsSI("D", "T", celsius + 273.15, "P", 101_325, "Ethanol")
    assert 0.0 < (found.value - pure) / half_width(found) < 1.0


def test_expansion_of_ethanol_lies_in_its_limits() -> None:
    cold, warm = (gauge_liquids.ethanol.density(Temperature(t, "degC")).value for t in (10, 30))
    pure = [PropsSI("D", "T", t + 273.15, "P", 101_325, "Ethanol") for t in (10, 30)]
    assert cold / warm - 1 == pytest.approx(pure[0] / pure[1] - 1, rel=0.05)


def test_kerosene_of_the_fuel_specification() -> None:
    # [ASTM D1655]: 775 kg/m3 to 840 kg/m3 at 15 degC (from memory); covered, and not by far
    found = gauge_liquids.kerosene.density(Temperature(15, "degC"))
    width = half_width(found)
    assert found.value - width < 775 < found.value - 0.9 * width
    assert found.value + 0.9 * width < 840 < found.value + width


def test_temperature_left_out_is_a_room() -> None:
    found = gauge_liquids.mercury.density()
    known = gauge_liquids.mercury.density(Temperature(20, "degC"))
    assert found.value == known.value
    # 0.05 %, and 10 K with 1.8e-4 /K (handbooks, from memory), both rectangular
    expected = np.hypot(5e-4, 10 * 1.81e-4) / np.sqrt(3)
    assert found.u / found.value == pytest.approx(expected, rel=5e-3)
    assert "gauge liquid temperature, not given" in {c.label for c in found.components}


@pytest.mark.parametrize("liquid", LIQUIDS, ids=lambda liquid: liquid.name)
class TestEach:
    def test_one_error_behind_all_results(self, liquid: GaugeLiquid) -> None:
        first, second = (liquid.density(Temperature(t, "degC")) for t in ([20], [20]))
        assert (first - second).u[0] == 0.0
        # between temperatures the expansion remains, at 20 degC not at all
        warm = liquid.density(Temperature(30, "degC"))
        assert 0 < (warm - first).u[0] < 0.5 * first.u[0]

    def test_readings(self, liquid: GaugeLiquid) -> None:
        found = liquid.density(Temperature([15, 20, 25], "degC", limits(1)))
        assert type(found) is Density
        assert found.u.shape == (3,)
        assert (np.diff(found.value) < 0).all()
        assert found.label == f"{liquid.name} density"

    def test_mistakes_are_refused(self, liquid: GaugeLiquid) -> None:
        with pytest.raises(DimensionError, match=rf"{liquid.name}.*temperature.*int 20.*'degC'"):
            liquid.density(20)
        with pytest.raises(RangeError, match=rf"-1 degC; expected 0 to .*{liquid.name}"):
            liquid.density(Temperature(-1, "degC"))

    def test_pickle(self, liquid: GaugeLiquid) -> None:
        copy = pickle.loads(pickle.dumps(liquid))
        assert copy == liquid
        assert (copy.density() - liquid.density()).u == 0.0
        assert repr(copy).startswith(f"<gauge liquid {liquid.name}: ")
        assert liquid.source
        assert liquid.description


def test_dangers_are_named() -> None:
    assert "toxic" in gauge_liquids.mercury.description
    for liquid in (gauge_liquids.ethanol, gauge_liquids.kerosene):
        assert "lammable" in liquid.description


def test_mercury_under_water_in_a_u_tube() -> None:
    # closed form: 40 mm of mercury against water of 998.2 kg/m3 [Tanaka 2001] at 20 degC
    temperature = Temperature(20, "degC", limits(1))
    gauge = UTubeManometer(Scale(1, "mm"), gauge_liquids.mercury.density(temperature))
    drop = gauge.pressure_drop(
        high=320.0,
        low=280.0,
        density=water.density(temperature),
        zero=(300.0, 300.0),
        gravity=Acceleration(9.81, "m/s^2"),
    )
    assert drop.value == pytest.approx(0.04 * (13_546 - 998.2) * 9.81, rel=1e-4)
    assert {"mercury density", "mercury expansion"} <= {c.label for c in drop.components}


def test_light_liquids_stand_under_air() -> None:
    well = WellManometer(Scale(1, "mm"), area_ratio=0.0)
    drop = well.pressure_drop(reading=50.0, density=gauge_liquids.ethanol.density(), zero=0.0)
    assert drop.value == pytest.approx(0.05 * (790 - 1.2) * 9.81, rel=2e-3)
    gauge = UTubeManometer(Scale(1, "mm"), gauge_liquids.kerosene.density())
    reading = {"high": 320.0, "low": 280.0, "zero": (300.0, 300.0)}
    assert gauge.pressure_drop(density=air.density(), **reading).value > 0
    with pytest.raises(RangeError, match=r"804 kg/m\^3 is not above.*998"):
        gauge.pressure_drop(density=water.density(Temperature(20, "degC")), **reading)


def test_u_of_a_temperature_is_that_of_the_expansion() -> None:
    temperature = Temperature(20, "degC", standard(2))
    found = gauge_liquids.kerosene.density(temperature)
    # 0.7 kg/m3 per kelvin (fuel tables, from memory)
    assert found.covariance(temperature) / 4 == pytest.approx(-0.7, abs=0.05)
