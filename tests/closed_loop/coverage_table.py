"""Print how often the intervals that flowunc reports contain the truth, and how often they should.

    python tests/closed_loop/coverage_table.py --sessions 2000

Sessions are simulated in NumPy and go as lab sheets through `read_sheet` and `analyse`. *linear*:
value ± U, with the effective degrees of freedom; *drawn*: interval from so many trials; *reported*:
the first where the draws confirm it, else the second, as in the table of runs. *expected* is the
coverage that the same method has if every error is distributed as stated, *rounded* if readings
are rounded in place of the stated uniform error, both by an analysis in NumPy alone; z is the
distance of the counts from *rounded* in standard deviations. With ``--trials 0`` linear only.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence

import numpy as np
from closed_loop import METHODS, Counted, Scenario, coverages, expected, observed
from joint_rates import (
    NAMES,
    agreement_of,
    bias_of,
    expected_agreement,
    expected_fits,
    fits_of,
    one_by_one,
)
from scenarios import (
    BLASIUS,
    FEW_REPEATS,
    MAIN,
    MIRRORED,
    MIRRORED_AS_STATED,
    NEAR_ZERO,
    PLANTED,
)

SHORT = {"velocity": "V", "reynolds": "Re", "friction": "f"}


def expectations(
    scenario: Scenario, *, linear: int, drawn: int, trials: int, rounding: bool, workers: int
) -> Counted:
    """Return the expected hits: many sessions for the linear method, fewer for the draws."""
    found = expected(scenario, linear, 11, rounding=rounding, workers=workers)
    if drawn:
        by_draws = expected(scenario, drawn, 12, trials=trials, rounding=rounding, workers=workers)
        found |= {key: hits for key, hits in by_draws.items() if key[1] == "drawn"}
    return found


def print_intervals(scenario: Scenario, sessions: int, trials: int, workers: int) -> None:
    """Print the table of one scenario."""
    seen = observed(scenario, sessions, 1, trials=trials, workers=workers)
    drawn = sessions if trials else 0
    both = [
        expectations(
            scenario,
            linear=max(50_000, 2 * sessions),
            drawn=drawn,
            trials=trials,
            rounding=rounding,
            workers=workers,
        )
        for rounding in (False, True)
    ]
    print(f"\n{scenario.name}: {sessions} sessions; coverage in %")
    print(f"{'run':<22}{'of':<4}{'method':<10}{'observed':>9}{'expected':>9}{'rounded':>9}{'z':>6}")
    stated, rounded = (coverages(scenario, seen, wanted) for wanted in both)
    for as_stated, as_rounded in zip(stated, rounded, strict=True):
        share = f"  linear in {100 * as_stated.linear_share:.0f} %"
        print(
            f"{as_stated.run:<22}{SHORT[as_stated.quantity]:<4}{as_stated.method:<10}"
            f"{100 * as_stated.observed:9.2f}{100 * as_stated.expected:9.2f}"
            f"{100 * as_rounded.expected:9.2f}{as_rounded.distance:6.1f}"
            f"{share if as_stated.method == METHODS[2] else ''}"
        )


def print_joint(sessions: int, workers: int) -> None:
    """Print the rates of conclusions from several runs."""
    found = one_by_one(MAIN, agreement_of, sessions, 2, workers=workers)
    errors, p = np.array([e for e, _ in found]), np.array([p for _, p in found])
    rates, alarms = expected_agreement(MAIN, 50_000, 13)
    print(f"\nagreement with the laws, k = 2, {sessions} sessions; rates in %")
    for place, run in enumerate(run for of in MAIN.plan for run in of.runs):
        if not np.isnan(rates[place]):
            rate = np.mean(np.abs(errors[:, place]) <= 1)
            print(f"{run.name:<26}|E_n| <= 1 {100 * rate:9.2f}{100 * rates[place]:9.2f}")
    print(f"{'all runs together':<26}p < 0.05   {100 * np.mean(p < 0.05):9.2f}{100 * alarms:9.2f}")
    print("\nfits, 95 % intervals; observed and expected coverage in %")
    fits = np.array(one_by_one(BLASIUS, fits_of, sessions, 3, workers=workers))
    for name, rate, aim in zip(
        NAMES, fits.mean(axis=0), expected_fits(BLASIUS, 50_000, 14), strict=True
    ):
        print(f"{name:<36}{100 * rate:9.2f}{100 * aim:9.2f}")
    planted = one_by_one(PLANTED, bias_of, max(sessions // 4, 1), 4, workers=workers)
    print("\na bore that is 3 % larger than stated; rates in %")
    for key, text in (
        ("E_n", "some |E_n| > 1"),
        ("p", "joint p < 0.05"),
        ("removes", "the bore removes the disagreement"),
        ("plausible", "and is called plausible"),
        ("first", "the bore is named first"),
        ("smallest", "... if the smallest offset in units of u came first"),
    ):
        print(f"{text:<54}{100 * np.mean([one[key] for one in planted]):9.2f}")
    offsets = np.array([one["offset"] for one in planted])
    print(f"offset found {offsets.mean():.3f} mm, planted 0.48 mm")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--sessions", type=int, default=2000, help="of each scenario")
    parser.add_argument("--trials", type=int, default=2000, help="behind drawn intervals")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    given = parser.parse_args(arguments)
    start = time.perf_counter()
    for scenario in (MAIN, FEW_REPEATS, NEAR_ZERO):
        print_intervals(scenario, given.sessions, given.trials, given.workers)
    for scenario in (*MIRRORED, *MIRRORED_AS_STATED):
        print_intervals(scenario, given.sessions, 0, given.workers)
    print_joint(max(given.sessions // 4, 10), given.workers)
    print(f"\n{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
