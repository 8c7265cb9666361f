"""What draws say: mean, standard deviation and coverage intervals of a result.

A result keeps the draws where they fit into memory, and else the recipe that makes them again,
a reading at a time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.arguments import check_level
from flowunc.core.display.draws import drawn_table
from flowunc.core.errors import PropagationError, RangeError
from flowunc.core.quantity import Numbers, Quantity
from flowunc.propagation.crew import Crew
from flowunc.propagation.intervals import (
    check_kind,
    coverage_ranks,
    interval_of_draws,
    shortest_error,
    symmetric_error,
)
from flowunc.propagation.low_discrepancy import LowDiscrepancy
from flowunc.propagation.outcome import Outcome
from flowunc.propagation.scramblings import error_over_scramblings
from flowunc.propagation.simulation import Simulation

__all__ = ["JointResult", "MonteCarloResult", "Recipe"]

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Recipe:
    """What makes the same draws again.

    Attributes
    ----------
    quantities : tuple of Quantity
        Drawn together.
    seed, trials : int
    scramblings : int
        Independent scramblings of low-discrepancy points; 0 for random draws.
    workers : int
        Threads of this process that draw again, whoever drew first.
    """

    quantities: tuple[Quantity, ...]
    seed: int
    trials: int
    scramblings: int = 0
    workers: int = 1

    def rows(self, rows: list[int]) -> Values:
        """Draw some rows, counted over all quantities, shape (len(rows), trials)."""
        nodes = [quantity._node for quantity in self.quantities]
        if self.scramblings:
            return self._points(nodes).draw_rows(rows)
        return Simulation(nodes, self.seed).draw_rows(rows, self.trials, Crew(self.workers))

    def side_by_side(self) -> list[Values]:
        """Draw all quantities so that their draws may be set side by side: (n, trials) each."""
        nodes = [quantity._node for quantity in self.quantities]
        bounds = np.cumsum([0] + [quantity.size for quantity in self.quantities])
        if self.scramblings:
            draws = self._points(nodes).joint()
        else:
            draws = self.rows(list(range(int(bounds[-1]))))
        return [draws[bounds[i] : bounds[i + 1]] for i in range(len(self.quantities))]

    def _points(self, nodes: list[Any]) -> LowDiscrepancy:
        return LowDiscrepancy(nodes, self.seed, self.trials // self.scramblings, self.scramblings)


class MonteCarloResult:
    """What the draws of one result say, in the unit of the quantity.

    Attributes
    ----------
    unit, label : str
    trials, seed : int
        Enough to repeat it bit by bit.
    not_finite : int or ndarray
        Draws without a finite value (a root of a negative draw, say), for each reading.
    has_pole : bool or ndarray
        Whether a denominator changed sign among the draws, or ends at zero where limits end.
        Mean and standard deviation do not exist then and are NaN; the coverage interval does.
    variance_reduction : float, ndarray or None
        With ``control=True``: how many times more plain draws would give the mean as well; NaN
        where no mean is given.
    """

    def __init__(self, recipe: Recipe, which: int, outcome: Outcome) -> None:
        self._recipe = recipe
        self._quantity = recipe.quantities[which]
        bounds = np.cumsum([0] + [quantity.size for quantity in recipe.quantities])
        self._first = int(bounds[which])
        rows = slice(self._first, int(bounds[which + 1]))
        self._draws = None if outcome.draws is None else outcome.draws[rows]
        self._count = outcome.moments.count
        self._not_finite = outcome.moments.not_finite[rows]
        self._poles = outcome.poles[rows]
        lost = self._not_finite > 0
        self._mean = np.where(lost | outcome.no_mean[rows], np.nan, outcome.moments.mean[rows])
        # even points are no random sample: nothing is gained by dividing by one less
        u = outcome.moments.deviation(missing=0 if recipe.scramblings else 1)[rows]
        self._u = np.where(lost | outcome.no_variance[rows], np.nan, u)
        self._reduction = None if outcome.reduction is None else outcome.reduction[rows]
        self._found: dict[tuple[float, str], tuple[Values, Values]] = {}

    @property
    def unit(self) -> str:
        """Unit of all numbers here."""
        return self._quantity.unit

    @property
    def label(self) -> str:
        """Label of the quantity."""
        return self._quantity.label

    @property
    def trials(self) -> int:
        """Number of draws."""
        return self._count

    @property
    def sort(self) -> str:
        """What was drawn, in words: "draws" or "Sobol points"."""
        return "Sobol points" if self._recipe.scramblings else "draws"

    @property
    def seed(self) -> int:
        """Seed that repeats these draws."""
        return self._recipe.seed

    def _shaped(self, values: NDArray[Any]) -> Any:
        if self._quantity.ndim == 0:
            return values[0].item()
        values.setflags(write=False)
        return values

    @property
    def mean(self) -> Numbers:
        """Mean of the draws, shaped as the value [JCGM 101, 7.6, eq. 16]."""
        shown: Numbers = self._shaped(self._quantity._unit.from_si(self._mean))
        return shown

    @property
    def u(self) -> Numbers:
        """Standard deviation of the draws, shaped as the value [JCGM 101, 7.6, eq. 17]."""
        shown: Numbers = self._shaped(self._quantity._unit.scale_from_si(self._u))
        return shown

    @property
    def not_finite(self) -> Any:
        """Number of draws without a finite value, for each reading."""
        return self._shaped(self._not_finite.copy())

    @property
    def has_pole(self) -> Any:
        """Whether a denominator reaches zero, for each reading."""
        return self._shaped(self._poles.copy())

    @property
    def variance_reduction(self) -> Any:
        """With ``control=True``, the variance of the plain mean over that of the controlled one."""
        return None if self._reduction is None else self._shaped(self._reduction.copy())

    @property
    def mean_error(self) -> Numbers:
        """Numerical standard error of `mean`."""
        if self._recipe.scramblings:
            error = self._over_scramblings(lambda part: float(part.mean()))
            return self._scale(np.where(np.isnan(self._mean), np.nan, error))
        error = self._u / math.sqrt(self._count)
        return self._scale(error if self._reduction is None else error / np.sqrt(self._reduction))

    @property
    def u_error(self) -> Numbers:
        """Numerical standard error of `u` (of plain draws, without a control)."""
        if self._recipe.scramblings:
            error = self._over_scramblings(lambda part: float(part.std()))
            return self._scale(np.where(np.isnan(self._u), np.nan, error))
        error = np.full(self._u.size, np.nan)
        for row, draws in self._rows():
            if self._u[row] == 0:
                error[row] = 0.0
            elif np.isfinite(self._u[row]):
                square = np.square((draws - self._mean[row]) / self._u[row])
                # variance of a sample variance: (mu4 - sigma^4) / n, halved for its root
                error[row] = self._u[row] * math.sqrt(np.square(square - 1.0).mean() / self._count)
        return self._scale(error / 2.0)

    def _scale(self, values: Values) -> Numbers:
        shown: Numbers = self._shaped(self._quantity._unit.scale_from_si(values))
        return shown

    def _over_scramblings(self, statistic: Callable[[Values], Any]) -> Values:
        """Return the standard error of a pooled statistic from its scatter over scramblings."""
        parts = self._recipe.scramblings
        found = []
        for row, draws in self._rows():
            scatter = error_over_scramblings(draws, parts, statistic, float(self._u[row]))
            found.append(scatter * np.where(self._not_finite[row], np.nan, 1.0))
        return np.array(found)

    def interval(self, level: float = 0.95, kind: str = "shortest") -> tuple[Numbers, Numbers]:
        """Return the coverage interval (low, high), each shaped as the value.

        Parameters
        ----------
        level : float
            Coverage probability.
        kind : {"shortest", "symmetric"}
            The shortest interval, or the one with equal probability on both sides.

        Notes
        -----
        [JCGM 101, 7.7]. A reading with draws that are not finite has no interval (NaN).
        """
        key = (check_level(level), check_kind(kind))
        if key not in self._found:
            low, high = np.empty(self._u.size), np.empty(self._u.size)
            for row, draws in self._rows():
                low[row], high[row] = math.nan, math.nan
                if not self._not_finite[row]:
                    low[row], high[row] = interval_of_draws(draws, *key)
            self._found[key] = low, high
        low, high = self._found[key]
        unit = self._quantity._unit
        return self._shaped(unit.from_si(low)), self._shaped(unit.from_si(high))

    def interval_error(
        self, level: float = 0.95, kind: str = "symmetric"
    ) -> tuple[Numbers, Numbers]:
        """Return the numerical standard error of both ends of the interval.

        With Sobol points every scrambling by itself must be long enough for the interval.
        """
        level, kind = check_level(level), check_kind(kind)
        if self._recipe.scramblings:
            self._require_long_parts(level)
            ends = self._over_scramblings(lambda part: interval_of_draws(part, level, kind))
            if kind == "shortest":  # its ends settle slower than with the root of the parts
                ends = ends * self._recipe.scramblings**0.25
            return self._scale(ends[:, 0]), self._scale(ends[:, 1])
        error_of = symmetric_error if kind == "symmetric" else shortest_error
        low, high = np.empty(self._u.size), np.empty(self._u.size)
        for row, draws in self._rows():
            low[row], high[row] = math.nan, math.nan
            if not self._not_finite[row]:
                low[row], high[row] = error_of(draws, level)
        return self._scale(low), self._scale(high)

    def _require_long_parts(self, level: float) -> None:
        parts = self._recipe.scramblings
        length = needed = self._count // parts
        while not _covers(level, needed):
            needed *= 2
        if needed > length:
            raise RangeError(
                f"{self._count} Sobol points are {parts} scramblings of {length}, each too short "
                f"for an interval at level {level}, whose scatter is the numerical error: expected "
                f"trials={parts * needed} or more"
            )

    def samples(self) -> NDArray[np.float64]:
        """Return all draws, shape (trials,) for a scalar, else (trials, n).

        Draws of one trial belong together. With ``sampler="sobol"`` they are made anew for
        this, with dimensions of its own for every reading (see `flowunc.monte_carlo`).
        """
        draws = self._draws
        if draws is None or (self._recipe.scramblings and self._is_one_of_several):
            draws = self._side_by_side()
        shown = np.asarray(self._quantity._unit.from_si(draws))
        return shown[0] if self._quantity.ndim == 0 else shown.T

    @property
    def _is_one_of_several(self) -> bool:
        return self._u.size > 1 or len(self._recipe.quantities) > 1

    def _side_by_side(self) -> Values:
        if self._recipe.scramblings:
            which = next(
                i for i, item in enumerate(self._recipe.quantities) if item is self._quantity
            )
            return self._recipe.side_by_side()[which]
        return self._recipe.rows(list(range(self._first, self._first + self._u.size)))

    def _all(self) -> Values:
        return self._side_by_side() if self._draws is None else self._draws

    def _rows(self) -> Iterator[tuple[int, Values]]:
        """Yield the draws of each reading as an array the caller may reorder."""
        for row in range(self._u.size):
            if self._draws is None:
                yield row, self._recipe.rows([self._first + row])[0]
            else:
                yield row, self._draws[row].copy()

    def __repr__(self) -> str:
        name = f"{self.label!r}, " if self.label else ""
        sort = self.sort if self._recipe.scramblings else "random draws"
        count = "1 value" if self._quantity.ndim == 0 else f"{self._u.size} readings"
        return (
            f"MonteCarloResult({name}{count} in {self.unit}, {self._count} {sort}, "
            f"seed={self.seed})"
        )

    def __str__(self) -> str:
        return str(drawn_table(self))

    def _repr_html_(self) -> str:
        return drawn_table(self)._repr_html_()


def _covers(level: float, trials: int) -> bool:
    """Tell whether so many draws have a coverage interval at a level."""
    try:
        coverage_ranks(level, trials)
    except RangeError:
        return False
    return True


class JointResult(Sequence[MonteCarloResult]):
    """Results drawn together: one `MonteCarloResult` each, and their covariance."""

    def __init__(self, results: tuple[MonteCarloResult, ...]) -> None:
        self._results = results

    def __getitem__(self, index: Any) -> Any:
        return self._results[index]

    def __len__(self) -> int:
        return len(self._results)

    def __str__(self) -> str:
        return "\n\n".join(map(str, self._results))

    def _repr_html_(self) -> str:
        return "\n".join(result._repr_html_() for result in self._results)

    def covariance(self, first: int = 0, second: int = 1) -> Numbers:
        """Return the covariance of two of the results, in the product of their units.

        A float for two scalars, else shape (n, m) [JCGM 102, 7.6].
        """
        a, b = self._results[first], self._results[second]
        left, right = self._deviations(first, second)
        scale = a._quantity._unit.factor * b._quantity._unit.factor
        with np.errstate(over="ignore", invalid="ignore"):  # of draws that are not finite
            matrix = left @ right.T / (a.trials - (not a._recipe.scramblings)) / scale
        return self._pairwise(matrix, first, second)

    def correlation(self, first: int = 0, second: int = 1) -> Numbers:
        """Return the correlation of two of the results, shaped as `covariance`."""
        for which in (first, second):
            certain = np.flatnonzero(np.atleast_1d(self._results[which].u) == 0)
            if certain.size:
                raise PropagationError(
                    f"reading {int(certain[0])} of result {which} has no uncertainty, so its "
                    "correlation is not defined: leave it out, or use covariance()"
                )
        # of the very draws that are set side by side, so that none comes out above 1
        left, right = self._deviations(first, second)
        with np.errstate(over="ignore", invalid="ignore"):  # of draws that are not finite
            lengths = np.outer(np.linalg.norm(left, axis=1), np.linalg.norm(right, axis=1))
            matrix = np.clip(left @ right.T / lengths, -1.0, 1.0)
        return self._pairwise(matrix, first, second)

    def _pairwise(self, matrix: Values, first: int, second: int) -> Numbers:
        """Shape a matrix, NaN where mean and u, and so a covariance, do not exist."""
        a, b = self._results[first], self._results[second]
        matrix[np.isnan(np.atleast_1d(a.u)), :] = math.nan
        matrix[:, np.isnan(np.atleast_1d(b.u))] = math.nan
        scalar = a._quantity.ndim == 0 and b._quantity.ndim == 0
        return float(matrix[0, 0]) if scalar else matrix

    def _deviations(self, first: int, second: int) -> tuple[Values, Values]:
        """Return draws of both results that belong together, less their means."""
        a, b = self._results[first], self._results[second]
        if a._recipe.scramblings:
            draws = a._recipe.side_by_side()
            left, right = draws[first], draws[second]
        else:
            left, right = a._all(), b._all()
        with np.errstate(over="ignore", invalid="ignore"):
            return (
                left - left.mean(axis=1, keepdims=True),
                right - right.mean(axis=1, keepdims=True),
            )
