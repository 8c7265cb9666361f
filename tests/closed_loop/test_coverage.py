"""Do the intervals of single runs contain the truth as often as they should?

How often they should is no round number: a linear interval over-covers where one rectangular error
dominates, and under-covers where Welch and Satterthwaite's formula is at its limit. So the counts
are held against the same method in NumPy (reference_analysis.py), applied to sessions of its own.
Both counts are binomial; "within 3" means three standard deviations of their difference. Seeds are
fixed.

Expected coverage comes in two kinds. *As stated*: every error just as the description has it.
*Rounded*: readings rounded as a person does it, the rest as stated. Where the two differ, rounding
is no uniform noise; these cases are in test_known_limits.py.
"""

from __future__ import annotations

import numpy as np
import pytest
from closed_loop import (
    Counted,
    Coverage,
    Scenario,
    coverages,
    expected,
    observed,
    one_by_one,
)
from reference_analysis import QUANTITIES
from scenarios import FEW_REPEATS, MAIN, NEAR_ZERO
from simulated_bench import Sessions, World

import flowunc as fu

WITHIN = 3.0
SCENARIOS = [MAIN, FEW_REPEATS, NEAR_ZERO]


def far(rows: list[Coverage]) -> list[Coverage]:
    return [row for row in rows if abs(row.distance) > WITHIN]


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda s: s.name)
def test_linear_intervals(scenario: Scenario) -> None:
    seen = observed(scenario, 400, 21)
    assert far(coverages(scenario, seen, expected(scenario, 20_000, 22, rounding=True))) == []


def test_drawn_and_reported_intervals() -> None:
    seen = observed(MAIN, 120, 23, trials=1000)
    wanted = expected(MAIN, 20_000, 24, rounding=True)
    by_draws = expected(MAIN, 300, 25, trials=1000, rounding=True)
    wanted |= {key: hits for key, hits in by_draws.items() if key[1] == "drawn"}
    assert far(coverages(MAIN, seen, wanted)) == []


def test_a_bore_error_that_was_not_stated_would_show() -> None:
    # twice the stated limits of the bore: f is off by some 2.5 %
    wrong = MAIN._replace(world=World(bore_factor=1.005))
    seen = observed(wrong, 120, 26)
    rows = coverages(wrong, seen, expected(MAIN, 10_000, 27, rounding=True))
    assert min(row.distance for row in rows if row.quantity == "friction") < -2 * WITHIN


def test_linear_intervals_of_rectangular_errors_cover_more_than_they_say() -> None:
    # One rectangular error alone: 1.96/sqrt(3) > 1 covers always; two equal ones: triangular
    # with half-width 2a, 1.96 sqrt(2/3) a = 1.600 a, covers 1 - (0.4/2)^2 = 96 %.
    wanted = expected(MAIN, 20_000, 28)
    slow = wanted["velocity", "linear"][:, 0].mean()  # calibration 2.25, resolution 1.25 L/h
    assert 0.96 < slow < 1.0
    assert all(wanted[name, "linear"].mean(axis=0).min() > 0.95 for name in QUANTITIES)


# -- slow ------------------------------------------------------------------------------------------
@pytest.mark.slow
@pytest.mark.parametrize(
    ("scenario", "count"),
    [(MAIN, 20_000), (FEW_REPEATS, 4_000), (NEAR_ZERO, 10_000)],
    ids=lambda value: value.name if isinstance(value, Scenario) else "",
)
def test_linear_intervals_of_many_sessions(scenario: Scenario, count: int) -> None:
    seen = observed(scenario, count, 31, workers=2)
    wanted = expected(scenario, 200_000, 32, rounding=True, workers=2)
    assert far(coverages(scenario, seen, wanted)) == []


@pytest.mark.slow
def test_drawn_intervals_cover_95_percent_if_errors_are_as_stated() -> None:
    # [JCGM 101, 5.3.2] promises the level; errors that are not rounded keep the statement
    stated = MAIN._replace(world=World(rounding=False))
    seen = observed(stated, 2_000, 33, trials=2000, workers=2)
    for name in QUANTITIES:
        rates = seen[name, "drawn"].mean(axis=0)
        # 2000 draws cost up to 0.1 % of coverage, as extreme draws come at whole numbers
        assert np.abs(rates - 0.9495).max() <= WITHIN * (0.95 * 0.05 / 2_000) ** 0.5, name


def reported(runs: fu.Runs, sessions: Sessions, place: int) -> list[list[bool]]:
    table = runs.table()  # 200 000 draws, as anyone gets it
    return [
        [
            bool(low <= true <= high)
            for low, high, true in zip(
                table[f"{short} low"], table[f"{short} high"], truth[place], strict=True
            )
        ]
        for short, truth in (("Re", sessions.reynolds), ("f", sessions.friction))
    ]


@pytest.mark.slow
def test_intervals_of_the_table_of_runs() -> None:
    count = 300
    hits = np.array(one_by_one(MAIN, reported, count, 34, workers=2))
    wanted: Counted = expected(MAIN, 50_000, 35, rounding=True, workers=2)
    for place, name in enumerate(("reynolds", "friction")):
        rates = hits[:, place].mean(axis=0)
        highest = wanted[name, "linear"].mean(axis=0)
        # between the two methods: drawn 95 %, linear above it
        assert (rates >= 0.95 - WITHIN * (0.95 * 0.05 / count) ** 0.5).all(), name
        assert (rates <= highest + WITHIN * (highest * (1 - highest) / count) ** 0.5).all(), name
