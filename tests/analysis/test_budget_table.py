"""Budgets of all readings in one table: the numbers of each single one, and what halving gains."""

from __future__ import annotations

import math
from pathlib import Path
from time import thread_time

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import flowunc.bench
from flowunc import (
    DimensionError,
    Length,
    RangeError,
    StatementError,
    Time,
    VolumeFlowRate,
    analyse,
    concatenate,
    limits,
    load_bench,
    percent_of_reading,
    read_sheet,
    repeated,
    shared,
    standard,
)
from flowunc.analysis.budget_table import budget_table


@pytest.fixture(scope="module")
def runs():
    folder = Path(flowunc.bench.__file__).parent / "example"
    bench = load_bench(folder / "bench.toml")
    return analyse(read_sheet(folder / "sheet.csv", bench), bench)


@pytest.mark.parametrize("of", ["friction", "reynolds", "pressure_drop", "temperature", "density"])
def test_each_reading_has_the_numbers_of_its_own_budget(runs, of):
    # two meters, two settings, repeats of one run: single budgets take the scalar way
    quantity = runs.result(of)
    table = budget_table(quantity)
    assert sorted(set(table["reading"])) == list(range(len(quantity)))
    for reading in range(len(quantity)):
        single = quantity.budget(reading)
        mine = table[table["reading"] == reading].reset_index(drop=True)
        order = ["component", "u"]
        pd.testing.assert_frame_equal(
            mine[list(single.columns)].sort_values(order, ignore_index=True),
            single.sort_values(order, ignore_index=True),
            rtol=1e-10,
            atol=0,
        )
        assert (np.diff(mine["contribution"]) <= 0).all()


def test_single_value_is_reading_zero():
    speed = Length(2.0, "m", limits(0.1), label="way") / Time(4.0, "s", standard(0.1), label="time")
    table = budget_table(speed)
    assert list(table.columns) == [
        "reading",
        "component",
        "source",
        "scope",
        "evaluation",
        "distribution",
        "u",
        "unit",
        "dof",
        "sensitivity",
        "relative_sensitivity",
        "contribution",
        "share",
        "gain_if_halved",
    ]
    assert list(table["reading"]) == [0, 0]
    assert dict(zip(table["component"], table["relative_sensitivity"], strict=True)) == (
        pytest.approx({"way": 1.0, "time": -1.0}, rel=1e-12)
    )


def test_gain_of_halving_with_degrees_of_freedom_by_hand():
    # contributions 3 mm (5 repeats: 4 dof) and 4 mm (certain): u = 5 mm, dof = 5^4/(3^4/4)
    repeats = Length(10.0, "mm", standard(3.0, dof=4), label="repeats")
    total = repeats + Length(20.0, "mm", standard(4.0), label="rule")
    table = budget_table(total, level=0.9).set_index("component")

    def expanded(first, second):
        u = math.hypot(first, second)
        return stats.t.ppf(0.95, u**4 / (first**4 / 4)) * u

    whole = expanded(3.0, 4.0)
    assert table.loc["repeats", "gain_if_halved"] == pytest.approx(
        1 - expanded(1.5, 4.0) / whole, rel=1e-10
    )
    assert table.loc["rule", "gain_if_halved"] == pytest.approx(
        1 - expanded(3.0, 2.0) / whole, rel=1e-10
    )


@pytest.mark.parametrize(
    ("by", "expected"),
    [
        # contributions in mm: gauge 2 (shared) and 1 (each), repeats 2 (A), on two lengths
        ("source", {"gauge": (2, 5 / 9), "repeats": (1, 4 / 9)}),
        ("scope", {"shared": (1, 4 / 9), "each": (2, 5 / 9)}),
        ("evaluation", {"B": (2, 5 / 9), "A": (1, 4 / 9)}),
    ],
)
def test_groups_add_up(by, expected):
    # s/sqrt(3) = 2 for the three repeats: deviations -d, 0, d with s = d
    d = 2 * math.sqrt(3)
    first = Length([10.0, 20.0], "mm", shared(standard(2.0)), standard(1.0), label="gauge")
    second = Length(
        [30.0, 30.0], "mm", repeated([30 - d, 30.0, 30 + d], label="repeats"), label="repeats"
    )
    table = budget_table(first + second, by=by)
    assert list(table.columns) == [
        "reading",
        by,
        "components",
        "contribution",
        "share",
        "gain_if_halved",
    ]
    for reading in (0, 1):
        mine = table[table["reading"] == reading].set_index(by)
        found = {name: (line["components"], line["share"]) for name, line in mine.iterrows()}
        assert set(found) == set(expected)
        for name, (count, share) in expected.items():
            assert found[name] == (count, pytest.approx(share, rel=1e-9))
            contribution = mine.loc[name, "contribution"] * 1000  # m
            assert contribution == pytest.approx(3 * math.sqrt(share), rel=1e-9)


def test_gain_of_a_group_halves_all_of_it():
    a = Length(1.0, "m", standard(2.0, "mm"), standard(3.0, "mm"), label="a")
    b = Length(1.0, "m", standard(6.0, "mm"), label="b")
    table = budget_table(a + b, by="source").set_index("source")
    # 4 + 9 + 36 = 49; a halved: 13/4 + 36; b halved: 13 + 9
    assert table.loc["a", "gain_if_halved"] == pytest.approx(1 - math.sqrt(39.25) / 7, rel=1e-12)
    assert table.loc["b", "gain_if_halved"] == pytest.approx(1 - math.sqrt(22) / 7, rel=1e-12)


def test_a_component_has_lines_only_where_it_contributes():
    small = VolumeFlowRate([1.0, 2.0], "L/min", shared(percent_of_reading(1)), label="small")
    large = VolumeFlowRate([5.0], "L/min", shared(percent_of_reading(2)), label="large")
    table = budget_table(concatenate(small, large)[[2, 0, 1]])
    pairs = list(zip(table["reading"], table["component"], strict=True))
    assert pairs == [(0, "large"), (1, "small"), (2, "small")]


def test_what_cancels_everywhere_keeps_its_line():
    gauge = Length([4.0, 3.0], "m", shared(limits(0.1, label="zero")), standard(0.1), label="gauge")
    table = budget_table(gauge[0] - gauge[1]).set_index("component")
    assert table.loc["zero", "contribution"] == 0
    assert table.loc["zero", "gain_if_halved"] == 0


def test_no_uncertainty_is_an_empty_table():
    for by in ("component", "source"):
        table = budget_table(Length([1.0, 2.0], "m"), by=by)
        assert len(table) == 0
        assert by in table.columns


def test_equal_labels_are_numbered():
    a, b = (Length(1.0, "m", standard(0.1 * n), label="rod") for n in (2, 1))
    assert list(budget_table(a + b)["component"]) == ["rod", "rod (2)"]


def test_many_readings_cost_little_more_than_few():
    # A budget for each reading by itself would take 50 times as long for 50 times the readings.
    def seconds(count):
        q = VolumeFlowRate(np.linspace(1, 2, count), "L/min", limits(0.1), label="0")
        for part in range(1, 20):
            q = q + VolumeFlowRate(1.0, "L/min", limits(0.01 * part), label=str(part))
        best = math.inf
        for _ in range(3):
            start = thread_time()
            assert len(budget_table(q)) == 20 * count
            best = min(best, thread_time() - start)
        return best

    few = seconds(20)
    assert seconds(1000) < 25 * few


def test_main_columns_fit_a_page(runs):
    table = budget_table(runs.friction)
    main = ["reading", "component", "u", "unit", "share", "gain_if_halved"]
    text = table[main].round(4).to_string()
    assert max(map(len, text.splitlines())) <= 100
    text = budget_table(runs.friction, by="source").to_string()
    assert max(map(len, text.splitlines())) <= 100


def test_arguments_are_checked():
    length = Length(1.0, "m", standard(0.1))
    with pytest.raises(DimensionError, match="int 3"):
        budget_table(3)
    with pytest.raises(RangeError, match="instrument"):
        budget_table(length, by="instrument")
    with pytest.raises(StatementError, match="95"):
        budget_table(length, level=95)
