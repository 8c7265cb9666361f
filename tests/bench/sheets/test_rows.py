"""Every refusal of a cell names file, line and column, what was found and what was expected."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, SheetError, read_sheet

Write = Callable[..., Path]

ZERO = "zero,,,19.0,10,300.0,300.0,"
RUN = "1,small,1.8,19.0,10,309.5,295.5,"


@pytest.mark.parametrize(
    ("row", "column", "expected"),
    [
        (",small,1.8,19.0,10,309.5,295.5,", "run", "the cell is empty; expected a label of the"),
        ("a\x07,small,1.8,19.0,10,309.5,295.5,", "run", "characters that cannot be printed"),
        ("1,smal,1.8,19.0,10,309.5,295.5,", "meter", "no meter 'smal'; did you mean 'small'? exp"),
        ("1,,1.8,19.0,10,309.5,295.5,", "meter", "the cell is empty; expected one of small, larg"),
        ("1,small,,19.0,10,309.5,295.5,", "flow", "the cell is empty; expected a number such as"),
        ("1,small,0,19.0,10,309.5,295.5,", "flow", "0; expected a flow above 0: a row without f"),
        ("1,small,-0,19.0,10,309.5,295.5,", "flow", "-0; expected a flow above 0"),
        ("1,small,-1.8,19.0,10,309.5,295.5,", "flow", "-1.8; expected a flow above 0"),
        (
            "1,small,4.2,19.0,10,309.5,295.5,",
            "flow",
            "small meter: 4.2 L/min lies off the scale, which spans 0.4 to 4 L/min; check the num",
        ),
        ("1,large,1.8,19.0,10,309.5,295.5,", "flow", "large meter: 1.8 L/s lies off the scale"),
        ("1,small,1.8,warm,10,309.5,295.5,", "temperature [degC]", "'warm' is not a number; expe"),
        ("1,small,1.8,,10,309.5,295.5,", "temperature [degC]", "the cell is empty"),
        (
            "1,small,1.8,119,10,309.5,295.5,",
            "temperature [degC]",
            "water.density(temperature=...): 119 degC; expected 0 to 100 degC",
        ),
        ("1,small,1.8,-300,10,309.5,295.5,", "temperature [degC]", "temperature -300 degC lies"),
        ("1,small,1.8,19.0,0,309.5,295.5,", "angle [deg]", "0 deg; expected the inclination to"),
        ("1,small,1.8,19.0,-10,309.5,295.5,", "angle [deg]", "-10 deg; expected the inclination"),
        ("1,small,1.8,19.0,90.5,309.5,295.5,", "angle [deg]", "90.5 deg; expected the inclinatio"),
        ("1,small,1.8,19.0,10,621,295.5,", "high [mm]", "manometer: 621 mm lies off the scale"),
        ("1,small,1.8,19.0,10,309.5,-1,", "low [mm]", "manometer: -1 mm lies off the scale"),
        ("1,small,1.8,19.0,10,309.5", "low [mm]", "the cell is empty; expected a number such as"),
        ("zero,,1.8,19.0,10,300,300,", "flow", "'1.8' in a zero row; expected no flow"),
        ("zero,tiny,,19.0,10,300,300,", "meter", "no meter 'tiny'; expected one of small, large"),
        ("zero,,,19.0,10,,300,", "high [mm]", "the cell is empty"),
        ("zero,,,,10,300,300,", "temperature [degC]", "the cell is empty"),
    ],
)
def test_cells_that_are_refused(
    row: str, column: str, expected: str, bench: Bench, write_sheet: Write
) -> None:
    path = write_sheet(ZERO, row, ZERO)
    with pytest.raises(SheetError) as caught:
        read_sheet(path, bench)
    assert (caught.value.file, caught.value.line, caught.value.column) == (str(path), 3, column)
    assert caught.value.reason.startswith(expected)
    assert str(caught.value).startswith(f"{path}, line 3, column '{column}': {expected}")


def test_notes_may_say_anything(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(ZERO, '1,small,1.8,19.0,10,309.5,295.5,"steady,\n so ""far"""', ZERO)
    assert read_sheet(path, bench).runs[0].notes == 'steady, so "far"'


def test_a_row_too_long_is_named(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(ZERO, RUN + "a,b", ZERO)
    with pytest.raises(SheetError, match="line 3: 9 cells for 8 columns"):
        read_sheet(path, bench)


def test_meter_and_no_flow_are_allowed_in_a_zero_row(bench: Bench, write_sheet: Write) -> None:
    sheet = read_sheet(write_sheet("ZERO,small,0,19.0,10,300,300", RUN, ZERO), bench)
    assert sheet.rows[0].is_zero
    assert sheet.rows[0].label == "zero"


def test_other_units_are_converted(bench: Bench, write_sheet: Write) -> None:
    header = "run,meter,flow [L/h],temperature [degF],angle [arcmin],high [cm],low [in],note"
    path = write_sheet(
        "zero,,,68,600,30.00,11.811,",
        "1,small,108,68,600,30.95,11.614,",
        "zero,,,68,600,30.00,11.811,",
        header=header,
    )
    row = read_sheet(path, bench).runs[0].rows[0]
    assert row.flow == pytest.approx(1.8, rel=1e-12)
    assert row.temperature == pytest.approx(20.0, rel=1e-12)
    assert row.angle == 10.0
    assert row.high == pytest.approx(309.5, rel=1e-12)
    assert row.low == pytest.approx(11.614 * 25.4, rel=1e-12)


def test_a_converted_reading_at_the_end_of_the_scale(bench: Bench, write_sheet: Write) -> None:
    header = "run,meter,flow [L/min],temperature [degC],angle [deg],high [mm],low [mm]"
    path = write_sheet(ZERO, "1,large,24,19.0,10,600,20", ZERO, header=header)
    assert read_sheet(path, bench).runs[0].rows[0].flow == pytest.approx(0.40, rel=1e-12)


def test_semicolons_and_decimal_commas(bench: Bench, write_sheet: Write) -> None:
    rows = [ZERO, RUN, "2,small,2.6,19.5,10,317.0,287.5,broken thread", ZERO]
    plain = read_sheet(write_sheet(*rows), bench)
    path = write_sheet(
        *[row.replace(",", ";").replace(".", ",") for row in rows],
        header="run;meter;flow;temperature [degC];angle [deg];high [mm];low [mm];note",
        encoding="utf-8-sig",
    )
    assert read_sheet(path, bench) == plain
