"""Sections on what came out: the results in short, the table of results, what stands between."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from flowunc.analysis.agreement import Agreement
from flowunc.bench.checks.consistency import Consistency
from flowunc.bench.conclusions import RunLine, limiting_instruments
from flowunc.bench.description.bench import LAWS
from flowunc.bench.report.asked import MOST_ROWS, Asked
from flowunc.bench.report.content import Block, Listing, Paragraph, Section, table
from flowunc.bench.report.wording import (
    IN_PARENTHESES,
    NONE,
    concise,
    counted,
    named,
    number,
    outcome,
    percent,
    probability,
    unit_text,
)
from flowunc.core.quantity import Quantity
from flowunc.pipe import laws

__all__ = ["law_title", "results_section", "summary_section"]

_MOST_SENTENCES = 12


def law_title(name: str) -> str:
    """Return the title of a law by its name in `flowunc.laws`.

    Examples
    --------
    >>> law_title("laminar"), law_title("blasius"), law_title("-")
    ('64/Re', 'Blasius', '–')
    """
    if name == laws.laminar.name:
        return "64/Re"
    return LAWS[name].title if name in LAWS else NONE


def summary_section(asked: Asked) -> Section:
    """Say what came out in a few sentences."""
    lines = asked.lines
    re = [line.reynolds.value for line in lines]
    wide = [
        (line.friction.high - line.friction.low) / 2 / abs(line.friction.value)
        for line in lines
        if line.friction.value and math.isfinite(line.friction.high - line.friction.low)
    ]
    text = f"Re goes from {number(min(re), 3)} to {number(max(re), 3)}."
    if wide:
        text += (
            f" Half the width of the {100 * asked.level:g} % coverage interval of f is "
            f"{percent(min(wide))} to {percent(max(wide))} of f."
        )
    items = [text]
    fails = [line.run for line in lines if line.friction.verdict != "holds"]
    if fails:
        items.append(
            f"{named(fails)}: for f, value ± U is not confirmed by the draws; the drawn interval "
            "counts."
        )
    if isinstance(asked.agreement, Agreement):
        items.append(f"Against the laws: {asked.agreement.sentence}.")
    else:
        items.append(asked.agreement)
    if isinstance(asked.consistency, Consistency):
        alarms = asked.consistency.alarms
        found = f"{counted(len(asked.consistency.checks), 'check')} of the readings against "
        found += "each other: "
        items.append(
            f"{found}none asks for a look."
            if not alarms
            else f"{found}{len(alarms)} {'asks' if len(alarms) == 1 else 'ask'} for a look."
        )
    limits = limiting_instruments(asked.runs.friction)
    first, most = Counter(limits).most_common(1)[0]
    items.append(
        f"What limits f most often is the {first}, all its errors together, in {most} of "
        f"{counted(len(lines), 'run')}."
    )
    return Section("In short", (Listing(tuple(items)),))


# -- results ---------------------------------------------------------------------------------------
def results_section(asked: Asked, charts: tuple[Block, ...]) -> Section:
    """Show Re and f of each run with regime and law, and the results that they are made from."""
    level = f"{100 * asked.level:g} %"
    head = ["run", "Re", "f", "regime", "law", "f by law", "E_n"]
    rows = [_row(line) for line in asked.lines[:MOST_ROWS]]
    blocks: list[Block] = [
        Paragraph(
            f"Results as value ± U, the expanded uncertainty for a coverage of {level}. A star * "
            f"marks an interval from {asked.trials} draws, also for {level}, which stands where "
            "value ± U does not hold to one digit of u. f is Darcy's. E_n = (f − f by law)/U of "
            "the difference, with k = 2; within ±1 both agree [ISO/IEC 17043]. Behind the regime "
            "stands its probability, given how well Re is known."
        ),
        table("Results", head, rows, "lrrllrr"),
    ]
    if len(asked.lines) > MOST_ROWS:
        blocks.append(
            Paragraph(f"{len(asked.lines) - MOST_ROWS} more runs are not shown; see Runs.table().")
        )
    blocks += _without_law(asked)
    blocks += charts
    blocks += _intermediates(asked)
    return Section("Results", tuple(blocks))


def _row(line: RunLine) -> list[str]:
    mark = f" ({line.repeats} readings)" if line.repeats > 1 else ""
    compared = not math.isnan(line.normalised_error)
    return [
        f"{line.run}{mark}",
        outcome(line.reynolds),
        outcome(line.friction),
        f"{line.regime}, {probability(line.probability)}",
        law_title(line.law),
        number(line.friction_by_law) if compared else NONE,
        f"{line.normalised_error:.2f}" if compared else NONE,
    ]


def _without_law(asked: Asked) -> list[Block]:
    reasons: dict[str, list[str]] = {}
    for line in asked.lines:
        if law_title(line.law) == NONE:
            reasons.setdefault(line.no_law_because, []).append(line.run)
    items = [
        f"{named(labels)}: held against no law, as {reason}."
        for reason, labels in list(reasons.items())[:_MOST_SENTENCES]
    ]
    return [Listing(tuple(items))] if items else []


def _intermediates(asked: Asked) -> list[Block]:
    runs = asked.runs
    shown: list[tuple[str, Quantity]] = [
        ("Q", runs.flow.to("L/min")),
        ("t", runs.temperature.to("degC")),
        ("ρ", runs.density.to("kg/m^3")),
        ("μ", runs.viscosity.to("mPa*s")),
        ("v", runs.velocity.to("m/s")),
        ("Δp", runs.pressure_drop.to("Pa")),
    ]
    head = ["run", *(f"{symbol} in {unit_text(found.unit)}" for symbol, found in shown)]
    values = [(np.asarray(found.value), np.asarray(found.u)) for _, found in shown]
    rows = [
        [label, *(concise(float(value[place]), float(u[place])) for value, u in values)]
        for place, label in enumerate(runs.labels[:MOST_ROWS])
    ]
    return [
        Paragraph(
            "What stands between the readings and the results: flow Q, temperature t, density ρ "
            "and viscosity μ of the liquid, mean velocity v, piezometric pressure drop Δp between "
            "the taps. Their errors are not independent of each other, so they must not be "
            "combined from this table as if they were."
        ),
        table(
            f"Intermediate results; {IN_PARENTHESES}",
            head,
            rows,
        ),
    ]
