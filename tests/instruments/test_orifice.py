"""The orifice plate: flow against the `fluids` package, and its uncertainty."""

from __future__ import annotations

import copy
import math

import numpy as np
import pytest
from fluids.flow_meter import differential_pressure_meter_solver

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    Length,
    MassFlowRate,
    Pressure,
    Ratio,
    ReynoldsNumber,
    VolumeFlowRate,
)
from flowunc.core.statements import limits, standard
from flowunc.instruments.orifice import OrificePlate

WATER = {"density": Density(998.2, "kg/m^3"), "viscosity": DynamicViscosity(1.0016, "mPa*s")}
D, d = Length(100, "mm"), Length(60, "mm")


def plate(taps="corner", orifice=d, bore=D, **options):
    return OrificePlate(orifice, bore, taps=taps, **options)


def mass_by_fluids(drop, taps="corner", orifice=0.06, bore=0.1):
    return differential_pressure_meter_solver(
        D=bore,
        D2=orifice,
        P1=2e5,
        P2=2e5 - drop,
        rho=998.2,
        mu=1.0016e-3,
        meter_type="ISO 5167 orifice",
        taps=taps,
        epsilon_specified=1.0,
    )


@pytest.mark.parametrize(
    ("taps", "theirs"), [("corner", "corner"), ("D and D/2", "D"), ("flange", "flange")]
)
def test_flow_is_that_of_another_library(taps, theirs) -> None:
    drops = [500.0, 5e3, 5e4]
    expected = [mass_by_fluids(drop, theirs) for drop in drops]  # [C]
    meter = plate(taps)
    mass = meter.mass_flow(Pressure(drops, "Pa"), **WATER)
    assert isinstance(mass, MassFlowRate)
    np.testing.assert_allclose(mass.value, expected, rtol=1e-9)
    flow = meter.flow(Pressure(drops, "Pa"), **WATER)
    assert isinstance(flow, VolumeFlowRate)
    assert flow.label == "orifice plate"
    np.testing.assert_allclose(flow.value, np.array(expected) / 998.2, rtol=1e-9)
    re = meter.reynolds_number(Pressure(drops, "Pa"), **WATER)
    assert isinstance(re, ReynoldsNumber)
    np.testing.assert_allclose(
        re.value, 4 * np.array(expected) / (math.pi * 1.0016e-3 * 0.1), rtol=1e-9
    )


def test_the_coefficient_is_one_error_of_the_plate() -> None:
    meter = plate()
    drop = Pressure([2.0, 8.0], "kPa")
    flow = meter.flow(drop, **WATER)
    # U = 0.5 % with k = 2 [ISO 5167-2, 5.3.3.1], shared by both readings
    np.testing.assert_allclose(flow.u / flow.value, 0.0025, rtol=1e-12)
    assert flow[0].correlation(flow[1]) == pytest.approx(1, rel=1e-12)
    assert [c.label for c in flow.components] == ["orifice plate discharge coefficient"]
    again = copy.deepcopy(meter).flow(drop, **WATER)
    assert (flow[0] - again[0]).u == pytest.approx(0, abs=1e-15)
    # two plates have errors of their own
    assert plate().flow(drop, **WATER)[0].covariance(flow[0]) == 0
    c = meter.discharge_coefficient(drop, **WATER)
    np.testing.assert_allclose(c.u / c.value, 0.0025, rtol=1e-12)


# Sensitivities from differences of the other library [C], half a per cent to either side.
@pytest.mark.parametrize(
    ("quantity", "change"),
    [("orifice", {"orifice": 0.06}), ("bore", {"bore": 0.1}), ("drop", {"drop": 5e3})],
)
def test_sensitivities(quantity, change) -> None:
    ((name, value),) = change.items()
    up, down = (mass_by_fluids(**{"drop": 5e3} | {name: value * f}) for f in (1.002, 0.998))
    exact = math.log(up / down) / math.log(1.002 / 0.998)
    given = {"orifice": Length(0.06, "m"), "bore": Length(0.1, "m")}
    drop = Pressure(5e3, "Pa")
    if quantity == "drop":
        drop = Pressure(5e3, "Pa", standard(5.0))
    else:
        given[quantity] = Length(value, "m", standard(1e-3 * value))
    flow = plate(**given).mass_flow(drop, **WATER)
    part = math.sqrt((flow.u / flow.value) ** 2 - 0.0025**2)
    assert part == pytest.approx(abs(exact) * 1e-3, rel=2e-4)


def test_drawing_and_linearising_agree() -> None:
    meter = plate(orifice=Length(60, "mm", limits(0.05)), bore=Length(100, "mm", limits(0.4)))
    flow = meter.flow(
        Pressure([0.5, 5.0], "kPa", standard(0.005)),
        density=Density(998.2, "kg/m^3", limits(1)),
        viscosity=DynamicViscosity(1.0, "mPa*s", limits(0.05)),
    )
    drawn = flow.monte_carlo(40_000, seed=6)
    np.testing.assert_allclose(drawn.u, flow.u, rtol=5 / math.sqrt(80_000))


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"orifice": D, "bore": d}, RangeError, "narrower than the pipe: exchanged"),
        ({"orifice": Length(12, "mm")}, RangeError, "orifice: 12 mm; expected at least 12.5"),
        (
            {"orifice": Length(15, "mm"), "bore": Length(26, "mm")},
            RangeError,
            "bore: 26 mm; expected 50 to 1000 mm.*calibrate the meter",
        ),
        ({"orifice": Length(80, "mm")}, RangeError, "diameter ratio: 0.8; expected 0.1 to 0.75"),
        ({"orifice": Length(0, "mm")}, RangeError, "orifice 0 mm; expected above 0"),
        ({"orifice": Length([30, 40], "mm")}, ShapeError, "2 values of orifice"),
        ({"orifice": 60}, DimensionError, "orifice=.*got int 60"),
        ({"taps": "pipe"}, StatementError, "taps='pipe'; expected 'corner'"),
        ({"coefficient": 0.61}, DimensionError, "coefficient=.*got float"),
        ({"coefficient": Ratio(61, "1")}, RangeError, "coefficient 61; expected about 0.6"),
        ({"coefficient": Ratio([0.6, 0.61], "1")}, ShapeError, "2 coefficients"),
        ({"label": " "}, RangeError, "label"),
    ],
)
def test_plates_that_do_not_fit_are_refused(options, error, match) -> None:
    with pytest.raises(error, match=match):
        plate(**options)


# Reynolds number from 5000, above beta = 0.56 from 16 000 beta^2, with flange taps from
# 170 beta^2 D/mm [ISO 5167-2, 5.3.1], from memory [M]: here 5760, and 170 * 0.36 * 100 = 6120.
@pytest.mark.parametrize(
    ("taps", "lowest"), [("corner", 5760), ("D and D/2", 5760), ("flange", 6120)]
)
def test_too_slow_a_flow_is_refused(taps, lowest) -> None:
    meter = plate(taps)
    # Re goes nearly as the root of the drop; 7.6 Pa give about Re 5900
    drop = Pressure(2.65, "Pa")
    re = plate(taps, coefficient=Ratio(0.62, "1")).reynolds_number(drop, **WATER)
    assert re.value < lowest
    with pytest.raises(RangeError, match=f"at reading 1: .*expected at least {lowest}"):
        meter.flow(Pressure([1000.0, 2.65], "Pa"), **WATER)
