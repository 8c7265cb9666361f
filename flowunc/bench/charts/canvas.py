"""The axes that a chart is drawn on.

Where none are given, a figure is made by pyplot, which is how a notebook shows it. Everything
about its look is stated here, so a dark or otherwise changed style of the session does not make
it unreadable; settings of matplotlib are neither read for that nor changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from flowunc.bench.charts.palette import GRID, INK, PAPER
from flowunc.core.errors import DimensionError, MissingPackageError

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.font_manager import FontProperties

__all__ = [
    "LABEL_SIZE",
    "SIZE",
    "TEXT_SIZE",
    "axes_for",
    "label_axes",
    "legend_above",
    "plain",
]

SIZE = (16.0, 10.0)  # cm: the width of a text column
LABEL_SIZE, TEXT_SIZE = 9.0, 8.0  # points
_INCH = 2.54
_HANDLE, _BETWEEN = 3.0, 1.6  # of the text size, in a legend
_BESIDE = 52.0  # points that ticks and their label take from the width of a figure


def axes_for(ax: Axes | None, function: str) -> Axes:
    """Return the axes to draw on: those given, or those of a new figure.

    Parameters
    ----------
    ax : matplotlib.axes.Axes or None
    function : str
        On whose behalf.

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError
        Something else than axes.
    """
    try:
        from matplotlib.axes import Axes
    except ImportError as error:
        raise MissingPackageError(
            f"{function}: charts need matplotlib, which cannot be imported ({error}); install it "
            'with: pip install "flowunc[plot]"'
        ) from error
    if ax is None:
        from matplotlib import pyplot

        figsize = (SIZE[0] / _INCH, SIZE[1] / _INCH)
        _, found = pyplot.subplots(figsize=figsize, layout="constrained", facecolor=PAPER)
        _darken(found)
    elif isinstance(ax, Axes):
        found = ax
    else:
        raise DimensionError(
            f"{function}(ax=...): got {type(ax).__name__}; expected one matplotlib Axes, such as "
            "axes[0] of what pyplot.subplots gives"
        )
    found.set_facecolor(PAPER)
    found.set_axisbelow(True)
    found.grid(True, which="major", color=GRID, linewidth=0.6, linestyle="-")
    found.tick_params(which="both", labelsize=TEXT_SIZE)
    return found


def _darken(ax: Axes) -> None:
    """Give new axes dark text and lines; on given ones they belong to the user's figure."""
    ax.tick_params(which="both", colors=INK)
    ax.tick_params(which="major", width=0.8, length=3.5)
    ax.tick_params(which="minor", width=0.5, length=2.0)
    for spine in ax.spines.values():
        spine.set(color=INK, linewidth=0.8)
    for axis in (ax.xaxis, ax.yaxis):
        axis.label.set_color(INK)


def label_axes(ax: Axes, horizontal: str, vertical: str) -> None:
    """Write what the axes show; what a user chose of it goes through `plain` before."""
    ax.set_xlabel(horizontal, fontsize=LABEL_SIZE)
    ax.set_ylabel(vertical, fontsize=LABEL_SIZE)


def plain(text: str) -> str:
    """Return a text that matplotlib writes as it stands, though a user chose it.

    It takes what stands between two dollar signs for a formula, and leaves out of a legend what
    begins with an underscore.
    """
    return (f" {text}" if text.startswith("_") else text).replace("$", r"\$")


def legend_above(
    ax: Axes, handles: Sequence[Artist | Any], labels: Sequence[str], title: str = ""
) -> None:
    """Put a legend above the axes, where it covers no data, in as many columns as fit.

    What a user chose of the labels goes through `plain` before.
    """
    from matplotlib.font_manager import FontProperties

    if not handles:
        return
    font = FontProperties(size=TEXT_SIZE)
    legend = ax.legend(
        handles,
        labels,
        loc="lower left",
        bbox_to_anchor=(0.0, 1.02),
        borderaxespad=0.0,
        borderpad=0.2,
        ncols=_columns(labels, font, _room(ax)),
        columnspacing=_BETWEEN,
        handlelength=_HANDLE,
        labelspacing=0.35,
        frameon=True,
        facecolor=PAPER,
        edgecolor=PAPER,
        framealpha=1.0,
        fancybox=False,
        labelcolor=INK,
        prop=font,
        title=title or None,
        alignment="left",
        title_fontproperties=font,
    )
    legend.get_title().set_color(INK)


def _room(ax: Axes) -> float:
    """Return the width that axes will have, in points."""
    figure = ax.get_figure()
    alone = figure is not None and len(figure.axes) == 1
    width = ax.figure.bbox.width - _BESIDE * ax.figure.dpi / 72 if alone else ax.bbox.width
    return float(width * 72 / ax.figure.dpi)


def _columns(labels: Sequence[str], font: FontProperties, room: float) -> int:
    """Return the largest number of columns of a legend that fit into a width in points."""
    from matplotlib.textpath import TextPath

    extra = (_HANDLE + 0.8 + _BETWEEN) * TEXT_SIZE
    widths = [TextPath((0, 0), label, prop=font).get_extents().x1 + extra for label in labels]
    for columns in range(min(len(labels), 6), 1, -1):
        rows, longer = divmod(len(labels), columns)
        needed, start = 0.0, 0
        for column in range(columns):
            stop = start + rows + (column < longer)
            needed += max(widths[start:stop])
            start = stop
        if needed <= room:
            return columns
    return 1
