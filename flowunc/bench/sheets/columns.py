"""The header of a lab sheet, and the number in a cell."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NoReturn

from flowunc.bench.nearest_name import nearest
from flowunc.bench.sheets.form import ANY_COLUMN, INCLINED, OPTIONAL, UNIT_OPTIONAL, SheetForm
from flowunc.bench.sheets.text import Record, SheetText
from flowunc.core.errors import SheetError, UnitError
from flowunc.core.units import Unit, parse_unit

__all__ = ["Column", "SheetCells"]


@dataclass(frozen=True)
class Column:
    """One column: where it stands, its header as written, and its unit if it has one."""

    name: str
    position: int
    header: str
    unit: Unit | None


_HEADER = re.compile(r"([^\[\]]*?)\s*(?:\[([^\[\]]*)\])?")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,4})?")
_NUMBER_WITH_UNIT = re.compile(r"[+-]?[0-9][0-9.,]*\s*[^\W\d_].*")


class SheetCells:
    """The cells of a sheet by the names of its columns.

    Parameters
    ----------
    text : SheetText
    form : SheetForm
        The columns that a sheet of its bench has.
    """

    def __init__(self, text: SheetText, form: SheetForm = INCLINED) -> None:
        self.file = text.file
        self.rows = text.rows
        self.decimal_comma = text.decimal_comma
        self.form = form
        self.columns = _columns(text, form)

    def refuse(self, row: Record, name: str, reason: str) -> NoReturn:
        """Raise the error that names file, line and column."""
        raise self.error(row.line, name, reason)

    def error(self, line: int, name: str, reason: str) -> SheetError:
        """Make the error that names file, line and column."""
        column = self.columns.get(name)
        return SheetError(reason, self.file, line, name if column is None else column.header)

    def text(self, row: Record, name: str) -> str:
        """Return a cell, "" where the row is too short for it or the sheet has no such column."""
        column = self.columns.get(name)
        if column is None or column.position >= len(row.cells):
            return ""
        return row.cells[column.position]

    def number(self, row: Record, name: str, example: str) -> float:
        """Return the number in a cell, in the unit of the column."""
        found = self.text(row, name)
        point = "," if self.decimal_comma else "."
        shown = example.replace(".", point)
        if not found:
            self.refuse(row, name, f"the cell is empty; expected a number such as {shown}")
        quoted = repr(found if len(found) <= 40 else f"{found[:37]}...")
        if _NUMBER.fullmatch(found) is None:
            if "," in found and "." in found:
                reason = (
                    f"{quoted} has a point as well as a comma; expected one decimal sign and no "
                    f"thousands separator, such as {shown}"
                )
            elif _NUMBER_WITH_UNIT.fullmatch(found):
                reason = (
                    f"{quoted} is more than a number; expected the number alone, such as {shown}"
                )
            else:
                reason = f"{quoted} is not a number; expected one such as {shown}"
            self.refuse(row, name, reason)
        if "," in found and not self.decimal_comma:
            self.refuse(
                row,
                name,
                f"{quoted} has a decimal comma; expected a point, such as {shown} (decimal commas "
                "go with a sheet separated by semicolons)",
            )
        number = float(found.replace(",", "."))
        if not math.isfinite(number):
            self.refuse(row, name, f"{quoted} is too large; expected a number such as {shown}")
        return number

    def unit(self, name: str) -> Unit | None:
        """Return the unit in the header of a column."""
        return self.columns[name].unit

    def check_width(self, row: Record) -> None:
        """Refuse content to the right of the last column."""
        width = 1 + max(column.position for column in self.columns.values())
        if any(row.cells[width:]):
            separator = "semicolons" if self.decimal_comma else "commas"
            raise SheetError(
                f"{len(row.cells)} cells for {width} columns; put a text that has {separator} in "
                'it in quotes ("..."), and write numbers with a decimal '
                f"{'comma or point' if self.decimal_comma else 'point'}",
                self.file,
                row.line,
            )


def _columns(text: SheetText, form: SheetForm) -> Mapping[str, Column]:
    line, file = text.header.line, text.file
    headers = list(text.header.cells)
    while headers and not headers[-1]:  # spreadsheet programs add empty columns at the end
        headers.pop()
    found: dict[str, Column] = {}
    for position, header in enumerate(headers):
        column = _column(position, header, file, line, form)
        if column.name in found:
            first = found[column.name].position + 1
            raise SheetError(
                f"the column is there twice, as columns {first} and {position + 1}; expected each "
                "once",
                file,
                line,
                column.header,
            )
        found[column.name] = column
    missing = [name for name in form.columns if name not in found and name not in OPTIONAL]
    if missing:
        raise SheetError(
            f"no column {' and no column '.join(missing)}; expected {_listed(form)} (note may be "
            f"left out), as the bench has {form.manometer}",
            file,
            line,
        )
    return found


def _listed(form: SheetForm) -> str:
    return ", ".join(form.shown(name) for name in form.columns)


def _column(position: int, header: str, file: str, line: int, form: SheetForm) -> Column:
    header = " ".join(header.split())
    shown = header if len(header) <= 40 else f"{header[:37]}..."
    if not header:
        raise SheetError(
            f"column {position + 1} has no name; expected {', '.join(form.columns)}", file, line
        )
    if not header.isprintable():
        raise SheetError(
            f"column {position + 1} is {shown!r}, with characters that cannot be printed; expected "
            f"one of {', '.join(form.columns)}",
            file,
            line,
        )
    match = _HEADER.fullmatch(header)
    name = match.group(1).strip().casefold() if match else header
    if match is None or name not in form.units:
        reason = f"unknown column; {nearest(name, form.columns)}"
        if match is not None and name in ANY_COLUMN:
            reason = f"has no place here, as the bench has {form.manometer}; "
        raise SheetError(f"{reason}expected {_listed(form)}", file, line, shown)
    dimension, example = form.units[name]
    unit_text = match.group(2)
    if unit_text is None:
        if dimension is not None and name not in UNIT_OPTIONAL:
            raise SheetError(
                f"no unit; expected it in square brackets, as in {name} [{example}]",
                file,
                line,
                shown,
            )
        return Column(name, position, header, None)
    if dimension is None:
        raise SheetError(f"{name} has no unit; expected the name alone", file, line, shown)
    try:
        unit = parse_unit(unit_text.strip())
    except UnitError as error:
        raise SheetError(f"{error}", file, line, shown) from None
    # a slope in per cent and a bare number have the dimension of an angle, but are none
    if unit.dimension is not dimension or (name == "angle" and str(unit) in ("1", "%", "ppm")):
        raise SheetError(
            f"unit '{unit}' does not measure the {name}; expected one such as {example}",
            file,
            line,
            shown,
        )
    return Column(name, position, header, unit)
