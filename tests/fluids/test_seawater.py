"""Seawater against the Gibbs function in iapws, and an older measurement of viscosity."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from iapws import SeaWater

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    KinematicViscosity,
    RangeError,
    Ratio,
    Temperature,
    limits,
    standard,
)
from flowunc.fluids import seawater, water

FUNCTIONS = [seawater.density, seawater.viscosity, seawater.kinematic_viscosity]
SALINITIES = np.array([0.1, 1.0, 5.0, 10.0, 20.0, 30.0, 35.0, 42.0])  # g/kg


def gibbs(celsius: float, fraction: float) -> float:
    found: float = SeaWater(T=celsius + 273.15, P=0.1, S=fraction).rho
    return found


@pytest.mark.parametrize("celsius", [0.01, 4.0, 10.0, 20.0, 30.0, 40.0])
def test_density_of_the_gibbs_function(celsius: float) -> None:
    # [IAPWS R13-08], computed with iapws; salt makes up to 3 %
    found = seawater.density(Temperature(celsius, "degC"), Ratio(SALINITIES, "g/kg"))
    expected = [gibbs(celsius, s / 1000) for s in SALINITIES]
    np.testing.assert_allclose(found.value, expected, rtol=1e-5)


def test_density_printed() -> None:
    # [UNESCO 44], check values at practical salinity 35 (from memory): 5 degC 1027.67547,
    # 25 degC 1023.34306 kg/m3. They rest on an older water, 25 degC: 997.04796.
    salinity = Ratio(35.16504, "g/kg")
    for celsius, expected in ((5, 1027.67547), (25, 1023.34306)):
        found = seawater.density(Temperature(celsius, "degC"), salinity)
        assert found.value == pytest.approx(expected, abs=2e-3)


def test_sensitivities_of_density() -> None:
    temperature, salinity = Temperature(18, "degC", standard(0.1)), Ratio(30, "g/kg", standard(0.5))
    found = seawater.density(temperature, salinity)
    to_temperature = (gibbs(18.1, 0.03) - gibbs(17.9, 0.03)) / 0.2
    to_salinity = (gibbs(18, 0.0301) - gibbs(18, 0.0299)) / 0.0002
    assert found.covariance(temperature) / 0.01 == pytest.approx(to_temperature, rel=5e-3)
    assert found.covariance(salinity.si) / 0.0005**2 == pytest.approx(to_salinity, rel=1e-3)


@pytest.mark.parametrize(("celsius", "a", "b"), [(5, 0.000366, 0.002756), (25, 0.001403, 0.003416)])
@pytest.mark.parametrize("practical", [10.0, 35.0])
def test_viscosity_of_a_measurement(celsius: float, a: float, b: float, practical: float) -> None:
    # [Millero 1974], coefficients from memory: mu/mu_w = 1 + a sqrt(Cl) + b Cl, Cl chlorine in
    # g/L, S = 1.80655 Cl in g/kg. Salt makes 6 % to 8 % at 35; the limits are 1.5 %.
    fraction = practical * 35.16504 / 35
    chlorine = practical / 1.80655 * gibbs(celsius, fraction / 1000) / 1000
    temperature = Temperature(celsius, "degC")
    found = seawater.viscosity(temperature, Ratio(fraction, "g/kg")) / water.viscosity(temperature)
    assert found.value == pytest.approx(1 + a * np.sqrt(chlorine) + b * chlorine, rel=0.011)


@pytest.mark.parametrize("celsius", [1.0, 10.0, 20.0, 30.0, 39.0])
def test_viscosity_of_coolprop(celsius: float) -> None:
    # its seawater is a fit to the same correlation, off by up to 0.8 % even without salt, where
    # water is known; so the effect of the salt alone is compared
    fractions = np.array([5.0, 20.0, 35.0, 42.0])
    temperature = Temperature(celsius, "degC")
    found = seawater.viscosity(temperature, Ratio(fractions, "g/kg")) / water.viscosity(temperature)
    fresh, *salt = (
        PropsSI("V", "T", celsius + 273.15, "P", 1e5, f"INCOMP::MITSW[{s / 1000}]")
        for s in (1e-6, *fractions)
    )
    np.testing.assert_allclose(found.value, np.array(salt) / fresh, rtol=5e-4)


def test_without_salt_it_is_water() -> None:
    temperature, none = Temperature([0, 20, 40], "degC", limits(0.3)), Ratio(0, "g/kg", limits(0.1))
    np.testing.assert_allclose(
        seawater.density(temperature, none).value, water.density(temperature).value, rtol=1e-15
    )
    np.testing.assert_allclose(
        seawater.viscosity(temperature, none).value, water.viscosity(temperature).value, rtol=1e-15
    )
    # and has an uncertainty there, although x^1.5 meets its end: 0.8 kg/m3 per g/kg
    found = seawater.density(Temperature(20, "degC"), Ratio(0, "g/kg", standard(0.1)))
    step = gibbs(20, 2e-4) - gibbs(20, 1e-4)
    assert found.u == pytest.approx(step, rel=0.15)
    drawn = found.monte_carlo(20_000, seed=2)
    assert drawn.not_finite == 0
    assert drawn.u == pytest.approx(found.u, rel=0.03)


def test_uncertainty_of_the_correlations() -> None:
    state = (Temperature(20, "degC"), Ratio(35, "g/kg"))
    density, viscosity = seawater.density(*state), seawater.viscosity(*state)
    # 0.005 %; the 1e-6 of pure water belongs to most of the mass
    assert density.u / density.value == pytest.approx(
        np.hypot(5e-5 / np.sqrt(3), 0.98e-6), rel=1e-3
    )
    # 1.5 % [Sharqawy 2010] and u = 0.5 % of water
    assert viscosity.u / viscosity.value == pytest.approx(
        np.hypot(0.015 / np.sqrt(3), 0.005), rel=1e-9
    )


def test_errors_are_shared_with_water_and_between_seas() -> None:
    state = (Temperature(20, "degC"), Ratio(35, "g/kg"))
    fresh, salt = water.viscosity(state[0]), seawater.viscosity(*state)
    assert salt.correlation(fresh) == pytest.approx(0.005 / np.hypot(0.015 / np.sqrt(3), 0.005))
    other = seawater.viscosity(Temperature(10, "degC"), Ratio(20, "g/kg"))
    assert (salt / other).u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("function", FUNCTIONS)
class TestArguments:
    def test_number_of_grams_as_a_fraction(self, function) -> None:
        with pytest.raises(
            RangeError,
            match=r"salinity=.*35000 g/kg; expected 0 to 42 g/kg.*Ratio\(35, 'g/kg'\)",
        ):
            function(Temperature(20, "degC"), Ratio(35, "1"))

    def test_plain_numbers_are_refused(self, function) -> None:
        with pytest.raises(DimensionError, match=r"seawater\..*salinity.*int 35.*Ratio"):
            function(Temperature(20, "degC"), 35)
        with pytest.raises(DimensionError, match=r"seawater\..*temperature.*float 20\.0"):
            function(20.0, Ratio(35, "g/kg"))

    def test_swapped_arguments_are_refused(self, function) -> None:
        with pytest.raises(DimensionError, match=r"temperature.*Ratio"):
            function(Ratio(35, "g/kg"), Temperature(20, "degC"))

    @pytest.mark.parametrize("celsius", [-0.1, 40.1])
    def test_temperatures_outside_are_refused(self, function, celsius: float) -> None:
        with pytest.raises(RangeError, match=f"{celsius} degC; expected 0 to 40 degC.*UNESCO 44"):
            function(Temperature(celsius, "degC"), Ratio(35, "g/kg"))

    @pytest.mark.parametrize("grams", [-0.1, 42.1])
    def test_salinities_outside_are_refused(self, function, grams: float) -> None:
        with pytest.raises(RangeError, match=f"{grams} g/kg; expected"):
            function(Temperature(20, "degC"), Ratio(grams, "g/kg"))

    def test_percent_and_grams_are_the_same(self, function) -> None:
        found = [
            function(Temperature(20, "degC"), s).value for s in (Ratio(3.5, "%"), Ratio(35, "g/kg"))
        ]
        assert found[0] == pytest.approx(found[1], rel=1e-14)

    def test_pickle_keeps_the_record(self, function) -> None:
        made = function(Temperature([5.0, 20.0], "degC", limits(0.3)), Ratio(30, "g/kg", limits(1)))
        copy = pickle.loads(pickle.dumps(made))
        np.testing.assert_allclose((copy / made).u, 0.0, atol=1e-15)


def test_kinds_and_labels() -> None:
    state = (Temperature([10, 20], "degC"), Ratio(35, "g/kg"))
    kinds = (Density, DynamicViscosity, KinematicViscosity)
    names = ("density", "viscosity", "kinematic viscosity")
    for function, kind, name in zip(FUNCTIONS, kinds, names, strict=True):
        made = function(*state)
        assert type(made) is kind
        assert made.label == f"seawater {name}"
        assert made.value.shape == (2,)
