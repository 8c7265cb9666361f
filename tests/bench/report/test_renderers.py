"""HTML, Markdown and LaTeX of texts that would be markup if they were not escaped."""

from __future__ import annotations

import re
import shutil
import struct
import subprocess
import zlib
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from flowunc.bench.report.content import (
    Document,
    Figure,
    Formula,
    Listing,
    Paragraph,
    Remark,
    Section,
    Subheading,
    table,
)
from flowunc.bench.report.html import as_html
from flowunc.bench.report.latex import as_latex
from flowunc.bench.report.latex_text import formula_tex, latex_text
from flowunc.bench.report.markdown import as_markdown, markdown_text
from flowunc.core.errors import RangeError
from flowunc.pipe import laws

Reader = Callable[[str], list[list[list[str]]]]


def _chunk(kind: bytes, data: bytes) -> bytes:
    checked = kind + data
    return struct.pack(">I", len(data)) + checked + struct.pack(">I", zlib.crc32(checked))


# a PNG of one grey dot
PIXEL = (
    b"\x89PNG\r\n\x1a\n"
    + _chunk(b"IHDR", struct.pack(">2I5B", 1, 1, 8, 0, 0, 0, 0))
    + _chunk(b"IDAT", zlib.compress(b"\0\x80"))
    + _chunk(b"IEND", b"")
)


@pytest.fixture
def document(hostile: tuple[str, ...]) -> Document:
    rows = [[text, text] for text in hostile]
    blocks = (
        Subheading(hostile[0]),
        *map(Paragraph, hostile),
        Remark(hostile[6]),
        Listing(hostile),
        Formula("f = 64/Re", r"f = 64/\mathrm{Re}"),
        table(hostile[3], ["label", "E_n"], rows, "lw"),
        Figure("friction", hostile[1], PIXEL),
    )
    sources = (("JCGM 100", "Guide <i>"), ("ISO/IEC 17043", hostile[6]))
    lead = (Paragraph(f"by [JCGM 100, 5.1; ISO/IEC 17043] and [JCGM {1000}]"),)
    return Document(hostile[0], lead, (Section(hostile[8], blocks),), sources)


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


# -- HTML ------------------------------------------------------------------------------------------
def test_html_holds_no_tag_that_a_text_brought_along(document: Document) -> None:
    parser = _Tags()
    parser.feed(as_html(document))
    assert parser.open == []
    allowed = (
        "html head meta title style body main h1 h2 h3 nav ol ul li a p section div table caption "
        "thead tbody tr th td figure img figcaption b sub"
    )
    assert {tag for tag, _ in parser.tags} <= set(allowed.split())
    for tag, attributes in parser.tags:
        assert not any(name.startswith("on") for name in attributes)
        target = attributes.get("href") or attributes.get("src") or ""
        assert target.startswith(("#", "data:image/png;base64,")) or not target, (tag, target)


def test_html_loads_nothing(document: Document) -> None:
    page = as_html(document)
    style = page[page.index("<style>") : page.index("</style>")]
    assert "url(" not in style
    assert "@import" not in style
    assert "default-src 'none'" in page


def test_html_shows_cells_as_they_stand(
    document: Document, hostile: tuple[str, ...], html_tables: Reader
) -> None:
    (rows,) = html_tables(as_html(document))
    assert rows[0] == ["label", "E_n"]
    assert rows[1:] == [[text, text] for text in hostile]


def test_html_citations_lead_to_their_entry(document: Document) -> None:
    page = as_html(document)
    assert '[<a href="#source-1">JCGM 100</a>, 5.1; ' in page
    assert '; <a href="#source-2">ISO/IEC 17043</a>]' in page
    assert f"[JCGM {1000}]" in page
    ids = re.findall(r'id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(ids)


def test_html_is_for_light_dark_and_paper(document: Document) -> None:
    page = as_html(document)
    assert "@media (prefers-color-scheme: dark)" in page
    assert "@media print" in page
    assert '<div class="wide" role="region"' in page


# -- Markdown --------------------------------------------------------------------------------------
def test_markdown_shows_cells_as_they_stand(
    document: Document, hostile: tuple[str, ...], markdown_tables: Reader
) -> None:
    (rows,) = markdown_tables(as_markdown(document, "x_files"))
    assert rows[1:] == [[text, text] for text in hostile]


def test_markdown_holds_no_markup_of_a_text(document: Document) -> None:
    text = as_markdown(document, "x_files")
    assert not re.search(r"<\w", text)
    assert not re.search(r"[a-z]://|www\.", text)
    own = [line for line in text.splitlines() if re.match(r"#|\d+\.|!\[", line)]
    assert len(own) == 5  # title, section, subheading, figure, sources
    outside = re.sub(r"```text\n.*?\n```", "", text, flags=re.DOTALL)
    assert not re.search(r"(?<!\\)[`~$]", outside)
    assert re.findall(r"(?<!\\)\]\(([^)]*)\)", text) == ["x_files/friction.png"]


@pytest.mark.parametrize("text", ["- a", "+ a", "= a", "12) a", "# a", "[x] a"])
def test_markdown_text_begins_no_list_heading_or_definition(text: str) -> None:
    assert re.match(r"\\|\d+\\", markdown_text(text))


def test_markdown_names_a_folder_with_spaces() -> None:
    document = Document("t", (Figure("zero", "c", PIXEL),), ())
    assert "](my%20%28new%29_files/zero.png)" in as_markdown(document, "my (new)_files")


# -- LaTeX -----------------------------------------------------------------------------------------
def balanced(source: str) -> bool:
    """Tell whether braces, mathematics and environments close, special signs escaped."""
    bare = re.sub(r"\\begingroup (?:\\catcode`\\.=12 )+", "", source)
    bare = re.sub(r"\\[\\{}$&#%_^~]", "", bare)
    depth = 0
    for sign in bare:
        depth += (sign == "{") - (sign == "}")
        assert depth >= 0
    names: list[str] = []
    for kind, name in re.findall(r"\\(begin|end)\{(\w+\*?)\}", bare):
        if kind == "begin":
            names.append(name)
        else:
            assert names.pop() == name
    return depth == 0 and not names and bare.count("$") % 2 == 0


def test_latex_is_balanced_with_special_signs_escaped(document: Document) -> None:
    source = as_latex(document, "x_files")
    assert balanced(source)
    body = source[source.index(r"\begin{document}") :]
    bare = re.sub(r"\\[\\{}$&#%_^~]|\\\[.*?\\\]|\$[^$]*\$", "", body)
    bare = re.sub(r"^\\begin\{longtable\}.*$", "", bare, flags=re.MULTILINE)
    cells = re.sub(r" & ", "", bare)
    assert not re.search(r"[$#%_^&]", cells)


def test_latex_shows_cells_as_they_stand(
    document: Document, hostile: tuple[str, ...], latex_tables: Reader
) -> None:
    (rows,) = latex_tables(as_latex(document, "x_files"))
    assert rows[0] == ["label", "E_n"]
    # a minus sign and a hyphen before a number are both printed as a minus sign
    expected = [text.replace("−", "-") for text in hostile]
    assert rows[1:] == [[text, text] for text in expected]


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("-3 and VDI 3513-2", "$-$3 and VDI 3513-2"),
        ("(-3.1 ± 0.2)×10⁻⁶", r"($-$3.1 $\pm$ 0.2)$\times$10$^{-6}$"),
        ("20 °C, 5 µm", r"20 \textdegree{}C, 5 \textmu{}m"),
        ("e\u0301t\u00e9", "\u00e9t\u00e9"),
        ("Łódź, Ærø", "Łódź, Ærø"),
        ("αΩ χ²", r"$\alpha$$\Omega$ $\chi$$^{2}$"),
        ("\u4e2d \u0416", "[U+4E2D] [U+0416]"),
        ("a---b", "a-{}-{}-b"),
        (",,x''", r",{},x\textquotesingle{}\textquotesingle{}"),
    ],
)
def test_latex_signs(text: str, source: str) -> None:
    assert latex_text(text) == source


def test_latex_of_every_law_closes() -> None:
    for law in (getattr(laws, name) for name in laws.__all__):
        if isinstance(law, laws.FrictionLaw):
            tex = formula_tex(law.formula)
            assert balanced(f"${tex}$")
            assert "sqrt " not in tex
            assert not re.search(r"\^-|\^\(|\^\d\d", tex), tex


def test_latex_refuses_a_folder_that_tex_cannot_name() -> None:
    with pytest.raises(RangeError, match="backslash or braces"):
        as_latex(Document("t", (), ()), "a{b}_files")


@pytest.mark.skipif(shutil.which("pdflatex") is None, reason="no TeX on this machine")
def test_latex_compiles_with_texts_of_all_kinds(document: Document, tmp_path: Path) -> None:
    letters = "".join(chr(code) for code in range(0xA1, 0x180)) + "αβγδεζηθικλμνξοπρςστυφχψω"
    more = Section("More", (Paragraph(letters), Paragraph("ΓΔΘΛΞΠΣΥΦΨΩ ≤≥≈≠√∂→…‰€ \u4e2d \u202e")))
    folder = tmp_path / "50 % #1 a_b^~&_files"
    folder.mkdir()
    (folder / "friction.png").write_bytes(PIXEL)
    whole = Document(document.title, document.lead, (*document.sections, more), document.sources)
    (tmp_path / "report.tex").write_text(as_latex(whole, folder.name), encoding="utf-8")
    done = subprocess.run(
        ["pdflatex", "-interaction=nonstopmode", "-halt-on-error", "report.tex"],
        cwd=tmp_path,
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:].decode("latin-1")
    assert (tmp_path / "report.pdf").stat().st_size > 10_000
