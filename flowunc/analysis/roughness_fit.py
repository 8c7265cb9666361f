"""Roughness of the wall from turbulent runs, by a law that takes one.

One relative roughness is sought that explains all runs: the errors that runs share (bore,
calibration), those that f and Re share, and the error of the law itself are weighed in full.
A wall that cannot be told from a smooth one gets an upper limit in place of value ± u.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.analysis.chi_square import ChiSquare
from flowunc.analysis.fit_text import fit_html, fit_lines
from flowunc.analysis.log_deviation import LogDeviation, Place, logarithm
from flowunc.core.arguments import check_level
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import DimensionError, RangeError, ShapeError
from flowunc.core.kinds import FrictionFactor, Length, Ratio, ReynoldsNumber, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.record import freeze
from flowunc.pipe import laws
from flowunc.pipe.laws import FrictionLaw
from flowunc.pipe.signs import require_positive

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RoughnessFit", "fit_roughness"]

Floats = NDArray[np.float64]

_NAME = "fit_roughness"
_GRID = np.concatenate([[0.0], np.logspace(-9, 0, 28)])  # of the roughest that the law takes
_SMOOTHEST = 1e-12  # where searches in the logarithm begin, far below any e that is seen
_EDGE = 1e-6  # chi-square: closer to smooth than a thousandth of u


@dataclass(frozen=True, eq=False)
class RoughnessFit:
    """The roughness that explains turbulent runs best.

    Attributes
    ----------
    reynolds : ReynoldsNumber, shape (n,)
    friction : FrictionFactor, shape (n,)
    law : FrictionLaw
    relative_roughness : Ratio, scalar, or None
        eps/D, recorded: correlated with all that shares components with the runs. None where a
        smooth wall explains the runs best.
    roughness : Length, scalar, or None
        eps, where a bore was given; recorded.
    level : float
        Of the upper limit, one-sided.
    upper_limit : float
        Of eps/D at that level; infinite where the range of the law ends first.
    roughness_limit : Length or None
        The upper limit as a length, where a bore was given and it is finite.
    smooth_difference : float
        By how much chi-square is larger for a smooth wall, with the same error of the law.
    residuals : ndarray, shape (n,)
        Relative deviation of each run from the law, ln(f/law).
    residual_u : ndarray, shape (n,)
        Relative standard uncertainty of that.
    goodness : ChiSquare
    """

    reynolds: ReynoldsNumber
    friction: FrictionFactor
    law: FrictionLaw
    relative_roughness: Ratio | None
    roughness: Length | None
    level: float
    upper_limit: float
    roughness_limit: Length | None
    smooth_difference: float
    residuals: Floats
    residual_u: Floats
    goodness: ChiSquare = field(repr=False)

    @property
    def smooth(self) -> bool:
        """Whether a smooth wall explains the runs best."""
        return self.relative_roughness is None

    @property
    def smooth_excluded(self) -> bool:
        """Whether a smooth wall is excluded, one-sided at `level`."""
        return self.smooth_difference > _threshold(self.level)

    @property
    def chi_square(self) -> float:
        """Sum of squares of the residuals, shared errors counted once."""
        return self.goodness.value

    @property
    def dof(self) -> int:
        """Degrees of freedom: runs less one, all of them where nothing but smooth was left."""
        return self.goodness.dof

    @property
    def p_value(self) -> float:
        """Probability of a larger chi-square by chance; NaN for one run."""
        return self.goodness.p_value

    @property
    def sentence(self) -> str:
        """Say in one sentence how rough the wall is and how well the law fits."""
        if self.smooth:
            text = f"a smooth wall explains the runs best; {self._limit()}"
        elif self.smooth_excluded:
            text = (
                "a smooth wall is excluded: with it chi-square is larger by "
                f"{self.smooth_difference:.3g}"
            )
        else:
            text = f"a smooth wall is not excluded; {self._limit()}"
        advice = {
            "too large": "the runs scatter about the law more than the stated uncertainties allow",
            "too small": "the runs scatter less than the stated uncertainties suggest",
            "as stated": "the scatter about the law fits the stated uncertainties",
        }
        verdict = self.goodness.verdict
        return f"{text}; {self.goodness}" + (f": {advice[verdict]}" if verdict else "")

    def _limit(self) -> str:
        percent = f"{100 * self.level:g} %"
        if math.isinf(self.upper_limit):
            return f"the runs set no upper limit at {percent} within the range of the law"
        text = f"eps/D below {self.upper_limit:.2g}"
        if self.roughness_limit is not None:
            limit = self.roughness_limit
            text += f", roughness below {limit.value:.2g} {limit.unit}"
        return f"{text} at {percent} (one-sided)"

    def table(self) -> pd.DataFrame:
        """Return one line per run."""
        import pandas as pd

        return pd.DataFrame(
            {
                "Reynolds number": self.reynolds.value,
                "friction factor": self.friction.value,
                "fitted": self.friction.value * np.exp(-self.residuals),
                "relative_residual": self.residuals,
                "relative_residual_u": self.residual_u,
            }
        )

    def __str__(self) -> str:
        return "\n".join(fit_lines(self._title(), self._shown(), [self.sentence]))

    def _repr_html_(self) -> str:
        return fit_html(self._title(), self._shown(), [self.sentence])

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        values = np.asarray(self.reynolds.value)
        runs = "1 run" if values.size == 1 else f"{values.size} runs"
        return (
            f"roughness by {self.law.title} from {runs}, Re {values.min():.4g} to "
            f"{values.max():.4g}"
        )

    def _shown(self) -> list[Quantity]:
        return [found for found in (self.relative_roughness, self.roughness) if found is not None]


def fit_roughness(
    reynolds: ReynoldsNumber,
    friction: FrictionFactor,
    bore: Length | None = None,
    law: FrictionLaw = laws.colebrook_white,
    *,
    level: float = 0.95,
) -> RoughnessFit:
    """Fit the roughness of the wall to turbulent runs.

    Parameters
    ----------
    reynolds : ReynoldsNumber, shape (n,)
        Of turbulent runs, within the range of the law.
    friction : FrictionFactor, shape (n,)
        Above 0, Darcy's.
    bore : Length, scalar, optional
        The very quantity behind the runs, for the roughness as a length.
    law : FrictionLaw
        One that takes a roughness.
    level : float
        Of the one-sided upper limit.

    Returns
    -------
    RoughnessFit

    Raises
    ------
    DimensionError
        Another kind of quantity, or a law without roughness.
    ShapeError
        Single values, or different lengths.
    RangeError
        A run outside the range of the law, or rougher than the law has an answer for; a law
        whose range depends on the roughness.
    PropagationError
        Runs without uncertainty, or whose errors are all in common.

    Notes
    -----
    Finds the root of g^T V^-1 r = 0 over e = eps/D from 0 to the end of the law, with r = ln f -
    ln law(Re, e), g = d ln law/de, and V the covariance of r from the record: where r^T V^-1 r is
    least with V as it is there. The error of the law is in V as the law states it for that e, from
    smooth to fully rough. Neither a larger f by law nor a larger error of the law passes for a
    better fit. e follows the data as de = g^T V^-1 dr/(g^T V^-1 g), first order, as other fits do.
    The upper limit is where chi-square, with the error of the law there, has grown by the square
    of the one-sided normal quantile, 2.71 at 95 % [Cowan 2011, eq. 16]; next to the edge, and
    where the error of the law grows with e, it covers at least that often.

    Examples
    --------
    >>> from flowunc import FrictionFactor, ReynoldsNumber, fit_roughness, standard
    >>> re = ReynoldsNumber([3e4, 6e4, 1.2e5], "1")
    >>> f = FrictionFactor([0.0391, 0.0378, 0.0371], "1", standard(2e-4))
    >>> print(fit_roughness(re, f).relative_roughness)
    relative roughness: 0.0107 ± 0.0013
    """
    re = require_kind(reynolds, ReynoldsNumber, _NAME, "reynolds")
    f = require_kind(friction, FrictionFactor, _NAME, "friction")
    check_level(level)
    _require_runs(re, f, law)
    if bore is not None:
        bore = require_kind(bore, Length, _NAME, "bore")
        if bore.ndim:
            raise ShapeError(f"{_NAME}(bore=...): {len(bore)} bores; expected the one of the pipe")
        require_positive(bore, _NAME, "bore")
    runs = LogDeviation(re, f, law)
    e = _best(runs, law)
    best, smooth = runs.at(e), runs.at(0.0, error_at=e)
    edge = smooth.value - best.value < _EDGE
    if edge:
        e, best = 0.0, runs.at(0.0)
    upper = _upper_limit(runs, law, e, best.value, level)
    found = None if edge else _recorded(re, f, law, e, best)
    return RoughnessFit(
        re,
        f,
        law,
        found,
        None if found is None or bore is None else _length(found, bore),
        level,
        upper,
        _limit_of(upper, bore),
        max(0.0, smooth.value - best.value),
        freeze(best.residuals),
        freeze(best.u),
        ChiSquare(best.value, len(re) if edge else len(re) - 1),
    )


def _best(runs: LogDeviation, law: FrictionLaw) -> float:
    """Return the relative roughness with the least chi-square by the errors that it has itself."""
    roughest = _roughest(law)
    grid = _GRID * roughest
    steps = np.array([runs.at(e).step for e in grid])
    found = [] if steps[0] > 0 else [0.0]
    if steps[-1] > 0:
        found.append(roughest)
    for place in np.flatnonzero((steps[:-1] > 0) & (steps[1:] <= 0)):
        logarithm = scipy.optimize.brentq(
            lambda logarithm: runs.at(math.exp(logarithm)).step,
            math.log(grid[place] or _SMOOTHEST),
            math.log(grid[place + 1]),
            xtol=1e-10,
        )
        found.append(math.exp(logarithm))
    best = min(found, key=lambda e: runs.at(e).value)
    if best == roughest:
        raise RangeError(
            f"{_NAME}: the runs ask for a relative roughness beyond {roughest:g}, where "
            f"laws.{law.name} ends: check bore and friction factors (Darcy's, not Fanning's)"
        )
    return best


def _roughest(law: FrictionLaw) -> float:
    return law.roughness_range[1] if law.roughness_range else 0.0


def _threshold(level: float) -> float:
    """Return by how much chi-square grows up to a one-sided limit."""
    return float(scipy.special.ndtri(level)) ** 2


def _upper_limit(
    runs: LogDeviation, law: FrictionLaw, e: float, least: float, level: float
) -> float:
    wanted = least + _threshold(level)
    roughest = _roughest(law)
    if runs.at(roughest).value <= wanted:
        return math.inf
    low = math.log(max(e, _SMOOTHEST))
    found = scipy.optimize.brentq(
        lambda logarithm: runs.at(math.exp(logarithm)).value - wanted,
        low,
        math.log(roughest),
        xtol=1e-10,
    )
    return math.exp(float(found))


def _recorded(
    re: ReynoldsNumber, f: FrictionFactor, law: FrictionLaw, e: float, best: Place
) -> Ratio:
    """Record how the best roughness follows the runs."""
    deviation = logarithm(f) - logarithm(law(re, e))
    moving = deviation - deviation.value  # zero in value: only its errors count
    found = e + (best.weights * moving).sum()
    return Ratio._from_node(found._node, label="relative roughness")


def _length(relative: Ratio, bore: Length) -> Length:
    return Length._from_node((relative * bore)._node).to(bore.unit).labelled("roughness")


def _limit_of(upper: float, bore: Length | None) -> Length | None:
    """Return the upper limit as a length; the uncertainty of the bore is next to nothing in it."""
    if bore is None or math.isinf(upper):
        return None
    return Length(upper * float(bore.value), bore.unit, label="upper limit of the roughness")


def _require_runs(re: ReynoldsNumber, f: FrictionFactor, law: FrictionLaw) -> None:
    roughness_range = getattr(law, "roughness_range", None)
    if roughness_range is None:
        raise DimensionError(
            f"{_NAME}(law={getattr(law, 'name', repr(law))}): expected a law that takes a "
            "roughness, such as laws.colebrook_white"
        )
    if law.joint_range is not None:
        raise RangeError(
            f"{_NAME}(law={law.name}): holds for {law.joint_range.text} only, so its range depends "
            "on what is to be found: use laws.colebrook_white, which holds from smooth to rough"
        )
    for argument, value in (("reynolds", re), ("friction", f)):
        if value.ndim == 0:
            raise ShapeError(f"{_NAME}({argument}=...): a single value; expected one for each run")
        require_positive(value, _NAME, argument)
    if len(re) != len(f):
        raise ShapeError(
            f"{_NAME}: {len(re)} Reynolds numbers and {len(f)} friction factors; expected one of "
            "each for every run"
        )
    law(re, roughness_range[0])  # refuses runs outside its range
