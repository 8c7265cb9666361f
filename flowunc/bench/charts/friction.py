"""`friction_chart`: the friction factor against the Reynolds number, with the reference laws."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.charts.canvas import axes_for, label_axes, legend_above, plain
from flowunc.bench.charts.coverage_ellipse import log_covariances, log_ellipses
from flowunc.bench.charts.friction_points import FrictionPoints, Sorts, friction_points
from flowunc.bench.charts.law_curves import LawCurve, check_laws, draw_curves, law_curve
from flowunc.bench.charts.palette import INK, ZONE, Mark, marks
from flowunc.bench.charts.run_labels import MOST_LABELS, label_runs
from flowunc.bench.charts.scales import log_limits, log_scale, number
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_results import TRIALS
from flowunc.core.arguments import check_coverage_factor, check_level
from flowunc.core.errors import RangeError
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber
from flowunc.pipe.laws import FrictionLaw

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["friction_chart"]

Floats = NDArray[np.float64]

_FUNCTION = "friction_chart"
_MARGIN = 0.06  # decades


def friction_chart(
    runs: RunDecisions | tuple[ReynoldsNumber, FrictionFactor],
    laws: FrictionLaw | Sequence[FrictionLaw] | None = None,
    *,
    ax: Axes | None = None,
    uncertainty: Literal["ellipse", "bars"] = "ellipse",
    k: float = 2,
    by: Sorts | None = None,
    labels: bool | None = None,
    relative_roughness: Ratio | None = None,
    thresholds: tuple[float, float] | None = None,
    drawn: bool = True,
    level: float = 0.95,
    trials: int = TRIALS,
    seed: int = 0,
) -> Axes:
    """Draw the friction factor against the Reynolds number, with the laws it is held against.

    Parameters
    ----------
    runs : Runs or tuple of ReynoldsNumber and FrictionFactor, each shape (n,)
    laws : FrictionLaw or sequence of FrictionLaw, optional
        64/Re and the turbulent law of the bench (Prandtl's for a pair) if left out; ``()`` for
        none.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure if left out.
    uncertainty : {"ellipse", "bars"}
        How the linear method's uncertainty is drawn.
    k : float
        Coverage factor of ellipses and bars.
    by : {"meter", "regime"}, optional
        What the runs are told apart by; their meters, where these are known, if left out.
    labels : bool, optional
        Whether each run is named; up to 40 runs if left out.
    relative_roughness : Ratio, scalar, optional
        Of the wall, in place of the bench's, for laws that take one.
    thresholds : tuple of float, optional
        Reynolds numbers between which flow is transitional; the bench's, or 2300 and 4000.
    drawn : bool
        Whether the linear method is held against draws.
    level, trials, seed
        Of the draws, as for `Runs.cross_check`.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError, ShapeError, RangeError, StatementError
        Data or options that do not fit.

    Warns
    -----
    FlowuncWarning
        Runs with f of 0 or less, which have no place on the chart.

    Notes
    -----
    The ellipse of a run is that of the recorded covariance of (ln Re, ln f): flow, bore and
    viscosity are behind both, so it is inclined. Its extent along each axis is ±k u; for two
    normal results it holds both with the probability 1 - exp(-k^2/2), 86 % for k = 2; k = 2.45
    makes that 95 % [JCGM 102, 7.7]. Bars are value ± k u.

    Where the linear method does not hold to one digit of u (`Runs.cross_check`), the outline is
    dashed and the symmetric interval from the draws stands beside it, in f, in Re, or in both.

    A law is drawn inside its range only. Its band is what it states for itself, as limits.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, load_bench, read_sheet
    >>> from flowunc.bench.charts import friction_chart
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> from matplotlib.figure import Figure
    >>> axes = friction_chart(runs, ax=Figure().add_subplot(), trials=20_000)
    >>> axes.get_xlabel(), axes.get_xscale()
    ('Reynolds number Re', 'log')
    """
    if uncertainty not in ("ellipse", "bars"):
        raise RangeError(f"{_FUNCTION}(uncertainty={uncertainty!r}): expected 'ellipse' or 'bars'")
    factor = check_coverage_factor(k, _FUNCTION)
    points = friction_points(
        runs,
        by,
        roughness=relative_roughness,
        thresholds=thresholds,
        drawn=drawn,
        level=check_level(level),
        trials=trials,
        seed=seed,
    )
    chosen = check_laws(points.laws if laws is None else laws, points.roughness, _FUNCTION)
    axes = axes_for(ax, _FUNCTION)
    re, f = np.asarray(points.reynolds.value), np.asarray(points.friction.value)
    regions = _regions(points, uncertainty, factor)
    low, high = log_limits(regions[..., 0], re, points.reynolds_drawn, margin=_MARGIN)
    curves = [law_curve(law, points.roughness, low, high, factor) for law in chosen]
    bottom, top = log_limits(
        regions[..., 1],
        f,
        points.friction_drawn,
        *(curve.friction for curve in curves),
        margin=_MARGIN,
    )
    log_scale(axes, "x", low, high)
    log_scale(axes, "y", bottom, top)
    handles, names = _draw_runs(axes, points, regions, uncertainty, factor, level)
    _draw_theory(axes, points.thresholds, curves, handles, names)
    if labels or (labels is None and len(points) <= MOST_LABELS):
        label_runs(axes, re, f, points.labels, _obstacles(points, regions, curves))
    label_axes(axes, "Reynolds number Re", "Darcy friction factor f")
    legend_above(axes, handles, names)
    return axes


def _regions(points: FrictionPoints, uncertainty: str, k: float) -> Floats:
    """Return outlines of ellipses, or the four ends of the bars, shape (n, points, 2)."""
    re, f = np.asarray(points.reynolds.value), np.asarray(points.friction.value)
    if uncertainty == "ellipse":
        return log_ellipses(re, f, log_covariances(points.reynolds, points.friction), k)
    across, up = k * np.asarray(points.reynolds.u), k * np.asarray(points.friction.u)
    ends = [(re - across, f), (re + across, f), (re, f - up), (re, f + up)]
    return np.stack([np.column_stack(end) for end in ends], axis=1)


def _draw_runs(
    ax: Axes, points: FrictionPoints, regions: Floats, uncertainty: str, k: float, level: float
) -> tuple[list[Any], list[str]]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    re, f = np.asarray(points.reynolds.value), np.asarray(points.friction.value)
    ends = np.concatenate([points.reynolds_drawn, points.friction_drawn], axis=1)
    by_draws = np.isfinite(ends).any(axis=1)
    sorts = list(dict.fromkeys(points.sorts))
    handles: list[Any] = []
    names = []
    for sort, mark in zip(sorts, marks(len(sorts)), strict=True):
        mine = np.array([name == sort for name in points.sorts])
        if uncertainty == "ellipse":
            _draw_ellipses(ax, regions[mine & ~by_draws], mark, linear=True)
            _draw_ellipses(ax, regions[mine & by_draws], mark, linear=False)
        else:
            _draw_bars(ax, re[mine], f[mine], regions[mine], mark)
        rows = np.flatnonzero(mine & by_draws)
        _draw_intervals(ax, re, f, points, rows, mark)
        (line,) = ax.plot(
            re[mine],
            f[mine],
            linestyle="none",
            marker=mark.marker,
            markersize=4,
            color=mark.colour,
            markerfacecolor=mark.face,
            markeredgewidth=0.9,
            zorder=4.0,
        )
        handles.append(line)
        names.append(plain(sort or "measured"))
    if uncertainty == "ellipse":
        handles.append(Patch(facecolor="0.75", edgecolor="0.35", linewidth=0.9))
        names.append(f"Re and f together, k = {k:g}")
    else:
        handles.append(Line2D([], [], color="0.35", linewidth=0.9))
        names.append(f"± U, k = {k:g}")
    if by_draws.any():
        bar = Line2D([], [], color=INK, linewidth=1.6, marker="|", markersize=6)
        handles.append(bar)
        names.append(f"{100 * level:g} % from draws, where linear fails")
    return handles, names


def _draw_ellipses(ax: Axes, outlines: Floats, mark: Mark, *, linear: bool) -> None:
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import to_rgba

    if not len(outlines):
        return
    ax.add_collection(
        PolyCollection(
            list(outlines),
            facecolors=[to_rgba(mark.colour, 0.16 if linear else 0.0)],
            edgecolors=[mark.colour],
            linestyles=["-" if linear else (0, (3, 2))],
            linewidths=[0.9],
            zorder=3.0,
        ),
        autolim=False,
    )


def _draw_bars(ax: Axes, re: Floats, f: Floats, ends: Floats, mark: Mark) -> None:
    ax.errorbar(
        re,
        f,
        xerr=np.stack([re - ends[:, 0, 0], ends[:, 1, 0] - re]),
        yerr=np.stack([f - ends[:, 2, 1], ends[:, 3, 1] - f]),
        fmt="none",
        ecolor=mark.colour,
        elinewidth=0.9,
        capsize=0,
        zorder=3.0,
    )


def _draw_intervals(
    ax: Axes, re: Floats, f: Floats, points: FrictionPoints, rows: NDArray[np.intp], mark: Mark
) -> None:
    """Draw the intervals of the draws, with caps."""
    style: Any = {"color": mark.colour, "linewidth": 1.4, "markersize": 5.5, "zorder": 3.5}
    for row in rows:
        for (low, high), vertical in (
            (points.friction_drawn[row], True),
            (points.reynolds_drawn[row], False),
        ):
            if not np.isfinite(low):
                continue
            across = [re[row], re[row]] if vertical else [low, high]
            up = [low, high] if vertical else [f[row], f[row]]
            ax.plot(across, up, marker="_" if vertical else "|", **style)


def _draw_theory(
    ax: Axes,
    thresholds: tuple[float, float],
    curves: Sequence[LawCurve],
    handles: list[Any],
    names: list[str],
) -> None:
    lines, titles = draw_curves(ax, curves)
    handles += lines
    names += titles
    low, high = ax.get_xlim()
    start, stop = max(low, thresholds[0]), min(high, thresholds[1])
    if start < stop:
        zone = ax.axvspan(start, stop, facecolor=ZONE, edgecolor="none", zorder=0.2)
        handles.append(zone)
        names.append(f"transitional, Re {number(thresholds[0])} to {number(thresholds[1])}")
        ax.set_xlim(low, high)


def _obstacles(points: FrictionPoints, regions: Floats, curves: Sequence[LawCurve]) -> list[Floats]:
    """Return points that names should not cover: outlines, laws, intervals."""
    re, f = np.asarray(points.reynolds.value), np.asarray(points.friction.value)
    along = np.linspace(0.0, 1.0, 9)
    found = [*regions, *(np.column_stack([c.reynolds, c.friction]) for c in curves)]
    for row in range(len(points)):
        low, high = points.friction_drawn[row]
        found.append(np.column_stack([np.full(9, re[row]), low + along * (high - low)]))
        low, high = points.reynolds_drawn[row]
        found.append(np.column_stack([low + along * (high - low), np.full(9, f[row])]))
    return found
