"""`Sheet`: the rows of a lab sheet, and the runs and sets that they make up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import SheetError

__all__ = ["Run", "RunSet", "Sheet", "SheetRow"]


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
        In the units of the thermometer and of the manometer. Where that has one reading, it is
        ``high``, and ``low`` is 0.
    angle : float
        Inclination in deg; that of the manometer where the sheet has no such column.
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
    columns : tuple of str
        Names of the columns that a sheet of its bench has.
    header_units : mapping
        Unit in the header of each column that has one.
    """

    file: str
    rows: tuple[SheetRow, ...]
    sets: tuple[RunSet, ...]
    units: Mapping[str, str]
    columns: tuple[str, ...] = (
        "run",
        "meter",
        "flow",
        "temperature",
        "angle",
        "high",
        "low",
        "note",
    )
    header_units: Mapping[str, str] = field(default_factory=dict)

    @property
    def runs(self) -> tuple[Run, ...]:
        """All runs, in the order of the sheet."""
        return tuple(run for found in self.sets for run in found.runs)

    def error(self, line: int, column: str, reason: str) -> SheetError:
        """Make an error that names a place in this sheet."""
        return SheetError(reason, self.file, line, column)
