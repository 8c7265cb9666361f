"""The classical venturi tube: flow against the `fluids` package, ranges of the standard."""

from __future__ import annotations

import math

import pytest
from fluids.flow_meter import differential_pressure_meter_solver

from flowunc.core.errors import RangeError, StatementError
from flowunc.core.kinds import Density, DynamicViscosity, Length, Pressure, Ratio
from flowunc.core.statements import standard
from flowunc.instruments.venturi import VenturiTube

WATER = {"density": Density(998.2, "kg/m^3"), "viscosity": DynamicViscosity(1.0016, "mPa*s")}


def tube(convergent="machined", throat=100, bore=200, **options):
    return VenturiTube(Length(throat, "mm"), Length(bore, "mm"), convergent=convergent, **options)


# C and its expanded uncertainty [ISO 5167-4, 5.5 and 5.7], from memory [M]; the coefficients
# also stand in the `fluids` package, with which the flow is computed [C].
@pytest.mark.parametrize(
    ("convergent", "coefficient", "percent"),
    [("machined", 0.995, 1.0), ("as cast", 0.984, 0.7), ("rough-welded", 0.985, 1.5)],
)
def test_flow_is_that_of_another_library(convergent, coefficient, percent) -> None:
    meter = tube(convergent)
    drop = Pressure([10.0, 40.0], "kPa")
    expected = [
        differential_pressure_meter_solver(
            D=0.2,
            D2=0.1,
            P1=2e5,
            P2=2e5 - dp,
            rho=998.2,
            mu=1.0016e-3,
            meter_type=f"{convergent.replace('-', ' ')} convergent venturi tube",
            epsilon_specified=1.0,
        )
        for dp in (1e4, 4e4)
    ]
    mass = meter.mass_flow(drop, **WATER)
    assert mass.value == pytest.approx(expected, rel=1e-9)
    assert mass.u / mass.value == pytest.approx([percent / 200] * 2, rel=1e-12)
    assert mass[0].correlation(mass[1]) == pytest.approx(1, rel=1e-12)
    assert meter.discharge_coefficient(drop, **WATER).value == pytest.approx([coefficient] * 2)
    assert (meter.convergent, meter.throat.value) == (convergent, 100)
    assert meter.flow(drop, **WATER).label == "venturi tube"


def test_the_bore_enters_as_its_ratio() -> None:
    # d ln q / d ln D = -2 beta^4 / (1 - beta^4), here -2/15; throat 2 / (1 - beta^4) = 32/15
    for place, sensitivity in ((0, 32 / 15), (1, 2 / 15)):
        sizes = [Length(100, "mm"), Length(200, "mm")]
        sizes[place] = Length(100 * (1 + place), "mm", standard(0.1 * (1 + place)))
        meter = VenturiTube(*sizes, convergent="machined")
        flow = meter.flow(Pressure(10, "kPa"), **WATER)
        part = math.sqrt((flow.u / flow.value) ** 2 - 0.005**2)
        assert part == pytest.approx(sensitivity * 1e-3, rel=1e-6)


def test_a_small_tube_needs_a_coefficient_of_its_own() -> None:
    with pytest.raises(RangeError, match=r"bore: 26 mm; expected 50 to 250 mm.*coefficient=Ratio"):
        tube(throat=16, bore=26)
    small = tube(throat=16, bore=26, coefficient=Ratio(0.97, "1", standard(0.0097)))
    flow = small.flow(Pressure(2, "kPa"), density=Density(1000, "kg/m^3"))
    assert flow.u / flow.value == pytest.approx(0.01, rel=1e-12)


@pytest.mark.parametrize(
    ("options", "match"),
    [
        ({"throat": 60}, "diameter ratio: 0.3; expected 0.4 to 0.75"),
        ({"convergent": "as cast", "throat": 50, "bore": 90}, "bore: 90 mm; expected 100 to 800"),
        ({"convergent": "rough-welded", "throat": 145}, "ratio: 0.725; expected 0.4 to 0.7"),
    ],
)
def test_ranges_of_the_standard(options, match) -> None:
    with pytest.raises(RangeError, match=match):
        tube(**options)


@pytest.mark.parametrize("drop", [5.0, 600.0])
def test_reynolds_numbers_out_of_range(drop) -> None:
    # Re goes as the root of the drop: 1.6e5 and 1.8e6 about the range of 2e5 to 1e6
    expected = r"at reading 1: .*expected 200000 to 1e\+06.*ISO 5167-4, 5\.5\.3"
    with pytest.raises(RangeError, match=expected):
        tube().flow(Pressure([10.0, drop], "kPa"), **WATER)


def test_another_convergent_is_refused() -> None:
    with pytest.raises(StatementError, match="convergent='smooth'; expected 'machined'"):
        tube("smooth")
