"""A report as one HTML file: no network, no scripts, everything that is text escaped."""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence
from html import escape

from flowunc.bench.report.content import (
    INDEXED,
    Block,
    Document,
    Figure,
    Formula,
    Listing,
    Paragraph,
    Remark,
    Section,
    Subheading,
    Table,
)
from flowunc.bench.report.html_style import STYLE

__all__ = ["as_html"]

# What a browser may load is stated as well, should a text ever slip through unescaped.
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def as_html(document: Document) -> str:
    """Write a report as a page that stands alone.

    Parameters
    ----------
    document : Document
        With its figures, which become part of the page.

    Returns
    -------
    str

    Examples
    --------
    >>> page = as_html(Document("A < B", (Paragraph("Plain & simple."),), ()))
    >>> "<h1>A &lt; B</h1>" in page, "<p>Plain &amp; simple.</p>" in page
    (True, True)
    """
    writer = _Writer(document)
    title = escape(document.title)
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="color-scheme" content="light dark">',
        f"<title>{title}</title>",
        f"<style>\n{STYLE}</style>",
        "</head>",
        "<body>",
        "<main>",
        f"<h1>{title}</h1>",
        *map(writer.block, document.lead),
        writer.contents(),
    ]
    for place, section in enumerate(document.sections, 1):
        parts += writer.section(place, section)
    parts += [writer.sources(), "</main>", "</body>", "</html>", ""]
    return "\n".join(part for part in parts if part or part is parts[-1])


class _Writer:
    """Blocks as HTML, with citations linked to the entries at the end."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._keys = {escape(key): place for place, (key, _) in enumerate(document.sources, 1)}
        longest = sorted(map(re.escape, self._keys), key=len, reverse=True)
        self._citation = re.compile(rf"(?<=\[|;)( ?)({'|'.join(longest)})(?=[,;\]])")
        self._figures = 0
        self._tables = 0

    def text(self, text: str) -> str:
        """Escape a text and link what it cites."""
        escaped = escape(text)
        if not self._keys or "[" not in escaped:
            return escaped
        return self._citation.sub(
            lambda found: f'{found[1]}<a href="#source-{self._keys[found[2]]}">{found[2]}</a>',
            escaped,
        )

    def sentence(self, text: str) -> str:
        """Write a text of the report itself, in which symbols have an index."""
        return INDEXED.sub(r"\1<sub>\2</sub>", self.text(text))

    def contents(self) -> str:
        """Write the list of sections."""
        titles = [section.title for section in self._document.sections]
        items = [
            f'<li><a href="#section-{place}">{escape(title)}</a></li>'
            for place, title in enumerate(titles, 1)
        ]
        if self._document.sources:
            items.append('<li><a href="#sources">Sources</a></li>')
        if not items:
            return ""
        return "\n".join(['<nav aria-label="Contents">', "<ol>", *items, "</ol>", "</nav>"])

    def section(self, place: int, section: Section) -> list[str]:
        """Write a section with its number."""
        return [
            f'<section id="section-{place}">',
            f"<h2>{place}. {escape(section.title)}</h2>",
            *map(self.block, section.blocks),
            "</section>",
        ]

    def sources(self) -> str:
        """Write the entries that are cited."""
        if not self._document.sources:
            return ""
        place = len(self._document.sections) + 1
        items = [
            f'<li id="source-{number}"><b>[{escape(key)}]</b> {escape(entry)}</li>'
            for number, (key, entry) in enumerate(self._document.sources, 1)
        ]
        head = ['<section id="sources">', f"<h2>{place}. Sources</h2>", '<ul class="sources">']
        return "\n".join([*head, *items, "</ul>", "</section>"])

    def block(self, block: Block) -> str:
        """Write one block."""
        match block:
            case Subheading(text):
                return f"<h3>{self.sentence(text)}</h3>"
            case Paragraph(text):
                return f"<p>{self.sentence(text)}</p>"
            case Remark(text):
                return f'<p class="remark">{self.text(text)}</p>'
            case Listing(items):
                lines = "\n".join(f"<li>{self.sentence(item)}</li>" for item in items)
                return f"<ul>\n{lines}\n</ul>"
            case Formula(text, _):
                return f'<p class="formula">{self.sentence(text)}</p>'
            case Table():
                return self._table(block)
            case Figure():
                return self._figure(block)

    def _table(self, block: Table) -> str:
        self._tables += 1
        name = f"table-{self._tables}"
        head = self._row("th", block.head, block.align, ' scope="col"')
        rows = "\n".join(self._row("td", row, block.align) for row in block.rows)
        # the frame takes the keyboard, so that a wide table can be scrolled without a mouse
        return (
            f'<div class="wide" role="region" aria-labelledby="{name}" tabindex="0">\n<table>\n'
            f'<caption id="{name}">Table {self._tables}. {self.text(block.caption)}</caption>\n'
            f"<thead>\n{head}\n</thead>\n<tbody>\n{rows}\n</tbody>\n</table>\n</div>"
        )

    def _row(self, tag: str, cells: Sequence[str], align: str, more: str = "") -> str:
        write = self.sentence if tag == "th" else self.text
        written = "".join(
            f'<{tag} class="{side}"{more}>{write(cell)}</{tag}>'
            for side, cell in zip(align, cells, strict=True)
        )
        return f"<tr>{written}</tr>"

    def _figure(self, block: Figure) -> str:
        self._figures += 1
        data = base64.b64encode(block.data).decode("ascii")
        caption = self.sentence(block.caption)
        return (
            f'<figure>\n<img alt="{escape(block.caption)}" '
            f'src="data:image/png;base64,{data}">\n'
            f"<figcaption>Figure {self._figures}. {caption}</figcaption>\n</figure>"
        )
