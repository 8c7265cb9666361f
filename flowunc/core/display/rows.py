"""What is shown of a quantity: which readings, and their rounded numbers.

Text, HTML and LaTeX all start from these rows, so they cannot show different digits. Only
the readings shown are propagated, so that the cost does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple, Protocol, Self

import numpy as np

from flowunc.core.display.rounding import Rounded, round_pair
from flowunc.core.engine import Numbers
from flowunc.core.errors import PropagationError

__all__ = [
    "HEAD",
    "NOT_DEFINED",
    "Row",
    "Showable",
    "Spread",
    "both_ends",
    "expanded_by",
    "joined",
    "label_of",
    "picked",
    "rows",
    "shown_positions",
    "spreads",
    "standard_spreads",
    "unit_of",
]

NOT_DEFINED = "u not defined"
LEVEL = 0.95
MOST_ROWS, HEAD, TAIL = 20, 10, 5  # beyond the most, so many of both ends


class Showable(Protocol):
    """What a display asks of a quantity."""

    @property
    def label(self) -> str:
        """Name given to it, "" if none."""

    @property
    def unit(self) -> str:
        """Unit of `value` and `u`."""

    @property
    def ndim(self) -> int:
        """0 for a scalar, 1 for readings."""

    @property
    def size(self) -> int:
        """Number of values, 1 for a scalar."""

    @property
    def value(self) -> Numbers:
        """Value in `unit`."""

    @property
    def u(self) -> Numbers:
        """Standard uncertainty in `unit`, shaped as `value`."""

    def expanded(
        self, level: float | None = None, *, k: float | None = None
    ) -> tuple[Numbers, Numbers]:
        """Return the expanded uncertainty and its coverage factor."""

    def to(self, unit: str) -> Self:
        """Return it in another unit."""

    def __getitem__(self, index: Any) -> Self: ...

    def __iter__(self) -> Iterator[Self]: ...


class Spread(NamedTuple):
    """An uncertainty in the unit of the quantity, and the coverage factor k within it."""

    u: float
    k: float


class Row(NamedTuple):
    """One reading as it is shown: ``k`` is None where its uncertainty is not defined."""

    position: int
    rounded: Rounded
    k: float | None


def label_of(quantity: Showable) -> str:
    """Give the label on one line."""
    return " ".join(quantity.label.split())


def unit_of(quantity: Showable) -> str:
    """Give the unit as it is printed: a pure number shows none."""
    return "" if quantity.unit == "1" else quantity.unit


def standard_spreads(quantity: Showable) -> list[Spread]:
    """Ask for the standard uncertainties."""
    return [Spread(float(u), 1.0) for u in np.atleast_1d(quantity.u)]


def expanded_by(
    level: float | None = None, k: float | None = None
) -> Callable[[Showable], list[Spread]]:
    """Return what asks for the expanded uncertainties, at 95 % unless told otherwise."""

    def ask(quantity: Showable) -> list[Spread]:
        asked = LEVEL if level is None and k is None else level
        U, factors = quantity.expanded(asked, k=k)
        return [
            Spread(float(half_width), float(factor))
            for half_width, factor in np.broadcast(np.atleast_1d(U), factors)
        ]

    return ask


def spreads(quantity: Showable, ask: Callable[[Showable], list[Spread]]) -> list[Spread | None]:
    """Ask for the uncertainties, with None where there is none to be had.

    A display must work where the linear method has no answer, as for sqrt(0). One such
    reading does not hide the others: they are then asked for one by one.
    """
    try:
        return [*ask(quantity)]
    except PropagationError:
        if quantity.ndim == 0 or quantity.size == 1:
            return [None]
        return [spread for reading in quantity for spread in spreads(reading, ask)]


def shown_positions(count: int, most: int, head: int, tail: int) -> list[int]:
    """Give the positions shown: all up to ``most``, beyond that some of both ends."""
    if count <= most:
        return list(range(count))
    return [*range(head), *range(count - tail, count)]


def picked(quantity: Showable, positions: Sequence[int]) -> Showable:
    """Give the readings at these positions; a scalar is its own only reading."""
    if quantity.ndim == 0 or len(positions) == quantity.size:
        return quantity
    return quantity[list(positions)]


def rows(
    quantity: Showable,
    positions: Sequence[int],
    digits: int = 2,
    ask: Callable[[Showable], list[Spread]] = standard_spreads,
) -> list[Row]:
    """Round the readings at these positions, each to its own uncertainty."""
    shown = picked(quantity, positions)
    found = []
    for position, value, spread in zip(
        positions, np.atleast_1d(shown.value), spreads(shown, ask), strict=True
    ):
        u, k = (0.0, None) if spread is None else spread
        found.append(Row(position, round_pair(float(value), u, digits), k))
    return found


def both_ends(quantity: Showable, digits: int = 2) -> list[Row]:
    """Round what HTML and LaTeX show of a quantity: all readings, of many those of both ends."""
    return rows(quantity, shown_positions(quantity.size, MOST_ROWS, HEAD, TAIL), digits)


def joined(texts: Sequence[str], positions: Sequence[int]) -> str:
    """List texts, with dots where positions are left out."""
    listed: list[str] = []
    for order, text in enumerate(texts):
        if order and positions[order] != positions[order - 1] + 1:
            listed.append("...")
        listed.append(text)
    return ", ".join(listed)
