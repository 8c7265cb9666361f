"""The zero of a set: offset, resolution, drift, and what two sets have in common."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, FlowuncWarning, Length, read_sheet
from flowunc.bench.checks.column_balance import column_balance

Write = Callable[..., Path]
ROOT3 = math.sqrt(3.0)


def zero_of(bench: Bench, path: Path) -> Length:
    return column_balance(read_sheet(path, bench), bench).zero.to("mm")


def zero(high: float, low: float = 300.0) -> str:
    return f"zero,,,19.0,10,{high},{low},"


def run(label: str) -> str:
    return f"{label},small,1.8,19.0,10,320,290,"


def test_offset_resolution_and_drift_of_a_set(bench: Bench, write_sheet: Write) -> None:
    found = zero_of(bench, write_sheet(zero(300.5), run("a"), run("b"), zero(302.0)))
    assert found.value == pytest.approx([1.25, 1.25])
    # four readings of 1 mm division, halved: sqrt(4) 0.5/sqrt(3)/2; drift: limits 0.75 mm
    expected = math.hypot(math.sqrt(4) * 0.5 / ROOT3 / 2, 0.75 / ROOT3)
    assert found.u == pytest.approx([expected] * 2, rel=1e-12)
    assert (found[0] - found[1]).u == 0.0  # one zero for the whole set


def test_drift_between_two_zeros_read_alike_is_none(bench: Bench, write_sheet: Write) -> None:
    found = zero_of(bench, write_sheet(zero(301), run("a"), zero(301)))
    assert found.u == pytest.approx([0.5 / ROOT3], rel=1e-12)


def test_without_a_zero_after_the_offset_is_the_one_before(
    bench: Bench, write_sheet: Write
) -> None:
    path = write_sheet(zero(301.5), run("a"))
    with pytest.warns(FlowuncWarning, match="so the drift of the zero over its set is not known"):
        found = zero_of(bench, path)
    assert found.value == pytest.approx([1.5])
    assert found.u == pytest.approx([math.sqrt(2) * 0.5 / ROOT3], rel=1e-12)


def test_zero_rows_that_follow_each_other_are_averaged(bench: Bench, write_sheet: Write) -> None:
    found = zero_of(bench, write_sheet(zero(300), zero(301), run("a"), zero(302)))
    # mean of 0.5 (two rows) and 2.0 (one row)
    assert found.value == pytest.approx([1.25])
    # resolution as of one row each; drift limits 0.75; the two rows disagree by 1: limits 0.5,
    # of which the mean of both zeros has half
    expected = math.sqrt(0.5**2 + 0.75**2 + 0.25**2) / ROOT3
    assert found.u == pytest.approx([expected], rel=1e-12)


def test_a_zero_between_two_sets_is_one_reading_of_both(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(zero(300), run("a"), zero(300), run("b"), zero(300))
    first, second = zero_of(bench, path)
    # (z1 + z2)/2 and (z2 + z3)/2 have the error of z2 in common: r = 1/2
    assert first.correlation(second) == pytest.approx(0.5, rel=1e-12)
    assert (first - second).to("mm").u == pytest.approx(0.5 / ROOT3, rel=1e-12)


def test_sets_apart_have_nothing_in_common(bench: Bench, write_sheet: Write) -> None:
    path = write_sheet(
        zero(300),
        run("a"),
        zero(301),
        zero(300).replace(",10,", ",30,"),
        run("b").replace(",10,", ",30,"),
        zero(300).replace(",10,", ",30,"),
    )
    first, second = zero_of(bench, path)
    assert first.correlation(second) == 0.0


def test_drifts_of_two_sets_have_two_names(bench: Bench, write_sheet: Write) -> None:
    found = zero_of(
        bench,
        write_sheet(
            zero(300),
            run("a"),
            zero(302),
            zero(301).replace(",10,", ",20,"),
            run("b").replace(",10,", ",20,"),
            zero(304).replace(",10,", ",20,"),
        ),
    )
    drifts = [component.label for component in found.components if "drift" in component.label]
    assert drifts == [
        "manometer zero drift, lines 2 to 4",
        "manometer zero drift, lines 5 to 7",
    ]
