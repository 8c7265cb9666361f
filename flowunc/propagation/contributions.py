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
from flowunc.propagation.linear import BlockPart, Sweep, standard_uncertainty
from flowunc.propagation.missing_slope import why_not_finite
from flowunc.propagation.pieces import (
    Columns,
    Indices,
    Rows,
    add_to_rows,
    explicit,
    rows_of,
)

Values = NDArray[np.float64]

__all__ = ["Contribution", "contributions", "correlation", "covariance"]


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one component contributes to a result, in coherent SI units of the result.

    Attributes
    ----------
    component : Component
    values : ndarray, shape (k,)
        Sensitivity times standard uncertainty, signed.
    columns : slice, int, ndarray or None
        Reading of the component behind each value; None for a shared component.
    rows : slice, ndarray or None
        Row of the result of each value; None when value ``i`` belongs to row ``i``.
    size : int
        Number of rows of the result.
    """

    component: Component
    values: Values
    columns: Columns | None
    rows: Rows
    size: int

    def row_indices(self) -> Indices:
        """Return the row of each value, shape (k,)."""
        return explicit(self.rows, self.size)

    def column_indices(self) -> Indices:
        """Return the reading of each value, shape (k,); 0 for a shared component."""
        return explicit(0 if self.columns is None else self.columns, self.values.size)

    def variances(self) -> Values:
        """Return the variance it adds to each row, shape (n,)."""
        total = np.zeros(self.size)
        add_to_rows(total, self.rows, np.square(self.values))
        return total

    def per_row(self) -> Values:
        """Return one contribution per row, shape (n,).

        Signed where one value of the component stands behind the row; the root sum of
        squares where several readings of it do (a mean over readings).
        """
        if self.rows is None:
            return self.values
        signed = np.zeros(self.size)
        add_to_rows(signed, self.rows, self.values)
        if isinstance(self.rows, slice):
            return signed
        counts = np.bincount(self.rows, minlength=self.size)
        return np.where(counts > 1, np.sqrt(self.variances()), signed)

    def dof_per_row(self) -> Values:
        """Return the degrees of freedom behind each row, shape (n,)."""
        dof = np.asarray(self.component.dof, dtype=float)
        if dof.ndim:
            dof = dof[self.column_indices()]
        if self.rows is None:
            return np.broadcast_to(dof, (self.size,))
        # several readings in a row, each estimated by itself: Welch-Satterthwaite among them
        total = self.variances()
        scale = np.where(total > 0, total, 1.0)
        loss = np.zeros(self.size)
        add_to_rows(loss, self.rows, np.square(np.square(self.values) / scale[self.rows]) / dof)
        with np.errstate(divide="ignore"):
            return np.where(loss > 0, 1.0 / loss, np.inf)

    def standard_uncertainty_per_row(self) -> Values:
        """Return u of the component as it stands behind each row, shape (n,), own SI unit."""
        spread = np.asarray(self.component.distribution.standard_uncertainty, dtype=float)
        if spread.ndim:
            spread = spread[self.column_indices()]
        if self.rows is None or spread.ndim == 0:
            return np.broadcast_to(spread, (self.size,))
        result = np.full(self.size, np.nan)
        result[self.rows] = spread
        return result

    def matrix(self) -> Any:
        """Return the sparse matrix (rows of the result, readings of the component)."""
        from scipy import sparse  # slow to load, and needed for few covariances only

        rows, columns = self.row_indices(), self.column_indices()
        return sparse.csr_array(
            (self.values, (rows, columns)), shape=(self.size, int(columns.max(initial=0)) + 1)
        )


def contributions(node: Node) -> list[Contribution]:
    """Return the contributions to every row of a node, in the order of the record."""
    if not node.active:
        return []
    count = rows_of(node)
    sweep = Sweep(node)
    # one block of memory for all: many small ones cost more in first touches than in arithmetic
    memory = np.empty((len(sweep.components), count))
    gathered = {
        component: _Gathering(component, own)
        for component, own in zip(sweep.components, memory, strict=True)
    }
    for rows in sweep.blocks(written_out=True):
        for component, disjoint in sweep.parts(rows).items():
            for part in disjoint:
                if not np.isfinite(part.values).all():
                    raise PropagationError(why_not_finite(node, rows))
                gathered[component].add(rows, part)
    return [found.result() for found in gathered.values() if found.used]


class _Gathering:
    """Gathers one component's parts: a run of rows grows in place, anything else is listed."""

    def __init__(self, component: Component, memory: Values) -> None:
        self._component = component
        self._count = memory.size
        self._memory = memory
        self._buffer: Values | None = None
        self._rows = slice(0, 0)
        self._columns: Columns | None = None
        self._listed: list[tuple[Rows, Columns | None, Values]] = []

    @property
    def used(self) -> bool:
        return self._buffer is not None or bool(self._listed)

    def add(self, block: slice, part: BlockPart) -> None:
        rows = part.rows
        if rows is None:
            rows = block
        elif isinstance(rows, slice):
            rows = slice(rows.start + block.start, rows.stop + block.start)
        else:
            rows = rows + block.start
        if not self._listed and isinstance(rows, slice) and self._continues(rows, part.columns):
            self._grow(rows, part)
            return
        if self._buffer is not None:
            self._listed.append((self._rows, self._columns, self._buffer[self._rows]))
            self._buffer = None
        self._listed.append((rows, part.columns, part.values))

    def _continues(self, rows: slice, columns: Columns | None) -> bool:
        if isinstance(columns, np.ndarray):
            return False
        if self._buffer is None:
            return True
        if rows.start != self._rows.stop:
            return False
        if isinstance(columns, slice) and isinstance(self._columns, slice):
            return bool(columns.start == self._columns.stop)
        return not isinstance(columns, slice) and columns == self._columns

    def _grow(self, rows: slice, part: BlockPart) -> None:
        if self._buffer is None:
            self._buffer = self._memory
            self._rows, self._columns = rows, part.columns
        else:
            self._rows = slice(self._rows.start, rows.stop)
            if isinstance(part.columns, slice) and isinstance(self._columns, slice):
                self._columns = slice(self._columns.start, part.columns.stop)
        self._buffer[rows] = part.values

    def result(self) -> Contribution:
        component, count = self._component, self._count
        if self._buffer is not None:
            whole = self._rows == slice(0, count)
            if component.scope == "shared" and not whole:
                values = np.zeros(count)
                values[self._rows] = self._buffer[self._rows]
                return Contribution(component, values, None, None, count)
            rows = None if whole else self._rows
            return Contribution(component, self._buffer[self._rows], self._columns, rows, count)
        sizes = [values.size for _, _, values in self._listed]
        values = np.concatenate([values for _, _, values in self._listed])
        if component.scope == "shared":
            total = np.zeros(count)
            for place, _, part in self._listed:
                add_to_rows(total, place, part)
            return Contribution(component, total, None, None, count)
        return Contribution(
            component,
            values,
            np.concatenate(
                [explicit(c, n) for (_, c, _), n in zip(self._listed, sizes, strict=True)]
            ),
            np.concatenate(
                [explicit(r, n) for (r, _, _), n in zip(self._listed, sizes, strict=True)]
            ),
            count,
        )


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
        result[product.row, product.col] += product.data
    return result
