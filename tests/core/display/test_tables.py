import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc.core.display.tables import ShownTable, mimebundle, paragraphs, wrapped

LABEL = "50 % of <b>_x & $y$ {z}^2~\\ #1 µm"
TEXT = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), max_size=150)


def table(**options):
    rows = (("bore", "0.023", "mm"), ("stopwatch", "-1.2e-06", "s"))
    return ShownTable(head=("component", "u", "unit"), rows=rows, align="<><", **options)


def parsed(shown):
    """The HTML read by a strict parser, which refuses anything left unescaped."""
    return ElementTree.fromstring(f"<div>{shown._repr_html_()}</div>")


def test_texts_stand_left_and_numbers_right():
    assert str(table(title="Budget", notes=("a note",))).splitlines() == [
        "Budget",
        "component         u  unit",
        "-------------------------",
        "bore          0.023  mm",
        "stopwatch  -1.2e-06  s",
        "a note",
    ]
    assert repr(table()) == str(table())


def test_long_texts_go_on_below_and_nothing_is_lost():
    words = [f"word{number}" for number in range(40)]
    shown = ShownTable(head=("name", "u"), rows=((" ".join(words), "1.0"),), align="<>")
    text = str(shown)
    assert max(map(len, text.splitlines())) <= 100
    assert re.findall(r"word\d+", text) == words
    assert text.count("1.0") == 1


def test_columns_that_do_not_fit_go_below_with_the_first_one():
    head = ("run", *(f"column {number:02d}" for number in range(30)))
    rows = tuple((str(run), *(f"{run}.{number:07d}" for number in range(30))) for run in (1, 2))
    text = str(ShownTable(head=head, rows=rows, align=">" * 31))
    lines = text.splitlines()
    assert max(map(len, lines)) <= 100
    assert sum(line.startswith("run  ") for line in lines) == lines.count("") + 1 > 2
    assert all(text.count(cell) == 1 for row in rows for cell in row[1:])


def test_a_row_of_one_cell_is_a_remark():
    shown = ShownTable(head=("a", "b"), rows=(("1", "2"), ("... 5 more ...",)), align=">>")
    assert str(shown).splitlines()[-1] == "... 5 more ..."
    (cell,) = list(parsed(shown).find("table/tbody"))[1]
    assert (cell.get("colspan"), cell.text) == ("2", "... 5 more ...")
    assert r"\multicolumn{2}{c}{... 5 more ...} \\" in shown.latex()


@given(st.lists(st.tuples(TEXT, TEXT), max_size=4), TEXT, TEXT)
def test_any_text_fits_the_page_and_is_escaped(rows, title, note):
    shown = ShownTable(
        head=("first", "second"), rows=tuple(rows), align="<<", title=title, notes=(note,)
    )
    assert all(len(line) <= 100 for line in str(shown).split("\n"))
    found = parsed(shown)
    assert [[cell.text or "" for cell in row] for row in found.find("table/tbody")] == [
        list(row) for row in rows
    ]
    assert (found.find("p").text or "") == note


def test_html_has_no_colour_of_its_own():
    source = table(title=LABEL, notes=(LABEL,))._repr_html_()
    assert not re.search("colo|class|border|background|http|<b>", source)
    sides = [cell.get("style", "") for cell in parsed(table()).find("table/tbody/tr")]
    assert ["text-align:right" in side for side in sides] == [False, True, False]


def test_latex_escapes_what_latex_would_read():
    rows = ((LABEL, "-0.5", "1.2e-06 ± 0.3"),)
    source = ShownTable(head=("a", "b", "c"), rows=rows, align="<>>").latex()
    assert r"50 \% of \textless{}b\textgreater{}\_x \& \$y\$ \{z\}" in source
    assert r"\textasciicircum{}2\textasciitilde{}\textbackslash{} \#1 \textmu{}m" in source
    assert r"& $-$0.5 & $1.2 \times 10^{-6}$ $\pm$ 0.3 \\" in source
    assert r"\begin{tabular}{lrr}" in source


def test_names_with_digits_are_no_numbers_to_latex():
    rows = (("SR6-08", "e1", "1e5 m"),)
    source = ShownTable(head=("a", "b", "c"), rows=rows, align="<<<").latex()
    assert r"SR6-08 & e1 & 1e5 m \\" in source


def test_bundle_offers_what_there_is():
    class Both:
        def __str__(self):
            return "text"

        def _repr_html_(self):
            return "<p>text</p>"

        def _repr_latex_(self):
            return "$x$"

    everything = {"text/plain": "text", "text/html": "<p>text</p>", "text/latex": "$x$"}
    assert mimebundle(Both()) == everything
    assert mimebundle(Both(), include=["text/latex"]) == {"text/latex": "$x$"}
    assert list(mimebundle(Both(), exclude=["text/html"])) == ["text/plain", "text/latex"]
    assert mimebundle(Both(), plain="other")["text/plain"] == "other"
    assert list(table()._repr_mimebundle_()) == ["text/plain", "text/html"]


def test_a_notebook_shows_the_table():
    formatter = pytest.importorskip("IPython.core.formatters").DisplayFormatter()
    found, _ = formatter.format(table(title="Budget"))
    assert found["text/html"] == table(title="Budget")._repr_html_()
    assert found["text/plain"] == str(table(title="Budget"))


def test_sentences():
    assert paragraphs(["a < b", "c"]) == "<p>a &lt; b</p>\n<p>c</p>"
    assert wrapped("word " * 30) == "\n".join([("word " * 20).strip(), ("word " * 10).strip()])
