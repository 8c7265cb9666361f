"""What draws say, as a rounded table."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np

from flowunc.core.display.rounding import round_cells, round_number
from flowunc.core.display.rows import shown_positions
from flowunc.core.display.tables import ShownTable
from flowunc.core.engine import Drawn

__all__ = ["drawn_table"]

MOST_LINES, HEAD, TAIL = 20, 10, 5
_MOST_DRAWS = 10_000_000  # more are not sorted just to be looked at
LEVEL = 0.95


class DrawnSeries(Drawn, Protocol):
    """Draws with what is known of them."""

    @property
    def unit(self) -> str:
        """Unit of all numbers."""

    @property
    def label(self) -> str:
        """Label of the quantity."""

    @property
    def sort(self) -> str:
        """What was drawn, in words."""

    @property
    def not_finite(self) -> Any:
        """Number of draws without a finite value, for each reading."""

    @property
    def has_pole(self) -> Any:
        """Whether a denominator changed sign among the draws, for each reading."""


def drawn_table(drawn: DrawnSeries) -> ShownTable:
    """Round what draws say: mean, u and the shortest 95 % interval of each reading.

    Parameters
    ----------
    drawn : MonteCarloResult

    Returns
    -------
    ShownTable
        Of more than 20 readings both ends. The interval is left out where there are so many
        draws that it takes seconds; "-" stands for what does not exist.

    Examples
    --------
    >>> from flowunc import Length, limits
    >>> print(Length(10, "mm", limits(0.1), label="side").monte_carlo(20_000, seed=1))
    side, in mm: 20000 draws, seed 1
    reading    mean      u    95 % interval
    ---------------------------------------
          0  10.000  0.058  9.902 to 10.092
    """
    means, spreads = np.atleast_1d(drawn.mean), np.atleast_1d(drawn.u)
    count = means.size
    positions = shown_positions(count, MOST_LINES, HEAD, TAIL)
    known = count * drawn.trials <= _MOST_DRAWS
    ends = drawn.interval(LEVEL) if known else (np.nan, np.nan)
    low, high = (np.broadcast_to(end, (count,)) for end in ends)
    rows: list[tuple[str, ...]] = []
    for row in positions:
        mean, u = "-", "-"
        if np.isfinite(spreads[row]) and np.isfinite(means[row]):
            mean, u = round_cells(float(means[row]), float(spreads[row]))
        elif np.isfinite(means[row]):
            mean = round_number(float(means[row]), 4)
        rows.append((str(row), mean, u, _interval(float(low[row]), float(high[row]))))
    if count > len(positions):
        rows.insert(HEAD, (f"... {count - len(positions)} of {count} readings not shown ...",))
    unit = "" if drawn.unit == "1" else f", in {drawn.unit}"
    return ShownTable(
        title=f"{drawn.label or 'Result'}{unit}: {drawn.trials} {drawn.sort}, seed {drawn.seed}",
        head=("reading", "mean", "u", f"{100 * LEVEL:g} % interval"),
        rows=tuple(rows),
        align=">>>>",
        notes=_notes(drawn, known),
    )


def _interval(low: float, high: float) -> str:
    if not np.isfinite(low) or not np.isfinite(high):
        return "-"
    start, end = (round_cells(each, (high - low) / 4)[0] for each in (low, high))
    return f"{start} to {end}"


def _notes(drawn: DrawnSeries, known: bool) -> tuple[str, ...]:
    notes = []
    if np.any(drawn.not_finite):
        notes.append(f"up to {int(np.max(drawn.not_finite))} draws of a reading have no value")
    if np.any(drawn.has_pole):
        notes.append("a denominator reaches zero: no mean and no u there")
    if not known:
        notes.append("the interval takes a while: ask for it with .interval()")
    return tuple(notes)
