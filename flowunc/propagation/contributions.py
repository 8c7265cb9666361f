"""Contributions of every component to every reading of a result, and covariances from them.

A `Contribution` is the sensitivity times the standard uncertainty, signed, so that squares
add up to the variance [JCGM 100, 5.1.3] and products to covariances [JCGM 100, F.1.2.3].
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.record import Node
from flowunc.propagation.linear import BlockPart, Sweep, standard_uncertainty, why_not_finite
from flowunc.propagation.pieces import Indices, rows_of

__all__ = ["Contribution", "contributions", "correlation", "covariance"]


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one component contributes to a result, in coherent SI units of the result.

    Attributes
    ----------
    component : Component
    values : ndarray, shape (n,) or (k,)
        Sensitivity times standard uncertainty, signed.
    columns : ndarray or None
        Reading of the component behind each value; None for a shared component.
    rows : ndarray or None
        Row of the result of each value; None when value ``i`` belongs to row ``i``.
    size : int
        Number of rows of the result.
    """

    component: Component
    values: NDArray[np.float64]
    columns: Indices | None
    rows: Indices | None
    size: int

    def variances(self) -> NDArray[np.float64]:
        """Return the variance it adds to each row, shape (n,)."""
        if self.rows is None:
            return np.square(self.values)
        summed = np.bincount(self.rows, np.square(self.values), self.size)
        return summed.astype(np.float64, copy=False)

    def per_row(self) -> NDArray[np.float64]:
        """Return one contribution per row, shape (n,).

        Signed where one value of the component stands behind the row; the root sum of
        squares where several readings of it do (a mean over readings).
        """
        if self.rows is None:
            return self.values
        counts = np.bincount(self.rows, minlength=self.size)
        signed = np.bincount(self.rows, weights=self.values, minlength=self.size)
        return np.where(counts > 1, np.sqrt(self.variances()), signed)

    def dof_per_row(self) -> NDArray[np.float64]:
        """Return the degrees of freedom behind each row, shape (n,)."""
        dof = np.asarray(self.component.dof, dtype=float)
        if dof.ndim and self.columns is not None:
            dof = dof[self.columns]
        if self.rows is None:
            return np.broadcast_to(dof, (self.size,))
        # several readings in a row, each estimated by itself: Welch-Satterthwaite among them
        total = self.variances()
        scale = np.where(total > 0, total, 1.0)
        share = np.square(self.values) / scale[self.rows]
        loss = np.bincount(self.rows, share**2 / dof, self.size)
        with np.errstate(divide="ignore"):
            return np.where(loss > 0, 1.0 / loss, np.inf)

    def standard_uncertainty_per_row(self) -> NDArray[np.float64]:
        """Return u of the component as it stands behind each row, shape (n,), own SI unit."""
        spread = np.asarray(self.component.distribution.standard_uncertainty, dtype=float)
        if spread.ndim and self.columns is not None:
            spread = spread[self.columns]
        if self.rows is None or spread.ndim == 0:
            return np.broadcast_to(spread, (self.size,))
        result = np.full(self.size, np.nan)
        result[self.rows] = spread
        return result

    def matrix(self) -> Any:
        """Return the sparse matrix (rows of the result, readings of the component)."""
        from scipy import sparse  # slow to load, and needed for few covariances only

        rows = np.arange(self.size) if self.rows is None else self.rows
        columns = np.zeros(rows.size, dtype=np.intp) if self.columns is None else self.columns
        return sparse.csr_array(
            (self.values, (rows, columns)), shape=(self.size, int(columns.max(initial=0)) + 1)
        )


def contributions(node: Node) -> list[Contribution]:
    """Return the contributions to every row of a node, in the order of the record."""
    count = rows_of(node)
    blocks: dict[Component, list[tuple[slice, BlockPart]]] = {}
    if node.active:
        sweep = Sweep(node)
        for rows in sweep.blocks():
            for component, disjoint in sweep.parts(rows).items():
                found = blocks.setdefault(component, [])
                found.extend((rows, part) for part in disjoint)
                if not all(np.isfinite(part.values).all() for part in disjoint):
                    raise PropagationError(why_not_finite(node, rows))
    return [_assembled(component, parts, count) for component, parts in blocks.items()]


def _assembled(
    component: Component, parts: list[tuple[slice, BlockPart]], count: int
) -> Contribution:
    starts = {rows.start for rows, part in parts if part.rows is None}
    once = len(starts) == len(parts)  # one part with one value per row in every block
    if once and sum(rows.stop - rows.start for rows, _ in parts) == count:
        values = _joined([part.values for _, part in parts])
        if component.scope == "shared":
            return Contribution(component, values, None, None, count)
        columns = _joined([_explicit(part.columns, part.values.size) for _, part in parts])
        return Contribution(component, values, columns, None, count)
    if component.scope == "shared":
        values = np.zeros(count)
        for rows, part in parts:
            values[rows] = part.values
        return Contribution(component, values, None, None, count)
    row_parts, column_parts = [], []
    for rows, part in parts:
        within = np.arange(rows.stop - rows.start) if part.rows is None else part.rows
        row_parts.append(within + rows.start)
        column_parts.append(_explicit(part.columns, part.values.size))
    return Contribution(
        component,
        _joined([part.values for _, part in parts]),
        _joined(column_parts),
        _joined(row_parts),
        count,
    )


def _joined(arrays: list[NDArray[Any]]) -> NDArray[Any]:
    return arrays[0] if len(arrays) == 1 else np.concatenate(arrays)


def _explicit(columns: slice | int | Indices | None, size: int) -> Indices:
    if isinstance(columns, slice):
        return np.arange(columns.start, columns.stop)
    if isinstance(columns, np.ndarray):
        return columns
    return np.full(size, 0 if columns is None else columns, dtype=np.intp)


def covariance(first: Node, second: Node) -> NDArray[np.float64]:
    """Return the covariance between the rows of two results, shape (n, m), coherent SI."""
    left = contributions(first)
    return _products(left, left if second is first else contributions(second), first, second)


def correlation(first: Node, second: Node) -> NDArray[np.float64]:
    """Return the correlation coefficients between the rows of two results, shape (n, m)."""
    left = contributions(first)
    right = left if second is first else contributions(second)
    # scaled before multiplying: products of tiny uncertainties would leave float64
    matrix = _products(_per_u(left, first), _per_u(right, second), first, second)
    return np.clip(matrix, -1.0, 1.0, out=matrix)


def _per_u(parts: list[Contribution], node: Node) -> list[Contribution]:
    u = np.atleast_1d(standard_uncertainty(node))
    certain = np.flatnonzero(u == 0)
    if certain.size:
        raise PropagationError(
            f"reading {int(certain[0])} has no uncertainty, so its correlation is not defined: "
            "leave it out, or use covariance()"
        )
    return [
        replace(part, values=part.values / (u if part.rows is None else u[part.rows]))
        for part in parts
    ]


def _products(
    first_parts: list[Contribution],
    second_parts: list[Contribution],
    first: Node,
    second: Node,
) -> NDArray[np.float64]:
    left = {part.component: part for part in first_parts}
    right = {part.component: part for part in second_parts}
    result = np.zeros((rows_of(first), rows_of(second)))
    for component, part in left.items():
        other = right.get(component)
        if other is None:
            continue
        if component.scope == "shared":
            result += np.outer(part.values, other.values)
            continue
        a, b = part.matrix(), other.matrix()
        width = max(a.shape[1], b.shape[1])
        a.resize((a.shape[0], width))
        b.resize((b.shape[0], width))
        product = (a @ b.T).tocoo()
        result[product.coords[0], product.coords[1]] += product.data
    return result
