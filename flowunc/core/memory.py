"""Memory for the values of the record: many arrays of middling size out of one large block.

Fresh arrays of some hundred kilobytes cost more in first touches of their pages than in the
arithmetic that fills them. NumPy asks the system for large pages from 4 MB on, so arrays below
that are cut from a block of 16 MB. A block is freed with the last array cut from it; the arrays
of one record live and die together, so little is kept that nobody uses.
"""

from __future__ import annotations

import threading

import numpy as np
from numpy.typing import NDArray

__all__ = ["empty"]

BLOCK = 1 << 21  # values of a block, 16 MB
SMALLEST, LARGEST = 1 << 13, 1 << 19  # values: below, malloc is cheap; above, pages are large
ALIGNED = 8  # values in a cache line


class _Block(threading.local):
    memory: NDArray[np.float64] | None = None
    used: int = 0


_block = _Block()


def empty(size: int) -> NDArray[np.float64]:
    """Return an uninitialised array of its own, shape (size,)."""
    if not SMALLEST <= size < LARGEST:
        return np.empty(size)
    start = _block.used
    if _block.memory is None or start + size > BLOCK:
        _block.memory, start = np.empty(BLOCK), 0
    _block.used = start + -(-size // ALIGNED) * ALIGNED
    if _block.used >= BLOCK - SMALLEST:
        memory, _block.memory = _block.memory, None  # full: nothing but its arrays holds it
        return memory[start : start + size]
    return _block.memory[start : start + size]
