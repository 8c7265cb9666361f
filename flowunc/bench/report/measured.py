"""Sections on what was measured: the sheet, its readings, the bench and what is stated of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from flowunc.bench.description.bench import Bench
from flowunc.bench.report.apparatus import liquid_name, manometer_name
from flowunc.bench.report.asked import MOST_ROWS, Asked, file_name, is_invented
from flowunc.bench.report.content import Block, Listing, Paragraph, Remark, Section, Table, table
from flowunc.bench.report.stated_errors import error_table
from flowunc.bench.report.wording import (
    NONE,
    counted,
    estimate,
    reading,
    unit_text,
    with_unit,
)
from flowunc.bench.run_text import CAUTION
from flowunc.bench.sheets.sheet import SheetRow
from flowunc.instruments.inverted import InvertedUTubeManometer
from flowunc.instruments.scale import Scale
from flowunc.instruments.surroundings import (
    AIR_DENSITY,
    AIR_DENSITY_LIMITS,
    GRAVITY,
    GRAVITY_LIMITS,
    air_density_or_default,
)
from flowunc.instruments.transmitter import PressureTransmitter

__all__ = ["bench_section", "lead", "readings_section"]

Column = tuple[str, str, Callable[[SheetRow], str]]

_INVENTED = (
    "This is the invented example that comes with flowunc. No such bench, instrument or place "
    "exists, and nobody took these readings."
)


def lead(asked: Asked) -> tuple[Block, ...]:
    """Say what was measured, and from which files."""
    sheet, bench = asked.runs.sheet, asked.runs.bench
    zeros = sum(row.is_zero for row in sheet.rows)
    repeated = sum(len(run.rows) > 1 for run in sheet.runs)
    text = (
        f"Measured were the friction factor f (Darcy's) and the Reynolds number Re of "
        f"{liquid_name(bench)} in a round pipe, in {counted(len(sheet.runs), 'run')}: "
        f"{counted(len(sheet.sets), 'set')} of runs{_angles(asked)}, with "
        f"{counted(zeros, 'reading')} of the zero before, between and after them. "
    )
    if repeated:
        text += f"{counted(repeated, 'run')} {'was' if repeated == 1 else 'were'} read repeatedly. "
    text += (
        f"Lab sheet: {file_name(sheet.file)}. Description of the bench: {file_name(bench.file)}. "
        "Neither states when the readings were taken, so no date is given here."
    )
    blocks: list[Block] = [Paragraph(text), Remark(CAUTION)]
    if is_invented(sheet.file) or is_invented(bench.file):
        blocks.insert(0, Remark(_INVENTED))
    return tuple(blocks)


def _angles(asked: Asked) -> str:
    angles = [f"{angle:g}°" for angle in dict.fromkeys(s.angle for s in asked.runs.sheet.sets)]
    if not asked.runs.bench.inclines:
        return ""
    if len(angles) == 1:
        return f" at an inclination of the manometer of {angles[0]}"
    return f" at inclinations of the manometer of {', '.join(angles[:-1])} and {angles[-1]}"


# -- readings --------------------------------------------------------------------------------------
def readings_section(asked: Asked) -> Section:
    """Show every row of the sheet as it was read."""
    sheet, bench = asked.runs.sheet, asked.runs.bench
    columns = _columns(bench)
    rows = [
        [cell(row) for _, _, cell in columns] + [row.note or NONE] for row in sheet.rows[:MOST_ROWS]
    ]
    head = [*(name for name, _, _ in columns), "note"]
    align = "".join(side for _, side, _ in columns) + "w"
    text = (
        "Readings in the units of the instruments, in order of time. Rows of one label are repeats "
        "of one run. Rows named zero were read without flow."
    )
    if len(bench.manometer_kind.columns) > 1:
        text += " high and low are the two columns of the manometer"
        text += ", read along the incline." if bench.inclines else "."
    blocks: list[Block] = [
        Paragraph(text),
        table("Readings, with the line of the sheet", head, rows, align),
    ]
    if len(sheet.rows) > MOST_ROWS:
        blocks.append(Paragraph(f"{len(sheet.rows) - MOST_ROWS} more rows stand in the sheet."))
    return Section("Readings", tuple(blocks))


def _columns(bench: Bench) -> list[Column]:
    """Return what a row holds at this bench: name, side, and the cell of a row."""
    thermometer, manometer = bench.thermometer.scale, bench.manometer.scale

    def flow(row: SheetRow) -> str:
        if row.is_zero:
            return NONE
        scale = bench.meters[row.meter].scale
        return with_unit(reading(row.flow, scale), scale.unit)

    found: list[Column] = [
        ("line", "r", lambda row: str(row.line)),
        ("run", "l", lambda row: row.label),
        ("meter", "l", lambda row: row.meter or NONE),
        ("flow", "r", flow),
        (
            f"t in {unit_text(thermometer.unit)}",
            "r",
            lambda row: reading(row.temperature, thermometer),
        ),
    ]
    if bench.inclines:
        found.append(("angle", "r", lambda row: f"{row.angle:g}°"))
    names = bench.manometer_kind.columns
    unit = unit_text(manometer.unit)
    found.append((f"{names[0]} in {unit}", "r", lambda row: reading(row.high, manometer)))
    if len(names) > 1:
        found.append((f"{names[1]} in {unit}", "r", lambda row: reading(row.low, manometer)))
    return found


# -- bench -----------------------------------------------------------------------------------------
def bench_section(asked: Asked) -> Section:
    """Show the bench with its instruments, and everything that is stated of their errors."""
    intro = (
        "What is not stated is not in the uncertainty: check these two tables first. Limits ±a "
        "count as rectangular, u = a/√3 [JCGM 100, 4.3.7]; U with its coverage factor k is "
        "divided by it [JCGM 100, 4.3.3]; a scale that is read to a step d has the limits ±d/2 "
        "[JCGM 100, F.2.2.1]."
    )
    blocks: list[Block] = [Paragraph(intro), _equipment(asked), *error_table(asked)]
    notes = list(_assumptions(asked))
    if notes:
        blocks.append(Listing(tuple(notes)))
    return Section("Bench, instruments and their stated uncertainties", tuple(blocks))


def _equipment(asked: Asked) -> Table:
    bench = asked.runs.bench
    rows = [["bore", estimate(bench.bore)], ["distance of the taps", estimate(bench.tap_spacing)]]
    if bench.roughness is not None:
        rows.append(["roughness of the wall", estimate(bench.roughness)])
    rows += [
        [meter.label, f"variable-area meter, {_scale(meter.scale)}"]
        for meter in bench.meters.values()
    ]
    rows.append([bench.thermometer.label, _scale(bench.thermometer.scale)])
    rows.append(
        [bench.manometer.label, f"{manometer_name(bench)}, {_scale(bench.manometer.scale)}"]
    )
    named = (
        ("gravity", bench.gravity),
        ("air density", bench.air_density),
        ("density of the gauge liquid", bench.gauge_density),
        ("temperature of the transmitter", bench.transmitter_temperature),
    )
    rows += [[name, estimate(found)] for name, found in named if found is not None]
    rows.append(["what flows", liquid_name(bench)])
    head = ["part", "value(u), or what is read"]
    return table(
        "Pipe and instruments; in parentheses the standard uncertainty, in units of the last digit",
        head,
        rows,
        "lw",
    )


def _scale(scale: Scale) -> str:
    unit = unit_text(scale.unit)
    kind: Any = scale.kind
    if kind == "digital":
        text = f"digits of {scale.division:g} {unit}"
    elif kind == "graduated":
        fraction = 1.0 if scale.read_to is None else scale.read_to
        to = "to the nearest mark" if fraction == 1 else f"to {fraction:g} of a division"
        text = f"a mark every {scale.division:g} {unit}, read {to}"
    else:
        text = f"{kind} scale, a mark every {scale.division:g} {unit}"
    if scale.span is not None:
        text += f", {scale.span[0]:g} {unit} to {scale.span[1]:g} {unit}"
    return text


def _takes_default_air(bench: Bench) -> bool:
    """Tell whether air of a density that nobody stated stands above the columns."""
    manometer = bench.manometer
    if isinstance(manometer, InvertedUTubeManometer):
        usual = air_density_or_default(None, "report")
        top = manometer.top_density
        same = top.components == usual.components  # air under another pressure has them too
        return same and bool(np.all(top.si.value == usual.si.value))
    stated = bench.air_density is not None or bench.gauge_density is not None
    return "air_density" in bench.manometer_kind.takes and not stated


def _assumptions(asked: Asked) -> Iterator[str]:
    """Say what was taken because nothing is stated."""
    bench = asked.runs.bench
    # a transmitter shows a pressure: no column, so no gravity
    if bench.gravity is None and not isinstance(bench.manometer, PressureTransmitter):
        yield (
            f"Gravity is not stated: {GRAVITY:g} ± {GRAVITY_LIMITS:g} m/s² as limits, which hold "
            "at sea level anywhere [WGS 84]."
        )
    if _takes_default_air(bench):
        yield (
            f"The density of the air is not stated: {AIR_DENSITY:.2f} ± {AIR_DENSITY_LIMITS:.2f} "
            "kg/m³ as limits, which hold for usual indoor air [CIPM-2007]."
        )
    unsure = [meter.label for meter in bench.meters.values() if not meter.accuracy]
    if unsure:
        yield f"No accuracy is stated for: {', '.join(unsure)}."
    open_sets = [found for found in asked.runs.sheet.sets if not found.after]
    if open_sets:
        sets = (
            "One set of runs has" if len(open_sets) == 1 else f"{len(open_sets)} sets of runs have"
        )
        yield f"{sets} no zero reading after the last run, so a drift of the zero is not known."
    if not np.any([len(run.rows) > 1 for run in asked.runs.sheet.runs]):
        yield "No run was read repeatedly, so no scatter of readings (Type A) is included."
