"""Holds the linear method against the draws [JCGM 101, 8].

The ends of the two coverage intervals are compared. The linear result *holds to n digits* when
both ends agree within the numerical tolerance of u at n significant digits. The draws have a
numerical error of their own; where it covers the tolerance the verdict is that it cannot
be decided.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.arguments import check_level
from flowunc.core.display.tables import mimebundle, row_names
from flowunc.core.errors import DimensionError, PropagationError
from flowunc.core.quantity import Quantity
from flowunc.propagation.draws import check_seed
from flowunc.propagation.intervals import check_kind
from flowunc.propagation.monte_carlo import MonteCarloResult, Sampler, monte_carlo
from flowunc.propagation.tolerance import MOST_DIGITS, check_digits, numerical_tolerance

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CrossCheck", "Verdict", "cross_check"]

Verdict = Literal["holds", "fails", "undecided"]

SOBOL_STEPS = (1 << 14, 1 << 16, 1 << 18)
RANDOM_STEPS = (200_000, 800_000)
_LONGEST_NAME = 30  # characters that a line of text leaves
ERRORS_SPANNED = 2.0  # standard numerical errors granted to the draws, as in [JCGM 101, 7.9.4]
ERRORS_EARLY = 3.0  # where more draws can be made: an error from 8 scramblings may come out low


@dataclass(frozen=True)
class CrossCheck:
    """Both methods side by side, in the unit of the quantity; one row per reading.

    Attributes
    ----------
    quantity : Quantity
    drawn : MonteCarloResult
    level : float
    kind : {"symmetric", "shortest"}
    digits : int
        Significant digits asked for.
    linear_low, linear_high, drawn_low, drawn_high : ndarray, shape (n,)
        Ends of the coverage intervals; NaN where a method has none.
    d_low, d_high : ndarray, shape (n,)
        Distances of the ends [JCGM 101, 8.1.3].
    tolerance : ndarray, shape (n,)
        Numerical tolerance delta at the asked digits of u.
    error_low, error_high : ndarray, shape (n,)
        Numerical standard errors of the drawn ends.
    supported_digits : ndarray of int, shape (n,)
        Digits of u to which the linear interval holds; 0 where it does not hold at one.
    verdicts : tuple of {"holds", "fails", "undecided"}
    trials : ndarray of int, shape (n,)
        Draws behind each reading; more where fewer left the verdict open.
    names : tuple of str
        Of the readings, such as the labels of runs; numbers stand for them where it is empty.
    """

    quantity: Quantity
    drawn: MonteCarloResult
    level: float
    kind: str
    digits: int
    linear_low: NDArray[np.float64]
    linear_high: NDArray[np.float64]
    drawn_low: NDArray[np.float64]
    drawn_high: NDArray[np.float64]
    d_low: NDArray[np.float64]
    d_high: NDArray[np.float64]
    tolerance: NDArray[np.float64]
    error_low: NDArray[np.float64]
    error_high: NDArray[np.float64]
    supported_digits: NDArray[np.int64]
    verdicts: tuple[Verdict, ...]
    trials: NDArray[np.int64]
    names: tuple[str, ...] = ()

    def with_rows(self, rows: list[int], other: CrossCheck) -> CrossCheck:
        """Return this check with some readings judged anew."""
        verdicts = list(self.verdicts)
        for row, verdict in zip(rows, other.verdicts, strict=True):
            verdicts[row] = verdict
        changed: dict[str, Any] = {"verdicts": tuple(verdicts)}
        for item in fields(self):
            values = getattr(self, item.name)
            if isinstance(values, np.ndarray):
                values = values.copy()
                values[rows] = getattr(other, item.name)
                changed[item.name] = values
        return replace(self, **changed)

    @property
    def holds(self) -> NDArray[np.bool_]:
        """Whether the linear result holds to the asked digits, for each reading."""
        return np.array([verdict == "holds" for verdict in self.verdicts])

    def _needed(self) -> NDArray[np.float64]:
        """Return how many draws would clear each verdict; NaN where it is clear already.

        The numerical error falls with the root of their number, or faster.
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            low = (self.tolerance - self.d_low) / self.error_low
            high = (self.tolerance - self.d_high) / self.error_high
            # what is inside at both ends holds, what is outside at one fails
            clearance = np.abs(np.minimum(low, high))
            needed = self.trials * (ERRORS_EARLY / clearance) ** 2
        return np.where(clearance < ERRORS_EARLY, needed, np.nan)

    def sentence(self, row: int = 0) -> str:
        """Say in one sentence which result of a reading to report and why."""
        from flowunc.core.display.rounding import round_pair, text_pair

        percent = f"{100 * self.level:g} %"
        unit = "" if self.quantity.unit == "1" else f" {self.quantity.unit}"
        verdict = self.verdicts[row]
        scale = self.tolerance[row] if self.tolerance[row] > 0 else self._width(row)
        low, high = (
            replace(round_pair(x[row], scale), uncertainty="").text
            for x in (self.drawn_low, self.drawn_high)
        )
        interval = f"the drawn {percent} interval {low} to {high}{unit}"
        if not np.isfinite(self.drawn_low[row]):
            return (
                "report neither: some draws have no finite value (a root or logarithm of a "
                "negative draw, or a result too large); measure farther from the edge of the "
                "formula"
            )
        if not np.isfinite(self.linear_low[row]):
            return f"report {interval}: the formula has no derivative here"
        if verdict == "holds":
            number = int(self.supported_digits[row])
            figures = "1 significant digit" if number == 1 else f"{number} significant digits"
            middle = (self.linear_low[row] + self.linear_high[row]) / 2
            half = (self.linear_high[row] - self.linear_low[row]) / 2
            return (
                f"report the linear result {text_pair(middle, half)}{unit} ({percent}): the draws "
                f"confirm it to {figures} of u"
            )
        end = "low" if self.d_low[row] >= self.d_high[row] else "high"
        distance = max(self.d_low[row], self.d_high[row])
        if verdict == "undecided":
            return (
                f"report {interval}: the numerical error of the draws is too large to say "
                "whether the linear result holds; draw more trials"
            )
        tail = "; mean and u do not exist, as a denominator reaches zero" if self._pole(row) else ""
        if self.tolerance[row] == 0:
            return f"report {interval}: to first order u is zero, which the draws refute{tail}"
        return (
            f"report {interval}: the linear interval misses its {end} end by {distance:.2g}{unit}, "
            f"more than {self.tolerance[row]:.1g}{unit}{tail}"
        )

    def _width(self, row: int) -> float:
        return float(self.drawn_high[row] - self.drawn_low[row]) / 40

    def _pole(self, row: int) -> bool:
        return bool(np.atleast_1d(self.drawn.has_pole)[row])

    def table(self) -> pd.DataFrame:
        """Return all numbers as a table, one line per reading."""
        import pandas as pd

        return pd.DataFrame(
            {
                "linear_low": self.linear_low,
                "linear_high": self.linear_high,
                "drawn_low": self.drawn_low,
                "drawn_high": self.drawn_high,
                "d_low": self.d_low,
                "d_high": self.d_high,
                "tolerance": self.tolerance,
                "numerical_error": np.maximum(self.error_low, self.error_high),
                "trials": self.trials,
                "supported_digits": self.supported_digits,
                "verdict": list(self.verdicts),
                "sentence": [self.sentence(row) for row in range(len(self.verdicts))],
            },
            index=pd.Index(self.names, name="run") if self.names else None,
        )

    def __str__(self) -> str:
        import textwrap

        name = self.quantity.label or type(self.quantity).__name__
        fewest, most = int(self.trials.min()), int(self.trials.max())
        count = f"{fewest}" if fewest == most else f"{fewest} to {most}"
        heading = (
            f"Cross-check of {name}: linear against {count} {self.drawn.sort} (seed "
            f"{self.drawn.seed}), {100 * self.level:g} % {self.kind} interval, asked for "
            f"{self.digits} digit{'s' if self.digits > 1 else ''} of u"
        )
        lines = textwrap.wrap(heading, 99, subsequent_indent="  ")
        names, width = row_names(self.names, len(self.verdicts), longest=_LONGEST_NAME, least=3)
        for row, verdict in enumerate(self.verdicts):
            place = "" if self.quantity.ndim == 0 else f"{names[row]:>{width}} "
            start = f"  {place}{verdict:9s} "
            lines += textwrap.wrap(
                self.sentence(row), 99, initial_indent=start, subsequent_indent=" " * len(start)
            )
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        from flowunc.core.display.frames import rounded_table

        ends = ["linear_low", "linear_high", "drawn_low", "drawn_high"]
        table = self.table()[["verdict", *ends, "supported_digits", "sentence"]]
        quarter = [self.linear_high - self.linear_low, self.drawn_high - self.drawn_low]
        smallest = np.fmin(*quarter) / 4
        name = self.quantity.label or type(self.quantity).__name__
        unit = "" if self.quantity.unit == "1" else f" in {self.quantity.unit}"
        title = f"Cross-check of {name}{unit}, {100 * self.level:g} % {self.kind} interval"
        return rounded_table(
            table,
            uncertainty_of=dict.fromkeys(ends, smallest),
            index="run" if self.names else "reading",
            title=title,
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def cross_check(
    quantity: Quantity,
    *,
    level: float = 0.95,
    digits: int = 1,
    kind: str = "symmetric",
    trials: int | None = None,
    seed: int | None = 0,
    sampler: Sampler = "sobol",
    workers: int = 1,
) -> CrossCheck:
    """Hold the linear result of a quantity against draws from the same record.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings; every reading gets a verdict of its own.
    level : float
        Coverage probability of the intervals compared.
    digits : int
        Significant digits of u that the linear result is asked to hold to.
    kind : {"symmetric", "shortest"}
        Kind of the drawn interval; "shortest" is what [JCGM 101, 9.3] compares.
    trials : int, optional
        Number of draws. If left out, they are increased up to a quarter of a million for
        the readings whose verdict is close.
    seed, sampler, workers
        As in `monte_carlo`; low-discrepancy points unless ``sampler="random"``, which several
        workers need.

    Returns
    -------
    CrossCheck

    Notes
    -----
    The linear interval is value +/- k u with the t factor of the effective degrees of
    freedom. d_low and d_high are the distances of its ends from the drawn ones; delta is half
    a unit of the last asked digit of u [JCGM 101, 8.1 and 7.9.2]. A verdict counts two
    standard numerical errors of the drawn ends either way; while more draws can be made it
    must clear three, so that it seldom depends on the seed.

    Examples
    --------
    >>> from flowunc import Length, cross_check, standard
    >>> side = Length(10, "mm", standard(0.1))
    >>> cross_check(side**2, seed=1).verdicts
    ('holds',)
    """
    if not isinstance(quantity, Quantity):
        raise DimensionError(f"cross_check of {type(quantity).__name__}: expected a quantity")
    level, kind = check_level(level), check_kind(kind)
    check_digits(digits)
    seed = check_seed(seed)
    steps = SOBOL_STEPS if sampler == "sobol" else RANDOM_STEPS
    first = steps[0] if trials is None else trials
    drawn = monte_carlo(quantity, first, seed=seed, sampler=sampler, workers=workers)
    linear = _linear(quantity, level)
    found = _held(quantity, drawn, linear, level=level, digits=digits, kind=kind)
    for count in steps[1:] if trials is None else ():
        close = np.flatnonzero(found._needed() <= (count if count < steps[-1] else np.inf))
        if not close.size:
            continue
        rest = quantity if quantity.ndim == 0 else quantity[close]
        more = monte_carlo(rest, count, seed=seed, sampler=sampler, workers=workers)
        ends = _Linear(*(values[close] for values in linear))
        again = _held(rest, more, ends, level=level, digits=digits, kind=kind)
        found = found.with_rows(close.tolist(), again)
    return found


def compare(
    quantity: Quantity, drawn: MonteCarloResult, *, level: float, digits: int, kind: str
) -> CrossCheck:
    """Hold the linear result against draws made before."""
    linear = _linear(quantity, level)
    return _held(quantity, drawn, linear, level=level, digits=digits, kind=kind)


def _held(
    quantity: Quantity,
    drawn: MonteCarloResult,
    linear: _Linear,
    *,
    level: float,
    digits: int,
    kind: str,
) -> CrossCheck:
    drawn_low, drawn_high = (_row(end) for end in drawn.interval(level, kind))
    error_low, error_high = (_row(end) for end in drawn.interval_error(level, kind))
    d_low, d_high = np.abs(linear.low - drawn_low), np.abs(linear.high - drawn_high)
    verdicts: list[Verdict] = []
    supported = np.zeros(linear.u.size, dtype=np.int64)
    tolerance = np.array([numerical_tolerance(value, digits) for value in linear.u])
    for row, u in enumerate(linear.u):
        ends: Sequence[tuple[float, float]] = (
            (d_low[row], error_low[row]),
            (d_high[row], error_high[row]),
        )
        verdicts.append(_verdict(ends, tolerance[row]))
        for number in range(1, MOST_DIGITS + 1):
            if _verdict(ends, numerical_tolerance(u, number)) != "holds":
                break
            supported[row] = number
    return CrossCheck(
        quantity,
        drawn,
        level,
        kind,
        digits,
        linear.low,
        linear.high,
        drawn_low,
        drawn_high,
        d_low,
        d_high,
        tolerance,
        error_low,
        error_high,
        supported,
        tuple(verdicts),
        np.full(linear.u.size, drawn.trials),
    )


class _Linear(NamedTuple):
    """Ends and u of the linear method, in the unit of the quantity, for each reading."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    u: NDArray[np.float64]


def _linear(quantity: Quantity, level: float) -> _Linear:
    """Return what the linear method says; NaN for readings where it has no answer."""
    try:
        low, high = quantity.interval(level)
        return _Linear(_row(low), _row(high), _row(quantity.u))
    except PropagationError:
        if quantity.ndim == 0:
            return _Linear(_row(np.nan), _row(np.nan), _row(np.nan))
    by_reading = zip(*(_linear(reading, level) for reading in quantity), strict=True)
    return _Linear(*(np.concatenate(values) for values in by_reading))


def _row(values: Any) -> NDArray[np.float64]:
    return np.atleast_1d(np.asarray(values, dtype=np.float64))


def _verdict(ends: Sequence[tuple[float, float]], tolerance: float) -> Verdict:
    """Judge the distances of both ends, each with the numerical error of the draws."""
    if not all(np.isfinite(distance) for distance, _ in ends) or not np.isfinite(tolerance):
        return "fails"
    if all(distance + ERRORS_SPANNED * error <= tolerance for distance, error in ends):
        return "holds"
    if any(distance - ERRORS_SPANNED * error > tolerance for distance, error in ends):
        return "fails"
    return "undecided"
