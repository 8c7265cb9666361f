"""What all charts have in common: where they are drawn, and that they change nothing else."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable
from itertools import pairwise

import matplotlib
import pytest
from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.text import Text

from flowunc import DimensionError, FlowuncError, Runs, VolumeFlowRate
from flowunc.bench.charts.agreement import agreement_chart
from flowunc.bench.charts.budget import budget_chart
from flowunc.bench.charts.canvas import plain
from flowunc.bench.charts.distribution import distribution_chart
from flowunc.bench.charts.friction import friction_chart
from flowunc.bench.charts.plan import plan_chart
from flowunc.bench.charts.zero import zero_chart
from flowunc.core.errors import MissingPackageError

TRIALS = 20_000
FLOWS = VolumeFlowRate([60, 600], "L/h")
Chart = Callable[[Runs, Axes | None], Axes]

CHARTS: dict[str, Chart] = {
    "friction": lambda runs, ax: friction_chart(runs, ax=ax, trials=TRIALS),
    "budget": lambda runs, ax: budget_chart(runs, ax=ax),
    "distribution": lambda runs, ax: distribution_chart(runs, "1", ax=ax, trials=TRIALS),
    "agreement": lambda runs, ax: agreement_chart(runs, ax=ax, trials=TRIALS),
    "zero": lambda runs, ax: zero_chart(runs, ax=ax),
    "inclination": lambda runs, ax: plan_chart(runs.bench, flows=FLOWS, ax=ax),
    "meter": lambda runs, ax: plan_chart(runs.bench, "meter", ax=ax),
}
every_chart = pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)


@every_chart
def test_given_axes_are_drawn_on_and_pyplot_left_alone(chart: Chart, runs: Runs, ax: Axes) -> None:
    assert chart(runs, ax) is ax
    assert pyplot.get_fignums() == []
    assert len(ax.figure.axes) == 1
    assert ax.get_xlabel()
    assert ax.get_ylabel()
    assert ax.get_title() == ""
    assert ax.get_legend() is not None


@every_chart
def test_a_new_figure_is_one_of_pyplot_16_by_10_cm(chart: Chart, runs: Runs) -> None:
    found = chart(runs, None)
    assert [pyplot.figure(number) for number in pyplot.get_fignums()] == [found.figure]
    assert tuple(2.54 * found.figure.get_size_inches()) == pytest.approx((16.0, 10.0))
    pickle.loads(pickle.dumps(found.figure))


@every_chart
def test_settings_are_not_changed(chart: Chart, runs: Runs) -> None:
    before = dict(matplotlib.rcParams)
    chart(runs, None)
    assert dict(matplotlib.rcParams) == before


@every_chart
def test_dark_styles_do_not_make_it_unreadable(chart: Chart, runs: Runs) -> None:
    with pyplot.style.context("dark_background"):
        found = chart(runs, None)
        found.figure.draw_without_rendering()
    assert to_rgb(found.figure.get_facecolor()) == to_rgb(found.get_facecolor()) == (1, 1, 1)
    for text in visible_texts(found):
        assert to_rgb(text.get_color()) == (0, 0, 0), text
    assert all(to_rgb(spine.get_edgecolor()) == (0, 0, 0) for spine in found.spines.values())


@every_chart
def test_text_is_large_enough_and_the_legend_covers_no_data(chart: Chart, runs: Runs) -> None:
    found = chart(runs, None)
    found.figure.draw_without_rendering()
    assert min(text.get_fontsize() for text in visible_texts(found)) >= 8
    legend, frame = found.get_legend().get_window_extent(), found.get_window_extent()
    assert legend.y0 >= frame.y1
    page = found.figure.bbox
    assert page.x0 <= legend.x0
    assert legend.x1 <= page.x1
    assert legend.y1 <= page.y1


@every_chart
def test_ticks_do_not_run_into_each_other(chart: Chart, runs: Runs) -> None:
    found = chart(runs, None)
    found.figure.draw_without_rendering()
    low, high = found.get_xlim()
    boxes = sorted(
        (
            tick.label1.get_window_extent()
            for tick in found.xaxis.get_major_ticks()
            if low <= tick.get_loc() <= high and tick.label1.get_text()
        ),
        key=lambda box: box.x0,
    )
    assert len(boxes) >= 2
    assert all(left.x1 <= right.x0 for left, right in pairwise(boxes))


@every_chart
def test_without_matplotlib_the_extra_is_named(
    chart: Chart, runs: Runs, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] == "matplotlib"]:
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(MissingPackageError, match=r'pip install "flowunc\[plot\]"') as caught:
        chart(runs, None)
    assert isinstance(caught.value, FlowuncError)
    assert isinstance(caught.value, ImportError)


@every_chart
def test_several_axes_are_not_one(chart: Chart, runs: Runs) -> None:
    _, several = pyplot.subplots(1, 2)
    with pytest.raises(DimensionError, match=r"got ndarray; expected one matplotlib Axes"):
        chart(runs, several)


def test_importing_the_charts_does_not_import_matplotlib() -> None:
    code = "import sys, flowunc.bench.charts; sys.exit('matplotlib' in sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_texts_of_users_are_shown_as_they_stand() -> None:
    assert plain("a $x$ b") == r"a \$x\$ b"
    assert plain("_hidden") == " _hidden"


def visible_texts(ax: Axes) -> list[Text]:
    """Texts that are seen; ticks beyond the limits are not."""
    texts = [text for text in ax.figure.findobj(Text) if text.get_visible() and text.get_text()]
    return [text for text in texts if text.get_window_extent().width > 0]
