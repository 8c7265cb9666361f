"""Sections on what contributes to the uncertainty, and on whether the linear method holds."""

from __future__ import annotations

import math

import numpy as np

from flowunc.bench.conclusions import source_variances
from flowunc.bench.report.asked import MOST_ROWS, Asked
from flowunc.bench.report.content import (
    Block,
    Listing,
    Paragraph,
    Section,
    Subheading,
    Table,
    table,
)
from flowunc.bench.report.wording import (
    NONE,
    interval,
    named,
    number,
    pair,
    percent,
    unit_text,
    with_unit,
)
from flowunc.core.quantity import Quantity

__all__ = ["budget_section", "cross_check_section"]

_MOST_SOURCES = 6  # columns of a table of shares
_SEEN = 0.01
_MOST_LINES = 12  # of the budget of one run
_SYMBOLS = {"friction": "f", "reynolds": "Re"}


def budget_section(asked: Asked, charts: tuple[Block, ...]) -> Section:
    """Show the shares of all sources in u²(f) and u²(Re), and the budget of one run."""
    blocks: list[Block] = [
        Paragraph(
            "Share of each error in the variance u² of a run, by the linear method; errors of both "
            "columns of a manometer, or at several inclinations, count together. Shares show where "
            "an improvement would tell; they do not show size, so u in per cent of the result "
            "stands beside them."
        )
    ]
    for of, symbol in _SYMBOLS.items():
        blocks.append(_shares(asked, asked.runs.result(of), symbol))
    blocks += [*charts, *_one_run(asked)]
    return Section("Uncertainty budgets", tuple(blocks))


def _shares(asked: Asked, quantity: Quantity, symbol: str) -> Table:
    variances = source_variances(quantity)
    parts = np.array(list(variances.values())).reshape(len(variances), len(quantity))
    total = parts.sum(axis=0)
    shares = parts / np.where(total > 0, total, 1.0)
    order = np.argsort(-shares.mean(axis=1), kind="stable")
    shown = [place for place in order if shares[place].max() >= _SEEN][:_MOST_SOURCES]
    names = list(variances)
    relative = np.abs(np.asarray(quantity.u) / np.asarray(quantity.value))
    head = ["run", f"u({symbol})/{symbol}", *(names[place] for place in shown), "all others"]
    rows = [
        [
            label,
            percent(float(relative[row])),
            *(percent(float(shares[place, row])) for place in shown),
            percent(max(0.0, 1.0 - float(shares[shown, row].sum())) if shown else 1.0),
        ]
        for row, label in enumerate(asked.runs.labels[:MOST_ROWS])
    ]
    return table(f"Shares of the errors in u²({symbol})", head, rows)


def _one_run(asked: Asked) -> list[Block]:
    run, f = asked.label, asked.runs.friction
    lines = asked.runs.budget(run)
    single = f[asked.place]
    value, u = float(single.value), float(single.u)
    U, k = (float(part) for part in single.expanded(asked.level))
    rows = []
    for line in lines.head(_MOST_LINES).to_dict("records"):
        unit = unit_text(str(line["unit"]))
        rows.append(
            [
                str(line["component"]),
                str(line["evaluation"]),
                str(line["distribution"]),
                with_unit(number(line["u"], 3), str(line["unit"])),
                _dof(line["dof"]),
                f"{number(line['sensitivity'], 3)}{f' per {unit}' if unit else ''}",
                number(line["contribution"], 3),
                percent(line["share"]),
            ]
        )
    head = ["error", "type", "distribution", "u(e)", "dof", "sensitivity c", "|c| u(e)", "share"]
    blocks: list[Block] = [
        Subheading(f"Run {run} in full"),
        Paragraph(
            f"f = {number(value, 5)}, u(f) = {number(u, 3)}, effective degrees of freedom "
            f"{_dof(float(single.dof))}, k = {k:.3g}, U(f) = {number(U, 3)}. Each sensitivity is "
            "the change of f per unit of the error, all else unchanged; it takes every way by "
            "which the error enters into account."
        ),
        table(f"Budget of f of run {run}", head, rows, "wllrrrrr"),
    ]
    left = len(lines) - len(rows)
    if left > 0:
        rest = math.sqrt(float(np.square(lines["contribution"].to_numpy()[_MOST_LINES:]).sum()))
        blocks.append(Paragraph(f"{left} smaller errors contribute {number(rest, 2)} together."))
    blocks.append(Paragraph("The root of the sum of the squares of all contributions is u(f)."))
    return blocks


def _dof(dof: float) -> str:
    return "∞" if math.isinf(dof) else number(dof, 3)


# -- cross-check -----------------------------------------------------------------------------------
def cross_check_section(asked: Asked, charts: tuple[Block, ...]) -> Section:
    """Hold value ± U against the draws, for Re and f of each run."""
    blocks: list[Block] = [
        Paragraph(
            f"Value ± U by the linear method beside the {100 * asked.level:g} % interval from "
            f"{asked.trials} draws (seed {asked.seed}). The largest distance of their ends is held "
            "against half a unit of the first digit of u, the tolerance [JCGM 101, 7.9.2 and 8.1]."
        )
    ]
    for of, symbol in (("reynolds", "Re"), ("friction", "f")):
        blocks += [_checks(asked, of, symbol), Listing(tuple(_verdicts(asked, of, symbol)))]
    return Section("Does the linear method hold?", (*blocks, *charts))


def _checks(asked: Asked, of: str, symbol: str) -> Table:
    check = asked.check(of)
    middle = (check.linear_low + check.linear_high) / 2
    half = (check.linear_high - check.linear_low) / 2
    distance = np.maximum(check.d_low, check.d_high)
    rows = []
    for row, label in enumerate(asked.runs.labels[:MOST_ROWS]):
        finite = math.isfinite(distance[row])
        rows.append(
            [
                label,
                pair(float(middle[row]), float(half[row])),
                interval(float(check.drawn_low[row]), float(check.drawn_high[row])),
                number(float(distance[row]), 2) if finite else NONE,
                number(float(check.tolerance[row]), 1),
                check.verdicts[row],
            ]
        )
    head = ["run", "value ± U", "draws", "distance", "tolerance", "linear method"]
    return table(f"{symbol} by both methods", head, rows, "lrrrrl")


def _verdicts(asked: Asked, of: str, symbol: str) -> list[str]:
    check = asked.check(of)
    found = {
        verdict: [
            label
            for label, given in zip(asked.runs.labels, check.verdicts, strict=True)
            if given == verdict
        ]
        for verdict in ("fails", "undecided")
    }
    items = []
    if found["fails"]:
        items.append(
            f"{named(found['fails'])}: value ± U does not hold for {symbol}, so the drawn "
            "interval is reported."
        )
    if found["undecided"]:
        items.append(
            f"{named(found['undecided'])}: the draws are too few to say whether value ± U holds "
            f"for {symbol}; the drawn interval is reported."
        )
    return items or [f"Value ± U holds for {symbol} in every run, to one digit of u at least."]
