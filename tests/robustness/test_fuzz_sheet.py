"""Lab sheets as people, programs and bad luck leave them: read rightly, or refused with a place."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flowunc import SheetError, read_sheet

FUZZ = settings(
    derandomize=True,
    max_examples=150,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
HEADER = "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note"
# What is met in cells, and what is put there to break something.
FRAGMENTS = [
    "", " ", "0", "-1", "1,5", "1.5", "1e5", "1e400", "1e-400", "nan", "inf", "1_000", "0x10", "+",
    ".", "9" * 50, "x" * 1001, "zero", "ZERO", "small", "large", "é", "°", "−1", "\uff11", "٣",
    "=cmd()", "=HYPERLINK(1)", "@x", "<b>x</b>", "</table>", '"', '""', '"\n"', "'", ",", ",,,",
    ";", "\t", "\r", "\r\n", "\n", "\0", "\ufeff", "\u2028", "\u0085", "\x0b", "\x0c", "\x1c",
    "\u202e", "[degF]", "[K]", "[in]", "[]", "[", "]", "[m^9999]", "[deg]", "\\", "%s", "{0}",
]  # fmt: skip


@st.composite
def damaged(draw, text):
    """Damage a sheet in one to four places."""
    for _ in range(draw(st.integers(1, 4))):
        lines = text.split("\n")
        here = draw(st.integers(0, len(text)))
        row = draw(st.integers(0, len(lines) - 1))
        other = draw(st.integers(0, len(lines) - 1))
        fragment = draw(st.sampled_from(FRAGMENTS))
        kind = draw(st.integers(0, 6))
        if kind == 0:
            text = text[:here] + fragment + text[here:]
        elif kind == 1:
            text = text[:here] + text[here + draw(st.integers(1, 30)) :]
        elif kind == 2:
            cells = lines[row].split(",")
            cells[draw(st.integers(0, len(cells) - 1))] = fragment
            text = "\n".join([*lines[:row], ",".join(cells), *lines[row + 1 :]])
        elif kind == 3:
            lines[row], lines[other] = lines[other], lines[row]
            text = "\n".join(lines)
        elif kind == 4:
            text = "\n".join([*lines[:row], lines[other], *lines[row:]])
        elif kind == 5:
            old = draw(st.sampled_from([",", "\n", "."]))
            new = draw(st.sampled_from([",", ";", "\r", "\r\n", "\t", ", ", ",,"]))
            text = text.replace(old, new, draw(st.sampled_from([1, 5, -1])))
        else:
            text = "\n".join(",".join([*line.split(","), *line.split(",")[-2:]]) for line in lines)
    return text


def check_place(error, path, data):
    """A refusal names file, line and, where there is one, column."""
    assert isinstance(error, SheetError)
    assert error.file == str(path)
    lines = 1 + len(data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n"))
    assert error.line is not None
    assert 1 <= error.line <= lines
    assert error.column is None or len(error.column) <= 60
    assert str(error).startswith(f"{path}, line {error.line}")


@FUZZ
@given(data=st.data())
def test_damaged_sheet_is_read_or_refused_with_its_place(data, tmp_path, bench, example, answer):
    text = data.draw(damaged((example / "sheet.csv").read_text(encoding="utf-8")))
    path = tmp_path / "sheet.csv"
    path.write_bytes(text.encode("utf-8"))
    sheet, error = answer(lambda: read_sheet(path, bench))
    if error is not None:
        check_place(error, path, text.encode("utf-8"))
    else:
        assert len(sheet.rows) >= 2


@FUZZ
@given(tail=st.one_of(st.binary(max_size=300), st.text(max_size=300).map(str.encode)), head=...)
def test_noise_is_refused_with_its_place(tail: bytes, head: bool, tmp_path, bench, answer):
    data = (HEADER.encode() + b"\n" if head else b"") + tail
    path = tmp_path / "sheet.csv"
    path.write_bytes(data)
    _, error = answer(lambda: read_sheet(path, bench))
    assert error is not None
    check_place(error, path, data)


@st.composite
def written_anew(draw, rows):
    """Write the cells of a sheet in another way that means the same."""
    rows = [list(row) for row in rows]
    order = draw(st.permutations(range(len(rows[0]))))
    rows = [[row[place] for place in order] for row in rows]
    headers = [name.partition(" [") for name in rows[0]]  # the case of units matters
    case = draw(st.sampled_from([str, str.upper, str.title]))
    rows[0] = [case(name) + bracket + unit for name, bracket, unit in headers]
    semicolons = draw(st.booleans())
    if semicolons and draw(st.booleans()):
        # numbers only: a comma in a note means nothing
        note = order.index(7)
        rows = [
            [cell if i == note else cell.replace(".", ",") for i, cell in enumerate(row)]
            for row in rows
        ]
    extra = draw(st.integers(0, 2))
    blanks = draw(st.booleans())
    out = io.StringIO()
    writer = csv.writer(
        out,
        delimiter=";" if semicolons else ",",
        quoting=draw(st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])),
        lineterminator=draw(st.sampled_from(["\n", "\r\n", "\r"])),
    )
    for row in rows:
        writer.writerow([*row, *[""] * extra])
        if blanks:
            writer.writerow([])
            writer.writerow([""] * 3)
    return draw(st.sampled_from([b"", b"\xef\xbb\xbf"])) + out.getvalue().encode("utf-8")


@FUZZ
@given(data=st.data())
def test_the_same_sheet_written_in_another_way_is_the_same(data, tmp_path, bench, example, answer):
    original = example / "sheet.csv"
    with original.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    path = tmp_path / "sheet.csv"
    path.write_bytes(data.draw(written_anew(rows)))
    expected = [replace(row, line=0) for row in read_sheet(original, bench).rows]
    sheet, error = answer(lambda: read_sheet(path, bench))
    assert error is None
    assert [replace(row, line=0) for row in sheet.rows] == expected


@FUZZ
@given(
    number=st.decimals(min_value="0.001", max_value="699.999", places=3),
    style=st.sampled_from(["{}", "+{}", " {} ", "{}e0", "{}E+00", "00{}"]),
    semicolons=st.booleans(),
)
def test_a_number_is_the_nearest_float(number, style, semicolons, tmp_path, bench, answer):
    cells = ["1", "small", "30", "20.4", "8", style.format(number), "1.0", ""]
    zero = "zero,,,20.4,8,352.5,352.0,"
    lines = [HEADER, zero, ",".join(cells), zero]
    if semicolons:
        lines = [line.replace(",", ";").replace(".", ",") for line in lines]
    path = tmp_path / "sheet.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    sheet, error = answer(lambda: read_sheet(path, bench))
    if error is None:
        assert sheet.runs[0].rows[0].high == float(number)
    else:  # the right side of the manometer above the left one
        assert number < 20


@pytest.mark.parametrize(
    "note", ["=cmd()|' /C calc'!A0", "<script>alert(1)</script>", "% { } \\ $ &", "a, b; c", "١٢"]
)
def test_a_note_is_text_and_nothing_else(note, tmp_path, bench):
    path = tmp_path / "sheet.csv"
    zero = "zero,,,20.4,8,352.5,352.0,"
    path.write_text(
        f'{HEADER}\n{zero}\n1,small,60,20.4,8,360.5,344.5,"{note}"\n{zero}\n', encoding="utf-8"
    )
    assert read_sheet(path, bench).runs[0].notes == note


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        # took 14 s, 5 s and 2.4 GB, 5 s before there were limits on lines
        (HEADER.encode() + b"\n" * 15_000_000, "lines"),
        (b'"' + b"a" * 15_000_000, "characters in one line"),
        (b"run," + b"," * 15_000_000, "characters in one line"),
        (HEADER.encode() + b"\n" + b"x," * 7_000_000, "characters in one line"),
        (b"\r" * 15_000_000, "lines"),
        (b" " * 15_000_000, "characters in one line"),
        (HEADER.encode() + b"\n" + b"1,small,30,20,8,357,349,\n" * 400_000, "rows"),
        (HEADER.encode() + b'\nzero,,,20,8,1,1,"' + b"line\n" * 90_000, "quote"),
        (b"a" * 20_000_001, "more than 20 MB"),
    ],
)  # fmt: skip
def test_sheets_without_end_are_refused_early(data, reason, tmp_path: Path, bench, answer):
    path = tmp_path / "sheet.csv"
    path.write_bytes(data)
    _, error = answer(lambda: read_sheet(path, bench))
    assert isinstance(error, SheetError)
    assert reason in error.reason


def test_empty_columns_and_lines_of_a_spreadsheet_program_are_no_matter(tmp_path, bench):
    # it may save all of its 16384 columns, and thousands of empty lines below
    zero = "zero,,,20.4,8,352.5,352.0,"
    rows = [HEADER, zero, "1,small,60,20.4,8,360.5,344.5,", zero, *[""] * 50_000]
    path = tmp_path / "sheet.csv"
    path.write_text("\n".join(row + "," * 16_376 if row else "" for row in rows), encoding="utf-8")
    assert [run.label for run in read_sheet(path, bench).runs] == ["1"]


@pytest.mark.parametrize("data", [b"\x0b", b'""', b'"\n"', b'"";""\n', b" , \xc2\xa0\n\x1c\n"])
def test_a_sheet_of_blanks_and_quotes_is_empty(data, tmp_path, bench, answer):
    # a StopIteration: what a cell strips was more than what made a line blank
    path = tmp_path / "sheet.csv"
    path.write_bytes(data)
    _, error = answer(lambda: read_sheet(path, bench))
    assert isinstance(error, SheetError)
    assert error.reason.startswith("the sheet is empty")
