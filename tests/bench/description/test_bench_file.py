from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, BenchError, gravity, load_bench
from flowunc.bench.command import EXAMPLE
from flowunc.core.kinds import Angle, Length

Write = Callable[..., Path]


def test_what_is_in_the_file_is_in_the_bench(bench: Bench) -> None:
    assert bench.bore.value == 19.2
    assert bench.bore.unit == "mm"
    # limits 0.06 mm: u = 0.06/sqrt(3) [JCGM 100, 4.3.7]
    assert bench.bore.u == pytest.approx(0.06 / 3**0.5, rel=1e-14)
    assert list(bench.meters) == ["small", "large"]
    assert bench.meters["large"].label == "large meter"
    assert bench.meters["large"].scale.span == (0.04, 0.40)
    assert bench.thermometer.scale.division == 0.5
    assert bench.gravity is not None
    assert bench.gravity.u == pytest.approx(0.001 / 3**0.5, rel=1e-14)
    assert (bench.water, bench.turbulent_law) == ("tap", "prandtl_smooth")
    assert (bench.laminar_below, bench.turbulent_above) == (2300, 4000)


def test_the_example_uses_every_section() -> None:
    text = (EXAMPLE / "bench.toml").read_text(encoding="utf-8")
    assert "invented" in text.splitlines()[0]
    for section in (
        "pipe",
        "meters.small",
        "thermometer",
        "manometer",
        "gravity",
        "liquid",
        "laws",
    ):
        assert f"[{section}]" in text
    load_bench(EXAMPLE / "bench.toml")


def test_gravity_from_the_place(write_bench: Write) -> None:
    place = 'latitude = "47 deg"\nheight = "300 m"'
    bench = load_bench(write_bench(('value = "9.807 m/s^2"\nlimits = 0.001', place)))
    assert bench.gravity is not None
    expected = gravity(Angle(47, "deg"), Length(300, "m"))
    assert bench.gravity.value == pytest.approx(expected.value, rel=1e-14)


def test_optional_parts(write_bench: Write) -> None:
    path = write_bench(
        ("limits = 0.06 }", 'limits = 0.06 }\nroughness = { value = "5 um", limits = 3 }'),
        ("division = 0.5\n", 'division = 0.1\nkind = "digital"\nspan = [0, 60]\n'),
        ("k = 2 }\n", 'k = 2 }\ncorrection = { value = "-0.3 K", limits = 0.1 }\n'),
        (
            "linearity_limit = 40 }",
            'linearity_limit = 40 }\ncalibration_density = "998.2 kg/m^3"\n'
            'float_density = { value = "7.9 g/cm^3", limits = 0.1 }',
        ),
        more='[liquid]\nname = "water"\nwater = "pure"\n'
        '[laws]\nturbulent = "haaland"\nlaminar_below = 2100\nturbulent_above = 4200\n',
    )
    bench = load_bench(path)
    assert bench.water == "pure"
    assert bench.turbulent_law == "haaland"
    assert (bench.laminar_below, bench.turbulent_above) == (2100, 4200)
    assert bench.thermometer.read(20.0).value == pytest.approx(19.7, abs=1e-9)
    assert bench.thermometer.scale.kind == "digital"
    assert bench.roughness is not None
    assert bench.roughness.value == 5.0


REFUSED = {
    "unknown section": ([("[pipe]", "[tube]")], "key 'tube': unknown section; expected pipe, met"),
    "no section": ([("[thermometer]", "[x]")], "key 'x': unknown section"),
    "misspelt": ([("tap_spacing", "tap_spacings")], "key 'pipe.tap_spacings': unknown key; did y"),
    "missing": ([("division = 1\n", "")], "key 'manometer.division': missing; expected the dist"),
    "no unit": ([('"19.2 mm"', '"19.2"')], "key 'pipe.bore.value': got the text '19.2' has no u"),
    "wrong unit": ([('"19.2 mm"', '"19.2 s"')], "key 'pipe.bore': Length in 's': expected a unit"),
    "bore too large": ([('"19.2 mm"', '"19.2 m"')], "key 'pipe.bore': 19.2 m is not smaller than"),
    "division as text": ([("division = 0.5", 'division = "0.5"')], "key 'thermometer.division': g"),
    "division 0": ([("division = 0.5", "division = 0")], "key 'thermometer': Scale in 'degC': div"),
    "span of one": ([("[0, 620]", "[620]")], "key 'manometer.span': got a list of 1; expected sp"),
    "span turned": ([("[0, 620]", "[620, 0]")], "key 'manometer': Scale in 'mm': span (620, 0)"),
    "span of words": ([("[0, 620]", '["a", 2]')], "key 'manometer.span': got the text 'a'; expect"),
    "no span": ([("span = [0.4, 4.0]\n", "")], "key 'meters.small.span': missing; expected span"),
    "kind": (
        [("division = 0.5", 'division = 0.5\nkind = "digtal"')],
        "key 'thermometer.kind': got the text 'digtal'; did you mean 'digital'? expected graduated",
    ),
    "read_to": ([("division = 0.5", "division = 0.5\nread_to = 2")], "key 'thermometer': Scale in"),
    "unit of another kind": ([('"degC"', '"mm"')], "key 'thermometer': thermometer: scale in 'mm'"),
    "unknown unit": ([('"degC"', '"degX"')], "key 'thermometer.unit': unit 'degX'"),
    "percentage of degC": (
        [("{ expanded = 0.24, k = 2 }", "{ percent_of_reading = 1 }")],
        "key 'thermometer.accuracy': 1 % (percent of reading) on thermometer in 'degC'",
    ),
    "bare percentage": (
        [("{ percent_of_full_scale = 1.5 }", '"1.5 %"')],
        "key 'meters.large.accuracy': got the text '1.5 %', a percentage of what?",
    ),
    "no accuracy": (
        [("accuracy = { percent_of_full_scale = 1.5 }\n", "")],
        "key 'meters.large.accuracy': missing; expected what is stated of the meter",
    ),
    "angle accuracy": (
        [("angle_accuracy = { limits = 0.3 }\n", "")],
        "key 'manometer.angle_accuracy': missing; expected what is stated of the inclination",
    ),
    "full scale of an angle": (
        [("angle_accuracy = { limits = 0.3 }", "angle_accuracy = { percent_of_full_scale = 1 }")],
        "key 'manometer.angle_accuracy': 1 % (percent of full scale) on manometer angle",
    ),
    "meters as a list": ([("[meters.small]", "[[meters]]")], "key 'meters': got a list of"),
    "gravity twice": (
        [("limits = 0.001", 'limits = 0.001\nlatitude = "50 deg"')],
        "key 'gravity.latitude': value and latitude together; expected either",
    ),
    "gravity of nothing": (
        [('value = "9.807 m/s^2"\nlimits = 0.001', "")],
        "key 'gravity.latitude': missing; expected value",
    ),
    "latitude": (
        [('value = "9.807 m/s^2"\nlimits = 0.001', 'latitude = "95 deg"')],
        "key 'gravity': gravity(latitude=...): 95 deg; expected -90 to 90 deg",
    ),
    "one density": (
        [("linearity_limit = 40 }", 'linearity_limit = 40 }\nfloat_density = "7 g/cm^3"')],
        "key 'meters.small.calibration_density': missing; expected both float_density and",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals(case: str, write_bench: Write) -> None:
    replacements, expected = REFUSED[case]
    path = write_bench(*replacements)
    with pytest.raises(BenchError) as caught:
        load_bench(path)
    assert str(caught.value).startswith(f"{path}, {expected}")


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        (
            '[laws]\nturbulent = "prandtl"\n',
            "key 'laws.turbulent': got the text 'prandtl'; did you",
        ),
        ("[laws]\nlaminar_below = 9000\n", "key 'laws': laminar_below=9000 and turbulent_above=40"),
        ('[liquid]\nname = "oil"\n', "key 'liquid.name': got the text 'oil'; expected water"),
        ('[liquid]\nwater = "sea"\n', "key 'liquid.water': got the text 'sea'; expected tap or pu"),
        (
            "[laws]\nturbulent = 3\n",
            "key 'laws.turbulent': got 3; expected blasius, prandtl_smooth",
        ),
    ],
)
def test_refusals_of_further_sections(more: str, expected: str, write_bench: Write) -> None:
    path = write_bench(more=more)
    with pytest.raises(BenchError) as caught:
        load_bench(path)
    assert str(caught.value).startswith(f"{path}, {expected}")


def test_empty_file_names_the_first_missing_section(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_text("", encoding="utf-8")
    with pytest.raises(BenchError, match="key 'pipe': section is missing"):
        load_bench(path)
