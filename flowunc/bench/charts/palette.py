"""Colours, markers, lines and hatches: told apart by colour-blind eyes and in grey print.

Data have colours, each with its own marker or hatch; theory is black and grey, told apart by
line style.
"""

from __future__ import annotations

from itertools import cycle, islice
from typing import Any, NamedTuple

__all__ = [
    "BAND",
    "GRID",
    "INK",
    "LINES",
    "OTHERS",
    "PAPER",
    "ZONE",
    "Fill",
    "Mark",
    "fills",
    "marks",
]

# [Okabe-Ito 2008], without its yellow, which is lost on white
_BLUE, _VERMILLION, _GREEN = "#0072B2", "#D55E00", "#009E73"
_PURPLE, _ORANGE, _SKY = "#CC79A7", "#E69F00", "#56B4E9"

INK, PAPER = "black", "white"
GRID, ZONE, BAND, OTHERS = "0.92", "0.95", "0.82", "0.85"
LINES: tuple[Any, ...] = (
    "-",
    (0, (6, 2)),
    (0, (6, 2, 1, 2)),
    (0, (1, 1.5)),
    (0, (3, 1)),
    (0, (8, 2, 1, 2, 1, 2)),
)


class Mark(NamedTuple):
    """How points of one sort are drawn.

    Attributes
    ----------
    colour : str
    marker : str
    face : str
        What the marker is filled with: its colour, or white.
    line : str or tuple
        Line style, where the points are joined.
    """

    colour: str
    marker: str
    face: str
    line: Any


class Fill(NamedTuple):
    """How areas of one sort are filled."""

    colour: str
    hatch: str


_MARKS = (
    (_BLUE, "o", True),
    (_VERMILLION, "s", False),
    (_GREEN, "^", True),
    (_PURPLE, "D", False),
    (_ORANGE, "v", True),
    (_SKY, "P", False),
)
# neighbours differ in how dark they are
_FILLS = (
    Fill(_BLUE, ""),
    Fill(_GREEN, ".."),
    Fill(_SKY, "\\\\"),
    Fill(_VERMILLION, "xx"),
    Fill(_ORANGE, "//"),
    Fill(_PURPLE, "--"),
)


def marks(count: int) -> list[Mark]:
    """Return marks for so many sorts of points; they start again after the last."""
    sorts = (
        Mark(colour, marker, colour if filled else PAPER, line)
        for (colour, marker, filled), line in zip(cycle(_MARKS), cycle(LINES), strict=False)
    )
    return list(islice(sorts, count))


def fills(count: int) -> list[Fill]:
    """Return fills for so many sorts of areas; they start again after the last."""
    return list(islice(cycle(_FILLS), count))
