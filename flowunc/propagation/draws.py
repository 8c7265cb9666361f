"""Streams of random draws, addressable by component, reading and block of trials.

Every stream is a generator of its own, seeded from (seed, place of the component in the
record, reading, block). Therefore any part of a simulation can be drawn again by itself, in
any order and on any thread, with the same bits; and components keep their draws when a
reading is left out. Places are counted in the order of the record, not by random keys, so a
script run twice gives the same numbers [JCGM 101, 7.3 and C.2 ask for such generators].
"""

from __future__ import annotations

import operator
import secrets
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Pool
from flowunc.core.errors import RangeError
from flowunc.core.record import Input, Node

__all__ = ["BLOCK", "BlockDraws", "Places", "check_seed", "check_trials", "check_workers"]

MOST_TRIALS = 1_000_000_000  # beyond, a run takes hours: rather a slip of the keys
BLOCK = 32_768  # trials of one stream: 256 kB a row stays in cache, and seeding costs little


def check_seed(seed: Any) -> int:
    """Return a seed; None draws a fresh one, kept with the result so it can be repeated."""
    if seed is None:
        return secrets.randbits(64)
    try:
        value = operator.index(seed)
    except TypeError:
        value = -1
    if isinstance(seed, bool) or value < 0:
        raise RangeError(f"seed={seed!r}: expected a whole number, 0 or more")
    return value


def check_trials(trials: Any) -> int:
    """Return a number of trials, refused unless a whole number above 1."""
    if isinstance(trials, bool):
        raise RangeError(f"trials={trials!r}: expected a whole number, such as 200_000")
    if isinstance(trials, float) and trials.is_integer():
        trials = int(trials)  # 1e6 is how people write a million
    try:
        value = operator.index(trials)
    except TypeError:
        value = 0
    if value < 2:
        raise RangeError(f"trials={trials!r}: expected a whole number above 1, such as 200_000")
    if value > MOST_TRIALS:
        raise RangeError(
            f"trials={trials!r}: expected at most {MOST_TRIALS:,}; a million give u to three digits"
        )
    return value


def check_workers(workers: Any) -> int:
    """Return a number of threads, refused unless a whole number of 1 or more."""
    if isinstance(workers, bool) or not isinstance(workers, int) or workers < 1:
        raise RangeError(f"workers={workers!r}: expected a whole number, 1 or more")
    return workers


class Places:
    """The place of every component, and of every pool, in the order of the record."""

    def __init__(self, order: list[Node]) -> None:
        self.components: dict[Component, int] = {}
        self.pools: dict[str, int] = {}
        for node in order:
            if isinstance(node.operation, Input):
                for term in node.operation.terms:
                    self.components.setdefault(term.component, len(self.components))
                    pool = term.component.pool
                    if pool is not None:
                        self.pools.setdefault(pool.key, len(self.pools))


def _words(seed: int) -> list[int]:
    """Return a seed as `numpy.random.SeedSequence` lays it before a spawn key.

    Words of 32 bits, the lowest first, four at least: whole arrays of words pass its checks in a
    third of the time, with the same bits.
    """
    words = []
    while seed:
        words.append(seed & 0xFFFFFFFF)
        seed >>= 32
    return words + [0] * (4 - len(words))


class BlockDraws:
    """The draws of one block of trials, handed out piece after piece.

    Parameters
    ----------
    places : Places
    seed, block : int
    keep : bool
        Keep every reading's draws until `forget`, for records that use one reading twice.
    """

    def __init__(self, places: Places, seed: int, block: int, *, keep: bool) -> None:
        self._places = places
        self._block = block
        self._keep = keep
        self._entropy = _words(seed)
        self._streams: dict[tuple[int, int, int], np.random.Generator] = {}
        self._kept: dict[tuple[int, int, int], NDArray[np.float64]] = {}

    def forget(self) -> None:
        """Drop the kept draws: the next piece of the block begins."""
        self._kept.clear()

    def _stream(self, address: tuple[int, int, int]) -> np.random.Generator:
        stream = self._streams.get(address)
        if stream is None:
            words = np.array([*self._entropy, *address, self._block], dtype=np.uint32)
            stream = np.random.Generator(np.random.SFC64(np.random.SeedSequence(words)))
            self._streams[address] = stream
        return stream

    def shared(self, component: Component, count: int) -> NDArray[np.float64]:
        """Return the draws of a shared component, shape (count,), the same for all who ask."""
        return self._kept_draws(component, 0, count)

    def each(
        self, component: Component, readings: NDArray[np.intp], out: NDArray[np.float64]
    ) -> None:
        """Fill the draws of some readings of a component, shape (readings, count)."""
        if self._keep:
            for reading, row in zip(readings.tolist(), out, strict=True):
                row[:] = self._kept_draws(component, reading, row.size)
        elif component.distribution.size is not None or component.pool is not None:
            for reading, row in zip(readings.tolist(), out, strict=True):
                self._draw(component, reading, row)
        else:
            place = self._places.components[component]
            streams = (self._stream((0, place, reading)) for reading in readings.tolist())
            component.distribution.sample_rows(streams, out)

    def _kept_draws(self, component: Component, reading: int, count: int) -> NDArray[np.float64]:
        address = (0, self._places.components[component], reading)
        draws = self._kept.get(address)
        if draws is None:
            draws = np.empty(count)
            self._draw(component, reading, draws)
            self._kept[address] = draws
        return draws

    def _draw(self, component: Component, reading: int, out: NDArray[np.float64]) -> None:
        address = (0, self._places.components[component], reading)
        distribution: Any = component.distribution
        if distribution.size is not None:
            distribution = distribution.at(reading)
        distribution.sample(self._stream(address), out)
        pool = component.pool
        if pool is not None:
            out *= self._pool_factor(pool, reading, out.size)

    def _pool_factor(self, pool: Pool, reading: int, count: int) -> NDArray[np.float64]:
        """Return sqrt(dof / chi^2), common to all components of one sample."""
        address = (1, self._places.pools[pool.key], reading)
        factor = self._kept.get(address)
        if factor is None:
            dof = pool.dof if isinstance(pool.dof, float) else float(np.ravel(pool.dof)[reading])
            factor = np.sqrt(dof / self._stream(address).chisquare(dof, count))
            self._kept[address] = factor
        return factor
