"""Propagation of distributions by drawing [JCGM 101].

`monte_carlo` evaluates the recorded model of one result, `monte_carlo_joint` several results
on the same draws, so that their covariance comes by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.arguments import check_level
from flowunc.core.errors import DimensionError, PropagationError, RangeError, warn_user
from flowunc.core.quantity import Numbers, Quantity
from flowunc.propagation.adaptive import Outcome, draw_fixed, draw_until_stable
from flowunc.propagation.draws import check_seed, check_trials, check_workers
from flowunc.propagation.intervals import (
    check_kind,
    interval_of_draws,
    shortest_error,
    symmetric_error,
)
from flowunc.propagation.simulation import Simulation

__all__ = ["JointResult", "MonteCarloResult", "monte_carlo", "monte_carlo_joint"]

MOST_TRIALS = 10_000_000


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
        Whether a denominator changed sign among the draws. Mean and standard deviation do
        not exist then and are NaN; the coverage interval does exist.
    """

    def __init__(
        self,
        quantities: tuple[Quantity, ...],
        which: int,
        outcome: Outcome,
        seed: int,
        workers: int,
    ) -> None:
        self._quantities = quantities
        self._which = which
        self._seed = seed
        self._workers = workers
        bounds = np.cumsum([0] + [quantity.size for quantity in quantities])
        self._first = int(bounds[which])
        rows = slice(self._first, int(bounds[which + 1]))
        self._draws = None if outcome.draws is None else outcome.draws[rows]
        self._count = outcome.moments.count
        self._not_finite = outcome.moments.not_finite[rows]
        self._poles = outcome.poles[rows]
        lost = self._not_finite > 0
        self._mean = np.where(lost | outcome.no_mean[rows], np.nan, outcome.moments.mean[rows])
        variance = outcome.moments.squares[rows] / (self._count - 1)
        self._u = np.where(lost | outcome.no_variance[rows], np.nan, np.sqrt(variance))
        self._found: dict[tuple[float, str], tuple[NDArray[np.float64], NDArray[np.float64]]] = {}

    @property
    def _quantity(self) -> Quantity:
        return self._quantities[self._which]

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
    def seed(self) -> int:
        """Seed that repeats these draws."""
        return self._seed

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
        """Whether a denominator changed sign among the draws, for each reading."""
        return self._shaped(self._poles.copy())

    @property
    def mean_error(self) -> Numbers:
        """Numerical standard error of `mean`, from the number of draws."""
        shown: Numbers = self._shaped(
            self._quantity._unit.scale_from_si(self._u / math.sqrt(self._count))
        )
        return shown

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
        """Return the numerical standard error of both ends of the interval."""
        level, kind = check_level(level), check_kind(kind)
        error_of = symmetric_error if kind == "symmetric" else shortest_error
        low, high = np.empty(self._u.size), np.empty(self._u.size)
        for row, draws in self._rows():
            low[row], high[row] = math.nan, math.nan
            if not self._not_finite[row]:
                low[row], high[row] = error_of(draws, level)
        unit = self._quantity._unit
        return self._shaped(unit.scale_from_si(low)), self._shaped(unit.scale_from_si(high))

    def samples(self) -> NDArray[np.float64]:
        """Return all draws, shape (trials,) for a scalar, else (trials, n)."""
        draws = self._draws
        if draws is None:
            draws = self._redraw(list(range(self._u.size)))
        shown = np.asarray(self._quantity._unit.from_si(draws))
        return shown[0] if self._quantity.ndim == 0 else shown.T

    def _rows(self) -> Iterator[tuple[int, NDArray[np.float64]]]:
        """Yield the draws of each reading as an array the caller may reorder."""
        for row in range(self._u.size):
            if self._draws is None:
                yield row, self._redraw([row])[0]
            else:
                yield row, self._draws[row].copy()

    def _redraw(self, rows: list[int]) -> NDArray[np.float64]:
        simulation = Simulation(
            [quantity._node for quantity in self._quantities], self._seed, workers=self._workers
        )
        return simulation.draw_rows([self._first + row for row in rows], self._count)

    def __repr__(self) -> str:
        name = f"{self.label!r}, " if self.label else ""
        count = "1 value" if self._quantity.ndim == 0 else f"{self._u.size} readings"
        return (
            f"MonteCarloResult({name}{count} in {self.unit}, trials={self._count}, "
            f"seed={self._seed})"
        )


class JointResult(Sequence[MonteCarloResult]):
    """Results drawn together: one `MonteCarloResult` each, and their covariance."""

    def __init__(self, results: tuple[MonteCarloResult, ...]) -> None:
        self._results = results

    def __getitem__(self, index: Any) -> Any:
        return self._results[index]

    def __len__(self) -> int:
        return len(self._results)

    def covariance(self, first: int = 0, second: int = 1) -> Numbers:
        """Return the covariance of two of the results, in the product of their units.

        A float for two scalars, else shape (n, m) [JCGM 102, 7.6].
        """
        a, b = self._results[first], self._results[second]
        left = np.atleast_2d(a.samples().T)
        right = np.atleast_2d(b.samples().T)
        left = left - left.mean(axis=1, keepdims=True)
        right = right - right.mean(axis=1, keepdims=True)
        matrix = left @ right.T / (a.trials - 1)
        # where mean and u do not exist, neither does a covariance
        matrix[np.isnan(np.atleast_1d(a.u)), :] = math.nan
        matrix[:, np.isnan(np.atleast_1d(b.u))] = math.nan
        scalar = a._quantity.ndim == 0 and b._quantity.ndim == 0
        return float(matrix[0, 0]) if scalar else np.asarray(matrix)

    def correlation(self, first: int = 0, second: int = 1) -> Numbers:
        """Return the correlation of two of the results, shaped as `covariance`."""
        for which in (first, second):
            certain = np.flatnonzero(np.atleast_1d(self._results[which].u) == 0)
            if certain.size:
                raise PropagationError(
                    f"reading {int(certain[0])} of result {which} has no uncertainty, so its "
                    "correlation is not defined: leave it out, or use covariance()"
                )
        spread = np.outer(self._results[first].u, self._results[second].u)
        matrix = np.atleast_2d(self.covariance(first, second)) / spread
        scalar = all(self._results[i]._quantity.ndim == 0 for i in (first, second))
        return float(matrix[0, 0]) if scalar else matrix


def monte_carlo(
    quantity: Quantity,
    trials: int = 200_000,
    *,
    digits: int | None = None,
    max_trials: int = MOST_TRIALS,
    level: float = 0.95,
    seed: int | None = 0,
    workers: int = 1,
) -> MonteCarloResult:
    """Propagate the distributions behind one result by drawing.

    Parameters
    ----------
    quantity : Quantity
    trials : int
        Number of draws.
    digits : int, optional
        Draw on, in place of a fixed number, until mean, u and both ends of the coverage
        interval are stable to this many significant digits of u [JCGM 101, 7.9].
    max_trials : int
        Ceiling for ``digits``; reaching it is a `FlowuncWarning` that states the tolerance
        reached.
    level : float
        Coverage probability whose interval must be stable.
    seed : int, optional
        Same seed, same draws, whatever the number of workers. None takes a fresh one.
    workers : int
        Threads that share the work.

    Returns
    -------
    MonteCarloResult

    Warns
    -----
    FlowuncWarning
        A denominator changes sign among the draws, draws are not finite, or the ceiling was
        reached.

    Notes
    -----
    Each component is drawn once per trial, so that correlations come by themselves. A
    component with finite degrees of freedom from repeats is drawn from the scaled t
    distribution, whose standard deviation exceeds the linear u.

    Examples
    --------
    >>> from flowunc import Length, limits, monte_carlo
    >>> side = Length(10, "mm", limits(0.1))
    >>> drawn = monte_carlo(side, 50_000, seed=1)
    >>> low, high = drawn.interval(0.95, kind="symmetric")
    >>> round(low, 2), round(high, 2)
    (9.9, 10.1)
    """
    joint = monte_carlo_joint(
        [quantity],
        trials,
        digits=digits,
        max_trials=max_trials,
        level=level,
        seed=seed,
        workers=workers,
    )
    drawn: MonteCarloResult = joint[0]
    return drawn


def monte_carlo_joint(
    quantities: Sequence[Quantity],
    trials: int = 200_000,
    *,
    digits: int | None = None,
    max_trials: int = MOST_TRIALS,
    level: float = 0.95,
    seed: int | None = 0,
    workers: int = 1,
) -> JointResult:
    """Propagate the distributions behind several results on the same draws.

    See `monte_carlo` for the options.

    Returns
    -------
    JointResult
        One `MonteCarloResult` per quantity, with `covariance` and `correlation`.

    Examples
    --------
    >>> from flowunc import Length, limits, monte_carlo_joint
    >>> side = Length(10, "mm", limits(0.1))
    >>> joint = monte_carlo_joint([side, side**2], 20_000, seed=1)
    >>> round(joint.correlation(), 3)
    1.0
    """
    chosen = tuple(quantities)
    if not chosen:
        raise RangeError("monte_carlo_joint([]): expected at least one quantity")
    for item in chosen:
        if not isinstance(item, Quantity):
            raise DimensionError(f"Monte Carlo of {type(item).__name__}: expected a quantity")
    check_workers(workers)
    used_seed = check_seed(seed)
    simulation = Simulation([item._node for item in chosen], used_seed, workers=workers)
    if digits is None:
        outcome = draw_fixed(simulation, check_trials(trials))
    else:
        outcome = draw_until_stable(
            simulation, digits, check_level(level), check_trials(max_trials)
        )
    _warn_about(outcome, chosen)
    return JointResult(
        tuple(
            MonteCarloResult(chosen, which, outcome, used_seed, workers)
            for which in range(len(chosen))
        )
    )


def _warn_about(outcome: Outcome, quantities: tuple[Quantity, ...]) -> None:
    bounds = np.cumsum([0] + [quantity.size for quantity in quantities])
    for which, quantity in enumerate(quantities):
        rows = slice(int(bounds[which]), int(bounds[which + 1]))
        name = quantity.label or type(quantity).__name__
        poles = np.flatnonzero(outcome.poles[rows])
        if poles.size:
            warn_user(
                f"{name}, reading {_listed(poles)}: a denominator changes sign among the draws, so "
                "mean and standard uncertainty do not exist; report the coverage interval, or "
                "measure farther from zero"
            )
        few = np.flatnonzero(outcome.no_variance[rows] & ~outcome.poles[rows])
        if few.size:
            warn_user(
                f"{name}, reading {_listed(few)}: two or three repeats (2 degrees of freedom or "
                "fewer) leave the distribution without a standard deviation; report the coverage "
                "interval, or repeat the reading"
            )
        lost = outcome.moments.not_finite[rows]
        bad = np.flatnonzero(lost)
        if bad.size:
            warn_user(
                f"{name}, reading {_listed(bad)}: {int(lost.max())} of "
                f"{outcome.moments.count} draws have no finite value (a root or logarithm of a "
                "negative draw), so neither mean, u nor interval is given"
            )
    if outcome.tolerance_text:
        warn_user(outcome.tolerance_text)


def _listed(rows: NDArray[np.intp]) -> str:
    shown = ", ".join(str(int(row)) for row in rows[:5])
    return shown + (f" and {rows.size - 5} more" if rows.size > 5 else "")
