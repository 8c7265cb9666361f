"""The printed plan: plain text of at most 100 columns."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING, Any

from flowunc.bench.description.bench import Bench
from flowunc.bench.description.flowing_liquid import Mixture
from flowunc.bench.planning.arguments import ExpectedScatter
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.indications import reads_one
from flowunc.bench.run_text import CAUTION, WIDTH, layout, place_of
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["plan_text"]

Line = dict[Hashable, Any]


def plan_text(
    conditions: Conditions,
    best: pd.DataFrame,
    settings: pd.DataFrame | None,
    sentences: Sequence[str],
) -> str:
    """Write a plan: heading, the best choice for each flow, sentences.

    Parameters
    ----------
    conditions : Conditions
    best : pandas.DataFrame
        As `Plan.best` gives it.
    settings : pandas.DataFrame or None
        As `Plan.settings` gives them; None where there is no inclination to choose.
    sentences : sequence of str
        What else is to be said.
    """
    rows = best.to_dict("records")
    title = "Plan of a session, with the uncertainty to be expected"
    heading = [title, "=" * len(title), *_wrapped(_conditions(conditions))]
    stretches = [] if settings is None else settings.to_dict("records")
    said = [*_settings(stretches), *sentences, *_guides(rows), *_unread(rows)]
    lines = [part for text in said for part in _wrapped(text)]
    return "\n\n".join(
        "\n".join(block)
        for block in (heading, _table(conditions.bench, rows), lines, [CAUTION])
        if block
    )


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _conditions(conditions: Conditions) -> str:
    unit = conditions.bench.thermometer.scale.unit
    warmth = float(conditions.temperature.to(unit).value)
    return (
        f"Bench: {place_of(conditions.bench.file)}. {_liquid(conditions.bench)} at {warmth:.4g} "
        f"{unit}. Coverage "
        f"{conditions.coverage}, linear method. {_scatter(conditions.scatter)} f is Darcy's."
    )


def _liquid(bench: Bench) -> str:
    """Name what flows, as a sentence begins."""
    if bench.liquid is None:
        return "Pure water" if bench.water == "pure" else "Water"
    if isinstance(bench.liquid, Mixture):
        name = bench.liquid.title
    else:
        name = str(getattr(bench.liquid, "label", "")) or "liquid"
    return f"{name[0].upper()}{name[1:]}"


def _scatter(scatter: ExpectedScatter) -> str:
    stated = [
        f"{_size(given)} ({name})"
        for name, given in zip(scatter._fields, scatter, strict=True)
        if given is not None
    ]
    if not stated:
        return "No scatter of readings expected."
    return f"Expected scatter of a single reading: {', '.join(stated)}."


def _size(given: Quantity) -> str:
    return f"{given.value:g} {given.unit}"


# -- table -----------------------------------------------------------------------------------------
def _table(bench: Bench, rows: Sequence[Line]) -> list[str]:
    level = "reading" if reads_one(bench) else "high-low"
    repeated = any(row["repeats"] > 1 for row in rows)
    head = ["flow", "meter", "angle", f"{level}/{rows[0]['scale unit']}", "Re", "regime"]
    head += ["U(Re)/Re", "U(f)/f", "limited most by", "share"]
    align = "><>>><>><>"
    kept = [place for place, name in enumerate(head) if bench.inclines or name != "angle"]
    cells = [[row[place] for place in kept] for row in (_cells(row, repeated) for row in rows)]
    return layout(
        [head[place] for place in kept],
        cells,
        "".join(align[place] for place in kept),
        shrinkable=(kept.index(1), kept.index(8)),
    )


def _cells(row: Line, repeated: bool) -> list[str]:
    flow, reynolds = f"{row['flow']:.4g} {row['flow unit']}", f"{row['Re']:.0f}"
    if math.isnan(row["U(f)/f"]):
        return [flow, "-", "-", "-", reynolds, row["regime"], "-", "-", "cannot be read", "-"]
    count = f" ({row['repeats']}x)" if repeated else ""
    return [
        flow,
        f"{row['meter']}{count}",
        f"{row['inclination']:.4g}",
        f"{row.get('manometer reading', row['deflection']):.4g}",
        reynolds,
        row["regime"],
        _percent(row["U(Re)/Re"]),
        _percent(row["U(f)/f"]),
        row["limited by"],
        f"{100 * row['share']:.0f} %",
    ]


def _percent(fraction: float) -> str:
    return (
        f"{100 * fraction:#.2g}".rstrip(".") + " %" if fraction < 1 else f"{100 * fraction:.0f} %"
    )


# -- sentences -------------------------------------------------------------------------------------
def _settings(stretches: Sequence[Line]) -> list[str]:
    if not stretches:
        return []
    parts = []
    for one in stretches:
        flows = f"{one['from']:.4g}"
        flows += f" to {one['to']:.4g}" if one["to"] > one["from"] else ""
        parts.append(f"{one['inclination']:.4g} deg for {flows} {one['flow unit']}")
    few = "One inclination serves" if len(parts) == 1 else f"{len(parts)} inclinations serve"
    return [
        f"{few} all flows that can be read, with U(f)/f at most 5 % above that of the best one: "
        f"{'; '.join(parts)}."
    ]


def _guides(rows: Sequence[Line]) -> list[str]:
    """Say at which flows no law holds, so that what is read and U are only a guide."""
    shaky = [row for row in rows if "no law holds" in row["note"] or "its range" in row["note"]]
    if not shaky:
        return []
    flows = ", ".join(f"{row['flow']:.4g}" for row in shaky)
    shown = "the reading" if "manometer reading" in shaky[0] else "deflection"
    return [
        f"At {flows} {shaky[0]['flow unit']} no law holds; {shaky[0]['law']} is taken as a guide "
        f"to {shown} and U(f)/f."
    ]


def _unread(rows: Sequence[Line]) -> list[str]:
    return [
        f"{row['flow']:.4g} {row['flow unit']} cannot be read: {row['note']}."
        for row in rows
        if math.isnan(row["U(f)/f"])
    ]
