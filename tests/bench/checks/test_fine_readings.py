"""Readings between the steps of their scale, with line and column."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, analyse, load_bench, read_sheet
from flowunc.bench.checks.consistency import consistency
from flowunc.bench.checks.fine_readings import FineFinding, fine_findings
from flowunc.bench.command import EXAMPLE

Write = Callable[..., Path]
ZERO = "zero,,,19.0,10,300.0,300.0,"
HEADER = "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note"


def found(bench: Bench, path: Path) -> tuple[FineFinding, ...]:
    return fine_findings(read_sheet(path, bench), bench)


def test_place_of_a_finer_reading(bench: Bench, write_sheet: Write) -> None:
    # the scales of this bench: manometer 1 mm, small meter 0.1 L/min, thermometer 0.5 degC
    path = write_sheet(ZERO, "a,small,1.8,19.0,10,312.25,290,", ZERO)
    (one,) = found(bench, path)
    assert (one.column, one.lines, one.runs) == ("high", (3,), ("a",))
    assert (
        "Manometer, column high: 312.25 mm in line 3 is finer than its scale is read to, 1 mm"
        in (one.sentence)
    )
    assert "state read_to = 0.25" in one.sentence
    sheet = read_sheet(path, bench)
    (alarm,) = consistency(analyse(sheet, bench), trials=1000).alarms
    assert (alarm.check, alarm.verdict) == ("resolution", "finer than read")
    assert alarm.sentence == one.sentence


@pytest.mark.parametrize(
    ("row", "column", "shown"),
    [
        ("a,small,1.85,19.0,10,312,290,", "flow", "1.85 L/min"),
        ("a,small,1.8,19.2,10,312,290,", "temperature", "19.2 degC"),
        ("a,small,1.8,19.0,10,312,290.1,", "low", "290.1 mm"),
        ("a,large,0.1234,19.0,10,312,290,", "flow", "0.1234 L/s"),
    ],
)
def test_each_column(row: str, column: str, shown: str, bench: Bench, write_sheet: Write) -> None:
    (one,) = found(bench, write_sheet(ZERO, row, ZERO))
    assert (one.column, one.lines) == (column, (3,))
    assert f"column {column}: {shown} in line 3" in one.sentence


def test_several_are_one_finding(bench: Bench, write_sheet: Write) -> None:
    rows = [f"r{n},small,1.8,19.0,10,312.5,{290 + n}," for n in range(20)]
    (one,) = found(bench, write_sheet("zero,,,19.0,10,300.5,300,", *rows, ZERO))
    assert one.lines == tuple(range(2, 23))
    assert one.runs[:2] == ("zero", "r0")
    assert "300.5 mm in line 2 (as in lines 3, 4, 5, 6, 7, 8, 9, 10 and 12 more)" in one.sentence
    assert "state read_to = 0.5" in one.sentence


def test_rounding_of_numbers_is_none_of_that(write_bench: Write, write_sheet: Write) -> None:
    # 0.1 has no exact binary number: 0.3 is not 3 * 0.1 there
    bench = load_bench(
        write_bench(("division = 1\nspan = [0, 620]", "division = 0.1\nspan = [0, 620]"))
    )
    rows = [f"r{n},small,{n / 10},19.0,10,{300 + n / 10:.1f},290.3," for n in range(4, 41)]
    assert found(bench, write_sheet(ZERO, *rows, ZERO)) == ()


def test_a_power_of_ten_is_no_conversion_and_another_unit_is_one(
    bench: Bench, write_sheet: Write
) -> None:
    centimetres = HEADER.replace("high [mm],low [mm]", "high [cm],low [cm]")
    rows = ("zero,,,19.0,10,30.0,30.0,", "a,small,1.8,19.0,10,31.25,29.0,")
    (one,) = found(bench, write_sheet(*rows, rows[0], header=centimetres))
    assert "312.5 mm in line 3" in one.sentence
    litres = HEADER.replace("flow,", "flow [L/h],").replace("degC", "K")
    # 110 L/h on a scale in L/min, 292.2 K on one in degC: whatever was read, it was not that
    rows = ("zero,,,292.2,10,300,300,", "a,small,110,292.2,10,312,290,")
    assert found(bench, write_sheet(*rows, rows[0], header=litres)) == ()


def test_steps_may_be_counted_from_the_low_end_of_the_span(
    write_bench: Write, write_sheet: Write
) -> None:
    old = 'unit = "L/min"\ndivision = 0.1\nspan = [0.4, 4.0]'
    bench = load_bench(write_bench((old, 'unit = "L/min"\ndivision = 0.2\nspan = [0.5, 4.1]')))
    rows = ["a,small,1.7,19.0,10,312,290,", "b,small,1.8,19.0,10,312,290,"]
    assert found(bench, write_sheet(ZERO, *rows, ZERO)) == ()
    (one,) = found(bench, write_sheet(ZERO, "c,small,1.75,19.0,10,312,290,", ZERO))
    assert "1.75 L/min" in one.sentence


def test_advice_for_a_display_and_for_a_vernier(write_bench: Write, write_sheet: Write) -> None:
    path = write_sheet(ZERO, "a,small,1.8,19.0,10,312.25,290,", ZERO)
    for kind, key in (
        ('kind = "digital"', "division in the bench file is too coarse"),
        ('kind = "vernier"\nvernier_divisions = 10', "vernier_divisions in the bench file"),
    ):
        bench = load_bench(write_bench(("span = [0, 620]", f"span = [0, 620]\n{kind}")))
        (one,) = found(bench, path)
        assert key in one.sentence


def test_the_example_is_read_as_it_is_stated() -> None:
    bench = load_bench(EXAMPLE / "bench.toml")
    assert fine_findings(read_sheet(EXAMPLE / "sheet.csv", bench), bench) == ()


def test_no_read_to_fits(bench: Bench, write_sheet: Write) -> None:
    (one,) = found(bench, write_sheet(ZERO, "a,small,1.8,19.0,10,312.333,290,", ZERO))
    assert re.search(r"state read_to, the part that it was read to\.", one.sentence)
