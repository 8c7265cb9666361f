"""Files to cells: encodings, separators, limits, lines."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import SheetError
from flowunc.bench.sheets.text import MOST_CHARACTERS, MOST_ROWS, read_sheet_text

Write = Callable[..., Path]


def refusal(path: Path) -> SheetError:
    with pytest.raises(SheetError) as caught:
        read_sheet_text(path)
    assert caught.value.file == str(path)
    return caught.value


def test_cells_know_their_lines(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(b'\n\na,b\n 1 , "2"\n\n,\n"x\ny",3\n4,5\n\n\n')
    found = read_sheet_text(path)
    assert (found.header.line, found.header.cells) == (3, ("a", "b"))
    assert [(row.line, row.cells) for row in found.rows] == [
        (4, ("1", "2")),
        (7, ("x\ny", "3")),
        (9, ("4", "5")),
    ]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end(tmp_path: Path, end: str) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(end.join(["a,b", "1,2", "3,4"]).encode())
    assert [row.line for row in read_sheet_text(path).rows] == [2, 3]


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
def test_byte_order_mark_is_no_part_of_the_first_name(tmp_path: Path, start: bytes) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(start + "run,note\n1,Übergang 20 °C\n".encode())
    found = read_sheet_text(path)
    assert found.header.cells == ("run", "note")
    assert found.rows[0].cells[1] == "Übergang 20 °C"


@pytest.mark.parametrize(
    ("header", "semicolons"),
    [
        ("a;b;c", True),
        ("a,b,c", False),
        ("a;b,c", False),
        ('a;"b, and more";c', True),
        ('a,"b;c"', False),
        ("a", False),
    ],
)
def test_separator_by_the_header(tmp_path: Path, header: str, semicolons: bool) -> None:
    path = tmp_path / "s.csv"
    path.write_text(f"{header}\n1\n", encoding="utf-8")
    assert read_sheet_text(path).decimal_comma is semicolons


def test_missing_file_is_named_as_a_sheet(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none.csv").reason == "no such file; expected the lab sheet (CSV)"


@pytest.mark.parametrize("path", [3, None, 2.5, ["s.csv"], True])
def test_what_is_no_path_is_refused(path: object) -> None:
    # was a TypeError of os.fspath
    message = f"got {type(path).__name__}; expected the path of a file, the lab sheet"
    with pytest.raises(SheetError, match=message):
        read_sheet_text(path)  # type: ignore[arg-type]


def test_other_encoding_names_line_and_way_out(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes("a,b\r\n1,2\r\n3,größer\r\n".encode("cp1252"))
    found = refusal(path)
    assert found.line == 3
    assert found.reason.startswith("byte 0xf6 is not UTF-8 text")
    assert found.reason.endswith('save the sheet as "CSV, UTF-8" in the spreadsheet program')


@pytest.mark.parametrize(
    ("start", "name"), [("a,b\n".encode("utf-16"), "UTF-16"), (b"PK\x03\x04...", "a spreadsheet")]
)
def test_known_other_files_are_named(tmp_path: Path, start: bytes, name: str) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(start)
    assert refusal(path).reason.startswith(f"this is {name}")


@pytest.mark.parametrize("text", ["", "\n \n", ",,,\n;;\n"])
def test_empty_sheet(tmp_path: Path, text: str) -> None:
    path = tmp_path / "s.csv"
    path.write_text(text, encoding="utf-8")
    assert refusal(path).reason.startswith("the sheet is empty; expected a header and rows")


def test_tabs_are_named(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_text("run\tmeter\n", encoding="utf-8")
    assert "separated by tabs" in refusal(path).reason


def test_quotes_that_do_not_close(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_text('a,b\n1,2\n"3,4\n5,6\n', encoding="utf-8")
    found = refusal(path)
    assert found.line == 3
    assert found.reason.startswith("not CSV: ")


def test_limits_on_rows_and_cells(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_text("a,b\n" + "1,2\n" * MOST_ROWS, encoding="utf-8")
    assert len(read_sheet_text(path).rows) == MOST_ROWS
    path.write_text("a,b\n" + "1,2\n" * (MOST_ROWS + 1), encoding="utf-8")
    found = refusal(path)
    assert (found.line, found.reason[:20]) == (MOST_ROWS + 2, "more than 10000 rows")
    path.write_text("a,b\n1," + "x" * MOST_CHARACTERS + "\n", encoding="utf-8")
    assert read_sheet_text(path).rows
    path.write_text("a,b\n1," + "x" * (MOST_CHARACTERS + 1) + "\n", encoding="utf-8")
    found = refusal(path)
    assert (found.line, found.reason) == (2, "cell 2 has 1001 characters; expected at most 1000")


def test_a_file_without_end_is_not_read_to_its_end() -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no such device on this system")
    assert refusal(Path("/dev/zero")).reason.startswith("more than 20 MB")
