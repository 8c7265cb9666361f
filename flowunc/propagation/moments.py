"""Mean and sum of squared deviations of draws, block by block, merged without loss.

Squares leave float64 below 1e-162 and above 1e154, long before the draws do: there a row counts
its deviations in a power of two of its own, which changes no digit of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flowunc.core import memory
from flowunc.core.magnitude import LARGEST, SMALLEST, exponent_of, times_power_of_two

__all__ = ["Moments"]

Values = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass
class Moments:
    """Count, mean and sum of squared deviations of every row.

    Attributes
    ----------
    count : int
    mean : ndarray, shape (rows,)
    squares : ndarray, shape (rows,)
        Sums of squared deviations, these counted in units of ``2**exponents``.
    exponents : ndarray of int, shape (rows,)
        0 for rows of ordinary size.
    not_finite : ndarray of int, shape (rows,)
        Draws without a finite value.
    """

    count: int
    mean: Values
    squares: Values
    exponents: NDArray[np.int64]
    not_finite: NDArray[np.int64]

    @classmethod
    def empty(cls, rows: int, count: int) -> Moments:
        """Return a frame to be filled group by group."""
        whole = np.zeros(rows, dtype=np.int64)
        return cls(count, np.zeros(rows), np.zeros(rows), whole, whole.copy())

    def fill(self, positions: Rows, values: Values) -> None:
        """Take in all draws of some rows; ``values`` is used as scratch space."""
        with np.errstate(all="ignore"):
            # pairwise sums along each row: the bits do not depend on which rows share a group
            mean = _mean(values)
            for row in np.flatnonzero(~np.isfinite(mean)).tolist():
                self.not_finite[positions[row]] = np.count_nonzero(~np.isfinite(values[row]))
                if not self.not_finite[positions[row]]:  # their sum alone is beyond float64
                    mean[row] = _mean(values[row : row + 1] / values.shape[1])[0] * values.shape[1]
            values -= mean[:, None]
            scratch = memory.scratch_like(values)
            squares = np.add.reduce(np.multiply(values, values, out=scratch), axis=1)
            memory.release(scratch)
            self.mean[positions] = mean
            usual = (squares > SMALLEST**2) & (squares < LARGEST**2)
            for row in np.flatnonzero(~usual).tolist():
                if not self.not_finite[positions[row]]:
                    exponent = exponent_of(values[row])
                    self.exponents[positions[row]] = exponent
                    scaled = times_power_of_two(values[row], -exponent)
                    squares[row] = np.add.reduce(scaled * scaled)
            self.squares[positions] = squares

    def fill_certain(self, positions: Rows, value: Values) -> None:
        """Take in rows without uncertainty: their mean is the value to the last bit."""
        self.mean[positions] = value
        self.squares[positions] = 0.0

    def merge(self, other: Moments) -> Moments:
        """Return the moments of both sets together (pairwise updating)."""
        count = self.count + other.count
        with np.errstate(all="ignore"):
            step = other.mean - self.mean
            mean = self.mean + step * (other.count / count)
            exponents = np.maximum(self.exponents, other.exponents)
            exponents = np.where(self.squares == 0.0, other.exponents, exponents)
            exponents = np.where(other.squares == 0.0, self.exponents, exponents)
            constant = (self.squares == 0.0) & (other.squares == 0.0)  # blocks of one trial
            usual = (np.abs(step) > SMALLEST) & (np.abs(step) < LARGEST)
            exponents = np.where(constant & ~usual, np.frexp(step)[1], exponents)
            squares = self.squares_in(exponents) + other.squares_in(exponents)
            between = times_power_of_two(step, -exponents)
            squares += between**2 * (self.count * other.count / count)
        return Moments(count, mean, squares, exponents, self.not_finite + other.not_finite)

    def of(self, rows: slice) -> Moments:
        """Return the moments of some of the rows."""
        return Moments(
            self.count,
            self.mean[rows],
            self.squares[rows],
            self.exponents[rows],
            self.not_finite[rows],
        )

    def squares_in(self, exponents: NDArray[np.int64]) -> Values:
        """Return the sums of squares of deviations counted in ``2**exponents``."""
        return times_power_of_two(self.squares, 2 * (self.exponents - exponents))

    def deviation(self, *, missing: int = 1) -> Values:
        """Return the standard deviation of every row, from the count less ``missing``."""
        with np.errstate(all="ignore"):
            return times_power_of_two(
                np.sqrt(self.squares / (self.count - missing)), self.exponents
            )


def _mean(values: Values) -> Values:
    mean: Values = np.add.reduce(values, axis=1) / values.shape[1]
    return mean
