"""Entries of the list of sources, and which of them a report shows."""

from __future__ import annotations

import re
from importlib import resources

from flowunc.bench.report.sources import cited, entries


def test_every_entry_of_the_list_is_found() -> None:
    text = resources.files("flowunc").joinpath("SOURCES.md").read_text(encoding="utf-8")
    assert list(entries()) == re.findall(r"^- `\[(.*?)\]`", text, re.MULTILINE)


def test_entries_are_plain_text_on_one_line() -> None:
    for key, entry in entries().items():
        assert not re.search(r"[*`\n]| {2}", entry), key
        assert "(In flowunc: " in entry, key
        assert "Used for" not in entry, key


def test_only_keys_in_brackets_count() -> None:
    texts = ["see [JCGM 100, 7.2.6; ISO/IEC 17043]", "Moody 1944", "[U+4E2D]", f"[Unknown {1999}]"]
    assert [key for key, _ in cited(texts)] == ["JCGM 100", "ISO/IEC 17043"]
    assert cited([]) == ()
