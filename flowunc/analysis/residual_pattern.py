"""A pattern in deviations from a law, or none: signs and trend.

Shared errors give deviations of one sign, so their signs alone say nothing. They are first made
independent: each is replaced by what is new in it after those before it, in the order of the
Reynolds number or whatever else they are laid against. Then their signs must be as mixed as those
of coins, and the deviations must have no slope.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.analysis.agreement import Agreement
from flowunc.analysis.chi_square import RELATIVE_CUTOFF
from flowunc.analysis.fit_text import fit_html, fit_lines
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import DimensionError, PropagationError, RangeError, ShapeError
from flowunc.core.quantity import Quantity
from flowunc.core.record import freeze
from flowunc.pipe.signs import require_positive
from flowunc.propagation.contributions import correlation

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ResidualPattern", "residual_pattern", "runs_probability"]

Floats = NDArray[np.float64]

_NAME = "residual_pattern"
_LEVEL = 0.05
# A deviation that follows from those before it may differ from that by so many times the largest
# uncertainty that the cutoff can hide.
_ALLOWED = 10.0 * math.sqrt(RELATIVE_CUTOFF)


@dataclass(frozen=True, eq=False)
class ResidualPattern:
    """Deviations made independent, and what their signs and their slope say.

    Attributes
    ----------
    deviation, against : Quantity, shape (n,)
    order : ndarray of int, shape (m,)
        Places of the readings in ascending ``against``; readings that merely repeat those before
        them are left out.
    whitened : ndarray, shape (m,)
        Deviations in that order, made independent, in units of their standard uncertainty:
        standard normal if law and statements hold.
    positive, negative : int
        Signs among them; an exact 0 has none.
    balance_p_value : float
        Probability of so unequal numbers of both signs by chance, two-sided.
    runs : int
        Unbroken rows of one sign.
    runs_p_value : float
        Probability of so few or so many rows by chance, two-sided; NaN with one sign only.
    trend : Quantity, scalar, or None
        Slope of the deviation with ln(against), recorded; None for fewer than three readings or
        one value of ``against``.
    trend_p_value : float
        Probability of so steep a slope by chance, two-sided; NaN where there is none.
    """

    deviation: Quantity
    against: Quantity
    order: NDArray[np.intp]
    whitened: Floats
    positive: int
    negative: int
    balance_p_value: float
    runs: int
    runs_p_value: float
    trend: Quantity | None
    trend_p_value: float
    name: str = field(default="reading", repr=False)

    @property
    def random(self) -> bool:
        """Whether none of the three tests finds a pattern (each at 5 %)."""
        tests = self.balance_p_value, self.runs_p_value, self.trend_p_value
        return not any(p < _LEVEL for p in tests)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        return f"{self._balance()}{self._rows()}; {self._slope()}"

    def _balance(self) -> str:
        text = (
            f"with shared errors taken out {self.positive} positive and {self.negative} negative "
            "deviations"
        )
        if self.balance_p_value < _LEVEL:
            return f"{text}, more of one sign than by chance (p = {self.balance_p_value:.2g})"
        return text

    def _rows(self) -> str:
        if math.isnan(self.runs_p_value):
            return ""
        rows = "1 row" if self.runs == 1 else f"{self.runs} rows"
        text = f" in {rows} of one sign (p = {self.runs_p_value:.2g})"
        if self.runs_p_value >= _LEVEL:
            return f"{text}, as by chance"
        expected = 1 + 2 * self.positive * self.negative / (self.positive + self.negative)
        if self.runs > expected:
            return f"{text}: signs change more often than by chance"
        return f"{text}: like signs lie together, which is not chance"

    def _slope(self) -> str:
        if self.trend is None:
            return f"no test of a trend with {self.name}"
        text = f"trend with {self.name}"
        if self.trend_p_value >= _LEVEL:
            return f"no {text} to be seen (p = {self.trend_p_value:.2g})"
        way = "rises" if float(self.trend.value) > 0 else "falls"
        return f"a {text}: the deviation {way} with it (p = {self.trend_p_value:.2g})"

    def table(self) -> pd.DataFrame:
        """Return one line per deviation, in ascending ``against``."""
        import pandas as pd

        return pd.DataFrame(
            {
                "reading": self.order,
                "against": np.asarray(self.against.value)[self.order],
                "deviation": np.asarray(self.deviation.value)[self.order],
                "u": np.asarray(self.deviation.u)[self.order],
                "whitened": self.whitened,
            }
        )

    def __str__(self) -> str:
        return "\n".join(fit_lines(self._title(), self._shown(), [self.sentence]))

    def _repr_html_(self) -> str:
        return fit_html(self._title(), self._shown(), [self.sentence])

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        return f"pattern of {len(self.deviation)} deviations against {self.name}"

    def _shown(self) -> list[Quantity]:
        return [] if self.trend is None else [self.trend]


def residual_pattern(deviation: Quantity | Agreement, against: Quantity) -> ResidualPattern:
    """Test whether deviations are random in sign and without a trend.

    Parameters
    ----------
    deviation : Quantity, shape (n,), or Agreement
        Measured minus expected, expected to be 0; no parameter fitted to it.
    against : Quantity, shape (n,)
        What the deviations are ordered by, above 0: the Reynolds number.

    Returns
    -------
    ResidualPattern

    Raises
    ------
    DimensionError
        Not quantities.
    ShapeError
        Single values, or different lengths.
    RangeError
        ``against`` not above 0.
    PropagationError
        A deviation without uncertainty, or deviations that differ where no uncertainty is stated.

    Notes
    -----
    Whitening: z = L^-1 d with the Cholesky factor of V = L L^T, readings in ascending order, so
    that each z is d less its regression on those before it, over its own standard deviation.
    Signs are like those of coins: how many of each (binomial), and given that, the number of rows
    of like signs [Wald 1940]; both exact, twice the smaller tail. Trend: generalised least squares
    of d on 1 and ln(against) with V, which is the ordinary regression of the whitened numbers; the
    slope over its u is normal. A constant offset is no trend, nor is what shared errors can do.

    Examples
    --------
    >>> from flowunc import FrictionFactor, ReynoldsNumber, laws, residual_pattern, standard
    >>> re = ReynoldsNumber([5e3, 1e4, 2e4, 4e4, 8e4], "1")
    >>> f = FrictionFactor([0.0380, 0.0316, 0.0264, 0.0221, 0.0186], "1", standard(1e-4))
    >>> pattern = residual_pattern(f - laws.blasius(re), re)
    >>> pattern.positive, pattern.negative, pattern.runs, pattern.random
    (1, 4, 2, True)
    """
    d = deviation.deviation if isinstance(deviation, Agreement) else deviation
    _require(d, against)
    place = np.argsort(against._node.value, kind="stable")
    u = d._u_si()
    if not u.all():
        raise PropagationError(
            f"{_NAME}: the deviation at reading {int(np.argmin(u))} has no uncertainty, so it "
            "cannot be judged: leave it out, or state the uncertainties of the readings"
        )
    correlations = correlation(d._node, d._node)[np.ix_(place, place)]
    scaled = (d._node.value / u)[place]
    kept, factor, z = _factor(correlations, scaled)
    order = place[kept]
    signs = np.sign(z)
    signs = signs[signs != 0]
    positive, negative = int(np.count_nonzero(signs > 0)), int(np.count_nonzero(signs < 0))
    runs = int(np.count_nonzero(np.diff(signs))) + 1 if signs.size else 0
    p_balance = 2.0 * scipy.special.bdtr(min(positive, negative), positive + negative, 0.5)
    p_runs = math.nan
    if positive and negative:
        few = runs_probability(runs, positive, negative)
        many = 1.0 - runs_probability(runs - 1, positive, negative)
        p_runs = min(1.0, 2.0 * min(few, many))
    trend = _trend(d, against, order, u, factor)
    p_trend = math.nan
    if trend is not None:
        p_trend = math.erfc(abs(float(trend.value) / float(trend.u)) / math.sqrt(2.0))
    order.setflags(write=False)
    return ResidualPattern(
        d,
        against,
        order,
        freeze(z),
        positive,
        negative,
        min(1.0, float(p_balance)) if signs.size else math.nan,
        runs,
        p_runs,
        trend,
        p_trend,
        against.label or against._word().replace("reynolds", "Reynolds"),
    )


def runs_probability(runs: int, positive: int, negative: int) -> float:
    """Return the probability of at most so many rows of like signs in a random order.

    Parameters
    ----------
    runs : int
        Rows of like signs.
    positive, negative : int
        How many of each, 1 or more.

    Notes
    -----
    P(2 k) = 2 C(a-1, k-1) C(b-1, k-1)/C(a+b, a), P(2 k + 1) = [C(a-1, k) C(b-1, k-1) +
    C(a-1, k-1) C(b-1, k)]/C(a+b, a) for a and b signs of each kind [Wald 1940]. In whole numbers,
    so that nothing is rounded before the last division.

    Examples
    --------
    >>> runs_probability(2, 4, 4) * 35
    1.0
    """
    a, b = positive - 1, negative - 1
    ways = 0
    for number in range(2, min(runs, positive + negative) + 1):
        k = number // 2
        if number % 2:
            ways += math.comb(a, k) * math.comb(b, k - 1) + math.comb(a, k - 1) * math.comb(b, k)
        else:
            ways += 2 * math.comb(a, k - 1) * math.comb(b, k - 1)
    return ways / math.comb(positive + negative, positive)


def _factor(correlations: Floats, scaled: Floats) -> tuple[NDArray[np.intp], Floats, Floats]:
    """Return the readings with an error of their own, their Cholesky factor, and L^-1 d."""
    count = scaled.size
    # what is left of covariances and deviations after regression on the readings before
    left, new = correlations.copy(), scaled.copy()
    L = np.zeros((count, count))
    z = np.zeros(count)
    own = np.zeros(count, dtype=bool)
    allowed = _ALLOWED * math.sqrt(count) + 1e-12 * float(np.max(np.abs(scaled)))
    for i in range(count):
        if left[i, i] > RELATIVE_CUTOFF * count:
            L[i:, i] = left[i:, i] / math.sqrt(left[i, i])
            z[i] = new[i] / L[i, i]
            left[i:, i:] -= np.outer(L[i:, i], L[i:, i])
            new[i:] -= L[i:, i] * z[i]
            own[i] = True
        elif abs(new[i]) > allowed:
            raise PropagationError(
                f"{_NAME}: the {count} deviations have only a few independent errors behind them, "
                f"which cannot make them differ as they do (by {abs(new[i]):.2g} u where no "
                "uncertainty is stated): state the independent errors of the readings, such as "
                "resolution"
            )
    kept = np.flatnonzero(own)
    return kept, L[np.ix_(kept, kept)], z[kept]


def _trend(
    d: Quantity, against: Quantity, order: NDArray[np.intp], u: Floats, factor: Floats
) -> Quantity | None:
    """Return the recorded slope of d with ln(against) by generalised least squares."""
    logarithm = np.log(against._node.value[order])
    if order.size < 3 or np.ptp(logarithm) == 0:
        return None
    centred = logarithm - float(np.mean(logarithm))
    design = np.stack([np.ones(order.size), centred], axis=1) / u[order][:, np.newaxis]
    slope_of_white = np.linalg.pinv(np.linalg.solve(factor, design))[1]
    weights = np.linalg.solve(factor.T, slope_of_white) / u[order]
    slope: Quantity = (weights * d.si[order]).sum()
    return slope.to(d.unit).labelled("change of the deviation per factor e")


def _require(d: Quantity, against: Quantity) -> None:
    for argument, value in (("deviation", d), ("against", against)):
        if getattr(value, "_absolute", True):
            raise DimensionError(
                f"{_NAME}({argument}=...): got {type(value).__name__} {value!r}; expected a "
                "quantity that is a difference or a pure number, such as f - laws.laminar(re)"
            )
        if value.ndim == 0:
            raise ShapeError(f"{_NAME}({argument}=...): a single value; expected readings")
    require_positive(against, _NAME, "against")
    if len(d) != len(against):
        raise ShapeError(
            f"{_NAME}: {len(d)} deviations against {len(against)} values; expected one for each"
        )
    if len(d) < 2:
        raise RangeError(f"{_NAME}: 1 deviation; expected at least two")
