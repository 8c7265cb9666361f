"""A scale, as the section of an instrument in a bench file describes it.

``unit``, ``division`` and, if wanted, ``span``, ``kind`` (graduated, digital or vernier),
``read_to``, ``vernier_divisions``, ``parallax`` and ``zero_error``.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any, TypeVar

from flowunc.bench.description.statement_table import read_statement, read_statements
from flowunc.bench.description.toml_table import TomlTable, described
from flowunc.core.errors import FlowuncError, StatementError
from flowunc.core.statements import Statement
from flowunc.core.units import parse_unit
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.scale import Scale

__all__ = ["INSTRUMENT_KEYS", "made", "read_accuracy", "read_scale"]

AnyInstrument = TypeVar("AnyInstrument", bound=Instrument[Any])

_SCALE_KEYS = (
    "unit",
    "division",
    "span",
    "kind",
    "read_to",
    "vernier_divisions",
    "parallax",
    "zero_error",
)
INSTRUMENT_KEYS = (*_SCALE_KEYS, "accuracy")
_KINDS = ("graduated", "digital", "vernier")
_SPAN = "span = [0.4, 4.0], lowest and highest reading"


def read_scale(table: TomlTable, unit_example: str, *, needs_span: bool = False) -> Scale:
    """Read the scale of an instrument from its section."""
    unit = table.text("unit", f'unit = "{unit_example}"')
    division = table.number("division", "the distance of two marks, such as division = 0.1")
    span: tuple[float, float] | None = None
    if needs_span or "span" in table:
        given = table.require("span", _SPAN)
        if not isinstance(given, list) or len(given) != 2:
            raise table.error(f"{described(given)}; expected {_SPAN}", "span")
        low, high = (table.checked_number(end, "span", _SPAN) for end in given)
        span = (low, high)
    options: dict[str, Any] = {"kind": table.choice("kind", _KINDS, "graduated")}
    if "read_to" in table:
        options["read_to"] = table.number(
            "read_to", "the fraction of a division that is read, such as 0.5"
        )
    if options["kind"] == "vernier" or "vernier_divisions" in table:
        options["vernier_divisions"] = table.whole(
            "vernier_divisions", "those of the vernier, such as vernier_divisions = 20"
        )
    table.attempt(lambda: parse_unit(unit), "unit")
    scale = table.attempt(lambda: Scale(division, unit, span, **options))
    for name in ("parallax", "zero_error"):
        statement = read_statement(table, name)
        if statement is not None:
            errors: dict[str, Any] = {name: statement}
            scale = table.attempt(partial(replace, scale, **errors), name)
    return scale


def read_accuracy(table: TomlTable, role: str, *, needed: bool = True) -> tuple[Statement, ...]:
    """Read what is stated of the calibration, nothing where that may be left out."""
    if not needed and "accuracy" not in table:
        return ()
    return read_statements(table, "accuracy", role)


def made(
    table: TomlTable, kind: type[AnyInstrument], scale: Scale, /, *arguments: Any, **options: Any
) -> AnyInstrument:
    """Make an instrument; what it complains about is about its section."""
    try:
        return kind(scale, *arguments, **options)
    except StatementError as error:
        raise table.error(str(error), "accuracy") from None
    except FlowuncError as error:
        raise table.error(str(error)) from None
