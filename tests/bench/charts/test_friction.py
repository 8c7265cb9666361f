"""The chart of f against Re."""

from __future__ import annotations

from dataclasses import replace

import fluids
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.lines import Line2D
from matplotlib.text import Annotation

from flowunc import (
    DimensionError,
    FlowuncWarning,
    FrictionFactor,
    Length,
    RangeError,
    Ratio,
    ReynoldsNumber,
    Runs,
    ShapeError,
    StatementError,
    laws,
    limits,
    standard,
)
from flowunc.bench.charts.friction import friction_chart

TRIALS = 50_000


def legend(ax: Axes) -> list[str]:
    return [text.get_text() for text in ax.get_legend().get_texts()]


def markers(ax: Axes) -> list[Line2D]:
    return [line for line in ax.lines if line.get_marker() in "os^D" and len(line.get_xdata())]


def theory(ax: Axes) -> list[Line2D]:
    return [line for line in ax.lines if line.get_color() == "black"]


def ellipses(ax: Axes) -> list[PolyCollection]:
    return [
        found
        for found in ax.collections
        if isinstance(found, PolyCollection) and 50 < len(found.get_paths()[0].vertices) < 100
    ]


def test_axes_and_runs(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, trials=TRIALS)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("Reynolds number Re", "Darcy friction factor f")
    assert (ax.get_xscale(), ax.get_yscale()) == ("log", "log")
    by_meter = markers(ax)
    assert [len(line.get_xdata()) for line in by_meter] == [5, 5]
    assert np.concatenate([line.get_xdata() for line in by_meter]) == pytest.approx(
        runs.reynolds.value
    )
    assert np.concatenate([line.get_ydata() for line in by_meter]) == pytest.approx(
        runs.friction.value
    )
    assert len({line.get_marker() for line in by_meter}) == 2
    assert legend(ax)[:2] == ["small", "large"]
    names = {child.get_text() for child in ax.get_children() if isinstance(child, Annotation)}
    assert names == {"1", "2", "3", "4", "5, 6", "7", "8", "9", "10"}  # 5 and 6 coincide


def test_ellipses_have_the_recorded_covariance(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, k=3, trials=TRIALS)
    outlines = [path.vertices for found in ellipses(ax) for path in found.get_paths()]
    assert len(outlines) == 10
    both = np.diagonal(runs.reynolds.covariance(runs.friction))
    for row in range(10):
        re, f = runs.reynolds.value[row], runs.friction.value[row]
        centre = np.log([re, f])
        (mine,) = [
            np.log(outline[:-1]) - centre
            for outline in outlines
            if np.allclose(np.log(outline[:-2]).mean(axis=0), centre, atol=2e-3)
            and np.isclose(np.ptp(np.log(outline[:, 1])), 6 * runs.friction.u[row] / f, rtol=0.01)
        ][:1]
        u = np.array([runs.reynolds.u[row] / re, runs.friction.u[row] / f])
        matrix = np.array([[u[0] ** 2, both[row] / re / f], [both[row] / re / f, u[1] ** 2]])
        values, vectors = np.linalg.eigh(matrix)
        inside = mine @ vectors / (3 * np.sqrt(values))
        assert np.square(inside).sum(axis=1) == pytest.approx(np.ones(len(mine)), rel=1e-6)
        assert both[row] < 0  # flow is behind both, with opposite signs


def test_drawn_intervals_stand_where_the_linear_method_fails(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, trials=TRIALS)
    check = runs.cross_check("friction", trials=TRIALS)
    failing = np.flatnonzero([verdict != "holds" for verdict in check.verdicts])
    assert 0 in failing  # the slowest run: f goes with 1/flow^2
    upright = [line for line in ax.lines if line.get_marker() == "_"]
    assert sorted(line.get_xdata()[0] for line in upright) == pytest.approx(
        sorted(runs.reynolds.value[failing])
    )
    # other draws of the first run, by NumPy's quantiles
    draws = runs.friction[0].monte_carlo(100_000, seed=99).samples()
    expected = np.quantile(draws, [0.025, 0.975])
    first = min(upright, key=lambda line: line.get_xdata()[0])
    assert first.get_ydata() == pytest.approx(expected, rel=0.01)
    dashed = sum(
        len(found.get_paths()) for found in ellipses(ax) if found.get_linestyle()[0][1] is not None
    )
    of_reynolds = runs.cross_check("reynolds", trials=TRIALS)
    assert dashed == np.count_nonzero(~(check.holds & of_reynolds.holds))
    assert "95 % from draws, where linear fails" in legend(ax)


def test_without_draws_all_outlines_are_whole(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, drawn=False)
    assert sum(len(found.get_paths()) for found in ellipses(ax)) == 10
    assert all(found.get_linestyle()[0][1] is None for found in ellipses(ax))
    assert not [line for line in ax.lines if line.get_marker() in ("_", "|")]


def test_bars_are_value_plus_minus_k_u(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, uncertainty="bars", k=3, drawn=False, laws=())
    assert not ellipses(ax)
    segments = np.concatenate([found.get_segments() for found in ax.collections])
    across = segments[segments[:, 0, 1] == segments[:, 1, 1]]
    up = segments[segments[:, 0, 0] == segments[:, 1, 0]]
    assert across[:, 1, 0] - across[:, 0, 0] == pytest.approx(6 * runs.reynolds.u)
    assert up[:, 1, 1] - up[:, 0, 1] == pytest.approx(6 * runs.friction.u)
    assert "± U, k = 3" in legend(ax)


def test_laws_are_drawn_inside_their_ranges_only(runs: Runs, ax: Axes) -> None:
    chosen = [laws.laminar, laws.prandtl_smooth, laws.mckeon]
    friction_chart(runs, chosen, ax=ax, drawn=False)
    low, high = ax.get_xlim()
    lines = theory(ax)
    assert len(lines) == 3
    # ranges: laminar up to 2300, [Prandtl 1933] from 4e3, [McKeon 2005] from 1e4
    for line, start, stop in zip(lines, (low, 4e3, 1e4), (2300.0, high, high), strict=True):
        assert line.get_xdata()[0] == pytest.approx(start)
        assert line.get_xdata()[-1] == pytest.approx(stop)
    bands = [found for found in ax.collections if found not in ellipses(ax)]
    assert len(bands) == 2  # 64/Re is exact
    assert legend(ax)[-4:-1] == [
        "laminar flow",
        "Prandtl, smooth pipe (±3 %)",
        "McKeon, smooth pipe (±1.4 %)",
    ]


def test_runs_are_held_against_the_laws_of_the_bench(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, drawn=False)
    assert len(theory(ax)) == 2
    with pytest.raises(RangeError, match=r"laws\.haaland needs the relative roughness"):
        friction_chart(runs, laws.haaland, ax=ax, drawn=False)
    friction_chart(runs, laws.haaland, ax=ax, drawn=False, relative_roughness=Ratio(0.001, "1"))
    # e Re sqrt(f/8) is below 5 in all runs: ±5 % of a smooth wall, and ±1.5 %
    assert legend(ax)[-2] == "Haaland (±6.5 %)"


def test_roughness_of_the_bench(runs: Runs, ax: Axes) -> None:
    bench = replace(
        runs.bench, turbulent_law="haaland", roughness=Length(0.016, "mm", limits(0.005))
    )
    friction_chart(replace(runs, bench=bench), ax=ax, drawn=False)
    line = theory(ax)[-1]
    # 16 um in 16 mm
    expected = [fluids.friction.Haaland(re, 0.001) for re in line.get_xdata()]
    assert line.get_ydata() == pytest.approx(expected, rel=1e-6)


def test_transitional_zone_by_the_thresholds_of_the_bench(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, drawn=False)
    (zone,) = ax.patches
    box = zone.get_extents().transformed(ax.transData.inverted())
    assert (box.x0, box.x1) == pytest.approx((2300.0, 4000.0))  # in bench.toml
    assert legend(ax)[-1] == "transitional, Re 2300 to 4000"


def test_zone_ends_with_the_view(runs: Runs, ax: Axes) -> None:
    friction_chart(
        (runs.reynolds[5:], runs.friction[5:]), ax=ax, drawn=False, thresholds=(2e3, 3e3)
    )
    assert not ax.patches
    assert len(theory(ax)) == 1  # laminar flow is out of view


def test_by_regime(runs: Runs, ax: Axes) -> None:
    friction_chart(runs, ax=ax, by="regime", trials=TRIALS)
    assert legend(ax)[:3] == ["laminar", "transitional", "turbulent"]
    assert [len(line.get_xdata()) for line in markers(ax)] == [3, 1, 6]  # sheet: Re of the runs


def test_a_pair_of_quantities(ax: Axes) -> None:
    re = ReynoldsNumber([1000.0, 5000.0], "1", standard(20))
    f = FrictionFactor([0.064, 0.038], "1", standard(0.001))
    friction_chart((re, f), ax=ax, trials=TRIALS)
    assert legend(ax)[0] == "measured"
    assert len(ellipses(ax)[0].get_paths()) == 2
    friction_chart((re[0], f[0]), ax=ax, trials=TRIALS, by="regime")
    assert legend(ax)[0] == "laminar"


def test_many_runs_are_not_named_unless_asked(ax: Axes) -> None:
    re = ReynoldsNumber(np.geomspace(5e3, 5e4, 41), "1", standard(20))
    f = FrictionFactor(np.full(41, 0.03), "1", standard(0.001))
    friction_chart((re, f), ax=ax, drawn=False)
    assert not ax.texts
    friction_chart((re, f), ax=ax, drawn=False, labels=True)
    assert len(ax.texts) > 30


def test_runs_without_a_place_on_the_chart_are_named(ax: Axes) -> None:
    re = ReynoldsNumber([1000.0, 2000.0, 3000.0], "1", standard(20))
    f = FrictionFactor([0.06, -0.001, 0.04], "1", standard(0.001))
    with pytest.warns(FlowuncWarning, match="cannot stand on logarithmic axes .* left out: 2"):
        friction_chart((re, f), ax=ax, drawn=False)
    assert len(markers(ax)[0].get_xdata()) == 2
    with pytest.raises(RangeError, match="no run has Re and f above 0"):
        friction_chart((re[1:2], f[1:2]), ax=ax, drawn=False)


def test_mistakes(runs: Runs, ax: Axes) -> None:
    re, f = runs.reynolds, runs.friction
    with pytest.raises(DimensionError, match=r"got ReynoldsNumber; expected analysed runs"):
        friction_chart(re, ax=ax)
    with pytest.raises(DimensionError, match="friction"):
        friction_chart((re, re), ax=ax)
    with pytest.raises(ShapeError, match="10 Reynolds numbers and 3 friction factors"):
        friction_chart((re, f[:3]), ax=ax)
    with pytest.raises(RangeError, match="expected 'ellipse' or 'bars'"):
        friction_chart(runs, ax=ax, uncertainty="box")
    with pytest.raises(RangeError, match="expected 'meter' or 'regime'"):
        friction_chart(runs, ax=ax, by="law")
    with pytest.raises(RangeError, match="knows no meters"):
        friction_chart((re, f), ax=ax, by="meter", drawn=False)
    with pytest.raises(RangeError, match="laminar_below"):
        friction_chart(runs, ax=ax, thresholds=(4000, 2300), drawn=False)
    with pytest.raises(StatementError, match="k=0"):
        friction_chart(runs, ax=ax, k=0)
