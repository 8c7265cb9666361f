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


def test_another_law_for_turbulent_runs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--law", "blasius", *QUICK]) == 0
    out = capsys.readouterr().out
    assert "Blasius" in out
    assert "Prandtl" not in out


def test_unknown_law_is_refused_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--law", "blasuis"]) == 2
    err = capsys.readouterr().err
    assert err.startswith("flowunc: --law: got 'blasuis'; did you mean 'blasius'? expected one of ")


def test_law_that_needs_a_roughness_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--law", "haaland"]) == 2
    err = capsys.readouterr().err
    assert err.startswith("flowunc: --law haaland: ")
    assert "takes the roughness of the wall; give pipe.roughness" in err


# -- blank files ---------------------------------------------------------------------------------
def test_template_can_be_filled_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "session"
    assert main(["--template", str(folder)]) == 0
    out = capsys.readouterr().out
    assert f"python -m flowunc {folder / 'sheet.csv'} --bench {folder / 'bench.toml'}" in out
    path = folder / "bench.toml"
    # left blank, it is refused by the first value that is missing
    assert main([str(folder / "sheet.csv"), "--bench", str(path)]) == 2
    assert "key 'pipe.bore" in capsys.readouterr().err
    text = path.read_text(encoding="utf-8")
    for old, new in (
        ('value = "?? mm", limits = "?? mm" }           #', 'value = "16 mm", limits = 0.04 } #'),
        ('value = "?? m", limits = "?? mm" }     #', 'value = "2 m", limits = "2 mm" } #'),
        ('unit = "??"   ', 'unit = "L/h"'),
        ('division = "??"                #', "division = 5 #"),
        ('span = ["??", "??"]            #', "span = [20, 240] #"),
        ('percent_of_reading = "??"', "percent_of_reading = 3"),
        ('unit = "degC"\ndivision = "??"', 'unit = "degC"\ndivision = 0.2'),
        ('accuracy = { limits = "??" }   # or', "accuracy = { limits = 0.2 } # or"),
        ('unit = "mm"\ndivision = "??"\nspan = ["??", "??"]', 'unit = "mm"\ndivision = 1'),
        ('angle_accuracy = { limits = "??" }', "angle_accuracy = { limits = 0.2 }"),
        ('latitude = "?? deg"', 'latitude = "47 deg"'),
        ('height = { value = "?? m", limits = "?? m" }', 'height = { value = "300 m" }'),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    (folder / "sheet.csv").write_text(
        "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note\n"
        "zero,,,20.4,8,352.5,352.0,\n1,small,90,20.4,8,362.5,340.0,\nzero,,,20.4,8,352.5,352,\n",
        encoding="utf-8",
    )
    assert main([str(folder / "sheet.csv"), "--bench", str(path), *QUICK]) == 0


def test_template_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "bench.toml"
    mine.write_text("mine", encoding="utf-8")
    assert main(["--template", str(tmp_path)]) == 2
    assert "it was left as it is" in capsys.readouterr().err
    assert mine.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "sheet.csv").exists()


def test_template_into_nowhere_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--template", str(tmp_path / "no" / "such")]) == 2
    assert "cannot write the blank files there" in capsys.readouterr().err


def test_template_goes_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet.csv", "--template", str(tmp_path / "new")]) == 2
    assert "--template DIR goes alone, without SHEET" in capsys.readouterr().err


def test_report_is_written_where_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "report.md"
    assert main(["--report", str(path), *QUICK]) == 0
    assert f"The report is in {path}" in capsys.readouterr().out
    assert path.stat().st_size > 1_000


@pytest.fixture
def no_analysis(monkeypatch: pytest.MonkeyPatch) -> None:
    def started(*_: object) -> None:
        raise AssertionError("the analysis was started")

    monkeypatch.setattr("flowunc.bench.command.analyse", started)


@pytest.mark.usefixtures("no_analysis")
@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("report.pdf", "ends in '.pdf'; expected .html, .md or .tex"),
        ("none/report.md", "does not exist; make it first"),
        ("folder.md", "this is a folder; expected the name of a file in it"),
    ],
)
def test_a_place_for_the_report_is_checked_first(
    name: str, expected: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "folder.md").mkdir()
    assert main(["--report", str(tmp_path / name)]) == 2
    err = capsys.readouterr().err
    assert err.startswith(f"flowunc: --report {tmp_path / name}: ")
    assert expected in err


@pytest.mark.usefixtures("no_analysis")
@pytest.mark.parametrize(
    ("groups", "expected"),
    [
        (["5,66"], "--same-flow 5,66: no run '66'; "),
        (["5"], "--same-flow 5: expected two or more different runs with commas between them"),
        (["5 6"], "--same-flow 5 6: expected two or more different runs with commas"),
        (["5,5"], "--same-flow 5,5: expected two or more different runs"),
        (["5,6", "7,"], "--same-flow 7,: expected two or more different runs"),
    ],
)
def test_groups_are_checked_first(
    groups: list[str], expected: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = [word for group in groups for word in ("--same-flow", group)]
    assert main(["--report", str(tmp_path / "r.md"), *options]) == 2
    assert capsys.readouterr().err.startswith(f"flowunc: {expected}")


@pytest.mark.usefixtures("no_analysis")
def test_groups_without_a_report_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--same-flow", "5,6"]) == 2
    assert "--same-flow 5,6 compares runs in the report; give --report" in capsys.readouterr().err


def test_groups_reach_the_report(tmp_path: Path) -> None:
    path = tmp_path / "r.md"
    assert main(["--report", str(path), "--same-flow", "5, 6", *QUICK]) == 0
    assert "at one setting of the valve: runs 5, 6" in path.read_text(encoding="utf-8")
