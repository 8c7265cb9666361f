"""A thermometer in a bench file: its scale, its accuracy, and corrections of three kinds.

- constant: ``{ value = "-0.3 K", expanded = 0.1, k = 2 }``;
- the table of a certificate: ``{ points = [0, 20, 40], corrections = [0.05, -0.10, -0.20],
  unit = "K", limits = 0.02 }``, with ``errors`` in place of ``corrections`` where the
  certificate lists indication less reference;
- an emergent stem: ``{ stem_temperature = { value = "25 degC", limits = 3 },
  emergent = { value = "20 K", limits = 1 }, filling = "organic" }``.

Several in a list add up.

``filling = "mercury"``: mercury is toxic, follow your local rules and ask qualified staff.
"""

from __future__ import annotations

from typing import Any

from flowunc.bench.description.scale_table import INSTRUMENT_KEYS, made, read_accuracy, read_scale
from flowunc.bench.description.statement_table import (
    STATEMENT_KEYS,
    quantity_of,
    read_quantity,
    read_statement,
    series_of,
)
from flowunc.bench.description.toml_table import TomlTable
from flowunc.core.kinds import Temperature
from flowunc.core.quantity import Quantity
from flowunc.instruments.correction_table import CorrectionTable
from flowunc.instruments.emergent_stem import EmergentStem
from flowunc.instruments.thermometer import Thermometer

__all__ = ["read_thermometer"]

Correction = Quantity | CorrectionTable | EmergentStem

_CONSTANT = 'correction = { value = "-0.3 K", expanded = 0.1, k = 2 }'
_TABLE = (
    "correction = { points = [0, 20, 40], corrections = [0.05, -0.10, -0.20], "
    'unit = "K", limits = 0.02 }'
)
_STEM = (
    'correction = { stem_temperature = { value = "25 degC", limits = 3 }, '
    'emergent = { value = "20 K", limits = 1 } }'
)
_POINTS = ("points", "corrections", "errors", "interpolation")
_STEM_KEYS = ("stem_temperature", "emergent", "surface", "filling", "coefficient")


def read_thermometer(table: TomlTable) -> Thermometer:
    """Read the section of the thermometer."""
    table.allow_only((*INSTRUMENT_KEYS, "correction"))
    scale = read_scale(table, "degC")
    accuracy = read_accuracy(table, "thermometer")
    plain = made(table, Thermometer, scale, accuracy=accuracy)
    if "correction" not in table:
        return plain
    corrections = tuple(
        _correction(item, scale.unit) for item in table.items("correction", _CONSTANT)
    )
    return table.attempt(
        lambda: Thermometer(scale, accuracy=accuracy, correction=corrections), "correction"
    )


def _correction(table: TomlTable, unit: str) -> Correction:
    if any(name in table for name in ("points", "corrections", "errors")):
        return _certificate(table, unit)
    if any(name in table for name in _STEM_KEYS):
        return _stem(table)
    if "value" not in table:
        table.allow_only(("value", "unit", "uncertainty", *_POINTS, *_STEM_KEYS, *STATEMENT_KEYS))
    return quantity_of(table, Quantity, "thermometer correction", _CONSTANT)


def _certificate(table: TomlTable, unit: str) -> CorrectionTable:
    points = table.numbers("points", f"readings at which it was calibrated: {_TABLE}")
    name = "errors" if "errors" in table else "corrections"
    if name == "errors" and "corrections" in table:
        raise table.error("corrections and errors together; expected either", "errors")
    # one place in a list for each point, and a unit of its own: differences are no readings
    given = series_of(
        table, name, Quantity, "", _TABLE, beside=tuple(key for key in _POINTS if key != name)
    )
    options: dict[str, Any] = {
        "points": table.attempt(lambda: Temperature(points, unit), "points"),
        "interpolation": read_statement(table, "interpolation"),
    }
    if name == "errors":
        return table.attempt(lambda: CorrectionTable.from_errors(errors=given, **options))
    return table.attempt(lambda: CorrectionTable(corrections=given, **options))


def _stem(table: TomlTable) -> EmergentStem:
    table.allow_only(_STEM_KEYS)
    options: dict[str, Any] = {
        "stem_temperature": read_quantity(
            table, "stem_temperature", Temperature, "thermometer stem temperature", _STEM
        )
    }
    if "emergent" in table:
        options["emergent"] = read_quantity(
            table, "emergent", Quantity, "thermometer emergent column", _STEM
        )
    if "surface" in table:
        options["surface"] = read_quantity(
            table,
            "surface",
            Temperature,
            "thermometer surface mark",
            'surface = "15 degC", the mark at the surface of the liquid',
            needs_statement=False,
        )
    if "coefficient" in table:
        options["coefficient"] = read_quantity(
            table,
            "coefficient",
            Quantity,
            "thermometer stem coefficient",
            'coefficient = { value = "0.00016 1/K", limits = 0.00001 }',
        )
    if "filling" in table:
        options["filling"] = table.choice("filling", ("mercury", "organic"), "mercury")
    return table.attempt(lambda: EmergentStem(**options))
