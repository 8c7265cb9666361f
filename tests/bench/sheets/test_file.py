"""`read_sheet` as a whole: what only shows when all rows are known."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, DimensionError, SheetError, load_bench, read_sheet
from flowunc.bench.command import EXAMPLE

Write = Callable[..., Path]
ZERO = "zero,,,19.0,10,300.0,300.0,"


def test_the_example_has_what_it_is_there_to_show() -> None:
    sheet = read_sheet(EXAMPLE / "sheet.csv", load_bench(EXAMPLE / "bench.toml"))
    assert "invented" in sheet.rows[0].note
    assert len({found.angle for found in sheet.sets}) == 2
    assert {run.meter for run in sheet.runs} == {"small", "large"}
    assert len({sheet.units[f"meters.{name}"] for name in ("small", "large")}) == 2
    assert sum(len(run.rows) > 1 for run in sheet.runs) == 1


def test_columns_exchanged_name_the_run(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(
        ZERO, "1,small,1.8,19.0,10,309.5,295.5,", "2,small,2.6,19.0,10,287.5,317.0,", ZERO
    )
    with pytest.raises(SheetError) as caught:
        read_sheet(path, bench)
    assert (caught.value.line, caught.value.column) == (4, "high")
    assert "the difference is -29.5 mm" in caught.value.reason
    assert caught.value.reason.endswith("are high and low exchanged?")


def test_noise_about_zero_is_no_exchange(bench: Bench, write_sheet: Write) -> None:
    # two columns read to 1 mm and a zero read likewise: 1 mm below zero is nothing unusual
    path = write_sheet(ZERO, "1,small,0.5,19.0,10,299.5,300.5,", ZERO)
    assert len(read_sheet(path, bench).runs) == 1


def test_columns_that_swing_may_cross_zero(bench: Bench, write_sheet: Write) -> None:
    rows = [f"1,small,0.5,19.0,10,{300 + x},{298 - x}," for x in (6, -3, 5, -2)]
    assert len(read_sheet(write_sheet(ZERO, *rows, ZERO), bench).runs) == 1


def test_the_offset_counts_before_columns_look_exchanged(bench: Bench, write_sheet: Write) -> None:
    zero = "zero,,,19.0,10,280.0,320.0,"
    path = write_sheet(zero, "1,small,1.8,19.0,10,290.0,316.0,", zero)
    assert len(read_sheet(path, bench).runs) == 1


def test_a_path_for_a_bench_is_refused(bench_path: Path, write_sheet: Write) -> None:
    with pytest.raises(DimensionError, match="expected a Bench, as load_bench gives it"):
        read_sheet(write_sheet(ZERO), bench_path)  # type: ignore[arg-type]


def test_many_rows_are_read_in_good_time(bench: Bench, write_sheet: Write) -> None:
    rows = [f"r{number},small,1.8,19.0,10,309.5,295.5," for number in range(9_998)]
    assert len(read_sheet(write_sheet(ZERO, *rows, ZERO), bench).runs) == 9_998
