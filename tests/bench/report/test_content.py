"""The content tree: clean cells, columns that fit, texts."""

from __future__ import annotations

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
    one_line,
    table,
    texts_of,
)


def test_cells_are_one_line_without_what_cannot_be_printed() -> None:
    # U+202E turns the direction of writing, U+0007 rings a bell: neither is text
    assert one_line("a\nb\t c\u202e7\u0007") == "a b c\N{REPLACEMENT CHARACTER}7\ufffd"


def test_letters_that_are_written_in_two_ways_become_one() -> None:
    assert one_line("e\N{COMBINING ACUTE ACCENT}") == "\N{LATIN SMALL LETTER E WITH ACUTE}"


def test_a_row_with_another_number_of_cells_is_refused() -> None:
    with pytest.raises(ValueError, match=r"'Runs': 3 columns .*; expected 2"):
        table("Runs", ["run", "Re"], [["1", "2", "3"]])
    with pytest.raises(ValueError, match="expected 2"):
        table("Runs", ["run", "Re"], [], "lrr")


def test_texts_are_those_that_can_cite() -> None:
    blocks = (
        Subheading("a"),
        Paragraph("b"),
        Remark("c"),
        Listing(("d", "e")),
        Formula("f", "f"),
        table("g", ["h", "i"], [["j", "k"]]),
        Figure("l", "m", b""),
    )
    document = Document("t", blocks[:2], (Section("s", blocks[2:]),))
    texts = [text for block in document.blocks() for text in texts_of(block)]
    assert "".join(texts) == "abcdeghijkm"
    assert [figure.file for figure in document.figures()] == ["l.png"]
