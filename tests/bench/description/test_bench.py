"""`Bench` made in Python: what it refuses, and what it keeps."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from collections.abc import Callable
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
    InvertedUTubeManometer,
    Length,
    Mass,
    PressureTransmitter,
    Ratio,
    Scale,
    Temperature,
    Thermometer,
    UTubeManometer,
    VariableAreaMeter,
    WellManometer,
    analyse,
    limits,
    load_bench,
    percent_of_full_scale,
    percent_of_reading,
    read_sheet,
    standard,
)
from flowunc.bench import EXAMPLE
from flowunc.bench.description.flowing_liquid import Mixture


def parts(**changes: Any) -> dict[str, Any]:
    meter = VariableAreaMeter(
        Scale(0.2, "L/min", span=(1, 10)), percent_of_reading(3), label="tube"
    )
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


def changed(bench: Bench, **changes: Any) -> Bench:
    return dataclasses.replace(bench, **changes)


@pytest.mark.parametrize(
    "again",
    [
        lambda bench: pickle.loads(pickle.dumps(bench)),
        copy.copy,
        copy.deepcopy,
        lambda bench: changed(bench, turbulent_law="blasius", laminar_below=2100),
        lambda bench: changed(copy.deepcopy(bench), turbulent_law="blasius"),
    ],
    ids=["pickle", "copy", "deepcopy", "other law", "copy with other law"],
)
@pytest.mark.parametrize("accuracy", [limits(0.3), [limits(0.3), standard(0.1)]])
def test_angles_not_used_yet_are_the_same_in_what_is_made_from_a_bench(
    again: Callable[[Bench], Bench], accuracy: Any
) -> None:
    bench = Bench(**parts(angle_accuracy=accuracy))
    other = again(bench)
    for setting in (10, 30):
        assert bench.angle(setting).u > 0
        assert (other.angle(setting) - bench.angle(setting)).u == 0.0
        assert other.angle(setting).correlation(bench.angle(setting)) == pytest.approx(1)


def test_another_manometer_or_other_statements_have_angle_errors_of_their_own() -> None:
    bench = Bench(**parts())
    u = bench.angle(10).u
    for other in (
        Bench(**parts()),
        changed(bench, angle_accuracy=limits(0.3)),
        changed(bench, manometer=InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg"))),
    ):
        assert np.degrees((other.angle(10) - bench.angle(10)).u) == pytest.approx(u * np.sqrt(2))


def test_zero_has_no_sign_as_an_angle() -> None:
    bench = Bench(**parts())
    assert (bench.angle(-0.0) - bench.angle(0.0)).u == 0.0


def test_a_sheet_analysed_with_a_pickled_bench_has_the_same_angles() -> None:
    bench = load_bench(EXAMPLE / "bench.toml")
    sheet = read_sheet(EXAMPLE / "sheet.csv", bench)
    again = pickle.loads(pickle.dumps(bench))  # before any angle was used
    drop, same, other = (analyse(sheet, b).pressure_drop[-1] for b in (bench, bench, again))
    assert drop.correlation(same) > 0.5
    assert drop.correlation(other) == pytest.approx(drop.correlation(same), rel=1e-12)


def test_pickled_bench_is_the_same_bench() -> None:
    bench = Bench(**parts())
    angle = bench.angle(10)
    found = pickle.loads(pickle.dumps(bench))
    assert (found.angle(10) - angle).u == 0.0
    assert (found.bore - bench.bore).u == 0.0
    assert found.meters["tube"].calibration == bench.meters["tube"].calibration


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


UPRIGHT = UTubeManometer(Scale(1, "mm"), Density(1590, "kg/m^3"))
WELL = WellManometer(Scale(1, "mm"), Angle(30, "deg"), area_ratio=0.02)
CELL = PressureTransmitter(Scale(0.01, "kPa", span=(0, 10)), percent_of_full_scale(0.25))
WARM_CELL = PressureTransmitter(
    Scale(0.01, "kPa", span=(0, 10)),
    percent_of_full_scale(0.25),
    temperature_effect=percent_of_full_scale(0.02),
)
OF_KINDS = {
    "angle of a U-tube": (
        {"manometer": UPRIGHT},
        "key 'manometer.angle_accuracy': has no use for an upright U-tube, which is not inclined",
    ),
    "air above a U-tube": (
        {"manometer": UPRIGHT, "angle_accuracy": None, "air_density": Density(1.2, "kg/m^3")},
        "key 'manometer.air_density': has no use for an upright U-tube; leave it out",
    ),
    "gauge liquid of a U-tube": (
        {"manometer": UPRIGHT, "angle_accuracy": None, "gauge_density": Density(1590, "kg/m^3")},
        "key 'manometer.gauge_density': has no use for an upright U-tube; give it to the UTubeM",
    ),
    "air above an inverted U-tube": (
        {
            "manometer": InvertedUTubeManometer(Scale(1, "mm")),
            "angle_accuracy": None,
            "air_density": Density(1.2, "kg/m^3"),
        },
        "key 'manometer.air_density': has no use for an inverted U-tube; what stands above its",
    ),
    "inclined without an angle": (
        {"angle_accuracy": None},
        "key 'manometer.angle_accuracy': nothing stated; limits(0) says",
    ),
    "air above a gauge liquid": (
        {
            "manometer": WELL,
            "gauge_density": Density(1590, "kg/m^3"),
            "air_density": Density(1.2, "kg/m^3"),
        },
        "key 'manometer.air_density': the flowing liquid, no air, stands above a gauge liquid",
    ),
    "several angles": (
        {"manometer": WELL.at(Angle([30, 60], "deg")), "angle_accuracy": None},
        "key 'manometer.angle': 2 angles; expected one, or angle_accuracy for set ones",
    ),
    "several gauge liquids": (
        {"manometer": WELL, "gauge_density": Density([1590, 800], "kg/m^3")},
        "key 'manometer.gauge_density': got 2 values; expected one",
    ),
    "warm transmitter": (
        {"manometer": WARM_CELL, "angle_accuracy": None},
        "key 'manometer.temperature': missing; its temperature effect needs",
    ),
    "temperature without effect": (
        {
            "manometer": CELL,
            "angle_accuracy": None,
            "transmitter_temperature": Temperature(25, "degC"),
        },
        "key 'manometer.temperature': has no use without temperature_effect",
    ),
    "temperatures": (
        {
            "manometer": WARM_CELL,
            "angle_accuracy": None,
            "transmitter_temperature": Temperature([25, 26], "degC"),
        },
        "key 'manometer.temperature': got 2 values; expected one",
    ),
    "no liquid": ({"liquid": "oil"}, "key 'liquid': got str; expected something with density"),
    "two liquids": (
        {"liquid": Mixture("seawater", Ratio(35, "g/kg")), "water": "pure"},
        "key 'liquid.water': pure water and another liquid; expected either",
    ),
}


@pytest.mark.parametrize("case", OF_KINDS)
def test_what_does_not_go_with_the_manometer_or_the_liquid(case: str) -> None:
    changes, expected = OF_KINDS[case]
    with pytest.raises(BenchError) as caught:
        Bench(**parts(**changes))
    assert str(caught.value).startswith(f"<bench>, {expected}")


@pytest.mark.parametrize(
    ("changes", "word", "inclines", "angle"),
    [
        ({}, "inclined", True, 90),
        ({"manometer": UPRIGHT, "angle_accuracy": None}, "u_tube", False, 90),
        ({"manometer": WELL, "angle_accuracy": None}, "well", False, 30),
        ({"manometer": WELL}, "well", True, 30),
        ({"manometer": CELL, "angle_accuracy": None}, "transmitter", False, 90),
    ],
)
def test_kinds_of_manometer(
    changes: dict[str, Any], word: str, inclines: bool, angle: float
) -> None:
    bench = Bench(**parts(**changes))
    found = (bench.manometer_kind.word, bench.inclines, bench.fixed_angle)
    assert found == (word, inclines, angle)


def test_the_liquid_takes_the_place_of_water() -> None:
    warm = Temperature(20, "degC")
    tap, pure = Bench(**parts()), Bench(**parts(water="pure"))
    # salts in tap water: 0.05 % either way
    assert tap.density(warm).u == pytest.approx(998.2 * 5e-4 / np.sqrt(3), rel=1e-3)
    assert pure.density(warm).u < 0.01
    sea = Bench(**parts(liquid=Mixture("seawater", Ratio(35, "g/kg"))))
    # 1024.763 kg/m^3 at 20 degC and a practical salinity of 35 [UNESCO 44], from memory; 35 g/kg
    # are 34.84 of it, 0.12 kg/m^3 less
    assert sea.density(warm).value == pytest.approx(1024.763, rel=2e-4)
    assert sea.viscosity(warm).value > 1.05 * tap.viscosity(warm).value
    copy = pickle.loads(pickle.dumps(sea))
    assert (copy.density(warm) - sea.density(warm)).u == 0.0


def test_another_kind_is_a_dimension_error() -> None:
    with pytest.raises(DimensionError, match=r"Bench\(bore=...\): got Mass in 'g'"):
        Bench(**parts(bore=Mass(1, "g")))
