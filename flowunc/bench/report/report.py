"""`write_report`: analysed runs as an error-analysis section, in HTML, Markdown or LaTeX."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from os import PathLike
from pathlib import Path
from typing import Any

from flowunc.bench.report.asked import Asked
from flowunc.bench.report.content import Document
from flowunc.bench.report.document import TITLE, document_of
from flowunc.bench.report.html import as_html
from flowunc.bench.report.latex import as_latex
from flowunc.bench.report.markdown import as_markdown
from flowunc.bench.report.pictures import FILES, Pictures
from flowunc.bench.report.writing import check_target, write_whole
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_results import TRIALS
from flowunc.core.arguments import check_level
from flowunc.core.errors import DimensionError, RangeError

__all__ = ["write_report"]

Writer = Callable[[Document, str], str]

# How each form is written, and whether its charts lie in a folder beside it.
_FORMS: dict[str, tuple[Writer, bool]] = {
    ".html": (lambda document, folder: as_html(document), False),
    ".md": (as_markdown, True),
    ".tex": (as_latex, True),
}


def write_report(
    runs: RunDecisions,
    path: str | PathLike[str],
    *,
    level: float = 0.95,
    seed: int = 0,
    trials: int = TRIALS,
    title: str = TITLE,
    same_flow: Sequence[Sequence[str | int]] = (),
    run: str | int | None = None,
    charts: bool = True,
) -> Path:
    """Write a report of analysed runs that can be handed in and audited.

    Parameters
    ----------
    runs : Runs
        What `analyse` gave.
    path : str or path
        File to be written, ``.html``, ``.md`` or ``.tex``; what is there is replaced. HTML stands
        alone; the charts of the other two lie in a folder beside it, ``<name>_files``, which is
        replaced as a whole.
    level : float
        Coverage probability.
    seed, trials : int
        Of all draws.
    title : str
    same_flow : sequence of sequences of str
        Groups of runs taken at one setting of the valve, as for `flowunc.consistency`.
    run : str or int, optional
        Label of the run whose budget is shown in full; if left out, the one whose f is known
        worst among those where value ± U holds.
    charts : bool
        Whether charts are drawn; they need matplotlib.

    Returns
    -------
    Path
        Of the report.

    Raises
    ------
    RangeError
        Another suffix, no such run, draws out of range.
    ReportError
        A folder in place of a file, a folder that does not exist, a folder of charts that holds
        something else, a full disk. What was there before stays as it was.
    DimensionError
        Something else than analysed runs.

    Notes
    -----
    All three forms are written from one content, with the same numbers. The same runs, seed and
    trials give the same report, byte by byte, with the same versions of the libraries. It holds
    no date, no folder and no address.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, load_bench, read_sheet
    >>> from flowunc.bench.report import write_report
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> with tempfile.TemporaryDirectory() as here:
    ...     made = write_report(runs, Path(here) / "friction.md", trials=2000, charts=False)
    ...     made.name, made.read_text(encoding="utf-8").splitlines()[0]
    ('friction.md', '# Pipe friction: results and their uncertainty')
    """
    if not isinstance(runs, RunDecisions):
        raise DimensionError(
            f"write_report: got {type(runs).__name__}; expected the runs that analyse(...) gave"
        )
    target = target_of(path)
    given: Any = title
    if not isinstance(given, str) or not given.strip():
        raise RangeError(f"write_report(title={title!r}): expected a text")
    asked = Asked(
        runs=runs,
        level=check_level(level),
        trials=trials,
        seed=seed,
        same_flow=_groups(runs, same_flow),
        run="" if run is None else str(run),
    )
    if asked.run:
        runs.position(asked.run)
    write, beside = _FORMS[target.suffix.lower()]
    document = document_of(asked, Pictures(asked, charts), title)
    final = Path(os.path.realpath(target))  # of a link, the file that it leads to
    folder = final.with_name(f"{final.stem}_files")
    figures = {figure.file: figure.data for figure in document.figures()} if beside else {}
    data = write(document, folder.name).encode("utf-8")
    write_whole(final, data, folder if beside else None, figures, FILES)
    return target


def target_of(path: str | PathLike[str]) -> Path:
    """Return where a report is written, refused where that cannot be.

    Raises
    ------
    RangeError
        Another suffix.
    ReportError
        As `flowunc.bench.report.writing.check_target`.
    """
    target = Path(path)
    if target.suffix.lower() not in _FORMS:
        raise RangeError(
            f"write_report: {str(path)!r} ends in {target.suffix!r}; expected .html, .md or .tex"
        )
    check_target(target)
    return target


def _groups(runs: RunDecisions, same_flow: Any) -> tuple[tuple[str, ...], ...]:
    """Return groups of labels, refused here: in the report, a misprint would be one check less."""
    if isinstance(same_flow, str) or any(isinstance(group, (str, int)) for group in same_flow):
        raise RangeError(
            f"write_report(same_flow={same_flow!r}): expected groups of labels, such as "
            'same_flow=[("5", "6")]'
        )
    groups = tuple(tuple(runs.labels[runs.position(x)] for x in group) for group in same_flow)
    for group in groups:
        if len(group) < 2 or len(set(group)) < len(group):
            raise RangeError(
                f"write_report(same_flow=...): group {group}; expected two or more different runs"
            )
    return groups
