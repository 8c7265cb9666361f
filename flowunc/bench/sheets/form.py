"""`SheetForm`: which columns the sheets of a bench have, and what they measure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flowunc.bench.description.bench import Bench
from flowunc.core import dimensions as dim
from flowunc.core.dimensions import Dimension

__all__ = ["ANY_COLUMN", "INCLINED", "OPTIONAL", "UNIT_OPTIONAL", "SheetForm", "form_of"]

OPTIONAL = ("note",)
UNIT_OPTIONAL = ("flow",)  # without one, in the unit of the meter that the row names
ANY_COLUMN = (
    "run",
    "meter",
    "flow",
    "temperature",
    "angle",
    "high",
    "low",
    "reading",
    "note",
)


@dataclass(frozen=True)
class SheetForm:
    """The columns of a sheet.

    Attributes
    ----------
    units : mapping
        By the name of the column: dimension of its unit (None: has none), and the unit that
        messages show.
    manometer : str
        In words, for which the columns are as they are.
    """

    units: Mapping[str, tuple[Dimension | None, str]]
    manometer: str

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(self.units)

    def shown(self, name: str) -> str:
        """Write the header of a column, as in "high [mm]"."""
        dimension, example = self.units[name]
        return name if dimension is None or name in UNIT_OPTIONAL else f"{name} [{example}]"


def _form(
    read: tuple[str, ...], dimension: Dimension, example: str, inclines: bool, manometer: str
) -> SheetForm:
    units: dict[str, tuple[Dimension | None, str]] = {
        "run": (None, ""),
        "meter": (None, ""),
        "flow": (dim.VOLUME_FLOW_RATE, "L/min"),
        "temperature": (dim.TEMPERATURE, "degC"),
    }
    if inclines:
        units["angle"] = (dim.DIMENSIONLESS, "deg")
    units |= {name: (dimension, example) for name in read}
    return SheetForm({**units, "note": (None, "")}, manometer)


INCLINED = _form(("high", "low"), dim.LENGTH, "mm", True, "an inclined manometer of two limbs")


def form_of(bench: Bench) -> SheetForm:
    """Return the form of the sheets that are filled in at a bench."""
    kind, unit = bench.manometer_kind, bench.manometer.scale.parsed_unit
    example = "mm" if unit.dimension is dim.LENGTH else str(unit)
    return _form(kind.columns, unit.dimension, example, bench.inclines, kind.title)
