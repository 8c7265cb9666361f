"""Names of runs beside their markers, each where it covers least."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.charts.canvas import TEXT_SIZE, plain
from flowunc.bench.charts.palette import INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MOST_LABELS", "label_runs"]

Floats = NDArray[np.float64]

MOST_LABELS = 40  # beyond, names are left out unless asked for
_TOGETHER = 5.0  # points; markers that close share one label
_DIRECTIONS = ((1, 1), (-1, 1), (1, -1), (-1, -1), (0, 1), (0, -1), (1, 0), (-1, 0))
_DISTANCES = (4.0, 8.0, 13.0, 19.0)  # points
_LETTER, _HEIGHT = 0.62, 1.1  # of the text size


def label_runs(
    ax: Axes, x: Floats, y: Floats, names: Sequence[str], obstacles: Sequence[Floats] = ()
) -> None:
    """Write names beside markers.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        With its final limits.
    x, y : ndarray, shape (n,)
        Markers.
    names : sequence of str, length n
    obstacles : sequence of ndarray, shape (m, 2)
        Points of lines in data coordinates that names should not cover.
    """
    markers = _in_points(ax, np.column_stack([x, y]))
    lines = [_in_points(ax, np.asarray(line).reshape(-1, 2)) for line in obstacles]
    around = np.array([(dx, dy) for dx in (-3, 0, 3) for dy in (-3, 0, 3)], dtype=np.float64)
    crowd = np.concatenate([(markers[:, None, :] + around).reshape(-1, 2), *lines])
    crowd = crowd[np.isfinite(crowd).all(axis=1)]
    corner = _in_points(ax, np.array([(ax.get_xlim()[i], ax.get_ylim()[i]) for i in (0, 1)]))
    taken: list[Floats] = []
    for members in _groups(markers):
        text = ", ".join(names[member] for member in members)
        size = np.array([_LETTER * len(text), _HEIGHT]) * TEXT_SIZE
        best = min(
            _places(markers[members[0]], size),
            key=lambda place: _cost(place[1], crowd, taken, corner),
        )
        offset, box = best
        taken.append(box)
        ax.annotate(
            plain(text),
            (x[members[0]], y[members[0]]),
            xytext=tuple(offset),
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=TEXT_SIZE,
            color=INK,
            annotation_clip=True,
        )


def _in_points(ax: Axes, places: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        found = ax.transData.transform(places)
    return np.asarray(found) * (72.0 / ax.figure.dpi)


def _groups(markers: Floats) -> list[list[int]]:
    """Put markers together that lie on top of each other."""
    found: list[list[int]] = []
    for place, marker in enumerate(markers):
        for members in found:
            if np.abs(markers[members[0]] - marker).max() < _TOGETHER:
                members.append(place)
                break
        else:
            found.append([place])
    return found


def _places(marker: Floats, size: Floats) -> list[tuple[Floats, Floats]]:
    """Return offsets of the middle of a text, and the boxes that it would fill."""
    found = []
    for distance in _DISTANCES:
        for direction in _DIRECTIONS:
            offset = np.array(direction) * (size / 2 + distance)
            found.append(
                (offset, np.stack([marker + offset - size / 2, marker + offset + size / 2]))
            )
    return found


def _cost(box: Floats, crowd: Floats, taken: list[Floats], corners: Floats) -> float:
    """Return how much a box covers; other names and the frame count most."""
    inside = ((crowd > box[0] - 1) & (crowd < box[1] + 1)).all(axis=1)
    on_names = sum(bool(((box[0] < o[1]) & (o[0] < box[1])).all()) for o in taken)
    outside = bool((box[0] < corners[0]).any() or (box[1] > corners[1]).any())
    return float(np.count_nonzero(inside)) + 1000.0 * (on_names + outside)
