"""Readings that are finer than their scale is read to, such as 301.25 on a scale read to 1 mm.

Either the scale was read more finely than the bench states, and its resolution counts too much,
or the number is no reading: a mean, a conversion, a slip of the pen.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from flowunc.bench.description.bench import Bench
from flowunc.bench.sheets.sheet import Sheet, SheetRow
from flowunc.core.units import parse_unit
from flowunc.instruments.scale import Scale

__all__ = ["FineFinding", "fine_findings"]

_ROUNDING = 1e-6  # of a step: what is left of 3 * 0.1, and of a conversion of units
_FRACTIONS = (0.5, 0.25, 0.2, 0.1)  # of a division, to which scales are read
_MOST_LINES = 8


class FineFinding(NamedTuple):
    """Readings of one column on one scale that lie between its steps.

    Attributes
    ----------
    column : str
        Of the sheet.
    lines : tuple of int
    runs : tuple of str
        Labels of these rows.
    sentence : str
    """

    column: str
    lines: tuple[int, ...]
    runs: tuple[str, ...]
    sentence: str


def fine_findings(sheet: Sheet, bench: Bench) -> tuple[FineFinding, ...]:
    """Find readings that lie between the steps to which their scale is read.

    Parameters
    ----------
    sheet : Sheet
    bench : Bench

    Returns
    -------
    tuple of FineFinding
        One for each column and scale. A column in another unit than its scale is passed over,
        unless the two differ by a power of ten: what was converted lies anywhere.

    Notes
    -----
    Steps are counted from 0, or from the low end of the span.
    """
    found = []
    for column, name, scale, readings in _read(sheet, bench):
        if _was_converted(sheet.header_units.get(column), scale):
            continue
        fine = [(row, value) for row, value in readings if not _on_step(value, scale)]
        if fine:
            found.append(_finding(column, name, scale, fine))
    return tuple(found)


Readings = list[tuple[SheetRow, float]]


def _read(sheet: Sheet, bench: Bench) -> Iterator[tuple[str, str, Scale, Readings]]:
    """Yield what was read on each scale: column, instrument, scale, and rows with their value."""
    for name, meter in bench.meters.items():
        flows = [(row, row.flow) for row in sheet.rows if row.meter == name]
        yield "flow", meter.label, meter.scale, flows
    thermometer, manometer = bench.thermometer, bench.manometer
    warmth = [(row, row.temperature) for row in sheet.rows]
    yield "temperature", thermometer.label, thermometer.scale, warmth
    for column, values in zip(
        bench.manometer_kind.columns,
        ([row.high for row in sheet.rows], [row.low for row in sheet.rows]),
        strict=False,  # one reading has no second
    ):
        pairs = list(zip(sheet.rows, values, strict=True))
        yield column, manometer.label, manometer.scale, pairs


def _was_converted(header_unit: str | None, scale: Scale) -> bool:
    if header_unit is None:
        return False
    unit, own = parse_unit(header_unit), scale.parsed_unit
    if unit.offset != own.offset:
        return True
    power = math.log10(unit.factor / own.factor)
    return abs(power - round(power)) > 1e-9


def _on_step(value: float, scale: Scale, step: float | None = None) -> bool:
    size = 2 * scale.half_width if step is None else step
    starts = (0.0,) if scale.span is None else (0.0, scale.span[0])
    for start in starts:
        steps = (value - start) / size
        if abs(steps - round(steps)) <= _ROUNDING + 1e-12 * abs(steps):
            return True
    return False


def _finding(column: str, name: str, scale: Scale, fine: Readings) -> FineFinding:
    first, value = fine[0]
    lines = tuple(row.line for row, _ in fine)
    text = f"{name}, column {column}: {value:.9g} {scale.unit} in line {first.line}"
    if len(fine) > 1:
        more = [str(line) for line in lines[1 : _MOST_LINES + 1]]
        left = f" and {len(lines) - 1 - _MOST_LINES} more" if len(lines) > _MOST_LINES + 1 else ""
        text += f" (as in line{'s' if len(lines) > 2 else ''} {', '.join(more)}{left})"
    text += (
        f" is finer than its scale is read to, {2 * scale.half_width:g} {scale.unit}. "
        f"{_advice(scale, (reading for _, reading in fine))} A mean of several readings counts "
        "as one; write them as rows of one label. Else correct the number."
    )
    labels = tuple(dict.fromkeys(row.label for row, _ in fine))
    return FineFinding(column, lines, labels, text[0].upper() + text[1:])


def _advice(scale: Scale, values: Iterable[float]) -> str:
    if scale.kind != "graduated":
        key = "vernier_divisions" if scale.kind == "vernier" else "division"
        return f"If it shows more digits, {key} in the bench file is too coarse."
    given = list(values)
    for fraction in _FRACTIONS:
        if all(_on_step(value, scale, fraction * scale.division) for value in given):
            return f"If it was read to parts of a division, state read_to = {fraction:g}."
    return "If it was read to parts of a division, state read_to, the part that it was read to."
