"""The two columns of every run, and the zero that each run is counted from.

Zero rows without flow are read like runs: the offset has the resolution of both columns. A
block of zero rows that closes one set and opens the next is one reading behind both.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flowunc.bench.bench import Bench
from flowunc.bench.repeats import HIGH, LOW, Scatter, scatter_of
from flowunc.bench.sheet import Sheet, SheetRow
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Length
from flowunc.core.readings import concatenate
from flowunc.core.statements import limits
from flowunc.instruments.columns import drift_of, refuse_negative
from flowunc.instruments.manometer import InclinedManometer

__all__ = ["ColumnBalance", "column_balance", "zero_balances", "zero_blocks"]


class ColumnBalance(NamedTuple):
    """Readings along the scale of the manometer, one per run; ``zero`` is the offset."""

    high: Length
    low: Length
    zero: Length


def column_balance(sheet: Sheet, bench: Bench, scatter: Scatter | None = None) -> ColumnBalance:
    """Read both columns of all runs and the zero of their sets.

    Raises
    ------
    SheetError
        A run whose columns look exchanged: a difference far below zero.

    Notes
    -----
    Offset of a set: the mean of the zero before and the zero after it, each the mean of its
    rows. Drift: one rectangular error for the set, of half-width abs(after - before)/2. Where
    the rows of one zero disagree, half their range is a rectangular error of that zero. The
    resolution of a mean of several rows is that of one row: rows that round to the same mark
    all have the same rounding error, and repeating them does not shrink it.
    """
    manometer = bench.manometer
    found = scatter_of(sheet) if scatter is None else scatter
    columns = []
    for column, name in ((HIGH, "high column"), (LOW, "low column")):
        reading = manometer.read(found.means[:, column], label=name)
        swing = found.of(column, Length, manometer.scale.parsed_unit)
        columns.append(reading if swing is None else reading + swing)
    high, low = columns
    zero = _zero(sheet, manometer)
    _refuse_exchanged(sheet, manometer, high - low - zero)
    return ColumnBalance(high, low, zero)


def zero_blocks(sheet: Sheet) -> dict[tuple[SheetRow, ...], int]:
    """Return the zero rows read at one place, each block once, with their number."""
    blocks: dict[tuple[SheetRow, ...], int] = {}
    for found in sheet.sets:
        for block in (found.before, found.after):
            if block:
                blocks.setdefault(block, len(blocks))
    return blocks


def zero_balances(sheet: Sheet, manometer: InclinedManometer) -> Length:
    """Return high less low of every block of zero rows, in the order of `zero_blocks`."""
    blocks = zero_blocks(sheet)
    high = manometer.read(
        [float(np.mean([row.high for row in block])) for block in blocks],
        label="zero, high column",
    )
    low = manometer.read(
        [float(np.mean([row.low for row in block])) for block in blocks],
        label="zero, low column",
    )
    balances: Length = high - low + _disagreement(list(blocks), manometer)
    return balances


def _zero(sheet: Sheet, manometer: InclinedManometer) -> Length:
    blocks, balances = zero_blocks(sheet), zero_balances(sheet, manometer)
    read = [np.mean([row.high - row.low for row in block]) for block in blocks]
    first = np.array([blocks[found.before] for found in sheet.sets])
    last = np.array([blocks[found.after or found.before] for found in sheet.sets])
    drifts = [
        drift_of(manometer, float(read[a]), float(read[b]))
        for a, b in zip(first, last, strict=True)
    ]
    set_of_run = np.repeat(np.arange(len(sheet.sets)), [len(s.runs) for s in sheet.sets])
    zero: Length = (balances[first] + balances[last]) / 2 + concatenate(drifts)
    return zero[set_of_run].labelled(f"{manometer.label} zero")


def _disagreement(blocks: list[tuple[SheetRow, ...]], manometer: InclinedManometer) -> Length:
    differences = [[row.high - row.low for row in block] for block in blocks]
    half_ranges = [(max(found) - min(found)) / 2 for found in differences]
    label = f"{manometer.label} zero, disagreement of its rows"
    return Length(np.zeros(len(blocks)), manometer.scale.unit, limits(half_ranges), label=label)


def _refuse_exchanged(sheet: Sheet, manometer: InclinedManometer, difference: Length) -> None:
    question = "are high and low exchanged?"
    try:
        refuse_negative(manometer, difference, question)
    except RangeError:
        for run, single in zip(sheet.runs, difference, strict=True):
            try:
                refuse_negative(manometer, single, question)
            except RangeError as error:
                raise sheet.error(run.line, "high", str(error)) from None
        raise
