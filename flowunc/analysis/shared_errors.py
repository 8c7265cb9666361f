"""Errors behind several readings, told from those of single readings, and one of them unknown.

A deviation of many readings has errors of three sorts: shared ones, ones that are fresh for each
value of an instrument but stand behind several readings (a zero for each set of runs), and those
of single readings. The first two are vectors over the readings, the last only add to variances.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.chi_square import RELATIVE_CUTOFF
from flowunc.core.component import Component
from flowunc.propagation.contributions import Contribution

__all__ = ["Estimate", "SharedError", "Sources", "estimate", "sources_of"]

Floats = NDArray[np.float64]

# A component whose part in the readings is smaller than this cancels in them: rounding only.
_CANCELS = 1e-9


class SharedError(NamedTuple):
    """What one value of a component contributes to the readings.

    Attributes
    ----------
    component : Component
    label : str
    column : int or None
        Reading of the component where it is fresh for each, None for a shared one.
    values : ndarray, shape (n,)
        Sensitivity times standard uncertainty, signed.
    candidate : bool
        Whether it may be taken as unknown by itself.
    """

    component: Component
    label: str
    column: int | None
    values: Floats
    candidate: bool


@dataclass(frozen=True, slots=True)
class Sources:
    """All errors behind some readings.

    Attributes
    ----------
    shared : tuple of SharedError
    own : ndarray, shape (n,)
        Variance of each reading from errors of its own.
    left_out : tuple of str
        Components that are no candidate, with the reason.
    """

    shared: tuple[SharedError, ...]
    own: Floats
    left_out: tuple[str, ...]

    def covariance(self, without: int | None = None) -> Floats:
        """Return the covariance of the readings, one of the shared errors left out.

        Summed from what remains: taking s s^T off the whole would leave rounding where a large
        error hides small ones.
        """
        S = [each.values for i, each in enumerate(self.shared) if i != without]
        vectors = np.array(S).reshape(len(S), self.own.size)
        return np.asarray(np.diag(self.own) + vectors.T @ vectors)


def sources_of(parts: Sequence[Contribution], rows: NDArray[np.intp], u: Floats) -> Sources:
    """Sort the contributions to some rows of a result.

    Parameters
    ----------
    parts : sequence of Contribution
    rows : ndarray of int, shape (n,)
        Rows to keep.
    u : ndarray, shape (n,)
        Standard uncertainty of each.
    """
    shared: list[SharedError] = []
    own = np.zeros(rows.size)
    left_out: list[str] = []
    for part in parts:
        component = part.component
        each, pool = component.scope == "each", component.pool
        candidates = 0
        for column, vector in _vectors(part, rows).items():
            if each and np.count_nonzero(vector) < 2:
                own += np.square(vector)
                continue
            candidate = pool is None and bool(np.any(np.abs(vector) > _CANCELS * u))
            candidates += candidate
            label = f"{component.label}, reading {column}" if each else component.label
            shared.append(
                SharedError(component, label, column if each else None, vector, candidate)
            )
        if pool is not None:
            left_out.append(f"{pool.label} (errors estimated together from one sample)")
        elif each and not candidates:
            left_out.append(f"{component.label} (an error of single readings)")
        elif not candidates:
            left_out.append(f"{component.label} (it cancels)")
    return Sources(tuple(shared), own, tuple(dict.fromkeys(left_out)))


def _vectors(part: Contribution, rows: NDArray[np.intp]) -> dict[int, Floats]:
    """Return a vector over the rows for each reading of a component that stands behind them."""
    place = np.full(part.size, -1)
    place[rows] = np.arange(rows.size)
    at = place[part.row_indices()]
    vectors: dict[int, Floats] = {}
    for row, column, value in zip(at, part.column_indices(), part.values, strict=True):
        if row >= 0:
            vectors.setdefault(int(column), np.zeros(rows.size))[row] += value
    return vectors


class Estimate(NamedTuple):
    """How large an unknown error is, in its standard uncertainty, from deviations of mean 0.

    Attributes
    ----------
    weights : ndarray, shape (n,)
        Of the deviations d in the offset z that makes d + s z vanish.
    u : float
        Standard uncertainty of z.
    covariance : ndarray, shape (n, n)
        Of what is left: V_0, with a multiple of s s^T where V_0 has no inverse.
    """

    weights: Floats
    u: float
    covariance: Floats


def estimate(others: Floats, s: Floats) -> Estimate:
    """Estimate an error with contributions s from deviations.

    Parameters
    ----------
    others : ndarray, shape (n, n)
        Covariance V_0 of the deviations from all other errors.
    s : ndarray, shape (n,)
        What one standard uncertainty of the error contributes.

    Returns
    -------
    Estimate

    Notes
    -----
    z = -s^T V_0^-1 d/(s^T V_0^-1 s), u^2 = 1/(s^T V_0^-1 s). With V = V_0 + a s s^T in place of a
    V_0 without inverse, z is the same and u^2 = 1/(s^T V^-1 s) - a [Rao 1973, 4i].
    """
    added = 0.0 if _invertible(others) else float(np.trace(others) / (s @ s)) or 1.0
    V = others + added * np.outer(s, s)
    u = np.sqrt(np.diag(V))
    variances, directions = np.linalg.eigh(V / np.outer(u, u))
    kept = variances > RELATIVE_CUTOFF * float(variances[-1])
    along = directions[:, kept].T @ (s / u)
    solved = directions[:, kept] @ (along / variances[kept]) / u
    information = float(s @ solved)
    variance = 1.0 / information - added
    certain = variance <= 1e-12 * added  # the difference of two equal numbers: rounding
    return Estimate(-solved / information, 0.0 if certain else math.sqrt(variance), V)


def _invertible(covariance: Floats) -> bool:
    u = np.sqrt(np.diag(covariance))
    if not float(np.min(u)) > RELATIVE_CUTOFF * float(np.max(u)):
        return False
    variances = np.linalg.eigvalsh(covariance / np.outer(u, u))
    return bool(variances[0] > RELATIVE_CUTOFF * variances[-1])
