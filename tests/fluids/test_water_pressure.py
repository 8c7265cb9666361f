"""Water up to 1 MPa against the full formulations in CoolProp and iapws, which share no formula."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS95
from iapws._iapws import _Liquid
from iapws.iapws97 import _PSat_T

from flowunc import (
    DimensionError,
    Length,
    Pressure,
    RangeError,
    ShapeError,
    Temperature,
    limits,
    second_order,
    shared,
    standard,
)
from flowunc.fluids import water
from flowunc.fluids.water_operations import WATER_COMPRESSION
from flowunc.fluids.water_pressure import saturation_pressure

CELSIUS = np.linspace(0.01, 99.5, 30)
FUNCTIONS = [water.density, water.viscosity, water.kinematic_viscosity]


@pytest.mark.parametrize("kilopascal", [102.0, 200.0, 400.0, 700.0, 1000.0])
def test_density_of_the_full_formulation(kilopascal: float) -> None:
    # [IAPWS R6-95]; the pressure makes up to 4.6e-4, its square 5.7e-7
    found = water.density(Temperature(CELSIUS, "degC"), Pressure(kilopascal, "kPa"), water="pure")
    expected = [PropsSI("D", "T", t + 273.15, "P", kilopascal * 1e3, "Water") for t in CELSIUS]
    np.testing.assert_allclose(found.value, expected, rtol=2e-7)


@pytest.mark.parametrize(("celsius", "megapascal"), [(5, 1.0), (20, 0.6), (60, 1.0)])
def test_density_of_a_second_package(celsius: float, megapascal: float) -> None:
    found = water.density(
        Temperature(celsius, "degC"), Pressure(megapascal, "MPa"), water="pure"
    ).value
    assert found == pytest.approx(IAPWS95(T=celsius + 273.15, P=megapascal).rho, rel=2e-7)


def test_compressibility_of_the_iapws_package() -> None:
    # the release's own dv/dp and its derivative to T, in m3/(kg MPa)
    temperature = np.linspace(0.0, 100.0, 41) + 273.15
    released = [_Liquid(t) for t in temperature]
    found = WATER_COMPRESSION.evaluate(temperature)
    np.testing.assert_allclose(found * 1e6, [r["vp"] for r in released], rtol=1e-12)
    (slope,) = WATER_COMPRESSION.pull(1.0, (temperature,), found, (True,))
    # near 45 degC it vanishes: hence atol
    np.testing.assert_allclose(slope * 1e6, [r["vpt"] for r in released], rtol=1e-11, atol=1e-20)


def test_compressibility_measured() -> None:
    # [Kell 1975], correlation from memory, in 1/bar; quoted scatter of data some 0.1 %
    celsius = np.array([10.0, 20.0, 45.0, 80.0])
    kell = np.polyval(
        [410.4110e-12, -58.47727e-9, 20.08438e-6, 1.459187e-3, 0.6163813, 50.88496], celsius
    ) / (1 + 19.67348e-3 * celsius)
    pressure = Pressure(100, "kPa", standard(1, "kPa"))
    for t, expected in zip(celsius, kell, strict=True):
        density = water.density(Temperature(t, "degC"), pressure, water="pure")
        found = density.covariance(pressure.si) / 1e6 / density.value  # 1/Pa
        assert found == pytest.approx(expected * 1e-11, rel=3e-3)


def test_pressure_left_out_is_exactly_0_1_megapascal() -> None:
    temperature = Temperature(CELSIUS[:-1], "degC", limits(0.3))
    given = water.density(temperature, Pressure(0.1, "MPa"))
    left_out = water.density(temperature)
    assert np.array_equal(given.value, left_out.value)
    np.testing.assert_allclose((given - left_out).u, 0.0, atol=1e-12)
    assert np.array_equal(
        water.viscosity(temperature, Pressure(0.1, "MPa")).u, water.viscosity(temperature).u
    )


def test_viscosity_limits_cover_the_full_formulation() -> None:
    # [IAPWS R12-08] over the range; the limits must cover it without being far too wide
    shifts = []
    for kilopascal in (300.0, 600.0, 1000.0):
        pressure = Pressure(kilopascal, "kPa")
        component = next(
            c
            for c in water.viscosity(Temperature(20, "degC"), pressure).components
            if "pressure" in c.label
        )
        half_width = component.distribution.standard_uncertainty * np.sqrt(3)
        for t in CELSIUS:
            free, pressed = (
                PropsSI("V", "T", t + 273.15, "P", p, "Water") for p in (1e5, kilopascal * 1e3)
            )
            shifts.append((pressed / free - 1) / (half_width * (kilopascal - 100) / 900))
    assert 0.85 < np.max(np.abs(shifts)) < 1.0


def test_viscosity_keeps_its_value_and_widens() -> None:
    temperature = Temperature(20, "degC")
    free, pressed = water.viscosity(temperature), water.viscosity(temperature, Pressure(1, "MPa"))
    assert pressed.value == free.value
    # 0.5 % of the formulation and 0.12 %/sqrt(3)
    assert pressed.u / pressed.value == pytest.approx(np.hypot(5e-3, 1.2e-3 / np.sqrt(3)), rel=1e-9)
    # one error behind all pressures, in proportion to p - 0.1 MPa
    half = water.viscosity(temperature, Pressure(0.55, "MPa"))
    difference = (pressed - free) - 2 * (half - free)
    assert difference.u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("celsius", [0.0, 20.0, 60.0, 100.0])
def test_boiling_pressure(celsius: float) -> None:
    # [IAPWS SR1-86] against the industrial formulation in iapws (agreement stated: 0.02 %)
    found = float(saturation_pressure(np.asarray(celsius + 273.15)))
    assert found == pytest.approx(_PSat_T(celsius + 273.15) * 1e6, rel=3e-4)


@pytest.mark.parametrize("function", FUNCTIONS)
class TestArguments:
    def test_steam_is_refused(self, function) -> None:
        # 60 kPa: water boils at 85.9 degC, at 95 degC below 84.6 kPa (steam tables, computed)
        with pytest.raises(RangeError, match=r"60 kPa; water of 95 degC boils below 84\.\d+ kPa"):
            function(Temperature(95, "degC"), Pressure(60, "kPa"))
        with pytest.raises(RangeError, match=r"60 kPa at reading 1; water of 95 degC"):
            function(Temperature([20, 95], "degC"), Pressure(60, "kPa"))
        assert function(Temperature(85, "degC"), Pressure(60, "kPa")).value > 0

    def test_boiling_water_in_the_open_is_still_water(self, function) -> None:
        assert function(Temperature(100, "degC"), Pressure(101.325, "kPa")).value > 0

    @pytest.mark.parametrize("kilopascal", [0.0, 0.3, 49.9, 1000.1, 101_325.0])
    def test_outside_is_refused_with_advice(self, function, kilopascal: float) -> None:
        with pytest.raises(
            RangeError, match=r"pressure=.*expected 50 to 1000 kPa.*gauge reading plus"
        ):
            function(Temperature(20, "degC"), Pressure(kilopascal, "kPa"))

    def test_other_kinds_are_refused(self, function) -> None:
        with pytest.raises(DimensionError, match=r"water\..*pressure.*float 101\.3.*Pressure"):
            function(Temperature(20, "degC"), 101.3)
        with pytest.raises(DimensionError, match=r"pressure.*Length in 'mm'"):
            function(Temperature(20, "degC"), Length(760, "mm"))

    def test_lengths_that_do_not_fit_are_refused(self, function) -> None:
        with pytest.raises(ShapeError, match="lengths 3 and 2"):
            function(Temperature([20, 21, 22], "degC"), Pressure([100, 200], "kPa"))

    def test_one_pressure_for_all_temperatures(self, function) -> None:
        readings = Temperature([20, 21, 22], "degC", limits(0.1))
        assert function(readings, Pressure(200, "kPa")).u.shape == (3,)
        assert isinstance(function(Temperature(20, "degC"), Pressure(200, "kPa")).value, float)

    def test_pickle_keeps_the_record(self, function) -> None:
        made = function(
            Temperature([20.0, 30.0], "degC", shared(limits(0.2))), Pressure(500, "kPa", limits(20))
        )
        copy = pickle.loads(pickle.dumps(made))
        np.testing.assert_allclose((copy / made).u, 0.0, atol=1e-15)

    def test_second_derivatives_are_known(self, function) -> None:
        made = function(Temperature(20, "degC", limits(0.5)), Pressure(500, "kPa", limits(20)))
        assert "linear value and u stand" in str(second_order(made))
