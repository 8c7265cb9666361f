"""U(Re)/Re of the meters of a bench over the flow, and where the better one changes."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.charts.canvas import label_axes, legend_above, plain
from flowunc.bench.charts.palette import INK, marks
from flowunc.bench.charts.scales import log_limits, log_scale
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.meters import find_crossover
from flowunc.core.kinds import VolumeFlowRate

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Crossover", "MeterCurve", "draw_meters", "meter_crossovers", "meter_curve"]

Floats = NDArray[np.float64]

_POINTS = 120
_REACH = 0.03  # decades beside the flows
_MOST_NAMED = 4


class MeterCurve(NamedTuple):
    """U(Re)/Re of one meter.

    Attributes
    ----------
    meter : str
    flow : ndarray, shape (m,)
        In m^3/s, over the scale of the meter.
    expanded : ndarray, shape (m,)
        U(Re)/Re as a fraction.
    """

    meter: str
    flow: Floats
    expanded: Floats


class Crossover(NamedTuple):
    """A flow at which two meters are equally good, in m^3/s, and U(Re)/Re there."""

    flow: float
    expanded: float


def meter_curve(conditions: Conditions, meter: str, repeats: int) -> MeterCurve:
    """Follow one meter over its scale."""
    low, high = conditions.flows_of(meter)
    flow = np.geomspace(low, high, _POINTS)
    flow[[0, -1]] = low, high
    expanded = conditions.of_reynolds(conditions.readings(meter, flow, 90.0, repeats))
    known = np.isfinite(expanded)
    return MeterCurve(meter, flow[known], expanded[known])


def meter_crossovers(
    conditions: Conditions, meters: tuple[str, ...], repeats: int
) -> list[Crossover]:
    """Return where the better of two meters changes, for each pair of them."""
    found = []
    for pair in combinations(meters, 2):
        flows = find_crossover(conditions, pair, repeats).flows
        if flows is None:
            continue
        values = np.ravel(flows._node.value)
        expanded = conditions.of_reynolds(conditions.readings(pair[0], values, 90.0, repeats))
        found += [Crossover(float(x), float(y)) for x, y in zip(values, expanded, strict=True)]
    return found


def draw_meters(
    ax: Axes, curves: list[MeterCurve], crossovers: list[Crossover], unit: str, coverage: str
) -> None:
    """Draw the curves over the flow in a unit, with the crossovers."""

    def shown(flow: Any) -> Floats:
        return np.asarray(VolumeFlowRate(flow, "m^3/s").to(unit).value)

    handles: list[Any] = []
    names = []
    for curve, mark in zip(curves, marks(len(curves)), strict=True):
        (line,) = ax.plot(
            shown(curve.flow),
            100 * curve.expanded,
            color=mark.colour,
            linestyle=mark.line,
            linewidth=1.5,
            marker=mark.marker,
            markerfacecolor=mark.face,
            markersize=4.5,
            markevery=(6, 18),
        )
        handles.append(line)
        names.append(plain(curve.meter))
    sizes = [100 * curve.expanded for curve in curves]
    log_scale(ax, "x", *log_limits(*(shown(curve.flow) for curve in curves), margin=_REACH))
    bottom, top = log_limits(*sizes, margin=0.05)
    log_scale(ax, "y", bottom, top)
    if crossovers:
        flows = np.array([float(shown(crossover.flow)) for crossover in crossovers])
        heights = np.array([100 * crossover.expanded for crossover in crossovers])
        ax.vlines(flows, bottom, heights, colors=INK, linestyles=":", linewidths=1.0)
        (points,) = ax.plot(
            flows,
            heights,
            linestyle="none",
            marker="o",
            markersize=8,
            color=INK,
            markerfacecolor="none",
        )
        handles.append(points)
        listed = ", ".join(f"{flow:.3g}" for flow in sorted(flows)[:_MOST_NAMED])
        more = ", ..." if flows.size > _MOST_NAMED else ""
        names.append(f"equally good at {listed}{more} {unit}")
    label_axes(ax, f"flow in {unit}", f"U(Re)/Re in %, coverage {coverage}")
    legend_above(ax, handles, names)
