"""Which law explains measured friction factors best, and whether these runs tell laws apart.

Every law is held against the same runs with the same errors: a law is not extrapolated, and one
that does not cover all runs is not compared. A law with a roughness to fit pays for it.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.analysis.agreement import Agreement, agreement
from flowunc.analysis.chi_square import ChiSquare
from flowunc.analysis.roughness_fit import fit_roughness
from flowunc.core.display.frames import Format, rounded_table
from flowunc.core.display.tables import WIDTH, mimebundle
from flowunc.core.errors import DimensionError, PropagationError, RangeError, ShapeError
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber, require_kind
from flowunc.pipe import laws as all_laws
from flowunc.pipe.laws import FrictionLaw
from flowunc.pipe.signs import require_positive
from flowunc.propagation.contributions import covariance

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ComparedLaw", "LawComparison", "compare_laws"]

Floats = NDArray[np.float64]

_NAME = "compare_laws"
# Square of 1.96: what a two-sided test at 5 % sees with even chance. Below it, data of this kind
# would as a rule not tell which of two laws they came from.
_SEEN = 3.8415
_PRICE = 2.0  # of a fitted parameter, in -2 ln likelihood [Akaike 1974]


@dataclass(frozen=True, eq=False)
class ComparedLaw:
    """One law held against the runs.

    Attributes
    ----------
    law : FrictionLaw
    inside : int
        Runs inside its range.
    reason : str
        Why it is not compared, "" where it is. Then all that follows is NaN or None.
    fitted : int
        Fitted parameters: 1 where the roughness was fitted to these runs, but 0 where that ends
        at a smooth wall.
    relative_roughness : float
        Used for the law, the mean where there is one for each run; NaN for a law without.
    found : Agreement or None
        Of the runs with the law.
    goodness : ChiSquare or None
        Degrees of freedom are runs less fitted parameters. Where a roughness was fitted, that
        of `fit_roughness`, of ln(f/law) in place of f - law.
    likelihood : float
        -2 ln likelihood but for a constant: d^T V^-1 d + ln det V.
    difference : float
        By how much that is above the best law, each with 2 added per fitted parameter.
    separation : float
        delta^T V^-1 delta, delta being the difference of this law from the best.
    first : bool
        Whether it is the best.
    """

    law: FrictionLaw
    inside: int
    reason: str = ""
    fitted: int = 0
    relative_roughness: float = math.nan
    found: Agreement | None = field(default=None, repr=False)
    goodness: ChiSquare | None = None
    likelihood: float = math.nan
    difference: float = math.nan
    separation: float = math.nan
    first: bool = field(default=False, repr=False)

    @property
    def compared(self) -> bool:
        """Whether the law takes part."""
        return not self.reason

    @property
    def largest_normalised_error(self) -> float:
        """Largest abs(E_n) of a run."""
        if self.found is None:
            return math.nan
        return float(np.max(np.abs(self.found.normalised_error)))

    @property
    def score(self) -> float:
        """-2 ln likelihood with 2 added per fitted parameter [Akaike 1974]."""
        return self.likelihood + _PRICE * self.fitted

    @property
    def told_apart(self) -> bool:
        """Whether these runs could tell this law from the best one."""
        return self.separation >= _SEEN

    @property
    def verdict(self) -> str:
        """Best, not told apart, nearly as good, worse, or not compared."""
        if not self.compared:
            return "not compared"
        if self.first:
            return "best"
        if not self.told_apart:
            return "not told apart"
        return "worse" if self.difference >= _SEEN else "nearly as good"


@dataclass(frozen=True, eq=False)
class LawComparison:
    """Laws held against the same runs, best first, those not compared last.

    Attributes
    ----------
    reynolds : ReynoldsNumber, shape (n,)
    friction : FrictionFactor, shape (n,)
    laws : tuple of ComparedLaw
    """

    reynolds: ReynoldsNumber
    friction: FrictionFactor
    laws: tuple[ComparedLaw, ...]

    @property
    def best(self) -> ComparedLaw | None:
        """The law of the largest likelihood, parameters paid for; None if none is compared."""
        first = self.laws[0]
        return first if first.compared else None

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        best = self.best
        if best is None or best.goodness is None:
            return "no law covers all of these runs: choose rows with the covers(...) of a law"
        runs = "the run" if len(self.reynolds) == 1 else f"the {len(self.reynolds)} runs"
        text = f"{_short(best.law)} explains {runs} best, {best.goodness}"
        fitting = [g for each in self.laws if (g := each.goodness) and g.verdict != "too large"]
        if not fitting:
            text += ", but no law explains them within the stated uncertainties"
        for verdict, words in (
            ("not told apart", "these data cannot tell it from"),
            ("nearly as good", "nearly as good, though other data of this kind could tell:"),
            ("worse", "worse:"),
            ("not compared", "not compared:"),
        ):
            names = [_short(each.law) for each in self.laws if each.verdict == verdict]
            if names:
                text += f"; {words} {', '.join(names)}"
        return text

    def table(self) -> pd.DataFrame:
        """Return one line per law, best first."""
        import pandas as pd

        rows = []
        for each in self.laws:
            goodness = each.goodness
            rows.append(
                {
                    "law": each.law.name,
                    "runs inside": each.inside,
                    "eps/D": each.relative_roughness,
                    "fitted": each.fitted,
                    "chi_square": math.nan if goodness is None else goodness.value,
                    "dof": 0 if goodness is None else goodness.dof,
                    "p_value": math.nan if goodness is None else goodness.p_value,
                    "largest |E_n|": each.largest_normalised_error,
                    "-2 ln likelihood": each.likelihood,
                    "difference": each.difference,
                    "separation": each.separation,
                    "verdict": each.verdict,
                    "reason": each.reason,
                }
            )
        return pd.DataFrame(rows)

    def __str__(self) -> str:
        lines = [
            f"{'law':<23} {'inside':>7} {'eps/D':>9} {'chi-square':>10} {'dof':>4} {'p':>8} "
            f"{'|E_n|':>6} {'difference':>10}  verdict"
        ]
        for each in self.laws:
            inside = f"{each.inside}/{len(self.reynolds)}"
            head = f"{each.law.title[:23]:<23} {inside:>7}"
            if each.goodness is None:
                text = textwrap.shorten(
                    f"not compared: {each.reason}", WIDTH - len(head) - 2, placeholder=" ..."
                )
                lines.append(f"{head}  {text}")
                continue
            rough = each.relative_roughness
            shown = "-" if math.isnan(rough) else f"{rough:.2g}" + ("*" if each.fitted else "")
            lines.append(
                f"{head} {shown:>9} {each.goodness.value:>10.3g} {each.goodness.dof:>4} "
                f"{each.goodness.p_value:>8.2g} {each.largest_normalised_error:>6.2f} "
                f"{each.difference:>10.2f}  {each.verdict}"
            )
        if any(each.fitted for each in self.laws):
            lines.append("* fitted to these runs, and paid for in dof and difference")
        return "\n".join([*lines, *textwrap.wrap(self.sentence, WIDTH)])

    def _repr_html_(self) -> str:
        formats: dict[str, Format] = dict.fromkeys(
            ("largest |E_n|", "-2 ln likelihood", "difference", "separation"), ".2f"
        )
        formats |= {"eps/D": 2, "chi_square": 3}
        return rounded_table(self.table(), formats=formats, notes=(self.sentence,))._repr_html_()

    _repr_mimebundle_ = mimebundle


def compare_laws(
    reynolds: ReynoldsNumber,
    friction: FrictionFactor,
    laws: Sequence[FrictionLaw] | None = None,
    relative_roughness: Ratio | ArrayLike | None = None,
) -> LawComparison:
    """Compare how well laws explain measured friction factors.

    Parameters
    ----------
    reynolds : ReynoldsNumber, shape (n,)
    friction : FrictionFactor, shape (n,)
        Darcy's.
    laws : sequence of FrictionLaw, optional
        All of `flowunc.laws` unless given.
    relative_roughness : Ratio or float, scalar or shape (n,), optional
        eps/D for the laws that take one, with its uncertainty; fitted to the runs, for each law
        by itself, if left out.

    Returns
    -------
    LawComparison

    Raises
    ------
    DimensionError
        Another kind of quantity, or something that is no law.
    ShapeError
        Single values, or different lengths.
    RangeError
        A friction factor not above 0; no law.
    PropagationError
        Runs without uncertainty, or whose errors are all in common.

    Notes
    -----
    d = f - law, V its covariance from the record, the error of the law itself included. The law
    with the smallest d^T V^-1 d + ln det V, -2 ln likelihood of normal errors, is best; 2 is
    added for a fitted roughness [Akaike 1974], none where the fit ends at a smooth wall.
    ln det V keeps a law from winning by a large uncertainty of its own. All laws are compared on
    all runs given, so that the numbers are of the same data: choose the runs with
    `FrictionLaw.covers` if a law drops out.

    Two laws are told apart where delta^T V^-1 delta, delta their difference and V the mean of
    both covariances, reaches 3.84, the square of 1.96: a test at 5 % then sees the difference
    with even chance. Laws that follow one another closely, within what they state of
    themselves, never are.

    Examples
    --------
    >>> from flowunc import FrictionFactor, ReynoldsNumber, compare_laws, laws, standard
    >>> re = ReynoldsNumber([2e4, 4e4, 8e4], "1")
    >>> f = FrictionFactor([0.0266, 0.0224, 0.0188], "1", standard(2e-4))
    >>> found = compare_laws(re, f, [laws.laminar, laws.blasius, laws.prandtl_smooth])
    >>> [each.verdict for each in found.laws]
    ['best', 'worse', 'not compared']
    """
    re = require_kind(reynolds, ReynoldsNumber, _NAME, "reynolds")
    f = require_kind(friction, FrictionFactor, _NAME, "friction")
    chosen = tuple(all_laws.ALL.values()) if laws is None else tuple(laws)
    _require(re, f, chosen)
    found = [_held(law, re, f, relative_roughness) for law in chosen]
    compared = sorted((each for each in found if each.compared), key=lambda each: each.score)
    left = [each for each in found if not each.compared]
    if not compared:
        return LawComparison(re, f, tuple(left))
    best = compared[0]
    ranked = [_ranked(each, best) for each in compared]
    return LawComparison(re, f, (*ranked, *left))


def _short(law: FrictionLaw) -> str:
    """Return the title without what follows a comma: in a sentence, commas part the laws."""
    return law.title.partition(",")[0]


def _held(
    law: FrictionLaw,
    re: ReynoldsNumber,
    f: FrictionFactor,
    relative_roughness: Ratio | ArrayLike | None,
) -> ComparedLaw:
    """Hold one law against the runs, or say why not."""
    takes = law.roughness_range is not None
    known = relative_roughness if takes else None
    inside = int(np.count_nonzero(law.covers(re, known)))
    if inside < len(re):
        low, high = law.reynolds_range
        condition = f", {law.joint_range.text}" if known is not None and law.joint_range else ""
        return ComparedLaw(law, inside, f"holds for Re {low:g} to {high:g} only{condition}")
    fit, rough = None, known
    if takes and known is None:
        if law.joint_range is not None:
            reason = "its range depends on the roughness, which has to be given"
            return ComparedLaw(law, inside, reason)
        try:
            fit = fit_roughness(re, f, law=law)
        except RangeError:
            reason = "no roughness in its range makes f so large"
            return ComparedLaw(law, inside, reason)
        best = fit.relative_roughness
        rough = 0.0 if best is None else float(best.value)
    found = agreement(f, law(re, rough))
    sign, logarithm = np.linalg.slogdet(_covariance(found))
    if found.joint.dof < len(re) or sign <= 0:
        raise PropagationError(
            f"{_NAME}: behind the {len(re)} runs stand only {found.joint.dof} independent errors, "
            "so they have no likelihood: state the independent errors of the readings, such as "
            "resolution"
        )
    own = ChiSquare(found.joint.value, len(re))
    return ComparedLaw(
        law,
        inside,
        fitted=0 if fit is None or fit.smooth else 1,
        relative_roughness=_mean(rough),
        found=found,
        goodness=own if fit is None else fit.goodness,
        likelihood=own.value + float(logarithm),
    )


def _ranked(each: ComparedLaw, best: ComparedLaw) -> ComparedLaw:
    """Add how far a law is from the best one."""
    if each is best or each.found is None or best.found is None:
        return replace(each, difference=0.0, separation=0.0, first=True)
    V = (_covariance(each.found) + _covariance(best.found)) / 2
    u = np.sqrt(np.diag(V))
    delta = (each.found.theory._node.value - best.found.theory._node.value) / u
    separation = float(delta @ np.linalg.solve(V / np.outer(u, u), delta))
    return replace(each, difference=each.score - best.score, separation=separation)


def _covariance(found: Agreement) -> Floats:
    return covariance(found.deviation._node, found.deviation._node)


def _mean(roughness: Ratio | ArrayLike | None) -> float:
    """Return the relative roughness to be shown, NaN for a law without one."""
    if roughness is None:
        return math.nan
    values = roughness.value if isinstance(roughness, Ratio) else roughness
    return float(np.mean(np.asarray(values, dtype=np.float64)))


def _require(re: ReynoldsNumber, f: FrictionFactor, chosen: tuple[FrictionLaw, ...]) -> None:
    for argument, value in (("reynolds", re), ("friction", f)):
        if value.ndim == 0:
            raise ShapeError(f"{_NAME}({argument}=...): a single value; expected one for each run")
        require_positive(value, _NAME, argument)
    if len(re) != len(f):
        raise ShapeError(
            f"{_NAME}: {len(re)} Reynolds numbers and {len(f)} friction factors; expected one of "
            "each for every run"
        )
    for law in chosen:
        if not isinstance(law, FrictionLaw):
            raise DimensionError(
                f"{_NAME}(laws=...): got {law!r}; expected laws such as laws.blasius"
            )
    if not chosen:
        raise RangeError(f"{_NAME}(laws=...): no law; expected two or more to compare")
