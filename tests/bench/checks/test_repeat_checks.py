"""Rows of one label that are no repeats of one run."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, FlowuncWarning, load_bench, read_sheet
from flowunc.bench.command import EXAMPLE

Write = Callable[..., Path]
ZERO = "zero,,,19.0,10,300.0,300.0,"


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (
            ["1,small,1.0,19.0,10,305.0,295.0,", "1,small,1.8,19.0,10,309.5,295.5,"],
            "run '1': flow 1 L/min in line 3 and 1.8 L/min in line 4",
        ),
        (
            ["1,small,1.8,19.0,10,309.5,295.5,", "1,small,1.8,22.0,10,309.5,295.5,"],
            "run '1': temperature 19 degC in line 3 and 22 degC in line 4",
        ),
        (
            ["1,small,1.8,19.0,10,330.0,270.0,", "1,small,1.8,19.0,10,309.5,295.5,"],
            "run '1': high less low 60 mm in line 3 and 14 mm in line 4",
        ),
    ],
)
def test_rows_far_apart_are_asked_about(
    rows: list[str], expected: str, bench: Bench, write_sheet: Write
) -> None:
    with pytest.warns(FlowuncWarning, match=re.escape(expected)) as caught:
        read_sheet(write_sheet(ZERO, *rows, ZERO), bench)
    (warning,) = caught
    assert "are these repeats of one run?" in str(warning.message)


@pytest.mark.parametrize(
    "rows",
    [
        # 10 % of flow, 1 K and 21 % of the difference apart
        ["1,small,1.8,19.0,10,330.0,270.0,", "1,small,2.0,20.0,10,336.0,262.0,"],
        # one division of 0.1 apart, at which the resolution explains 22 % of the flow
        ["1,small,0.4,19.0,10,303.0,297.0,", "1,small,0.5,19.0,10,303.0,297.0,"],
        # columns that swing by a few divisions at hardly any flow
        ["1,small,0.5,19.0,10,303.0,297.0,", "1,small,0.5,19.0,10,301.5,298.5,"],
        # of three, the outlier test says which was misread
        [f"1,small,1.8,19.0,10,{high},270.0," for high in (330, 331, 290)],
    ],
)
def test_scatter_is_none_of_that(rows: list[str], bench: Bench, write_sheet: Write) -> None:
    assert len(read_sheet(write_sheet(ZERO, *rows, ZERO), bench).runs) == 1  # warnings are errors


def test_the_zero_counts(bench: Bench, write_sheet: Write) -> None:
    # high less low is 10 and 23 mm, but 60 and 73 mm from the zero
    zero = "zero,,,19.0,10,280.0,330.0,"
    rows = ["1,small,1.8,19.0,10,310.0,300.0,", "1,small,1.8,19.0,10,315.0,292.0,"]
    assert len(read_sheet(write_sheet(zero, *rows, zero), bench).runs) == 1


def test_the_example_has_true_repeats() -> None:
    bench = load_bench(EXAMPLE / "bench.toml")
    repeats = [len(run.rows) for run in read_sheet(EXAMPLE / "sheet.csv", bench).runs]
    assert max(repeats) == 4
