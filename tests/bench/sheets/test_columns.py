"""Headers, and numbers in cells."""

from __future__ import annotations

import pytest

from flowunc import SheetError
from flowunc.bench.sheets.columns import SheetCells
from flowunc.bench.sheets.text import Record, SheetText

GOOD = "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note"


def cells(*row: str, header: str = GOOD, decimal_comma: bool = False) -> SheetCells:
    names = tuple(name.strip() for name in header.split(","))
    return SheetCells(SheetText("s.csv", Record(1, names), (Record(2, row),), decimal_comma))


def refusal(header: str) -> str:
    with pytest.raises(SheetError) as caught:
        cells(header=header)
    assert caught.value.line == 1
    return str(caught.value)


@pytest.mark.parametrize(
    "header",
    [
        GOOD,
        GOOD.removesuffix(",note"),
        f"{GOOD},,",
        "Low [mm], High [mm],RUN,meter,flow,temperature [degC],angle [deg]",
        "run,meter,flow [L/h],temperature [K],angle [rad],high [cm],low [in],note",
        "run,meter,flow,temperature[degF],angle [ deg ],high [mm],low [mm]",
        "run,meter,flow,temperature\u00a0[degC],angle\t[deg],high  [mm],low [mm]",
    ],
)
def test_headers_that_are_understood(header: str) -> None:
    assert set(cells(header=header).columns) >= {"run", "meter", "flow", "temperature", "angle"}


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("meter", "metre", "column 'metre': unknown column; did you mean 'meter'? expected run,"),
        ("note", "sky", "column 'sky': unknown column; expected run, meter, flow, temper"),
        ("note", "run", "column 'run': the column is there twice, as columns 1 and 8; expected"),
        ("high [mm]", "low [cm]", "column 'low [mm]': the column is there twice, as columns 6 an"),
        ("run,", ",", "s.csv, line 1: column 1 has no name; expected run, meter"),
        ("angle [deg],", "", "s.csv, line 1: no column angle; expected run, meter, flow"),
        ("high [mm],low [mm]", "note", "the column is there twice"),
        ("temperature [degC]", "temperature", "column 'temperature': no unit; expected it in squ"),
        ("high [mm]", "high [s]", "column 'high [s]': unit 's' does not measure the high; expect"),
        ("angle [deg]", "angle [%]", "column 'angle [%]': unit '%' does not measure the angle"),
        ("angle [deg]", "angle [1]", "column 'angle [1]': unit '1' does not measure the angle"),
        ("high [mm]", "high [milimetre]", "column 'high [milimetre]': unit 'milimetre'"),
        ("high [mm]", "high [mm", "column 'high [mm': unknown column; did you mean 'high'?"),
        ("run", "run [1]", "column 'run [1]': run has no unit; expected the name alone"),
        # was shown as it is, and so could move the cursor of a terminal
        ("meter", "me\x1b[2Jter", r"line 1: column 2 is 'me\x1b[2Jter', with characters that can"),
        ("note", "high\t[in]", "column 'high [in]': the column is there twice"),
    ],
)
def test_headers_that_are_refused(old: str, new: str, expected: str) -> None:
    assert expected in refusal(GOOD.replace(old, new, 1))


def number(text: str, *, decimal_comma: bool = False) -> float:
    row = ("1", "small", text)
    found = cells(*row, decimal_comma=decimal_comma)
    return found.number(found.rows[0], "flow", "1.8")


@pytest.mark.parametrize(
    ("text", "value"),
    [("1.8", 1.8), ("+2", 2.0), ("-0.5", -0.5), (".5", 0.5), ("3.", 3.0), ("1e-3", 0.001)],
)
def test_numbers(text: str, value: float) -> None:
    assert number(text) == value
    assert number(text.replace(".", ","), decimal_comma=True) == value
    assert number(text, decimal_comma=True) == value


@pytest.mark.parametrize(
    ("text", "decimal_comma", "expected"),
    [
        ("", False, "the cell is empty; expected a number such as 1.8"),
        ("", True, "the cell is empty; expected a number such as 1,8"),
        ("two", False, "'two' is not a number; expected one such as 1.8"),
        ("nan", False, "'nan' is not a number"),
        ("inf", False, "'inf' is not a number"),
        ("1_000", False, "'1_000' is not a number"),
        ("٣", False, "'٣' is not a number"),
        ("−1", False, "'−1' is not a number"),
        ("0x10", False, "'0x10' is more than a number"),
        ("1.8 L/min", False, "'1.8 L/min' is more than a number; expected the number alone"),
        ("1,8", False, "'1,8' has a decimal comma; expected a point, such as 1.8"),
        ("1.234,5", True, "'1.234,5' has a point as well as a comma; expected one decimal sign"),
        ("1,234.5", False, "'1,234.5' has a point as well as a comma"),
        ("1e999", False, "'1e999' is too large"),
        ("9" * 900, False, "is too large; expected a number such as 1.8"),
    ],
)
def test_what_is_no_number(text: str, decimal_comma: bool, expected: str) -> None:
    with pytest.raises(SheetError) as caught:
        number(text, decimal_comma=decimal_comma)
    assert (caught.value.line, caught.value.column) == (2, "flow")
    assert expected in caught.value.reason


def test_short_rows_have_empty_cells_and_long_ones_are_refused() -> None:
    found = cells("1", "small")
    assert found.text(found.rows[0], "note") == ""
    found.check_width(Record(2, (*"abcdefgh", "", "")))
    with pytest.raises(SheetError, match="9 cells for 8 columns; put a text that has commas in"):
        found.check_width(Record(2, (*"abcdefgh", "i")))
