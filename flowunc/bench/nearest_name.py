"""The question that goes with a misspelt name."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["nearest"]


def nearest(name: str, known: Iterable[str]) -> str:
    """Ask whether the nearest known name was meant: "did you mean 'bore'? ", "" if none is near."""
    by_case = {item.casefold(): item for item in known}
    close = difflib.get_close_matches(name.casefold(), by_case, n=1, cutoff=0.6)
    return f"did you mean '{by_case[close[0]]}'? " if close else ""
