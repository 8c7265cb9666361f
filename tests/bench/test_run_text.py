"""The printed report: width, numbers, and what it says in which case."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, analyse, load_bench, read_sheet
from flowunc.bench.command import EXAMPLE

Write = Callable[..., Path]
ZERO = "zero,,,19.0,10,300.0,300.0,"


def report(bench: Bench, path: Path, trials: int = 20_000, **options: float) -> str:
    text = analyse(read_sheet(path, bench), bench).text(trials=trials, **options)  # type: ignore[arg-type]
    assert max(map(len, text.splitlines())) <= 100
    return text


def plain(text: str) -> str:
    return " ".join(text.split())


def test_the_example_says_the_essentials() -> None:
    text = report(load_bench(EXAMPLE / "bench.toml"), EXAMPLE / "sheet.csv", 200_000)
    lines = text.splitlines()
    assert "(10 runs in 2 sets)" in text
    assert "Coverage 95 %" in text
    assert re.search(r"^run +meter +flow +t/degC +Re +f +regime +law +E_n$", text, re.M)
    assert re.search(r"^9 \(4x\) +large +14.1 L/min +20.8 +\d+ ± \d+ ", text, re.M)
    assert re.search(
        r"^1 +small +30 L/h +20.4 +\d+ ± \d+ +0\.\d+ to 0\.\d+\* laminar 100%", text, re.M
    )
    assert "What limits f most, by single error: the " in text
    assert "for a look" not in text  # its readings fit each other
    assert "the linear method fails for f, whose distribution is skewed" in plain(text)
    assert "Run 4: held against no law, as transitional flow has no law." in text
    assert "9 of 9 agree" in text
    assert "follow local rules, ask qualified staff" in lines[-1]


def test_long_names_are_cut_and_numbers_are_not(write_bench: Write, write_sheet: Write) -> None:
    name = "the_second_smallest_of_all_meters"
    bench = load_bench(write_bench(("[meters.small]", f"[meters.{name}]")))
    label = "an evening run with a very long label"
    path = write_sheet(ZERO, f"{label},{name},1.8,19.0,10,309.5,295.5,", ZERO)
    text = report(bench, path)
    assert re.search(r"^an .*\.\. +the_.*\.\. +1\.8 L/min +19\.0 +", text, re.M)
    assert label not in text.split("share of u^2")[0]


def test_disagreement_is_named(bench: Bench, write_sheet: Write) -> None:
    # laminar flow with three times the head that 64/Re asks for
    path = write_sheet(ZERO, "7,small,1.8,19.0,10,321.0,281.0,", ZERO)
    text = plain(report(bench, path))
    assert re.search(r"Run 7 disagrees with theory: f = 0\.\d+ lies above 0\.03\d+ by more", text)
    assert "0 of 1 agree" in text


def test_every_run_limited_by_one_source(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(ZERO, "7,large,0.10,19.0,10,378.0,220.0,", ZERO)
    assert "by single error: the large meter calibration, in every run." in report(bench, path)


def test_when_the_linear_method_holds_everywhere(write_bench: Write, write_sheet: Write) -> None:
    bench = load_bench(
        write_bench(
            (
                "accuracy = { error_limit = 3.0, linearity_limit = 40 }",
                "accuracy = { standard = 0.02 }",
            ),
            ('unit = "L/min"\ndivision = 0.1', 'unit = "L/min"\ndivision = 0.01'),
        )
    )
    path = write_sheet(ZERO, "1,small,3.6,19.0,10,333.0,267.0,", ZERO)
    assert "The linear method holds for f in every run." in report(bench, path, 200_000)


def test_few_draws_are_said_to_be_few(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(ZERO, "1,small,1.0,19.0,10,304.0,296.0,", ZERO)
    text = plain(report(bench, path, 1000))
    assert "Run 1: the draws are too few to say whether the linear method holds for f" in text


def test_readings_keep_the_digits_of_the_scale(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(
        ZERO,
        "a,large,0.1,19,10,378,220,",
        "b,large,0.105,19.25,10,380,218,",
        "c,small,2,19.5,10,312,292,",
        ZERO,
    )
    text = report(bench, path)
    assert re.search(r"^a +large +0\.10 L/s +19\.0 ", text, re.M)
    assert re.search(r"^b +large +0\.105 L/s +19\.25 ", text, re.M)
    assert re.search(r"^c +small +2\.0 L/min +19\.5 ", text, re.M)


def test_readings_are_plain_numbers_as_read(write_bench: Write, write_sheet: Write) -> None:
    old = 'unit = "L/min"\ndivision = 0.1\nspan = [0.4, 4.0]'
    new = 'unit = "L/h"\ndivision = 10\nspan = [20, 400]'
    bench = load_bench(write_bench((old, new)))
    path = write_sheet(
        ZERO, "a,small,200,19,10,370,230,", "b,small,44.37,19.0,10,304.0,294.0,", ZERO
    )
    text = report(bench, path)
    assert re.search(r"^a +small +200 L/h ", text, re.M)
    assert re.search(r"^b +small +44\.37 L/h ", text, re.M)


def test_alarms_of_the_readings_are_shown(bench: Bench, write_sheet: Write) -> None:
    late = ZERO.replace("300.0,300.0", "312.0,300.0")
    rows = [f"1,small,1.8,19.0,10,{high},295," for high in (309, 310, 308, 309, 320, 309)]
    path = write_sheet(ZERO, *rows, "2,small,1.8,19.0,10,309,295,dye mixed", late)
    text = report(bench, path)
    after_tables = plain(text.split("linear method for f")[1])
    assert "3 checks of the readings against each other ask for a look:" in after_tables
    # 12 mm between the zeros; the repeat of line 7 lies 10 mm off; laminar, but mixed
    assert re.search(r"- Runs 1 and 2 at 10 deg: the balance changed by 12\.0 ± ", after_tables)
    assert "- Run 1: high 320 mm in line 7 (outlier" in after_tables
    assert "- Run 2: noted as turbulent (mixed), but at Re = " in after_tables


def test_one_alarm_is_in_the_singular(bench: Bench, write_sheet: Write) -> None:
    late = ZERO.replace("300.0,300.0", "312.0,300.0")
    text = report(bench, write_sheet(ZERO, "1,small,1.8,19.0,10,309,295,", late))
    assert "\n1 check of the readings against each other asks for a look:\n- Run 1 " in text


def test_level_and_seed_are_stated(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(ZERO, "1,small,1.8,19.0,10,309.5,295.5,", ZERO)
    text = plain(report(bench, path, level=0.9, seed=5))
    assert "Coverage 90 %" in text
    assert "from 20000 draws (seed 5)" in text


@pytest.mark.parametrize("count", [40, 600])
def test_many_runs(count: int, bench: Bench, write_sheet: Write) -> None:
    rows = [f"r{n},small,1.8,19.0,10,{309.5 + n % 7},295.5," for n in range(count)]
    text = report(bench, write_sheet(ZERO, *rows, ZERO), 1000)
    assert len(text.splitlines()) > 2 * count
    assert max(map(len, text.splitlines())) <= 100
