"""What the instruments show, against Darcy-Weisbach and the instruments' own laws by hand.

Density comes from the `iapws` package. The pressure drop is what the plan expects, itself held
against Darcy-Weisbach in test_readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from iapws._iapws import _Liquid

from flowunc import (
    Bench,
    BenchError,
    Density,
    Pressure,
    PressureTransmitter,
    Ratio,
    Scale,
    Temperature,
    VariableAreaMeter,
    VolumeFlowRate,
    limits,
    load_bench,
    percent_of_reading,
)
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.indications import (
    flow_readings,
    flows_shown,
    indicated,
    largest_deflection,
    zero_levels,
)

Write = Callable[..., Path]

RHO = float(_Liquid(293.15, 0.1)["rho"])
WATER = Density([RHO], "kg/m^3")
GRAVITY, AIR = 9.807, 1.19
INCLINED = (
    'angle_accuracy = { limits = 0.3 }\nair_density = { value = "1.19 kg/m^3", limits = 0.03 }'
)
WELL = (
    'type = "well"\narea_ratio = 0.02\nangle = { value = "30 deg", limits = 0.2 }\n'
    'air_density = { value = "1.19 kg/m^3", limits = 0.03 }'
)


def shown(bench: Bench, pascal: float) -> Any:
    return indicated(bench, np.array([pascal]), np.array([30.0]), WATER)


def with_cell(bench: Bench, line: dict[str, Any] | None = None, **scale: Any) -> Bench:
    cell = PressureTransmitter(Scale(0.01, "kPa", **scale), limits(0.01))
    if line is not None:
        cell = cell.calibrated(**line)
    return replace(bench, manometer=cell, angle_accuracy=None, air_density=None)


LINE = {"intercept": Pressure(0.04, "kPa"), "slope": Ratio(1.25, "1"), "span": (1.0, 9.0)}


# -- manometers ------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("span", "zero"),
    [("[0, 620]", 0.0), ("[-30, 620]", 0.0), ("[40, 620]", 40.0), ("[-620, 0]", -620.0)],
)
def test_a_well_is_read_from_its_zero_upwards(write_bench: Write, span: str, zero: float) -> None:
    bench = load_bench(write_bench((INCLINED, WELL), ("span = [0, 620]", f"span = {span}")))
    assert zero_levels(bench) == (zero, 0.0)
    # (reading - zero) (sin 30 deg + area ratio) (rho - rho_air) g
    rise = 1e3 * 1500 / ((0.5 + 0.02) * (RHO - AIR) * GRAVITY)
    found = shown(bench, 1500.0)
    assert found.deflection == pytest.approx([rise], rel=1e-9)
    assert found.high == pytest.approx([zero + rise], rel=1e-9)
    assert found.low.tolist() == [0.0]


def test_a_well_shows_what_its_scale_reaches(write_bench: Write) -> None:
    bench = load_bench(write_bench((INCLINED, WELL), ("span = [0, 620]", "span = [20, 620]")))
    assert largest_deflection(bench) == 600
    per_mm = 1e-3 * 0.52 * (RHO - AIR) * GRAVITY
    assert shown(bench, 600 * per_mm * (1 - 1e-9)).fits.tolist() == [True]
    beyond = shown(bench, 600 * per_mm * (1 + 1e-6))
    assert beyond.fits.tolist() == [False]
    assert np.isnan([beyond.high, beyond.low]).all()
    assert beyond.deflection == pytest.approx([600], rel=1e-5)


def test_a_transmitter_shows_the_pressure(bench: Bench) -> None:
    changed = with_cell(bench, span=(0, 10))
    assert zero_levels(changed) == (0.0, 0.0)
    found = shown(changed, 1500.0)
    assert (found.deflection, found.high) == (pytest.approx([1.5]), pytest.approx([1.5]))
    assert shown(changed, 10_001.0).fits.tolist() == [False]
    # what no span ends: pressures, and levels
    assert shown(with_cell(bench), 1e9).fits.tolist() == [True]
    assert largest_deflection(with_cell(bench)) == math.inf


def test_a_live_zero_is_no_reason_to_leave_the_scale(bench: Bench) -> None:
    """A span that begins above 0: the display shows 0 all the same, small pressures it does not."""
    changed = with_cell(bench, span=(1, 10))
    assert zero_levels(changed) == (0.0, 0.0)
    assert shown(changed, 1500.0).high == pytest.approx([1.5])
    assert shown(changed, 999.0).fits.tolist() == [False]


def test_a_calibrated_transmitter_shows_the_inverse_of_its_line(bench: Bench) -> None:
    changed = with_cell(bench, LINE, span=(0, 10))
    # 0.04 + 1.25 r = 0, 1.5 and 1.0, 12.0 kPa
    assert zero_levels(changed)[0] == pytest.approx(-0.04 / 1.25)
    found = shown(changed, 1500.0)
    assert found.high == pytest.approx([(1.5 - 0.04) / 1.25])
    assert found.deflection == pytest.approx([1.5 / 1.25])
    low, high = (0.04 + 1.25 * reading for reading in (1.0, 9.0))
    inside = [shown(changed, 1e3 * kilopascal).fits[0] for kilopascal in (low, high)]
    assert inside == [True, True]
    beyond = (low * (1 - 1e-6), high * (1 + 1e-6))
    assert [shown(changed, 1e3 * kilopascal).fits[0] for kilopascal in beyond] == [False, False]


def test_two_columns_stand_in_the_middle(bench: Bench) -> None:
    assert zero_levels(bench) == (310.0, 310.0)
    assert largest_deflection(bench) == 620


# -- meters ----------------------------------------------------------------------------------------
def lined(span: tuple[float, float], intercept: float = 0.1, **densities: Density) -> Any:
    meter = VariableAreaMeter(
        Scale(0.1, "L/min", span=(0.4, 4.0)), percent_of_reading(2), **densities
    )
    options = {"density": Density(800, "kg/m^3")} if densities else {}
    return meter.calibrated(
        intercept=VolumeFlowRate(intercept * 1e3, "mL/min"),
        slope=Ratio(110, "%"),
        span=span,
        **options,
    )


@pytest.mark.parametrize("corrected", [False, True])
def test_a_calibrated_meter_shows_the_inverse_of_its_line(bench: Bench, corrected: bool) -> None:
    densities = {"calibration_density": RHO, "float_density": 7900.0} if corrected else {}
    meter = lined((0.5, 3.5), **{name: Density(x, "kg/m^3") for name, x in densities.items()})
    changed = replace(bench, meters={"small": meter})
    # q = (a + b r) sqrt((rho_f - rho) rho_cal / ((rho_f - rho_cal) rho)), and the line was found
    # in a liquid of 800 kg/m^3 [VDI/VDE 3513-1]
    factor = math.sqrt((7900 - RHO) * 800 / ((7900 - 800) * RHO)) if corrected else 1.0
    litres = np.array([1.0, 2.0]) * factor
    flow = litres * 1e-3 / 60
    density = Density([RHO, RHO], "kg/m^3")
    readings, readable = flow_readings(changed, "small", flow, density)
    assert readings == pytest.approx((litres / factor - 0.1) / 1.1, rel=1e-12)
    assert readable.tolist() == [True, True]
    np.testing.assert_allclose(flows_shown(changed, "small", readings, density), flow, rtol=1e-12)
    # the calibration ends at readings of 0.5 and 3.5 L/min, the scale at 0.4 and 4 L/min
    edges = np.array([0.649, 0.651, 3.949, 3.951]) * factor * 1e-3 / 60
    density = Density(np.full(4, RHO), "kg/m^3")
    assert flow_readings(changed, "small", edges, density)[1].tolist() == [False, True, True, False]


def conditions(bench: Bench) -> Conditions:
    return Conditions.checked(bench, Temperature(20, "degC"), None, None, 2, "test")


def test_flows_of_a_calibrated_meter_end_with_its_calibration(bench: Bench) -> None:
    changed = replace(bench, meters={"small": lined((0.5, 3.5))})
    low, high = conditions(changed).flows_of("small")
    assert (low, high) == pytest.approx((0.65e-3 / 60, 3.95e-3 / 60), rel=1e-12)
    found = conditions(changed).readings("small", [low, high], 90.0)
    assert found.flow_readable.tolist() == [True, True]
    off = conditions(changed).readings("small", 0.6e-3 / 60, 90.0)
    assert off.note[0].startswith(
        "0.4545 L/min is outside the calibration of small, 0.5 to 3.5 L/min"
    )


def test_a_line_that_passes_through_no_flow(bench: Bench) -> None:
    # -1 L/min + 1.1 r is 0 at 0.91 L/min: flows from a thousandth of the largest are looked at
    changed = replace(bench, meters={"small": lined((0.5, 3.5), -1.0)})
    low, high = conditions(changed).flows_of("small")
    assert high == pytest.approx(2.85e-3 / 60, rel=1e-12)
    assert low == pytest.approx(2.85e-6 / 60, rel=1e-12)
    assert conditions(changed).readings("small", low, 90.0).flow_readable[0]
    nothing = replace(bench, meters={"small": lined((0.5, 3.5), -4.0)})
    with pytest.raises(BenchError, match=r"meters.small.calibration': .* no flow above 0 up to"):
        conditions(nothing).flows_of("small")
