"""Sections on the readings against each other, and on what to change on the bench."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from flowunc.bench.checks.consistency import Consistency
from flowunc.bench.report.asked import MOST_ROWS, Asked
from flowunc.bench.report.content import Block, Listing, Paragraph, Section, Subheading, table
from flowunc.bench.report.wording import NONE, number, pair, percent, with_unit

__all__ = ["consistency_section", "improvement_section"]

_MOST_SENTENCES = 60
_TOP = 2  # sources of a run that are named


def consistency_section(asked: Asked, charts: tuple[Block, ...]) -> Section:
    """Show the checks of the sheet against itself."""
    found = asked.consistency
    if not isinstance(found, Consistency):
        return Section("Readings against each other", (Paragraph(found),))
    blocks: list[Block] = [Paragraph(_intro(asked, found))]
    if found.checks:
        blocks.append(_checks(found))
        shown = found.sentences[:_MOST_SENTENCES]
        blocks.append(Listing(shown))
        if len(found.sentences) > len(shown):
            blocks.append(Paragraph(f"{len(found.sentences) - len(shown)} more are not shown."))
    else:
        blocks.append(Paragraph("The sheet has nothing that could be held against each other."))
    return Section("Readings against each other", (*blocks, *charts))


def _intro(asked: Asked, found: Consistency) -> str:
    text = (
        "Checks that no theory enters: the zero before and after a set, columns that mirror each "
        "other and readings finer than their scale where there are any, repeats of a run by the "
        "test of Grubbs [Grubbs 1969; ISO 5725-2, 7.3.4], the look of the dye against the regime. "
        f"U = {found.k:g} u, common errors cancelled. "
    )
    if not asked.same_flow:
        return f"{text}No runs are stated to have been taken at one setting of the valve."
    groups = "; ".join(", ".join(map(str, group)) for group in asked.same_flow)
    return (
        f"{text}Stated to have been taken at one setting of the valve: runs {groups}. What agrees "
        "is averaged, weighted by its covariance [Cox 2002]."
    )


def _checks(found: Consistency) -> Block:
    rows = []
    for check in found.checks[:MOST_ROWS]:
        difference = NONE
        if not math.isnan(check.difference):
            difference = with_unit(pair(check.difference, check.expanded), check.unit)
        error = NONE if math.isnan(check.normalised_error) else f"{check.normalised_error:.2f}"
        rows.append([check.check, ", ".join(check.runs), difference, error, check.verdict])
    head = ["check", "runs", "difference ± U", "E_n", "verdict"]
    return table("Checks of the readings", head, rows, "lwrrl")


# -- what to change --------------------------------------------------------------------------------
def improvement_section(asked: Asked) -> Section:
    """Say what limits each run, what halving it would gain, and what shortcuts would claim."""
    blocks: list[Block] = [*_limits(asked), *_shortcuts(asked)]
    return Section("What limits f, and what to change", tuple(blocks))


def _limits(asked: Asked) -> Iterator[Block]:
    found = asked.attempt(lambda: asked.runs.budgets(by="source", level=asked.level))
    if isinstance(found, str):
        yield Paragraph(found)
        return
    rows = []
    gains: dict[str, list[float]] = {}
    for label, of_run in found.groupby("run", sort=False):
        cells = [str(label)]
        for line in of_run.head(_TOP).to_dict("records"):
            cells += [str(line["source"]), percent(line["share"]), percent(line["gain_if_halved"])]
        rows.append(cells + [NONE] * (1 + 3 * _TOP - len(cells)))
        first = of_run.iloc[0]
        gains.setdefault(str(first["source"]), []).append(float(first["gain_if_halved"]))
    head = ["run"]
    for rank in ("first", "second")[:_TOP]:
        head += [f"{rank} source", "share of u²", "gain"]
    yield Paragraph(
        "An instrument counts with all its errors here, resolution and calibration together. The "
        "gain is by how much U(f) would shrink if the source had half its uncertainty."
    )
    yield table("What limits f in each run", head, rows[:MOST_ROWS], "llrrlrr")
    order = sorted(gains, key=lambda name: -len(gains[name]))
    yield Listing(
        tuple(
            f"{name[:1].upper()}{name[1:]}: the first source in {len(gains[name])} of {len(rows)} "
            f"{'run' if len(rows) == 1 else 'runs'}; half its uncertainty would take "
            f"{percent(min(gains[name]))} to {percent(max(gains[name]))} off U(f) there."
            if len(gains[name]) > 1
            else f"{name[:1].upper()}{name[1:]}: the first source in one run; half its "
            f"uncertainty would take {percent(gains[name][0])} off U(f) there."
            for name in order
        )
    )


def _shortcuts(asked: Asked) -> Iterator[Block]:
    run = asked.label
    yield Subheading("What usual shortcuts would have claimed")
    found = asked.attempt(lambda: asked.runs.shortcuts(run, level=asked.level))
    if isinstance(found, str):
        yield Paragraph(found)
        return
    rows = [
        [
            str(line["shortcut"]),
            number(line["u"], 3),
            f"{line['k']:.3g}",
            number(line["U"], 3),
            number(line["ratio"], 3),
            str(line["note"]),
        ]
        for line in found.to_dict("records")
    ]
    head = ["shortcut", "u(f)", "k", "U(f)", "U over the correct U", "why it is wrong"]
    yield table(f"U(f) of run {run} by shortcuts", head, rows, "lrrrrw")
    ratios = np.asarray(found["ratio"], dtype=np.float64)
    yield Paragraph(
        f"For run {run}, shortcuts would have claimed from {number(float(ratios.min()), 2)} to "
        f"{number(float(ratios.max()), 2)} times the correct U [JCGM 100, 5.2 and F.1.2]."
    )
