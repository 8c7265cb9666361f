import re
from decimal import Decimal
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from flowunc import (
    Angle,
    FlowuncError,
    Length,
    Mass,
    Quantity,
    RangeError,
    Ratio,
    ReynoldsNumber,
    StatementError,
    Temperature,
    UnitError,
    VolumeFlowRate,
    standard,
)


def bore(**options):
    return Length(19.05, "mm", standard(0.029), label="bore", **options)


def flow(count, label="flow"):
    return VolumeFlowRate(0.8 + 0.4 * np.arange(count), "L/min", standard(0.041), label=label)


def half_defined():
    """Readings of which the second has no u: the slope of a root is infinite at 0."""
    return np.sqrt(Length([1.0, 0.0, 4.0], "m", standard(0.02)))


def html_of(quantity):
    """The HTML read by a strict parser, which refuses anything left unescaped."""
    return ElementTree.fromstring(quantity._repr_html_())


def cells(table):
    return [[cell.text for cell in line] for line in table.find("tbody")]


# --- text of a scalar ---


def test_the_mass_of_the_standard_is_printed_as_there():
    # [JCGM 100, 7.2.2 and 7.2.4], from memory [M]: m = 100.021 47 g, u = 0.35 mg;
    # U = 0.79 mg with k = 2.26 from the t-distribution for 9 degrees of freedom at 95 %.
    mass = Mass(100.02147, "g", standard(0.35e-3, dof=9))
    assert str(mass) == "100.02147 ± 0.00035 g"
    assert f"{mass:short}" == "100.02147(35) g"
    assert f"{mass:expanded}" == "100.02147 ± 0.00079 g (k = 2.26)"


@pytest.mark.parametrize(
    ("specification", "text"),
    [
        ("", "bore: 19.050 ± 0.029 mm"),
        (":1", "bore: 19.05 ± 0.03 mm"),
        (":3", "bore: 19.0500 ± 0.0290 mm"),
        ("short", "bore: 19.050(29) mm"),
        ("short:1", "bore: 19.05(3) mm"),
        # k: quantile of the normal distribution, 1.9600; 0.029 * 1.9600 = 0.0568
        ("expanded", "bore: 19.050 ± 0.057 mm (k = 1.96)"),
        ("expanded:1", "bore: 19.05 ± 0.06 mm (k = 1.96)"),
        ("latex", r"\qty{19.050 \pm 0.029}{mm}"),
        ("latex:1", r"\qty{19.05 \pm 0.03}{mm}"),
        # 0.029 * 2.5758 = 0.0747, 2.5758 being the normal quantile at 99.5 %
        ("expanded 99 %", "bore: 19.050 ± 0.075 mm (k = 2.58, 99 %)"),
        ("expanded 99%:1", "bore: 19.05 ± 0.07 mm (k = 2.58, 99 %)"),
        ("expanded k=2", "bore: 19.050 ± 0.058 mm (k = 2)"),
        ("expanded k=2.5:1", "bore: 19.05 ± 0.07 mm (k = 2.50)"),
        ("math", r"$\mathrm{bore} = 19.050 \pm 0.029\ \mathrm{mm}$"),
        ("math:1 in cm", r"$\mathrm{bore} = 1.905 \pm 0.003\ \mathrm{cm}$"),
        # 19.05 mm are 0.75 inches of 25.4 mm exactly
        ("in in", "bore: 0.7500 ± 0.0011 in"),
        ("in cm", "bore: 1.9050 ± 0.0029 cm"),
        (":1 in cm", "bore: 1.905 ± 0.003 cm"),
        ("short in um", "bore: 19050(29) um"),
        ("expanded k=2:1 in m", "bore: 0.01905 ± 0.00006 m (k = 2)"),
        ("latex in cm", r"\qty{1.9050 \pm 0.0029}{cm}"),
        ("relative in cm", "bore: 1.9050 cm ± 0.15 %"),
    ],
)
def test_forms_of_a_scalar(specification, text):
    assert format(bore(), specification) == text


@pytest.mark.parametrize(
    "specification",
    [
        "long",
        "short:",
        "short:0",
        "short:10",
        "short:a",
        ":",
        "::1",
        ">30",
        ".2f",
        "Short",
        "short:²",
        "in",
        "in ",
        "mm",
        "short k=2",
        "95 %",
        "expanded k=",
        "expanded k=1.2.3",
        "expanded .%",
        "expanded k=2 95 %",
        "shortin mm",
    ],
)
def test_another_specification_is_refused_with_those_that_are_known(specification):
    with pytest.raises(RangeError) as caught:
        format(bore(), specification)
    assert isinstance(caught.value, (FlowuncError, ValueError))
    for known in (repr(specification), "''", "'short'", "'expanded'", "'latex'", "str(quantity)"):
        assert known in str(caught.value)


@pytest.mark.parametrize(
    ("specification", "error", "words"),
    [
        ("in s", UnitError, "'s'"),
        ("in mn", UnitError, "'mn'"),
        ("expanded k=0", StatementError, "above 0"),
        ("expanded 100 %", StatementError, "between 0 and 1"),
    ],
)
def test_a_unit_or_level_without_sense_is_refused_as_elsewhere(specification, error, words):
    with pytest.raises(error, match=words):
        format(bore(), specification)


def test_a_temperature_in_another_unit_keeps_its_uncertainty():
    # T/K = t/degC + 273.15; an error of 0.14 degC is one of 0.14 K, and of 1.8 * 0.14 degF
    warm = Temperature(19.3, "degC", standard(0.14))
    assert f"{warm:in K}" == "292.45 ± 0.14 K"
    assert f"{warm:in degF}" == "66.74 ± 0.25 degF"
    assert f"{warm:latex}" == r"\qty{19.30 \pm 0.14}{\degreeCelsius}"


def test_all_forms_for_a_notebook_at_once():
    bundle = bore()._repr_mimebundle_()
    assert bundle == {
        "text/plain": repr(bore()),
        "text/html": bore()._repr_html_(),
        "text/latex": bore()._repr_latex_(),
    }
    assert list(bore()._repr_mimebundle_(include={"text/html"})) == ["text/html"]
    assert "text/latex" not in bore()._repr_mimebundle_(exclude={"text/latex"})


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (Length(19.05, "mm", standard(0.029)), "19.050 ± 0.029 mm"),
        (Ratio(0.0312, "1", standard(0.0011)), "0.0312 ± 0.0011"),
        (Ratio(12, "%", standard(0.5)), "12.00 ± 0.50 %"),
        (Angle(5, "deg", standard(0.1)), "5.00 ± 0.10 deg"),
        (Temperature(19.3, "°C", standard(0.14)), "19.30 ± 0.14 °C"),
        (ReynoldsNumber(1234.4, "1", standard(55.7), label="Re"), "Re: 1234 ± 56"),
        (VolumeFlowRate(1.2344e-6, "m^3/s", standard(5.6e-8)), "(1.234 ± 0.056)e-06 m^3/s"),
        (Length(5, "m"), "5 m"),
        (Length(-1e-9, "m", standard(0.03)), "0.000 ± 0.030 m"),
        (Length(1, "m", label="two\n  lines"), "two lines: 1 m"),
    ],
)
def test_text_of_a_scalar(quantity, text):
    assert str(quantity) == text


def test_an_exact_value_has_no_coverage_factor():
    assert f"{Length(5, 'm'):expanded}" == "5 m"
    assert f"{Length([5, 6], 'm'):expanded}" == "[5, 6] m"


# --- text of readings ---


def test_readings_with_a_label():
    assert str(flow(3)) == "flow (3 readings, L/min): 0.800 ± 0.041, 1.200 ± 0.041, 1.600 ± 0.041"
    assert f"{flow(2):short}" == "flow (2 readings, L/min): 0.800(41), 1.200(41)"
    assert str(flow(1)) == "flow (1 reading, L/min): 0.800 ± 0.041"
    reynolds = ReynoldsNumber([1234, 4321], "1", standard(56), label="Reynolds number")
    assert str(reynolds) == "Reynolds number (2 readings): 1234 ± 56, 4321 ± 56"


def test_readings_without_a_label():
    assert str(flow(2, label="")) == "[0.800 ± 0.041, 1.200 ± 0.041] L/min"
    assert str(Ratio([1, 2], "1", standard(0.1))) == "[1.00 ± 0.10, 2.00 ± 0.10]"
    assert str(flow(11, label="")) == (
        "[0.800 ± 0.041, 1.200 ± 0.041, 1.600 ± 0.041, ..., 4.400 ± 0.041, 4.800 ± 0.041] "
        "L/min (11 readings)"
    )


def test_each_reading_is_rounded_to_its_own_uncertainty():
    readings = Length([1.0, 20.0, 3e-7], "m", standard([0.0123, 1.5, 2.2e-8]))
    assert str(readings) == "[1.000 ± 0.012, 20.0 ± 1.5, (3.00 ± 0.22)e-07] m"


@pytest.mark.parametrize("label", ["flow", ""])
@pytest.mark.parametrize("count", [1, 8, 9, 11, 1000])
@pytest.mark.parametrize("form", ["", "short", "expanded"])
def test_up_to_eight_readings_are_all_there_and_more_fit_a_line(count, label, form):
    text = format(flow(count, label), form)
    assert "\n" not in text
    values = re.findall(r"\d+\.\d+(?=\(| ±)", text)
    if count <= 8:
        assert len(values) == count
        assert "..." not in text
    else:
        assert len(text) <= 100
        assert f"{count} readings" in text
        assert text.count("...") == 1
        # both ends, by the definition of flow()
        assert float(values[0]) == 0.8
        assert float(values[-1]) == pytest.approx(0.8 + 0.4 * (count - 1))
        assert len(values) >= 3


def test_coverage_factor_of_readings():
    # k from scipy.stats: 1.96 for infinite and 2.26 for 9 degrees of freedom
    k = [stats.t.ppf(0.975, dof) for dof in (np.inf, 9)]
    one = Length([1, 2], "m", standard(0.1), label="L")
    assert f"{one:expanded}" == (
        f"L (2 readings, m, k = {k[0]:.2f}): 1.00 ± {0.1 * k[0]:.2f}, 2.00 ± {0.1 * k[0]:.2f}"
    )
    # the first reading has the certain error alone, the second gets one of 9 dof on top
    more = Length(1, "m", standard(1, dof=9)) * np.array([0.0, 1000.0])
    both = Length([1.0, 2.0], "m", standard(0.1)) + more
    assert "k = 1.96 to 2.26" in f"{both:expanded}"


# --- where u is not defined ---


def test_an_undefined_u_is_said_and_hides_no_other_reading():
    roots = half_defined().labelled("root")
    assert str(roots[1]) == "root: 0 m^(1/2) (u not defined)"
    assert repr(roots[1]) == "Quantity(0 m^(1/2), u not defined, label='root')"
    # u(sqrt(x)) = u(x) / (2 sqrt(x)): 0.01 at 1 m, 0.005 at 4 m
    assert str(roots) == (
        "root (3 readings, m^(1/2)): 1.000 ± 0.010, 0 (u not defined), 2.0000 ± 0.0050"
    )
    assert repr(roots) == (
        "Quantity([1, 0, 2] m^(1/2), u = [0.01, not defined, 0.005] m^(1/2), label='root')"
    )
    assert f"{roots[1]:expanded}" == "root: 0 m^(1/2) (u not defined)"
    assert f"{roots[1:2]:short}" == "root (1 reading, m^(1/2)): 0 (u not defined)"
    assert cells(html_of(roots))[1] == ["1", "0", "not defined"]
    assert "u not defined" in html_of(roots[1]).text
    assert r"0\ \mathrm{(u\ not\ defined)}" in roots._repr_latex_()


# --- repr ---


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (bore(), "Length(19.05 mm, u = 0.029 mm, label='bore')"),
        (Length(0.1 + 0.2, "m"), "Length(0.3 m, u = 0 m)"),
        (Ratio(1.25, "1", standard(0.03)), "Ratio(1.25, u = 0.03)"),
        (Length(2, "m", label="it's\n'"), "Length(2 m, u = 0 m, label=\"it's\\n'\")"),
        (
            flow(2),
            "VolumeFlowRate([0.8, 1.2] L/min, u = [0.041, 0.041] L/min, label='flow')",
        ),
        (
            Length(np.arange(1, 10), "m", standard(0.1)),
            "Length([1, 2, 3, ..., 7, 8, 9] m, u = [0.1, 0.1, 0.1, ..., 0.1, 0.1, 0.1] m, "
            "9 readings)",
        ),
    ],
)
def test_repr(quantity, text):
    assert repr(quantity) == text


@pytest.mark.parametrize("show", [str, repr, Quantity._repr_html_, Quantity._repr_latex_])
def test_only_the_readings_shown_are_propagated(monkeypatch, show):
    asked = []
    propagate = Quantity._u_si
    monkeypatch.setattr(
        Quantity, "_u_si", lambda self: (asked.append(self.size), propagate(self))[1]
    )
    show(flow(100_000))
    assert 0 < sum(asked) <= 20


# --- HTML ---


def test_html_of_readings():
    table = html_of(flow(3))
    assert table.tag == "table"
    assert table.find("caption").text == "flow"
    assert [cell.text for cell in table.find("thead/tr")] == [
        "row",
        "value in L/min",
        "u in L/min",
    ]
    assert cells(table) == [
        ["0", "0.800", "0.041"],
        ["1", "1.200", "0.041"],
        ["2", "1.600", "0.041"],
    ]


def test_html_cells_carry_the_power_of_ten_each():
    table = html_of(Length([1.2344e-6, 3.0, 1234567.0, 1e22], "m", standard([5.6e-8, 0, 0, 100])))
    assert table.find("caption") is None
    assert [line[1:] for line in cells(table)] == [
        ["1.234e-06", "0.056e-06"],
        ["3", "0"],
        ["1.23457e+06", "0"],
        ["1e+22", "100"],
    ]


@pytest.mark.parametrize(("count", "left_out"), [(20, 0), (21, 6), (1000, 985)])
def test_html_says_how_many_readings_it_leaves_out(count, left_out):
    lines = cells(html_of(flow(count)))
    if not left_out:
        assert len(lines) == count
        return
    (gap,) = (line for line in lines if len(line) == 1)
    assert gap == [f"... {left_out} of {count} readings not shown ..."]
    assert len(lines) - 1 + left_out == count
    assert lines[0][0] == "0"
    assert lines[-1][0] == str(count - 1)
    before = int(lines[lines.index(gap) - 1][0])
    after = int(lines[lines.index(gap) + 1][0])
    assert after - before - 1 == left_out


@pytest.mark.parametrize("label", ["<script>alert(1)</script>", "a & b", "\"'>&lt;", "x]]>"])
@pytest.mark.parametrize("values", [1.0, [1.0, 2.0]])
def test_html_shows_a_label_and_never_runs_it(label, values):
    shown = html_of(Length(values, "m", standard(0.1), label=label))
    assert [element.tag for element in shown.iter()].count("script") == 0
    text = shown.text if shown.tag == "span" else shown.find("caption").text
    assert text.startswith(label)


def test_html_brings_no_colour_that_a_dark_page_would_swallow():
    for quantity in (bore(), flow(30)):
        source = quantity._repr_html_()
        assert not re.search("colo|class|border|background|http", source)
        styles = {
            part for style in re.findall('style="([^"]*)"', source) for part in style.split(";")
        }
        assert styles <= {
            "font-variant-numeric:tabular-nums",
            "text-align:left",
            "text-align:right",
            "padding:0.1em 0.6em",
        }


def test_html_numbers_stand_below_each_other():
    for line in html_of(flow(3)).find("tbody"):
        assert all("text-align:right" in cell.get("style") for cell in line)


# --- one rounding behind all forms ---


@given(
    st.floats(-1e12, 1e12),
    st.one_of(st.just(0.0), st.floats(1e-12, 1e12)),
)
def test_text_html_and_latex_show_the_same_digits(value, u):
    scalar, readings = (Length(v, "m", standard(u)) for v in (value, [value]))
    text = str(scalar)
    assert html_of(scalar).text == text
    assert str(readings) == f"[{text.removesuffix(' m')}] m"
    pair = re.match(r"\(?([-\d.]+)(?: ± ([\d.e+-]+))?\)?(?:e([+-]\d+))?", text)
    assert pair is not None
    printed, spread, exponent = pair.groups()
    for latex in (scalar._repr_latex_(), f"{scalar:latex}"):
        body = latex.replace(r"\left(", "").replace(r"\qty{", "").lstrip("$")
        assert body.startswith(f"{printed}")
        assert (r"\pm" in body) == (spread is not None)
        if spread is not None and "e" not in spread:
            assert rf"{printed} \pm {spread}" in body
        if exponent is not None:
            assert f"10^{{{int(exponent)}}}" in latex or f" e{int(exponent)}}}" in latex
    _, cell, cell_u = cells(html_of(readings))[0]
    scale = Decimal(10) ** int(exponent or 0)
    assert Decimal(cell) == Decimal(printed) * scale
    assert Decimal(cell_u) == Decimal(spread or "0") * scale
