"""Coordinates of scrambled Sobol points, one dimension at a time, some trials at a time.

Dimension ``k`` depends on the seed, the scrambling and ``k`` alone, never on how many
dimensions or trials are asked for with it. `scipy.stats.qmc` gives the direction numbers of
the sequence [Joe 2008]; the scrambling is our own, because scipy draws one for all dimensions
together, so that it changes with their number. Each dimension has its own random linear
scrambling of the digits and digital shift [Matousek 1998], which keep the evenness of the
points and make every coordinate uniform.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["MOST_DIMENSIONS", "MOST_POINTS", "Block", "SobolPoints"]

Values = NDArray[np.float64]
Words = NDArray[np.uint64]

MOST_DIMENSIONS = 21_201  # with direction numbers in scipy
SOURCE_BITS = 30  # of the direction numbers
MOST_POINTS = 1 << SOURCE_BITS
BITS = 52  # of a coordinate: the fraction of a double
ONE = np.uint64(0x3FF << BITS)  # sign and exponent of the doubles from 1 to 2
FRACTION = np.uint64((1 << BITS) - 1)
CENTRE = 1.0 - 2.0**-53  # from 1 <= x < 2 to the middle of its step: never 0, never 1
FEWEST_DIMENSIONS = 32  # looked up at once
STREAM = 2  # apart from those of random draws, which start with 0 and 1


class Block(NamedTuple):
    """Some trials: points ``start`` to ``start + size`` of some scramblings.

    ``size`` is a power of two and divides ``start``.
    """

    scramblings: slice
    start: int
    size: int
    trials: slice  # where they stand among all trials

    @property
    def length(self) -> int:
        """Number of trials."""
        return int(self.trials.stop - self.trials.start)


class SobolPoints:
    """Several independent scramblings of the first points of the sequence.

    Parameters
    ----------
    seed : int
    points : int
        Of one scrambling, a power of two.
    scramblings : int
    """

    def __init__(self, seed: int, points: int, scramblings: int) -> None:
        self.seed = seed
        self.points = points
        self.scramblings = scramblings
        self._scrambled: dict[int, tuple[Words, Words]] = {}

    @property
    def trials(self) -> int:
        """Points of all scramblings together."""
        return self.points * self.scramblings

    def blocks(self, most: int) -> Iterator[Block]:
        """Divide all trials into blocks of at most ``most``, a power of two."""
        size = min(self.points, most)
        together = most // size
        for first in range(0, self.scramblings, together):
            last = min(first + together, self.scramblings)
            for start in range(0, self.points, size):
                begin = first * self.points + start
                trials = slice(begin, begin + (last - first) * size)
                yield Block(slice(first, last), start, size, trials)

    def coordinates(self, dimension: int, block: Block) -> Values:
        """Return one coordinate of the trials of a block, above 0 and below 1."""
        origins, columns = self._scrambling(dimension)
        origin, columns = origins[block.scramblings], columns[block.scramblings]
        bits = (block.size - 1).bit_length()
        for bit in range(bits, columns.shape[1]):
            if block.start >> bit & 1:
                origin = origin ^ columns[:, bit]
        # two short tables and one pass over the block
        low = _sums(columns[:, : bits // 2])
        high = _sums(columns[:, bits // 2 : bits]) ^ origin[:, None]
        words = high[:, :, None] ^ low[:, None, :]
        # the random digits are the fraction of a double from 1 to 2: no conversion, no rounding
        values = words.reshape(-1).view(np.float64)
        values -= CENTRE
        return values

    def _scrambling(self, dimension: int) -> tuple[Words, Words]:
        """Return the first points, shape (scramblings,), and columns (scramblings, bits)."""
        found = self._scrambled.get(dimension)
        if found is None:
            found = self._scrambled[dimension] = self._drawn(dimension)
        return found

    def _drawn(self, dimension: int) -> tuple[Words, Words]:
        stream = np.random.SFC64(np.random.SeedSequence(self.seed, spawn_key=(STREAM, dimension)))
        raw: Any = stream.random_raw(self.scramblings * (1 + SOURCE_BITS))
        drawn: Words = raw.reshape(self.scramblings, 1 + SOURCE_BITS)
        origins = drawn[:, 0] & FRACTION | ONE
        # lower triangle: column c of the matrix is 1 in digit c and random in all later ones
        places = np.uint64(1) << (np.uint64(BITS - 1) - np.arange(SOURCE_BITS, dtype=np.uint64))
        matrix = drawn[:, 1:] & (places - np.uint64(1)) | places
        power = (self.points - 1).bit_length()
        numbers = _direction_numbers(_rounded_up(dimension + 1), power)[dimension]
        shifts = np.arange(SOURCE_BITS - 1, -1, -1, dtype=np.uint64)
        digits = numbers[:, None] >> shifts & np.uint64(1)
        return origins, np.bitwise_xor.reduce(matrix[:, None, :] * digits, axis=2)


def _sums(columns: Words) -> Words:
    """Return the sums, digit by digit, of the columns that belong to the bits of 0, 1, 2, ..."""
    sums: Words = np.bitwise_xor.reduce(columns[:, None, :] * _bits_of(columns.shape[1]), axis=2)
    return sums


@lru_cache(maxsize=64)
def _bits_of(count: int) -> Words:
    """Return the bits of all numbers of ``count`` bits, lowest first, shape (2**count, count)."""
    numbers = np.arange(1 << count, dtype=np.uint64)
    bits: Words = numbers[:, None] >> np.arange(count, dtype=np.uint64) & np.uint64(1)
    bits.setflags(write=False)
    return bits


def _rounded_up(dimensions: int) -> int:
    return min(MOST_DIMENSIONS, max(FEWEST_DIMENSIONS, 1 << (dimensions - 1).bit_length()))


@lru_cache(maxsize=16)
def _direction_numbers(dimensions: int, power: int) -> Words:
    """Return the first direction numbers, shape (dimensions, power), of 30 bits.

    The sequence of scipy starts at 0 and runs in Gray code: point ``2**j`` is the sum of the
    direction numbers ``j`` and ``j - 1``.
    """
    from scipy.stats import qmc

    engine = qmc.Sobol(dimensions, scramble=False, bits=SOURCE_BITS)
    numbers = np.zeros((dimensions, power), dtype=np.uint64)
    for bit in range(power):
        engine.fast_forward((1 << bit) - engine.num_generated)
        numbers[:, bit] = np.ldexp(engine.random(1)[0], SOURCE_BITS)
        if bit:
            numbers[:, bit] ^= numbers[:, bit - 1]
    numbers.setflags(write=False)
    return numbers
