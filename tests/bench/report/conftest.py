"""The example analysed, and readers that take the tables out of a report of each form."""

from __future__ import annotations

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from flowunc import analyse, load_bench, read_sheet
from flowunc.bench.command import EXAMPLE
from flowunc.bench.runs import Runs

Rows = list[list[str]]
Reader = Callable[[str], list[Rows]]


def example_runs(folder: Path = EXAMPLE) -> Runs:
    bench = load_bench(folder / "bench.toml")
    return analyse(read_sheet(folder / "sheet.csv", bench), bench)


@pytest.fixture(scope="session")
def runs() -> Runs:
    """The invented example; what is drawn for it is kept over the tests."""
    return example_runs()


class _Tables(HTMLParser):
    """Collects the cells of all tables, with text as a reader sees it."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[Rows] = []
        self._cell: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self._cell = []
        elif tag == "sub" and self._cell is not None:
            self._cell.append("_")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th") and self._cell is not None:
            self.tables[-1][-1].append("".join(self._cell))
            self._cell = None

    def handle_data(self, data: str) -> None:
        if self._cell is not None:
            self._cell.append(data)


@pytest.fixture
def html_tables() -> Reader:
    def read(text: str) -> list[Rows]:
        parser = _Tables()
        parser.feed(text)
        return parser.tables

    return read


@pytest.fixture
def markdown_tables() -> Reader:
    """Read tables by the rules of the GFM specification, sections 4.10, 2.4 and 6.2."""
    from html import unescape

    def cells(line: str) -> list[str]:
        inner = line.removeprefix("| ").removesuffix(" |")
        found = re.split(r"(?<!\\) \| ", inner)
        return [
            unescape(re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", cell.replace(r"\|", "|")))
            for cell in found
        ]

    def read(text: str) -> list[Rows]:
        blocks = re.findall(r"(?:^\|.*\|\n)+", text, re.MULTILINE)
        return [
            [cells(line) for place, line in enumerate(block.splitlines()) if place != 1]
            for block in blocks
        ]

    return read


_SIGNS = {
    r"\textbackslash{}": "\\",
    r"\textasciicircum{}": "^",
    r"\textasciitilde{}": "~",
    r"\textbar{}": "|",
    r"\textless{}": "<",
    r"\textgreater{}": ">",
    r"\textquotedbl{}": '"',
    r"\textasciigrave{}": "`",
    r"\textquotesingle{}": "'",
    r"\textdegree{}": "°",
    r"\textmu{}": "µ",
    r"\textendash{}": "–",
    r"$\pm$": "±",
    r"$\times$": "×",
    r"$\cdot$": "·",
    r"$\infty$": "∞",
    r"$\surd$": "√",
    r"$\Delta$": "Δ",
    r"$\rho$": "ρ",
    r"$\mu$": "μ",
    r"$\chi$": "χ",
    r"$-$": "-",
    r"\{": "{",
    r"\}": "}",
    r"\$": "$",
    r"\&": "&",
    r"\#": "#",
    r"\%": "%",
    r"\_": "_",
    "~": " ",
    "{}": "",
}
_SIGN = re.compile("|".join(map(re.escape, sorted(_SIGNS, key=len, reverse=True))))
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def _unwritten(cell: str) -> str:
    plain = re.sub(r"\$\^\{([-\d]+)\}\$", lambda found: found[1].translate(_RAISED), cell)
    plain = re.sub(r"\$(\w)_\\mathrm\{(\w+)\}\$", r"\1_\2", plain)
    return _SIGN.sub(lambda found: _SIGNS[found[0]], plain)


@pytest.fixture
def latex_tables() -> Reader:
    def read(text: str) -> list[Rows]:
        found = []
        for body in re.findall(r"\\begin\{longtable\}(.*?)\\end\{longtable\}", text, re.DOTALL):
            lines = body.splitlines()
            head = lines[lines.index(r"\toprule") + 1]
            rows = lines[lines.index(r"\endlastfoot") + 1 :]
            found.append(
                [
                    [_unwritten(cell) for cell in re.split(r"(?<!\\) & ", row.removesuffix(r" \\"))]
                    for row in (head, *rows)
                    if row
                ]
            )
        return found

    return read


@pytest.fixture
def hostile() -> tuple[str, ...]:
    """Texts as a label or a note may hold them, each markup in one of the forms."""
    return (
        "<script>alert(1)</script>",
        '=cmd|"/C calc"!A0',
        "+1+1",
        "a | b || c",
        "x](javascript:alert(1)) ![i](http://h/p.png) www.example.org",
        "**bold** _it_ `code` ~~no~~ $x$ @name &lt; &amp;",
        r"\input{/etc/passwd} \write18{ls} {} }{ % # ^ ~ $ & _",
        "1. no list",
        "# no heading",
        "[JCGM 100]: https://example.org",
        "*star* [first]",
        "--- ,, ''quoted'' \"both\"",
        "E_n of 5 % at 20 °C ± 0.1, −3 µm",
    )
