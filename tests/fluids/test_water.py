"""Water properties against the release, the iapws and CoolProp packages, and older standards."""

from __future__ import annotations

import pickle
from collections.abc import Callable

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from iapws import SeaWater
from iapws._iapws import _Liquid

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    KinematicViscosity,
    Quantity,
    RangeError,
    Temperature,
    limits,
    shared,
    standard,
)
from flowunc.fluids import water
from flowunc.fluids.water import WATER_DENSITY, WATER_VISCOSITY

# [IAPWS SR6-08, table 8] (read): T in K, v in m3/kg, viscosity in Pa s.
RELEASE = [
    (260.0, 1.00294025951e-3, 3058.36075057e-6),
    (298.15, 1.00296173256e-3, 889.996773679e-6),
    (375.0, 1.04492147697e-3, 276.207244913e-6),
]
# The same release at other temperatures (computed with the iapws package):
# degC, kg/m3, mPa s, mm2/s.
COMPUTED = [
    (0, 999.842383, 1.791782430, 1.792064889),
    (5, 999.965981, 1.518198342, 1.518249991),
    (10, 999.701864, 1.305901728, 1.306291180),
    (15, 999.102030, 1.137547820, 1.138570222),
    (18, 998.598036, 1.052647329, 1.054125174),
    (20, 998.206546, 1.001567265, 1.003366756),
    (22, 997.772877, 0.954367351, 0.956497588),
    (25, 997.047013, 0.889996774, 0.892632706),
    (30, 995.648824, 0.797206202, 0.800690146),
    (40, 992.215763, 0.652733474, 0.657854368),
    (60, 983.195255, 0.466039294, 0.474004825),
]
# [Tanaka 2001], at 101 325 Pa (computed from the coefficients read).
TANAKA = [
    (0, 999.8428),
    (4, 999.9749),
    (10, 999.7027),
    (15, 999.1026),
    (20, 998.2067),
    (25, 997.0470),
    (30, 995.6488),
    (40, 992.2152),
]
CELSIUS = np.linspace(0.0, 100.0, 101)


def liquid(kelvin: float) -> dict[str, float]:
    """The release as the iapws package has it."""
    found: dict[str, float] = _Liquid(kelvin)
    return found


def slope(function: Callable[[float], float], at: float, step: float) -> float:
    """Five-point derivative; its error is of order step**4."""
    near, far = (function(at + s * step) - function(at - s * step) for s in (1, 2))
    return (8.0 * near - far) / (12.0 * step)


@pytest.mark.parametrize(("kelvin", "volume", "viscosity"), RELEASE)
def test_formulas_give_the_check_values_of_the_release(
    kelvin: float, volume: float, viscosity: float
) -> None:
    # 12 digits are printed; the formula holds beyond the liquid range that is offered
    at = np.asarray(kelvin)
    assert float(WATER_DENSITY.evaluate(at)) == pytest.approx(1 / volume, rel=6e-12)
    assert float(WATER_VISCOSITY.evaluate(at)) == pytest.approx(viscosity, rel=6e-12)


@pytest.mark.parametrize(("celsius", "density", "viscosity", "kinematic"), COMPUTED)
def test_values_at_common_temperatures(
    celsius: float, density: float, viscosity: float, kinematic: float
) -> None:
    temperature = Temperature(celsius, "degC")
    assert water.density(temperature).value == pytest.approx(density, abs=6e-7)
    assert water.viscosity(temperature).to("mPa*s").value == pytest.approx(viscosity, abs=6e-10)
    found = water.kinematic_viscosity(temperature).to("mm^2/s")
    assert found.value == pytest.approx(kinematic, abs=6e-10)


def test_values_over_the_whole_range_are_those_of_the_iapws_package() -> None:
    temperature = Temperature(CELSIUS, "degC")
    expected = [liquid(t + 273.15) for t in CELSIUS]
    np.testing.assert_allclose(
        water.density(temperature).value, [e["rho"] for e in expected], rtol=1e-14
    )
    np.testing.assert_allclose(
        water.viscosity(temperature).value, [e["mu"] for e in expected], rtol=1e-14
    )


def test_derivative_of_density_is_the_expansion_of_the_iapws_package() -> None:
    # covariance with the temperature, divided by its variance, is the derivative alone
    temperature = Temperature(CELSIUS, "degC", limits(0.3))
    found = np.diag(water.density(temperature).covariance(temperature)) / temperature.u**2
    # near 4 degC it vanishes: hence atol. vt = dv/dT is a formula of its own in the package
    expected = [-liquid(t + 273.15)["vt"] * liquid(t + 273.15)["rho"] ** 2 for t in CELSIUS]
    np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-13)


def test_derivative_of_viscosity_is_the_numerical_one_of_the_iapws_package() -> None:
    celsius = np.linspace(0.5, 99.5, 34)
    temperature = Temperature(celsius, "degC", limits(0.3))
    found = np.diag(water.viscosity(temperature).covariance(temperature)) / temperature.u**2
    expected = [slope(lambda k: liquid(k)["mu"], t + 273.15, 0.05) for t in celsius]
    np.testing.assert_allclose(found, expected, rtol=1e-9)


def test_derivatives_at_20_degrees() -> None:
    # computed from SR6-08: d ln(mu)/dT = -0.024497 /K, d rho/dT = -0.206439 kg/m3/K
    temperature = Temperature(20, "degC", standard(0.1))
    mu, rho = water.viscosity(temperature), water.density(temperature)
    assert mu.covariance(temperature) / 0.01 / mu.value == pytest.approx(-0.024497, abs=6e-7)
    assert rho.covariance(temperature) / 0.01 == pytest.approx(-0.206439, abs=6e-7)


def test_iso_tr_3666() -> None:
    # [ISO/TR 3666], water at 20 degC and 101.325 kPa (from memory): 1.0016 mPa s, 1.0034 mm2/s
    temperature = Temperature(20, "degC")
    assert water.viscosity(temperature).to("mPa*s").value == pytest.approx(1.0016, abs=5e-5)
    assert water.kinematic_viscosity(temperature).to("mm^2/s").value == pytest.approx(
        1.0034, abs=5e-5
    )


@pytest.mark.parametrize(("celsius", "expected"), TANAKA)
def test_density_of_tanaka(celsius: float, expected: float) -> None:
    # Expanded uncertainty there is below 0.001 kg/m3; 1.3 kPa less pressure makes 0.0006 kg/m3.
    found = water.density(Temperature(celsius, "degC"), water="pure")
    assert found.value == pytest.approx(expected, abs=0.001)
    if celsius == 4:
        assert expected - found.value == pytest.approx(0.0006, abs=0.0001)


def test_coolprop_agrees() -> None:
    # [IAPWS R6-95] and [IAPWS R12-08], the full formulations that SR6-08 is fitted to, at 0.1 MPa
    celsius = np.linspace(0.1, 99.0, 50)
    temperature = Temperature(celsius, "degC")
    density = [PropsSI("D", "T", t + 273.15, "P", 1e5, "Water") for t in celsius]
    viscosity = [PropsSI("V", "T", t + 273.15, "P", 1e5, "Water") for t in celsius]
    np.testing.assert_allclose(water.density(temperature).value, density, rtol=1e-7)
    np.testing.assert_allclose(water.viscosity(temperature).value, viscosity, rtol=5e-5)


def test_uncertainty_of_the_formulations() -> None:
    # viscosity: 1 % at k = 2 [IAPWS R12-08]; density: 0.0001 % [IAPWS R6-95]; both from memory
    temperature = Temperature(20, "degC")
    mu = water.viscosity(temperature)
    assert 2 * mu.u / mu.value == pytest.approx(0.01, rel=1e-12)
    pure, tap = water.density(temperature, water="pure"), water.density(temperature)
    assert pure.u / pure.value == pytest.approx(1e-6, rel=1e-12)
    assert tap.u / tap.value == pytest.approx(np.hypot(5e-4 / np.sqrt(3), 1e-6), rel=1e-9)
    assert tap.value == pure.value
    assert {c.label for c in tap.components} == {
        "water density formulation",
        "salts and air dissolved in tap water",
    }


@pytest.mark.parametrize("celsius", [5, 20, 40])
def test_tap_water_limits_cover_hard_water(celsius: float) -> None:
    # [IAPWS R13-08] for sea salt, 0.6 g/kg: the limits must cover it without being far too wide
    kelvin = celsius + 273.15
    fresh, hard = (SeaWater(T=kelvin, P=0.1, S=s).rho for s in (1e-9, 0.6e-3))
    (tap,) = (c for c in water.density(Temperature(celsius, "degC")).components if "tap" in c.label)
    half_width = tap.distribution.standard_uncertainty * np.sqrt(3)
    assert 0.8 < (hard / fresh - 1) / half_width < 1.0


def test_formulation_is_one_error_behind_all_results() -> None:
    cold, warm = Temperature(10, "degC"), Temperature(30, "degC")
    assert water.viscosity(cold).correlation(water.viscosity(warm)) == pytest.approx(1.0)
    assert (water.viscosity(cold) / water.viscosity(warm)).u == pytest.approx(0.0, abs=1e-16)
    # density and viscosity have errors of their own
    assert water.viscosity(cold).correlation(water.density(cold)) == 0.0


def test_pickled_results_stay_correlated() -> None:
    temperature = Temperature([19.0, 20.0], "degC", shared(limits(0.3)))
    for made in (water.density(temperature), water.viscosity(temperature)):
        copy = pickle.loads(pickle.dumps(made))
        assert np.all((copy / made).u < 1e-16)
        # the temperature's own component survives with its key too
        assert np.all(copy.u == made.u)


@pytest.mark.parametrize("function", [water.density, water.viscosity, water.kinematic_viscosity])
class TestArguments:
    @pytest.mark.parametrize(("value", "unit"), [(0, "degC"), (100, "degC"), (32, "degF")])
    def test_ends_belong_to_the_range(self, function, value: float, unit: str) -> None:
        assert function(Temperature(value, unit)).value > 0

    def test_212_fahrenheit_is_100_celsius(self, function) -> None:
        boiling = function(Temperature(212, "degF")).value
        assert boiling == pytest.approx(function(Temperature(100, "degC")).value, rel=1e-14)

    @pytest.mark.parametrize("celsius", [-0.01, 100.01, -20, 377])
    def test_outside_is_refused_with_value_limits_and_source(self, function, celsius) -> None:
        with pytest.raises(RangeError, match=rf"{celsius} degC; expected 0 to 100 .*SR6-08"):
            function(Temperature(celsius, "degC"))

    def test_refusal_names_the_reading(self, function) -> None:
        with pytest.raises(RangeError, match=r"293 degC at reading 1 \(and 1 more\)"):
            function(Temperature([20, 293, -5], "degC"))

    def test_draws_beyond_the_range_are_evaluated(self, function) -> None:
        drawn = function(Temperature(0.1, "degC", standard(1.0))).monte_carlo(20_000, seed=1)
        assert np.isfinite(drawn.samples()).all()
        assert drawn.not_finite == 0

    @pytest.mark.parametrize(
        ("given", "named"),
        [
            (Quantity(20, "K"), "Quantity in 'K'"),
            (Density(998, "kg/m^3"), "Density"),
            (20.0, "float"),
        ],
    )
    def test_other_kinds_are_refused(self, function, given, named: str) -> None:
        with pytest.raises(DimensionError, match=rf"water\..*temperature.*{named}.*Temperature"):
            function(given)

    def test_shapes(self, function) -> None:
        assert isinstance(function(Temperature(20, "degC")).value, float)
        assert function(Temperature([20], "degC")).value.shape == (1,)
        assert function(Temperature([20, 21, 22], "degC", limits(0.1))).u.shape == (3,)


def test_kinds_units_and_labels() -> None:
    temperature = Temperature(20, "degC")
    for made, kind, label in (
        (water.density(temperature), Density, "water density"),
        (water.viscosity(temperature), DynamicViscosity, "water viscosity"),
        (water.kinematic_viscosity(temperature), KinematicViscosity, "water kinematic viscosity"),
    ):
        assert type(made) is kind
        assert made.label == label


def test_kind_of_water_is_checked() -> None:
    with pytest.raises(RangeError, match=r"'sea'.*'tap' or 'pure'"):
        water.density(Temperature(20, "degC"), water="sea")


def test_temperature_error_is_shared_in_the_kinematic_viscosity() -> None:
    # derivative of mu/rho by the iapws package; without the formulation errors
    temperature = Temperature(35, "degC", standard(0.2))
    found = water.kinematic_viscosity(temperature).covariance(temperature) / 0.04
    expected = slope(lambda k: liquid(k)["mu"] / liquid(k)["rho"], 308.15, 0.05)
    assert found == pytest.approx(expected, rel=1e-9)
