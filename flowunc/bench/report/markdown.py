"""A report as Markdown with the tables of GitHub's dialect, charts in a folder beside it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from urllib.parse import quote

from flowunc.bench.report.content import (
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

__all__ = ["as_markdown", "markdown_text"]

# Signs that would begin markup wherever they stand; the first three as entities, since a
# backslash before them is shown by some readers.
_ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", "@": "&#64;"}
_SIGNS = re.compile(r"[\\`*|~$]|(?<![^\W_])_|_(?![^\W_])|(?<=!)\[|\](?=[(\[])")
_LINK = re.compile(r"(?<=[a-z])://|(?<=\bwww)\.", re.IGNORECASE)
_START = re.compile(r"^(\d+)([.)])(?=\s|$)|^([-+=#\[])")
_RULES = {"l": ":---", "w": ":---", "r": "---:"}


def as_markdown(document: Document, folder: str) -> str:
    r"""Write a report as Markdown.

    Parameters
    ----------
    document : Document
    folder : str
        Name of the folder with the figures, beside the report.

    Returns
    -------
    str

    Examples
    --------
    >>> print(as_markdown(Document("Runs | sets", (Paragraph("<b>"),), ()), "x_files"))
    # Runs \| sets
    <BLANKLINE>
    &lt;b&gt;
    <BLANKLINE>
    """
    writer = _Writer(folder)
    parts = [f"# {markdown_text(document.title)}", *map(writer.block, document.lead)]
    for place, section in enumerate(document.sections, 1):
        parts.append(f"## {place}. {markdown_text(section.title)}")
        parts += map(writer.block, section.blocks)
    if document.sources:
        parts.append(f"## {len(document.sections) + 1}. Sources")
        parts.append(
            "\n".join(
                f"- **\\[{markdown_text(key)}\\]** {markdown_text(entry)}"
                for key, entry in document.sources
            )
        )
    return "\n\n".join(parts) + "\n"


def markdown_text(text: str, *, starts: bool = True) -> str:
    r"""Escape a text, so that it is shown as it stands, in a table or on a line of its own.

    Parameters
    ----------
    text : str
    starts : bool
        Whether it stands at the start of a line, where a number or a dash begins a list.

    Examples
    --------
    >>> print(markdown_text("a|b <i> *c* E_n [x](y) 1. d"))
    a\|b &lt;i&gt; \*c\* E_n [x\](y) 1. d
    >>> print(markdown_text("1. no list"))
    1\. no list
    """
    entities = "".join(_ENTITIES.get(sign, sign) for sign in _SIGNS.sub(r"\\\g<0>", text))
    unlinked = _LINK.sub(lambda found: _numbered(found[0]), entities)
    if not starts:
        return unlinked
    return _START.sub(lambda found: _started(found[1], found[2], found[3]), unlinked)


def _numbered(signs: str) -> str:
    """Write signs by number, so that no reader makes a link of what they stand in."""
    return "".join(f"&#{ord(sign)};" for sign in signs)


def _started(digits: str | None, stop: str | None, sign: str | None) -> str:
    """Escape what would begin a list or a heading."""
    return f"\\{sign}" if sign else f"{digits}\\{stop}"


class _Writer:
    """Blocks as Markdown, tables and figures numbered."""

    def __init__(self, folder: str) -> None:
        self._folder = folder
        self._figures = 0
        self._tables = 0

    def block(self, block: Block) -> str:
        """Write one block."""
        match block:
            case Subheading(text):
                return f"### {markdown_text(text)}"
            case Paragraph(text):
                return markdown_text(text)
            case Remark(text):
                return f"> **{markdown_text(text)}**"
            case Listing(items):
                return "\n".join(f"- {markdown_text(item)}" for item in items)
            case Formula(text, _):
                return f"```text\n{text}\n```"
            case Table():
                return self._table(block)
            case Figure():
                return self._figure(block)

    def _table(self, block: Table) -> str:
        self._tables += 1
        lines = [
            f"*Table {self._tables}.* {markdown_text(block.caption)}",
            "",
            _row(block.head),
            f"| {' | '.join(_RULES[side] for side in block.align)} |",
            *map(_row, block.rows),
        ]
        return "\n".join(lines)

    def _figure(self, block: Figure) -> str:
        self._figures += 1
        target = f"{quote(self._folder)}/{quote(block.file)}"
        caption = markdown_text(block.caption)
        alt = re.sub(r"[\[\]]", "", caption)
        return f"![{alt}]({target})\n\n*Figure {self._figures}.* {caption}"


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(markdown_text(cell, starts=False) for cell in cells)} |"
