"""Memory for values: many arrays of the record out of one block, and scratch used again.

Fresh arrays of some hundred kilobytes cost more in first touches of their pages than in the
arithmetic that fills them. NumPy asks the system for large pages from 4 MB on, so arrays below
that are cut from a block of 16 MB. The arrays of one record live and die together; with the last
array cut from it a block is free, and is used again by the next record or given back.

A simulation computes the same steps for block after block of trials. While it does, in `reuse` of
a `Pool`, its `scratch` arrays are those that were handed back with `release` before: their pages
are there already, and threads do not wait for each other at the system's table of pages.
"""

from __future__ import annotations

import math
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray

__all__ = ["Pool", "empty", "release", "reuse", "scratch", "scratch_like"]

BLOCK = 1 << 21  # values of a block, 16 MB
SMALLEST, LARGEST = 1 << 13, 1 << 19  # values: below, malloc is cheap; above, pages are large
ALIGNED = 8  # values in a cache line
KEPT = 2  # blocks that a thread keeps to use again, 32 MB


def _references(blocks: list[NDArray[np.float64]]) -> list[int]:
    """Count the references to each block: those of every array cut from it, and our own."""
    return [sys.getrefcount(block) for block in blocks]


# Of a block from which no array is cut any more. Measured, for interpreters differ in what the
# list, the loop and the call count for: a number too high would hand out memory still in use.
OURS = _references([np.empty(0)])[0]


class _Blocks(threading.local):
    """Where a thread cuts its next array."""

    def __init__(self) -> None:
        self.kept: list[NDArray[np.float64]] = []
        self.memory = np.empty(0)
        self.used = 0

    def next(self) -> None:
        """Go on in a block whose arrays are all gone, its pages still there, or in a new one."""
        self.memory, self.used = np.empty(0), 0
        for block, references in zip(self.kept, _references(self.kept), strict=True):
            if references <= OURS:
                self.memory = block
                return
        self.memory = np.empty(BLOCK)
        if len(self.kept) < KEPT:
            self.kept.append(self.memory)


_blocks = _Blocks()


def empty(size: int) -> NDArray[np.float64]:
    """Return an uninitialised array of its own, shape (size,)."""
    if not SMALLEST <= size < LARGEST:
        return np.empty(size)
    if _blocks.used + size > _blocks.memory.size:
        _blocks.next()
    start = _blocks.used
    _blocks.used += -(-size // ALIGNED) * ALIGNED
    return _blocks.memory[start : start + size]


class Pool:
    """Arrays of one thread that wait to be used again, by their number of values."""

    def __init__(self) -> None:
        self.waiting: dict[int, list[NDArray[np.float64]]] = {}


class _Current(threading.local):
    pool: Pool | None = None


_current = _Current()


@contextmanager
def reuse(pool: Pool) -> Iterator[None]:
    """Take scratch arrays of this thread from a pool, and put them back there."""
    before, _current.pool = _current.pool, pool
    try:
        yield
    finally:
        _current.pool = before


def scratch(shape: tuple[int, ...]) -> NDArray[np.float64]:
    """Return an uninitialised array to work in, which is worth handing back with `release`."""
    if _current.pool is not None:
        waiting = _current.pool.waiting.get(math.prod(shape))
        if waiting:
            return waiting.pop().reshape(shape)
    return np.empty(shape)


def scratch_like(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return scratch of the shape of an array, and of its class: jets carry derivatives."""
    return scratch(array.shape) if type(array) is np.ndarray else np.empty_like(array)


def release(*arrays: NDArray[np.float64]) -> None:
    """Hand back scratch arrays that nobody reads any more."""
    if _current.pool is None:
        return
    for array in arrays:
        if type(array) is np.ndarray:
            _current.pool.waiting.setdefault(array.size, []).append(array)
