"""What a report consists of, free of any format: headings, paragraphs, tables, formulas, figures.

One tree of these is written as HTML, as Markdown and as LaTeX, so the three cannot differ in
what they say. Texts are plain: each writer escapes them, and nothing in them is markup.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

__all__ = [
    "INDEXED",
    "Block",
    "Document",
    "Figure",
    "Formula",
    "Listing",
    "Paragraph",
    "Remark",
    "Section",
    "Subheading",
    "Table",
    "one_line",
    "table",
    "texts_of",
]

# Symbols of a report that have an index; what a user wrote is set as it stands.
INDEXED = re.compile(
    r"(?<![A-Za-z0-9_])([EQρechf])_(n|high|low|air|F|c|read|i|law)(?![A-Za-z0-9_])"
)

_UNKNOWN = "\N{REPLACEMENT CHARACTER}"


def one_line(text: str) -> str:
    r"""Return a text on one line, without what cannot be printed.

    Labels and notes come from a file: a line end would break a table, and a character that
    turns the direction of writing would make a cell say something else than it does.

    Examples
    --------
    >>> one_line("valve\n  half open")
    'valve half open'
    """
    composed = unicodedata.normalize("NFC", " ".join(text.split()))
    return "".join(sign if sign.isprintable() else _UNKNOWN for sign in composed)


@dataclass(frozen=True)
class Subheading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """One or more sentences."""

    text: str


@dataclass(frozen=True)
class Remark:
    """A paragraph that has to be seen: a caution, or that an example is invented."""

    text: str


@dataclass(frozen=True)
class Listing:
    """Sentences below each other."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Formula:
    """A formula on a line of its own.

    Attributes
    ----------
    text : str
        As plain text.
    tex : str
        The same as LaTeX source, without the delimiters of mathematics.
    """

    text: str
    tex: str


@dataclass(frozen=True)
class Table:
    """A table; build it with `table`, which checks and cleans the cells.

    Attributes
    ----------
    caption : str
    head : tuple of str
    rows : tuple of tuple of str
    align : str
        One letter per column: "l" for names, "r" for numbers, "w" for text that may wrap.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str


@dataclass(frozen=True)
class Figure:
    """A picture that is ready to be shown.

    Attributes
    ----------
    name : str
        Of its file, without suffix.
    caption : str
    data : bytes
        PNG.
    """

    name: str
    caption: str
    data: bytes

    @property
    def file(self) -> str:
        """Name of its file."""
        return f"{self.name}.png"


Block: TypeAlias = Subheading | Paragraph | Remark | Listing | Formula | Table | Figure


@dataclass(frozen=True)
class Section:
    """A section with its heading."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Document:
    """A report: title, what stands before the first section, sections, sources.

    Attributes
    ----------
    title : str
    lead : tuple of Block
    sections : tuple of Section
    sources : tuple of (str, str)
        Key and entry of what is cited in square brackets.
    """

    title: str
    lead: tuple[Block, ...]
    sections: tuple[Section, ...]
    sources: tuple[tuple[str, str], ...] = ()

    def blocks(self) -> Iterator[Block]:
        """Give all blocks in their order."""
        yield from self.lead
        for section in self.sections:
            yield from section.blocks

    def figures(self) -> tuple[Figure, ...]:
        """Return all figures."""
        return tuple(block for block in self.blocks() if isinstance(block, Figure))


def table(
    caption: str, head: Sequence[str], rows: Sequence[Sequence[str]], align: str | None = None
) -> Table:
    """Make a table of clean cells.

    Parameters
    ----------
    caption : str
    head : sequence of str
    rows : sequence of sequences of str
        As many cells in each as in the head.
    align : str, optional
        As for `Table`; names in the first column and numbers in all others if left out.

    Raises
    ------
    ValueError
        A row, or ``align``, with another number of columns.

    Examples
    --------
    >>> table("Runs", ["run", "Re"], [["1", "670"]]).align
    'lr'
    """
    columns = len(head)
    letters = align or "l" + "r" * (columns - 1)
    for found in (letters, *rows):
        if len(found) != columns:
            raise ValueError(f"{caption!r}: {len(found)} columns {found!r}; expected {columns}")
    cells = tuple(tuple(one_line(cell) for cell in row) for row in rows)
    return Table(one_line(caption), tuple(map(one_line, head)), cells, letters)


def texts_of(block: Block) -> Iterator[str]:
    """Give the texts of a block, formulas left out."""
    match block:
        case Subheading(text) | Paragraph(text) | Remark(text):
            yield text
        case Listing(items):
            yield from items
        case Table(caption, head, rows, _):
            yield caption
            yield from head
            for row in rows:
                yield from row
        case Figure():
            yield block.caption
        case Formula():
            return
