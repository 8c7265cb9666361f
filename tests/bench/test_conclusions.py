"""One line of conclusions per run."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from flowunc import Bench, Length, Ratio, Runs, analyse, limits, load_bench, read_sheet, shared
from flowunc.bench.command import EXAMPLE
from flowunc.bench.conclusions import limiting_instruments, limiting_sources

Write = Callable[..., Path]


@pytest.fixture(scope="module")
def runs() -> Runs:
    bench = load_bench(EXAMPLE / "bench.toml")
    return analyse(read_sheet(EXAMPLE / "sheet.csv", bench), bench)


def test_parts_of_one_source_count_together() -> None:
    x = Length([1, 2], "m", limits(0.03), label="x, high")
    y = Length([1, 2], "m", limits(0.03), label="x, low")
    z = Length(0, "m", limits(0.04), label="z")
    w = Length([1, 2], "m", shared(limits(0.001)), label="w")
    found = limiting_sources(x + y + z + w)
    # variances 9 + 9, 16 and 0.01 in units of 1e-4/3
    assert found == [("x", pytest.approx(18 / 34.01, rel=1e-12))] * 2


def test_the_largest_share_is_chosen_for_each_reading() -> None:
    x = Ratio([1, 100], "1")
    a, b = Length(1, "m", limits(0.1), label="a"), Length(1, "m", limits(1), label="b")
    found = limiting_sources(x * a + b)
    assert [name for name, _ in found] == ["b", "a"]
    assert limiting_sources(x) == [("-", 0.0)] * 2  # no uncertainty, no source


def test_an_instrument_counts_as_in_the_table_by_source(runs: Runs) -> None:
    table = runs.budgets(by="source")
    first = table.groupby("run", sort=False)["source"].first()
    assert limiting_instruments(runs.friction) == [first[label] for label in runs.labels]
    # run 7: resolution and calibration of one meter are two errors and one instrument
    assert limiting_instruments(runs.friction)[6] == "large meter"
    assert limiting_instruments(Length(1, "m")) == ["-"]


def test_lines_of_the_example(runs: Runs) -> None:
    lines = runs.lines()
    assert [line.run for line in lines] == list(runs.labels)
    assert [line.repeats for line in lines] == [1] * 8 + [4, 1]
    assert {line.regime for line in lines} == {"laminar", "transitional", "turbulent"}
    assert lines[0].friction.verdict == "fails"  # near zero flow
    by_run = {line.run: line for line in lines}
    # the same flow on both meters: 210 L/h and 3.5 L/min, and nearly the same f
    assert by_run["5"].flow / 60 == pytest.approx(by_run["6"].flow, rel=1e-12)
    assert by_run["5"].friction.value == pytest.approx(by_run["6"].friction.value, rel=0.02)


def test_intervals_come_from_the_method_that_holds(runs: Runs) -> None:
    check = runs.cross_check("friction")
    drawn_low, drawn_high = check.drawn.interval(0.95, kind="symmetric")
    linear_low, linear_high = runs.friction.interval(0.95)
    for row, line in enumerate(runs.lines()):
        f = line.friction
        linear = f.verdict == "holds"
        low, high = (linear_low, linear_high) if linear else (drawn_low, drawn_high)
        assert (f.low, f.high) == (
            pytest.approx(np.asarray(low)[row], rel=1e-12),
            pytest.approx(np.asarray(high)[row], rel=1e-12),
        )
        assert math.isnan(f.expanded) is not linear
        assert f.digits >= 1 if linear else f.digits == 0


def test_shares_are_those_of_the_budget(runs: Runs) -> None:
    for line in runs.lines():
        budget = runs.budget(line.run)
        sources = budget["component"].str.split(",").str[0]
        shares = budget["share"].groupby(sources).sum().sort_values()
        assert (shares.index[-1], shares.iloc[-1]) == (
            line.limited_by,
            pytest.approx(line.share, rel=1e-9),
        )


def test_level_widens_the_interval(bench: Bench, write_sheet: Write) -> None:
    zero = "zero,,,19.0,10,300.0,300.0,"
    sheet = read_sheet(write_sheet(zero, "1,small,1.8,19.0,10,309.5,295.5,", zero), bench)
    runs = analyse(sheet, bench)
    (wide,), (narrow,) = (runs.lines(level=level, trials=20_000) for level in (0.95, 0.68))
    ratio = (wide.friction.high - wide.friction.low) / (narrow.friction.high - narrow.friction.low)
    assert ratio == pytest.approx(1.960 / 0.994, rel=0.05)  # factors of the normal distribution
