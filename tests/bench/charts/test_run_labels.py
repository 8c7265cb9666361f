"""Names of runs keep clear of each other, of markers and of lines."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Annotation

from flowunc.bench.charts.run_labels import label_runs


def boxes(ax: Axes) -> dict[str, np.ndarray]:
    ax.figure.draw_without_rendering()
    texts = [child for child in ax.get_children() if isinstance(child, Annotation)]
    return {text.get_text(): text.get_window_extent().get_points() for text in texts}


def crossing(a: np.ndarray, b: np.ndarray) -> bool:
    return bool(((a[0] < b[1]) & (b[0] < a[1])).all())


def test_names_do_not_cover_each_other_or_markers(ax: Axes) -> None:
    ax.set(xlim=(0, 10), ylim=(0, 10))
    x = np.array([2.0, 2.25, 2.5, 2.75, 3.0, 2.0, 2.25, 2.5, 2.75, 3.0])
    y = np.repeat([5.0, 5.6], 5)
    label_runs(ax, x, y, [f"run {place}" for place in range(10)])
    found = boxes(ax)
    assert len(found) == 10
    assert not any(crossing(a, b) for a, b in combinations(found.values(), 2))
    markers = ax.transData.transform(np.column_stack([x, y]))
    assert not any(
        bool(((box[0] < marker) & (marker < box[1])).all())
        for box in found.values()
        for marker in markers
    )


def test_names_step_off_a_line(ax: Axes) -> None:
    ax.set(xlim=(0, 10), ylim=(0, 10))
    line = np.column_stack([np.linspace(0, 10, 400), np.linspace(0, 10, 400)])
    label_runs(ax, np.array([5.0]), np.array([5.0]), ["a"], [line])
    (box,) = boxes(ax).values()
    points = ax.transData.transform(line)
    assert not ((points > box[0]) & (points < box[1])).all(axis=1).any()


def test_markers_on_top_of_each_other_share_a_name(ax: Axes) -> None:
    ax.set(xlim=(0, 10), ylim=(0, 10))
    label_runs(ax, np.array([5.0, 8.0, 5.001]), np.array([5.0, 8.0, 5.0]), ["5", "7", "6"])
    assert set(boxes(ax)) == {"5, 6", "7"}


@pytest.mark.parametrize(("x", "y"), [(0.0, 0.0), (10.0, 10.0), (0.0, 10.0), (10.0, 0.0)])
def test_names_stay_inside_the_axes(ax: Axes, x: float, y: float) -> None:
    ax.set(xlim=(0, 10), ylim=(0, 10))
    label_runs(ax, np.array([x]), np.array([y]), ["a name"])
    (box,) = boxes(ax).values()
    frame = ax.get_window_extent().get_points()
    assert (box[0] >= frame[0] - 1).all()
    assert (box[1] <= frame[1] + 1).all()


def test_a_name_with_dollar_signs_is_no_formula(ax: Axes) -> None:
    ax.set(xlim=(0, 10), ylim=(0, 10))
    label_runs(ax, np.array([5.0]), np.array([5.0]), [r"$\frac$"])
    assert set(boxes(ax)) == {r"\$\frac\$"}  # drawn without an error of the formula parser
