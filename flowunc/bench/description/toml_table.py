"""A TOML file as nested tables whose complaints name the file and the dotted key.

Every table is asked for the keys it may have, so that a misspelt key is refused instead of
being passed over.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from os import PathLike, fsdecode
from typing import Any, TypeVar

from flowunc.bench.file_bytes import read_bytes
from flowunc.bench.nearest_name import nearest
from flowunc.core.errors import BenchError, FlowuncError

__all__ = ["TomlTable", "described", "read_toml"]

T = TypeVar("T")

_LARGEST_FILE = 1_000_000  # bytes; a bench description has two thousand
# tomllib takes a time that grows with the square of the number of parts of a key. Longer names
# than these cannot be so many in one file, and a bound keeps the search itself quick.
_MOST_PARTS = 32
_NAME = r"""(?:[A-Za-z0-9_-]{1,100}+|"(?:[^"\\\r\n]|\\.){0,100}+"|'[^'\r\n]{0,100}+')"""
_LONG_KEY = re.compile(rf"(?<![A-Za-z0-9_-])(?:{_NAME}[ \t]*+\.[ \t]*+){{{_MOST_PARTS}}}")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLACE = re.compile(r"\s*\(at (line \d+, column \d+|end of document)\)")
_LINE = re.compile(r"line (\d+),")
_COMMA = re.compile(r"\s*([+-]?[0-9]{1,20}+),([0-9]{1,20}+)(?:\s*[^\s0-9.,].*)?")
_COMMA_AFTER_KEY = re.compile(r"=\s*([+-]?[0-9]{1,20}+),([0-9]{1,20}+)(?![0-9,])")
_TYPES = {
    str: "text",
    bool: "true or false",
    int: "a number",
    float: "a number",
    list: "a list",
    dict: "a table",
}


class TomlTable:
    """One table of the file: its entries, where it stands, and what was known of it.

    Parameters
    ----------
    entries : mapping
        As `tomllib` gives them.
    file : str
        For messages.
    path : str
        Dotted key of the table, "" for the whole file.
    """

    def __init__(self, entries: Mapping[str, Any], file: str, path: str = "") -> None:
        self._entries = entries
        self.file = file
        self.path = path

    def __contains__(self, name: str) -> bool:
        return name in self._entries

    def __getitem__(self, name: str) -> Any:
        return self._entries[name]

    def get(self, name: str, default: Any = None) -> Any:
        """Return an entry, the default if it is missing."""
        return self._entries.get(name, default)

    def names(self) -> tuple[str, ...]:
        """Return the keys in the order of the file."""
        return tuple(self._entries)

    def key(self, name: str | None = None) -> str:
        """Return the dotted key of an entry, or of the table itself."""
        if name is None:
            return self.path
        shown = _shown(name)
        if not _BARE_KEY.fullmatch(shown):
            shown = f'"{shown}"'
        return f"{self.path}.{shown}" if self.path else shown

    def error(self, reason: str, name: str | None = None) -> BenchError:
        """Make the error that names file and dotted key, and a decimal comma where there is one."""
        entry = None if name is None else self._entries.get(name)
        comma = _COMMA.fullmatch(entry) if isinstance(entry, str) else None
        if comma:
            reason += f"; decimal comma; write {comma.group(1)}.{comma.group(2)}"
        return BenchError(reason, self.file, self.key(name) or None)

    def allow_only(self, known: Sequence[str]) -> None:
        """Refuse any key that is not in the list, naming the nearest one that is."""
        for name in self._entries:
            if name not in known:
                what = "section" if not self.path and self._is_table(name) else "key"
                raise self.error(
                    f"unknown {what}; {nearest(name, known)}expected {_listed(known)}", name
                )

    def _is_table(self, name: str) -> bool:
        return isinstance(self._entries[name], dict)

    def require(self, name: str, how: str) -> Any:
        """Return an entry, refused if it is missing; ``how`` shows what to write."""
        if name not in self._entries:
            what = "section is missing" if not self.path else "missing"
            raise self.error(f"{what}; expected {how}", name)
        return self._entries[name]

    def table(self, name: str, how: str) -> TomlTable:
        """Return an entry that must be a table."""
        value = self.require(name, how)
        if not isinstance(value, dict):
            raise self.error(f"{described(value)}; expected a table: {how}", name)
        return TomlTable(value, self.file, self.key(name))

    def table_if_given(self, name: str, how: str) -> TomlTable | None:
        """Return an entry that must be a table if it is there."""
        return self.table(name, how) if name in self._entries else None

    def text(self, name: str, how: str) -> str:
        """Return an entry that must be text with something in it."""
        value = self.require(name, how)
        if not isinstance(value, str) or not value.strip():
            raise self.error(f"{described(value)}; expected text: {how}", name)
        words = " ".join(value.split())
        if not words.isprintable():
            raise self.error(
                f"{described(value)}, with characters that cannot be printed; expected text: {how}",
                name,
            )
        return words

    def choice(self, name: str, allowed: Sequence[str], default: str) -> str:
        """Return a word of a list, the default if it is missing."""
        if name not in self._entries:
            return default
        value = self._entries[name]
        if not isinstance(value, str) or value not in allowed:
            hint = nearest(value, allowed) if isinstance(value, str) else ""
            raise self.error(f"{described(value)}; {hint}expected {_listed(allowed, 'or')}", name)
        return value

    def number(self, name: str, how: str) -> float:
        """Return an entry that must be a finite number."""
        return self.checked_number(self.require(name, how), name, how)

    def numbers(self, name: str, how: str) -> list[float]:
        """Return an entry that must be a list of finite numbers."""
        value = self.require(name, how)
        if not isinstance(value, list) or not value:
            raise self.error(f"{described(value)}; expected a list of numbers: {how}", name)
        return [self.checked_number(item, name, how) for item in value]

    def whole(self, name: str, how: str) -> int:
        """Return an entry that must be a whole number."""
        value = self.require(name, how)
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.error(f"{described(value)}; expected a whole number: {how}", name)
        return value

    def flag(self, name: str, default: bool, how: str) -> bool:
        """Return true or false, the default if it is missing."""
        value = self._entries.get(name, default)
        if not isinstance(value, bool):
            raise self.error(f"{described(value)}; expected true or false: {how}", name)
        return value

    def items(self, name: str, how: str) -> list[TomlTable]:
        """Return an entry that must be a table or a list of tables."""
        value = self.require(name, how)
        if isinstance(value, dict):
            return [self.table(name, how)]
        if not isinstance(value, list) or not value:
            raise self.error(f"{described(value)}; expected a table: {how}", name)
        found = []
        for position, item in enumerate(value):
            # the place in a list is no key of TOML, so it is put into the path as it is
            path = f"{self.key(name)}[{position}]"
            if not isinstance(item, dict):
                raise BenchError(f"{described(item)}; expected a table: {how}", self.file, path)
            found.append(TomlTable(item, self.file, path))
        return found

    def attempt(self, make: Callable[[], T], name: str | None = None) -> T:
        """Make something from entries; what is wrong with it is wrong with that entry."""
        try:
            return make()
        except BenchError:
            raise
        except FlowuncError as error:
            raise self.error(str(error), name) from None

    def checked_number(self, value: Any, name: str, how: str) -> float:
        """Return a value of this table as a finite number."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.error(f"{described(value)}; expected a number: {how}", name)
        try:
            number = float(value)
        except OverflowError:  # TOML has whole numbers of any length
            number = math.inf
        if not math.isfinite(number):
            raise self.error(f"{described(value)}; expected a finite number: {how}", name)
        return number


def described(value: Any) -> str:
    """Say what was found: "got the text '2 %'", "got a list of 3"."""
    if isinstance(value, str):
        shown = value if len(value) <= 60 else f"{value[:57]}..."
        return f"got the text {shown!r}"
    if isinstance(value, list):
        return f"got a list of {len(value)}"
    if isinstance(value, dict):
        return f"got a table with {_listed(list(value)) if value else 'nothing in it'}"
    if isinstance(value, bool):
        return f"got {str(value).lower()}"
    if isinstance(value, int) and value.bit_length() > 64:
        return "got a number of very many digits"
    return f"got {value!r}" if type(value) in _TYPES else f"got {type(value).__name__} {value}"


def _listed(names: Sequence[str], last: str = "and") -> str:
    shown = [_shown(name) for name in names[:20]]
    if len(names) > 20:
        return ", ".join(shown) + f" {last} {len(names) - 20} more"
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def _shown(name: str) -> str:
    """Return a name as messages have it: short, and nothing that moves the cursor of a terminal."""
    short = name if len(name) <= 40 else f"{name[:37]}..."
    return short if short.isprintable() else repr(short)[1:-1]


def read_toml(path: str | PathLike[str]) -> TomlTable:
    """Read a TOML file.

    Raises
    ------
    BenchError
        No such file, not UTF-8, or not TOML; names the line.
    """
    data = read_bytes(
        path,
        "the bench description (TOML)",
        _LARGEST_FILE,
        f"more than {_LARGEST_FILE} bytes; expected a bench description (TOML)",
        BenchError,
    )
    file = fsdecode(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BenchError(
            f"line {line}: not UTF-8 text; save the file as UTF-8 in your editor", file
        ) from None
    long_key = _LONG_KEY.search(text)
    if long_key is not None:
        line = text.count("\n", 0, long_key.start()) + 1
        raise BenchError(
            f"line {line}: more than {_MOST_PARTS} names joined by dots; expected a key such as "
            "meters.small.accuracy",
            file,
        )
    try:
        return TomlTable(tomllib.loads(text), file)
    except RecursionError:
        raise BenchError("lists or tables nested too deeply; expected two levels", file) from None
    except ValueError as error:  # TOMLDecodeError, and a number of too many digits
        found = _PLACE.search(str(error))
        place = f"{found.group(1)}: " if found else ""
        what = _PLACE.sub("", str(error))
        raise BenchError(
            f"{place}not TOML: {what}; {_comma_hint(text, place)}expected lines such as "
            'division = 0.1 or unit = "mm"',
            file,
        ) from None


def _comma_hint(text: str, place: str) -> str:
    """Ask for the decimal comma if the line that is no TOML has one."""
    at_line = _LINE.match(place)
    if at_line is None:
        return ""
    comma = _COMMA_AFTER_KEY.search(text.split("\n")[int(at_line.group(1)) - 1])
    return f"a decimal comma? write {comma.group(1)}.{comma.group(2)}; " if comma else ""
