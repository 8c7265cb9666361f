"""`Bench` made in Python: what it refuses, and what it keeps."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest

from flowunc import (
    Acceleration,
    Angle,
    Bench,
    BenchError,
    Density,
    DimensionError,
    InclinedManometer,
    Length,
    Mass,
    Scale,
    Thermometer,
    VariableAreaMeter,
    limits,
    percent_of_reading,
)


def parts(**changes: Any) -> dict[str, Any]:
    meter = VariableAreaMeter(Scale(0.2, "L/min", span=(1, 10)), percent_of_reading(3), "tube")
    return {
        "bore": Length(20.1, "mm", limits(0.1)),
        "tap_spacing": Length(1.8, "m", limits(2, "mm")),
        "meters": {"tube": meter},
        "thermometer": Thermometer(Scale(0.5, "degC"), limits(0.3)),
        "manometer": InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg")),
        "angle_accuracy": limits(0.3),
        **changes,
    }


def test_lengths_without_a_name_get_their_role() -> None:
    bench = Bench(**parts())
    assert (bench.bore.label, bench.tap_spacing.label) == ("bore", "tap spacing")


def test_one_setting_has_one_angle_error_and_two_have_two() -> None:
    bench = Bench(**parts())
    there, again, other = bench.angle(10.0), bench.angle(10), bench.angle(30)
    assert (there - again).u == 0.0
    # two independent rectangular errors of half-width 0.3 deg: 0.3 sqrt(2/3) deg
    assert np.degrees((other - there).u) == pytest.approx(0.3 * np.sqrt(2 / 3), rel=1e-12)
    assert [c.label for c in there.components] == ["manometer angle, 10 deg"]


def test_pickled_bench_is_the_same_bench() -> None:
    bench = Bench(**parts())
    angle = bench.angle(10)
    copy = pickle.loads(pickle.dumps(bench))
    assert (copy.angle(10) - angle).u == 0.0
    assert (copy.bore - bench.bore).u == 0.0
    assert copy.meters["tube"].calibration == bench.meters["tube"].calibration


def test_roughness_chooses_the_law() -> None:
    rough = Bench(**parts(roughness=Length(0.02, "mm", limits(0.01))))
    assert rough.turbulent_law == "colebrook_white"
    assert rough.relative_roughness is not None
    assert rough.relative_roughness.value == pytest.approx(0.02 / 20.1, rel=1e-12)
    smooth = Bench(**parts())
    assert (smooth.turbulent_law, smooth.relative_roughness) == ("prandtl_smooth", None)


REFUSED = {
    "exchanged lengths": (
        {"bore": Length(1.8, "m"), "tap_spacing": Length(20.1, "mm")},
        "key 'pipe.bore': 1.8 m is not smaller than the tap spacing of 20.1 mm; are the two",
    ),
    "bore of nothing": ({"bore": Length(0, "mm")}, "key 'pipe.bore': 0 mm; expected a value ab"),
    "two bores": ({"bore": Length([1, 2], "mm")}, "key 'pipe.bore': got 2 values; expected one"),
    "no meters": ({"meters": {}}, "key 'meters': no meter; expected one or more by name"),
    "a meter, not a mapping": ({"meters": 3}, "key 'meters': no meter"),
    "not a meter": ({"meters": {"a": 3}}, "key 'meters.a': got int; expected VariableAreaMeter"),
    "meter called zero": (
        {"meters": {"Zero": parts()["meters"]["tube"]}},
        "key 'meters.Zero': a sheet uses 'zero' for balance checks",
    ),
    "nameless meter": ({"meters": {" ": 1}}, "key 'meters': name ' '; expected a word"),
    "meter without span": (
        {"meters": {"a": VariableAreaMeter(Scale(1, "L/min"), percent_of_reading(3))}},
        "key 'meters.a.span': no span",
    ),
    "not a thermometer": ({"thermometer": 3}, "key 'thermometer': got int; expected Thermometer"),
    "not a manometer": ({"manometer": None}, "key 'manometer': got NoneType; expected Inclined"),
    "angle without a statement": (
        {"angle_accuracy": ()},
        "key 'manometer.angle_accuracy': nothing stated; limits(0) says that the angle is exact",
    ),
    "angle in mm": ({"angle_accuracy": limits(1, "mm")}, "key 'manometer.angle_accuracy': limits"),
    "no gravity": ({"gravity": Acceleration(0, "m/s^2")}, "key 'gravity': 0 m/s^2; expected"),
    "no air": (
        {"air_density": Density(-1, "kg/m^3")},
        "key 'manometer.air_density': -1 kg/m^3; expected a value above 0",
    ),
    "sea water": ({"water": "sea"}, "key 'liquid.water': got 'sea'; expected 'tap' or 'pure'"),
    "unknown law": ({"turbulent_law": "moody"}, "key 'laws.turbulent': got 'moody'; expected one"),
    "smooth law for a rough wall": (
        {"turbulent_law": "blasius", "roughness": Length(0.1, "mm")},
        "key 'laws.turbulent': blasius is for smooth walls and takes no roughness",
    ),
    "rough law without roughness": (
        {"turbulent_law": "haaland"},
        "key 'laws.turbulent': haaland takes the roughness of the wall; give pipe.roughness",
    ),
    "too rough": (
        {"roughness": Length(2, "mm")},
        "key 'pipe.roughness': 2 mm in a bore of 20.1 mm; expected one value with roughness over "
        "bore from 0 to 0.05",
    ),
    "thresholds exchanged": (
        {"laminar_below": 4000, "turbulent_above": 2300},
        "key 'laws': laminar_below=4000 and turbulent_above=2300: expected 0 < laminar_below",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_name_the_part(case: str) -> None:
    changes, expected = REFUSED[case]
    with pytest.raises(BenchError) as caught:
        Bench(**parts(**changes))
    assert str(caught.value).startswith(f"<bench>, {expected}")


def test_another_kind_is_a_dimension_error() -> None:
    with pytest.raises(DimensionError, match=r"Bench\(bore=...\): got Mass in 'g'"):
        Bench(**parts(bore=Mass(1, "g")))
