"""From the cells of a row to readings in the units of the instruments, or a refusal."""

from __future__ import annotations

from typing import Any

import numpy as np

from flowunc.bench.description.bench import Bench
from flowunc.bench.nearest_name import nearest
from flowunc.bench.sheets.columns import SheetCells
from flowunc.bench.sheets.sheet import SheetRow
from flowunc.bench.sheets.text import Record
from flowunc.core.errors import FlowuncError, RangeError, SheetError
from flowunc.core.kinds import Temperature
from flowunc.core.units import Unit, parse_unit
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.transmitter import PressureTransmitter

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
        flow = self._no_flow(record) if is_zero else self._flow(record, meter)
        temperature = self._reading(record, "temperature", self.bench.thermometer, "19.0")
        angle = self._angle(record) if self.bench.inclines else self.bench.fixed_angle
        high, low = self._columns(record, is_zero)
        return SheetRow(
            line=record.line,
            label=_ZERO if is_zero else " ".join(label.split()),
            meter=meter,
            flow=flow,
            temperature=temperature,
            angle=angle,
            high=high,
            low=low,
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
        return self._on_scale(
            record, name, instrument, self._number(record, name, instrument, example)
        )

    def _number(
        self, record: Record, name: str, instrument: Instrument[Any], example: str
    ) -> float:
        """Return the number in a cell in the unit of an instrument."""
        number = self.cells.number(record, name, example)
        unit = self.cells.unit(name)
        return number if unit is None else _converted(number, unit, instrument.scale.parsed_unit)

    def _on_scale(
        self, record: Record, name: str, instrument: Instrument[Any], number: float
    ) -> float:
        try:
            instrument.scale.check(number, instrument.label)
            instrument._check_readings(np.asarray(number))  # a calibration may not reach so far
        except RangeError as error:
            raise self.cells.error(record.line, name, str(error)) from None
        return number

    def _columns(self, record: Record, is_zero: bool) -> tuple[float, float]:
        """Return what was read from the manometer; a single reading has a second one of 0."""
        manometer = self.bench.manometer
        if "reading" not in self.bench.manometer_kind.columns:
            high = self._reading(record, "high", manometer, "306.0")
            return high, self._reading(record, "low", manometer, "299.5")
        if is_zero and isinstance(manometer, PressureTransmitter):
            # a display shows a little less than nothing, whatever its span and calibration
            return self._number(record, "reading", manometer, "0.02"), 0.0
        return self._reading(record, "reading", manometer, "12.5"), 0.0

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
        """Refuse temperatures at which the properties of the liquid are not known."""
        if not rows:
            raise SheetError(
                "no rows below the header; expected zero rows and runs", self.cells.file, 1
            )
        if self._refused(rows) is None:
            return
        for row in rows:
            reason = self._refused((row,))
            if reason is not None:
                raise self.cells.error(row.line, "temperature", reason)

    def _refused(self, rows: tuple[SheetRow, ...]) -> str | None:
        """Return why these temperatures cannot be used, None where they can."""
        thermometer, density = self.bench.thermometer, self.bench.density
        every = [row.temperature for row in rows]
        runs = [row.temperature for row in rows if not row.is_zero]
        try:
            density(Temperature(every if len(rows) > 1 else every[0], thermometer.scale.unit))
            if runs:  # nothing but the balance is taken from zero rows
                density(thermometer.read(runs if len(rows) > 1 else runs[0]))
        except FlowuncError as error:
            return str(error)
        return None


def _converted(number: float, unit: Unit, wanted: Unit) -> float:
    if unit == wanted or (unit.factor == wanted.factor and unit.offset == wanted.offset):
        return number  # not one bit changes where nothing is to be converted
    # 12 digits: what is left of a conversion there and back is no reading off the scale
    return float(f"{wanted.from_si(unit.to_si(number)):.12g}")
