"""Shortcuts against models built wrongly on purpose, by hand and with `uncertainties`."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

import flowunc.bench
from flowunc import (
    Density,
    DimensionError,
    Length,
    Pressure,
    PropagationError,
    Scale,
    ShapeError,
    VariableAreaMeter,
    Velocity,
    VolumeFlowRate,
    analyse,
    darcy_friction_factor,
    limits,
    load_bench,
    mean_velocity,
    percent_of_reading,
    read_sheet,
    repeated,
    shared,
    standard,
)
from flowunc.analysis import fit_line
from flowunc.analysis.shortcuts import shortcuts

NORMAL = stats.norm.ppf(0.975)
WIDE = 1 / math.sqrt(3)  # u of limits of 1


def table_of(quantity, **options):
    return shortcuts(quantity, **options).set_index("shortcut")


class FrictionBench:
    """f = 2 D dp/(rho L v^2) with v = 4 Q/(pi D^2); relative standard uncertainties."""

    relative = {"bore": 0.004, "flow": 0.003, "drop": 0.02, "density": 0.001, "spacing": 0.002}  # noqa: RUF012

    def __init__(self, flow=(2.0,)):
        r = self.relative
        self.bore = Length(19.0, "mm", standard(19.0 * r["bore"]))
        values = flow[0] if len(flow) == 1 else list(flow)
        self.flow = VolumeFlowRate(
            values, "L/min", shared(percent_of_reading(100 * r["flow"], k=1)), label="flow"
        )
        self.drop = Pressure(60.0, "Pa", standard(60.0 * r["drop"]), label="drop")
        self.density = Density(998.0, "kg/m^3", standard(998.0 * r["density"]), label="density")
        spacing = Length(2.4, "m", standard(2.4 * r["spacing"]), label="spacing")
        self.velocity = mean_velocity(self.flow, self.bore)
        self.friction = darcy_friction_factor(
            self.drop, self.density, self.velocity, self.bore, spacing
        )


def test_velocity_taken_as_independent_by_hand():
    bench = FrictionBench()
    table = table_of(bench.friction, independent=bench.velocity)
    r, f = bench.relative, bench.friction.value
    rest = r["drop"] ** 2 + r["density"] ** 2 + r["spacing"] ** 2 + (2 * r["flow"]) ** 2
    # D^5 in all: 1 directly, 4 through v^-2 = D^4; apart they add as squares, 1 + 16
    assert table.loc["correct", "u"] / f == pytest.approx(
        math.sqrt(25 * r["bore"] ** 2 + rest), rel=1e-12
    )
    line = table.loc["mean velocity independent"]
    assert line["u"] / f == pytest.approx(math.sqrt(17 * r["bore"] ** 2 + rest), rel=1e-12)
    assert "bore" in line["note"]
    assert "flow" not in line["note"]


def test_velocity_taken_as_independent_in_another_library():
    bench = FrictionBench()
    r = bench.relative

    def number(name, value):
        return ufloat(value, value * r[name])

    D, Q = number("bore", 0.019), number("flow", 2.0e-3 / 60)
    dp, rho, L = number("drop", 60.0), number("density", 998.0), number("spacing", 2.4)
    v = 4 * Q / (math.pi * D**2)
    forgotten = ufloat(v.nominal_value, v.std_dev)
    right, wrong = (2 * D * dp / (rho * L * speed**2) for speed in (v, forgotten))
    table = table_of(bench.friction, independent=[bench.velocity])
    assert table.loc["correct", "u"] == pytest.approx(right.std_dev, rel=1e-10)
    line = table.loc["mean velocity independent"]
    assert line["u"] == pytest.approx(wrong.std_dev, rel=1e-10)
    assert line["ratio"] == pytest.approx(wrong.std_dev / right.std_dev, rel=1e-10)
    assert line["ratio"] < 0.95


def test_several_intermediates_each_and_all():
    bench = FrictionBench()
    table = table_of(bench.friction, independent=(bench.velocity, bench.density))
    # the density is an input with nothing in common with the rest
    assert table.loc["density independent", "note"] == "makes no difference here"
    assert table.loc["all 2 independent", "u"] == pytest.approx(
        table.loc["mean velocity independent", "u"], rel=1e-14
    )


def test_an_input_under_two_names_is_one_input():
    # the unlabelled bore was named after its role in each function: still one bore
    bench = FrictionBench()
    table = table_of(bench.friction, independent=bench.bore)
    assert table.loc["length independent", "ratio"] == pytest.approx(1, rel=1e-12)
    assert table.loc["calibration independent", "ratio"] == pytest.approx(1, rel=1e-12)


def test_correct_is_the_uncertainty_of_the_quantity_itself():
    bench = FrictionBench(flow=(1.5, 2.0, 3.0))
    table = shortcuts(bench.friction, independent=bench.velocity)
    correct = table[table["shortcut"] == "correct"]
    np.testing.assert_array_equal(correct["u"], bench.friction.u)
    np.testing.assert_array_equal(correct["U"], bench.friction.expanded().U)
    np.testing.assert_array_equal(correct["reading"], [0, 1, 2])
    assert (correct["ratio"] == 1).all()
    assert list(table.columns) == ["reading", "shortcut", "u", "k", "U", "ratio", "note"]


def test_units_are_those_of_the_quantity():
    reading = VolumeFlowRate(2.0, "L/min", limits(0.1, label="resolution"), label="flow")
    table = table_of(reading)
    assert table.loc["resolution only", "u"] == pytest.approx(0.1 * WIDE, rel=1e-12)
    assert table.loc["added linearly", "u"] == pytest.approx(0.1 * WIDE, rel=1e-12)


@pytest.fixture
def meter():
    return VariableAreaMeter(
        Scale(0.1, "L/min", span=(0.4, 4.0)), percent_of_reading(3), label="meter"
    )


def test_one_reading_does_not_notice_the_calibration(meter):
    table = table_of(meter.read(2.0))
    line = table.loc["calibration independent"]
    assert line["ratio"] == pytest.approx(1, rel=1e-14)
    assert line["note"] == "makes no difference here"
    each = shortcuts(meter.read([2.0, 3.0]))
    assert (each.set_index("shortcut").loc["calibration independent", "ratio"] == 1).all()


@pytest.mark.parametrize("together", [True, False])
def test_difference_of_two_readings_of_one_meter(meter, together):
    if together:
        both = meter.read([3.0, 2.0])
        difference = (both[0] - both[1]).to("L/min")
    else:
        difference = (meter.read(3.0) - meter.read(2.0)).to("L/min")
    table = table_of(difference)
    relative, resolution = 0.03 * WIDE, 0.05 * WIDE
    # one relative error of both: 0.03 (3 - 2); two of them: 0.03 hypot(3, 2)
    own = 2 * resolution**2
    assert table.loc["correct", "u"] == pytest.approx(math.sqrt(relative**2 + own), rel=1e-12)
    assert table.loc["calibration independent", "u"] == pytest.approx(
        math.sqrt(relative**2 * (9 + 4) + own), rel=1e-12
    )
    assert table.loc["resolution only", "u"] == pytest.approx(math.sqrt(own), rel=1e-12)
    assert table.loc["added linearly", "u"] == pytest.approx(relative + 2 * resolution, rel=1e-12)


@pytest.mark.parametrize("count", [2, 9, 40])
def test_mean_of_readings_of_one_meter(meter, count):
    mean = meter.read(np.full(count, 2.0)).mean()
    table = table_of(mean)
    calibration, resolution = 0.06 * WIDE, 0.05 * WIDE
    own = resolution**2 / count
    assert table.loc["correct", "u"] == pytest.approx(math.sqrt(calibration**2 + own), rel=1e-12)
    # as if more readings made the calibration better
    assert table.loc["calibration independent", "u"] == pytest.approx(
        math.sqrt(calibration**2 / count + own), rel=1e-12
    )
    assert table.loc["added linearly", "u"] == pytest.approx(calibration + resolution, rel=1e-12)


def test_differences_in_another_library(meter):
    reading = meter.read([3.0, 2.0])
    ratio = reading[0] / reading[1]
    r = 0.05 * WIDE
    x, y = (ufloat(v, r) * (1 + ufloat(0, 0.03 * WIDE)) for v in (3.0, 2.0))
    assert table_of(ratio).loc["calibration independent", "u"] == pytest.approx(
        (x / y).std_dev, rel=1e-10
    )
    assert table_of(ratio).loc["correct", "u"] == pytest.approx(
        (ufloat(3.0, r) / ufloat(2.0, r)).std_dev, rel=1e-10
    )


def test_slope_of_a_fit():
    # points on a line through equal errors: least squares is the unweighted line, whatever else
    # they have in common; slope = sum of c_i y_i, c_i = (x_i - mean)/S_xx
    x = np.array([1.0, 2.0, 3.0, 4.0])
    y = 5.0 + 3.0 * x
    gauge = Length(y, "m", shared(percent_of_reading(1, k=1)), standard(0.02), label="gauge")
    slope = fit_line(Length(x, "m"), gauge).slope
    c = (x - x.mean()) / np.sum((x - x.mean()) ** 2)
    own = 0.02**2 * np.sum(c**2)
    table = table_of(slope)
    # c y = 3 (the slope), so one relative error is 1 % of it
    assert table.loc["correct", "u"] == pytest.approx(math.sqrt(own + 0.03**2), rel=1e-9)
    assert table.loc["calibration independent", "u"] == pytest.approx(
        math.sqrt(own + 0.01**2 * np.sum((c * y) ** 2)), rel=1e-9
    )


def test_a_bore_stays_one_error_behind_a_mean():
    bench = FrictionBench(flow=(2.0, 2.0, 2.0, 2.0))
    table = table_of(bench.velocity.mean())
    r = bench.relative
    assert table.loc["calibration independent", "u"] / bench.velocity.mean().value == (
        pytest.approx(math.hypot(2 * r["bore"], r["flow"] / 2), rel=1e-12)
    )


def test_what_cancels_wholly_is_infinitely_wrong():
    rule = Length([4.0, 3.0], "m", shared(limits(0.1)), label="rule")
    table = table_of(rule[0] - rule[1])
    assert table.loc["correct", "U"] == 0
    assert math.isinf(table.loc["calibration independent", "ratio"])
    assert table.loc["Type B only", "ratio"] == 1


def test_few_repeats_need_a_larger_factor():
    gap = Length(10.0, "mm", repeated([9.9, 10.0, 10.1]), label="gap")
    table = table_of(gap)
    # t of 2 degrees of freedom [JCGM 100, table G.2]: 4.30
    line = table.loc["k = 2"]
    assert table.loc["correct", "k"] == pytest.approx(4.30, abs=0.005)
    assert line["k"] == 2
    assert line["ratio"] == pytest.approx(2 / stats.t.ppf(0.975, 2), rel=1e-10)
    assert line["note"] == "2 effective degrees of freedom ask for k = 4.3 at 95 %"
    assert table.loc["Type B only", "U"] == 0


def test_type_b_alone_leaves_the_repeats_out():
    gap = Length(10.0, "mm", repeated([9.9, 10.0, 10.1]), standard(0.2), label="gap")
    table = table_of(gap)
    line = table.loc["Type B only"]
    assert (line["u"], line["k"]) == (
        pytest.approx(0.2, rel=1e-14),
        pytest.approx(NORMAL, rel=1e-12),
    )


def test_a_normal_distribution_asks_for_less_than_two():
    table = table_of(Length(10.0, "mm", limits(0.1)))
    assert table.loc["k = 2", "ratio"] == pytest.approx(2 / NORMAL, rel=1e-12)
    assert table.loc["k = 2", "note"] == "a normal distribution asks for k = 1.96 at 95 %"


def test_resolution_not_stated_is_said():
    table = table_of(Length(10.0, "mm", limits(0.1), label="rod"))
    assert table.loc["resolution only", "U"] == 0
    assert table.loc["resolution only", "note"] == "none is stated, so nothing is left"


@pytest.mark.parametrize(
    ("label", "counts"),
    [
        ("rule resolution", True),
        ("rule resolution, high column", True),
        ("resolution", True),
        ("rule, resolution of the maker", False),
        ("resolution test of the rule", False),
    ],
)
def test_what_counts_as_resolution(label, counts):
    table = table_of(Length(10.0, "mm", limits(0.1, label=label)))
    assert bool(table.loc["resolution only", "ratio"] == 1) is counts


def test_what_was_estimated_together_adds_up_as_one():
    x = Length([1.0, 2.0, 3.0, 4.0], "m")
    predicted = fit_line(x, Length([1.1, 1.9, 3.2, 3.9], "m"), scatter=True).predict(
        Length(9.0, "m", standard(0.3), label="place")
    )
    table = table_of(predicted)
    assert table.loc["calibration independent", "ratio"] == pytest.approx(1, rel=1e-12)
    scatter = math.sqrt(predicted.u**2 - table.loc["Type B only", "u"] ** 2)
    assert table.loc["added linearly", "u"] == pytest.approx(
        scatter + table.loc["Type B only", "u"], rel=1e-9
    )


def test_row_picks_the_reading():
    bench = FrictionBench(flow=(1.5, 2.0, 3.0))
    one = shortcuts(bench.friction, independent=bench.velocity, row=-1)
    every = shortcuts(bench.friction, independent=bench.velocity)
    assert set(one["reading"]) == {2}
    last = every[every["reading"] == 2].reset_index(drop=True)
    assert list(one["note"]) == list(last["note"])
    np.testing.assert_allclose(one["U"], last["U"], rtol=1e-12)
    with pytest.raises(ShapeError, match="row=3"):
        shortcuts(bench.friction, row=3)


def test_whole_bench_with_repeats_and_two_meters():
    folder = Path(flowunc.bench.__file__).parent / "example"
    bench = load_bench(folder / "bench.toml")
    runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    table = shortcuts(runs.friction, independent=[runs.velocity, runs.density])
    assert len(table) == 9 * len(runs)
    # bore, Q and dp enter as D^5 Q^-2 dp: without the bore's link, 17 D^2 in place of 25 D^2, so
    # runs without repeats come out too small
    single = [run for run in range(len(runs)) if len(runs.sheet.runs[run].rows) == 1]
    velocity = table[table["shortcut"] == "mean velocity independent"].set_index("reading")
    assert (velocity.loc[single, "ratio"] < 1).all()
    text = table.drop(columns="note").to_string()
    assert max(map(len, text.splitlines())) <= 100


def test_an_intermediate_of_something_else_is_refused():
    bench, other = FrictionBench(), FrictionBench()
    with pytest.raises(PropagationError, match="mean velocity given; expected the very quantity"):
        shortcuts(bench.friction, independent=other.velocity)
    with pytest.raises(PropagationError, match="velocity"):
        shortcuts(bench.friction, independent=Velocity(0.1, "m/s", standard(0.01)))


def test_arguments_are_checked():
    with pytest.raises(DimensionError, match="float"):
        shortcuts(0.03)
    with pytest.raises(DimensionError, match="independent"):
        shortcuts(Length(1.0, "m", standard(0.1)), independent=["velocity"])
