"""The smallest useful flow: a closed form, and the target met there and missed below.

With errors of the columns only, U(f)/f = k u_d sin(theta)/h, and h is in proportion to the flow
[White 2003, ch. 6: Hagen-Poiseuille], so Q = pi (rho - rho_air) g D^4 k u_d sin(theta) /
(128 mu L target). u_d is the half-width of one column reading, see test_plan_inclination.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from iapws._iapws import _Liquid

from flowunc import (
    Acceleration,
    Angle,
    Bench,
    Density,
    InclinedManometer,
    Length,
    RangeError,
    Ratio,
    Scale,
    Thermometer,
    VariableAreaMeter,
    VolumeFlowRate,
    limits,
    load_bench,
    percent_of_reading,
)
from flowunc.bench.planning.inclination import best_inclination
from flowunc.bench.planning.plan import plan
from flowunc.bench.planning.smallest_flow import smallest_flow

BORE, TAPS, GRAVITY, AIR = 12e-3, 2.5, 9.81, 1.2


@pytest.fixture
def columns_only() -> Bench:
    return Bench(
        bore=Length(BORE, "m", limits(0)),
        tap_spacing=Length(TAPS, "m", limits(0)),
        meters={"tube": VariableAreaMeter(Scale(1e-6, "L/min", span=(0.05, 2)), limits(0))},
        thermometer=Thermometer(Scale(1e-6, "degC"), limits(0)),
        manometer=InclinedManometer(Scale(1, "mm", span=(0, 600)), Angle(90, "deg")),
        angle_accuracy=limits(0),
        gravity=Acceleration(GRAVITY, "m/s^2", limits(0)),
        air_density=Density(AIR, "kg/m^3", limits(0)),
    )


@pytest.mark.parametrize(("angle", "target"), [(10.0, 0.05), (30.0, 0.2), (90.0, 0.9)])
def test_closed_form(columns_only: Bench, angle: float, target: float) -> None:
    found = smallest_flow(columns_only, target, inclination=angle, k=2)
    liquid = _Liquid(293.15, 0.1)
    error = 2 * 0.5e-3 * math.sin(math.radians(angle))
    weight = (liquid["rho"] - AIR) * GRAVITY
    expected = math.pi * weight * BORE**4 * error / (128 * liquid["mu"] * TAPS * target)
    assert found.found
    assert found.flow.si.value == pytest.approx(expected, rel=1e-5)
    assert found.expanded == pytest.approx(target, rel=1e-6)
    assert found.expanded <= target
    assert found.always_above


@pytest.mark.parametrize("target", [Ratio(30, "%"), Ratio(15, "%"), 0.07])
def test_met_there_and_missed_just_below(bench: Bench, target: Any) -> None:
    found = smallest_flow(bench, target)
    assert found.found
    assert found.expanded <= found.target
    there = best_inclination(bench, found.flow)
    assert there.expanded <= found.target * (1 + 1e-6)
    below = best_inclination(bench, found.flow * Ratio(1 - 1e-4, "1"))
    assert below.expanded > found.target


def test_at_one_setting_the_plan_agrees(bench: Bench) -> None:
    found = smallest_flow(bench, 0.2, inclination=Angle(15, "deg"), meters="small")
    step = Ratio([1 - 1e-4, 1.0, 1 + 1e-4], "1")
    flows = VolumeFlowRate(np.full(3, found.flow.si.value), "m^3/s") * step
    table = plan(bench, flows=flows, inclinations=15, meters="small").table()
    met = (table["U(f)/f"] <= 0.2).tolist()
    assert (met[0], met[2]) == (False, True)
    assert found.inclination.to("deg").value == pytest.approx(15)


def test_smaller_targets_need_larger_flows(bench: Bench) -> None:
    flows = [
        smallest_flow(bench, target, inclination=20).flow.si.value for target in (0.4, 0.3, 0.2)
    ]
    assert flows == sorted(flows)


def test_met_from_the_lowest_reading_on(columns_only: Bench) -> None:
    found = smallest_flow(columns_only, 0.99, inclination=1)
    assert found.flow.to("L/min").value == pytest.approx(0.05)
    assert found.expanded < 0.99


def test_none_does(bench: Bench) -> None:
    found = smallest_flow(bench, Ratio(0.1, "%"))
    assert not found.found
    assert not found.always_above
    assert found.sentence.startswith("No flow that can be read gives U(f)/f of 0.1 % or less")
    # the closest approach is no worse than what any cell of a plan gives
    flows = VolumeFlowRate(np.geomspace(0.01e-3, 0.4e-3, 25), "m^3/s")
    assert found.expanded <= plan(bench, flows=flows).table()["U(f)/f"].min() * (1 + 1e-9)


def test_a_worse_meter_at_larger_flows_is_told(bench: Bench) -> None:
    meters = {
        "good": VariableAreaMeter(Scale(0.01, "L/min", span=(0.4, 4)), percent_of_reading(0.5)),
        "bad": VariableAreaMeter(Scale(0.1, "L/min", span=(3, 30)), percent_of_reading(20)),
    }
    found = smallest_flow(replace(bench, meters=meters), 0.1)
    assert found.meter == "good"
    assert not found.always_above
    assert found.sentence.endswith("not all larger flows do.")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"target": 5}, r"did you mean Ratio\(5, '%'\)"),
        ({"target": 0}, "between 0 and 1"),
        ({"target": -0.1}, "between 0 and 1"),
        ({"target": "5 %"}, "expected a Ratio such as 5 %"),
        ({"target": 0.1, "inclination": [10, 20]}, "got 2 settings; expected one"),
        ({"target": 0.1, "inclination": 0}, "above 0 and up to 90 deg"),
        ({"target": 0.1, "meters": "larg"}, "did you mean 'large'"),
        ({"target": 0.1, "meters": "large", "inclination": 0.01}, "exceeds the board's"),
    ],
)
def test_mistakes(bench: Bench, options: dict[str, Any], words: str) -> None:
    with pytest.raises(RangeError, match=words):
        smallest_flow(bench, options.pop("target"), **options)


@pytest.mark.parametrize(("name", "meter"), [("u_tube", "small"), ("transmitter", "oil")])
def test_where_nothing_is_inclined(name: str, meter: str) -> None:
    bench = load_bench(Path(__file__).parents[1] / "data" / f"{name}.toml")
    found = smallest_flow(bench, 0.1)
    assert found.meter == meter
    assert "deg" not in found.sentence
    step = np.array([1 - 1e-4, 1 + 1e-4])
    flows = VolumeFlowRate(np.full(2, found.flow.si.value), "m^3/s") * Ratio(step, "1")
    table = plan(bench, flows=flows, meters=meter).table()
    assert (table["U(f)/f"] <= 0.1).tolist() == [False, True]


def test_nothing_can_be_read_and_nothing_is_inclined() -> None:
    bench = load_bench(Path(__file__).parents[1] / "data" / "u_tube.toml")
    narrow = replace(bench, bore=Length(2.5, "mm"), roughness=None, turbulent_law="")
    with pytest.raises(RangeError, match=r"no flow can be read: .*both instruments reach far") as e:
        smallest_flow(narrow, 0.1)
    assert "inclination" not in str(e.value)
