"""Notes on the dye: what they say, what they leave open, and what Re says to them.

What a thread of dye looks like in each regime is common practice, no source; so are the readings
expected here, each of which a person at the bench would agree with.
"""

from __future__ import annotations

import math

import pytest
from scipy import stats

from flowunc import DimensionError, ReynoldsNumber, ShapeError, regime, standard
from flowunc.bench.checks.dye_notes import compare_dye_notes, read_dye_note


@pytest.mark.parametrize(
    ("note", "expected"),
    [
        ("dye thread steady", "laminar"),
        ("Dye thread STRAIGHT over the whole length", "laminar"),
        ("thread unbroken", "laminar"),
        ("dye thread steady, float hardly off its seat", "laminar"),
        ("float not steady, dye thread straight and unbroken", "laminar"),
        ("valve not touched; thread steady", "laminar"),
        ("thread breaks up and comes back", "transitional"),
        ("dye: breaks up, then comes back", "transitional"),
        ("filament wavering", "transitional"),
        ("dye wavers", "transitional"),
        ("puffs of dye", "transitional"),
        ("dye intermittent", "transitional"),
        ("dye mixed", "turbulent"),
        ("dye mixes", "turbulent"),
        ("dye dispersed at the inlet", "turbulent"),
        ("dye disappears at once", "turbulent"),
        ("dye spread immediately", "turbulent"),
        ("columns steady; dye mixed", "turbulent"),
    ],
)
def test_plain_notes(note: str, expected: str) -> None:
    found = read_dye_note(note)
    assert (found.regime, found.reason) == (expected, "")
    assert found.words


@pytest.mark.parametrize(
    "note",
    [
        # negations, doubts and conditions do not say what was seen
        "dye not steady",
        "thread isn't straight",
        "thread isn’t straight",
        "dye never mixed",
        "thread almost steady",
        "thread hardly wavering",
        "dye steady?",
        "not sure, thread steady",
        "dye thread steady, but not always",
        "perhaps: dye mixed",
        "thread no longer unbroken",
        "dye partly mixed",
        "new dye mixed in",
        # two regimes at once
        "thread steady at first, then breaks up",
        "dye straight near the inlet, mixed downstream",
        # other words, however near
        "dye unsteady",
        "dye broken",
        "dye disappears",
        "dye spreads",
        "thread wavy",
        "dye mixture blue",
        "laminar dye",
        # something else is named
        "float steady",
        "columns straight",
        "dye thread and float steady with the valve open",
        "dye on, float steady",
        "dye bottle mixed",
        "steady",
        "breaks up",
        "columns swing: read four times",
        "valve not touched: same flow on the other meter",
        "board moved to the steep setting",
        "",
        "   ",
    ],
)
def test_nothing_is_guessed(note: str) -> None:
    found = read_dye_note(note)
    assert found.regime == ""
    assert found.reason


@pytest.mark.parametrize(
    ("note", "reason"),
    [
        ("dye not steady", "'not' leaves open what was seen"),
        ("dye blue", "no word of it is in the vocabulary"),
        ("dye steady, then mixed", "it has signs of laminar and turbulent flow"),
        ("float steady", "the dye is not named"),
        ("dye above the float steady", "the dye stands beside something else"),
    ],
)
def test_the_reason_is_given(note: str, reason: str) -> None:
    assert read_dye_note(note).reason == reason


def test_notes_against_probabilities_from_scipy() -> None:
    re = ReynoldsNumber([1500, 2330, 2500, 3000, 4030, 6000], "1", standard(50))
    notes = [
        "dye steady",
        "dye steady",
        "dye steady",
        "thread wavers",
        "thread breaks up",
        "float steady",
    ]
    found = compare_dye_notes(notes, regime(re, seed=1))
    laminar = [stats.norm(x, 50).cdf(2300) for x in (1500, 2330, 2500)]
    between = [stats.norm(x, 50).cdf(4000) - stats.norm(x, 50).cdf(2300) for x in (3000, 4030)]
    # 100 000 draws: three standard errors are at most 0.0047
    for finding, probability in zip(found, laminar + between, strict=False):
        assert finding.probability == pytest.approx(probability, abs=0.0047)
    assert [finding.verdict for finding in found] == [
        "agrees",
        "undecided",
        "contradicts",
        "agrees",
        "undecided",
        "no statement",
    ]
    assert math.isnan(found[-1].probability)
    assert found[2].computed == "transitional"
    assert "a calm inlet" in found[2].sentence
    assert "noted as transitional (breaks up)" in found[4].sentence


def test_five_percent_is_the_limit() -> None:
    # P(Re < 2300) is 6 % and 4 %: 1.555 and 1.751 standard deviations below
    re = ReynoldsNumber([2300 + 1.555 * 50, 2300 + 1.751 * 50], "1", standard(50))
    found = compare_dye_notes(["dye steady"] * 2, regime(re, seed=2))
    assert [finding.verdict for finding in found] == ["undecided", "contradicts"]


def test_turbulent_dye_in_slow_flow() -> None:
    (found,) = compare_dye_notes(["dye mixed"], regime(ReynoldsNumber(900, "1", standard(20))))
    assert found.verdict == "contradicts"
    assert "most probable is laminar" in found.sentence
    assert "a disturbed inlet" in found.sentence


def test_wrong_arguments_are_refused() -> None:
    regimes = regime(ReynoldsNumber([900, 1000], "1", standard(20)), trials=1000)
    with pytest.raises(ShapeError, match="1 notes for 2 runs"):
        compare_dye_notes(["dye mixed"], regimes)
    with pytest.raises(DimensionError, match="one note for each run"):
        compare_dye_notes("dye mixed", regimes)
    with pytest.raises(DimensionError, match="expected the result of regime"):
        compare_dye_notes([""], 3.0)  # type: ignore[arg-type]
    with pytest.raises(DimensionError, match="expected text"):
        read_dye_note(None)  # type: ignore[arg-type]
