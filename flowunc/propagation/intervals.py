"""Coverage intervals from draws: probabilistically symmetric and shortest.

Only the order statistics that are needed are selected; nothing is sorted that need not be.
Source: [JCGM 101, 7.7].
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import RangeError, StatementError

__all__ = [
    "IntervalKind",
    "check_kind",
    "coverage_ranks",
    "interval_of_draws",
    "shortest_error",
    "symmetric_error",
]

IntervalKind = Literal["symmetric", "shortest"]

SHORTEST_PARTS = 16


def check_kind(kind: str) -> IntervalKind:
    """Return the kind of interval, refused unless one of the two."""
    if kind == "symmetric":
        return "symmetric"
    if kind == "shortest":
        return "shortest"
    raise StatementError(f"kind={kind!r}: expected 'symmetric' or 'shortest'")


def coverage_ranks(level: float, trials: int) -> tuple[int, int]:
    """Return (r, q): the symmetric interval runs from the r-th to the (r+q)-th smallest draw.

    Ranks count from 1. Source: [JCGM 101, 7.7.1 and 7.7.2].
    """
    product = level * trials
    q = round(product) if math.isclose(product, round(product)) else int(product + 0.5)
    outside = trials - q
    if outside < 2 or q < 1:
        raise RangeError(
            f"{trials} trials are too few for a coverage interval at level {level}: expected "
            f"more than {math.ceil(2 / min(1 - level, level))}"
        )
    return (outside + 1) // 2, q


def interval_of_draws(
    draws: NDArray[np.float64], level: float, kind: IntervalKind
) -> tuple[float, float]:
    """Return (low, high) of one row of draws; reorders ``draws`` in place."""
    trials = draws.size
    rank, covered = coverage_ranks(level, trials)
    if kind == "symmetric":
        _select(draws, rank - 1, rank + covered - 1)
        return float(draws[rank - 1]), float(draws[rank + covered - 1])
    outside = trials - covered
    if outside < covered:
        _select(draws, outside - 1, covered)
        draws[:outside].sort()
        draws[covered:].sort()
    else:
        draws.sort()
    widths = draws[covered:] - draws[:outside]
    best = int(np.argmin(widths))
    return float(draws[best]), float(draws[best + covered])


def _select(draws: NDArray[np.float64], first: int, second: int) -> None:
    """Put the draws of two ranks, counted from 0, where they stand in order of size.

    NumPy selects one rank several times faster than two together.
    """
    draws.partition(first)
    if second > first:
        draws[first + 1 :].partition(second - first - 1)


def symmetric_error(draws: NDArray[np.float64], level: float) -> tuple[float, float]:
    """Return the numerical standard error of both ends of the symmetric interval.

    Distribution-free: the rank of a true quantile is binomial, so one standard deviation of
    rank either way spans two standard errors of the end (from order statistics; [JCGM 101,
    7.9.1] asks for such a statement and leaves the way open). Reorders ``draws`` in place.
    """
    trials = draws.size
    rank, covered = coverage_ranks(level, trials)
    tail = rank / trials
    spread = math.sqrt(trials * tail * (1 - tail))
    step = max(1, round(spread))
    errors = []
    for middle in (rank - 1, rank + covered - 1):
        below, above = max(0, middle - step), min(trials - 1, middle + step)
        _select(draws, below, above)
        width = float(draws[above] - draws[below]) / (above - below)
        errors.append(width * spread)
    return errors[0], errors[1]


def shortest_error(draws: NDArray[np.float64], level: float) -> tuple[float, float]:
    """Return the numerical standard error of both ends of the shortest interval.

    From the scatter of the ends over equal parts of the draws. They converge with the cube
    root of the number of draws, as the place of a flat minimum does. Reorders ``draws``.
    """
    parts = min(SHORTEST_PARTS, int(draws.size * min(1 - level, level) / 4))
    if parts < 2:
        width = float(np.ptp(draws))
        return width, width
    size = draws.size // parts
    ends = np.array(
        [
            interval_of_draws(draws[i * size : (i + 1) * size], level, "shortest")
            for i in range(parts)
        ]
    )
    low, high = ends.std(axis=0, ddof=1) * parts ** (-1 / 3)
    return float(low), float(high)
