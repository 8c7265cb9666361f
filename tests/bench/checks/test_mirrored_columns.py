"""Columns that mirror each other: seen in sheets, and counted where a bench says so."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from flowunc import Bench, BenchError, FlowuncWarning, analyse, load_bench, read_sheet
from flowunc.bench.checks.consistency import consistency
from flowunc.bench.checks.mirrored_columns import mirror_findings
from flowunc.bench.sheets.sheet import Sheet

Write = Callable[..., Path]
ROOT3 = math.sqrt(3.0)
ANGLE = "angle_accuracy = { limits = 0.3 }"


def zero(high: int, low: int, angle: int = 10) -> str:
    return f"zero,,,19.0,{angle},{high},{low},"


def run(label: str, high: int, low: int, angle: int = 10) -> str:
    return f"{label},small,1.8,19.0,{angle},{high},{low},"


def quietly(path: Path, bench: Bench) -> Sheet:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FlowuncWarning)
        return read_sheet(path, bench)


MIRRORED = (zero(300, 300), run("a", 305, 295), run("b", 309, 291), zero(300, 300))


def test_a_sheet_of_mirrored_columns_warns(bench: Bench, write_sheet: Write) -> None:
    with pytest.warns(FlowuncWarning, match="One column is the mirror image of the other") as seen:
        sheet = read_sheet(write_sheet(*MIRRORED), bench)
    (found,) = mirror_findings(sheet, bench)
    assert (found.runs, found.verdict) == (("a", "b"), "mirrored")
    assert found.sentence in str(seen[0].message)
    # changes of 10 and 18 mm from the smallest difference: 1 of 11 and 1 of 19 ways
    assert f"by chance {100 / (11 * 19):.1g} %" in found.sentence
    assert (
        "stays within 1 mm, the step to which the scale is read, over 3 different" in found.sentence
    )
    for advice in ("mirrored = true", "read one column only", "by half a step"):
        assert advice in found.sentence
    checks = consistency(analyse(sheet, bench), trials=1000)
    assert [(c.check, c.verdict, c.sentence) for c in checks.alarms] == [
        ("columns", "mirrored", found.sentence)
    ]


@pytest.mark.parametrize(
    "rows",
    [
        # the sum varies by two steps
        (zero(300, 300), run("a", 305, 295), run("b", 309, 293), zero(300, 300)),
        # two different deflections
        (zero(300, 300), run("a", 309, 291), run("b", 309, 291), zero(300, 300)),
        # three of them, but a change by 1 and 2 steps: 2 of 2 * 3 ways
        (zero(300, 300), run("a", 301, 300), run("b", 301, 299), zero(300, 300)),
        # both values of the sum, about as often: rounding errors cancel in part
        (zero(300, 300), run("a", 305, 296), run("b", 309, 291), zero(301, 300)),
        # read between the steps, so it is not known to what they were rounded
        (zero(300, 300), run("a", 305.5, 294.5), run("b", 309, 291), zero(301, 299)),  # type: ignore[arg-type]  # so it is written
    ],
    ids=["sum varies", "two deflections", "chance", "both sums", "between steps"],
)
def test_nothing_is_said_of(rows: tuple[str, ...], bench: Bench, write_sheet: Write) -> None:
    assert mirror_findings(read_sheet(write_sheet(*rows), bench), bench) == ()  # no warning


def test_an_odd_sum_now_and_then_is_within_a_step(bench: Bench, write_sheet: Write) -> None:
    rows = [run(str(n), 302 + 3 * n, 298 - 3 * n) for n in range(5)]
    rows[2] = run("2", 309, 292)
    (found,) = mirror_findings(quietly(write_sheet(zero(300, 300), *rows), bench), bench)
    assert found.verdict == "mirrored"


@pytest.mark.parametrize("changes", [(2, 4, 12), (1, 4, 6, 8), (3, 6, 8, 10)])
def test_chance_is_that_of_columns_that_share_a_change_in_any_proportion(
    changes: tuple[int, ...], bench: Bench, write_sheet: Write
) -> None:
    # every way to share every change, counted
    totals = [
        [0, *(2 * up - change for up, change in zip(chosen, changes, strict=True))]
        for chosen in product(*(range(change + 1) for change in changes))
    ]
    expected = np.mean([np.ptp(row) <= 1 for row in totals])
    rows = [
        run(str(n), 300 + (change + 1) // 2, 300 - change // 2) for n, change in enumerate(changes)
    ]
    sheet = quietly(write_sheet(zero(300, 300), *rows, zero(300, 300)), bench)
    (found,) = mirror_findings(sheet, bench)
    assert 1e-5 < expected < 0.01
    assert f"by chance {100 * expected:.1g} %" in found.sentence


def test_sets_count_together_where_all_keep_their_sum(bench: Bench, write_sheet: Write) -> None:
    # 1/3 * 1/5 = 7 % in one set, 0.4 % in two; the board stands elsewhere in the second one
    one = (zero(300, 300), run("a", 301, 299), run("b", 302, 298), zero(300, 300))
    two = (
        zero(310, 310, 20),
        run("c", 311, 309, 20),
        run("d", 312, 308, 20),
        zero(310, 310, 20),
    )
    assert mirror_findings(quietly(write_sheet(*one), bench), bench) == ()
    (found,) = mirror_findings(quietly(write_sheet(*one, *two), bench), bench)
    assert found.runs == ("a", "b", "c", "d")
    assert "by chance 0.4 %" in found.sentence


def test_resolution_where_the_bench_says_so(
    bench: Bench, write_bench: Write, write_sheet: Write
) -> None:
    stated = load_bench(write_bench((ANGLE, f"{ANGLE}\nmirrored = true")))
    path = write_sheet(*MIRRORED)
    sheet = read_sheet(path, stated)  # no warning
    (found,) = mirror_findings(sheet, stated)
    assert found.verdict == "mirrored as stated"
    assert not consistency(analyse(sheet, stated), trials=1000).alarms
    budget = analyse(sheet, stated).budget("a", "pressure_drop").set_index("component")
    mine = budget[budget.index.str.startswith("manometer resolution")]
    assert sorted(mine.index) == [
        "manometer resolution, both columns",
        "manometer resolution, zero, both columns",
    ]
    # 2 e of a rectangular e within 0.5 mm, from a difference of 10 mm; two zeros halved
    drop = float(analyse(sheet, stated).pressure_drop[0].value)
    both, zeros = (float(mine.loc[name, "contribution"]) for name in sorted(mine.index))
    assert both / drop == pytest.approx(2 * 0.5 / ROOT3 / 10, rel=1e-9)
    assert zeros / drop == pytest.approx(2 * 0.5 / ROOT3 / math.sqrt(2) / 10, rel=1e-9)
    apart = analyse(quietly(path, bench), bench).budget("a", "pressure_drop")
    apart = apart.set_index("component")
    high = float(apart.loc["manometer resolution, high column", "contribution"])
    assert both == pytest.approx(2 * high, rel=1e-9)


def test_a_sheet_that_denies_what_the_bench_says(write_bench: Write, write_sheet: Write) -> None:
    stated = load_bench(write_bench((ANGLE, f"{ANGLE}\nmirrored = true")))
    rows = (zero(300, 300), run("a", 305, 295), run("b", 309, 296), zero(300, 300))
    (found,) = mirror_findings(read_sheet(write_sheet(*rows), stated), stated)
    assert found.verdict == "not as stated"
    assert "varies by 5 mm within a set" in found.sentence


@pytest.mark.parametrize("word", ['"yes"', "1"])
def test_anything_but_true_or_false_is_refused(word: str, write_bench: Write) -> None:
    with pytest.raises(BenchError, match=r"manometer\.mirrored': got .* expected true or false"):
        load_bench(write_bench((ANGLE, f"{ANGLE}\nmirrored = {word}")))
