"""`Part`: one value of a JSON document with its place, read as what it has to be.

A reader asks a part for what it expects (text, a whole number, an object with these fields) and
gets it, or a `DocumentError` that names the place. Nothing here recurses.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, NoReturn, TypeAlias

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import DocumentError, FlowuncError

__all__ = ["Numbers", "Part", "read_document"]

Numbers: TypeAlias = float | NDArray[np.float64]

_MOST_DIGITS = 400  # of a whole number: more than any float needs
_SHOWN = 40  # characters of a text in a message
_NUMBERS = {int, float}
_INFINITE = "inf"  # JSON has no infinity; the only place that takes one are degrees of freedom


@dataclass(frozen=True, slots=True)
class _Refused:
    """What JSON text may hold but a document may not, kept until its place is known."""

    what: str


@dataclass(frozen=True, slots=True)
class Part:
    """A value of a document and where it stands.

    Attributes
    ----------
    value : Any
        As the JSON parser gave it.
    pointer : str
        JSON pointer, "" for the whole document.
    file : str
        Named in messages.
    """

    value: Any
    pointer: str
    file: str

    def refuse(self, reason: str) -> NoReturn:
        """Raise the error that names this place."""
        raise DocumentError(reason, self.pointer, self.file)

    def expected(self, what: str) -> NoReturn:
        """Raise the error that says what stands here and what should."""
        self.refuse(f"got {self._shown()}; expected {what}")

    @contextmanager
    def placed(self) -> Iterator[None]:
        """Give the place to what other checks refuse inside the block."""
        try:
            yield
        except DocumentError:
            raise
        except FlowuncError as error:
            self.refuse(str(error))

    def object(self, required: Collection[str], optional: Collection[str] = ()) -> dict[str, Part]:
        """Return the fields of an object; a missing or an unknown one is refused."""
        if type(self.value) is not dict:
            self.expected("an object")
        for name in required:
            if name not in self.value:
                self.refuse(f"the field {name!r} is missing")
        for name in self.value:
            if name not in required and name not in optional:
                self._within(name).refuse(
                    f"unknown field; expected {', '.join([*required, *optional])}"
                )
        return {name: self._within(name) for name in self.value}

    def optional_field(self, name: str) -> Part | None:
        """Return a field of an object, None where there is none."""
        if type(self.value) is not dict:
            self.expected("an object")
        return self._within(name) if name in self.value else None

    def items(self) -> Iterator[Part]:
        """Return the entries of a list."""
        if type(self.value) is not list:
            self.expected("a list")
        return (
            Part(entry, f"{self.pointer}/{place}", self.file)
            for place, entry in enumerate(self.value)
        )

    def text(self) -> str:
        """Return a text."""
        if type(self.value) is not str:
            self.expected("text")
        found: str = self.value
        return found

    def choice(self, options: Collection[str]) -> str:
        """Return a text that is one of some."""
        if type(self.value) is not str or self.value not in options:
            self.expected(f"one of {', '.join(map(repr, options))}")
        found: str = self.value
        return found

    def whole(self, low: int, high: int, what: str) -> int:
        """Return a whole number from ``low`` to ``high``."""
        if type(self.value) is not int or not low <= self.value <= high:
            there = f"from {low} to {high}" if low <= high else "but there is none so far"
            self.expected(f"{what}, {there}")
        found: int = self.value
        return found

    def numbers(self) -> Numbers:
        """Return a finite number, or an array of some: a list gives readings."""
        if type(self.value) is not list:
            return self._number()
        if not self.value:
            self.expected("numbers, one or more")
        if set(map(type, self.value)) <= _NUMBERS:
            try:
                array = np.array(self.value, dtype=np.float64)
            except OverflowError:
                array = np.array(np.nan)
            if np.isfinite(array).all():
                return array
        return np.array([entry._number() for entry in self.items()])

    def dof(self, *, finite: bool = False) -> Numbers:
        """Return degrees of freedom above 0; infinite ones are the text "inf"."""
        if type(self.value) is not list:
            return self._dof(finite)
        if not self.value:
            self.expected("degrees of freedom, one or more")
        found = np.array([entry._dof(finite) for entry in self.items()])
        found.setflags(write=False)
        return found

    def _dof(self, finite: bool) -> float:
        if self.value == _INFINITE and not finite:
            return math.inf
        if type(self.value) not in _NUMBERS or not self.value > 0:
            self.expected("degrees of freedom above 0" + ("" if finite else ', or "inf"'))
        return self._number()

    def _number(self) -> float:
        if type(self.value) in _NUMBERS:
            try:
                number = float(self.value)
            except OverflowError:
                number = math.inf
            if math.isfinite(number):
                return number
        self.expected("a finite number")

    def _within(self, name: str) -> Part:
        short = name if len(name) <= _SHOWN else f"{name[:_SHOWN]}..."
        if not short.isprintable():
            short = json.dumps(short)[1:-1]  # nothing in a message moves the cursor of a terminal
        step = short.replace("~", "~0").replace("/", "~1")
        return Part(self.value[name], f"{self.pointer}/{step}", self.file)

    def _shown(self) -> str:
        value = self.value
        if isinstance(value, _Refused):
            return value.what
        if isinstance(value, str):
            more = len(value) > _SHOWN
            return f"the text {value[:_SHOWN]!r}" + (f"... of {len(value)}" if more else "")
        if isinstance(value, dict):
            return "an object"
        if isinstance(value, list):
            return f"a list of {len(value)}"
        if type(value) is float and not math.isfinite(value):
            return "a number too large for floating point"
        return json.dumps(value)[:_SHOWN]


def read_document(text: str, file: str) -> Part:
    """Return a JSON text as the part that holds all of it.

    Raises
    ------
    DocumentError
        Text that is no JSON: names line and column; nesting as no document has.
    """
    try:
        value = json.loads(
            text, object_pairs_hook=_fields, parse_constant=_Refused, parse_int=_whole
        )
    except RecursionError:
        raise DocumentError("nested too deeply for a document of quantities", "", file) from None
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise DocumentError(f"this is no JSON: {error.msg}, {place}", "", file) from None
    return Part(value, "", file)


def _fields(pairs: list[tuple[str, Any]]) -> Any:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    seen: set[str] = set()
    for name, _ in pairs:
        if name in seen:
            break
        seen.add(name)
    return _Refused(f"an object with the field {name[:_SHOWN]!r} twice")


def _whole(digits: str) -> Any:
    if len(digits) > _MOST_DIGITS:
        return _Refused(f"a whole number of {len(digits)} digits")
    return int(digits)
