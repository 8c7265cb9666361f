"""What orifice plates and venturi tubes have in common: the equation of flow and its inputs."""

from __future__ import annotations

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Density, DynamicViscosity, Length, Pressure, Ratio
from flowunc.core.statements import standard
from flowunc.instruments.differential_meter import DifferentialMeter
from flowunc.instruments.orifice import OrificePlate
from flowunc.instruments.venturi import VenturiTube

WATER = {"density": Density(998.2, "kg/m^3"), "viscosity": DynamicViscosity(1.0016, "mPa*s")}


def plate(orifice=Length(60, "mm"), bore=Length(100, "mm"), **options):  # noqa: B008 - immutable
    return OrificePlate(orifice, bore, taps="corner", **options)


def test_both_are_differential_meters() -> None:
    assert issubclass(OrificePlate, DifferentialMeter)
    assert issubclass(VenturiTube, DifferentialMeter)


def test_density_enters_the_volume_flow_with_minus_one_half() -> None:
    own = {"coefficient": Ratio(0.6, "1")}
    liquid = Density(1000, "kg/m^3", standard(10))
    drop = Pressure(2, "kPa")
    volume = plate(**own).flow(drop, density=liquid)
    mass = plate(**own).mass_flow(drop, density=liquid)
    assert volume.u / volume.value == pytest.approx(0.005, rel=1e-9)
    assert mass.u / mass.value == pytest.approx(0.005, rel=1e-9)
    assert volume.covariance(mass) < 0


def test_a_coefficient_of_its_own_takes_the_place_of_the_standard() -> None:
    small = plate(
        orifice=Length(15, "mm"),
        bore=Length(26, "mm"),
        coefficient=Ratio(0.62, "1", standard(0.0062)),
    )
    flow = small.mass_flow(Pressure(2, "kPa"), density=Density(1000, "kg/m^3"))
    # q = C E (pi/4) d^2 sqrt(2 dp rho) with dp = 2000: sqrt(4e6) = 2000 kg/(m^2 s)
    beta4 = (15 / 26) ** 4
    area = math.pi / 4 * 0.015**2
    assert flow.value == pytest.approx(0.62 / math.sqrt(1 - beta4) * area * 2000, rel=1e-12)
    assert flow.u / flow.value == pytest.approx(0.01, rel=1e-12)
    assert [c.label for c in flow.components] == ["orifice plate discharge coefficient"]
    assert small.coefficient is not None


def test_what_it_is_made_of() -> None:
    meter = plate(label="plate A")
    assert (meter.label, meter.taps) == ("plate A", "corner")
    assert meter.orifice.value == 60
    assert meter.bore.label == "plate A bore"
    assert meter.diameter_ratio.value == pytest.approx(0.6)
    assert meter.coefficient is None


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        ({"pressure_drop": Pressure([5, 0], "kPa")}, RangeError, "at reading 1: 0 kPa.*zero check"),
        ({"pressure_drop": 5}, DimensionError, "pressure_drop=.*got int"),
        ({"density": Density(0, "kg/m^3")}, RangeError, "density: 0 kg"),
        ({"viscosity": None}, StatementError, "viscosity= of the liquid is missing"),
        ({"viscosity": Density(1, "kg/m^3")}, DimensionError, "viscosity="),
        ({"viscosity": DynamicViscosity(0, "Pa*s")}, RangeError, "viscosity: 0 Pa"),
    ],
)
def test_misuse_is_named(change, error, match) -> None:
    with pytest.raises(error, match=match):
        plate().flow(**{"pressure_drop": Pressure(5, "kPa")} | WATER | change)
