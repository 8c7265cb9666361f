"""The door from a quantity to the propagation engines.

The layers import upwards only: `flowunc.propagation` builds on this package. The methods of
a quantity (`.u`, `.budget`, `.monte_carlo`) reach the engines through here, at the moment
they are called and not while modules load. It is the one such door, and a test says so.
The top of the package loads the layers, each when it is first used; `load_layers` asks it to.
"""

from __future__ import annotations

import importlib
import sys
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["Drawn", "load_layers", "propagation"]

Numbers = float | NDArray[np.float64]
_loaded: dict[str, Any] = {}  # whole modules only: `sys.modules` also holds those half made


class Drawn(Protocol):
    """What a quantity promises of its draws; `flowunc.propagation` makes them."""

    @property
    def mean(self) -> Numbers:
        """Mean of the draws, shaped as the value."""

    @property
    def u(self) -> Numbers:
        """Standard deviation of the draws, shaped as the value."""

    @property
    def trials(self) -> int:
        """Number of draws."""

    @property
    def seed(self) -> int:
        """Seed that repeats them."""

    def interval(self, level: float = 0.95, kind: str = "shortest") -> tuple[Numbers, Numbers]:
        """Coverage interval (low, high)."""

    def samples(self) -> NDArray[np.float64]:
        """All draws, shape (trials,) or (trials, n)."""


def propagation(module: str) -> Any:
    """Return a module of `flowunc.propagation`, loaded on first use."""
    if module not in _loaded:
        package: Any = sys.modules["flowunc"]
        with package._loading:  # as for public names: one thread loads at a time
            _loaded[module] = importlib.import_module(f"flowunc.propagation.{module}")
    return _loaded[module]


def load_layers() -> None:
    """Have all of flowunc loaded.

    A pickle or a document may name what any layer holds. Whoever reads one asks for this first,
    so that the answer never depends on what the program happened to use before.
    """
    package: Any = sys.modules["flowunc"]
    package._load_layers()
