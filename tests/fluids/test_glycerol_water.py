"""Glycerol and water against measured tables, and CoolProp's fits of other measurements."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    KinematicViscosity,
    Quantity,
    RangeError,
    Ratio,
    Temperature,
    limits,
    second_order,
    standard,
)
from flowunc.fluids import glycerol_water, water

FUNCTIONS = [glycerol_water.density, glycerol_water.viscosity, glycerol_water.kinematic_viscosity]
# [Segur 1951], mPa s (from memory): percent by mass, then degC: viscosity
SEGUR = {
    10: {20: 1.31},
    20: {0: 3.44, 20: 1.76, 40: 1.07},
    30: {20: 2.50, 40: 1.46},
    40: {20: 3.72},
    50: {0: 14.6, 20: 6.00, 40: 3.07, 60: 1.86, 80: 1.25, 100: 0.91},
    60: {0: 29.9, 20: 10.8, 40: 5.08},
    70: {0: 76.0, 20: 22.5, 40: 9.40},
    80: {0: 255.0, 20: 60.1, 40: 20.8, 60: 9.42, 80: 5.13, 100: 3.18},
    90: {20: 219.0, 40: 60.0, 60: 22.5, 80: 10.4, 100: 6.0},
}
# [Bosart 1928], kg/m3 at 20 degC (from memory)
BOSART = {10: 1022.1, 20: 1046.9, 30: 1072.7, 40: 1099.3, 50: 1126.3, 60: 1153.8}
BOSART |= {70: 1180.8, 80: 1208.5, 90: 1235.1}


def limits_of(made: Quantity) -> float:
    component = next(c for c in made.components if "correlation" in c.label)
    return component.distribution.standard_uncertainty * np.sqrt(3)


@pytest.mark.parametrize("percent", SEGUR)
def test_viscosity_of_the_table(percent: float) -> None:
    # within 4 %, so within the limits of 5 %; one percent of glycerol makes 3 % to 15 %
    for celsius, expected in SEGUR[percent].items():
        found = glycerol_water.viscosity(Temperature(celsius, "degC"), Ratio(percent, "%"))
        assert found.to("mPa*s").value == pytest.approx(expected, rel=0.04)


@pytest.mark.parametrize("percent", BOSART)
def test_density_of_the_table(percent: float) -> None:
    # contraction makes up to 1.1 %
    found = glycerol_water.density(Temperature(20, "degC"), Ratio(percent, "%"))
    assert found.value == pytest.approx(BOSART[percent], rel=3e-4)


@pytest.mark.parametrize("celsius", [0.0, 10.0, 20.0, 30.0, 39.0])
@pytest.mark.parametrize(("fit", "tolerance"), [("MGL", 5e-4), ("MGL2", 1.4e-3)])
def test_density_of_coolprop(celsius: float, fit: str, tolerance: float) -> None:
    # two independent fits, up to 60 % glycerol, which differ by 0.13 %: the limits cover both
    fractions = np.array([0.2, 0.3, 0.4, 0.5, 0.6])
    found = glycerol_water.density(Temperature(celsius, "degC"), Ratio(fractions, "1"))
    expected = [
        PropsSI("D", "T", celsius + 273.15, "P", 1e5, f"INCOMP::{fit}[{w}]") for w in fractions
    ]
    np.testing.assert_allclose(found.value, expected, rtol=tolerance)
    assert tolerance < limits_of(found)


@pytest.mark.parametrize("celsius", [20.0, 30.0, 39.0])
@pytest.mark.parametrize("fit", ["MGL", "MGL2"])
def test_viscosity_of_coolprop(celsius: float, fit: str) -> None:
    # below 20 degC the fits leave the table of [Segur 1951] by up to 12 %
    fractions = np.array([0.2, 0.3, 0.4, 0.5, 0.6])
    found = glycerol_water.viscosity(Temperature(celsius, "degC"), Ratio(fractions, "1"))
    expected = [
        PropsSI("V", "T", celsius + 273.15, "P", 1e5, f"INCOMP::{fit}[{w}]") for w in fractions
    ]
    np.testing.assert_allclose(found.value, expected, rtol=0.05)
    assert limits_of(found) == pytest.approx(0.05)


def test_sensitivities_of_viscosity() -> None:
    # from neighbouring rows and columns of [Segur 1951], d ln(mu) at 70 % and 20 degC: between 60 %
    # and 80 % (ln 60.1 - ln 10.8)/20, between 0 degC and 40 degC (ln 9.40 - ln 76.0)/40
    temperature, glycerol = Temperature(20, "degC", standard(0.1)), Ratio(70, "%", standard(0.1))
    found = glycerol_water.viscosity(temperature, glycerol)
    to_glycerol = found.covariance(glycerol) / 0.01 / found.value
    to_temperature = found.covariance(temperature) / 0.01 / found.value
    assert to_glycerol == pytest.approx((np.log(60.1) - np.log(10.8)) / 20, rel=0.12)
    assert to_temperature == pytest.approx((np.log(9.40) - np.log(76.0)) / 40, rel=0.12)


def test_sensitivity_of_density() -> None:
    # [Bosart 1928]: 1099.3 to 1153.8 kg/m3 over 20 %
    glycerol = Ratio(50, "%", standard(0.1))
    found = glycerol_water.density(Temperature(20, "degC"), glycerol)
    assert found.covariance(glycerol) / 0.01 == pytest.approx((1153.8 - 1099.3) / 20, rel=0.01)


def test_uncertainty_of_the_correlations() -> None:
    state = (Temperature(20, "degC"), Ratio(60, "%"))
    density, viscosity = glycerol_water.density(*state), glycerol_water.viscosity(*state)
    assert density.u / density.value == pytest.approx(1.5e-3 / np.sqrt(3), rel=1e-5)
    assert viscosity.u / viscosity.value == pytest.approx(0.05 / np.sqrt(3), rel=1e-9)
    other = glycerol_water.viscosity(Temperature(30, "degC"), Ratio(80, "%"))
    assert (viscosity / other).u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("celsius", [0, 20, 40])
def test_little_glycerol_is_nearly_water(celsius: float) -> None:
    # 1 % makes 2.4 kg/m3 and 2.6 % (handbook, from memory)
    state = (Temperature(celsius, "degC"), Ratio(1, "%"))
    fresh = water.density(state[0]).value
    assert glycerol_water.density(*state).value - fresh == pytest.approx(2.4, abs=0.3)
    ratio = glycerol_water.viscosity(*state).value / water.viscosity(state[0]).value
    assert ratio == pytest.approx(1.026, abs=0.02)


@pytest.mark.parametrize("percent", [1.0, 99.5])
def test_draws_beyond_the_ends_are_evaluated(percent: float) -> None:
    glycerol = Ratio(percent, "%", standard(0.5))
    for function in FUNCTIONS:
        drawn = function(Temperature(20, "degC"), glycerol).monte_carlo(20_000, seed=3)
        assert drawn.not_finite == 0
        assert np.isfinite(drawn.samples()).all()


@pytest.mark.parametrize("function", FUNCTIONS)
class TestArguments:
    def test_percent_as_a_fraction(self, function) -> None:
        with pytest.raises(RangeError, match=r"glycerol=.*6000 %; expected 1 to 99.5 %.*'%'\)"):
            function(Temperature(20, "degC"), Ratio(60, "1"))

    def test_water_alone_is_sent_to_water(self, function) -> None:
        with pytest.raises(RangeError, match=r"0 %; .*for water alone use water"):
            function(Temperature(20, "degC"), Ratio(0, "%"))

    def test_plain_numbers_are_refused(self, function) -> None:
        with pytest.raises(DimensionError, match=r"glycerol_water\..*glycerol.*float 0\.6.*Ratio"):
            function(Temperature(20, "degC"), 0.6)
        with pytest.raises(DimensionError, match=r"temperature.*int 20.*Temperature"):
            function(20, Ratio(60, "%"))

    @pytest.mark.parametrize("celsius", [-0.1, 100.1])
    def test_temperatures_outside_are_refused(self, function, celsius: float) -> None:
        with pytest.raises(RangeError, match=f"{celsius} degC; expected 0 to .*Cheng 2008"):
            function(Temperature(celsius, "degC"), Ratio(60, "%"))

    def test_pickle_keeps_the_record(self, function) -> None:
        made = function(Temperature([5.0, 20.0], "degC", limits(0.3)), Ratio(60, "%", limits(1)))
        copy = pickle.loads(pickle.dumps(made))
        np.testing.assert_allclose((copy / made).u, 0.0, atol=1e-14)

    def test_second_derivatives_are_known(self, function) -> None:
        made = function(Temperature(20, "degC", limits(0.1)), Ratio(60, "%", limits(0.1)))
        assert "linear value and u stand" in str(second_order(made))


def test_density_stops_at_40_degrees() -> None:
    warm = Temperature(40.1, "degC")
    with pytest.raises(RangeError, match="expected 0 to 40 degC"):
        glycerol_water.density(warm, Ratio(60, "%"))
    assert glycerol_water.viscosity(warm, Ratio(60, "%")).value > 0


def test_kinds_and_labels() -> None:
    state = (Temperature([10, 20], "degC"), Ratio(60, "%"))
    kinds = (Density, DynamicViscosity, KinematicViscosity)
    names = ("density", "viscosity", "kinematic viscosity")
    for function, kind, name in zip(FUNCTIONS, kinds, names, strict=True):
        made = function(*state)
        assert type(made) is kind
        assert made.label == f"glycerol-water {name}"
        assert made.value.shape == (2,)
