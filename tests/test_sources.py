"""Citations in the source against the list of sources, in both directions.

A citation stands in a comment or in a string (docstrings and messages alike), never in code, so
type hints and indices are out of reach. It reads ``[Key]`` or ``[Key, clause]``, several of them
``[Key, clause; Key]``, and may run over a line end:

- It opens with a capital and another letter, and holds no bracket inside.
- A key runs to the first comma: words of letters, digits and ``. / : ( ) & -``, one space between
  them, with two digits in a row somewhere. That is a year or the number of a standard; it tells
  ``[Moody 1944]`` from ``[False, True]`` and from ``[K]``.
- What follows the comma is free.

A bracket with a clause but without a year or number, such as ``[Moody, table 2]``, is a fault.
"""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections import Counter
from collections.abc import Iterator
from functools import cache
from importlib import resources
from pathlib import Path
from typing import NamedTuple

import pytest

import flowunc

ROOT = Path(__file__).parents[1]
LIST = "SOURCES.md"
PLACES = ("flowunc", "tests")
HOW_CHECKED = re.compile(r"\b(?:read|computed|from memory)\b")

BRACKET = re.compile(r"\[([A-Z][A-Za-z][^\[\]]*)\]")
KEY = re.compile(r"(?=.*[0-9]{2})[A-Z][A-Za-z][A-Za-z0-9./:()&-]*(?: [A-Za-z0-9./:()&-]+)*")
CLAUSE = re.compile(
    r"[A-Z]?[0-9]+(?:\.[0-9]+)*\b|[A-Z]\.[0-9]"
    r"|(?:eq|ch|chapter|section|table|tables|annex|appendix|clause|page|p)\b",
)
PROMPT = re.compile(r"^\s*(?:>>>|\.\.\.) .*$", re.MULTILINE)
ENTRY = re.compile(r"^- `\[([^\]`]*)\]` (.*(?:\n  .*)*)", re.MULTILINE)


class Text(NamedTuple):
    """A string or a block of comments with the line it starts at."""

    line: int
    content: str


@cache
def texts(source: str) -> tuple[Text, ...]:
    """Return the strings of a module and its comments, whole blocks as one text."""
    return (*strings(source), *comments(source))


def strings(source: str) -> Iterator[Text]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield Text(node.lineno, PROMPT.sub("", node.value))


def comments(source: str) -> Iterator[Text]:
    block: list[str] = []
    first = last = 0
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type != tokenize.COMMENT:
            continue
        line = token.start[0]
        if block and line != last + 1:
            yield Text(first, " ".join(block))
            block = []
        first = first if block else line
        last = line
        block.append(token.string.lstrip("# "))
    if block:
        yield Text(first, " ".join(block))


def parts(content: str) -> Iterator[tuple[str, str]]:
    """Yield key and clause of each bracket that may be a citation."""
    for found in BRACKET.finditer(content):
        for part in " ".join(found.group(1).split()).split("; "):
            key, _, clause = part.partition(", ")
            yield key, clause


def cited_keys(source: str) -> list[str]:
    """Return the keys that a module cites."""
    return [key for text in texts(source) for key, _ in parts(text.content) if KEY.fullmatch(key)]


def nameless_citations(source: str) -> list[str]:
    """Return brackets with a clause whose key has neither year nor number."""
    return [
        f"line {text.line}: [{key}, {clause}]"
        for text in texts(source)
        for key, clause in parts(text.content)
        if not KEY.fullmatch(key) and CLAUSE.match(clause)
    ]


def modules() -> Iterator[Path]:
    for place in PLACES:
        for path in sorted((ROOT / place).rglob("*.py")):
            if path != Path(__file__):  # its citations are examples
                yield path


def entries(text: str) -> list[tuple[str, str]]:
    """Return key and text of each entry of the list."""
    return [(found.group(1), found.group(2)) for found in ENTRY.finditer(text)]


def listed() -> list[tuple[str, str]]:
    # as a user of an installed copy would look for it
    return entries(resources.files(flowunc).joinpath(LIST).read_text(encoding="utf-8"))


def unlisted(source: str, keys: set[str]) -> list[str]:
    return sorted(set(cited_keys(source)) - keys)


def test_every_citation_is_listed() -> None:
    keys = {key for key, _ in listed()}
    faults = [
        f"{path.relative_to(ROOT)}: [{key}] is not in {LIST}"
        for path in modules()
        for key in unlisted(path.read_text(encoding="utf-8"), keys)
    ]
    assert not faults, "\n".join(["", *faults])


def test_every_entry_is_cited() -> None:
    used = {key for path in modules() for key in cited_keys(path.read_text(encoding="utf-8"))}
    assert [key for key, _ in listed() if key not in used] == []


def test_every_citation_names_a_year_or_a_number() -> None:
    faults = [
        f"{path.relative_to(ROOT)}, {fault}"
        for path in modules()
        for fault in nameless_citations(path.read_text(encoding="utf-8"))
    ]
    assert not faults, "\n".join(["", *faults])


def test_entries_are_complete() -> None:
    found = listed()
    assert len(found) > 20
    assert [key for key, count in Counter(key for key, _ in found).items() if count > 1] == []
    for key, text in found:
        assert KEY.fullmatch(key), f"[{key}]: not a key that a citation can have"
        what, _, checked = text.partition("\n  Checked: ")
        assert "\n  Used for: " in what, f"[{key}]: what is it used for?"
        assert HOW_CHECKED.search(checked), f"[{key}]: read, computed or from memory?"


def test_nothing_in_the_list_looks_like_an_entry_without_being_one() -> None:
    text = resources.files(flowunc).joinpath(LIST).read_text(encoding="utf-8")
    starts = re.findall(r"^\s*[-*] .*\[[A-Z].*", text, re.MULTILINE)
    assert len(starts) == len(entries(text))


# --- the collector itself, on small texts ---


@pytest.mark.parametrize(
    ("source", "keys"),
    [
        ('"""Source: [JCGM 100, 5.1.2, eq. 10]."""', ["JCGM 100"]),
        ("# as in [VDI/VDE 3513-2]", ["VDI/VDE 3513-2"]),
        ("x = 1  # [IAPWS SR6-08, table 8]: read", ["IAPWS SR6-08"]),
        ('"""[JCGM 100, 4.2.3 and H.2; JCGM 102, 5.3.2]"""', ["JCGM 100", "JCGM 102"]),
        ('"""Wrapped [ISO/IEC 17043, annex\n    on statistics]."""', ["ISO/IEC 17043"]),
        ("# wrapped [SI Brochure\n# 2019, 2.3.3] comment", ["SI Brochure 2019"]),
        ('f(source="[Swamee-Jain 1976], from memory")', ["Swamee-Jain 1976"]),
        ('raise E(f"{x} outside [CIPM-2007, " "eq. 1]: wait")', ["CIPM-2007"]),
        ('raise E(f"{x} outside " f"[OIML R 111-1]")', ["OIML R 111-1"]),
        # misspelt keys must come out, or nobody would notice them
        ("# [Ridders1982] and [JCGM 101:2008, 6.4]", ["Ridders1982", "JCGM 101:2008"]),
        ("# [IAPWS SR6-08(2011)]", ["IAPWS SR6-08(2011)"]),
        # what is no citation
        ("def f(x: NDArray[Float64], y: dict[str, Float32]) -> List[Int16]: ...", []),
        ("table[Key20] = rows[Re2000, 1]", []),
        ('"""\n>>> values[Length10, 20]\n[False, True]\n"""', []),
        ("# from memory [M], computed [C], flow [L/min], a range [A-Z], [0-9]{2}", []),
        ("# matrix [1, York 1966 x] of [D10] and [X^12]", []),
        ("# two comments [York\n\n# 1966] apart", []),
    ],
)
def test_collector(source: str, keys: list[str]) -> None:
    assert sorted(cited_keys(source)) == sorted(keys)


@pytest.mark.parametrize(
    ("source", "faults"),
    [
        ("# [Moody, table 2]", ["line 1: [Moody, table 2]"]),
        ('\n"""[White, chapter 6]"""', ["line 2: [White, chapter 6]"]),
        ('"""[GUM, 5.1.2]"""', ["line 1: [GUM, 5.1.2]"]),
        ('"""[GUM, G.4]"""', ["line 1: [GUM, G.4]"]),
        ("# [Moody 1944, table 2] and [False, True]", []),
        ('"""\n>>> print(f[True, 5.1])\n"""', []),
    ],
)
def test_nameless_citations_are_seen(source: str, faults: list[str]) -> None:
    assert nameless_citations(source) == faults


def test_entries_are_read_with_all_their_lines() -> None:
    text = "# Sources\n\n- `[Key 10]` *Title*\n  goes on.\n  Checked: read.\n\nText `[Key 11]`.\n"
    assert entries(text) == [("Key 10", "*Title*\n  goes on.\n  Checked: read.")]
    assert unlisted("# [Key 10] and [Key 12]", {"Key 10"}) == ["Key 12"]
