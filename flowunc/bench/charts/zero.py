"""`zero_chart`: the balance of the columns without flow, over the order of the sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from flowunc.bench.charts.canvas import TEXT_SIZE, axes_for, label_axes, legend_above, plain
from flowunc.bench.charts.palette import BAND, INK, PAPER, ZONE, marks
from flowunc.bench.checks.consistency import zero_checks
from flowunc.bench.run_results import RunResults
from flowunc.bench.sheets.sheet import RunSet, SheetRow
from flowunc.core.arguments import check_coverage_factor
from flowunc.core.errors import DimensionError, RangeError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["ZeroSet", "zero_chart", "zero_sets"]

_FUNCTION = "zero_chart"
_BALANCE = {1: "reading without flow", 2: "balance high − low"}
_MOST_NAMES = 30  # rows; beyond, only some are named
_LETTERS = 90  # that fit below the axis side by side


class ZeroSet(NamedTuple):
    """The zero that one set of runs is counted from.

    Attributes
    ----------
    first, last : int
        Rows of the sheet that the set spans, its zero rows included, counted from 0.
    offset : float
        Mean of the zero before and after, in the unit of the scale.
    drift : float
        Half of the change between them; 0 where none was read after.
    angle : float
        In deg.
    verdict : str
        "no drift found", "drift found" or "not checked".
    """

    first: int
    last: int
    offset: float
    drift: float
    angle: float
    verdict: str


def zero_chart(runs: RunResults, *, ax: Axes | None = None, k: float = 2) -> Axes:
    """Draw the balance of both columns at each zero row, and the sets of runs between them.

    Parameters
    ----------
    runs : Runs
        What `analyse` gave.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure if left out.
    k : float
        Coverage factor of the verdict on drift, as for `Runs.consistency`.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError
        Something else than analysed runs.
    RangeError
        A sheet without zero rows.
    StatementError
        k not above 0.

    Notes
    -----
    Rows stand in the order of the sheet, which is that of the readings. A point is high −
    low of a zero row along the scale; its bar is what rounding both columns to the marks allows,
    twice the half-width of one reading. An instrument with one reading shows that,
    and its own half-width. The line over a set is the zero its runs are counted
    from, the band the half-width of its drift.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, load_bench, read_sheet
    >>> from flowunc.bench.charts import zero_chart
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> from matplotlib.figure import Figure
    >>> axes = zero_chart(runs, ax=Figure().add_subplot())
    >>> axes.get_ylabel()
    'balance high − low in mm'
    """
    if not isinstance(runs, RunResults):
        raise DimensionError(
            f"{_FUNCTION}: got {type(runs).__name__}; expected the runs that analyse(...) gave"
        )
    sets = zero_sets(runs, k)
    rows = runs.sheet.rows
    scale = runs.bench.manometer.scale
    places = np.array([place for place, row in enumerate(rows) if row.is_zero])
    columns = len(runs.bench.manometer_kind.columns)
    if not places.size:
        raise RangeError(
            f"{_FUNCTION}: {runs.sheet.file} has no zero rows; expected readings without flow "
            "before and after each set"
        )
    balances = np.array([_balance(rows[place], columns) for place in places])
    rounding = columns * scale.half_width
    axes = axes_for(ax, _FUNCTION)
    axes.grid(False, axis="x")
    low = min(float(balances.min()), 0.0) - 1.4 * rounding
    high = max(float(balances.max()), 0.0) + 1.4 * rounding
    top = high + 0.16 * (high - low)
    axes.set_xlim(-0.7, len(rows) - 0.3)
    axes.set_ylim(low, top)
    axes.axhline(0.0, color=INK, linewidth=0.7, linestyle=":", zorder=1.0)
    handles, names = _draw_sets(axes, sets, inclined=runs.bench.inclines)
    (mark,) = marks(1)
    bars = axes.errorbar(
        places,
        balances,
        yerr=rounding,
        fmt=mark.marker,
        markersize=5,
        color=mark.colour,
        markerfacecolor=mark.face,
        ecolor=mark.colour,
        elinewidth=1.1,
        capsize=3,
        zorder=4.0,
    )
    handles.insert(0, bars)
    names.insert(0, f"zero row, ±{rounding:g} {scale.unit} by rounding")
    _name_rows(axes, rows)
    label_axes(axes, "rows of the sheet in their order", f"{_BALANCE[columns]} in {scale.unit}")
    legend_above(axes, handles, names)
    return axes


def zero_sets(runs: RunResults, k: float) -> list[ZeroSet]:
    """Return the zero of every set of a sheet, with the verdict on its drift."""
    checks = zero_checks(runs, check_coverage_factor(k, _FUNCTION))
    columns = len(runs.bench.manometer_kind.columns)
    place_of = {row.line: place for place, row in enumerate(runs.sheet.rows)}
    found = []
    for one, check in zip(runs.sheet.sets, checks, strict=True):
        before, after = (
            float(np.mean([_balance(row, columns) for row in block]))
            for block in (one.before, one.after or one.before)
        )
        lines = [row.line for row in _rows_of(one)]
        found.append(
            ZeroSet(
                place_of[min(lines)],
                place_of[max(lines)],
                (before + after) / 2,
                abs(after - before) / 2,
                one.angle,
                check.verdict,
            )
        )
    return found


def _rows_of(one: RunSet) -> list[SheetRow]:
    return [*one.before, *(row for run in one.runs for row in run.rows), *one.after]


def _balance(row: SheetRow, columns: int) -> float:
    """Return the difference of two columns, or the reading of an instrument that has one."""
    return row.high if columns == 1 else row.high - row.low


def _draw_sets(ax: Axes, sets: list[ZeroSet], *, inclined: bool) -> tuple[list[Any], list[str]]:
    """Shade every set and draw the zero of its runs; return the handles of a legend."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    drifts = False
    for count, one in enumerate(sets):
        first, last = one.first - 0.45, one.last + 0.45
        ax.axvspan(first, last, facecolor=(ZONE, PAPER)[count % 2], edgecolor="none", zorder=0.2)
        ax.hlines(one.offset, one.first, one.last, colors=INK, linewidths=1.3, zorder=2.0)
        if one.drift > 0:
            drifts = True
            ax.fill_between(
                [one.first, one.last],
                one.offset - one.drift,
                one.offset + one.drift,
                facecolor=BAND,
                edgecolor="none",
                zorder=1.5,
            )
        ax.text(
            (first + last) / 2,
            0.975,
            f"{one.angle:g}°\n{one.verdict}" if inclined else one.verdict,
            transform=ax.get_xaxis_transform(),
            ha="center",
            va="top",
            fontsize=TEXT_SIZE,
            color=INK,
        )
    handles: list[Any] = [Line2D([], [], color=INK, linewidth=1.3)]
    names = ["zero of the set"]
    if drifts:
        handles.append(Patch(facecolor=BAND, edgecolor="none"))
        names.append("± half of its change")
    return handles, names


def _name_rows(ax: Axes, rows: tuple[SheetRow, ...]) -> None:
    """Name zero rows and runs below the axis; repeats of a run once, in their middle."""
    groups: list[list[int]] = []
    for place, row in enumerate(rows):
        again = place > 0 and not row.is_zero and rows[place - 1].label == row.label
        if again:
            groups[-1].append(place)
        else:
            groups.append([place])
    kept = groups[:: -(-len(groups) // _MOST_NAMES)]
    names = ["zero" if rows[group[0]].is_zero else plain(rows[group[0]].label) for group in kept]
    longest = max(len(name) for name in names)
    crowded = len(kept) * (longest + 1) > _LETTERS
    ax.set_xticks(
        [float(np.mean(group)) for group in kept],
        names,
        fontsize=TEXT_SIZE,
        rotation=90 if crowded else 0,
    )
