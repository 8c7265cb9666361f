"""Tables that show themselves: text of 100 columns, HTML for notebooks, LaTeX for a report.

What is in the cells has been rounded before, so the forms cannot differ in their digits. The HTML
has no colours, borders or fonts of its own: the page decides, dark or light.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

__all__ = [
    "WIDTH",
    "ShownTable",
    "mimebundle",
    "paragraphs",
    "row_names",
    "table_html",
    "wrapped",
]

WIDTH = 100
_NARROWEST = 16  # columns that a text is left
_LONG = 24  # characters beyond which texts are read from the left, and not across the column
_GAP = "  "
_FIGURES = "font-variant-numeric:tabular-nums"
_PADDING = "padding:0.1em 0.6em"
_SIDES = {"<": "left", ">": "right"}
_TEX = {
    "\\": r"\textbackslash{}",
    "~": r"\textasciitilde{}",
    "^": r"\textasciicircum{}",
    "<": r"\textless{}",
    ">": r"\textgreater{}",
    "|": r"\textbar{}",
    "±": r"$\pm$",
    "°": r"\textdegree{}",
    "µ": r"\textmu{}",
    "μ": r"\textmu{}",
    "−": "$-$",
} | {sign: f"\\{sign}" for sign in "&%$#_{}"}
_NUMBER = re.compile(r"(?<![\w.])(?:(?P<digits>-?[\d.]+)e(?P<power>[+-]\d+)(?!\w)|-(?=\d))")


@dataclass(frozen=True, repr=False, kw_only=True)
class ShownTable:
    r"""A table of rounded numbers and texts, ready to be read.

    ``print`` gives text of at most 100 columns, a notebook shows HTML, and `latex` gives source
    for a report.

    Attributes
    ----------
    title : str
        What the table shows; "" for none.
    head : tuple of str
        Names of the columns.
    rows : tuple of tuple of str
        The cells; a row of one cell is a remark across the table.
    align : str
        For each column "<" for texts or ">" for numbers.
    notes : tuple of str
        Sentences below the table.

    Examples
    --------
    >>> from flowunc.core.display.tables import ShownTable
    >>> rows = (("bore", "0.023"), ("stopwatch", "0.12"))
    >>> print(ShownTable(head=("component", "u"), rows=rows, align="<>"))
    component      u
    ----------------
    bore       0.023
    stopwatch   0.12
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str
    title: str = ""
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        lines = _lines_of(self.title)
        for number, columns in enumerate(self._blocks()):
            lines += [""] * (number > 0) + self._block(columns)
        return "\n".join([*lines, *(part for note in self.notes for part in _lines_of(note))])

    __repr__ = __str__

    def latex(self) -> str:
        r"""Return the table as LaTeX source, for the packages ``booktabs`` and ``textcomp``.

        Returns
        -------
        str
            A ``tabular`` with title and notes as text around it; special characters are escaped.

        Examples
        --------
        >>> from flowunc.core.display.tables import ShownTable
        >>> print(ShownTable(head=("unit", "u"), rows=(("%", "1.2e-06"),), align="<>").latex())
        \begin{tabular}{lr}
        \toprule
        unit & u \\
        \midrule
        \% & $1.2 \times 10^{-6}$ \\
        \bottomrule
        \end{tabular}
        """
        columns = self.align.translate(str.maketrans("<>", "lr"))
        body = [
            " & ".join(map(_tex, row)) + r" \\"
            if len(row) == len(self.head)
            else rf"\multicolumn{{{len(self.head)}}}{{c}}{{{_tex(row[0])}}} \\"
            for row in self.rows
        ]
        lines = [
            *([_tex(self.title), ""] if self.title else []),
            rf"\begin{{tabular}}{{{columns}}}",
            r"\toprule",
            " & ".join(map(_tex, self.head)) + r" \\",
            r"\midrule",
            *body,
            r"\bottomrule",
            r"\end{tabular}",
        ]
        return "\n".join([*lines, *(f"\n{_tex(note)}" for note in self.notes)])

    def _repr_html_(self) -> str:
        table = table_html(self.head, self.rows, self.align, self.title)
        return "\n".join([table, *([paragraphs(self.notes)] if self.notes else [])])

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return mimebundle(self, include, exclude)

    def _cells(self, column: int) -> list[str]:
        return [row[column] for row in (self.head, *self.rows) if len(row) == len(self.head)]

    def _width(self, column: int) -> int:
        return max(map(len, self._cells(column)))

    def _least(self, column: int) -> int:
        """Return how narrow a column may get: numbers are never cut."""
        widest = self._width(column)
        return widest if self.align[column] == ">" else min(widest, _NARROWEST)

    def _blocks(self) -> list[list[int]]:
        """Share the columns out over blocks that fit the page, the first column in each."""
        blocks = [[0]]
        for column in range(1, len(self.head)):
            needed = [self._least(each) for each in (*blocks[-1], column)]
            if sum(needed) + len(_GAP) * (len(needed) - 1) > WIDTH and len(blocks[-1]) > 1:
                blocks.append([0])
            blocks[-1].append(column)
        return blocks

    def _block(self, columns: Sequence[int]) -> list[str]:
        widths = {column: self._width(column) for column in columns}
        surplus = sum(widths.values()) + len(_GAP) * (len(columns) - 1) - WIDTH
        # the widest texts give way first, and one to the other
        while surplus > 0:
            cut = [each for each in columns if widths[each] > self._least(each)]
            if not cut:
                break
            widths[max(cut, key=widths.__getitem__)] -= 1
            surplus -= 1
        lines = self._lines(self.head, widths)
        lines.append("-" * min(sum(widths.values()) + len(_GAP) * (len(columns) - 1), WIDTH))
        for row in self.rows:
            lines += self._lines(row, widths) if len(row) == len(self.head) else _lines_of(row[0])
        return lines

    def _lines(self, row: Sequence[str], widths: Mapping[int, int]) -> list[str]:
        """Write a row: texts too long for their column go on below."""
        parts = {
            column: textwrap.wrap(row[column], width, subsequent_indent=" ") or [""]
            for column, width in widths.items()
        }
        found = []
        for number in range(max(map(len, parts.values()))):
            cells = [
                f"{(parts[each][number : number + 1] or [''])[0]:{self.align[each]}{width}}"
                for each, width in widths.items()
            ]
            found.append(_GAP.join(cells).rstrip())
        return found


def table_html(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    align: str,
    caption: str = "",
    *,
    row_heads: bool = False,
) -> str:
    """Write an HTML table in the style of all results.

    Parameters
    ----------
    head : sequence of str
    rows : sequence of sequences of str
        A row of one cell is a remark across the table.
    align : str
        For each column "<" or ">".
    caption : str
    row_heads : bool
        Whether the first cell of a row is its heading.

    Returns
    -------
    str
        All texts are escaped. The only style is the side that numbers and sentences stand on,
        and figures of equal width, so that they do so below each other.
    """
    sentences = [
        max((len(row[i]) for row in rows if len(row) == len(head)), default=0) > _LONG
        for i in range(len(head))
    ]
    styles = [
        f' style="text-align:{_SIDES[side]};{_PADDING}"' if side == ">" or long else ""
        for side, long in zip(align, sentences, strict=True)
    ]
    lines = [f'<table style="{_FIGURES}">']
    if caption:
        lines.append(f'<caption style="text-align:left">{escape(caption)}</caption>')
    lines += ["<thead>", _line(head, styles, ["th"] * len(head)), "</thead>", "<tbody>"]
    tags = ["th" if row_heads else "td", *["td"] * (len(head) - 1)]
    for row in rows:
        if len(row) < len(head):
            lines.append(f'<tr><td colspan="{len(head)}">{escape(row[0])}</td></tr>')
        else:
            lines.append(_line(row, styles, tags))
    return "\n".join([*lines, "</tbody>", "</table>"])


def wrapped(text: str) -> str:
    """Break a sentence into lines of at most 100 columns, each as far to the right as the first."""
    margin = " " * (len(text) - len(text.lstrip()))
    lines = textwrap.wrap(text, WIDTH, subsequent_indent=margin, break_on_hyphens=False)
    return "\n".join(lines)


def paragraphs(texts: Sequence[str]) -> str:
    """Write sentences as HTML paragraphs."""
    return "\n".join(f"<p>{escape(text)}</p>" for text in texts)


def mimebundle(
    shown: Any,
    include: Collection[str] | None = None,
    exclude: Collection[str] | None = None,
    *,
    plain: str | None = None,
) -> dict[str, str]:
    """Return all forms of a result at once, as notebooks ask for them (``_repr_mimebundle_``).

    Parameters
    ----------
    shown : object
        With ``_repr_html_``, ``_repr_latex_`` or both.
    include, exclude : collection of str, optional
        Kinds of text that are wanted, or not.
    plain : str, optional
        The plain text, ``str(shown)`` unless given: where there is no notebook, a prompt shows
        the table and not the fields of the object.

    Returns
    -------
    dict of str to str
        By kind, "text/plain", "text/html" and "text/latex" as far as they exist.
    """
    makers: dict[str, Any] = {"text/plain": lambda: str(shown) if plain is None else plain}
    for kind, name in (("text/html", "_repr_html_"), ("text/latex", "_repr_latex_")):
        if hasattr(shown, name):
            makers[kind] = getattr(shown, name)
    return {
        kind: make()
        for kind, make in makers.items()
        if (not include or kind in include) and not (exclude and kind in exclude)
    }


def _line(cells: Sequence[str], styles: Sequence[str], tags: Sequence[str]) -> str:
    texts = (
        f"<{tag}{style}>{escape(cell)}</{tag}>"
        for cell, style, tag in zip(cells, styles, tags, strict=True)
    )
    return f"<tr>{''.join(texts)}</tr>"


def _lines_of(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _tex(text: str) -> str:
    escaped = "".join(_TEX.get(sign, sign) for sign in text)
    return _NUMBER.sub(_tex_number, escaped)


def _tex_number(found: re.Match[str]) -> str:
    """Write a power of ten, or the minus of a number, in mathematics mode."""
    if found["digits"] is None:
        return "$-$"
    return rf"${found['digits']} \times 10^{{{int(found['power'])}}}$"


def row_names(
    names: Sequence[str], count: int, *, longest: int, least: int = 4
) -> tuple[list[str], int]:
    """Return what rows are called in a text, cut to ``longest``, and the width of their column.

    Numbers from 0 stand for names that are not given.
    """
    shown = [name[:longest] for name in names or map(str, range(count))][:count]
    return shown, max([least, *map(len, shown)])
