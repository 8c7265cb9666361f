"""Ticks and limits of logarithmic axes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis

__all__ = ["log_limits", "log_scale", "number"]

_LARGE, _SMALL = 1e6, 1e-4
# ticks within a decade, for axes of up to so many decades
_STEPS = (
    (0.35, None),
    (0.8, (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)),
    (1.4, (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)),
    (2.6, (1.0, 2.0, 5.0)),
    (math.inf, (1.0,)),
)


def number(value: float, position: int | None = None) -> str:
    r"""Write a tick in full, 20 000, or as a power of ten where that is shorter.

    >>> number(20000.0), number(0.025), number(2e7)
    ('20 000', '0.025', '$2\\times10^{7}$')
    """
    if value != 0 and not _SMALL <= abs(value) < _LARGE:
        exponent = math.floor(math.log10(abs(value)) + 1e-9)
        mantissa = f"{value / 10.0**exponent:.6g}"
        before = "" if mantissa == "1" else f"{mantissa}\\times"
        return f"${before}10^{{{exponent}}}$"
    digits = f"{value:.9g}"
    return f"{value:,.0f}".replace(",", " ") if abs(value) >= 1e4 and "." not in digits else digits


def log_limits(*values: Any, margin: float) -> tuple[float, float]:
    """Return limits around all finite values above 0, wider by a margin in decades."""
    found: NDArray[np.float64] = np.concatenate([np.ravel(part) for part in values])
    found = found[np.isfinite(found) & (found > 0)]
    if not found.size:
        return 0.1, 10.0
    factor = 10.0**margin
    return float(found.min() / factor), float(found.max() * factor)


def log_scale(ax: Axes, which: Literal["x", "y"], low: float, high: float) -> None:
    """Make an axis logarithmic from low to high, with ticks that are read without a power."""
    from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullFormatter

    axis: Axis
    if which == "x":
        axis = ax.xaxis
        ax.set_xscale("log", nonpositive="clip")
        ax.set_xlim(low, high)
    else:
        axis = ax.yaxis
        ax.set_yscale("log", nonpositive="clip")
        ax.set_ylim(low, high)
    steps = next(steps for most, steps in _STEPS if math.log10(high / low) <= most)
    if steps is None:
        axis.set_major_locator(MaxNLocator(6))
    else:
        axis.set_major_locator(LogLocator(subs=steps, numticks=20))
    axis.set_major_formatter(FuncFormatter(number))
    axis.set_minor_formatter(NullFormatter())
