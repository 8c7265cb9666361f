"""The terms of mean and variance that follow the first-order ones, summed over components.

With f_i, f_ij, f_ijj the derivatives of the result by independent errors of standard
uncertainties u_i, skewness g_i = mu_3/u^3 and kurtosis k_i = mu_4/u^4::

    mean     = y + 1/2 sum_i f_ii u_i^2
    variance = sum_i f_i^2 u_i^2
             + sum_{i != j} (1/2 f_ij^2 + f_i f_ijj) u_i^2 u_j^2
             + sum_i [(k_i - 1)/4 f_ii^2 + k_i/3 f_i f_iii] u_i^4 + sum_i g_i f_i f_ii u_i^3

These are all terms of the variance up to the fourth power of the errors. For normal errors
(k = 3, g = 0) the last line takes the form of the one before, which is that of
[JCGM 100, 5.1.2, note].
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.magnitude import LARGEST, SMALLEST, times_power_of_two
from flowunc.core.record import Node
from flowunc.propagation.central_moments import NORMAL_SHAPE, Shape, shape_of
from flowunc.propagation.curvature import Derivatives, JetSweep
from flowunc.propagation.directions import Direction, directions_of, pairs_of
from flowunc.propagation.linear import Sweep
from flowunc.propagation.pieces import Indices, add_to_rows, rows_of

__all__ = ["HigherTerms", "higher_terms"]

Values = NDArray[np.float64]

BLOCK = 1024  # output rows a sweep of jets: derivatives along some directions stay in cache
MOST_DIRECTIONS = 4096  # for one row over as many readings: a second
MOST_PRODUCTS = 1 << 26  # directions times (row, reading) pairs of one block: some ten seconds


class HigherTerms(NamedTuple):
    """First and further terms of every row in coherent SI, shape (n,).

    Attributes
    ----------
    u_first : ndarray
        Standard uncertainty of first order; not finite where there is none.
    shift : ndarray
        Second-order term of the mean.
    added : ndarray
        Terms of the variance beyond the first order, over 4**exponent; they may be negative.
    exponent : ndarray of int
        0 unless squares of the terms leave float64.
    """

    u_first: Values
    shift: Values
    added: Values
    exponent: NDArray[np.int32]


def higher_terms(node: Node, *, normal: bool = False) -> HigherTerms:
    """Return the further terms of every row of a node.

    Parameters
    ----------
    node : Node
    normal : bool
        Take every component as normal.

    Raises
    ------
    PropagationError
        A function without known derivatives; a distribution without known moments; rows that
        depend on too many readings each.
    """
    count = rows_of(node)
    u_first, shift, added = np.zeros((3, count))
    found = HigherTerms(u_first, shift, added, np.zeros(count, dtype=np.int32))
    if not node.active:
        return found
    sweep = Sweep(node)
    shapes = {
        component: NORMAL_SHAPE if normal else shape_of(component.distribution)
        for component in sweep.components
    }
    for rows in _blocks(sweep):
        u_first[rows] = sweep.standard_uncertainty(rows)
        block = _Block(node, rows, sweep, shapes)
        _fill_block(block, u_first[rows], shift[rows], added[rows], found.exponent[rows])
    return found


def _fill_block(
    block: _Block, u_first: Values, shift: Values, added: Values, exponent: NDArray[np.int32]
) -> None:
    """Write the terms of a block; rows whose squares leave float64 once more, scaled."""
    plain = np.zeros(u_first.size, dtype=np.int32)
    shift[:], added[:] = block.terms(plain)
    usual = (u_first > SMALLEST) & (u_first < LARGEST) & (np.abs(added) < LARGEST**2)
    if usual.all():
        return
    largest = block.largest()
    outside = ~usual & (largest > 0) & ~((largest > SMALLEST) & (largest < LARGEST))
    if outside.any():
        exponent[:] = np.where(outside, np.frexp(largest)[1], 0)
        scaled = block.terms(exponent)
        shift[outside] = times_power_of_two(scaled[0], exponent)[outside]
        added[outside] = scaled[1][outside]


def _blocks(sweep: Sweep) -> Iterator[slice]:
    for wide in sweep.blocks(written_out=True):
        for start in range(wide.start, wide.stop, BLOCK):
            yield slice(start, min(start + BLOCK, wide.stop))


class _Block:
    """A block of rows, with the directions along which their derivatives are needed."""

    def __init__(
        self, node: Node, rows: slice, sweep: Sweep, shapes: dict[Component, Shape]
    ) -> None:
        self._count = rows.stop - rows.start
        self._shapes = shapes
        self._directions: list[Direction] = []
        self._pairs = crowded = 0
        for component, parts in sweep.parts(rows).items():
            rows_of_it, readings = pairs_of(parts, self._count)
            own = directions_of(component, rows_of_it, readings)
            self._directions += own
            self._pairs += readings.size
            if len(own) > 1:
                crowded += readings.size
        count = len(self._directions)
        if count > MOST_DIRECTIONS or count * crowded > MOST_PRODUCTS:
            raise PropagationError(
                f"rows {rows.start} to {rows.stop - 1} depend on {crowded} readings with errors "
                f"of their own, several in a row, which asks for {count} directions of second "
                "derivatives, too many: take fewer rows at a time, state a mean with repeated(), "
                "or use .monte_carlo()"
            )
        self._jets = JetSweep(node, rows)

    def terms(self, exponent: NDArray[np.int32]) -> tuple[Values, Values]:
        """Return shift and added variance of each row of the result over 2**exponent."""
        shift, added = np.zeros((2, self._count))
        scaled = exponent.any()
        with np.errstate(all="ignore"):
            for chosen, by_component in self._jets.run(self._directions, self._pairs):
                for found in by_component:
                    part = _over(found, exponent[found.rows]) if scaled else found
                    _add(part, chosen, self._shapes[found.component], shift, added)
        return shift, added

    def largest(self) -> Values:
        """Return the largest magnitude of the terms of each row."""
        largest = np.zeros(self._count)
        with np.errstate(all="ignore"):
            for _, by_component in self._jets.run(self._directions, self._pairs):
                for found in by_component:
                    for part in (found.first[np.newaxis], found.second, found.third):
                        np.fmax.at(largest, found.rows, np.abs(part).max(axis=0, initial=0.0))
        return largest


def _over(found: Derivatives, exponent: NDArray[np.int32]) -> Derivatives:
    """Return the derivatives of the result over a power of two."""
    return found._replace(
        first=np.ldexp(found.first, -exponent),
        second=np.ldexp(found.second, -exponent),
        third=np.ldexp(found.third, -exponent),
    )


def _add(
    found: Derivatives,
    directions: Sequence[Direction],
    shape: Shape,
    shift: Values,
    added: Values,
) -> None:
    """Add the terms of one component i with all directions j."""
    terms = 0.5 * np.square(found.second) + found.first * found.third
    for k, direction in enumerate(directions):
        if direction.component != found.component:
            continue
        own = np.flatnonzero(direction.moves(found.columns))
        skewness, kurtosis = (_at(moment, found.columns[own]) for moment in shape)
        first, second, third = found.first[own], found.second[k, own], found.third[k, own]
        terms[k, own] = (
            (kurtosis - 1.0) / 4.0 * np.square(second)
            + kurtosis / 3.0 * first * third
            + skewness * first * second
        )
        add_to_rows(shift, found.rows[own], 0.5 * second)
    add_to_rows(added, found.rows, terms.sum(axis=0))


def _at(moment: float | Values, readings: Indices) -> float | Values:
    return moment[readings] if isinstance(moment, np.ndarray) else moment
