"""What is shown of a quantity: which readings, and their rounded numbers.

Text, HTML and LaTeX all start from these rows, so they cannot show different digits. Only
the readings shown are propagated, so that the cost does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from flowunc.core.errors import PropagationError
from flowunc.core.rounding import Rounded, round_pair

if TYPE_CHECKING:
    from flowunc.core.quantity import Quantity

__all__ = [
    "NOT_DEFINED",
    "Row",
    "Spread",
    "expanded_spreads",
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


class Spread(NamedTuple):
    """An uncertainty in the unit of the quantity, and the coverage factor k within it."""

    u: float
    k: float


class Row(NamedTuple):
    """One reading as it is shown: ``k`` is None where its uncertainty is not defined."""

    position: int
    rounded: Rounded
    k: float | None


def label_of(quantity: Quantity) -> str:
    """Give the label on one line."""
    return " ".join(quantity.label.split())


def unit_of(quantity: Quantity) -> str:
    """Give the unit as it is printed: a pure number shows none."""
    return "" if quantity.unit == "1" else quantity.unit


def standard_spreads(quantity: Quantity) -> list[Spread]:
    """Ask for the standard uncertainties."""
    return [Spread(float(u), 1.0) for u in np.atleast_1d(quantity.u)]


def expanded_spreads(quantity: Quantity) -> list[Spread]:
    """Ask for the expanded uncertainties at 95 %."""
    U, k = quantity.expanded(LEVEL)
    return [
        Spread(float(half_width), float(factor))
        for half_width, factor in np.broadcast(np.atleast_1d(U), k)
    ]


def spreads(quantity: Quantity, ask: Callable[[Quantity], list[Spread]]) -> list[Spread | None]:
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


def picked(quantity: Quantity, positions: Sequence[int]) -> Quantity:
    """Give the readings at these positions; a scalar is its own only reading."""
    if quantity.ndim == 0 or len(positions) == quantity.size:
        return quantity
    return quantity[list(positions)]


def rows(
    quantity: Quantity,
    positions: Sequence[int],
    digits: int = 2,
    ask: Callable[[Quantity], list[Spread]] = standard_spreads,
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
