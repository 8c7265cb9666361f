"""Outliers among repeated readings, by the test of Grubbs: flagged, never removed.

A reading that stands apart may be a slip of the pen or the one that shows what the flow really
does. Which of the two, only the person at the bench can know.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import check_level, read_values
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.tables import mimebundle, wrapped
from flowunc.core.errors import DimensionError, RangeError, ShapeError
from flowunc.core.magnitude import exponent_of, times_power_of_two
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["GrubbsTest", "Outliers", "grubbs_critical_value", "outliers"]

Floats = NDArray[np.float64]

_FEWEST = 3  # readings that the test needs: of two, neither stands farther out
_ROUNDING = 1e-9


class GrubbsTest(NamedTuple):
    """One test of the reading farthest from the mean.

    Attributes
    ----------
    reading : int
        Counted from 0, in the order given.
    value : float
    among : int
        Readings tested, those flagged before left out.
    statistic : float
        Distance from their mean over their standard deviation.
    critical : float
    flagged : bool
    within_step : bool
        Not flagged only because the scale cannot show a smaller difference.
    """

    reading: int
    value: float
    among: int
    statistic: float
    critical: float
    flagged: bool
    within_step: bool


@dataclass(frozen=True, eq=False)
class Outliers:
    """What the test of Grubbs says of repeated readings.

    Attributes
    ----------
    readings : ndarray, shape (n,)
        All of them: nothing is removed.
    unit : str
        "" for plain numbers.
    level : float
    tests : tuple of GrubbsTest
        In the order made; empty where all readings are equal.
    """

    readings: Floats
    unit: str
    level: float
    tests: tuple[GrubbsTest, ...]

    @property
    def flagged(self) -> tuple[int, ...]:
        """Readings flagged, counted from 0, the most striking first."""
        return tuple(test.reading for test in self.tests if test.flagged)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence; readings are counted from 1 here."""
        if not self.tests:
            return f"all {self.readings.size} readings are equal"
        unit = f" {self.unit}" if self.unit else ""
        found = [
            f"reading {test.reading + 1} ({test.value:g}{unit}) stands apart: G = "
            f"{test.statistic:.3f} exceeds {test.critical:.3f} among {test.among}"
            for test in self.tests
            if test.flagged
        ]
        if found:
            return (
                "; ".join(found) + ": look for a reason; it stays in the mean unless you have one"
            )
        test = self.tests[0]
        if test.within_step:
            return (
                f"no outlier: reading {test.reading + 1} ({test.value:g}{unit}) is the only one "
                "apart, by no more than one step of the scale"
            )
        return (
            f"no outlier: the farthest, reading {test.reading + 1} ({test.value:g}{unit}), has G = "
            f"{test.statistic:.3f}, up to {test.critical:.3f} is chance"
        )

    def table(self) -> pd.DataFrame:
        """Return the tests as a table, one line each."""
        import pandas as pd

        return pd.DataFrame(list(self.tests), columns=list(GrubbsTest._fields))

    def __str__(self) -> str:
        return wrapped(self.sentence)

    def _repr_html_(self) -> str:
        return rounded_table(
            self.table(),
            formats={"statistic": ".3f", "critical": ".3f"},
            notes=(self.sentence,),
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def grubbs_critical_value(count: int, level: float = 0.95) -> float:
    """Compute the critical value of the two-sided test of Grubbs for one outlier.

    Parameters
    ----------
    count : int
        Readings, at least three.
    level : float
        Probability that no reading of a normal sample is flagged.

    Returns
    -------
    float

    Raises
    ------
    RangeError
        Fewer than three readings.
    StatementError
        A level that is no probability.

    Notes
    -----
    G = (n - 1)/sqrt(n) sqrt(t^2/(n - 2 + t^2)), t being the quantile of Student's distribution
    with n - 2 degrees of freedom at 1 - (1 - level)/(2 n) [Grubbs 1969; NIST/SEMATECH 2012,
    section 1.3.5.17.1]. Tabulated in [ISO 5725-2, table 5] for levels of 0.95 and 0.99.

    Examples
    --------
    >>> from flowunc.analysis.outliers import grubbs_critical_value
    >>> round(grubbs_critical_value(10), 3)
    2.29
    """
    given: Any = count
    whole = isinstance(given, (int, np.integer)) and not isinstance(given, bool)
    if not whole or count < _FEWEST:
        raise RangeError(f"grubbs_critical_value({count!r}): expected at least {_FEWEST} readings")
    t = float(scipy.special.stdtrit(count - 2, 1 - (1 - check_level(level)) / (2 * count)))
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def outliers(
    readings: ArrayLike | Quantity, *, level: float = 0.95, most: int = 1, step: float = 0.0
) -> Outliers:
    """Look for outliers among the repeats of one reading, by the test of Grubbs.

    Parameters
    ----------
    readings : array_like or Quantity, shape (n,)
        At least three repeats of one reading. Of a quantity only the values count.
    level : float
        Probability that no reading of a normal sample is flagged: 0.95 finds stragglers,
        0.99 outliers, in the words of [ISO 5725-2, 7.3.2].
    most : int
        How many to look for at most, one after the other, as long as three readings remain.
        Each makes the standard deviation of the rest smaller, so a large number flags too much.
    step : float
        Smallest difference that the scale can show, in the unit of the readings. A reading
        within one step of another is not flagged, as both may stand for the same value.

    Returns
    -------
    Outliers

    Raises
    ------
    RangeError
        Fewer than three readings, or options out of range.
    ShapeError
        A single value.
    StatementError
        A level that is no probability.

    Notes
    -----
    G = max abs(x - mean)/s against the two-sided `grubbs_critical_value` [Grubbs 1969; ISO 5725-2,
    7.3.4]. Two outliers on one side can hide each other, as both widen s. The test supposes
    normal readings: for readings rounded to few marks it does not hold, hence ``step``
    (common practice, no source).

    Examples
    --------
    >>> from flowunc import outliers
    >>> found = outliers([310.0, 310.5, 309.5, 310.0, 301.5])
    >>> found.flagged
    (4,)
    """
    values, unit = _values(readings)
    _check_options(most, step)
    check_level(level)
    left = np.arange(values.size)
    tests: list[GrubbsTest] = []
    while len(tests) < most and left.size >= _FEWEST:
        test = _test(values, left, level, step)
        if test is None:
            break
        tests.append(test)
        if not test.flagged:
            break
        left = left[left != test.reading]
    return Outliers(values, unit, float(level), tuple(tests))


def _test(values: Floats, left: NDArray[np.intp], level: float, step: float) -> GrubbsTest | None:
    # a power of two changes neither G nor who is farthest, and no square leaves float64
    exponent = exponent_of(values[left])
    tested = times_power_of_two(values[left], -exponent)
    distances = np.abs(tested - tested.mean())
    s = float(np.std(tested, ddof=1))
    if s <= _ROUNDING * float(np.max(np.abs(tested))):
        return None
    place = int(np.argmax(distances))
    statistic = float(distances[place]) / s
    critical = grubbs_critical_value(tested.size, level)
    # of equal readings one reaches the largest value that G can have; rounding must not pass it
    beyond = statistic > critical * (1 + _ROUNDING)
    others = np.delete(tested, place)
    nearest = float(np.min(np.abs(others - tested[place])))
    step = float(times_power_of_two(step, -exponent))
    within = beyond and nearest <= step * (1 + _ROUNDING)
    return GrubbsTest(
        int(left[place]),
        float(values[left[place]]),
        int(tested.size),
        statistic,
        critical,
        beyond and not within,
        within,
    )


def _values(readings: Any) -> tuple[Floats, str]:
    if isinstance(readings, Quantity):
        if readings.ndim == 0:
            raise ShapeError(f"outliers: got a single value, {readings}; expected repeats of it")
        values, unit = np.array(readings.value), readings.unit
    else:
        values, unit = np.array(read_values(readings, "outliers(readings)")), ""
        if values.ndim == 0:
            raise ShapeError(f"outliers: got a single value, {readings!r}; expected repeats of it")
    if values.size < _FEWEST:
        raise RangeError(
            f"outliers: {values.size} readings; expected at least {_FEWEST}, as of two neither "
            "stands farther out"
        )
    values.setflags(write=False)
    return values, "" if unit == "1" else unit


def _check_options(most: Any, step: Any) -> None:
    if not isinstance(most, (int, np.integer)) or isinstance(most, bool) or most < 1:
        raise RangeError(f"outliers(most={most!r}): expected a whole number of at least 1")
    number = isinstance(step, (int, float, np.number)) and not isinstance(step, bool)
    if isinstance(step, Quantity):
        raise DimensionError(
            f"outliers(step=...): got a quantity, {step}; expected a plain number in the unit of "
            "the readings"
        )
    if not number or not (math.isfinite(step) and step >= 0):
        raise RangeError(f"outliers(step={step!r}): expected 0 or the smallest step of the scale")
