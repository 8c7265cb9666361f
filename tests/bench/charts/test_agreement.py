"""E_n of each run, against closed forms of the linear method and of a skewed distribution."""

from __future__ import annotations

import math

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Annotation
from scipy import stats

from flowunc import (
    DimensionError,
    Length,
    RangeError,
    Ratio,
    ReynoldsNumber,
    Runs,
    ShapeError,
    agreement,
    concatenate,
    limits,
    standard,
)
from flowunc.analysis.drawn_agreement import drawn_agreement
from flowunc.bench.charts.agreement import agreement_chart, drawn_normalised_error

TRIALS = 100_000


def points(ax: Axes) -> dict[str, np.ndarray]:
    return {
        line.get_marker(): np.column_stack([line.get_xdata(), line.get_ydata()])
        for line in ax.lines
        if line.get_marker() in ("o", "s")
    }


def test_linear_method_alone(ax: Axes) -> None:
    rule = Length([100.0, 50.1], "mm", limits(0.5), label="rule")
    caliper = Length([100.2, 48.0], "mm", standard(0.05), label="caliper")
    agreement_chart(agreement(rule, caliper), ax=ax)
    U = 2 * math.hypot(0.5 / math.sqrt(3), 0.05)
    found = points(ax)
    assert set(found) == {"o"}
    assert found["o"][:, 1] == pytest.approx([-0.2 / U, 2.1 / U])
    assert [text.get_text() for text in ax.get_xticklabels()] == ["1", "2"]
    assert ax.get_xlabel() == "reading"
    assert ax.get_ylim()[1] == pytest.approx(1.15 * 2.1 / U)  # all is seen


def test_band_from_minus_one_to_one(ax: Axes) -> None:
    same = agreement(Length(1.0, "mm", standard(0.1), label="a"), Length(1.0, "mm"))
    agreement_chart(same, ax=ax)
    (band,) = ax.patches
    box = band.get_extents().transformed(ax.transData.inverted())
    assert (box.y0, box.y1) == pytest.approx((-1.0, 1.0))
    flat = [
        line for line in ax.lines if len(set(line.get_ydata())) == 1 and len(line.get_xdata()) == 2
    ]
    assert {float(line.get_ydata()[0]) for line in flat} == {-1.0, 0.0, 1.0}
    assert ax.get_ylim() == (-1.5, 1.5)


def skewed() -> tuple[Ratio, Ratio]:
    """Return (10 mm / X)^2 for X of 10 ± 2 and of 10 ± 0.01, held against 2 and 1.001."""
    swing = concatenate([Length(10.0, "mm", standard(u), label=f"{u}") for u in (2.0, 0.01)])
    return (Length(10.0, "mm") / swing) ** 2, Ratio([2.0, 1.001], "1")


def test_draws_are_shown_where_they_differ(ax: Axes) -> None:
    found = drawn_agreement(*skewed(), trials=TRIALS, seed=1)
    agreement_chart(found, ax=ax, names=["wide", "narrow"])
    # the upper end of the interval of (10/X)^2 is at the lower 2.5 % quantile of X
    high = (10 / (10 - 2 * stats.norm.ppf(0.975))) ** 2 - 2
    drawn = points(ax)["s"]
    assert drawn[:, 0].tolist() == [0.0]  # the second is linear, as u/X = 0.1 %
    # four standard errors of that quantile, sqrt(p (1 - p)/n)/density, through the square
    error = math.sqrt(0.025 * 0.975 / TRIALS) / stats.norm(10, 2).pdf(10 - 2 * 1.96)
    assert drawn[0, 1] == pytest.approx(-1 / (high + 1), rel=4 * error * 200 / 6.08**3 / (high + 1))
    # linear: u of the square is 2 u/X
    assert points(ax)["o"][0, 1] == pytest.approx(-1 / (1.959964 * 0.4), rel=1e-6)
    assert [text.get_text() for text in ax.get_xticklabels()] == ["wide", "narrow"]
    joined = ax.collections[0].get_segments()
    assert [segment[0][0] for segment in joined] == [0.0]


def test_drawn_error_is_within_one_exactly_where_zero_is_inside() -> None:
    theory = Ratio(np.linspace(0.3, 4.0, 30), "1")
    swing = concatenate([Length(10.0, "mm", standard(2.0), label="a")] * 30)
    found = drawn_agreement((Length(10.0, "mm") / swing) ** 2, theory, trials=20_000, seed=2)
    errors = drawn_normalised_error(found)
    assert np.array_equal(np.abs(errors) <= 1, found.contains_zero)
    assert 5 < np.count_nonzero(found.contains_zero) < 25
    assert np.array_equal(np.sign(errors), np.sign(found.difference))


def test_runs_over_their_reynolds_number(runs: Runs, ax: Axes) -> None:
    agreement_chart(runs, ax=ax, trials=20_000)
    found = points(ax)["o"]
    rows = runs.laws(trials=20_000).compared
    assert len(found) == 9  # run 4 is transitional
    assert found[:, 0] == pytest.approx(runs.reynolds.value[rows])
    # one by one: f of the run less f of the law, by the record
    expected = runs.laws(trials=20_000).expected
    for row, (_, error) in enumerate(found):
        difference = runs.friction[int(rows[row])] - expected[row]
        assert error == pytest.approx(difference.value / (2 * difference.u))
    assert ax.get_xscale() == "log"
    assert ax.get_xlabel() == "Reynolds number Re"
    names = {child.get_text() for child in ax.get_children() if isinstance(child, Annotation)}
    assert "4" not in names
    assert {"1", "10"} <= names


def test_runs_over_another_result(runs: Runs, ax: Axes) -> None:
    agreement_chart(runs, runs.temperature, drawn=False, ax=ax, trials=20_000)
    assert set(points(ax)) == {"o"}
    assert points(ax)["o"][0, 0] == pytest.approx(20.4)
    assert ax.get_xscale() == "linear"
    assert "degC" in ax.get_xlabel()


def test_what_is_far_beyond_its_interval_stands_at_the_edge(ax: Axes) -> None:
    # exp of a wide normal: the lower end of the interval of -exp(X) + 1 lies far below
    x = Ratio(0.0, "1", standard(1.0), label="x")
    found = drawn_agreement(Ratio(1.0, "1") - np.exp(x * x * 9.0), Ratio(0.0, "1"), trials=20_000)
    agreement_chart(found, ax=ax)
    assert all(abs(y) <= ax.get_ylim()[1] for values in points(ax).values() for y in values[:, 1])


def test_mistakes(runs: Runs, ax: Axes) -> None:
    found = agreement(Length([1.0, 2.0], "m", standard(0.1), label="a"), Length(1.0, "m"))
    with pytest.raises(DimensionError, match="got str; expected analysed runs"):
        agreement_chart("runs", ax=ax)
    with pytest.raises(DimensionError, match="expected a quantity"):
        agreement_chart(found, [1.0, 2.0], ax=ax)
    with pytest.raises(ShapeError, match="3 values for 2 readings"):
        agreement_chart(found, ReynoldsNumber([1.0, 2.0, 3.0], "1"), ax=ax)
    with pytest.raises(DimensionError, match=r"drawn=.*got bool"):
        agreement_chart(found, drawn=True, ax=ax)
    with pytest.raises(RangeError, match="expected 2 names"):
        agreement_chart(found, names=["a"], ax=ax)
    with pytest.raises(ShapeError, match="2 differences drawn for 9"):
        agreement_chart(runs, drawn=drawn_agreement(*skewed(), trials=2000), ax=ax, trials=20_000)
