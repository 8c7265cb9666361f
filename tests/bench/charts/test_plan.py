"""Curves of a plan: their least points, where they leave the board, where meters are equal."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import fluids
import numpy as np
import pytest
from iapws._iapws import _Liquid
from matplotlib.axes import Axes

from flowunc import (
    Bench,
    BenchError,
    DimensionError,
    RangeError,
    Ratio,
    Scale,
    Temperature,
    VariableAreaMeter,
    VolumeFlowRate,
    load_bench,
    percent_of_full_scale,
    percent_of_reading,
)
from flowunc.bench.charts.inclination_curves import inclination_curve
from flowunc.bench.charts.plan import plan_chart
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.plan import plan


def legend(ax: Axes) -> list[str]:
    return [text.get_text() for text in ax.get_legend().get_texts()]


def test_one_curve_for_each_flow_with_its_least_point(example_bench: Bench, ax: Axes) -> None:
    plan_chart(example_bench, flows=VolumeFlowRate([30, 60, 600], "L/h"), ax=ax)
    curves = [line for line in ax.lines if len(line.get_xdata()) > 10]
    assert len(curves) == 3
    assert legend(ax) == [
        "30 L/h on small",
        "60 L/h on small",
        "600 L/h on large",
        "flatter: off the board",
    ]
    marked = [line for line in ax.lines if line.get_marker() in "os^"]
    for curve, mark in zip(curves, marked, strict=True):
        (best,), (least,) = mark.get_xdata(), mark.get_ydata()
        # the curve has 90 points, so the least of them is a little above the least of all
        assert least <= curve.get_ydata().min() * (1 + 1e-9)
        assert least == pytest.approx(curve.get_ydata().min(), rel=1e-3)
        nearest = curve.get_xdata()[curve.get_ydata().argmin()]
        assert abs(math.log(nearest / best)) < 0.1
        assert curve.get_xdata()[-1] == 90.0
    assert ax.get_xlabel() == "inclination in deg"
    assert ax.get_ylabel() == "U(f)/f in %, coverage 95 %"


def test_a_curve_begins_where_the_columns_fit_the_board(example_bench: Bench) -> None:
    # 600 L/h in 16 mm over 2 m: head by Prandtl's law as in the fluids package, water at 20 degC
    # of the iapws package [C]; the board shows 700 mm
    water = _Liquid(293.15)
    rho, mu = water["rho"], water["mu"]
    velocity = 600e-3 / 3600 / (math.pi / 4 * 0.016**2)
    reynolds = velocity * 0.016 * rho / mu
    f = fluids.friction.Prandtl_von_Karman_Nikuradse(reynolds)
    head = f * 2.0 / 0.016 * velocity**2 / (2 * 9.808)
    conditions = Conditions.checked(
        example_bench, Temperature(20.0, "degC"), None, None, 2.0, "test"
    )
    found = inclination_curve(conditions, VolumeFlowRate(600, "L/h"), ("large",), 1)
    expected = math.degrees(math.asin(head / 0.7))
    # air above the columns makes them 0.12 % longer
    assert found.inclination[0] == pytest.approx(expected, rel=0.005)
    assert found.ends_on_board
    slow = inclination_curve(conditions, VolumeFlowRate(30, "L/h"), ("small",), 1)
    assert not slow.ends_on_board
    assert slow.inclination[0] == 2.0


def test_the_board_is_marked_where_a_curve_leaves_it(example_bench: Bench, ax: Axes) -> None:
    plan_chart(example_bench, flows=VolumeFlowRate([30, 600], "L/h"), ax=ax)
    ends = [line for line in ax.lines if line.get_marker() == "|"]
    assert len(ends) == 1
    assert ends[0].get_xdata()[0] > 5


def test_a_plan_brings_its_conditions(example_bench: Bench, ax: Axes) -> None:
    made = plan(
        example_bench,
        flows=VolumeFlowRate(np.linspace(40, 200, 9), "L/h"),
        meters="small",
        repeats=(1, 4),
        scatter={"flow": Ratio(1, "%")},
        k=2,
    )
    plan_chart(made, ax=ax)
    curves = [line for line in ax.lines if len(line.get_xdata()) > 10]
    assert len(curves) == 6  # of nine flows
    assert legend(ax)[0] == "40 L/h on small"
    assert legend(ax)[5] == "200 L/h on small"
    assert ax.get_ylabel() == "U(f)/f in %, coverage k = 2"
    # four readings: U(f)/f as in the table of the plan at the same inclination
    rows = made.table()
    row = rows[(rows["flow"] == 40) & (rows["inclination"] == 90) & (rows["repeats"] == 4)]
    assert curves[0].get_ydata()[-1] == pytest.approx(100 * float(row["U(f)/f"].iloc[0]))


def test_crossover_of_two_meters(example_bench: Bench, ax: Axes) -> None:
    # a % of full scale F against b % of the reading, half-widths w of the resolution:
    # (a F)^2 + w1^2 = (b q)^2 + w2^2, all rectangular
    full, a, b, first, second = 4.0, 0.01, 0.025, 0.05, 0.02
    expected = math.sqrt((a * full) ** 2 + (first / 2) ** 2 - (second / 2) ** 2) / b
    meters = {
        "_A": VariableAreaMeter(
            Scale(first, "L/min", span=(0.2, full)), percent_of_full_scale(100 * a)
        ),
        "B": VariableAreaMeter(
            Scale(second, "L/min", span=(0.2, full)), percent_of_reading(100 * b)
        ),
    }
    plan_chart(replace(example_bench, meters=meters), "meter", ax=ax)
    one, other, crossing = ax.lines
    assert crossing.get_xdata() == pytest.approx([expected], rel=1e-6)
    for curve in (one, other):
        at = np.interp(math.log(expected), np.log(curve.get_xdata()), curve.get_ydata())
        assert crossing.get_ydata()[0] == pytest.approx(at, rel=1e-3)
        assert (curve.get_xdata()[0], curve.get_xdata()[-1]) == pytest.approx((0.2, full))
    # above it the one in percent of full scale is better, below the other
    assert one.get_ydata()[0] > other.get_ydata()[0]
    assert one.get_ydata()[-1] < other.get_ydata()[-1]
    assert legend(ax) == [" _A", "B", f"equally good at {expected:.3g} L/min"]
    assert ax.get_xlabel() == "flow in L/min"


def test_meters_that_never_cross(example_bench: Bench, ax: Axes) -> None:
    plan_chart(example_bench, "meter", ax=ax)
    assert legend(ax) == ["small", "large"]
    small, large = ax.lines
    # spans of bench.toml, 20 to 240 L/h and 2 to 20 L/min, in L/min
    assert small.get_xdata()[[0, -1]] == pytest.approx([20 / 60, 4.0], rel=2e-3)
    assert large.get_xdata()[[0, -1]] == pytest.approx([2.0, 20.0], rel=2e-3)


def test_mistakes(example_bench: Bench, ax: Axes) -> None:
    flows = VolumeFlowRate([60.0, 90.0], "L/h")
    made = plan(example_bench, flows=flows, inclinations=[30])
    with pytest.raises(RangeError, match="expected 'inclination' or 'meter'"):
        plan_chart(example_bench, "flow", ax=ax)
    with pytest.raises(RangeError, match="a bench has no flows"):
        plan_chart(example_bench, ax=ax)
    with pytest.raises(RangeError, match="leave the flows out"):
        plan_chart(example_bench, "meter", flows=flows, ax=ax)
    with pytest.raises(RangeError, match="7 flows; expected at most 6"):
        plan_chart(example_bench, flows=VolumeFlowRate(np.arange(40.0, 47.0), "L/h"), ax=ax)
    with pytest.raises(DimensionError, match="a plan has its own level"):
        plan_chart(made, level=0.9, ax=ax)
    with pytest.raises(DimensionError, match="got VolumeFlowRate; expected a plan"):
        plan_chart(flows, ax=ax)
    with pytest.raises(RangeError, match="no meter 'medium'"):
        plan_chart(made, meters="medium", ax=ax)
    with pytest.raises(RangeError, match="off the scale of small"):
        plan_chart(example_bench, flows=VolumeFlowRate(10, "L/min"), meters="small", ax=ax)


def test_where_nothing_is_inclined(ax: Axes) -> None:
    bench = load_bench(Path(__file__).parents[1] / "data" / "u_tube.toml")
    flows = VolumeFlowRate([7.0, 11.0], "L/min")
    made = plan(bench, flows=flows)
    refusal = "upright U-tube is not set to inclinations, so there is nothing to draw; ask for kind"
    for draw in (
        lambda: plan_chart(bench, flows=flows, ax=ax),
        lambda: plan_chart(made, ax=ax),
        lambda: made.chart(ax=ax),
    ):
        with pytest.raises(BenchError, match=refusal):
            draw()
    assert not ax.lines
    plan_chart(made, "meter", ax=ax)
    small, large = ax.lines
    # readings of 2 and 11 L/min at the ends of the calibration, by least squares [JCGM 100, H.3]
    slope, intercept = np.polyfit(
        [2.0, 4.0, 6.0, 8.0, 10.0, 11.0], [2.18, 4.12, 6.20, 8.31, 10.22, 11.33], 1
    )
    ends = intercept + slope * np.array([2.0, 11.0])
    assert small.get_xdata()[[0, -1]] == pytest.approx(ends, rel=1e-9)
    # U(Re)/Re where a flow of the plan is
    table = made.table()
    mine = table[(table["meter"] == "small") & (table["flow"] == 7)]
    at = np.interp(math.log(7), np.log(small.get_xdata()), small.get_ydata())
    assert at == pytest.approx(100 * float(mine["U(Re)/Re"].iloc[0]), rel=1e-3)
    assert len(large.get_xdata()) == len(small.get_xdata())
