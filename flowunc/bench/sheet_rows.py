"""From the cells of a row to readings in the units of the instruments, or a refusal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flowunc.bench.bench import Bench
from flowunc.bench.nearest_name import nearest
from flowunc.bench.sheet import SheetRow
from flowunc.bench.sheet_columns import SheetCells
from flowunc.bench.sheet_text import Record
from flowunc.core.errors import FlowuncError, RangeError, SheetError
from flowunc.core.kinds import Temperature
from flowunc.core.units import Unit, parse_unit
from flowunc.fluids import water
from flowunc.instruments.instrument import Instrument

__all__ = ["RowReader"]

_ZERO = "zero"
_DEGREE = parse_unit("deg")


class RowReader:
    """Turns cells into rows in the units of the instruments."""

    def __init__(self, cells: SheetCells, bench: Bench) -> None:
        self.cells = cells
        self.bench = bench

    def row(self, record: Record) -> SheetRow:
        """Read one row, refused at its first cell that cannot be used."""
        cells = self.cells
        cells.check_width(record)
        label = cells.text(record, "run")
        if not label:
            cells.refuse(record, "run", "the cell is empty; expected a label of the run, or zero")
        for name in ("run", "meter", "note"):
            if not " ".join(cells.text(record, name).split()).isprintable():
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

    def _reading(
        self, record: Record, name: str, instrument: Instrument[Any], example: str
    ) -> float:
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
            # B023: the function is called at once, before the row changes
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
