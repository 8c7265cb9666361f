"""Which rows bracket which runs, and which rows are repeats of one run."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, FlowuncWarning, SheetError, load_bench, read_sheet

DATA = Path(__file__).parents[1] / "data"
Write = Callable[..., Path]


def zero(angle: float = 10, difference: float = 0.0) -> str:
    return f"zero,,,19.0,{angle:g},{300 + difference:g},300,"


def run(label: str, angle: float = 10, meter: str = "small", flow: float = 1.8) -> str:
    return f"{label},{meter},{flow:g},19.0,{angle:g},320,290,"


def refusal(path: Path, bench: Bench) -> SheetError:
    with pytest.raises(SheetError) as caught:
        read_sheet(path, bench)
    return caught.value


def test_zero_rows_before_and_after_a_set(bench: Bench, write_sheet: Write) -> None:
    sheet = read_sheet(
        write_sheet(zero(), zero(), run("a"), run("b"), zero(), zero(30), run("c", 30), zero(30)),
        bench,
    )
    first, second = sheet.sets
    assert [r.line for r in first.before] == [2, 3]
    assert [r.label for r in first.runs] == ["a", "b"]
    assert [r.line for r in first.after] == [6]
    assert (second.angle, [r.line for r in second.before]) == (30.0, [7])
    assert [r.label for r in sheet.runs] == ["a", "b", "c"]


def test_one_zero_closes_a_set_and_opens_the_next(bench: Bench, write_sheet: Write) -> None:
    sheet = read_sheet(write_sheet(zero(), run("a"), zero(), run("b"), zero()), bench)
    assert sheet.sets[0].after == sheet.sets[1].before
    assert len(sheet.sets) == 2


def test_blank_lines_do_not_part_what_belongs_together(bench: Bench, write_sheet: Write) -> None:
    sheet = read_sheet(
        write_sheet(zero(), "", run("a"), ",,,,,,,", run("a"), zero(), "", ""), bench
    )
    assert [len(r.rows) for r in sheet.runs] == [2]
    assert sheet.runs[0].line == 4


@pytest.mark.parametrize(
    ("rows", "line", "column", "expected"),
    [
        (
            [run("a"), zero()],
            2,
            "run",
            "run 'a' has no zero row before it; expected a zero row at 10 deg",
        ),
        (
            [zero(30), run("a"), zero()],
            3,
            "run",
            "run 'a' is at 10 deg, but the zero row before it, line 2, is at 30 deg; expected a "
            "zero row at 10 deg before the first run at that angle",
        ),
        (
            [zero(), run("a"), run("b", 30), zero(30)],
            4,
            "run",
            "run 'b' is at 30 deg and follows a run at 10 deg; expected a zero row at 30 deg",
        ),
        (
            [zero(), run("a"), run("a", 30), zero(30)],
            4,
            "angle [deg]",
            "run 'a' is at 30 deg here and at 10 deg on line 3; expected repeats of one run at one",
        ),
    ],
)
def test_a_set_without_a_zero_before_it(
    rows: list[str], line: int, column: str, expected: str, bench: Bench, write_sheet: Write
) -> None:
    found = refusal(write_sheet(*rows), bench)
    assert (found.line, found.column) == (line, column)
    assert found.reason.startswith(expected)


def test_a_set_without_a_zero_after_it_is_a_warning(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(zero(), run("a"), run("b"))
    with pytest.warns(FlowuncWarning, match="line 4: no zero row at 10 deg after this run") as seen:
        sheet = read_sheet(path, bench)
    assert sheet.sets[0].after == ()
    assert [found.filename for found in seen] == [__file__]


def test_zero_rows_beside_no_run_are_a_warning(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(zero(), run("a"), zero(), zero(30))
    with pytest.warns(FlowuncWarning, match="line 5: this zero row at 30 deg stands beside no run"):
        read_sheet(path, bench)


@pytest.mark.parametrize("rows", [[zero(), zero(30)], []])
def test_a_sheet_without_runs(rows: list[str], bench: Bench, write_sheet: Write) -> None:
    expected = "no run; expected rows with flow" if rows else "no rows below the header"
    with pytest.raises(SheetError, match=expected):
        read_sheet(write_sheet(*rows), bench)


def test_repeats_follow_each_other(bench: Bench, write_sheet: Write) -> None:
    sheet = read_sheet(write_sheet(zero(), run("a"), run("a"), run("a"), run("b"), zero()), bench)
    assert [(r.label, len(r.rows)) for r in sheet.runs] == [("a", 3), ("b", 1)]


@pytest.mark.parametrize(
    ("rows", "line", "column", "expected"),
    [
        (
            [zero(), run("a"), run("b"), run("a"), zero()],
            5,
            "run",
            "run 'a' is on line 3 already; expected repeats to follow each other",
        ),
        (
            [zero(), run("a"), zero(), run("a"), zero()],
            5,
            "run",
            "run 'a' is on line 3 already",
        ),
        (
            [zero(), run("a"), zero(), zero(30), run("a", 30), zero(30)],
            6,
            "run",
            "run 'a' is on line 3 already",
        ),
        (
            [zero(), run("a"), run("a", meter="large", flow=0.1), zero()],
            4,
            "meter",
            "run 'a' was read on meter 'small' on line 3 and on 'large' here; expected repeats on",
        ),
    ],
)
def test_repeats_that_are_none(
    rows: list[str], line: int, column: str, expected: str, bench: Bench, write_sheet: Write
) -> None:
    found = refusal(write_sheet(*rows), bench)
    assert (found.line, found.column) == (line, column)
    assert found.reason.startswith(expected)


# -- sheets without angles -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "columns", "zeros", "values", "word"),
    [
        ("u_tube", "high [mm],low [mm]", "350,350", "small,9,19,378,322", "balance"),
        ("transmitter", "reading [Pa]", "-20", "oil,10,30,3230", "zero"),
    ],
)
def test_nothing_is_said_of_angles_where_there_are_none(
    name: str, columns: str, zeros: str, values: str, word: str, write_sheet: Write
) -> None:
    bench = load_bench(DATA / f"{name}.toml")
    header = f"run,meter,flow,temperature [degC],{columns}"
    found = refusal(write_sheet(f"a,{values}", header=header), bench)
    assert (found.line, found.column) == (2, "run")
    assert found.reason == (
        "run 'a' has no zero row before it; expected a zero row before the first run"
    )
    zero_row = f"zero,,,19,{zeros}"
    path = write_sheet(zero_row, f"a,{values}", zero_row, f"b,{values}", header=header)
    with pytest.warns(
        FlowuncWarning, match=f"line 5: no zero row after this run, .* read the {word}"
    ):
        sheet = read_sheet(path, bench)
    assert [[run.label for run in one.runs] for one in sheet.sets] == [["a"], ["b"]]
    assert sheet.sets[1].after == ()
