"""The charts of a report: which ones there are, and the one place where they are drawn."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from flowunc.bench.report.asked import Asked
from flowunc.bench.report.content import Block, Figure, Paragraph

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["FILES", "Chart", "Pictures", "charts_of"]

NAMES = ("friction", "budget", "distribution", "agreement", "zero")
FILES = frozenset(f"{name}.png" for name in NAMES)

MISSING = 'No charts: they need the extra plot, pip install "flowunc[plot]".'
_SIZE = (6.7, 4.3)  # inches: the width of a text column
_DOTS = 180  # per inch


class Chart(NamedTuple):
    """One chart: what it is called, what stands below it, and what draws it on axes."""

    name: str
    caption: str
    draw: Callable[[Axes], object]


def charts_of(asked: Asked) -> list[Chart]:
    """Return the charts that these runs have something to show in."""
    from flowunc.bench import charts

    runs, draws = asked.runs, asked.draws
    percent = f"{100 * asked.level:g} %"
    found = [
        Chart(
            "friction",
            "Friction factor against Reynolds number. Flow, bore and viscosity are behind both "
            "axes, so the regions of the runs are inclined.",
            lambda ax: charts.friction_chart(runs, ax=ax, level=asked.level, **draws),
        ),
        Chart(
            "budget",
            "What each instrument contributes to the variance of f in each run, as shares; below "
            "each run u(f) in per cent of f.",
            lambda ax: charts.budget_chart(runs, ax=ax),
        ),
    ]
    run = _shown_run(asked)
    found.append(
        Chart(
            "distribution",
            f"Draws of f of run {run} beside the density that value ± U stands for, with the "
            f"{percent} intervals of both.",
            lambda ax: charts.distribution_chart(runs, run, ax=ax, level=asked.level, **draws),
        )
    )
    if not isinstance(asked.agreement, str):
        found.append(
            Chart(
                "agreement",
                "E_n of each run that has a law, over the Reynolds number; within ±1 measured and "
                "expected agree.",
                lambda ax: charts.agreement_chart(runs, ax=ax, **draws),
            )
        )
    found.append(
        Chart(
            "zero",
            "Balance of the columns without flow, in order of the sheet.",
            lambda ax: charts.zero_chart(runs, ax=ax),
        )
    )
    return found


def _shown_run(asked: Asked) -> str:
    """Return the run whose f is farthest from value ± U, in units of what is allowed."""
    check = asked.check("friction")
    distance = np.maximum(check.d_low, check.d_high) / np.where(
        check.tolerance > 0, check.tolerance, np.inf
    )
    finite = np.where(np.isfinite(distance), distance, -1.0)
    return asked.runs.labels[int(np.argmax(finite))]


class Pictures:
    """The charts as figures, each drawn where it is asked for.

    Parameters
    ----------
    asked : Asked
    wanted : bool
        Whether charts are drawn at all.
    """

    def __init__(self, asked: Asked, wanted: bool) -> None:
        self.note = ""
        self._charts: dict[str, Chart] = {}
        if not wanted:
            self.note = "No charts were asked for."
        elif not _can_draw():
            self.note = MISSING
        else:
            self._charts = {chart.name: chart for chart in charts_of(asked)}
        self._asked = asked

    def of(self, name: str) -> tuple[Block, ...]:
        """Return the chart of that name as a figure, nothing where there is none."""
        chart = self._charts.get(name)
        if chart is None:
            return ()
        data = self._asked.attempt(lambda: _drawn(chart))
        if isinstance(data, str):
            return (Paragraph(f"The chart of {chart.name} could not be drawn. {data}"),)
        return (Figure(chart.name, chart.caption, data),)


def _can_draw() -> bool:
    try:
        import matplotlib.figure  # noqa: F401 - only whether it is there
    except ImportError:
        return False
    return True


def _drawn(chart: Chart) -> bytes:
    """Draw a chart as it looks without the user's settings, which a report is not about."""
    from matplotlib import style
    from matplotlib.figure import Figure as Drawing

    with style.context("default"):
        drawing = Drawing(figsize=_SIZE, layout="constrained")
        chart.draw(drawing.add_subplot())
        stream = io.BytesIO()
        drawing.savefig(stream, format="png", dpi=_DOTS, metadata={"Software": None})
    return stream.getvalue()
