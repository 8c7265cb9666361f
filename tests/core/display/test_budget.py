from xml.etree import ElementTree

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    DimensionError,
    Length,
    Quantity,
    ShapeError,
    Temperature,
    limits,
    repeated,
    standard,
)
from flowunc.core.display.budget import rounded_budget


def end_gauge():
    """The calibration of an end gauge [JCGM 100, H.1]: l = l_s + d - l_s (da theta + a dt)."""
    standard_gauge = Length(50.000623, "mm", standard(25, "nm", dof=18), label="standard")
    difference = Length(215, "nm", standard(9.7, dof=25.6), label="comparator")
    expansion = Quantity(0, "1/K", standard(0.58e-6, dof=50), label="expansion")
    warmth = Quantity(0, "K", standard(0.029, dof=2), label="temperature")
    theta, alpha = Quantity(-0.1, "K"), Quantity(11.5e-6, "1/K")
    shrunk = standard_gauge * (expansion * theta + alpha * warmth)
    return (standard_gauge + difference - shrunk).to("nm").labelled("end gauge")


def rows_of(shown):
    return {row[0]: row[1:] for row in shown.rows}


def test_budget_of_the_standard():
    # [JCGM 100, H.1, table H.1], from memory [M]: contributions 25, 9.7, 2.9 and 16.6 nm, u = 32
    # nm; sensitivities by the formula: l_s * 0.1 K = 5.00e6 nm K, l_s * 11.5e-6/K = 575 nm/K
    shown = rounded_budget(end_gauge(), level=0.99)
    assert shown.title == "Budget of end gauge: 50000838 ± 32 nm"
    assert list(rows_of(shown)) == ["standard", "temperature", "comparator", "expansion"]
    found = rows_of(shown)
    column = dict(zip(shown.head[1:], range(8), strict=True))
    assert [row[column["|c| u/nm"]] for row in found.values()] == ["25", "17", "9.7", "2.9"]
    assert [row[column["c"]] for row in found.values()] == ["1.00", "-575", "1.00", "5000000"]
    assert [row[column["dof"]] for row in found.values()] == ["18", "2", "25.6", "50"]
    assert [row[column["u"]] for row in found.values()] == ["25", "0.029", "9.7", "5.8e-07"]
    assert [row[column["unit"]] for row in found.values()] == ["nm", "K", "nm", "1/K"]
    # eq. G.2b: the 16.7 of the standard, there truncated to 16 for t; U = 93 nm there
    squares = np.square([25, 575 * 0.029, 9.7, 2.9])
    k = stats.t.ppf(0.995, squares.sum() ** 2 / np.sum(squares**2 / [18, 2, 25.6, 50]))
    U = np.sqrt(squares.sum()) * k
    assert pytest.approx(93, abs=1.5) == U
    assert shown.notes[0] == (
        f"combined u = 32 nm, 16.7 effective degrees of freedom; U = {U:.0f} nm, k = {k:.2f} (99 %)"
    )


def test_shares_add_up():
    shown = rounded_budget(end_gauge())
    shares = [float(row[-1].removesuffix(" %")) for row in shown.rows]
    # squares of 25, 16.6, 9.7 and 2.9 over their sum
    expected = np.square([25, 16.675, 9.7, 2.9])
    assert shares == pytest.approx(100 * expected / expected.sum(), abs=0.06)


def test_names_of_any_length_fit_the_page_and_keep_every_word():
    words = [f"part{number}" for number in range(30)]
    q = Length(1.0, "m", standard(1e-3), label=" ".join(words)) * 1.0
    text = str(rounded_budget(q))
    assert max(map(len, text.splitlines())) <= 100
    for word in words:
        assert word in text


def test_labels_are_escaped():
    q = Length(1.0, "m", standard(0.1), label="<i>_50 % & $") * 2
    shown = rounded_budget(q.labelled("<script>"))
    table = ElementTree.fromstring(f"<div>{shown._repr_html_()}</div>").find("table")
    assert table.find("caption").text.startswith("Budget of <script>: ")
    assert table.find("tbody/tr/td").text == "<i>_50 % & $"
    assert r"\textless{}i\textgreater{}\_50 \% \& \$ & B" in shown.latex()


def test_readings_need_a_row():
    readings = Length([1.0, 2.0], "m", standard([0.1, 0.3]), label="way")
    assert rounded_budget(readings, -1).title == "Budget of way, reading 1: 2.00 ± 0.30 m"
    for row in (None, 2):
        with pytest.raises(ShapeError, match="row"):
            rounded_budget(readings, row)


def test_shares_too_small_to_be_printed_and_temperatures():
    warm = Temperature(20, "degC", limits(0.5), label="bath")
    both = (warm - Temperature(19.0, "degC", standard(1e-3))).labelled("difference")
    shown = rounded_budget(both)
    assert shown.title == "Budget of difference: 1.00 ± 0.29 K"
    assert [row[-1] for row in shown.rows] == ["100.0 %", "<0.1 %"]
    assert [row[4] for row in shown.rows] == ["K", "K"]


def test_repeats_are_of_type_a():
    mean = Length(19.05, "mm", repeated([19.04, 19.06, 19.05]), label="bore")
    (row,) = rounded_budget(mean).rows
    assert row[1] == "A"
    assert row[5] == "2"


def test_nothing_uncertain():
    shown = rounded_budget(Length(2, "m", label="rule"))
    assert shown.rows == ()
    assert str(shown).splitlines()[0] == "Budget of rule: 2 m"
    assert str(shown).splitlines()[-1] == "no uncertainty stated"


def test_something_else_is_refused():
    with pytest.raises(DimensionError, match="expected a quantity"):
        rounded_budget(2.0)
