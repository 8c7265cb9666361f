"""A report as LaTeX for the class article, with packages of every base distribution."""

from __future__ import annotations

from collections.abc import Sequence

from flowunc.bench.report.content import (
    INDEXED,
    Block,
    Document,
    Figure,
    Formula,
    Listing,
    Paragraph,
    Remark,
    Subheading,
    Table,
)
from flowunc.bench.report.latex_text import latex_text
from flowunc.core.errors import RangeError

__all__ = ["as_latex"]

_PREAMBLE = r"""\documentclass[a4paper,11pt]{article}
\usepackage[utf8]{inputenc}
\usepackage[T1]{fontenc}
\usepackage{textcomp}
\IfFileExists{lmodern.sty}{\usepackage{lmodern}}{}
\usepackage[margin=22mm]{geometry}
\usepackage{graphicx}
\usepackage{array}
\usepackage{booktabs}
\usepackage{longtable}
\usepackage{amsmath}
\setlength{\parindent}{0pt}
\setlength{\parskip}{0.6em}
\setlength{\tabcolsep}{4pt}
\setlength{\LTleft}{0pt}
\setlength{\LTright}{0pt plus 1fill}
\setlength{\emergencystretch}{3em}
\newcommand{\remark}[1]{\par\medskip\noindent\fbox{\parbox{0.96\linewidth}{\textbf{#1}}}\par}
"""
_LINE = 100.0  # characters of a table that fit side by side in its small print
_GAP = 1.8  # what parts two columns, in characters
_LONGEST = 26  # characters of a column that is not wrapped
_BROKEN_AFTER = 90  # characters of a formula that still fits on one line


def as_latex(document: Document, folder: str) -> str:
    r"""Write a report as LaTeX source.

    Parameters
    ----------
    document : Document
        With its figures.
    folder : str
        Name of the folder with the figures, beside the report.

    Returns
    -------
    str

    Examples
    --------
    >>> source = as_latex(Document("50 % & more", (Paragraph("E_n"),), ()), "x_files")
    >>> r"\section*{50~\% \& more}" in source
    True
    """
    parts = [
        _PREAMBLE,
        _charts_at(folder),
        r"\begin{document}",
        rf"\section*{{{latex_text(document.title)}}}",
        *map(_block, document.lead),
    ]
    for section in document.sections:
        parts.append(rf"\section{{{latex_text(section.title)}}}")
        parts += map(_block, section.blocks)
    if document.sources:
        parts.append(r"\section{Sources}")
        items = [
            rf"\item {{}}\textbf{{[{latex_text(key)}]}} {latex_text(entry)}"
            for key, entry in document.sources
        ]
        parts.append("\n".join([r"\begin{itemize}", *items, r"\end{itemize}"]))
    return "\n\n".join([*parts, r"\end{document}"]) + "\n"


def _charts_at(folder: str) -> str:
    """Define the folder of the charts, with signs in it that mean something to TeX."""
    if any(sign in folder for sign in "\\{}"):
        raise RangeError(
            f"folder {folder!r}: TeX finds no chart in a folder with a backslash or braces in "
            "its name; give the report another name"
        )
    signs = "".join(rf"\catcode`\{sign}=12 " for sign in "#$%&^_~")
    return rf"\begingroup {signs}\gdef\charts{{{folder}/}}\endgroup"


def _sentence(text: str) -> str:
    """Write a text of the report itself, in which symbols have an index."""
    parts = INDEXED.split(text)
    written = [latex_text(parts[0])]
    for base, index, rest in zip(parts[1::3], parts[2::3], parts[3::3], strict=True):
        letter = r"\rho" if base == "ρ" else base
        # a minus sign is told from a hyphen by what stands before it: a symbol, here
        written += [rf"${letter}_\mathrm{{{index}}}$", latex_text(rest)]
    return "".join(written)


def _block(block: Block) -> str:
    match block:
        case Subheading(text):
            return rf"\subsection*{{{_sentence(text)}}}"
        case Paragraph(text):
            return _sentence(text)
        case Remark(text):
            return rf"\remark{{{latex_text(text)}}}"
        case Listing(items):
            lines = [rf"\item {{}}{_sentence(item)}" for item in items]
            return "\n".join([r"\begin{itemize}", *lines, r"\end{itemize}"])
        case Formula(text, tex):
            if len(text) > _BROKEN_AFTER:  # in the text, mathematics may be broken
                return rf"\begin{{quote}}\raggedright${tex}$\end{{quote}}"
            return rf"\[ {tex} \]"
        case Table():
            return _table(block)
        case Figure():
            return _figure(block)


def _table(block: Table) -> str:
    head = " & ".join(map(_sentence, block.head)) + r" \\"
    lines = [
        r"\begingroup\footnotesize",
        rf"\begin{{longtable}}{{{_columns(block)}}}",
        rf"\caption{{{latex_text(block.caption)}}}\\",
        r"\toprule",
        head,
        r"\midrule",
        r"\endfirsthead",
        r"\toprule",
        head,
        r"\midrule",
        r"\endhead",
        r"\bottomrule",
        r"\endlastfoot",
        *map(_row, block.rows),
        r"\end{longtable}",
        r"\endgroup",
    ]
    return "\n".join(lines)


def _columns(block: Table) -> str:
    """Return the columns: as wide as they are if they fit, else with lines that are broken."""
    rows = [block.head, *block.rows]
    natural = [max(len(row[place]) for row in rows) for place in range(len(block.head))]
    room = _LINE - _GAP * (len(natural) - 1)
    if sum(natural) <= room:
        return f"@{{}}{block.align.replace('w', 'l')}@{{}}"
    least = [_least(block, place) for place in range(len(natural))]
    squeezed = min(room / sum(least), 1.0)
    least = [squeezed * width for width in least]
    spare = max(room - sum(least), 0.0)
    wanted = sum(natural) - sum(least) or 1
    made = []
    for side, small, large in zip(block.align, least, natural, strict=True):
        width = (small + spare * (large - small) / wanted) / _LINE
        turn = r"\raggedleft" if side == "r" else r"\raggedright"
        made.append(rf">{{{turn}\arraybackslash}}p{{{width:.3f}\linewidth}}")
    return f"@{{}}{''.join(made)}@{{}}"


def _least(block: Table, place: int) -> float:
    """Return how narrow a column can be: words of its head, and cells that are not broken."""
    words = [len(word) for word in block.head[place].split()]
    cells = [row[place] for row in block.rows]
    longest = max(map(len, cells), default=0)
    if block.align[place] != "r" or longest > _LONGEST:
        longest = max((len(word) for cell in cells for word in cell.split()), default=0)
    return float(max(*words, longest, 1)) + 0.5


def _row(cells: Sequence[str]) -> str:
    return " & ".join(map(_cell, cells)) + r" \\"


def _cell(text: str) -> str:
    """Write a cell; after the end of a row, TeX would take [ or * for an option of that end."""
    written = latex_text(text)
    return f"{{}}{written}" if written.startswith(("[", "*")) else written


def _figure(block: Figure) -> str:
    return "\n".join(
        [
            r"\begin{figure}[htbp]",
            r"\centering",
            rf"\includegraphics[width=0.95\linewidth]{{\charts {block.file}}}",
            rf"\caption{{{_sentence(block.caption)}}}",
            r"\end{figure}",
        ]
    )
