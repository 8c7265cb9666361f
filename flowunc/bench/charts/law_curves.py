"""A law of the friction factor as a curve inside its range, with its own uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.charts.palette import BAND, INK, LINES
from flowunc.core.distributions import Trapezoidal
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import Ratio, ReynoldsNumber
from flowunc.pipe.laws import FrictionLaw

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["LawCurve", "check_laws", "draw_curves", "law_curve"]

Floats = NDArray[np.float64]

_POINTS = 300


class LawCurve(NamedTuple):
    """What is drawn of one law.

    Attributes
    ----------
    law : FrictionLaw
    reynolds, friction : ndarray, shape (m,)
        Empty where the law does not reach into the view.
    limit : ndarray, shape (m,)
        Relative uncertainty of the law itself: limits where it states limits, else k u.
    """

    law: FrictionLaw
    reynolds: Floats
    friction: Floats
    limit: Floats

    @property
    def label(self) -> str:
        """Name for a legend."""
        if not self.limit.size or self.limit.max() == 0:
            return self.law.title
        low, high = f"{100 * self.limit.min():.2g}", f"{100 * self.limit.max():.2g}"
        return f"{self.law.title} (±{low if low == high else f'{low} to {high}'} %)"


def check_laws(laws: Any, roughness: Ratio | None, function: str) -> tuple[FrictionLaw, ...]:
    """Return the laws, refused if they are none or lack the roughness that they need."""
    given = (laws,) if isinstance(laws, FrictionLaw) else laws
    if isinstance(given, str) or not isinstance(given, Sequence):
        raise DimensionError(
            f"{function}(laws={laws!r}): expected laws such as [laws.laminar, laws.blasius]"
        )
    for law in given:
        if not isinstance(law, FrictionLaw):
            raise DimensionError(
                f"{function}(laws=...): got {law!r}; expected a law of flowunc.laws, such as "
                "laws.blasius"
            )
        if law.roughness_range is not None and roughness is None:
            raise RangeError(
                f"{function}(laws=...): laws.{law.name} needs the relative roughness; state the "
                "roughness on the bench, or give relative_roughness=Ratio(0, '1') for a smooth wall"
            )
    return tuple(given)


def law_curve(
    law: FrictionLaw, roughness: Ratio | None, low: float, high: float, k: float
) -> LawCurve:
    """Evaluate a law between two Reynolds numbers, where it holds.

    Parameters
    ----------
    law : FrictionLaw
    roughness : Ratio, scalar, or None
        Its value counts, for a law that takes one.
    low, high : float
        Reynolds numbers of the view.
    k : float
        Coverage factor for a law that states no limits.

    Notes
    -----
    Where a law has two errors, one of them its distance from another law, their limits are added.
    """
    start, stop = max(low, law.reynolds_range[0]), min(high, law.reynolds_range[1])
    if start >= stop:
        return LawCurve(law, *(np.zeros(0) for _ in range(3)))
    grid = np.geomspace(start, stop, _POINTS)
    grid[[0, -1]] = start, stop  # rounding must not put an end outside the range
    takes = law.roughness_range is not None and roughness is not None
    wall = float(roughness._node.value) if takes and roughness is not None else 0.0
    wanted: Any = (wall,) if takes else ()
    grid = grid[np.asarray(law.covers(ReynoldsNumber(grid, "1"), *wanted))]
    if not grid.size:
        return LawCurve(law, *(np.zeros(0) for _ in range(3)))
    friction = np.asarray(law(ReynoldsNumber(grid, "1"), *wanted).value)
    limit = np.zeros(grid.size)
    for term in law.model_error(grid, np.full(grid.size, wall)):
        distribution = term.component.distribution
        if isinstance(distribution, Trapezoidal):  # a rectangular or triangular one as well
            size = np.asarray(distribution.half_width)
        else:
            size = k * np.asarray(distribution.standard_uncertainty)
        limit += np.abs(term.gain) * size
    return LawCurve(law, grid, friction, limit)


def draw_curves(ax: Axes, curves: Sequence[LawCurve]) -> tuple[list[Any], list[str]]:
    """Draw the curves that reach into the view; return the handles and labels of a legend."""
    handles: list[Any] = []
    labels = []
    several = sum(bool(curve.limit.any()) for curve in curves) > 1
    alpha = 0.35 if several else 0.6
    for place, curve in enumerate(curves):
        if not curve.reynolds.size:
            continue
        re, f = curve.reynolds, curve.friction
        style = LINES[place % len(LINES)]
        (line,) = ax.plot(re, f, color=INK, linewidth=1.2, linestyle=style, zorder=2.0)
        handle: Any = line
        if curve.limit.any():
            low, high = f * (1.0 - curve.limit), f * (1.0 + curve.limit)
            band = ax.fill_between(
                re, low, high, facecolor=BAND, edgecolor="none", alpha=alpha, zorder=1.0
            )
            if several:  # bands that overlap need their edges
                edge: Any = {"color": "0.45", "linewidth": 0.6, "linestyle": style, "zorder": 1.5}
                ax.plot(re, low, **edge)
                ax.plot(re, high, **edge)
            handle = (band, line)
        handles.append(handle)
        labels.append(curve.label)
    return handles, labels
