"""`read_sheet`: a lab sheet, checked cell by cell against the bench it was filled in at."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from os import PathLike
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.bench import Bench
from flowunc.bench.sheet_columns import SheetCells
from flowunc.bench.sheet_text import Record, read_sheet_text
from flowunc.bench.toml_table import nearest
from flowunc.core.errors import FlowuncError, RangeError, SheetError, warn_user
from flowunc.core.kinds import Temperature
from flowunc.core.units import Unit, parse_unit
from flowunc.fluids import water
from flowunc.instruments.instrument import Instrument

__all__ = ["Run", "RunSet", "Sheet", "SheetRow", "read_sheet"]

_ZERO = "zero"
_DEGREE = parse_unit("deg")


@dataclass(frozen=True)
class SheetRow:
    """One row of a sheet, in the units of the instruments it was read from.

    Attributes
    ----------
    line : int
        Line of the file.
    label : str
        Of the run; "zero" for a balance check without flow.
    meter : str
        "" in a zero row.
    flow : float
        In the unit of that meter; 0 in a zero row.
    temperature, high, low : float
        In the units of the thermometer and of the manometer.
    angle : float
        Inclination in deg.
    note : str
    """

    line: int
    label: str
    meter: str
    flow: float
    temperature: float
    angle: float
    high: float
    low: float
    note: str

    @property
    def is_zero(self) -> bool:
        """Whether it is a balance check without flow."""
        return not self.meter


@dataclass(frozen=True)
class Run:
    """The rows of one run: one, or several where the readings were repeated."""

    rows: tuple[SheetRow, ...]

    @property
    def label(self) -> str:
        """Name of the run."""
        return self.rows[0].label

    @property
    def line(self) -> int:
        """Line of its first row."""
        return self.rows[0].line

    @property
    def meter(self) -> str:
        """Name of the meter that was read."""
        return self.rows[0].meter

    @property
    def notes(self) -> str:
        """The notes of its rows."""
        return "; ".join(row.note for row in self.rows if row.note)

    def readings(self) -> NDArray[np.float64]:
        """Return flow, temperature, high and low of every row, shape (rows, 4)."""
        return np.array([(row.flow, row.temperature, row.high, row.low) for row in self.rows])


@dataclass(frozen=True)
class RunSet:
    """Runs at one inclination with the zero rows before and after them.

    Attributes
    ----------
    angle : float
        In deg.
    runs : tuple of Run
    before, after : tuple of SheetRow
        Zero rows; ``after`` is empty where there are none.
    """

    angle: float
    runs: tuple[Run, ...]
    before: tuple[SheetRow, ...]
    after: tuple[SheetRow, ...]


@dataclass(frozen=True)
class Sheet:
    """A lab sheet that can be analysed.

    Attributes
    ----------
    file : str
    rows : tuple of SheetRow
        All of them, in the order of the file.
    sets : tuple of RunSet
    units : mapping
        Unit of the readings of each instrument: "thermometer", "manometer" and the meters by
        ``"meters.NAME"``.
    """

    file: str
    rows: tuple[SheetRow, ...]
    sets: tuple[RunSet, ...]
    units: Mapping[str, str]

    @property
    def runs(self) -> tuple[Run, ...]:
        """All runs, in the order of the sheet."""
        return tuple(run for found in self.sets for run in found.runs)

    def error(self, line: int, column: str, reason: str) -> SheetError:
        """Make an error that names a place in this sheet."""
        return SheetError(reason, self.file, line, column)


def read_sheet(path: str | PathLike[str], bench: Bench) -> Sheet:
    """Read and check a lab sheet.

    Parameters
    ----------
    path : str or path
        CSV file, UTF-8, with a header such as
        ``run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note``, in order of
        time. Separated by semicolons, if the header line has semicolons and no comma; then a
        comma in a number is a decimal comma.
    bench : Bench
        Where it was filled in.

    Returns
    -------
    Sheet

    Raises
    ------
    SheetError
        A row that cannot be used: names file, line and column, what was found and what was
        expected. No row is passed over.

    Warns
    -----
    FlowuncWarning
        Runs without a zero row after them, whose drift is not known; zero rows beside no run.

    Notes
    -----
    ``flow`` is in the unit of the meter of its row, unless its header has a unit. Rows of one
    label that follow each other are repeats of one run. ``zero`` rows at one angle that follow
    each other are averaged; those before and after the runs at that angle bracket them, and one
    block of zero rows may close one set and open the next.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> sheet = read_sheet(folder / "sheet.csv", load_bench(folder / "bench.toml"))
    >>> [found.angle for found in sheet.sets]
    [10.0, 30.0]
    """
    from flowunc.bench.column_balance import column_balance  # which takes a Sheet

    reader = _RowReader(SheetCells(read_sheet_text(path)), bench)
    rows = tuple(reader.row(record) for record in reader.cells.rows)
    reader.check_water(rows)
    units = {f"meters.{name}": meter.scale.unit for name, meter in bench.meters.items()}
    units |= {"thermometer": bench.thermometer.scale.unit, "manometer": bench.manometer.scale.unit}
    sheet = Sheet(reader.cells.file, rows, _sets(rows, reader.cells), units)
    column_balance(sheet, bench)  # refuses columns that were exchanged
    return sheet


class _RowReader:
    """Turns cells into rows in the units of the instruments."""

    def __init__(self, cells: SheetCells, bench: Bench) -> None:
        self.cells = cells
        self.bench = bench

    def row(self, record: Record) -> SheetRow:
        cells = self.cells
        cells.check_width(record)
        label = cells.text(record, "run")
        if not label:
            cells.refuse(record, "run", "the cell is empty; expected a label of the run, or zero")
        for name in ("run", "meter", "note"):
            if not cells.text(record, name).replace("\n", " ").isprintable():
                cells.refuse(record, name, "characters that cannot be printed; expected text")
        is_zero = label.casefold() == _ZERO
        meter = self._meter(record, is_zero)
        return SheetRow(
            line=record.line,
            label=_ZERO if is_zero else " ".join(label.split()),
            meter=meter,
            flow=self._no_flow(record) if is_zero else self._flow(record, meter),
            temperature=self._reading(record, "temperature", self.bench.thermometer, "19.0"),
            angle=self._angle(record),
            high=self._reading(record, "high", self.bench.manometer, "306.0"),
            low=self._reading(record, "low", self.bench.manometer, "299.5"),
            note=" ".join(cells.text(record, "note").split()),
        )

    def _meter(self, record: Record, is_zero: bool) -> str:
        name = self.cells.text(record, "meter")
        known = ", ".join(self.bench.meters)
        if not name and is_zero:
            return ""
        if not name:
            self.cells.refuse(record, "meter", f"the cell is empty; expected one of {known}")
        if name not in self.bench.meters:
            hint = nearest(name, self.bench.meters)
            self.cells.refuse(record, "meter", f"no meter {name!r}; {hint}expected one of {known}")
        return "" if is_zero else name

    def _no_flow(self, record: Record) -> float:
        found = self.cells.text(record, "flow")
        if found and self.cells.number(record, "flow", "0") != 0:
            self.cells.refuse(
                record,
                "flow",
                f"{found!r} in a zero row; expected no flow: a zero row is a balance check with "
                "the valve shut",
            )
        return 0.0

    def _flow(self, record: Record, meter: str) -> float:
        instrument = self.bench.meters[meter]
        number = self.cells.number(record, "flow", "1.8")
        if number <= 0:
            self.cells.refuse(
                record,
                "flow",
                f"{number:g}; expected a flow above 0: a row without flow is a zero row, with "
                "'zero' as its run",
            )
        unit = self.cells.unit("flow")
        if unit is not None:
            number = _converted(number, unit, instrument.scale.parsed_unit)
        return self._on_scale(record, "flow", instrument, number)

    def _reading(self, record: Record, name: str, instrument: Instrument[Any], example: str) -> float:
        number = self.cells.number(record, name, example)
        unit = self.cells.unit(name)
        if unit is not None:
            number = _converted(number, unit, instrument.scale.parsed_unit)
        return self._on_scale(record, name, instrument, number)

    def _on_scale(
        self, record: Record, name: str, instrument: Instrument[Any], number: float
    ) -> float:
        try:
            instrument.scale.check(number, instrument.label)
        except RangeError as error:
            raise self.cells.error(record.line, name, str(error)) from None
        return number

    def _angle(self, record: Record) -> float:
        number = self.cells.number(record, "angle", "10")
        unit = self.cells.unit("angle")
        degrees = number if unit is None else _converted(number, unit, _DEGREE)
        degrees = round(degrees, 9)
        if not 0 < degrees <= 90:
            self.cells.refuse(
                record,
                "angle",
                f"{degrees:g} deg; expected the inclination to the horizontal, above 0 and up to "
                "90 deg",
            )
        return degrees

    def check_water(self, rows: tuple[SheetRow, ...]) -> None:
        """Refuse temperatures at which the water would not be liquid."""
        if not rows:
            raise SheetError(
                "no rows below the header; expected zero rows and runs", self.cells.file, 1
            )
        unit = self.bench.thermometer.scale.unit
        readings = [row.temperature for row in rows]
        if _refusal(lambda: water.density(Temperature(readings, unit))) is None:
            return
        for row in rows:
            reason = _refusal(lambda: water.density(Temperature(row.temperature, unit)))  # noqa: B023
            if reason is not None:
                raise self.cells.error(row.line, "temperature", reason)


def _refusal(attempt: Callable[[], object]) -> str | None:
    try:
        attempt()
    except FlowuncError as error:
        return str(error)
    return None


def _converted(number: float, unit: Unit, wanted: Unit) -> float:
    if unit == wanted or (unit.factor == wanted.factor and unit.offset == wanted.offset):
        return number  # not one bit changes where nothing is to be converted
    # 12 digits: what is left of a conversion there and back is no reading off the scale
    return float(f"{wanted.from_si(unit.to_si(number)):.12g}")


def _sets(rows: tuple[SheetRow, ...], cells: SheetCells) -> tuple[RunSet, ...]:
    """Find the sets: runs at one angle, with the zero rows at that angle on both sides."""
    blocks: list[list[SheetRow]] = []
    for row in rows:
        last = blocks[-1][-1] if blocks else None
        if last is None or (row.is_zero, row.angle) != (last.is_zero, last.angle):
            blocks.append([])
        blocks[-1].append(row)
    found, used, seen = [], set(), {}
    for place, block in enumerate(blocks):
        if block[0].is_zero:
            continue
        first, angle = block[0], block[0].angle
        before = blocks[place - 1] if place else []
        if not before or not before[0].is_zero or before[0].angle != angle:
            raise cells.error(first.line, "run", _no_zero(first, before, seen))
        used.add(place - 1)
        after = blocks[place + 1] if place + 1 < len(blocks) else []
        if after and after[0].is_zero and after[0].angle == angle:
            used.add(place + 1)
        else:
            after = []
            warn_user(
                f"{cells.file}, line {block[-1].line}: no zero row at {angle:g} deg after this "
                "run, so the drift of the zero over its set is not known and counts as none; shut "
                "the valve and read the balance at the end of each set"
            )
        runs = _runs(block, seen, cells)
        found.append(RunSet(angle, runs, tuple(before), tuple(after)))
    if not found:
        raise SheetError("no run; expected rows with flow between the zero rows", cells.file,
                         rows[-1].line)
    for place, block in enumerate(blocks):
        if block[0].is_zero and place not in used:
            warn_user(
                f"{cells.file}, line {block[0].line}: this zero row at {block[0].angle:g} deg "
                "stands beside no run at that angle and is not used; check its angle"
            )
    return tuple(found)


def _no_zero(first: SheetRow, before: list[SheetRow], seen: Mapping[str, int]) -> str:
    wanted = f"expected a zero row at {first.angle:g} deg before the first run at that angle"
    if not before:
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


def _runs(
    block: list[SheetRow], seen: dict[str, int], cells: SheetCells
) -> tuple[Run, ...]:
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
