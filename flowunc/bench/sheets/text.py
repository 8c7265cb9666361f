"""From a CSV file to cells with their lines: encoding, separator, size.

Separator: commas. If the header line has semicolons and no comma outside quotes, the sheet
is separated by semicolons, and then a comma in a number is a decimal comma.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from os import PathLike, fsdecode

from flowunc.bench.file_bytes import read_bytes
from flowunc.core.errors import SheetError

__all__ = ["MOST_CHARACTERS", "MOST_ROWS", "Record", "SheetText", "read_sheet_text"]

MOST_ROWS = 10_000
MOST_CHARACTERS = 1_000  # of one cell
_LARGEST_FILE = 20_000_000  # bytes
_MOST_LINES = 100_000  # blank ones and those inside quotes as well
_LONGEST_LINE = 50_000  # characters; a spreadsheet program may add 16 384 empty columns
_QUOTED = re.compile(r'"(?:[^"]|"")*"')
_NOTHING = re.compile(r'[\s,;"]*')  # a line whose cells are all empty
_SAVE = 'save the sheet as "CSV, UTF-8" in the spreadsheet program'
_MARKS = {  # what files of other encodings begin with
    b"\xff\xfe": "UTF-16",
    b"\xfe\xff": "UTF-16",
    b"PK\x03\x04": "a spreadsheet workbook",
    b"\xd0\xcf\x11\xe0": "a spreadsheet workbook",
}


@dataclass(frozen=True)
class Record:
    """The cells of one row, without the white space around them, and the line it starts on."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class SheetText:
    """The rows of a sheet as text; rows without any content are left out.

    Attributes
    ----------
    file : str
    header : Record
    rows : tuple of Record
    decimal_comma : bool
        Whether a comma in a number is a decimal comma.
    """

    file: str
    header: Record
    rows: tuple[Record, ...]
    decimal_comma: bool


def read_sheet_text(path: str | PathLike[str]) -> SheetText:
    """Read the cells of a CSV file.

    Raises
    ------
    SheetError
        A file that is missing, is not UTF-8, is too large, or is not CSV.
    """
    text = _text(path)
    file = fsdecode(path)
    first, line = _header_line(text, file)
    bare = _QUOTED.sub("", first)
    semicolons = ";" in bare and "," not in bare
    if "\t" in bare and ";" not in bare and "," not in bare:
        raise SheetError(
            "the header is separated by tabs; expected commas or semicolons: save the sheet as CSV",
            file,
            line,
        )
    records = _records(text, file, ";" if semicolons else ",")
    header = next(records)
    rows: list[Record] = []
    for record in records:
        if len(rows) == MOST_ROWS:
            raise SheetError(
                f"more than {MOST_ROWS} rows; expected the sheet of one session: split it",
                file,
                record.line,
            )
        rows.append(record)
    return SheetText(file, header, tuple(rows), semicolons)


def _text(path: str | PathLike[str]) -> str:
    data = read_bytes(
        path,
        "the lab sheet (CSV)",
        _LARGEST_FILE,
        f"more than {_LARGEST_FILE // 1_000_000} MB; expected a lab sheet of up to {MOST_ROWS} "
        "rows",
        SheetError,
    )
    file = fsdecode(path)
    for mark, name in _MARKS.items():
        if data.startswith(mark):
            raise SheetError(f"this is {name}; expected UTF-8 text: {_SAVE}", file, 1)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = len(re.findall(rb"\r\n|\r|\n", data[: error.start])) + 1
        raise SheetError(
            f"byte 0x{data[error.start]:02x} is not UTF-8 text (a degree sign or an umlaut of "
            f"another encoding?); expected UTF-8: {_SAVE}",
            file,
            line,
        ) from None


def _lines(text: str, file: str) -> Iterator[str]:
    """Yield the lines with their ends, as many and as long as a lab sheet can have."""
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if number > _MOST_LINES:
            raise SheetError(
                f"more than {_MOST_LINES} lines; expected the sheet of one session: delete the "
                "empty lines, or split it",
                file,
                number,
            )
        if len(line) > _LONGEST_LINE:
            raise SheetError(
                f"more than {_LONGEST_LINE} characters in one line; expected the cells of one row",
                file,
                number,
            )
        yield line


def _header_line(text: str, file: str) -> tuple[str, int]:
    for number, line in enumerate(_lines(text, file), start=1):
        if not _NOTHING.fullmatch(line):
            return line, number
    raise SheetError(
        "the sheet is empty; expected a header and rows, as in "
        "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note",
        file,
        1,
    )


def _records(text: str, file: str, separator: str) -> Iterator[Record]:
    reader = csv.reader(_lines(text, file), delimiter=separator, strict=True, skipinitialspace=True)
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise SheetError(
                f"not CSV: {error}; a cell that begins with a quote has to end with one",
                file,
                line,
            ) from None
        if cells is None:
            return
        for position, cell in enumerate(cells):
            if len(cell) > MOST_CHARACTERS:
                raise SheetError(
                    f"cell {position + 1} has {len(cell)} characters; expected at most "
                    f"{MOST_CHARACTERS}",
                    file,
                    line,
                )
        stripped = tuple(cell.strip() for cell in cells)
        if any(stripped):
            yield Record(line, stripped)
