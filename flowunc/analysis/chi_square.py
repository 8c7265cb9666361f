"""Chi-square of deviations that may share errors, and what to say of it.

Deviations with a common calibration are not independent, so squares of E_n must not simply be
added up: the full covariance of the deviations belongs between them. Errors that are wholly in
common leave that covariance without an inverse; the directions without any uncertainty are
then checked by themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

__all__ = ["RELATIVE_CUTOFF", "ChiSquare", "joint_chi_square"]

Floats = NDArray[np.float64]

# A direction whose variance is below this part of the largest counts as free of uncertainty:
# far above the rounding of eigenvalues (about 1e-15), far below any real independent error.
RELATIVE_CUTOFF = 1e-10
# So many times the largest uncertainty that the cutoff can hide: beyond, a deviation is real.
_BEYOND = 10.0

IMPROBABLE = 0.05
TOO_GOOD = 0.95


@dataclass(frozen=True)
class ChiSquare:
    """A sum of squared, decorrelated deviations with its degrees of freedom.

    Attributes
    ----------
    value : float
        Infinite where a deviation has no uncertainty at all to explain it.
    dof : int
        Independent deviations less fitted parameters.
    reason : str
        Why the value is infinite, else "".

    Notes
    -----
    The probability is exact for normal errors of known size, a good guide for others.
    """

    value: float
    dof: int
    reason: str = ""

    @property
    def p_value(self) -> float:
        """Probability of a larger value by chance; NaN without degrees of freedom."""
        if self.dof == 0:
            return math.nan
        return float(scipy.special.chdtrc(self.dof, self.value))

    @property
    def verdict(self) -> str:
        """Say whether the deviations are too large, too small, or as stated; "" if unknown."""
        if self.dof == 0:
            return ""
        if self.p_value < IMPROBABLE:
            return "too large"
        return "too small" if self.p_value > TOO_GOOD else "as stated"

    def __str__(self) -> str:
        if self.dof == 0:
            return "no degrees of freedom, so no chi-square"
        freedom = "1 degree of freedom" if self.dof == 1 else f"{self.dof} degrees of freedom"
        p = self.p_value
        text = f"{p:.2f}" if 0.01 <= p < 0.995 else f"{p:.1g}" if p < 0.01 else "above 0.99"
        separator = " = " if p < 0.995 else " "
        return f"chi-square {self.value:.3g} on {freedom}, p{separator}{text}"


def joint_chi_square(deviations: Floats, correlation: Floats, rounding: Floats) -> ChiSquare:
    """Compute d^T V^-1 d for deviations in units of their standard uncertainty.

    Parameters
    ----------
    deviations : ndarray, shape (n,)
        Each divided by its standard uncertainty.
    correlation : ndarray, shape (n, n)
        Their correlation coefficients.
    rounding : ndarray, shape (n,)
        Rounding error of the deviations, in the same measure.

    Returns
    -------
    ChiSquare
        The degrees of freedom are the rank of the correlation matrix.

    Notes
    -----
    Eigenvectors of the correlation matrix are independent directions; its eigenvalues their
    variances. Those below `RELATIVE_CUTOFF` times the largest are free of uncertainty: a
    deviation along one of them cannot come from the stated uncertainties.
    """
    if deviations.size == 0:
        return ChiSquare(0.0, 0)
    variances, directions = np.linalg.eigh(correlation)
    along = directions.T @ deviations
    cutoff = RELATIVE_CUTOFF * float(variances[-1])
    kept = variances > cutoff
    rank = int(np.count_nonzero(kept))
    allowed = _BEYOND * math.sqrt(cutoff) + np.abs(directions.T) @ rounding
    outside = ~kept & (np.abs(along) > allowed)
    if outside.any():
        worst = int(np.argmax(np.where(outside, np.abs(along), 0.0)))
        size = float(np.abs(along[worst]))
        return ChiSquare(
            math.inf,
            rank,
            f"the {deviations.size} deviations have only {rank} independent "
            f"error{'' if rank == 1 else 's'} behind them, which cannot make them differ as they "
            f"do (by {size:.2g} u where no uncertainty is stated): state the independent errors "
            "of the readings, such as resolution",
        )
    return ChiSquare(float(np.sum(np.square(along[kept]) / variances[kept])), rank)
