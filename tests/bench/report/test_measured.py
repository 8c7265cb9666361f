"""What was taken because nothing is stated, for every kind of manometer."""

from __future__ import annotations

from pathlib import Path

import pytest

from flowunc import analyse, load_bench, read_sheet
from flowunc.bench.report.asked import Asked
from flowunc.bench.report.content import Listing
from flowunc.bench.report.measured import bench_section

BENCH = """
[pipe]
bore = {{ value = "19.2 mm", limits = 0.06 }}
tap_spacing = {{ value = "2.350 m", limits = 1.5 }}
[meters.small]
unit = "L/min"
division = 0.1
span = [0.4, 4.0]
accuracy = {{ percent_of_full_scale = 1.5 }}
[thermometer]
unit = "degC"
division = 0.5
accuracy = {{ limits = 0.3 }}
[manometer]
{manometer}
{more}
"""
INCLINED = 'unit = "mm"\ndivision = 1\nangle_accuracy = { limits = 0.3 }'
UPRIGHT = 'unit = "mm"\ndivision = 1\ntype = "inverted_u_tube"'
MERCURY = 'unit = "mm"\ndivision = 1\ntype = "u_tube"\ngauge_density = "mercury"'
WELL = 'unit = "mm"\ndivision = 1\ntype = "well"\narea_ratio = 0.02'
CELL = 'unit = "Pa"\ndivision = 1\ntype = "transmitter"\naccuracy = { limits = 3 }'
ABOVE = 'gauge_density = { value = "1590 kg/m^3", limits = 3 }'
GRAVITY = '[gravity]\nvalue = "9.81 m/s^2"\nlimits = 0.001'
AIR = 'air_density = { value = "1.19 kg/m^3", limits = 0.03 }'
TWO, ONE = "high [mm],low [mm];300,300;320,300", "reading [mm];10;30"


@pytest.mark.parametrize(
    ("manometer", "more", "readings", "gravity", "air"),
    [
        (INCLINED, "", "angle [deg],high [mm],low [mm];10,300,300;10,350,300", True, True),
        (INCLINED, AIR, "angle [deg],high [mm],low [mm];10,300,300;10,350,300", True, False),
        (INCLINED, GRAVITY, "angle [deg],high [mm],low [mm];10,300,300;10,350,300", False, True),
        (UPRIGHT, "", TWO, True, True),
        (UPRIGHT, 'top_density = { value = "1.2 kg/m^3", limits = 0.1 }', TWO, True, False),
        (UPRIGHT, GRAVITY, TWO, False, True),
        (MERCURY, "", TWO.replace("320", "301"), True, False),
        (WELL, "", ONE, True, True),
        (WELL, ABOVE, ONE, True, False),
        (CELL, "", "reading [Pa];10;60", False, False),
    ],
)
def test_what_nobody_stated_is_told(
    manometer: str,
    more: str,
    readings: str,
    gravity: bool,
    air: bool,
    tmp_path: Path,
) -> None:
    head, zero, run = readings.split(";")
    (tmp_path / "bench.toml").write_text(
        BENCH.format(manometer=manometer, more=more), encoding="utf-8"
    )
    rows = (
        f"run,meter,flow,temperature [degC],{head},note",
        f"zero,,,20,{zero},",
        f"a,small,2,20,{run},",
        f"zero,,,20,{zero},",
    )
    (tmp_path / "sheet.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    bench = load_bench(tmp_path / "bench.toml")
    runs = analyse(read_sheet(tmp_path / "sheet.csv", bench), bench)
    section = bench_section(Asked(runs=runs, level=0.95, trials=2000, seed=0))
    told = " ".join(
        item for block in section.blocks if isinstance(block, Listing) for item in block.items
    )
    # by the record itself: what stands behind the pressure drop of the run
    keys = {component.key for component in runs.pressure_drop.components}
    assert ("flowunc.instruments.gravity" in keys, "flowunc.instruments.air_density" in keys) == (
        gravity,
        air,
    )
    assert ("Gravity is not stated: 9.81 ± 0.03" in told) is gravity
    assert ("The density of the air is not stated: 1.20 ± 0.10" in told) is air
