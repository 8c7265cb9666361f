"""Whether the readings of a sheet fit each other, before anything is concluded from them.

A bench is read with some redundancy: the balance before and after a set, one flow on two meters
or at two inclinations, repeats of a run, the look of the dye. Each is a check that no theory
enters. Which runs were taken at one valve setting only the user knows, and says.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from flowunc.analysis.agreement import Agreement, agreement
from flowunc.analysis.weighted_mean import WeightedMean, weighted_mean
from flowunc.bench.checks.column_balance import zero_balances, zero_blocks
from flowunc.bench.checks.dye_notes import compare_dye_notes
from flowunc.bench.checks.fine_readings import fine_findings
from flowunc.bench.checks.mirrored_columns import mirror_findings
from flowunc.bench.checks.repeat_checks import repeats_verdict
from flowunc.bench.run_results import RunResults
from flowunc.core.arguments import check_coverage_factor
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.rounding import text_pair
from flowunc.core.display.tables import WIDTH, mimebundle
from flowunc.core.errors import DimensionError, RangeError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Consistency", "ConsistencyCheck", "alarms_of", "consistency", "zero_checks"]

_WORDS = {"flow": "flow", "pressure_drop": "pressure drop", "friction": "f"}
# What asks for a look, not only for being read.
_ALARMS = (
    "drift found",
    "disagrees",
    "inconsistent",
    "straggler",
    "outlier",
    "contradicts",
    "mirrored",
    "not as stated",
    "finer than read",
)


class ConsistencyCheck(NamedTuple):
    """One check of readings against each other.

    Attributes
    ----------
    check : str
        "zero", "same flow: f", "same flow: mean f", "columns", "resolution", "repeats", "dye".
    runs : tuple of str
        Labels of the runs concerned.
    difference : float
        In ``unit``; NaN where the check is none of differences.
    expanded : float
        U of the difference, or of the mean.
    unit : str
    normalised_error : float
        Difference over U; NaN where there is none.
    verdict, sentence : str
    """

    check: str
    runs: tuple[str, ...]
    difference: float
    expanded: float
    unit: str
    normalised_error: float
    verdict: str
    sentence: str


@dataclass(frozen=True, eq=False)
class Consistency:
    """What the checks of a sheet against itself say.

    Attributes
    ----------
    checks : tuple of ConsistencyCheck
    means : mapping of (tuple of str, str) to WeightedMean
        Of what agrees at one valve setting: ``means[("5", "6"), "flow"].mean``.
    candidates : tuple of (str, str)
        Neighbouring runs on two meters whose flows agree within U. Mentioned, never assumed.
    k : float
        Coverage factor of U.
    """

    checks: tuple[ConsistencyCheck, ...]
    means: Mapping[tuple[tuple[str, ...], str], WeightedMean]
    candidates: tuple[tuple[str, str], ...]
    k: float

    @property
    def alarms(self) -> tuple[ConsistencyCheck, ...]:
        """The checks that something failed."""
        return tuple(check for check in self.checks if check.verdict in _ALARMS)

    @property
    def sentences(self) -> tuple[str, ...]:
        """One sentence for each check, then what could be checked besides."""
        pairs = [
            f"Runs {first} and {second} follow each other on two meters and agree in flow within "
            "U. If the valve stood still between them, say so with "
            f"same_flow=[({first!r}, {second!r})]; it is not assumed."
            for first, second in self.candidates
        ]
        return (*(check.sentence for check in self.checks), *pairs)

    def table(self) -> pd.DataFrame:
        """Return the checks as a table, one line each."""
        import pandas as pd

        rows = [check._asdict() | {"runs": ", ".join(check.runs)} for check in self.checks]
        return pd.DataFrame(rows, columns=list(ConsistencyCheck._fields))

    def __str__(self) -> str:
        count = len(self.alarms)
        wrong = "none of them asks" if not count else f"{count} ask{'s' if count == 1 else ''}"
        head = f"Readings against each other: {len(self.checks)} checks, {wrong} for a look"
        lines = [f"{head}; U = {self.k:g} u"]
        for sentence in self.sentences:
            lines += textwrap.wrap(f"- {sentence}", WIDTH, subsequent_indent="  ")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return rounded_table(
            self.table(), uncertainty_of={"difference": "expanded"}, notes=self.sentences[-1:]
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def consistency(
    runs: RunResults,
    *,
    same_flow: Sequence[Sequence[str | int]] = (),
    k: float = 2,
    trials: int = 200_000,
    seed: int = 0,
) -> Consistency:
    """Hold the readings of a sheet against each other.

    Parameters
    ----------
    runs : Runs
        What `analyse` gave.
    same_flow : sequence of sequences of str
        Groups of runs taken at one setting of the valve, by their labels: ``[("5", "6")]``.
    k : float
        Coverage factor of U.
    trials, seed : int
        Of the draws behind the regimes that the dye is held against.

    Returns
    -------
    Consistency

    Raises
    ------
    DimensionError
        Something else than analysed runs, or than groups of labels.
    RangeError
        A group of fewer than two runs, a label twice in a group, or an unknown one.
    StatementError
        k not above 0.

    Notes
    -----
    - Zero: change of the balance over each set against the resolution of the readings,
      calibration errors in common cancelled: E_n = change / U [ISO/IEC 17043].
    - Same flow: E_n of flow, pressure drop and friction factor for each pair of a group. Two
      meters give an independent flow, two inclinations an independent pressure drop; the bore,
      the water and the tap spacing are in both and cancel. What agrees is averaged, weighted
      by its covariance [Cox 2002].
    - Columns: one that mirrors the other is rounded with it; named where high + low stays within
      one step of the scale, and chance is ruled out. Resolution: readings finer than their
      scale is read to, with line and column. Neither is shown where there is nothing to say.
    - Repeats: the test of Grubbs for each column with three repeats or more [ISO 5725-2,
      7.3.4]; nothing is removed. With four columns, one straggler in five runs is chance.
    - Dye: notes against the probabilities of the regimes.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, consistency, load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> found = consistency(runs, same_flow=[("5", "6")], trials=20_000)
    >>> [check.verdict for check in found.checks][:3]
    ['no drift found', 'no drift found', 'agrees']
    """
    if not isinstance(runs, RunResults):
        raise DimensionError(
            f"consistency: got {type(runs).__name__}; expected the runs that analyse(...) gave"
        )
    factor = check_coverage_factor(k, "consistency")
    groups = _groups(runs, same_flow)
    means: dict[tuple[tuple[str, ...], str], WeightedMean] = {}
    checks = zero_checks(runs, factor)
    for group in groups:
        checks += _same_flow_checks(runs, group, factor, means)
    checks += _run_checks(runs, trials, seed)
    stated = {frozenset(pair) for group in groups for pair in combinations(group, 2)}
    return Consistency(tuple(checks), means, _candidates(runs, stated, factor), factor)


def alarms_of(runs: RunResults, trials: int, seed: int) -> tuple[ConsistencyCheck, ...]:
    """Return the alarms of `consistency` for k = 2 without stated groups, at less cost."""
    checks = [*zero_checks(runs, 2), *_run_checks(runs, trials, seed)]
    return tuple(check for check in checks if check.verdict in _ALARMS)


def _groups(runs: RunResults, same_flow: Any) -> list[tuple[str, ...]]:
    def listed(value: Any) -> bool:
        return isinstance(value, Sequence) and not isinstance(value, str)

    if not listed(same_flow) or not all(listed(group) for group in same_flow):
        raise DimensionError(
            f"consistency(same_flow={same_flow!r}): expected groups of labels, such as "
            'same_flow=[("5", "6")]'
        )
    groups = [tuple(runs.labels[runs.position(x)] for x in group) for group in same_flow]
    for labels in groups:
        if len(labels) < 2 or len(set(labels)) < len(labels):
            raise RangeError(
                f"consistency(same_flow=...): group {labels}; expected two or more different runs"
            )
    return groups


# -- zero ------------------------------------------------------------------------------------------
def zero_checks(runs: RunResults, k: float) -> list[ConsistencyCheck]:
    """Hold the zero after each set against the one before it."""
    checks = []
    manometer, kind, inclined = runs.bench.manometer, runs.bench.manometer_kind, runs.bench.inclines
    read, why = "balance", "reading the marks"
    if "reading" in kind.columns:
        read, why = "zero reading", "its resolution"
    moved = "a board that moved" if inclined else "a scale that moved"
    moved = "a transmitter that warmed up" if kind.word == "transmitter" else moved
    blocks = zero_blocks(runs.sheet)
    balances = zero_balances(runs.sheet, manometer).to(manometer.scale.unit)
    for found in runs.sheet.sets:
        labels = tuple(run.label for run in found.runs)
        text = f"{_named(labels)}{f' at {found.angle:g} deg' if inclined else ''}: "
        if not found.after:
            text += "no zero after this set, so the drift is not known; read it at the end."
            checks.append(_row("zero", labels, "not checked", text))
            continue
        change = agreement(balances[blocks[found.after]], balances[blocks[found.before]], k=k)
        text += f"the {read} changed by {_size(change)} from line {found.before[0].line} to line "
        text += f"{found.after[0].line}"
        if change.satisfied:
            checks.append(_row("zero", labels, "no drift found", f"{text}: no drift.", change))
            continue
        text += (
            f", more than {why} explains: it drifted. Half of the change is in the uncertainty of "
            f"every run of the set; look for air in the lines, a leak, or {moved}."
        )
        checks.append(_row("zero", labels, "drift found", text, change))
    return checks


# -- one valve setting -----------------------------------------------------------------------------
def _same_flow_checks(
    runs: RunResults,
    group: tuple[str, ...],
    k: float,
    means: dict[tuple[tuple[str, ...], str], WeightedMean],
) -> list[ConsistencyCheck]:
    checks = []
    meter = runs.sheet.runs[runs.position(group[0])].meter
    for of, word in _WORDS.items():
        quantity = runs.result(of)
        if of == "flow":
            quantity = quantity.to(runs.bench.meters[meter].scale.unit)
        estimates = [quantity[runs.position(label)].labelled(f"run {label}") for label in group]
        for (first, one), (second, other) in combinations(zip(group, estimates, strict=True), 2):
            found = agreement(other, one, k=k)
            checks.append(_pair_check(runs, (first, second), word, found))
        mean = weighted_mean(estimates)
        if mean.consistent:
            means[group, of] = mean
        checks.append(_mean_check(group, mean, word, k))
    return checks


def _pair_check(
    runs: RunResults, labels: tuple[str, str], word: str, found: Agreement
) -> ConsistencyCheck:
    text = (
        f"{_named(labels)}, one valve setting, {_how(runs, labels)}: {word} differs by "
        f"{_size(found)} (E_n = {found.normalised_error:.2f}): "
    )
    if found.satisfied:
        return _row(f"same flow: {word}", labels, "agrees", f"{text}they agree.", found)
    text += "they disagree. Check whether the valve stood still, and what differs between them."
    first, second = (runs.temperature[runs.position(label)] for label in labels)
    warmed = agreement(second, first, k=found.k)
    if not warmed.satisfied:
        liquid, kelvin = "water" if runs.bench.liquid is None else "liquid", warmed.difference
        text += f" The {liquid} differs by {float(kelvin):.2g} K, which changes f by itself."
    return _row(f"same flow: {word}", labels, "disagrees", text, found)


def _how(runs: RunResults, labels: tuple[str, str]) -> str:
    """Say in words what is independent between two runs."""
    read = {run.label: (run.meter, of.angle) for of in runs.sheet.sets for run in of.runs}
    (meter, angle), (other_meter, other_angle) = (read[label] for label in labels)
    meters = f"meters {meter} and {other_meter}" if meter != other_meter else ""
    angles = f"inclinations {angle:g} and {other_angle:g} deg" if angle != other_angle else ""
    same = "same meter and inclination" if runs.bench.inclines else "same meter"
    return " and ".join(filter(None, (meters, angles))) or same


def _mean_check(
    group: tuple[str, ...], found: WeightedMean, word: str, k: float
) -> ConsistencyCheck:
    mean, U, unit = float(found.mean.value), k * found.u, found.mean.unit
    text, verdict = f"{_named(group)}, one valve setting: ", "consistent"
    if found.consistent:
        shown = text_pair(mean, U) if unit == "1" else f"{text_pair(mean, U)} {unit}"
        text += f"weighted mean of {word} {shown}; {found.sentence}."
    else:
        U, verdict = math.nan, "inconsistent"
        text += f"no mean of {word} is given; {found.sentence}."
    check = f"same flow: mean {word}"
    return ConsistencyCheck(check, group, math.nan, U, unit, math.nan, verdict, text)


def _candidates(
    runs: RunResults, stated: set[frozenset[str]], k: float
) -> tuple[tuple[str, str], ...]:
    found = []
    measured = runs.sheet.runs
    for place, (first, second) in enumerate(pairwise(measured)):
        if first.meter == second.meter or {first.label, second.label} in stated:
            continue
        if agreement(runs.flow[place + 1], runs.flow[place], k=k).satisfied:
            found.append((first.label, second.label))
    return tuple(found)


# -- repeats and dye -------------------------------------------------------------------------------
def _run_checks(runs: RunResults, trials: int, seed: int) -> list[ConsistencyCheck]:
    checks = [_row("columns", *found) for found in mirror_findings(runs.sheet, runs.bench)]
    checks += [
        _row("resolution", found.runs, "finer than read", found.sentence)
        for found in fine_findings(runs.sheet, runs.bench)
    ]
    checks += [
        _row("repeats", (run.label,), *repeats_verdict(runs.bench, run))
        for run in runs.sheet.runs
        if len(run.rows) > 1
    ]
    return checks + _dye_checks(runs, trials, seed)


def _dye_checks(runs: RunResults, trials: int, seed: int) -> list[ConsistencyCheck]:
    notes = [run.notes for run in runs.sheet.runs]
    if not any(notes):
        return []
    found = compare_dye_notes(notes, runs.regimes(trials=trials, seed=seed))
    return [
        _row("dye", (label,), finding.verdict, f"Run {label}: {finding.sentence}.")
        for label, finding in zip(runs.labels, found, strict=True)
        if finding.note.names_dye
    ]


# -- rows ------------------------------------------------------------------------------------------
def _row(
    check: str, runs: tuple[str, ...], verdict: str, sentence: str, found: Agreement | None = None
) -> ConsistencyCheck:
    if found is None:
        return ConsistencyCheck(check, runs, math.nan, math.nan, "", math.nan, verdict, sentence)
    numbers = (found.difference, found.expanded, found.normalised_error)
    difference, expanded, error = (float(number) for number in numbers)
    return ConsistencyCheck(check, runs, difference, expanded, found.unit, error, verdict, sentence)


def _size(found: Agreement) -> str:
    unit = "" if found.unit == "1" else f" {found.unit}"
    return f"{text_pair(float(found.difference), float(found.expanded))}{unit}"


def _named(labels: Sequence[str]) -> str:
    first = ", ".join(labels[:-1])
    return f"Runs {first} and {labels[-1]}" if first else f"Run {labels[0]}"
