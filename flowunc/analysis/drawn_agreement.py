"""Agreement of two results from draws of their difference, where value ± U does not hold.

Near zero flow a friction factor goes with 1/flow^2, and its distribution is far from symmetric.
E_n then says too much on one side and too little on the other. Here the difference is drawn from
the record of both, so what they have in common still cancels, and its coverage interval is held
against zero.
"""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.agreement import agreement
from flowunc.core.arguments import check_level
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.rounding import round_pair
from flowunc.core.display.tables import WIDTH, mimebundle, row_names
from flowunc.core.quantity import Numbers, Quantity
from flowunc.propagation.monte_carlo import MonteCarloResult, monte_carlo

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["DrawnAgreement", "DrawnVerdict", "drawn_agreement"]

Floats = NDArray[np.float64]
DrawnVerdict = Literal["agrees", "disagrees", "undecided", "unknown"]

_MOST_LINES = 40
_LONGEST_NAME = 10  # that the width of a line leaves
_MOST_NAMED = 12
_ROUNDING = 1e-12  # what is left of an uncertainty that cancels, relative to its parts
_ERRORS_SPANNED = 2.0  # standard numerical errors granted to the draws, as in [JCGM 101, 7.9.4]


@dataclass(frozen=True, eq=False)
class DrawnAgreement:
    """A measured result held against what is expected, by draws and by the linear method.

    Attributes
    ----------
    measured, theory : Quantity
    deviation : Quantity
        measured - theory, recorded.
    level : float
        Coverage probability.
    drawn : MonteCarloResult
        Draws of ``deviation``.
    low, high : float or ndarray, shape (n,)
        Probabilistically symmetric coverage interval of the difference, in ``unit``; NaN where
        some draws have no value.
    p : float or ndarray, shape (n,)
        Twice the probability that the true difference has the other sign, at most 1: small
        where the results differ. NaN where some draws have no value.
    p_error : float or ndarray, shape (n,)
        Numerical standard error of ``p``.
    difference : float or ndarray, shape (n,)
        measured - theory, in ``unit``.
    normalised_error : float or ndarray, shape (n,)
        E_n of the linear method with U for ``level`` and the effective degrees of freedom, so
        that both methods answer the same question. `agreement` gives E_n for k = 2.
    verdicts : tuple of {"agrees", "disagrees", "undecided", "unknown"}
        Of the draws: whether 0 lies inside the interval; "undecided" where the numerical error
        of the draws covers the answer, "unknown" where draws have no value.
    names : tuple of str
        Of the readings, such as the labels of runs; numbers stand for them where it is empty.
    """

    measured: Quantity
    theory: Quantity
    deviation: Quantity
    level: float
    drawn: MonteCarloResult
    low: Numbers
    high: Numbers
    p: Numbers
    p_error: Numbers
    difference: Numbers
    normalised_error: Numbers
    verdicts: tuple[DrawnVerdict, ...]
    names: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """Unit of the difference and its interval."""
        return self.deviation.unit

    @property
    def contains_zero(self) -> Any:
        """Whether 0 lies inside the drawn interval, for each reading; False where there is none."""
        inside = np.asarray(self.low) <= 0
        inside &= np.asarray(self.high) >= 0
        return bool(inside) if inside.ndim == 0 else inside

    @property
    def linear_verdicts(self) -> tuple[DrawnVerdict, ...]:
        """What the linear method says: "agrees" where abs(E_n) <= 1, else "disagrees"."""
        errors = np.atleast_1d(self.normalised_error)
        return tuple("agrees" if abs(error) <= 1 else "disagrees" for error in errors)

    @property
    def contested(self) -> tuple[int, ...]:
        """Readings, counted from 0, for which both methods decide, and differently."""
        pairs = zip(self.verdicts, self.linear_verdicts, strict=True)
        return tuple(
            row
            for row, (drawn, linear) in enumerate(pairs)
            if drawn in ("agrees", "disagrees") and drawn != linear
        )

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        counts = {
            verdict: self.verdicts.count(verdict)
            for verdict in ("agrees", "disagrees", "undecided", "unknown")
        }
        total = len(self.verdicts)
        parts = [
            f"{counts['agrees']} of {total} agree by draws (0 inside the {100 * self.level:g} % "
            f"interval of the difference, {self.drawn.trials} draws, seed {self.drawn.seed})"
        ]
        if counts["undecided"]:
            parts.append(f"{counts['undecided']} undecided: draw more trials")
        if counts["unknown"]:
            parts.append(
                f"{counts['unknown']} unknown, as some draws have no value (a root or logarithm "
                "of a negative draw, or a result too large)"
            )
        linear, drawn = self.linear_verdicts, self.verdicts
        for row in self.contested[:_MOST_NAMED]:
            does = {"agrees": "agrees", "disagrees": "does not"}
            place = (
                ""
                if self.deviation.ndim == 0
                else f" for run {self.names[row]}"
                if self.names
                else f" for reading {row}"
            )
            error = float(np.atleast_1d(self.normalised_error)[row])
            parts.append(
                f"the methods differ{place}: the linear one says it {does[linear[row]]} "
                f"(E_n = {error:.2f}), the draws that it {does[drawn[row]]} ({self._p_text(row)}); "
                "go by the draws, as the distribution is not that of value ± U"
            )
        if len(self.contested) > _MOST_NAMED:
            parts.append(f"the methods differ for {len(self.contested) - _MOST_NAMED} more")
        if not self.contested:
            parts.append("the linear method says the same" if self._all_decided else "")
        return "; ".join(part for part in parts if part)

    def table(self) -> pd.DataFrame:
        """Return all numbers as a table, one line per reading, in the unit of ``measured``."""
        import pandas as pd

        columns = {
            "measured": self.measured.value,
            "theory": self.theory.to(self.measured.unit).value,
            "difference": self.difference,
            "low": self.low,
            "high": self.high,
            "p": self.p,
            "drawn": self.verdicts,
            "normalised_error": self.normalised_error,
            "linear": self.linear_verdicts,
        }
        rows = len(self.verdicts)
        return pd.DataFrame(
            {name: np.broadcast_to(column, (rows,)) for name, column in columns.items()},
            index=pd.Index(self.names, name="run") if self.names else None,
        )

    def __str__(self) -> str:
        lines = textwrap.wrap(self._title(), WIDTH, subsequent_indent="  ")
        count = min(np.atleast_1d(self.difference).size, _MOST_LINES)
        shown, wide = row_names(self.names, count, longest=_LONGEST_NAME)
        lines.append(
            f"{'run' if self.names else 'row':>{wide}} {'difference':>12} {'drawn interval':>28} "
            f"{'p':>9} {'by draws':>10} {'E_n':>8} {'linear':>10}"
        )
        low, high = np.atleast_1d(self.low), np.atleast_1d(self.high)
        difference = np.atleast_1d(self.difference)
        errors = np.atleast_1d(self.normalised_error)
        for row, verdict in enumerate(self.verdicts[:_MOST_LINES]):
            ends = "none"
            if math.isfinite(low[row]):
                ends = f"{_end(low[row], low[row], high[row])} to "
                ends += _end(high[row], low[row], high[row])
            lines.append(
                f"{shown[row]:>{wide}} {difference[row]:12.4g} {ends:>28} "
                f"{np.atleast_1d(self.p)[row]:9.2g} {verdict:>10} {errors[row]:8.2f} "
                f"{self.linear_verdicts[row]:>10}"
            )
        if len(self.verdicts) > _MOST_LINES:
            lines.append(f" ... and {len(self.verdicts) - _MOST_LINES} more: see .table()")
        return "\n".join([*lines, *textwrap.wrap(self.sentence, WIDTH)])

    def _repr_html_(self) -> str:
        spreads = {"measured": self.measured.u, "theory": self.theory.to(self.measured.unit).u}
        quarter = (np.asarray(self.high) - np.asarray(self.low)) / 4
        return rounded_table(
            self.table(),
            uncertainty_of=spreads | dict.fromkeys(("difference", "low", "high"), quarter),
            formats={"p": 2},
            index="run" if self.names else "reading",
            title=self._title(),
            notes=(self.sentence,),
        )._repr_html_()

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        names = [
            quantity.label or f"{role} {type(quantity).__name__}"
            for quantity, role in ((self.measured, "measured"), (self.theory, "expected"))
        ]
        unit = "" if self.unit == "1" else f", in {self.unit}"
        return f"{names[0]} against {names[1]}{unit}: draws of the difference, and E_n beside them"

    @property
    def _all_decided(self) -> bool:
        return all(verdict in ("agrees", "disagrees") for verdict in self.verdicts)

    def _p_text(self, row: int) -> str:
        p = float(np.atleast_1d(self.p)[row])
        return f"p = {p:.2g}" if p > 0 else f"p below {2 / self.drawn.trials:.1g}"


def drawn_agreement(
    measured: Quantity,
    theory: Quantity,
    *,
    level: float = 0.95,
    trials: int = 200_000,
    seed: int = 0,
) -> DrawnAgreement:
    """Hold a measured result against a law or a second measurement, by draws.

    Parameters
    ----------
    measured, theory : Quantity, scalar or shape (n,)
        As for `agreement`.
    level : float
        Coverage probability of the interval of the difference.
    trials, seed : int
        Of the draws; the same seed gives the same answer.

    Returns
    -------
    DrawnAgreement

    Raises
    ------
    DimensionError, ShapeError, PropagationError
        As for `agreement`.
    StatementError
        A level that is no probability.
    RangeError
        trials or seed out of range.

    Warns
    -----
    FlowuncWarning
        A denominator changes sign among the draws, or draws have no value.

    Notes
    -----
    Both results are drawn together through the record of their difference, a component in
    common once per trial [JCGM 101, 7.2 to 7.4]. They agree where 0 lies inside the
    probabilistically symmetric coverage interval [JCGM 101, 7.7], which is where p = 2
    min(P(difference <= 0), P(difference >= 0)) is at least 1 - level. For a normal difference
    that is abs(E_n) <= 1 with U for the same level.

    Examples
    --------
    A ratio whose denominator is poorly known lies within its skewed interval, though the
    linear method says otherwise:

    >>> from flowunc import Length, Ratio, drawn_agreement, standard
    >>> swing = Length(10.0, "mm", standard(2.0))
    >>> found = drawn_agreement((Length(10.0, "mm") / swing) ** 2, Ratio(2.0, "1"), seed=1)
    >>> found.verdicts, found.linear_verdicts, round(found.normalised_error, 2)
    (('agrees',), ('disagrees',), -1.28)
    """
    check_level(level)
    linear = agreement(measured, theory)
    deviation = linear.deviation
    factor = np.asarray(deviation.expanded(level).k)
    drawn = monte_carlo(deviation, trials, seed=seed)
    low, high = (np.atleast_1d(end).copy() for end in drawn.interval(level, kind="symmetric"))
    p, p_error = _two_sided(drawn)
    separate = np.hypot(measured._u_si(), theory._u_si())
    identical = np.atleast_1d(deviation._u_si() <= _ROUNDING * separate)
    # what cancels to nothing leaves rounding, on one side of zero or the other
    low[identical], high[identical], p[identical], p_error[identical] = 0.0, 0.0, 1.0, 0.0
    # E_n of `agreement` has k = 2
    normalised = np.asarray(linear.normalised_error) * linear.k / factor

    def shaped(values: Floats) -> Numbers:
        return Quantity._shown(values[0] if deviation.ndim == 0 else values)

    return DrawnAgreement(
        measured,
        theory,
        deviation,
        float(level),
        drawn,
        shaped(low),
        shaped(high),
        shaped(p),
        shaped(p_error),
        linear.difference,
        Quantity._shown(normalised),
        tuple(_verdict(*row, 1 - level) for row in zip(p, p_error, low, high, strict=True)),
    )


def _two_sided(drawn: MonteCarloResult) -> tuple[Floats, Floats]:
    """Return p = 2 min(P(d <= 0), P(d >= 0)) of every reading, and its numerical error."""
    lost = np.atleast_1d(drawn.not_finite) > 0
    p, error = np.full(lost.size, math.nan), np.full(lost.size, math.nan)
    for row, draws in drawn._rows():
        if lost[row]:
            continue
        tail = min(np.count_nonzero(draws <= 0), np.count_nonzero(draws >= 0)) / draws.size
        p[row] = min(1.0, 2 * tail)
        error[row] = 2 * math.sqrt(tail * (1 - tail) / draws.size)
    return p, error


def _verdict(p: float, p_error: float, low: float, high: float, outside: float) -> DrawnVerdict:
    if not math.isfinite(p):
        return "unknown"
    if p < 1 and abs(p - outside) <= _ERRORS_SPANNED * p_error:
        return "undecided"
    return "agrees" if low <= 0 <= high else "disagrees"


def _end(value: float, low: float, high: float) -> str:
    """Write an end of an interval with two digits of a quarter of its width."""
    width = (high - low) / 4
    return f"{value:g}" if width == 0 else replace(round_pair(value, width), uncertainty="").text
