"""The command line, called inside the process."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc.bench.command import main

Write = Callable[..., Path]
ZERO = "zero,,,19.0,10,300.0,300.0,"
RUN = "1,small,1.8,19.0,10,309.5,295.5,"
QUICK = ["--trials", "2000"]


def test_a_sheet_of_ones_own(
    bench_path: Path, write_sheet: Write, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_sheet(ZERO, RUN, ZERO)
    assert main([str(path), "--bench", str(bench_path), *QUICK]) == 0
    out, err = capsys.readouterr()
    assert f"Sheet: {path}" in " ".join(out.split())
    assert err == ""


def test_what_cannot_be_used_is_one_line_and_status_2(
    bench_path: Path, write_sheet: Write, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_sheet(ZERO, RUN.replace("1.8", "much"), ZERO)
    assert main([str(path), "--bench", str(bench_path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        f"flowunc: {path}, line 3, column 'flow': 'much' is not a number; expected one such as "
        "1.8\n"
    )


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["sheet.csv"], "flowunc: --bench BENCH, its bench, is missing; give both, or none for"),
        (["--bench", "b.toml"], "flowunc: SHEET, the lab sheet, is missing"),
        (["s.csv", "--bench", "none.toml"], "flowunc: none.toml: no such file; expected the bench"),
    ],
)
def test_missing_files(
    arguments: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    assert capsys.readouterr().err.startswith(expected)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["--level", "1"], "argument --level: got '1'; expected a probability between 0 and 1"),
        (["--level", "nan"], "argument --level: got 'nan'; expected a probability"),
        (["--seed", "-1"], "argument --seed: got -1; expected a whole number from 0"),
        (["--seed", "x"], "argument --seed: got 'x'; expected a whole number from 0"),
        (["--trials", "10"], "argument --trials: got 10; expected a whole number from 1000"),
        (["--colour"], "unrecognized arguments: --colour"),
    ],
)
def test_wrong_options(
    arguments: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(arguments)
    assert caught.value.code == 2
    assert expected in capsys.readouterr().err


def test_warnings_are_one_line_each(
    bench_path: Path, write_sheet: Write, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_sheet(ZERO, RUN)
    assert main([str(path), "--bench", str(bench_path), *QUICK]) == 0
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"flowunc: warning: {path}, line 3: no zero row at 10 deg after this")


def test_a_bug_is_no_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(path: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("flowunc.bench.command.load_bench", broken)
    with pytest.raises(ZeroDivisionError):
        main([])


def test_options_reach_the_report(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*QUICK, "--level", "0.9", "--seed", "7"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Coverage 90 %" in out
    assert "from 2000 draws (seed 7)" in out
