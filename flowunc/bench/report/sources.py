"""What a report cites: entries of the list of sources that comes with flowunc."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from importlib import resources

__all__ = ["cited", "entries"]

_ENTRY = re.compile(r"^- `\[([^\]`]*)\]` (.*(?:\n  .*)*)", re.MULTILINE)
_BRACKET = re.compile(r"\[([^\[\]]+)\]")


@cache
def entries() -> dict[str, str]:
    """Return what the list of sources says under each key, as plain text.

    Each text ends with how the numbers were checked for flowunc; what they are used for is
    left out.

    Examples
    --------
    >>> entries()["Prandtl 1933"].partition(". Zeit")[0]
    'L. Prandtl, Neuere Ergebnisse der Turbulenzforschung'
    """
    text = resources.files("flowunc").joinpath("SOURCES.md").read_text(encoding="utf-8")
    return {found[1]: _plain(found[2]) for found in _ENTRY.finditer(text)}


def _plain(entry: str) -> str:
    reference, _, rest = entry.partition("\n  Used for: ")
    _, _, checked = rest.partition("\n  Checked: ")
    told = f"{reference} (In flowunc: {checked.rstrip('.')}.)" if checked else reference
    # single stars and backquotes are the only markup of the list
    return " ".join(re.sub(r"[*`]", "", told).split())


def cited(texts: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return keys and entries of all sources that texts cite, in the order of the list.

    Parameters
    ----------
    texts : iterable of str
        With citations such as [JCGM 100, 5.1.2].

    Examples
    --------
    >>> [key for key, _ in cited(["as in [JCGM 101, 7.7; JCGM 100, 5.1.2]", "[no source]"])]
    ['JCGM 100', 'JCGM 101']
    """
    found = {
        part.partition(",")[0].strip()
        for text in texts
        for bracket in _BRACKET.findall(text)
        for part in bracket.split(";")
    }
    return tuple((key, entry) for key, entry in entries().items() if key in found)
