"""`budget_chart`: what contributes to the variance of each run, as stacked bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.budget_lines import Grouping, check_grouping
from flowunc.analysis.budget_table import budget_table
from flowunc.bench.charts.canvas import TEXT_SIZE, axes_for, label_axes, legend_above, plain
from flowunc.bench.charts.palette import OTHERS, PAPER, Fill, fills
from flowunc.bench.run_decisions import RunDecisions
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["budget_chart", "budget_shares"]

Floats = NDArray[np.float64]

_FUNCTION = "budget_chart"
_OTHERS = "others"
_SYMBOLS = {"friction": "f", "reynolds": "Re", "pressure_drop": "pressure drop"}
_MOST_PARTS = 6  # as many as there are fills
_MOST_SIZES = 16  # runs; beyond, the sizes below the bars run into each other
_MOST_NAMES = 40
_SEEN = 0.004  # a bar of less is no more than the line between two others


def budget_chart(
    runs: RunDecisions | Quantity,
    of: str = "friction",
    by: Grouping = "source",
    *,
    ax: Axes | None = None,
    least: float = 0.02,
    most: int = _MOST_PARTS,
) -> Axes:
    """Draw what contributes to the variance of each run, as shares in stacked bars.

    Parameters
    ----------
    runs : Runs or Quantity
        Analysed runs, or any result: a planned one, say.
    of : str
        Which result of the runs; see `Runs.budget`. A quantity is drawn itself.
    by : {"component", "source", "scope", "evaluation"}
        What makes a part, as in `Runs.budgets`. Parts of one name before a comma count together:
        the angles of two settings are the "manometer angle".
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure if left out.
    least : float
        A part that nowhere reaches this share is counted with the others.
    most : int
        How many parts are shown by themselves, 1 to 6; the largest ones over all runs.

    Returns
    -------
    matplotlib.axes.Axes
        Parts from below in the order of the legend, largest mean share first.

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError, RangeError
        Data or options that do not fit.

    Notes
    -----
    The shares are c_i^2 u^2(x_i)/u^2(y) of the linear method [JCGM 100, 5.1.3], which add up to
    1. Below each run stands u of the result in percent of it: a part can shrink in share and
    still grow.

    Examples
    --------
    >>> from flowunc import Length, Time, limits, standard
    >>> from flowunc.bench.charts import budget_chart
    >>> way = Length([0.5, 2.0], "m", standard(0.01), label="way")
    >>> speed = way / Time(20.0, "s", limits(0.2), label="stopwatch")
    >>> from matplotlib.figure import Figure
    >>> axes = budget_chart(speed, ax=Figure().add_subplot())
    >>> [text.get_text() for text in axes.get_legend().get_texts()]
    ['way', 'stopwatch']
    """
    check_grouping(by, _FUNCTION)
    quantity, names, symbol = _given(runs, of)
    parts, shares = budget_shares(quantity, by, least, most)
    axes = axes_for(ax, _FUNCTION)
    axes.grid(False, axis="x")
    places = np.arange(len(names), dtype=np.float64)
    handles: list[Any] = []
    base = np.zeros(len(names))
    for part, share, fill in zip(parts, shares, _looks(parts), strict=True):
        bars = axes.bar(
            places,
            share,
            width=0.72,
            bottom=base,
            color=fill.colour,
            edgecolor=PAPER,
            hatch=fill.hatch or None,
            linewidth=0.5,
        )
        if part != _OTHERS or share.max() >= _SEEN:
            handles.append(bars)
        base += share
    axes.set_xlim(-0.6, len(names) - 0.4)
    axes.set_ylim(0.0, 1.0)
    _name_runs(axes, quantity, names, symbol, "reading" if runs is quantity else "run")
    label_axes(axes, axes.get_xlabel(), f"share of u²({symbol})")
    legend_above(axes, handles, [plain(part) for part in parts[: len(handles)]])
    return axes


def budget_shares(
    quantity: Quantity, by: Grouping, least: Any, most: Any
) -> tuple[tuple[str, ...], Floats]:
    """Return the names of the parts and their shares, shape (parts, readings).

    Parameters
    ----------
    quantity : Quantity, scalar or shape (n,)
    by, least, most
        As for `budget_chart`; the others come last.
    """
    if isinstance(least, bool) or not isinstance(least, (int, float)) or not 0 <= least < 1:
        raise RangeError(f"{_FUNCTION}(least={least!r}): expected a share from 0 to below 1")
    if isinstance(most, bool) or not isinstance(most, int) or not 1 <= most <= _MOST_PARTS:
        raise RangeError(
            f"{_FUNCTION}(most={most!r}): expected a whole number from 1 to {_MOST_PARTS}, the "
            "number of fills that can be told apart"
        )
    table = budget_table(quantity, by=by)
    if by == "evaluation":
        table[by] = "Type " + table[by].astype(str)
    table[by] = [name.partition(",")[0] for name in table[by]]
    found = table.groupby([by, "reading"], sort=False)["share"].sum().unstack(fill_value=0)
    found = found.reindex(columns=range(quantity.size), fill_value=0.0)
    shares = found.to_numpy(dtype=np.float64)
    order = np.argsort(-shares.mean(axis=1), kind="stable")
    large = [place for place in order if shares[place].max() >= least][:most]
    small = [place for place in order if place not in large]
    names = [str(found.index[place]) for place in large]
    kept = shares[large]
    if small and shares[small].any():
        names.append(_OTHERS)
        kept = np.vstack([kept, shares[small].sum(axis=0)])
    return tuple(names), kept


def _given(runs: Any, of: str) -> tuple[Quantity, tuple[str, ...], str]:
    """Return the result, the names of its readings, and the symbol of it."""
    if isinstance(runs, RunDecisions):
        return runs.result(of), runs.labels, _SYMBOLS.get(of, of.replace("_", " "))
    if isinstance(runs, Quantity):
        names = tuple(str(place + 1) for place in range(runs.size))
        return runs, names, plain(runs.label or "y")
    raise DimensionError(
        f"{_FUNCTION}: got {type(runs).__name__}; expected analysed runs, as analyse(...) gives "
        "them, or a quantity"
    )


def _looks(parts: Sequence[str]) -> list[Fill]:
    """Return the fills; the others are grey and come last."""
    with_others = parts[-1:] == (_OTHERS,)
    return fills(len(parts) - with_others) + [Fill(OTHERS, "")] * with_others


def _name_runs(ax: Axes, quantity: Quantity, names: Sequence[str], symbol: str, one: str) -> None:
    """Write the runs below their bars, with u in percent where there is room for it."""
    step = -(-len(names) // _MOST_NAMES)
    shown = [plain(name) for name in names]
    values = np.atleast_1d(np.asarray(quantity.value))
    sized = len(names) <= _MOST_SIZES and bool((values != 0).all())
    if sized:
        relative = 100 * np.atleast_1d(np.asarray(quantity.u)) / np.abs(values)
        shown = [
            f"{name}\n{size:#.2g}".rstrip(".") + " %"
            for name, size in zip(shown, relative, strict=True)
        ]
    ax.set_xticks(range(0, len(names), step), shown[::step], fontsize=TEXT_SIZE)
    ax.set_xlabel(f"{one}, and u({symbol})/{symbol}" if sized else one)
