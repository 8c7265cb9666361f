"""Deviation of runs from a law of a rough wall, in logarithms, as it depends on the roughness.

Relative deviations, because errors in common are relative: a larger f by law must not pass for a
larger uncertainty. Covariances are taken from the record once; a roughness costs one evaluation
of the law. Plain numbers; `roughness_fit` connects this with quantities.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.analysis.chi_square import RELATIVE_CUTOFF
from flowunc.core import operations as op
from flowunc.core.component import Component, Term
from flowunc.core.dimensions import DIMENSIONLESS
from flowunc.core.distributions import Normal
from flowunc.core.errors import PropagationError
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber
from flowunc.core.quantity import Quantity
from flowunc.core.record import elementwise
from flowunc.core.units import coherent_unit
from flowunc.pipe.laws import FrictionLaw
from flowunc.propagation.contributions import contributions, covariance

__all__ = ["LogDeviation", "Place", "logarithm"]

Floats = NDArray[np.float64]

_ONE = coherent_unit(DIMENSIONLESS)
# Unit errors, whose contributions are the derivatives of a law.
_TO_REYNOLDS = Component("Reynolds number", Normal(1.0), _ONE, key="flowunc.roughness.reynolds")
_TO_ROUGHNESS = Component("roughness", Normal(1.0), _ONE, key="flowunc.roughness.relative")


def logarithm(quantity: Quantity) -> Ratio:
    """Record the natural logarithm of a pure number."""
    return Ratio._from_node(elementwise(op.LOG, quantity._node))


class Place(NamedTuple):
    """One roughness: sum of squares, residuals with their u, and weights of the residuals."""

    value: float
    residuals: Floats
    u: Floats
    weights: Floats

    @property
    def step(self) -> float:
        """By how much a larger roughness would fit better, errors staying as they are here."""
        return float(self.weights @ self.residuals)


class LogDeviation:
    """ln f and ln Re of the runs with their covariances, and what a law says of them."""

    def __init__(self, re: ReynoldsNumber, f: FrictionFactor, law: FrictionLaw) -> None:
        self._law = law
        self._re = re._node.value
        self._ln_f = np.log(f._node.value)
        inverse_f, inverse_re = 1 / f._node.value, 1 / self._re
        self._ff = covariance(f._node, f._node) * np.outer(inverse_f, inverse_f)
        self._fr = covariance(f._node, re._node) * np.outer(inverse_f, inverse_re)
        self._rr = covariance(re._node, re._node) * np.outer(inverse_re, inverse_re)
        # results may carry the error of the law already, such as runs made up with it
        self._in_f, self._in_re = (
            {
                part.component: part.per_row() * inverse
                for part in contributions(quantity._node)
                if part.component.scope == "shared"
            }
            for quantity, inverse in ((f, inverse_f), (re, inverse_re))
        )

    def at(self, e: float, error_at: float | None = None) -> Place:
        """Return r^T V^-1 r and what goes with it, with the error of the law at another e if given.

        A law may be surer of a smooth wall than of a rough one.
        """
        values, m, g = self._slopes(e)
        residuals = self._ln_f - values
        crossed = self._fr * m
        V = self._ff - crossed - crossed.T + self._rr * np.outer(m, m)
        zero = np.zeros_like(m)
        for term in self._law.model_error(self._re, np.array(e if error_at is None else error_at)):
            own = np.broadcast_to(term.width, m.shape)
            of_data = self._in_f.get(term.component, zero)
            of_data = of_data - m * self._in_re.get(term.component, zero)
            V = V + np.outer(of_data - own, of_data - own) - np.outer(of_data, of_data)
        u = np.sqrt(np.maximum(np.diag(V), 0.0))
        both = np.stack([residuals / u, g / u], axis=1)
        solved = scipy.linalg.cho_solve((_factor(V, u), True), both, check_finite=False)
        information = float(both[:, 1] @ solved[:, 1])
        weights = solved[:, 1] / u / information if information > 0 else zero
        return Place(float(both[:, 0] @ solved[:, 0]), residuals, u, weights)

    def _slopes(self, e: float) -> tuple[Floats, Floats, Floats]:
        """Return ln f by the law, and its derivatives with ln Re and with e."""
        re = Ratio._from_terms(self._re.copy(), [Term(_TO_REYNOLDS, self._re)], _ONE)
        roughness = Ratio._from_terms(np.array(e), [Term(_TO_ROUGHNESS)], _ONE)
        found = logarithm(self._law.equation(re, roughness))
        parts = {part.component: part.per_row() for part in contributions(found._node)}
        zero = np.zeros_like(self._re)
        return found._node.value, parts.get(_TO_REYNOLDS, zero), parts.get(_TO_ROUGHNESS, zero)


def _factor(covariance: Floats, u: Floats) -> Floats:
    """Return the Cholesky factor of the correlations, refused where errors are all in common."""
    if u.all():
        try:
            factor = np.asarray(np.linalg.cholesky(covariance / np.outer(u, u)), dtype=np.float64)
        except np.linalg.LinAlgError:
            factor = np.zeros((1, 1))
        if float(np.min(np.diag(factor))) ** 2 > RELATIVE_CUTOFF:
            return factor
    raise PropagationError(
        f"fit_roughness: the errors of the {u.size} runs are so far in common that they have no "
        "independent errors to be weighed by, or a run is there twice: state the independent "
        "errors of the readings, such as resolution"
    )
