"""The best value from several estimates of one quantity, and whether they agree.

The weights come from the full covariance of the estimates, so a calibration that stands behind
several of them counts once. The mean is recorded: it correlates with all that shares components
with the estimates.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.chi_square import RELATIVE_CUTOFF, ChiSquare, joint_chi_square
from flowunc.core.dimensions import DIMENSIONLESS
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.rounding import round_pair, text_pair
from flowunc.core.display.tables import WIDTH, mimebundle
from flowunc.core.errors import DimensionError, PropagationError, ShapeError
from flowunc.core.kinds import Ratio
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.record import constant, freeze

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["WeightedMean", "weighted_mean"]

Floats = NDArray[np.float64]

_MOST_LINES = 40
_MOST_NAMED = 5
_ROUNDING = 1e-9  # of a weight or an uncertainty: below, nothing but rounding


@dataclass(frozen=True, eq=False)
class WeightedMean:
    """The weighted mean of several estimates of one quantity.

    Attributes
    ----------
    estimates : Quantity, shape (n,)
    names : tuple of str
        Of the estimates: their labels where these tell them apart, else "1", "2", ...
    mean : Quantity, scalar
        Recorded, in the unit of the estimates. Its u is never enlarged.
    weights : ndarray, shape (n,)
        They add up to 1; negative ones are possible (see `sentence`).
    residuals : ndarray, shape (n,)
        Estimate less mean, in the unit of the estimates.
    residual_u : ndarray, shape (n,)
        Standard uncertainty of the residuals.
    normalised_error : ndarray, shape (n,)
        E_n of each estimate against the mean: residual over 2 residual_u; 0 where both are 0.
    goodness : ChiSquare
    """

    estimates: Quantity
    names: tuple[str, ...]
    mean: Quantity
    weights: Floats
    residuals: Floats
    residual_u: Floats
    normalised_error: Floats
    goodness: ChiSquare = field(repr=False)

    @property
    def u(self) -> float:
        """Standard uncertainty of the mean from the statements alone, in its unit."""
        return float(self.mean.u)

    @property
    def chi_square(self) -> float:
        """Sum of squares r^T V^-1 r of the residuals."""
        return self.goodness.value

    @property
    def dof(self) -> int:
        """Independent estimates less one."""
        return self.goodness.dof

    @property
    def p_value(self) -> float:
        """Probability of a larger chi-square by chance; NaN without degrees of freedom."""
        return self.goodness.p_value

    @property
    def birge_ratio(self) -> float:
        """Root of chi-square over dof, about 1 where the statements are right; NaN without dof."""
        return math.sqrt(self.chi_square / self.dof) if self.dof else math.nan

    @property
    def consistent(self) -> bool:
        """Whether p is at least 0.05, or there is nothing to compare."""
        return self.goodness.verdict != "too large"

    @property
    def enlarged_u(self) -> float:
        """What u becomes times the Birge ratio where the estimates disagree; NaN where they agree.

        A number beside ``mean.u``, never part of it.
        """
        return math.nan if self.consistent else self.birge_ratio * self.u

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        if self.dof == 0:
            text = "the estimates are one and the same, errors included: there is nothing to weigh"
        elif self.consistent:
            text = f"{self.goodness}: the estimates agree within their uncertainties"
            if self.goodness.verdict == "too small" and self.dof > 1:
                text += ", closer than these suggest; they may be too large"
        else:
            text = (
                f"{self.goodness}: the estimates do not agree within their uncertainties; times "
                f"the Birge ratio {self.birge_ratio:.3g}, u of the mean would be "
                f"{self.enlarged_u:.2g}{_unit(self.mean)} in place of {self.u:.2g}; look for the "
                f"reason first{self._farthest()}"
            )
        return "; ".join([text, *self._remarks()])

    def table(self) -> pd.DataFrame:
        """Return the estimates as a table, one line each, in their unit."""
        import pandas as pd

        return pd.DataFrame(
            {
                "estimate": self.names,
                "value": self.estimates.value,
                "u": self.estimates.u,
                "weight": self.weights,
                "residual": self.residuals,
                "residual_u": self.residual_u,
                "normalised_error": self.normalised_error,
            }
        )

    def __str__(self) -> str:
        lines = textwrap.wrap(self._title(), WIDTH, subsequent_indent="  ")
        lines.append(
            f"{'estimate':<30} {'value ± u':>24} {'weight':>8} {'residual':>12} {'E_n':>8}"
        )
        rows = zip(
            self.names,
            np.asarray(self.estimates.value),
            np.asarray(self.estimates.u),
            self.weights,
            self.residuals,
            self.normalised_error,
            strict=True,
        )
        for number, (name, value, u, weight, residual, error) in enumerate(rows):
            if number == _MOST_LINES:
                lines.append(f" ... and {len(self.names) - _MOST_LINES} more: see .table()")
                break
            lines.append(
                f"{textwrap.shorten(name, 30, placeholder='..'):<30} {text_pair(value, u):>24} "
                f"{weight:8.3f} {residual:12.3g} {error:8.2f}"
            )
        return "\n".join([*lines, *textwrap.wrap(self.sentence, WIDTH)])

    def _repr_html_(self) -> str:
        return rounded_table(
            self.table(),
            uncertainty_of={"value": "u"},
            formats={"weight": ".3f"},
            title=self._title(),
            notes=(self.sentence,),
        )._repr_html_()

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        rounded = round_pair(float(self.mean.value), self.u).text
        return f"weighted mean of {len(self.names)} estimates: {rounded}{_unit(self.mean)} (± u)"

    def _farthest(self) -> str:
        if len(self.names) == 2:
            return ""
        return f", beginning with {self.names[int(np.argmax(np.abs(self.normalised_error)))]}"

    def _remarks(self) -> list[str]:
        found = []
        negative = np.flatnonzero(self.weights < -_ROUNDING)
        if negative.size:
            shown = ", ".join(
                f"{self.names[i]} ({self.weights[i]:.2g})" for i in negative[:_MOST_NAMED]
            )
            more = f" and {negative.size - _MOST_NAMED} more" if negative.size > _MOST_NAMED else ""
            found.append(
                f"negative weight for {shown}{more}: it has much of its error in common with "
                "better estimates, so the mean moves away from it to take that error out"
            )
        values, mean = np.asarray(self.estimates.si.value), float(self.mean.si.value)
        slack = _ROUNDING * float(self.mean.si.u)
        if not values.min() - slack <= mean <= values.max() + slack:
            found.append(
                "the mean lies outside of all estimates: right only if the errors in common are "
                "as unequal as stated; where they are in proportion to the value, they were "
                "taken as unequal only because the estimates differ"
            )
        repeated = len(self.names) - 1 - self.dof
        if repeated and self.dof:
            found.append(
                f"{repeated} of the {len(self.names)} estimates "
                f"{'repeats' if repeated == 1 else 'repeat'} what others say, errors included, "
                "and counts for nothing"
            )
        return found


def weighted_mean(estimates: Quantity | Sequence[Quantity]) -> WeightedMean:
    """Combine several estimates of one quantity by generalised least squares.

    Parameters
    ----------
    estimates : Quantity, shape (n,), or sequence of scalar Quantity
        At least two, of one kind, such as one flow read on two meters. What they have in
        common is known from their records and need not be stated.

    Returns
    -------
    WeightedMean
        With the recorded mean, the weights, and chi-square of the estimates about the mean.

    Raises
    ------
    DimensionError
        Something else than quantities of one kind.
    ShapeError
        Fewer than two estimates, or a sequence of readings where single values belong.
    PropagationError
        Estimates without an uncertainty, or whose errors are wholly in common and either
        unequal or unable to explain why they differ: nothing is left to weigh.

    Notes
    -----
    Minimises (x - m)^T V^-1 (x - m), V being the covariance of the estimates: m = w^T x with
    w = V^-1 1 / (1^T V^-1 1) [Rao 1973, 4a; JCGM 100, 5.2.2]. Estimates that repeat each other,
    errors included, make V singular; they are counted once, in the directions that have a
    variance. Chi-square with (independent estimates - 1) degrees of freedom tests whether they
    agree, at p = 0.05 [Cox 2002, procedure A]. sqrt(chi^2/dof) is the ratio of what the
    estimates show by their scatter to what the statements say [Birge 1932]. It says nothing
    about errors that all of them have in common, which do not scatter.

    Weights are taken as exact, and V as it stands at each estimate. Where errors in common are
    in proportion to the value, estimates that differ get unequal ones, which can draw the mean
    beyond all of them [Peelle 1987]; `WeightedMean.sentence` says so.

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, standard, weighted_mean
    >>> small = VolumeFlowRate(3.50, "L/min", standard(0.05), label="small meter")
    >>> large = VolumeFlowRate(3.65, "L/min", standard(0.10), label="large meter")
    >>> found = weighted_mean([small, large])
    >>> print(found.mean)
    weighted mean: 3.530 ± 0.045 L/min
    >>> found.consistent, round(found.birge_ratio, 2)
    (True, 1.34)
    """
    joined, names = _joined(estimates)
    x, u = joined._node.value, joined._u_si()
    _refuse_certain(u, names)
    weights, goodness = _weigh(x, u, np.asarray(joined.correlation(joined)))
    # from an estimate onwards, so that temperatures have a meaning and nothing is rounded twice
    origin = joined._with(constant(float(x[int(np.argmin(u))])), label="")
    moved = origin + (weights * (joined - origin)).sum()
    mean = joined._with(moved._node, label="weighted mean")
    residual = joined - mean
    residual_u = np.array(residual._u_si())
    residual_u[residual_u <= _ROUNDING * u] = 0.0  # all the weight is on this estimate
    known = np.where(residual_u > 0, residual_u, 1.0)
    normalised = np.where(residual_u > 0, residual._node.value / (2 * known), 0.0)
    scale = joined._unit.scale_from_si
    return WeightedMean(
        joined,
        names,
        mean,
        freeze(weights),
        freeze(scale(residual._node.value)),
        freeze(scale(residual_u)),
        freeze(normalised),
        goodness,
    )


def _weigh(x: Floats, u: Floats, correlation: Floats) -> tuple[Floats, ChiSquare]:
    """Return the weights and chi-square; everything is scaled by u, so units do not matter.

    With the eigenvectors of the correlation matrix as independent directions, each direction is
    one estimate of its own: along it, x/u is m times (1/u).
    """
    ones = float(np.min(u)) / u
    variances, directions = np.linalg.eigh(correlation)
    kept = variances > RELATIVE_CUTOFF * float(variances[-1])
    certain = directions[:, ~kept].T @ ones / np.linalg.norm(ones)
    # the cutoff hides errors up to its root, so an exact combination must be larger than that
    if certain.size and float(np.max(np.abs(certain))) > math.sqrt(RELATIVE_CUTOFF):
        raise PropagationError(
            f"weighted_mean: behind the {x.size} estimates stand fewer independent errors "
            f"({int(kept.sum())}), in common but of unequal size, so a combination of the "
            "estimates would have no uncertainty at all: state the independent errors of the "
            "estimates, such as resolution"
        )
    along = directions[:, kept]
    pull = along @ (along.T @ ones / variances[kept])
    weights: Floats = pull * ones / float(pull @ ones)
    deviations = (x - x[0] - weights @ (x - x[0])) / u
    rounding = 8 * np.finfo(np.float64).eps * np.abs(x) / u
    found = joint_chi_square(deviations, correlation, rounding)
    if found.reason:
        raise PropagationError(f"weighted_mean: {found.reason}")
    return weights, ChiSquare(found.value, found.dof - 1)


def _joined(estimates: Any) -> tuple[Quantity, tuple[str, ...]]:
    """Return the estimates as readings of one quantity in the unit of the first, and names."""
    if isinstance(estimates, Quantity):
        if estimates.ndim == 0 or estimates.size < 2:
            raise ShapeError(
                f"weighted_mean: got one estimate, {estimates}; expected two or more of one "
                "quantity, in one Quantity or in a list"
            )
        return estimates, tuple(str(number + 1) for number in range(estimates.size))
    if not isinstance(estimates, Sequence) or isinstance(estimates, str):
        raise DimensionError(
            f"weighted_mean: got {type(estimates).__name__} {estimates!r}; expected quantities, "
            "such as [flow_small, flow_large]"
        )
    parts = list(estimates)
    for number, part in enumerate(parts):
        if not isinstance(part, Quantity):
            raise DimensionError(
                f"weighted_mean: estimate {number + 1} is {type(part).__name__} {part!r}; expected "
                "a quantity, with its uncertainty"
            )
        if part.ndim:
            raise ShapeError(
                f"weighted_mean: estimate {number + 1} has {part.size} readings; expected single "
                "values in a list, or one Quantity with all estimates"
            )
    if len(parts) < 2:
        raise ShapeError(
            f"weighted_mean: got {len(parts)} estimates in a list; expected two or more"
        )
    _refuse_different_kinds(parts)
    first = parts[0]
    joined = concatenate([part.to(first.unit) for part in parts])
    joined = joined.to(first.unit)
    labels = [part.label for part in parts]
    distinct = all(labels) and len(set(labels)) == len(labels)
    return joined, tuple(labels if distinct else (str(n + 1) for n in range(len(parts))))


def _refuse_different_kinds(parts: list[Quantity]) -> None:
    first = parts[0]
    for number, other in enumerate(parts[1:], 2):
        plain = type(first) in (Quantity, Ratio) or type(other) in (Quantity, Ratio)
        differ = first._unit.dimension is DIMENSIONLESS and type(first) is not type(other)
        if (
            first._unit.dimension is not other._unit.dimension
            or first._absolute != other._absolute
            or (differ and not plain)
        ):
            raise DimensionError(
                f"weighted_mean: estimate 1 is {type(first).__name__} in '{first.unit}', estimate "
                f"{number} {type(other).__name__} in '{other.unit}'; expected estimates of one "
                "quantity"
            )


def _refuse_certain(u: Floats, names: tuple[str, ...]) -> None:
    certain = np.flatnonzero(u == 0)
    if certain.size:
        raise PropagationError(
            f"weighted_mean: estimate {names[int(certain[0])]} has no uncertainty, so it would "
            "have all the weight; state its uncertainty, or hold the others against it with "
            "agreement(...)"
        )


def _unit(quantity: Quantity) -> str:
    return "" if quantity.unit == "1" else f" {quantity.unit}"
