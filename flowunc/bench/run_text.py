"""The printed report of analysed runs: plain text of at most 100 columns."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import numpy as np

from flowunc.analysis.agreement import Agreement
from flowunc.bench.conclusions import Outcome, RunLine
from flowunc.bench.description.bench import Bench
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.display.rounding import Rounded, round_pair
from flowunc.core.kinds import VolumeFlowRate
from flowunc.instruments.scale import Scale
from flowunc.pipe import laws
from flowunc.propagation.cross_check import CrossCheck

__all__ = ["CAUTION", "EXAMPLE", "WIDTH", "layout", "place_of", "run_text"]

EXAMPLE = Path(__file__).parent / "example"

WIDTH = 100
_NARROWEST = 6  # columns that a name is left
_MOST_NAMED = 12  # runs in one sentence
_LARGEST_POWER = 7
_SHORT = {laws.laminar.name: "64/Re", laws.prandtl_smooth.name: "Prandtl"}
CAUTION = (
    "Glass meters can burst; keep water away from electrics: follow local rules, ask qualified "
    "staff."
)


def run_text(
    sheet: Sheet,
    bench: Bench,
    lines: Sequence[RunLine],
    flow: VolumeFlowRate,
    friction: CrossCheck,
    agreement: Agreement | None,
    alarms: Sequence[str] = (),
) -> str:
    """Write the report: heading, table of runs, table of limits, sentences.

    Parameters
    ----------
    sheet, bench
        Where the runs come from.
    lines : sequence of RunLine
        What is concluded for each run.
    flow : VolumeFlowRate, shape (n,)
        Of the runs.
    friction : CrossCheck
        Of their f; level, trials and seed are those of the report.
    agreement : Agreement or None
        Of all runs that have a law; None where that is not asked.
    alarms : sequence of str
        What readings that do not fit each other say, a sentence each.
    """
    sentences = [
        _limits(lines),
        *_failures(lines, flow, friction),
        *_theory(lines, agreement),
    ]
    blocks = [
        _heading(sheet, bench, friction),
        _run_table(bench, lines),
        _limit_table(lines),
        *([_alarms(alarms)] if alarms else []),
        [part for sentence in sentences for part in _wrapped(sentence, "  ")],
        [CAUTION],
    ]
    return "\n\n".join("\n".join(block) for block in blocks)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def _heading(sheet: Sheet, bench: Bench, check: CrossCheck) -> list[str]:
    count = f"{_counted(len(sheet.runs), 'run')} in {_counted(len(sheet.sets), 'set')}"
    title = "Runs of a pipe-friction bench, with their uncertainty"
    return [
        title,
        "=" * len(title),
        *_wrapped(f"Sheet: {place_of(sheet.file)} ({count})", "       "),
        *_wrapped(f"Bench: {place_of(bench.file)}", "       "),
        *_wrapped(
            f"Coverage {100 * check.level:g} %. U is that of the linear method; an interval marked "
            f"* is from {check.drawn.trials} draws (seed {check.drawn.seed}), where the linear "
            "method does not hold. f is Darcy's. E_n = (f - law)/U of the difference, k = 2."
        ),
    ]


def place_of(file: str) -> str:
    """Name a file; for the example it does not matter where the package lies."""
    path = Path(file)
    return f"the invented example, {path.name}" if path.parent == EXAMPLE else file


def _alarms(alarms: Sequence[str]) -> list[str]:
    asks = "asks" if len(alarms) == 1 else "ask"
    found = [
        f"{_counted(len(alarms), 'check')} of the readings against each other {asks} for a look:"
    ]
    for sentence in alarms[:_MOST_NAMED]:
        found += _wrapped(f"- {sentence}", "  ")
    if len(alarms) > _MOST_NAMED:
        found.append(f"- {len(alarms) - _MOST_NAMED} more; see the report, or Runs.consistency().")
    return found


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


# -- tables ----------------------------------------------------------------------------------------
def _run_table(bench: Bench, lines: Sequence[RunLine]) -> list[str]:
    thermometer = bench.thermometer.scale
    head = ["run", "meter", "flow", f"t/{thermometer.unit}", "Re", "f", "regime", "law", "E_n"]
    rows = []
    for line in lines:
        meter = bench.meters[line.meter].scale
        mark = f" ({line.repeats}x)" if line.repeats > 1 else ""
        rows.append(
            [
                f"{line.run}{mark}",
                line.meter,
                f"{_reading(line.flow, meter, line.repeats)} {line.flow_unit}",
                _reading(line.temperature, thermometer, line.repeats),
                _result(line.reynolds),
                _result(line.friction),
                f"{line.regime} {_percent(line.probability).replace(' ', '')}",
                _SHORT.get(
                    line.law, line.law.replace("_", "-").title() if line.law != "-" else "-"
                ),
                "-" if math.isnan(line.normalised_error) else f"{line.normalised_error:.2f}",
            ]
        )
    return layout(head, rows, "<<>>>><<>", shrinkable=(0, 1, 7))


def _limit_table(lines: Sequence[RunLine]) -> list[str]:
    rows = [
        [line.run, line.limited_by, _percent(line.share), _verdict(line.friction)] for line in lines
    ]
    head = ["run", "f is limited most by", "share of u^2", "linear method for f"]
    return layout(head, rows, "<<><", shrinkable=(0, 1))


def layout(
    head: list[str], rows: list[list[str]], align: str, shrinkable: tuple[int, ...]
) -> list[str]:
    """Set columns beside each other; long names are cut where the line would get too long."""
    cells = [head, *rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    gaps = len(widths) - 1
    gap = "  " if sum(widths) + 2 * gaps <= WIDTH else " "
    surplus = sum(widths) + len(gap) * gaps - WIDTH
    for column in sorted(shrinkable, key=lambda place: -widths[place]):
        cut = min(max(surplus, 0), max(widths[column] - _NARROWEST, 0))
        widths[column] -= cut
        surplus -= cut
    found = []
    for row in cells:
        shown = [_cut(cell, width) for cell, width in zip(row, widths, strict=True)]
        text = gap.join(
            f"{cell:{side}{width}}" for cell, side, width in zip(shown, align, widths, strict=True)
        )
        found.append(text.rstrip()[:WIDTH])
    rule = "-" * min(sum(widths) + len(gap) * gaps, WIDTH)
    return [found[0], rule, *found[1:]]


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 2]}.."


def _percent(share: float) -> str:
    percent = 100 * share
    if 99.5 <= percent < 100:
        return ">99 %"
    return f"{percent:.0f} %"


def _reading(value: float, scale: Scale, repeats: int = 1) -> str:
    """Write a reading with the digits of the marks, or with more where it was read to more.

    A mean of repeats has any number of digits; it gets those of half a division.
    """
    for step in (scale.division, scale.half_width):
        rounded = round_pair(value, step, 1)
        text = _plain(rounded.value, rounded)
        if math.isclose(float(text), value, rel_tol=1e-9):
            return text
    return text if repeats > 1 else f"{Decimal(repr(value)):f}"


def _result(outcome: Outcome) -> str:
    if not math.isnan(outcome.expanded):
        rounded = round_pair(outcome.value, outcome.expanded)
        pair = (_plain(rounded.value, rounded), _plain(rounded.uncertainty, rounded))
        return " ± ".join(part for part in pair if part)
    if not math.isfinite(outcome.low):
        return "no interval*"
    spread = (outcome.high - outcome.low) / 4
    rounded_ends = (round_pair(end, spread) for end in (outcome.low, outcome.high))
    return f"{' to '.join(_plain(end.value, end) for end in rounded_ends)}*"


def _plain(digits: str, rounded: Rounded) -> str:
    """Write 2.82 of (2.82 ± 0.11)e+03 as 2820: a table of runs has no room for powers of ten."""
    if not digits or not 0 < rounded.exponent < _LARGEST_POWER:
        return f"{digits}e{rounded.exponent}" if digits and rounded.exponent else digits
    return f"{Decimal(digits).scaleb(rounded.exponent):f}"


def _verdict(outcome: Outcome) -> str:
    if outcome.verdict == "holds":
        return f"holds to {_counted(outcome.digits, 'digit')} of u"
    if outcome.verdict == "undecided":
        return "undecided: too few draws to say"
    return "fails: interval from the draws"


# -- sentences -------------------------------------------------------------------------------------
def _limits(lines: Sequence[RunLine]) -> str:
    counts = Counter(line.limited_by for line in lines)
    (first, most), *others = counts.most_common()
    if most == len(lines):
        return f"What limits f most, by single error: the {first}, in every run."
    rest = ", ".join(f"the {name} in {number}" for name, number in others)
    return (
        f"What limits f most, by single error: the {first} in {most} of {len(lines)} runs, {rest}."
    )


def _failures(lines: Sequence[RunLine], flow: VolumeFlowRate, check: CrossCheck) -> list[str]:
    failing = [row for row, verdict in enumerate(check.verdicts) if verdict == "fails"]
    undecided = [row for row, verdict in enumerate(check.verdicts) if verdict == "undecided"]
    reasons: dict[str, list[int]] = {}
    for row in failing:
        reasons.setdefault(_why(check, row), []).append(row)
    percent = 100 * np.asarray(flow.u) / np.asarray(flow.value)
    found = []
    for reason, rows in reasons.items():
        low, high = f"{percent[rows].min():.2g}", f"{percent[rows].max():.2g}"
        size = f"{low} %" if low == high else f"{low} % to {high} %"
        found.append(
            f"{_named([lines[row].run for row in rows])}: the linear method fails for f, "
            f"{reason.format(size=size)}; report the interval."
        )
    if undecided:
        found.append(
            f"{_named([lines[row].run for row in undecided])}: the draws are too few to say "
            "whether the linear method holds for f; report the interval, or draw more."
        )
    if not found:
        found.append("The linear method holds for f in every run.")
    return found


def _why(check: CrossCheck, row: int) -> str:
    """Say in which way the drawn interval differs from value ± U."""
    if not np.isfinite(check.drawn_low[row]):
        return "and some draws have no value"
    above = check.linear_high[row] - check.drawn_high[row]
    below = check.drawn_low[row] - check.linear_low[row]
    if abs(above - below) >= abs(above + below):
        return "whose distribution is skewed: it goes with 1/flow^2, and u(flow) is {size}"
    if above + below > 0:
        return "as one rectangular error dominates and the true interval is narrower than ± U"
    return "as its tails are heavier than ± U allows for, with few repeats or u(flow) of {size}"


def _theory(lines: Sequence[RunLine], agreement: Agreement | None) -> list[str]:
    found = []
    without: dict[str, list[str]] = {}
    for line in lines:
        if line.law == "-":
            without.setdefault(line.no_law_because, []).append(line.run)
    for reason, names in without.items():
        found.append(f"{_named(names)}: held against no law, as {reason}.")
    compared = [line for line in lines if line.law != "-"]
    far = [line for line in compared if abs(line.normalised_error) > 1]
    for line in far[:_MOST_NAMED]:
        side = "above" if line.normalised_error > 0 else "below"
        found.append(
            f"Run {line.run} disagrees with theory: f = {line.friction.value:.3g} lies {side} "
            f"{line.friction_by_law:.3g} by more than the uncertainties explain "
            f"(E_n = {line.normalised_error:.2f})."
        )
    if len(far) > _MOST_NAMED:
        found.append(f"{len(far) - _MOST_NAMED} more runs disagree with theory.")
    if agreement is not None:
        found.append(f"All runs held against a law: {agreement.sentence}.")
    return found


def _named(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"Run {names[0]}"
    shown = names[:_MOST_NAMED]
    more = f" and {len(names) - len(shown)} more" if len(names) > len(shown) else ""
    if more:
        return f"Runs {', '.join(shown)}{more}"
    return f"Runs {', '.join(shown[:-1])} and {shown[-1]}"
