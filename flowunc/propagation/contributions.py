"""Contributions of every component to every reading of a result, and covariances from them.

A `Contribution` is the sensitivity times the standard uncertainty, signed, so that squares
add up to the variance [JCGM 100, 5.1.3] and products to covariances [JCGM 100, F.1.2.3].
Squares may leave float64 where contributions do not: `variances_of` sees to it for all that asks
for shares of a variance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.magnitude import LARGEST, SMALLEST, times_power_of_two
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

__all__ = [
    "Contribution",
    "check_table",
    "contributions",
    "correlation",
    "covariance",
    "near_one",
    "variances_of",
]

MOST_ENTRIES = 1 << 28  # of a table of covariances: 2 GiB


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
        """Return the variance it adds to each row, shape (n,); infinite where it is too large."""
        with np.errstate(over="ignore"):
            return self._squares()

    def _squares(self) -> Values:
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
        if not (counts > 1).any():
            return signed
        variances = self.variances()
        if _usual(variances[counts > 1]):
            return np.where(counts > 1, np.sqrt(variances), signed)
        (part,), exponents = near_one([self], self.size)
        roots = times_power_of_two(np.sqrt(part.variances()), exponents)
        return np.where(counts > 1, roots, signed)

    def dof_per_row(self) -> Values:
        """Return the degrees of freedom behind each row, shape (n,)."""
        dof = np.asarray(self.component.dof, dtype=float)
        if dof.ndim:
            dof = dof[self.column_indices()]
        if self.rows is None:
            return np.broadcast_to(dof, (self.size,))
        # several readings in a row, each estimated by itself: Welch-Satterthwaite among them
        with np.errstate(over="ignore", divide="ignore"):
            square = np.square(self.values)
            if not _usual(square):
                (part,), _ = near_one([self], self.size)
                square = np.square(part.values)
            total, loss = np.zeros((2, self.size))
            add_to_rows(total, self.rows, square)
            scale = np.where(total > 0, total, 1.0)
            add_to_rows(loss, self.rows, np.square(square / scale[self.rows]) / dof)
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


def _usual(squares: Values) -> bool:
    """Tell whether squares and their sums stay within float64, with all their digits."""
    return bool(squares.min() > SMALLEST**2 and squares.max() < LARGEST**2)


def near_one(
    parts: Sequence[Contribution], count: int
) -> tuple[list[Contribution], NDArray[np.int32]]:
    """Bring the largest contribution to each row next to 1, by a power of two.

    Returns
    -------
    parts : list of Contribution
    exponents : ndarray of int, shape (n,)
        Of the power of two that makes them what they were.
    """
    largest = np.zeros(count)
    for part in parts:
        np.maximum.at(largest, explicit(part.rows, part.values.size), np.abs(part.values))
    exponents = np.frexp(largest)[1]
    return [
        replace(
            part,
            values=np.ldexp(
                part.values, -(exponents if part.rows is None else exponents[part.rows])
            ),
        )
        for part in parts
    ], exponents


def variances_of(parts: Sequence[Contribution], count: int) -> tuple[list[Values], Values]:
    """Return the variance that each component adds to each row, and their sum, for shares.

    They are in coherent SI where squares stay within float64, else each row has a unit of its own.
    """
    total = np.zeros(count)
    with np.errstate(over="ignore"):
        variances = [part._squares() for part in parts]
        for variance in variances:
            total += variance
    if parts and not _usual(total):
        variances = [part.variances() for part in near_one(parts, count)[0]]
        total = np.sum(variances, axis=0)
    return variances, total


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


def check_table(rows: int, columns: int, doing: str, instead: str) -> None:
    """Refuse a table with a number for every pair of readings that memory cannot hold."""
    if rows * columns > MOST_ENTRIES:
        raise PropagationError(
            f"{doing} of {rows} by {columns} readings is a table of {rows * columns:.3g} numbers, "
            f"more than {MOST_ENTRIES}, which are 2 GiB: {instead}"
        )


def _check_table(first: Node, second: Node, doing: str) -> None:
    check_table(
        rows_of(first),
        rows_of(second),
        doing,
        "take fewer readings at a time, such as x[:1000]; u alone needs no table, and a sum, a "
        "mean or a difference of readings knows their correlation by itself",
    )


def covariance(first: Node, second: Node) -> NDArray[np.float64]:
    """Return the covariance between the rows of two results, shape (n, m), coherent SI."""
    _check_table(first, second, "the covariance")
    left = contributions(first)
    right = left if second is first else contributions(second)
    matrix = _products(left, right, first, second)
    with np.errstate(over="ignore", invalid="ignore"):
        total = matrix.sum()  # tells in one pass that all are finite
    if not np.isfinite(total) and not np.isfinite(matrix).all():
        raise PropagationError(
            "a covariance leaves the range of numbers, up to 1.8e308 in coherent SI, though the "
            "standard uncertainties do not: use their correlation() and u"
        )
    return matrix


def correlation(first: Node, second: Node) -> NDArray[np.float64]:
    """Return the correlation coefficients between the rows of two results, shape (n, m)."""
    _check_table(first, second, "the correlation")
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
            with np.errstate(over="ignore", invalid="ignore"):
                result += np.outer(part.values, other.values)
            continue
        a, b = part.matrix(), other.matrix()
        width = max(a.shape[1], b.shape[1])
        a.resize((a.shape[0], width))
        b.resize((b.shape[0], width))
        product = (a @ b.T).tocoo()
        result[product.row, product.col] += product.data
    return result
