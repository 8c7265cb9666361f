"""``python -m flowunc``: the report of a lab sheet on the command line."""

from __future__ import annotations

import argparse
import os
import sys
import warnings
from collections.abc import Sequence
from dataclasses import replace

from flowunc.bench.description.bench import LAWS, Bench
from flowunc.bench.description.bench_file import load_bench
from flowunc.bench.evaluation import analyse
from flowunc.bench.nearest_name import nearest
from flowunc.bench.run_text import EXAMPLE
from flowunc.bench.sheets.file import read_sheet
from flowunc.bench.templates import write_templates
from flowunc.core.errors import BenchError, FlowuncError, FlowuncWarning, StatementError

__all__ = ["EXAMPLE", "main"]

_MOST_TRIALS = 10_000_000
_LONG = 2_000_000  # trials, from which on a terminal shows how far they are
_MOST_NAMED = 12  # labels in a message
_REFUSED = 2  # exit status, as for wrong options


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the report; return the exit status, 2 for what cannot be used."""
    options = _parser().parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        # a terminal that cannot show ± or a label gets "?" instead of a traceback
        getattr(stream, "reconfigure", lambda **_: None)(errors="replace")
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            text = _template(options) if options.template else _report(options)
        except FlowuncError as error:
            _show(caught)
            return _refuse(str(error))
    _show(caught)
    return _print(text)


def _template(options: argparse.Namespace) -> str:
    for name in ("sheet", "bench", "report"):
        if getattr(options, name) is not None:
            raise StatementError(f"--template DIR goes alone, without {name.upper()}")
    bench, sheet = write_templates(options.template)
    return (
        f"wrote {bench} and {sheet}: fill them in, then\n"
        f"  python -m flowunc {sheet} --bench {bench}"
    )


def _report(options: argparse.Namespace) -> str:
    if (options.sheet is None) != (options.bench is None):
        missing = "SHEET, the lab sheet" if options.sheet is None else "--bench BENCH, its bench"
        raise StatementError(f"{missing}, is missing; give both, or none for the example")
    _check_report(options)
    groups = [_group(text) for text in options.same_flow]
    bench = load_bench(options.bench or EXAMPLE / "bench.toml")
    if options.law is not None:
        bench = _with_law(bench, options.law)
    sheet = read_sheet(options.sheet or EXAMPLE / "sheet.csv", bench)
    _check_known(groups, tuple(run.label for run in sheet.runs))
    runs = analyse(sheet, bench)
    asked = {"level": options.level, "seed": options.seed, "trials": options.trials}
    runs.draw(
        trials=options.trials,
        seed=options.seed,
        progress=options.trials >= _LONG and sys.stderr.isatty(),
    )
    text = runs.text(**asked)
    if options.report is not None:
        runs.report(options.report, same_flow=groups, **asked)
        text += f"\n\nThe report is in {options.report}"
    return text


def _check_report(options: argparse.Namespace) -> None:
    """Refuse a place for the report before anything is read or computed."""
    if options.report is None:
        if options.same_flow:
            raise StatementError(
                f"--same-flow {options.same_flow[0]} compares runs in the report; give --report "
                "FILE too"
            )
        return
    from flowunc.bench.report.report import target_of

    try:
        target_of(options.report)
    except FlowuncError as error:
        raise StatementError(f"--report {options.report}: {error}") from None


def _group(text: str) -> tuple[str, ...]:
    labels = tuple(label.strip() for label in text.split(","))
    if len(labels) < 2 or len(set(labels)) < len(labels) or not all(labels):
        raise StatementError(
            f"--same-flow {text}: expected two or more different runs with commas between them, "
            "such as 5,6; for another group, give --same-flow again"
        )
    return labels


def _check_known(groups: Sequence[tuple[str, ...]], known: tuple[str, ...]) -> None:
    for group in groups:
        for label in group:
            if label not in known:
                more = " ..." if len(known) > _MOST_NAMED else ""
                raise StatementError(
                    f"--same-flow {','.join(group)}: no run {label!r}; {nearest(label, known)}"
                    f"expected labels of the sheet: {', '.join(known[:_MOST_NAMED])}{more}"
                )


def _with_law(bench: Bench, name: str) -> Bench:
    """Return the bench with another law; what does not fit is the fault of the option."""
    if name not in LAWS:
        raise StatementError(
            f"--law: got {name!r}; {nearest(name, LAWS)}expected one of {', '.join(LAWS)}"
        )
    try:
        return replace(bench, turbulent_law=name)
    except BenchError as error:
        raise StatementError(f"--law {name}: {error}") from None


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m flowunc",
        description="Turn the lab sheet of a pipe-friction bench into Reynolds numbers and "
        "friction factors with their uncertainty. Without a sheet, an invented example is shown.",
        epilog="Nothing is written unless --report or --template asks for it. Exit status: 0, or "
        "2 for a sheet, a bench, an option or a place to write that cannot be used.",
    )
    parser.add_argument("sheet", metavar="SHEET", nargs="?", help="lab sheet, a CSV file")
    parser.add_argument("--bench", metavar="BENCH", help="description of its bench, a TOML file")
    parser.add_argument(
        "--law",
        metavar="NAME",
        help=f"hold turbulent runs against this law in place of the bench's: {', '.join(LAWS)}",
    )
    parser.add_argument(
        "--report",
        metavar="FILE",
        help="write the full report too, as a page (.html), as text (.md) or for LaTeX (.tex)",
    )
    parser.add_argument(
        "--same-flow",
        metavar="RUNS",
        action="append",
        default=[],
        help="runs taken at one setting of the valve, such as 5,6, compared in the --report; again "
        "for another group",
    )
    parser.add_argument(
        "--template",
        metavar="DIR",
        help="write a blank bench file and a blank lab sheet into DIR, and nothing else",
    )
    parser.add_argument(
        "--seed",
        type=_whole(0, 2**63 - 1),
        default=0,
        metavar="N",
        help="seed of the draws; the same seed gives the same report (0)",
    )
    parser.add_argument(
        "--trials",
        type=_whole(1000, _MOST_TRIALS),
        default=200_000,
        metavar="N",
        help="number of draws (200000)",
    )
    parser.add_argument(
        "--level",
        type=_level,
        default=0.95,
        metavar="P",
        help="coverage probability, between 0 and 1 (0.95)",
    )
    return parser


class _whole:  # noqa: N801 - argparse shows it as the name of a type
    """Reads a whole number within limits."""

    def __init__(self, least: int, most: int) -> None:
        self.least, self.most = least, most

    def __call__(self, text: str) -> int:
        expected = f"expected a whole number from {self.least} to {self.most}"
        try:
            number = int(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"got {text!r}; {expected}") from None
        if not self.least <= number <= self.most:
            raise argparse.ArgumentTypeError(f"got {text}; {expected}")
        return number


def _level(text: str) -> float:
    try:
        level = float(text)
    except ValueError:
        level = 0.0
    if not 0 < level < 1:
        raise argparse.ArgumentTypeError(
            f"got {text!r}; expected a probability between 0 and 1, such as 0.95"
        )
    return level


def _refuse(reason: str) -> int:
    print(f"flowunc: {reason}", file=sys.stderr)
    return _REFUSED


def _show(caught: Sequence[warnings.WarningMessage]) -> None:
    """Print each warning once, ours in one line, others as Python would."""
    shown = set()
    for found in caught:
        if not issubclass(found.category, FlowuncWarning):
            warnings.showwarning(found.message, found.category, found.filename, found.lineno)
        elif str(found.message) not in shown:
            shown.add(str(found.message))
            print(f"flowunc: warning: {found.message}", file=sys.stderr)


def _print(text: str) -> int:
    try:
        print(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # the reader (head, say) has seen enough; Python would complain again while it shuts down
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0
