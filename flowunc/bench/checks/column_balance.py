"""The two columns of every run, and the zero that each run is counted from.

Zero rows without flow are read like runs: the offset has the resolution of both columns. A
block of zero rows that closes one set and opens the next is one reading behind both. Where the
manometer has one reading, that takes the place of the high column, and 0 that of the low one.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from flowunc.bench.description.bench import Bench
from flowunc.bench.description.manometer_kinds import Manometer
from flowunc.bench.repeats import HIGH, LOW, Scatter, scatter_of
from flowunc.bench.sheets.sheet import Sheet, SheetRow
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Length, Pressure
from flowunc.core.readings import concatenate
from flowunc.core.statements import limits
from flowunc.instruments.columns import ColumnManometer, drift_of, refuse_negative
from flowunc.instruments.transmitter import PressureTransmitter

__all__ = ["ColumnBalance", "column_balance", "zero_balances", "zero_blocks"]


class ColumnBalance(NamedTuple):
    """Readings of the manometer, one per run; ``zero`` is the offset.

    Lengths along its scale, or what a transmitter shows; ``low`` is exactly 0 where the manometer
    has one reading.
    """

    high: Length | Pressure
    low: Length | Pressure
    zero: Length | Pressure


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
    high: Any
    low: Any
    if isinstance(manometer, ColumnManometer):
        read = manometer._tied(
            manometer.read(found.means[:, HIGH], label="high column"),
            manometer.read(found.means[:, LOW], label="low column"),
        )
        high, low = (
            _swinging(manometer, found, column, reading)
            for column, reading in zip((HIGH, LOW), read, strict=True)
        )
    else:
        high = _swinging(manometer, found, HIGH, manometer.read(found.means[:, HIGH]))
        low = _nothing(manometer, len(found.means))
    zero = _zero(sheet, manometer)
    _refuse_exchanged(sheet, manometer, high - low - zero)
    return ColumnBalance(high, low, zero)


def _swinging(manometer: Manometer, scatter: Scatter, column: int, reading: Any) -> Any:
    """Add the scatter of repeats to the mean of one column."""
    line = manometer.line if isinstance(manometer, PressureTransmitter) else None
    # the scatter of a reading goes along the calibration line like the reading
    slope = None if line is None else np.full(len(scatter.means), float(line.slope._node.value))
    swing = scatter.of(column, type(reading), manometer.scale.parsed_unit, slope)
    return reading if swing is None else reading + swing


def _nothing(manometer: Manometer, count: int) -> Any:
    kind = Pressure if isinstance(manometer, PressureTransmitter) else Length
    return kind(np.zeros(count), manometer.scale.unit)


def zero_blocks(sheet: Sheet) -> dict[tuple[SheetRow, ...], int]:
    """Return the zero rows read at one place, each block once, with their number."""
    blocks: dict[tuple[SheetRow, ...], int] = {}
    for found in sheet.sets:
        for block in (found.before, found.after):
            if block:
                blocks.setdefault(block, len(blocks))
    return blocks


def zero_balances(sheet: Sheet, manometer: Manometer) -> Any:
    """Return high less low of every block of zero rows, in the order of `zero_blocks`.

    A Length, or for a transmitter the Pressure that it showed.
    """
    blocks = list(zero_blocks(sheet))
    means = {
        name: [float(np.mean([getattr(row, name) for row in block])) for block in blocks]
        for name in ("high", "low")
    }
    disagreement = _disagreement(blocks, manometer)
    if isinstance(manometer, PressureTransmitter):
        # its accuracy is not taken off by the zero, so only the resolution is in it
        return concatenate([manometer.zero_offset(level) for level in means["high"]]) + (
            disagreement if manometer.line is None else disagreement * manometer.line.slope
        )
    if not isinstance(manometer, ColumnManometer):
        return manometer.read(means["high"], label="zero") + disagreement
    read = manometer._tied(
        manometer.read(means["high"], label="zero, high column"),
        manometer.read(means["low"], label="zero, low column"),
        "zero, ",
    )
    high, low = (
        manometer._with_meniscus(reading, f"{name} column", "zero, ")
        for name, reading in zip(means, read, strict=True)
    )
    return high - low + disagreement


def _zero(sheet: Sheet, manometer: Manometer) -> Any:
    blocks, balances = zero_blocks(sheet), zero_balances(sheet, manometer)
    read = [np.mean([row.high - row.low for row in block]) for block in blocks]
    first = np.array([blocks[found.before] for found in sheet.sets])
    last = np.array([blocks[found.after or found.before] for found in sheet.sets])
    owner: Any = manometer
    drift: Any = concatenate(
        [
            drift_of(owner, float(read[a]), float(read[b]), which)
            for a, b, which in zip(first, last, _lines_of_zeros(sheet), strict=True)
        ]
    )
    if isinstance(manometer, PressureTransmitter) and manometer.line is not None:
        drift = drift * manometer.line.slope
    set_of_run = np.repeat(np.arange(len(sheet.sets)), [len(s.runs) for s in sheet.sets])
    zero = (balances[first] + balances[last]) / 2 + drift
    return zero[set_of_run].labelled(f"{manometer.label} zero")


def _lines_of_zeros(sheet: Sheet) -> list[str]:
    """Tell the drifts of several sets apart; parts of one source stand behind a comma."""
    if len(sheet.sets) == 1:
        return [""]
    return [
        f", lines {found.before[0].line} to {(found.after or found.before)[-1].line}"
        for found in sheet.sets
    ]


def _disagreement(blocks: list[tuple[SheetRow, ...]], manometer: Manometer) -> Any:
    differences = [[row.high - row.low for row in block] for block in blocks]
    half_ranges = [(max(found) - min(found)) / 2 for found in differences]
    label = f"{manometer.label} zero, disagreement of its rows"
    kind = Pressure if isinstance(manometer, PressureTransmitter) else Length
    return kind(np.zeros(len(blocks)), manometer.scale.unit, limits(half_ranges), label=label)


def _refuse_exchanged(sheet: Sheet, manometer: Any, difference: Any) -> None:
    column, question = "high", "are high and low exchanged?"
    if isinstance(manometer, PressureTransmitter):
        column, question = "reading", "are the ports exchanged?"
    elif not isinstance(manometer, ColumnManometer):
        column, question = "reading", "is the well connected to the lower pressure?"
    try:
        refuse_negative(manometer, difference, question)
    except RangeError:
        for run, single in zip(sheet.runs, difference, strict=True):
            try:
                refuse_negative(manometer, single, question)
            except RangeError as error:
                raise sheet.error(run.line, column, str(error)) from None
        raise
