"""Which rows belong together: repeats of one run, and runs between zero rows at one angle."""

from __future__ import annotations

from collections.abc import Mapping

from flowunc.bench.sheets.columns import SheetCells
from flowunc.bench.sheets.sheet import Run, RunSet, SheetRow
from flowunc.core.errors import SheetError, warn_user

__all__ = ["find_sets"]


def find_sets(rows: tuple[SheetRow, ...], cells: SheetCells) -> tuple[RunSet, ...]:
    """Find the sets: runs at one angle, with the zero rows at that angle on both sides.

    A sheet without angles has all of its rows at one.

    Raises
    ------
    SheetError
        Runs without a zero row before them; rows of one label that are no repeats.

    Warns
    -----
    FlowuncWarning
        Runs without a zero row after them; zero rows beside no run.
    """
    blocks: list[list[SheetRow]] = []
    for row in rows:
        last = blocks[-1][-1] if blocks else None
        if last is None or (row.is_zero, row.angle) != (last.is_zero, last.angle):
            blocks.append([])
        blocks[-1].append(row)
    found: list[RunSet] = []
    used: set[int] = set()
    seen: dict[str, int] = {}  # the first line of every label
    remarks: list[str] = []  # said when all rows are known to be usable
    for place, block in enumerate(blocks):
        if block[0].is_zero:
            continue
        first, angle = block[0], block[0].angle
        before = blocks[place - 1] if place else []
        if not before or not before[0].is_zero or before[0].angle != angle:
            column = "angle" if first.label in seen else "run"
            raise cells.error(first.line, column, _no_zero(first, before, seen, cells))
        used.add(place - 1)
        after = blocks[place + 1] if place + 1 < len(blocks) else []
        if after and after[0].is_zero and after[0].angle == angle:
            used.add(place + 1)
        else:
            after = []
            remarks.append(
                f"{cells.file}, line {block[-1].line}: no zero row{_at(angle, cells)} after this "
                "run, so the drift of the zero over its set is not known and counts as none; shut "
                f"the valve and read the {_zero_word(cells)} at the end of each set"
            )
        runs = _runs(block, seen, cells)
        found.append(RunSet(angle, runs, tuple(before), tuple(after)))
    if not found:
        raise SheetError(
            "no run; expected rows with flow between the zero rows", cells.file, rows[-1].line
        )
    for place, block in enumerate(blocks):
        if block[0].is_zero and place not in used:
            remarks.append(
                f"{cells.file}, line {block[0].line}: this zero row at {block[0].angle:g} deg "
                "stands beside no run at that angle and is not used; check its angle"
            )
    for remark in remarks:
        warn_user(remark)
    return tuple(found)


def _at(angle: float, cells: SheetCells) -> str:
    """Name an angle, which a sheet without that column knows nothing of."""
    return f" at {angle:g} deg" if "angle" in cells.form.units else ""


def _zero_word(cells: SheetCells) -> str:
    return "zero" if "reading" in cells.form.units else "balance"


def _no_zero(
    first: SheetRow, before: list[SheetRow], seen: Mapping[str, int], cells: SheetCells
) -> str:
    at_that = " at that angle" if "angle" in cells.form.units else ""
    wanted = f"expected a zero row{_at(first.angle, cells)} before the first run{at_that}"
    if not before:  # all that can be missing where there are no angles
        return f"run {first.label!r} has no zero row before it; {wanted}"
    if before[0].is_zero:
        return (
            f"run {first.label!r} is at {first.angle:g} deg, but the zero row before it, line "
            f"{before[-1].line}, is at {before[0].angle:g} deg; {wanted}"
        )
    if first.label in seen:
        return (
            f"run {first.label!r} is at {first.angle:g} deg here and at {before[0].angle:g} deg "
            f"on line {seen[first.label]}; expected repeats of one run at one angle"
        )
    return (
        f"run {first.label!r} is at {first.angle:g} deg and follows a run at "
        f"{before[0].angle:g} deg; {wanted}"
    )


def _runs(block: list[SheetRow], seen: dict[str, int], cells: SheetCells) -> tuple[Run, ...]:
    """Join repeats: rows of one label that follow each other. ``seen`` has all labels so far."""
    groups: list[list[SheetRow]] = []
    for row in block:
        if groups and groups[-1][0].label == row.label:
            first = groups[-1][0]
            if row.meter != first.meter:
                raise cells.error(
                    row.line,
                    "meter",
                    f"run {row.label!r} was read on meter {first.meter!r} on line {first.line} and "
                    f"on {row.meter!r} here; expected repeats on one meter: give the other a "
                    "label of its own",
                )
            groups[-1].append(row)
            continue
        if row.label in seen:
            raise cells.error(
                row.line,
                "run",
                f"run {row.label!r} is on line {seen[row.label]} already; expected repeats to "
                "follow each other, and a label of its own for another run",
            )
        seen[row.label] = row.line
        groups.append([row])
    return tuple(Run(tuple(group)) for group in groups)
