"""The constant C of f = C/Re from laminar runs, held against the 64 of theory.

All runs share calibration, bore and tap spacing, so the runs are no independent witnesses: they
are weighed with the full covariance of f Re, and what is in common is counted once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.agreement import Agreement, agreement
from flowunc.analysis.chi_square import RELATIVE_CUTOFF, ChiSquare, joint_chi_square
from flowunc.analysis.fit_text import fit_html, fit_lines
from flowunc.core.arguments import check_coverage_factor
from flowunc.core.display.rounding import round_pair
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import PropagationError, ShapeError, warn_user
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.record import freeze
from flowunc.pipe import laws
from flowunc.pipe.signs import require_positive
from flowunc.propagation.contributions import contributions, correlation

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LaminarConstant", "fit_laminar_constant"]

Floats = NDArray[np.float64]

_NAME = "fit_laminar_constant"
_THEORY = 64.0  # Hagen-Poiseuille, Darcy's friction factor [White 2003, ch. 6]
# What is left of an uncertainty that cancels, relative to its parts: rounding only.
_CANCELS = 1e-12
# What a direction that counts as free of uncertainty may still hide, in standard uncertainties.
_HIDDEN = RELATIVE_CUTOFF**0.5


@dataclass(frozen=True, eq=False)
class LaminarConstant:
    """The constant C of f = C/Re with the runs behind it.

    Attributes
    ----------
    reynolds : ReynoldsNumber, shape (n,)
    friction : FrictionFactor, shape (n,)
    constant : Ratio, scalar
        C, recorded: correlated with all that shares components with the runs.
    weights : ndarray, shape (n,)
        Weight of each run in C; they add up to 1, and single ones may be negative.
    residuals : ndarray, shape (n,)
        Relative: f Re/C - 1.
    residual_u : ndarray, shape (n,)
        Relative standard uncertainty of f Re.
    goodness : ChiSquare
        Whether the runs follow one C.
    against_theory : Agreement
        C held against 64.
    """

    reynolds: ReynoldsNumber
    friction: FrictionFactor
    constant: Ratio
    weights: Floats
    residuals: Floats
    residual_u: Floats
    goodness: ChiSquare
    against_theory: Agreement = field(repr=False)

    @property
    def chi_square(self) -> float:
        """Sum of squares of the residuals, shared errors counted once."""
        return self.goodness.value

    @property
    def dof(self) -> int:
        """Degrees of freedom: independent runs less one."""
        return self.goodness.dof

    @property
    def p_value(self) -> float:
        """Probability of a larger chi-square by chance; NaN for one run."""
        return self.goodness.p_value

    @property
    def normalised_error(self) -> float:
        """E_n = (C - 64)/U."""
        return float(self.against_theory.normalised_error)

    @property
    def agrees(self) -> bool:
        """Whether C agrees with 64: abs(E_n) <= 1."""
        return bool(self.against_theory.satisfied)

    @property
    def shared_share(self) -> float:
        """Part of the variance of C from errors shared by all readings: 0 to 1."""
        parts = contributions(self.constant._node)
        variances = [float(part.variances()[0]) for part in parts]
        common = [part.component.scope == "shared" for part in parts]
        return float(np.dot(variances, common) / np.sum(variances))

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        found = self.against_theory
        distance = round_pair(float(found.difference), float(found.expanded)).text
        verdict = "the runs agree with" if self.agrees else "the runs contradict"
        text = (
            f"C - 64 = {distance} (k = {found.k:g}), E_n = {self.normalised_error:.2f}: {verdict} "
            "f = 64/Re"
        )
        if self.goodness.reason:
            return f"{text}; but they do not follow one C: {self.goodness.reason}"
        advice = {
            "": "one run alone cannot show whether f Re is constant",
            "too large": "f Re varies more than the stated uncertainties allow, look for a trend "
            "(entrance, onset of transition) or an underestimated error",
            "too small": "f Re varies less than the stated uncertainties suggest",
            "as stated": "f Re is constant as far as the stated uncertainties tell",
        }
        return f"{text}; {self.goodness}: {advice[self.goodness.verdict]}"

    def table(self) -> pd.DataFrame:
        """Return one line per run."""
        import pandas as pd

        product = np.asarray(self.friction.value) * np.asarray(self.reynolds.value)
        return pd.DataFrame(
            {
                "Reynolds number": self.reynolds.value,
                "friction factor": self.friction.value,
                "f Re": product,
                "u(f Re)": product * self.residual_u,
                "weight": self.weights,
                "relative_residual": self.residuals,
            }
        )

    def __str__(self) -> str:
        return "\n".join(fit_lines(self._title(), [self.constant], self._notes()))

    def _repr_html_(self) -> str:
        return fit_html(self._title(), [self.constant], self._notes())

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        values = np.atleast_1d(self.reynolds.value)
        runs = "1 run" if values.size == 1 else f"{values.size} runs"
        return f"laminar constant C = f Re from {runs}, Re {values.min():.4g} to {values.max():.4g}"

    def _notes(self) -> list[str]:
        return [
            self.sentence,
            f"{100 * self.shared_share:.0f} % of the variance of C is from errors that all runs "
            "share, which more runs do not reduce",
        ]


def fit_laminar_constant(
    reynolds: ReynoldsNumber, friction: FrictionFactor, *, k: float = 2
) -> LaminarConstant:
    """Fit C in f = C/Re to laminar runs, and hold it against 64.

    Parameters
    ----------
    reynolds : ReynoldsNumber, shape (n,)
        Above 0, of laminar runs; one is enough, two for a chi-square.
    friction : FrictionFactor, shape (n,)
        Above 0, Darcy's.
    k : float
        Coverage factor of the expanded uncertainty in E_n.

    Returns
    -------
    LaminarConstant

    Raises
    ------
    DimensionError
        Another kind of quantity.
    ShapeError
        Single values, or different lengths.
    RangeError
        A value not above 0.
    PropagationError
        Runs without uncertainty, or with shared errors alone, which leave nothing to weigh.

    Warns
    -----
    FlowuncWarning
        A run beyond the range of 64/Re, `flowunc.laws.laminar`.

    Notes
    -----
    C = sum w_i y_i, y = f Re, w = V^-1 1/(1^T V^-1 1): generalised least squares. V holds the
    *relative* covariances of y from the record. Shared errors such as that of the bore are
    relative; taken in proportion to each measured y in place of the common C, they would pull C
    below the runs, the more so the more runs there are [Agostini 1994]. So relative
    uncertainties should be well below 1. Chi-square is r^T V^-1 r with r = y/C - 1. Directions
    without any error (a run entered twice) are left out of V^-1 [Rao 1973, 4i].

    Examples
    --------
    >>> from flowunc import FrictionFactor, ReynoldsNumber, fit_laminar_constant, standard
    >>> re = ReynoldsNumber([800, 1200, 1900], "1", standard([8, 12, 19]))
    >>> f = FrictionFactor([0.0805, 0.0530, 0.0338], "1", standard([0.0016, 0.0010, 0.0007]))
    >>> print(fit_laminar_constant(re, f).constant)
    C: 64.06 ± 0.82
    """
    re = require_kind(reynolds, ReynoldsNumber, _NAME, "reynolds")
    f = require_kind(friction, FrictionFactor, _NAME, "friction")
    factor = check_coverage_factor(k, _NAME)
    _require_runs(re, f)
    product = re * f
    y, u = product._node.value, product._u_si()
    parts = np.hypot(re._u_si() / re._node.value, f._u_si() / f._node.value)
    certain = u / y <= _CANCELS * parts
    if certain.any():
        raise PropagationError(
            f"{_NAME}: f Re of reading {int(np.argmax(certain))} has no uncertainty, so the runs "
            "have no weights: none is stated, or f was computed from Re. State the uncertainties "
            "of the readings"
        )
    R = correlation(product._node, product._node)
    weights = _weights(y / u, R)
    C = float(weights @ y)
    residuals = y / C - 1.0
    rounding = np.full(y.size, 8 * np.finfo(np.float64).eps) * y / u
    joint = joint_chi_square(residuals * y / u, R, rounding)
    constant = Ratio._from_node((weights * product).sum()._node, label="C")
    return LaminarConstant(
        re,
        f,
        constant,
        freeze(weights),
        freeze(residuals),
        freeze(u / y),
        ChiSquare(joint.value, joint.dof - 1, joint.reason),
        agreement(constant, Ratio(_THEORY, "1", label="64"), k=factor),
    )


def _weights(one: Floats, correlations: Floats) -> Floats:
    """Return the weights of the runs from 1 over their relative u, and their correlations."""
    variances, directions = np.linalg.eigh(correlations)
    kept = variances > RELATIVE_CUTOFF * float(variances[-1])
    along = directions.T @ one
    if np.any(np.abs(along[~kept]) > _HIDDEN * float(np.linalg.norm(one))):
        rank = int(np.count_nonzero(kept))
        raise PropagationError(
            f"{_NAME}: behind the {one.size} runs stand only {rank} independent "
            f"error{'' if rank == 1 else 's'}, the rest is in common: a combination of the runs "
            "would fix C without any uncertainty. State the independent errors of the readings, "
            "such as resolution"
        )
    solved = directions[:, kept] @ (along[kept] / variances[kept])
    found: Floats = solved * one / float(one @ solved)
    return found


def _require_runs(re: Quantity, f: Quantity) -> None:
    for argument, value in (("reynolds", re), ("friction", f)):
        if value.ndim == 0:
            raise ShapeError(f"{_NAME}({argument}=...): a single value; expected one for each run")
        require_positive(value, _NAME, argument)
    if len(re) != len(f):
        raise ShapeError(
            f"{_NAME}: {len(re)} Reynolds numbers and {len(f)} friction factors; expected one of "
            "each for every run"
        )
    beyond = np.flatnonzero(re._node.value > laws.laminar.reynolds_range[1])
    if beyond.size:
        warn_user(
            f"{_NAME}: Reynolds number {re._node.value[beyond[0]]:.6g} at reading {beyond[0]}"
            f"{'' if beyond.size == 1 else f' (and {beyond.size - 1} more)'}; 64/Re holds up to "
            f"{laws.laminar.reynolds_range[1]:g}: choose rows with laws.laminar.covers(...)"
        )
