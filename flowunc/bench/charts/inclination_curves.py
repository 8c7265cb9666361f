"""U(f)/f of planned flows over the inclination of the board, as far as each fits on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.charts.canvas import TEXT_SIZE, label_axes, legend_above, plain
from flowunc.bench.charts.palette import INK, marks
from flowunc.bench.charts.scales import log_limits, log_scale
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.inclination import best_in, flattest_that_fits
from flowunc.core.kinds import VolumeFlowRate

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["InclinationCurve", "draw_inclinations", "inclination_curve"]

Floats = NDArray[np.float64]

_FLATTEST = 2.0  # deg; flatter no board is set to
_POINTS = 90
_INSIDE = 1.0 + 1e-9  # the flattest inclination is stepped inside by so much, against rounding
_TICKS = (2, 3, 5, 7, 10, 15, 20, 30, 45, 60, 90)
_FUNCTION = "plan_chart"


class InclinationCurve(NamedTuple):
    """U(f)/f of one flow over the inclination.

    Attributes
    ----------
    label : str
        Flow and meter.
    inclination : ndarray, shape (m,)
        In deg, from the flattest at which the columns fit the board to 90.
    expanded : ndarray, shape (m,)
        U(f)/f as a fraction.
    best : tuple of float
        Best inclination and U(f)/f there.
    ends_on_board : bool
        Whether the curve begins where the columns just fit, not where the view does.
    """

    label: str
    inclination: Floats
    expanded: Floats
    best: tuple[float, float]
    ends_on_board: bool


def inclination_curve(
    conditions: Conditions, flow: VolumeFlowRate, meters: tuple[str, ...], repeats: int
) -> InclinationCurve:
    """Follow one flow on the best of some meters.

    Parameters
    ----------
    conditions : Conditions
    flow : VolumeFlowRate, scalar
    meters : tuple of str
    repeats : int
    """
    found = best_in(conditions, _FUNCTION, flow, meters, repeats)
    value = float(np.ravel(flow._node.value)[0])
    flattest = flattest_that_fits(conditions, found.meter, value)
    start = min(max(flattest * _INSIDE, _FLATTEST), 90.0)
    inclination = np.geomspace(start, 90.0, _POINTS)
    inclination[[0, -1]] = start, 90.0
    readings = conditions.readings(found.meter, value, inclination, repeats)
    expanded = conditions.of_friction(readings)
    known = np.isfinite(expanded)
    return InclinationCurve(
        f"{float(flow.value):.4g} {flow.unit} on {found.meter}",
        inclination[known],
        expanded[known],
        (float(found.inclination.to("deg").value), found.expanded),
        flattest >= _FLATTEST,
    )


def draw_inclinations(ax: Axes, curves: list[InclinationCurve], coverage: str) -> None:
    """Draw the curves, each with its best inclination, and where it does not fit any more."""
    from matplotlib.lines import Line2D

    handles: list[Any] = []
    names = []
    for curve, mark in zip(curves, marks(len(curves)), strict=True):
        percent = 100 * curve.expanded
        ax.plot(
            curve.inclination,
            percent,
            color=mark.colour,
            linestyle=mark.line,
            linewidth=1.5,
            zorder=2.0,
        )
        best, expanded = curve.best
        ax.plot(
            [best],
            [100 * expanded],
            linestyle="none",
            marker=mark.marker,
            markersize=6,
            color=mark.colour,
            markerfacecolor=mark.face,
            zorder=3.0,
            clip_on=False,
        )
        if curve.ends_on_board:
            ax.plot(
                curve.inclination[:1],
                percent[:1],
                linestyle="none",
                marker="|",
                markersize=13,
                markeredgewidth=1.6,
                color=mark.colour,
                zorder=2.5,
            )
        style: Any = {"marker": mark.marker, "markerfacecolor": mark.face, "markersize": 5}
        handles.append(Line2D([], [], color=mark.colour, linestyle=mark.line, **style))
        names.append(plain(curve.label))
    if any(curve.ends_on_board for curve in curves):
        handles.append(
            Line2D(
                [], [], linestyle="none", marker="|", markersize=10, markeredgewidth=1.6, color=INK
            )
        )
        names.append("flatter: off the board")
    sizes = [100 * curve.expanded for curve in curves]
    low = min(float(curve.inclination.min()) for curve in curves) / 1.08
    log_scale(ax, "y", *log_limits(*sizes, margin=0.05))
    log_scale(ax, "x", low, 90.0 * 1.03)
    shown = [tick for tick in _TICKS if tick >= low]
    ax.set_xticks(shown, [str(tick) for tick in shown], fontsize=TEXT_SIZE)
    ax.set_xticks([], minor=True)
    label_axes(ax, "inclination in deg", f"U(f)/f in %, coverage {coverage}")
    legend_above(ax, handles, names, "marker: best inclination")
