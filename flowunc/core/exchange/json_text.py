"""Quantities as JSON text, and back: the values and the record behind them.

A document holds the common record of some quantities: elementary components with their keys,
distributions and degrees of freedom, and the steps from the inputs to the results. Read again,
the quantities have the same values to the last bit, the same uncertainties, covariances and
budgets, and the same draws from the same seed; they correlate with each other, and with whatever
else goes back to the same components.

A document executes nothing: operations are names, looked up in a fixed table, and every statement
is checked. A pickle runs whatever is in it, so pickle is for files of your own only.

The form of a document, version 1, is laid down in ``quantities.schema.json`` beside this module:

- ``format`` is "flowunc quantities", ``version`` 1, ``written_by`` the program.
- ``holds``: "quantity", "list" or "mapping"; ``quantities``: of each ``kind``, ``unit``, ``label``
  and the place of its ``step``, in a mapping also its ``name``.
- ``pools``, ``components``, ``steps``: the record, in coherent SI; places count from 0.
- ``about``: what else the writer says; it is not read here.

Numbers have the shortest form that gives the same float64; infinite degrees of freedom are "inf".
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterable, Mapping, Sequence
from importlib import metadata
from os import PathLike
from pathlib import Path
from typing import Any

from flowunc.core import kinds
from flowunc.core.errors import (
    DimensionError,
    DocumentError,
    PropagationError,
    RangeError,
    ShapeError,
)
from flowunc.core.exchange.json_components import Json, unit_from, unit_json
from flowunc.core.exchange.json_parts import Part, read_document
from flowunc.core.exchange.json_record import (
    count_values,
    most_values,
    record_from,
    record_json,
)
from flowunc.core.quantity import Quantity
from flowunc.core.record import Node

__all__ = ["FORMAT", "VERSION", "document_text", "from_json", "to_json"]

FORMAT = "flowunc quantities"
VERSION = 1
MOST_CHARACTERS = 1 << 29  # of a document: takes about 2 GB of memory to read
_LONGEST_PATH = 4096
_MARK = "\ufeff"  # some editors begin a file with it

_KINDS: dict[str, type[Quantity]] = {"Quantity": Quantity} | {
    name: getattr(kinds, name) for name in kinds.__all__ if name[0].isupper()
}


def to_json(
    quantities: Quantity | Sequence[Quantity] | Mapping[str, Quantity],
    path: str | PathLike[str] | None = None,
    *,
    indent: int | None = None,
) -> str:
    """Write quantities with the record behind them as JSON.

    Parameters
    ----------
    quantities : Quantity, sequence of Quantity, or mapping of str to Quantity
        What is written together stays correlated, wherever it is read.
    path : str or path, optional
        File to write as well.
    indent : int, optional
        Puts every component and step on a line of its own, indented by so many spaces.

    Returns
    -------
    str
        ASCII.

    Raises
    ------
    PropagationError
        A function of your own in the record (`apply`): a document holds no code.
    DimensionError, ShapeError
        Something that is no quantity; none at all.

    Notes
    -----
    About 20 characters for each number: values of inputs, and of those steps that are not exact
    arithmetic by IEEE 754.

    Examples
    --------
    >>> from flowunc import Length, from_json, limits, to_json
    >>> bore = Length(19.05, "mm", limits(0.05), label="bore")
    >>> area, again = from_json(to_json([bore**2, bore]))
    >>> (area - bore**2).u
    0.0
    >>> print(again)
    bore: 19.050 ± 0.029 mm
    """
    text = document_text(quantities, {}, indent)
    if path is not None:
        Path(path).write_text(text, encoding="ascii", newline="\n")
    return text


def document_text(
    quantities: Quantity | Sequence[Quantity] | Mapping[str, Quantity],
    about: Json,
    indent: int | None,
) -> str:
    """Return the document of some quantities, with what the writer says about them."""
    if indent is not None and (type(indent) is not int or not 0 <= indent <= 16):
        raise RangeError(f"to_json(indent={indent!r}): expected 0 to 16 spaces, or None")
    holds, named = _named(quantities)
    nodes = [quantity._node for _, quantity in named]
    record, places = record_json(nodes)
    listed = []
    for (name, quantity), place in zip(named, places, strict=True):
        entry = {} if name is None else {"name": name}
        listed.append(entry | _quantity_json(quantity, place))
    document: Json = {
        "format": FORMAT,
        "version": VERSION,
        "written_by": _writer(),
        "holds": holds,
        "quantities": listed,
        **record,
    }
    text = _laid_out(document | ({"about": about} if about else {}), indent)
    if len(text) > MOST_CHARACTERS:
        raise PropagationError(
            f"the document has {len(text)} characters, and at most {MOST_CHARACTERS} are read: "
            "write fewer readings at a time"
        )
    values, most = count_values(nodes), most_values(len(text))
    if values > most:
        raise PropagationError(
            f"the record holds {values} values, and at most {most} are read from a document of "
            f"{len(text)} characters: write fewer readings at a time"
        )
    return text


def _named(quantities: Any) -> tuple[str, list[tuple[str | None, Quantity]]]:
    named: list[tuple[str | None, Any]]
    if isinstance(quantities, Quantity):
        return "quantity", [(None, quantities)]
    if isinstance(quantities, Mapping):
        holds, named = "mapping", list(quantities.items())
    elif isinstance(quantities, Iterable) and not isinstance(quantities, (str, bytes)):
        holds, named = "list", [(None, quantity) for quantity in quantities]
    else:
        raise DimensionError(
            f"to_json of {type(quantities).__name__}: expected a quantity, several in a list, or a "
            "mapping of names to quantities"
        )
    if not named:
        raise ShapeError("to_json: got no quantity; expected at least one")
    for place, (name, quantity) in enumerate(named):
        if holds == "mapping" and not isinstance(name, str):
            raise DimensionError(f"to_json: the name {name!r} is no text; expected names as keys")
        if not isinstance(quantity, Quantity):
            raise DimensionError(
                f"to_json: {place if name is None else repr(name)} is a "
                f"{type(quantity).__name__}; expected quantities"
            )
    return holds, named


def _quantity_json(quantity: Quantity, place: int) -> Json:
    kind = type(quantity)
    if _KINDS.get(kind.__name__) is not kind:
        raise PropagationError(
            f"a quantity of kind {kind.__name__} cannot be written as JSON: expected one of the "
            f"kinds of flowunc, {', '.join(_KINDS)}"
        )
    return {
        "kind": kind.__name__,
        "unit": unit_json(quantity._unit),
        "label": quantity.label,
        "step": place,
    }


def _writer() -> str:
    try:
        return f"flowunc {metadata.version('flowunc')}"
    except metadata.PackageNotFoundError:  # run from a checkout
        return "flowunc"


def _laid_out(document: Json, indent: int | None) -> str:
    """Return compact text; with an indent, one line for each entry of the long lists."""

    def compact(value: Any) -> str:
        separators = (",", ":") if indent is None else (", ", ": ")
        return json.dumps(value, allow_nan=False, separators=separators)

    if indent is None:
        return compact(document)
    margin = " " * indent
    fields = []
    for name, value in document.items():
        shown = compact(value)
        if isinstance(value, list) and value:
            entries = ",\n".join(margin * 2 + compact(entry) for entry in value)
            shown = f"[\n{entries}\n{margin}]"
        fields.append(f"{margin}{compact(name)}: {shown}")
    return "{\n" + ",\n".join(fields) + "\n}\n"


# -- reading -------------------------------------------------------------------------------------
def from_json(text_or_path: str | PathLike[str]) -> Any:
    """Read quantities that `to_json` wrote.

    Parameters
    ----------
    text_or_path : str or path
        The text itself, which begins with ``{``, or the file.

    Returns
    -------
    Quantity, list of Quantity, or dict of str to Quantity
        As it was written.

    Raises
    ------
    DocumentError
        Anything else than a document of a version that this flowunc reads, with the place as a
        JSON pointer. An operation that this flowunc does not have; a component with another
        uncertainty than the one of the same key in memory; a step whose value does not follow
        from its inputs.

    Notes
    -----
    Nothing in the text is run or imported, so documents of strangers are safe to read.

    Examples
    --------
    >>> from flowunc import Mass, from_json, standard, to_json
    >>> text = to_json({"empty": Mass(1.2, "kg", standard(2, "g"), label="vessel")})
    >>> print(from_json(text)["empty"])
    vessel: 1.2000 ± 0.0020 kg
    """
    text, file = _text(text_or_path)
    whole = read_document(text, file)
    _check_format(whole)
    given = whole.object(
        ("format", "version", "holds", "quantities", "pools", "components", "steps"),
        ("written_by", "about"),
    )
    for name, kind in (("written_by", str), ("about", dict)):
        if name in given and type(given[name].value) is not kind:
            given[name].expected("text" if kind is str else "an object")
    holds = given["holds"].choice(("quantity", "list", "mapping"))
    nodes = record_from(given["pools"], given["components"], given["steps"], most_values(len(text)))
    found: dict[str, Quantity] = {}
    for place, part in enumerate(given["quantities"].items()):
        entry = part.object(
            ("kind", "unit", "label", "step", *(["name"] if holds == "mapping" else []))
        )
        name = entry["name"].text() if holds == "mapping" else str(place)
        if name in found:
            entry["name"].refuse(f"the name {name[:80]!r} stands twice; expected different names")
        found[name] = _quantity(part, entry, nodes)
    if not found or (holds == "quantity" and len(found) > 1):
        given["quantities"].expected("one quantity" if holds == "quantity" else "one or more")
    if holds == "mapping":
        return found
    return list(found.values()) if holds == "list" else found["0"]


def _text(text_or_path: Any) -> tuple[str, str]:
    if isinstance(text_or_path, str):
        if text_or_path.lstrip(f"{_MARK} \t\r\n").startswith("{"):
            if len(text_or_path) > MOST_CHARACTERS:
                _too_long("<text>")
            return text_or_path.removeprefix(_MARK), "<text>"
        if len(text_or_path) > _LONGEST_PATH or not text_or_path.strip():
            raise DocumentError(
                f"got {text_or_path[:40]!r}; expected JSON text that begins with '{{', or a path"
            )
    elif not isinstance(text_or_path, PathLike):
        raise DocumentError(f"got {type(text_or_path).__name__}; expected JSON text or a path")
    file = str(os.fspath(text_or_path))
    try:
        # asked before opening: opening a pipe waits for its other end
        found = os.stat(text_or_path)
        regular = stat.S_ISREG(found.st_mode)
        data = b""
        if regular:
            with open(text_or_path, "rb") as stream:
                # memory is taken for all that is asked for before anything is read
                data = stream.read(min(found.st_size, MOST_CHARACTERS) + 1)
    except FileNotFoundError:
        raise DocumentError(
            "no such file; expected a document of to_json, or its text, which begins with '{'",
            "",
            file,
        ) from None
    except (OSError, ValueError) as reason:  # ValueError: a path with a zero byte
        raise DocumentError(f"cannot be read: {reason}", "", file) from None
    if not regular:
        raise DocumentError("this is no file; expected a document of to_json", "", file)
    if len(data) > MOST_CHARACTERS:
        _too_long(file)
    try:
        return data.decode("utf-8-sig"), file
    except UnicodeDecodeError as reason:
        raise DocumentError(f"this is not UTF-8: {reason}", "", file) from None


def _too_long(file: str) -> None:
    raise DocumentError(f"longer than {MOST_CHARACTERS} characters; they are not read", "", file)


def _check_format(whole: Part) -> None:
    """Say first of all whether it is a document at all, and of a version that is read."""
    form, version = whole.optional_field("format"), whole.optional_field("version")
    if form is None or form.value != FORMAT:
        whole.refuse(f'no document of to_json; expected the field "format": "{FORMAT}"')
    if version is None or type(version.value) is not int:
        whole.refuse(f'no version; expected the field "version": {VERSION}')
    if version.value != VERSION:
        version.refuse(
            f"version {version.value} of the format was given; this flowunc reads version "
            f"{VERSION}" + (": read it with a newer flowunc" if version.value > VERSION else "")
        )


def _quantity(part: Part, entry: dict[str, Part], nodes: list[Node]) -> Quantity:
    kind = _KINDS[entry["kind"].choice(_KINDS)]
    unit = unit_from(entry["unit"])
    node = nodes[entry["step"].whole(0, len(nodes) - 1, "the place of a step")]
    label = entry["label"].text()
    with part.placed():
        if kind.dimension not in (None, unit.dimension) or (unit.is_offset and not kind._absolute):
            entry["unit"].refuse(f"'{unit}' is no unit of {kind.__name__}")
        kind._check_values(node.value, unit)
    return kind._from_node(node, unit, label)
