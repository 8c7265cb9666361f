"""Effective degrees of freedom and coverage factors for the linear method.

Source: [JCGM 100, G.3, G.4 and table G.2].
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.core.arguments import check_coverage_factor, check_level
from flowunc.core.errors import StatementError
from flowunc.core.record import Node
from flowunc.propagation.contributions import Contribution, contributions, variances_of
from flowunc.propagation.pieces import rows_of

__all__ = ["combine_dof", "coverage_factor", "effective_dof", "t_factor"]


def effective_dof(node: Node) -> NDArray[np.float64]:
    """Return the Welch-Satterthwaite degrees of freedom, shaped as the value.

    Notes
    -----
    nu_eff = u**4 / sum(u_i**4 / nu_i) over independent contributions u_i [JCGM 100, eq.
    G.2b]. Components estimated together from one sample count as one contribution. Infinite
    where every contribution is certain, or where there is none.
    """
    return combine_dof(contributions(node), rows_of(node)).reshape(node.value.shape)


def combine_dof(parts: list[Contribution], count: int) -> NDArray[np.float64]:
    """Return the effective degrees of freedom of each row, shape (n,)."""
    variances, total = variances_of(parts, count)
    single: list[tuple[NDArray[np.float64], NDArray[np.float64]]] = []
    pooled: dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    for part, variance in zip(parts, variances, strict=True):
        dof = part.dof_per_row()
        pool = part.component.pool
        if pool is None:
            single.append((variance, dof))
        elif pool.key in pooled:
            before = pooled[pool.key]
            pooled[pool.key] = (before[0] + variance, np.minimum(before[1], dof))
        else:
            pooled[pool.key] = (variance, dof)
    terms = [*single, *pooled.values()]
    if pooled:
        total = np.sum([variance for variance, _ in terms], axis=0)
    scale = np.where(total > 0, total, 1.0)  # shares, so that no fourth power leaves float64
    loss = np.zeros(count)
    for variance, dof in terms:
        loss += np.square(variance / scale) / dof
    with np.errstate(divide="ignore"):
        return np.where(loss > 0, 1.0 / loss, np.inf)


def t_factor(dof: NDArray[np.float64], level: float) -> NDArray[np.float64]:
    """Return the two-sided coverage factor of Student's t for degrees of freedom above 0."""
    tail = 0.5 + level / 2
    normal = float(scipy.special.ndtri(tail))
    finite = np.isfinite(dof)
    factor: NDArray[np.float64] = np.where(
        finite, scipy.special.stdtrit(np.where(finite, dof, 1.0), tail), normal
    )
    return factor


def coverage_factor(node: Node, level: float | None, k: float | None) -> NDArray[np.float64]:
    """Return k of every reading: a fixed one, or t for a level (0.95 unless given)."""
    if k is not None:
        if level is not None:
            raise StatementError(f"level={level} and k={k}: give one of the two")
        return np.full(node.value.shape, check_coverage_factor(k, "expanded"))
    checked = check_level(0.95 if level is None else level)
    return t_factor(effective_dof(node), checked)
