"""Predicted readings against Darcy-Weisbach written out by hand.

Density and viscosity come from the `iapws` package, friction factors from `fluids`; the numbers
of the bench are those of its file, data/two_meters.toml.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import fluids.friction
import numpy as np
import pytest
from iapws._iapws import _Liquid

from flowunc import (
    Angle,
    Bench,
    CorrectionTable,
    Density,
    InclinedManometer,
    Quantity,
    Scale,
    Temperature,
    Thermometer,
    UTubeManometer,
    VariableAreaMeter,
    limits,
    load_bench,
    percent_of_reading,
)
from flowunc.bench.planning.readings import PlannedReadings, predict

BORE, TAPS, GRAVITY, AIR = 19.2e-3, 2.350, 9.807, 1.19
LITRE_A_MINUTE = 1e-3 / 60


def one(
    bench: Bench, flow: float, meter: str = "small", angle: float = 30.0, celsius: float = 20.0
) -> PlannedReadings:
    return predict(
        bench,
        [meter],
        np.array([flow]),
        Temperature(celsius, "degC"),
        np.array([angle]),
        np.array([1]),
    )


# Reynolds numbers of some 1500, 2950 and 11500 at 20 degC
@pytest.mark.parametrize(
    ("litres", "meter", "regime", "law"),
    [
        (1.4, "small", "laminar", "laminar"),
        (2.7, "large", "transitional", "prandtl_smooth"),
        (10.4, "large", "turbulent", "prandtl_smooth"),
    ],
)
@pytest.mark.parametrize(("angle", "celsius"), [(30.0, 20.0), (62.5, 14.0)])
def test_against_darcy_weisbach_by_hand(
    bench: Bench, litres: float, meter: str, regime: str, law: str, angle: float, celsius: float
) -> None:
    found = one(bench, litres * LITRE_A_MINUTE, meter, angle, celsius)
    liquid = _Liquid(celsius + 273.15, 0.1)
    velocity = litres * LITRE_A_MINUTE / (math.pi / 4 * BORE**2)
    reynolds = liquid["rho"] * velocity * BORE / liquid["mu"]
    friction = 64 / reynolds if law == "laminar" else _smooth(reynolds)
    drop = friction * TAPS / BORE * liquid["rho"] * velocity**2 / 2
    deflection = drop / ((liquid["rho"] - AIR) * GRAVITY * math.sin(math.radians(angle)))
    assert found.reynolds[0] == pytest.approx(reynolds, rel=1e-6)
    assert (found.regime[0], found.law[0]) == (regime, law)
    assert found.friction[0] == pytest.approx(friction, rel=1e-6)
    assert found.deflection[0] == pytest.approx(1e3 * deflection, rel=1e-6)
    # about the middle of 0 to 620 mm
    assert found.high[0] == pytest.approx(310 + 500 * deflection, rel=1e-6)
    assert found.low[0] == pytest.approx(310 - 500 * deflection, rel=1e-6)


def _smooth(reynolds: float) -> float:
    """1/sqrt f = 2 log10(Re sqrt f) - 0.8 [Prandtl 1933], solved by bisection."""
    low, high = 0.004, 0.1
    while high - low > 1e-15:
        middle = (low + high) / 2
        excess = 1 / math.sqrt(middle) - 2 * math.log10(reynolds * math.sqrt(middle)) + 0.8
        low, high = (middle, high) if excess > 0 else (low, middle)
    return low


def test_the_smooth_law_by_bisection_is_near_another_form_of_it() -> None:
    # Colebrook's smooth limit has 2.51 where 0.8 stands for 2.512 [White 2003, ch. 6]
    assert _smooth(20_000) == pytest.approx(fluids.friction.Colebrook(20_000, 0.0), rel=1e-3)


def test_what_no_law_holds_for_is_said(bench: Bench) -> None:
    found = one(bench, 2.7 * LITRE_A_MINUTE)
    assert found.readable[0]
    assert "transitional, no law holds" in found.note[0]
    assert "prandtl_smooth" in found.note[0]


def test_thresholds_are_those_of_the_bench(write_bench: Callable[..., Path]) -> None:
    path = write_bench(more="\n[laws]\nlaminar_below = 3100\nturbulent_above = 3200\n")
    found = one(load_bench(path), 2.7 * LITRE_A_MINUTE)
    assert found.regime == ("laminar",)
    assert found.note == ("laminar beyond its range",)  # 64/Re is listed up to 2300


def test_off_the_meter_and_off_the_board(bench: Bench) -> None:
    found = predict(
        bench,
        ["small", "small", "large", "large"],
        np.array([0.3, 4.1, 24.0, 6.0]) * LITRE_A_MINUTE,
        Temperature(20, "degC"),
        np.array([10.0, 10.0, 5.0, 30.0]),
        np.ones(4, dtype=np.intp),
    )
    assert found.flow_readable.tolist() == [False, False, True, True]
    assert found.readable.tolist() == [False, False, False, True]
    assert np.isnan(found.high).tolist() == [True, True, True, False]
    assert "0.3 L/min is off the scale of small, 0.4 to 4 L/min" in found.note[0]
    assert "exceeds the board's 620 mm" in found.note[2]
    assert np.isfinite(found.deflection).all()


def test_the_ends_of_a_scale_can_be_read(bench: Bench) -> None:
    ends = np.array([0.04e-3, 0.40e-3])  # L/s in m^3/s, not exact in binary
    found = [one(bench, float(flow), "large", 90.0) for flow in ends]
    assert [reading.flow_readable[0] for reading in found] == [True, True]
    assert [reading.flow_reading[0] for reading in found] == pytest.approx([0.04, 0.40])


def test_corrections_are_taken_off_again(bench: Bench) -> None:
    """A thermometer that reads 0.3 K too high, and a meter made for a lighter liquid."""
    meter = VariableAreaMeter(
        Scale(0.1, "L/min", span=(0.4, 4.0)),
        percent_of_reading(2),
        calibration_density=Density(800, "kg/m^3"),
        float_density=Density(7900, "kg/m^3"),
    )
    thermometer = Thermometer(
        Scale(0.5, "degC"), limits(0.3), correction=Quantity(-0.3, "K", limits(0.1))
    )
    changed = replace(bench, meters={"oil": meter}, thermometer=thermometer)
    found = one(changed, 2.0 * LITRE_A_MINUTE, "oil")
    assert found.temperature_reading[0] == pytest.approx(20.3)
    # q = q_scale sqrt((rho_f - rho) rho_cal / ((rho_f - rho_cal) rho)) [VDI/VDE 3513-1]
    rho = _Liquid(293.15, 0.1)["rho"]
    factor = math.sqrt((7900 - rho) * 800 / ((7900 - 800) * rho))
    assert found.flow_reading[0] == pytest.approx(2.0 / factor, rel=1e-6)


def test_a_board_without_span_fits_any_deflection(bench: Bench) -> None:
    endless = InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg"))
    found = one(replace(bench, manometer=endless), 0.4e-3, "large", 5.0)
    assert found.readable[0]
    assert found.high[0] == -found.low[0] == found.deflection[0] / 2


def test_corrections_that_vary_are_taken_off_again(bench: Bench) -> None:
    """A certificate that lists -0.10 K at 10 degC and +0.30 K at 30 degC."""
    table = CorrectionTable(
        points=Temperature([10, 30], "degC"), corrections=Quantity([-0.10, 0.30], "K")
    )
    constant = Quantity(0.2, "K")
    thermometer = Thermometer(Scale(0.5, "degC"), limits(0.3), correction=(table, constant))
    found = one(replace(bench, thermometer=thermometer), 1.4 * LITRE_A_MINUTE)
    # t + 0.2 - 0.10 + 0.02 (t - 10) = 20
    assert found.temperature_reading[0] == pytest.approx((20 - 0.1 + 0.2) / 1.02, abs=1e-9)


def test_an_upright_manometer_stands_upright_whatever_is_asked(bench: Bench) -> None:
    upright = replace(
        bench,
        manometer=UTubeManometer(Scale(1, "mm", span=(0, 620)), Density(1590, "kg/m^3")),
        angle_accuracy=None,
        air_density=None,
    )
    flow = 10.4 * LITRE_A_MINUTE
    found = one(upright, flow, "large", angle=30)
    assert (found.inclination[0], found.note[0]) == (90.0, "")
    rho = _Liquid(293.15, 0.1)["rho"]
    ratio = (rho - AIR) / (1590 - rho)
    board = one(bench, flow, "large", angle=90).deflection[0]
    assert found.readable[0]
    assert found.deflection[0] == pytest.approx(board * ratio, rel=1e-6)
    gauge = UTubeManometer(Scale(1, "mm", span=(0, 40)), Density(1590, "kg/m^3"))
    short = one(replace(upright, manometer=gauge), flow, "large")
    assert not short.readable[0]
    assert short.note[0] == f"deflection of {found.deflection[0]:.4g} mm exceeds the scale's 40 mm"
