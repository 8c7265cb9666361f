"""Whether the repeats of a run belong together: outliers, and rows that are no repeats at all.

A label typed twice by mistake makes two runs into one: their mean is no reading of either, and
their difference passes for scatter.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.outliers import outliers
from flowunc.bench.description.bench import Bench
from flowunc.bench.sheets.sheet import Run, RunSet, Sheet
from flowunc.core.errors import warn_user
from flowunc.core.units import parse_unit

__all__ = ["repeats_verdict", "warn_of_unlike_repeats"]

_STRAGGLER, _OUTLIER = 0.95, 0.99  # levels of [ISO 5725-2, 7.3.2]
# How far rows of one run may lie apart: ours, common practice, no source. A float or a column
# that swings by more is read at another flow; the head goes with the square of the flow.
_FLOW, _KELVIN, _DIFFERENCE = 0.2, 2.0, 0.4
_RESOLUTIONS = 4  # times what rounding to the marks explains at most


def repeats_verdict(bench: Bench, run: Run) -> tuple[str, str]:
    """Return the verdict on the repeats of a run by Grubbs' test, and a sentence."""
    count = len(run.rows)
    if count < 3:
        text = f"Run {run.label}: two repeats, of which neither can be called an outlier."
        return "not checked", text
    readings = run.readings()
    read = bench.manometer_kind.columns  # one reading has no second
    scales = [bench.meters[run.meter].scale, bench.thermometer.scale]
    scales += [bench.manometer.scale] * len(read)
    names = ("flow", "temperature", *read)
    flags, verdict = [], "no outlier"
    for column, (name, scale) in enumerate(zip(names, scales, strict=True)):
        weak, strong = (
            outliers(readings[:, column], level=level, step=2 * scale.half_width)
            for level in (_STRAGGLER, _OUTLIER)
        )
        if not weak.flagged:
            continue
        found = "outlier" if strong.flagged else "straggler"
        verdict = "outlier" if verdict == "outlier" else found
        test = weak.tests[0]
        flags.append(
            f"{name} {test.value:g} {scale.unit} in line {run.rows[test.reading].line} ({found}, "
            f"G = {test.statistic:.3f} beyond {test.critical:.3f})"
        )
    text = f"Run {run.label}: none of its {count} repeats is an outlier."
    if flags:
        text = f"Run {run.label}: {', '.join(flags)} among {count} repeats. Look for a reason; "
        text += "nothing was left out of the mean."
    return verdict, text


def warn_of_unlike_repeats(sheet: Sheet, bench: Bench) -> None:
    """Warn of runs with rows too far apart to be repeats of one flow.

    Warns
    -----
    FlowuncWarning
        A flow that differs by more than 20 % of its mean, a temperature by more than 2 K, or a
        manometer difference of two rows, counted from the zero before, by more than 40 % of its
        mean; each only where it is beyond four times what the resolution explains.
    """
    for found in sheet.sets:
        for run in found.runs:
            if len(run.rows) > 1:
                _warn_of(sheet, bench, found, run)


def _warn_of(sheet: Sheet, bench: Bench, found: RunSet, run: Run) -> None:
    meter, thermometer = bench.meters[run.meter].scale, bench.thermometer.scale
    columns = bench.manometer_kind.columns
    zero = float(np.mean([row.high - row.low for row in found.before]))
    readings = run.readings()
    differences = readings[:, 2] - readings[:, 3] - zero
    kelvin = float(parse_unit(thermometer.unit).scale_to_si(1.0))
    manometer = bench.manometer.scale
    asked = [
        ("flow", readings[:, 0], meter, _FLOW * _size(readings[:, 0]), 1),
        ("temperature", readings[:, 1], thermometer, _KELVIN / kelvin, 1),
    ]
    if len(run.rows) == 2:  # of more rows, the test for outliers says which one is misread
        name = "reading" if len(columns) == 1 else "high less low"
        most = _DIFFERENCE * _size(differences)
        asked.append((name, differences, manometer, most, len(columns)))
    told = []
    for name, values, scale, most, marks in asked:
        first, last = sorted((int(np.argmin(values)), int(np.argmax(values))))
        apart = float(values[last] - values[first])
        # two readings may each be off by half a step at every mark that was read
        if abs(apart) <= max(most, _RESOLUTIONS * 2 * marks * scale.half_width):
            continue
        shown = values + zero if values is differences else values
        told.append(
            f"{name} {shown[first]:.6g} {scale.unit} in line {run.rows[first].line} and "
            f"{shown[last]:.6g} {scale.unit} in line {run.rows[last].line}"
        )
    if told:
        warn_user(
            f"{sheet.file}, run {run.label!r}: {'; '.join(told)}: are these repeats of one run? "
            "Rows of one label count as such; if they are not, give each run its own label"
        )


def _size(values: NDArray[np.float64]) -> float:
    return abs(float(np.mean(values)))
