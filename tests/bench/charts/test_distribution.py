"""Histogram, linear density and intervals against scipy.stats."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.patches import StepPatch
from scipy import stats

from flowunc import (
    DimensionError,
    Length,
    PropagationError,
    RangeError,
    Runs,
    StatementError,
    limits,
    standard,
)
from flowunc.bench.charts.distribution import distribution_chart

TRIALS = 100_000


def parts(ax: Axes) -> tuple[StepPatch, Any, dict[str, Any]]:
    """Histogram, density, and the bars of the intervals by their names."""
    (histogram,) = [patch for patch in ax.patches if isinstance(patch, StepPatch)]
    density = next((line for line in ax.lines if len(line.get_xdata()) > 10), None)
    handles = dict(
        zip(
            [text.get_text() for text in ax.get_legend().get_texts()],
            ax.get_legend().legend_handles,
            strict=True,
        )
    )
    bars = [line for line in ax.lines if line.get_marker() == "|"]
    return histogram, density, {"bars": bars, "names": list(handles)}


def test_a_normal_result(ax: Axes) -> None:
    length = Length(10.0, "mm", standard(0.5), label="length").to("mm")
    distribution_chart(length, ax=ax, trials=TRIALS)
    histogram, density, rest = parts(ax)
    heights, edges, _ = histogram.get_data()
    # a density: expected area of each column, to four standard deviations of its count
    expected = np.diff(stats.norm(10, 0.5).cdf(edges))
    found = heights * np.diff(edges)
    assert np.abs(found - expected).max() < 4 * np.sqrt(expected.max() / TRIALS)
    assert 0.997 <= found.sum() <= 1.0
    assert density.get_ydata() == pytest.approx(stats.norm(10, 0.5).pdf(density.get_xdata()))
    drawn, linear = rest["bars"]
    half = 0.5 * stats.norm.ppf(0.975)
    assert linear.get_xdata() == pytest.approx([10 - half, 10 + half])
    # standard error of a quantile: sqrt(p (1 - p)/n)/density
    error = np.sqrt(0.025 * 0.975 / TRIALS) / stats.norm(10, 0.5).pdf(10 - half)
    assert np.abs(np.array(drawn.get_xdata()) - [10 - half, 10 + half]).max() < 4 * error
    assert ax.get_legend().get_title().get_text() == "linear method holds to 1 digit of u"
    assert rest["names"][:2] == ["100 000 draws", "linear method: normal"]
    assert ax.get_xlabel() == "length in mm"
    assert ax.get_ylabel() == "probability density in 1/mm"


def test_few_degrees_of_freedom(ax: Axes) -> None:
    length = Length(10.0, "mm", standard(0.5, dof=4), label="length")
    distribution_chart(length, ax=ax, trials=TRIALS, level=0.9)
    _, density, rest = parts(ax)
    known = stats.t(4, loc=10, scale=0.5)
    assert density.get_ydata() == pytest.approx(known.pdf(density.get_xdata()))
    assert rest["bars"][1].get_xdata() == pytest.approx(known.interval(0.9))
    assert "linear method: t, 4 dof" in rest["names"]
    assert "90 % interval, drawn" in rest["names"]


def test_a_rectangular_result_is_narrower_than_the_linear_interval(ax: Axes) -> None:
    distribution_chart(Length(10.0, "mm", limits(1.0), label="a"), ax=ax, trials=TRIALS)
    _, _, rest = parts(ax)
    drawn, linear = rest["bars"]
    # 95 % of a rectangular distribution: ±0.95 of its half-width; linear 1.96/sqrt(3)
    assert drawn.get_xdata() == pytest.approx([10 - 0.95, 10 + 0.95], abs=0.004)
    assert linear.get_xdata() == pytest.approx([10 - 1.1316, 10 + 1.1316], abs=1e-4)
    assert "fails" in ax.get_legend().get_title().get_text()


def test_a_run_is_shown_with_the_draws_of_the_report(runs: Runs, ax: Axes) -> None:
    distribution_chart(runs, 1, ax=ax, trials=20_000, seed=3)
    check = runs.cross_check("friction", trials=20_000, seed=3)
    _, _, rest = parts(ax)
    assert rest["bars"][0].get_xdata() == pytest.approx([check.drawn_low[0], check.drawn_high[0]])
    title = ax.get_legend().get_title().get_text()
    assert title == "linear method fails at 1 digit of u: report the drawn interval"
    assert ax.get_xlabel() == "Darcy friction factor, run 1"


def test_heavy_tails_do_not_stretch_the_axis(ax: Axes) -> None:
    swing = Length(10.0, "mm", standard(2.0), label="swing")
    distribution_chart(1 / swing**2, ax=ax, trials=TRIALS)
    low, high = ax.get_xlim()
    # 99.9 % quantile of 1/x^2 at the 0.1 % quantile of x: x = 10 - 3.0902 * 2
    assert high == pytest.approx(1 / (10e-3 - 3.0902 * 2e-3) ** 2, rel=0.2)
    heights, edges, _ = parts(ax)[0].get_data()
    assert 0.995 <= (heights * np.diff(edges)).sum() <= 1.0
    assert low < high


def test_draws_without_a_value_leave_no_interval(ax: Axes) -> None:
    length = Length(1.0, "mm", standard(0.5), label="length")
    with pytest.warns(UserWarning, match="no finite value|not finite|root"):
        distribution_chart((length / Length(1.0, "mm")) ** 0.5, ax=ax, trials=20_000)
    assert len(parts(ax)[2]["bars"]) == 1
    assert "no interval" in ax.get_legend().get_title().get_text()


def test_mistakes(runs: Runs, ax: Axes) -> None:
    several = Length([1.0, 2.0], "m", standard(0.1), label="rule")
    with pytest.raises(RangeError, match="10 runs; say which"):
        distribution_chart(runs, ax=ax)
    with pytest.raises(RangeError, match="no run '11'"):
        distribution_chart(runs, 11, ax=ax)
    with pytest.raises(RangeError, match="2 readings; say which"):
        distribution_chart(several, ax=ax)
    for run in (2, -1, "1", True):
        with pytest.raises(RangeError, match="expected a reading, counted from 0 to 1"):
            distribution_chart(several, run, ax=ax)
    with pytest.raises(DimensionError, match="got float"):
        distribution_chart(1.0, ax=ax)
    with pytest.raises(StatementError, match="level=2"):
        distribution_chart(several, 0, ax=ax, level=2)
    with pytest.raises(PropagationError, match="does not vary"):
        distribution_chart(Length(1.0, "m"), ax=ax)
