"""Statements of uncertainty and values with units, as a bench file writes them.

The words are those of the functions: ``{ limits = 0.05 }``, ``{ limits = "0.05 mm" }``,
``{ expanded = 0.30, k = 2 }``, ``{ error_limit = 2.5, linearity_limit = 50 }``; a list of
such tables where several add up. ``shared = true`` makes it one error behind several values.
A value is text with its unit, in a table with its statement:
``{ value = "19.05 mm", limits = 0.05 }``; many values are numbers with one unit:
``{ values = [871, 864, 857], unit = "kg/m^3", limits = 2, shared = true }``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

from flowunc.bench.description.possible_values import Floor, refuse_impossible
from flowunc.bench.description.toml_table import TomlTable, described
from flowunc.bench.nearest_name import nearest
from flowunc.core.errors import BenchError, FlowuncError
from flowunc.core.quantity import Quantity
from flowunc.core.statements import (
    Statement,
    arcsine,
    expanded,
    limits,
    repeated,
    shared,
    standard,
    triangular,
)
from flowunc.core.units import parse_unit
from flowunc.instruments.accuracy import (
    error_limit,
    percent_of_full_scale,
    percent_of_reading,
)
from flowunc.instruments.platinum_resistance import iec_60751

__all__ = [
    "STATEMENT_KEYS",
    "WORDS",
    "is_name",
    "quantity_of",
    "read_amount",
    "read_quantity",
    "read_statement",
    "read_statements",
    "series_of",
]

K = TypeVar("K", bound=Quantity)

# Nothing of the number is given back: of "16,00 mm" the unit would be "6,00 mm".
_AMOUNT = re.compile(
    r"((?>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?))\s*([^\s.,].*)?"
)
_BEGINS = re.compile(r"\s*[+-]?[0-9.]")


class Word(NamedTuple):
    """One way to state an uncertainty: its function, and the options it takes and needs."""

    function: Callable[..., Statement]
    options: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    has_unit: bool = True
    example: str = ""
    words: tuple[str, ...] = ()  # what it may be, if it is no number
    texts: tuple[str, ...] = ()  # options that are text
    is_percentage: bool = False


WORDS = {
    "limits": Word(limits, ("inexact", "dof"), example="{ limits = 0.05 }"),
    "triangular": Word(triangular, ("dof",), example="{ triangular = 0.05 }"),
    "arcsine": Word(arcsine, ("dof",), example="{ arcsine = 0.05 }"),
    "standard": Word(standard, ("dof",), example="{ standard = 0.02 }"),
    "expanded": Word(expanded, ("k", "level", "dof"), example="{ expanded = 0.30, k = 2 }"),
    "repeated": Word(repeated, example="{ repeated = [19.04, 19.06, 19.05] }"),
    "percent_of_reading": Word(
        percent_of_reading,
        ("k", "dof"),
        has_unit=False,
        example="{ percent_of_reading = 2.0 }",
        is_percentage=True,
    ),
    "percent_of_full_scale": Word(
        percent_of_full_scale,
        ("k", "dof"),
        has_unit=False,
        example="{ percent_of_full_scale = 2.0 }",
        is_percentage=True,
    ),
    "error_limit": Word(
        error_limit,
        ("k", "dof", "linearity_limit"),
        ("linearity_limit",),
        has_unit=False,
        example="{ error_limit = 2.5, linearity_limit = 50 }",
        is_percentage=True,
    ),
    "iec_60751": Word(
        iec_60751,
        has_unit=False,
        example='{ iec_60751 = "A", construction = "wire-wound" }',
        words=("AA", "A", "B", "C"),
        texts=("construction",),
    ),
}
# every key that a table with a statement in it may have
STATEMENT_KEYS = tuple(
    dict.fromkeys(
        key
        for name, word in WORDS.items()
        for key in (name, *word.options, *word.texts, "label", "shared")
    )
)
_EXAMPLES = "{ limits = 0.05 } or { expanded = 0.30, k = 2 }"


def read_amount(table: TomlTable, name: str, value: Any, how: str) -> tuple[float, str]:
    """Split text such as "19.05 mm" into number and unit, both checked."""
    if not isinstance(value, str):
        raise table.error(f"{described(value)} without a unit; expected text: {how}", name)
    found = _AMOUNT.fullmatch(value.strip())
    if found is None:
        comma = " with a decimal point" if "," in value else ""
        raise table.error(f"{described(value)}; expected a number{comma} and a unit: {how}", name)
    number, unit = table.checked_number(float(found.group(1)), name, how), found.group(2)
    if unit is None:
        raise table.error(f"{described(value)} has no unit; expected {how}", name)
    try:
        parse_unit(unit)
    except FlowuncError as error:
        raise table.error(str(error), name) from None
    return number, unit


def is_name(value: Any) -> bool:
    """Tell whether an entry is text that names something, such as a material, and no amount."""
    return isinstance(value, str) and bool(value.strip()) and not _BEGINS.match(value)


def read_statements(table: TomlTable, name: str, role: str) -> tuple[Statement, ...]:
    """Read what is stated of an instrument: one table, or a list of tables."""
    value = table.require(
        name,
        f"what is stated of the {role}, such as {_EXAMPLES}; {{ limits = 0 }} if it has no error",
    )
    return _statements(table, name, value)


def read_statement(table: TomlTable, name: str) -> Statement | None:
    """Read one statement, None where there is no such key."""
    if name not in table:
        return None
    found = _statements(table, name, table[name])
    if len(found) > 1:
        raise table.error(f"{len(found)} statements; expected one, such as {_EXAMPLES}", name)
    return found[0]


def _statements(table: TomlTable, name: str, value: Any) -> tuple[Statement, ...]:
    items = value if isinstance(value, list) else [value]
    if not items:
        raise table.error(f"an empty list; expected {_EXAMPLES}", name)
    found = []
    for position, item in enumerate(items):
        place = f"{name}[{position}]" if isinstance(value, list) else name
        if not isinstance(item, dict):
            _refuse_bare_percentage(table, name, item)
            raise table.error(f"{described(item)}; expected a table such as {_EXAMPLES}", name)
        # the place in a list is no key of TOML, so it is put into the path as it is
        path = f"{table.path}.{place}" if table.path else place
        found.append(_one_statement(TomlTable(item, table.file, path)))
    return tuple(found)


def _one_statement(table: TomlTable, beside: tuple[str, ...] = ()) -> Statement:
    """Read one statement, written in a table that may have the keys ``beside`` as well."""
    used = [name for name in table.names() if name in WORDS]
    others = [name for name in table.names() if name not in WORDS and name not in beside]
    for name in others:
        if name.casefold() in ("percent", "percentage", "per_cent", "accuracy"):
            raise _which_percentage(table, name, table[name])
    if not used:
        known = [*WORDS, *(beside or ("label",))]
        if others and others[0] not in STATEMENT_KEYS:
            raise table.error(
                f"unknown key; {nearest(others[0], known)}expected one of {', '.join(WORDS)}",
                others[0],
            )
        raise table.error(
            f"no uncertainty stated; expected one of {', '.join(WORDS)}, such as {_EXAMPLES}; "
            "limits = 0 says that it is exact"
        )
    if len(used) > 1:
        several = "uncertainty = [ {...}, {...} ]" if beside else "[ {...}, {...} ]"
        raise table.error(
            f"{' and '.join(used)} in one table; where both apply write a list: {several}"
        )
    word = WORDS[used[0]]
    table.allow_only([used[0], *word.options, *word.texts, "label", "shared", *beside])
    return _made(table, used[0], word)


def _made(table: TomlTable, name: str, word: Word) -> Statement:
    options: dict[str, Any] = {}
    for option in word.needs:
        table.require(option, f"as in {word.example}")
    for option in word.options:
        if option in table:
            options[option] = table.number(option, f"as in {word.example}")
    for option in word.texts:
        if option in table:
            options[option] = table.text(option, f"as in {word.example}")
    if "label" in table:
        options["label"] = table.text("label", "the name of this error in budgets")
    given = table[name]
    size: Any
    if name == "repeated":
        if not isinstance(given, list):
            raise table.error(f"{described(given)}; expected a list as in {word.example}", name)
        size = [table.checked_number(item, name, f"as in {word.example}") for item in given]
    elif word.words:
        size = table.choice(name, word.words, "")
    elif isinstance(given, str):
        _refuse_bare_percentage(table, name, given)
        if not word.has_unit:
            raise table.error(
                f"{described(given)}; expected per cent as a number: {word.example}", name
            )
        size, options["unit"] = read_amount(table, name, given, f'{name} = "0.05 mm"')
    else:
        size = table.checked_number(given, name, f"as in {word.example}")
        if word.is_percentage and size >= 100:
            raise table.error(
                f"{size:g} per cent of it; expected less than 100, as in {word.example}", name
            )
    made = table.attempt(lambda: word.function(size, **options), name)
    one = table.flag("shared", False, "shared = true for one error behind all values")
    return shared(made) if one else made


def _refuse_bare_percentage(table: TomlTable, name: str, value: Any) -> None:
    if isinstance(value, str) and "%" in value:
        raise _which_percentage(table, name, value)


def _which_percentage(table: TomlTable, name: str, value: Any) -> BenchError:
    number = value if isinstance(value, (int, float)) and not isinstance(value, bool) else None
    if isinstance(value, str):
        found = re.match(r"[^0-9]*([0-9]+(?:\.[0-9]+)?)", value)
        number = float(found.group(1)) if found else None
    shown = f"{number:g}" if number is not None else "2"
    return table.error(
        f"{described(value)}, a percentage of what? Ask whoever has the data sheet: of the "
        f"reading, or of full scale? Then write {{ percent_of_reading = {shown} }} or "
        f"{{ percent_of_full_scale = {shown} }}",
        name,
    )


def read_quantity(
    table: TomlTable,
    name: str,
    kind: type[K],
    label: str,
    example: str,
    *,
    needs_statement: bool = True,
    floor: Floor = "above 0",
) -> K:
    """Read a value with unit and uncertainty: ``{ value = "19.05 mm", limits = 0.05 }``.

    Parameters
    ----------
    table : TomlTable
        The table that holds it.
    name : str
        Its key there.
    kind : type
        Kind of quantity.
    label : str
        Name in budgets.
    example : str
        What to write, for messages: 'bore = { value = "19.05 mm", limits = 0.05 }'.
    needs_statement : bool
        Whether a value without uncertainty is refused; if not, plain text will do.
    floor : {"above 0", "from 0", "anything"}
        What a length, a density and the like may be, its uncertainty included.
    """
    given = table.require(name, example)
    if isinstance(given, dict):
        return quantity_of(
            TomlTable(given, table.file, table.key(name)),
            kind,
            label,
            example,
            needs_statement=needs_statement,
            floor=floor,
        )
    if needs_statement:
        raise table.error(f"{described(given)} without an uncertainty; expected {example}", name)
    number, unit = read_amount(table, name, given, example)
    return _quantity(table, name, kind, number, unit, (), label)


def quantity_of(
    table: TomlTable,
    kind: type[K],
    label: str,
    example: str,
    *,
    needs_statement: bool = True,
    floor: Floor = "above 0",
) -> K:
    """Read a value with unit and uncertainty from a table of its own."""
    number, unit = read_amount(table, "value", table.require("value", example), example)
    statements = _beside(table, ("value",), needs_statement)
    return _quantity(table, None, kind, number, unit, statements, label, floor)


def series_of(
    table: TomlTable,
    name: str,
    kind: type[K],
    label: str,
    example: str,
    *,
    beside: tuple[str, ...] = (),
    needs_statement: bool = True,
) -> K:
    """Read many values of one unit from a table of their own.

    Parameters
    ----------
    table : TomlTable
        ``{ values = [871, 864], unit = "kg/m^3", limits = 2, shared = true }``.
    name : str
        Key of the list in it, such as "values".
    kind : type
        Kind of quantity.
    label : str
        Name in budgets.
    example : str
        What to write, for messages.
    beside : tuple of str
        What else the table may have.
    needs_statement : bool
        Whether values without uncertainty are refused.
    """
    values = table.numbers(name, example)
    unit = table.text("unit", example)
    table.attempt(lambda: parse_unit(unit), "unit")
    statements = _beside(table, (name, "unit", *beside), needs_statement)
    return _quantity(table, None, kind, values, unit, statements, label)


def _beside(
    table: TomlTable, others: tuple[str, ...], needs_statement: bool
) -> tuple[Statement, ...]:
    """Read what is stated in one table with other keys: a statement, or ``uncertainty = [...]``."""
    if "uncertainty" in table:
        table.allow_only([*others, "uncertainty"])
        return _statements(table, "uncertainty", table["uncertainty"])
    if needs_statement or any(name not in others for name in table.names()):
        return (_one_statement(table, (*others, "uncertainty")),)
    return ()


def _quantity(
    table: TomlTable,
    name: str | None,
    kind: type[K],
    number: float | list[float],
    unit: str,
    statements: tuple[Statement, ...],
    label: str,
    floor: Floor = "above 0",
) -> K:
    made = table.attempt(lambda: kind(number, unit, *statements, label=label), name)
    refuse_impossible(table, name, made, floor)
    return made
