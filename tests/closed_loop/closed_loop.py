"""From simulated sessions to counts: does the interval that flowunc reports contain the truth?

Only public functions: the sheet is text in a file, read by `read_sheet`, analysed by `analyse`.
Many sessions stand in one sheet, because reading and analysing take milliseconds for each call
and microseconds for each row. That is legitimate for intervals of single runs: they come from
stated values and readings alone, and what runs have in common does not enter them (a test holds
sessions in one sheet against the same sessions one by one). The errors themselves differ from
session to session. What is asked of several runs together goes through a sheet for each session.
"""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np
import reference_analysis as reference
from numpy.typing import NDArray
from reference_analysis import QUANTITIES
from simulated_bench import (
    Description,
    Floats,
    PlannedSet,
    Sessions,
    World,
    sheet_text,
    simulate,
)

import flowunc as fu

R = TypeVar("R")
Hits = NDArray[np.bool_]

TOGETHER = 200  # sessions in one sheet, which may have 10 000 rows
EACH = 100  # sessions with sheets of their own that share a seed
METHODS = ("linear", "drawn", "reported")


class Scenario(NamedTuple):
    """A bench, what is read at it, and how it behaves."""

    name: str
    description: Description
    plan: tuple[PlannedSet, ...]
    world: World


@dataclass(frozen=True)
class Interval:
    """Intervals of one result, shape (sessions, runs); the drawn ones may be missing."""

    linear_low: Floats
    linear_high: Floats
    drawn_low: Floats | None = None
    drawn_high: Floats | None = None
    holds: Hits | None = None

    def hits(self, truth: Floats) -> dict[str, Hits]:
        """Return which intervals contain the truth, by method, and which are linear."""
        found = {"linear": (self.linear_low <= truth) & (truth <= self.linear_high)}
        if self.drawn_low is not None and self.holds is not None:
            found["drawn"] = (self.drawn_low <= truth) & (truth <= self.drawn_high)
            found["reported"] = np.where(self.holds, found["linear"], found["drawn"])
            found["holds"] = self.holds
        return found


@contextmanager
def bench_and_sheet(description: Description, text: str) -> Iterator[tuple[fu.Bench, Path]]:
    """Write both files, read the bench."""
    with tempfile.TemporaryDirectory() as folder:
        bench, sheet = Path(folder, "bench.toml"), Path(folder, "sheet.csv")
        bench.write_text(description.toml(), encoding="utf-8")
        sheet.write_text(text, encoding="utf-8")
        yield fu.load_bench(bench), sheet


def analysed(description: Description, text: str) -> fu.Runs:
    """Read and analyse one sheet."""
    with bench_and_sheet(description, text) as (bench, sheet), warnings.catch_warnings():
        # in thousands of sessions some repeats lie far apart by chance
        warnings.filterwarnings("ignore", ".*are these repeats of one run", fu.FlowuncWarning)
        # not known to the bench is what some sessions are about
        warnings.filterwarnings("ignore", ".*is the mirror image", fu.FlowuncWarning)
        return fu.analyse(fu.read_sheet(sheet, bench), bench)


def intervals(
    description: Description, sessions: Sessions, *, trials: int = 0, seed: int = 0
) -> dict[str, Interval]:
    """Analyse sessions, so many in one sheet, and return the intervals of all results.

    Drawn intervals and verdicts are as `Runs.table` has them, from so many trials.
    """
    shape = (-1, len(sessions.runs))
    parts: dict[str, list[Interval]] = {name: [] for name in QUANTITIES}
    for start in range(0, sessions.count, TOGETHER):
        chosen = range(start, min(start + TOGETHER, sessions.count))
        runs = analysed(description, sheet_text(sessions, chosen))
        for name in QUANTITIES:
            low, high = (end.reshape(shape) for end in runs.result(name).interval(0.95))
            if not trials:
                parts[name].append(Interval(low, high))
                continue
            with warnings.catch_warnings():
                # Student's t of a few repeats has tails that reach a flow of 0
                warnings.filterwarnings("ignore", ".*denominator changes sign", fu.FlowuncWarning)
                warnings.filterwarnings("ignore", ".*repeats", fu.FlowuncWarning)
                check = runs.cross_check(name, trials=trials, seed=seed + start)
            parts[name].append(
                Interval(
                    low,
                    high,
                    check.drawn_low.reshape(shape),
                    check.drawn_high.reshape(shape),
                    check.holds.reshape(shape),
                )
            )
    return {name: _joined(found) for name, found in parts.items()}


def _joined(parts: Sequence[Interval]) -> Interval:
    first = parts[0]
    names = [name for name in vars(first) if getattr(first, name) is not None]
    return Interval(**{n: np.concatenate([getattr(p, n) for p in parts]) for n in names})


def in_parallel(
    work: Callable[[int, int], R], count: int, seed: int, *, workers: int, chunk: int
) -> list[R]:
    """Call ``work(sessions, seed)`` for chunks of so many sessions, each with a seed of its own."""
    sizes = [min(chunk, count - start) for start in range(0, count, chunk)]
    seeds = [int(s.generate_state(1)[0]) for s in np.random.SeedSequence(seed).spawn(len(sizes))]
    if workers == 1:
        return [work(size, one) for size, one in zip(sizes, seeds, strict=True)]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(work, sizes, seeds))


# -- what is observed, what is expected ------------------------------------------------------------
Counted = dict[tuple[str, str], Hits]  # (quantity, method): shape (sessions, runs)


def observed(
    scenario: Scenario, count: int, seed: int, *, trials: int = 0, workers: int = 1
) -> Counted:
    """Return the hits of flowunc."""
    work = partial(_observed, scenario, trials)
    return _stacked(in_parallel(work, count, seed, workers=workers, chunk=2 * TOGETHER))


def _observed(scenario: Scenario, trials: int, count: int, seed: int) -> Counted:
    rng = np.random.default_rng(seed)
    sessions = simulate(scenario.description, scenario.plan, count, rng, scenario.world)
    found = intervals(scenario.description, sessions, trials=trials, seed=seed)
    return {
        (name, method): hits
        for name, interval in found.items()
        for method, hits in interval.hits(sessions.truth(name)).items()
    }


def expected(
    scenario: Scenario,
    count: int,
    seed: int,
    *,
    trials: int = 0,
    rounding: bool = False,
    workers: int = 1,
) -> Counted:
    """Return the hits of the analysis in NumPy, by default with errors just as stated.

    As stated: no rounding, a uniform error in its place; one zero anywhere between those before
    and after the set; columns with nothing in common.
    """
    world = World(
        rounding=rounding,
        drift=scenario.world.drift,
        flow_spread=scenario.world.flow_spread,
        zero=scenario.world.zero if rounding else "anywhere",
        middle=scenario.world.middle if rounding else "wanders",
    )
    work = partial(_expected, scenario._replace(world=world), trials)
    chunk = 500 if trials else 10_000
    return _stacked(in_parallel(work, count, seed, workers=workers, chunk=chunk))


def _expected(scenario: Scenario, trials: int, count: int, seed: int) -> Counted:
    rng = np.random.default_rng(seed)
    sessions = simulate(scenario.description, scenario.plan, count, rng, scenario.world)
    found: dict[tuple[str, str], list[Hits]] = {}
    for place, run in enumerate(reference.runs_of(scenario.description, sessions)):
        by_linear = reference.linear(run)
        by_draws = reference.drawn(run, trials, rng) if trials else {}
        for name in QUANTITIES:
            truth = sessions.truth(name)[:, place]
            result = by_linear[name]
            off = np.abs(result.value - truth)
            found.setdefault((name, "linear"), []).append(off <= result.half_width())
            if trials:
                low, high = by_draws[name]
                found.setdefault((name, "drawn"), []).append((low <= truth) & (truth <= high))
    return {key: np.stack(hits, axis=1) for key, hits in found.items()}


def _stacked(parts: Sequence[Counted]) -> Counted:
    return {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}


class Coverage(NamedTuple):
    """Observed and expected coverage of one result of one run."""

    run: str
    quantity: str
    method: str
    observed: float
    sessions: int
    expected: float
    expected_sessions: int
    linear_share: float  # of the sessions in which the linear interval is reported

    @property
    def distance(self) -> float:
        """Difference in standard deviations of both binomial counts."""
        p = (self.observed * self.sessions + self.expected * self.expected_sessions) / (
            self.sessions + self.expected_sessions
        )
        variance = p * (1 - p) * (1 / self.sessions + 1 / self.expected_sessions)
        return (self.observed - self.expected) / max(variance, 1e-12) ** 0.5


def coverages(scenario: Scenario, seen: Counted, wanted: Counted) -> list[Coverage]:
    """Put observed and expected side by side.

    What is reported is expected to cover as often as the two methods, by their shares.
    """
    runs = [run for found in scenario.plan for run in found.runs]
    rows = []
    for place, run in enumerate(runs):
        for name in QUANTITIES:
            share = 1.0
            if (name, "holds") in seen:
                share = float(seen[name, "holds"][:, place].mean())
            for method in METHODS:
                if (name, method) not in seen:
                    continue
                hits = seen[name, method][:, place]
                if method == "reported":
                    means = [wanted[name, m][:, place].mean() for m in ("linear", "drawn")]
                    aim = share * means[0] + (1 - share) * means[1]
                    size = len(wanted[name, "drawn"])
                else:
                    aim, size = wanted[name, method][:, place].mean(), len(wanted[name, method])
                rows.append(
                    Coverage(
                        run.name,
                        name,
                        method,
                        float(hits.mean()),
                        hits.size,
                        float(aim),
                        size,
                        share,
                    )
                )
    return rows


def one_by_one(
    scenario: Scenario,
    judge: Callable[[fu.Runs, Sessions, int], Any],
    count: int,
    seed: int,
    *,
    workers: int = 1,
) -> list[Any]:
    """Analyse each session from a sheet of its own and return what ``judge`` makes of it."""
    work = partial(_one_by_one, scenario, judge)
    found = in_parallel(work, count, seed, workers=workers, chunk=EACH)
    return [result for part in found for result in part]


def _one_by_one(scenario: Scenario, judge: Any, count: int, seed: int) -> list[Any]:
    rng = np.random.default_rng(seed)
    sessions = simulate(scenario.description, scenario.plan, count, rng, scenario.world)
    return [
        judge(analysed(scenario.description, sheet_text(sessions, [place])), sessions, place)
        for place in range(count)
    ]
