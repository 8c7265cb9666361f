import re

import numpy as np
import pytest

from flowunc import (
    Length,
    PropagationError,
    Quantity,
    Ratio,
    Temperature,
    VolumeFlowRate,
    standard,
)


def bore():
    return Length(19.05, "mm", standard(0.029), label="bore")


def flow(count):
    return VolumeFlowRate(0.8 + 0.4 * np.arange(count), "L/min", standard(0.041), label="flow")


def half_defined():
    """Readings of which the second has no u: the slope of a root is infinite at 0."""
    return np.sqrt(Length([1.0, 0.0, 4.0], "m", standard(0.02)))


def test_latex_of_a_scalar_and_of_readings():
    assert bore()._repr_latex_() == r"$\mathrm{bore} = 19.050 \pm 0.029\ \mathrm{mm}$"
    assert VolumeFlowRate(1.2344e-6, "m^3/s", standard(5.6e-8))._repr_latex_() == (
        r"$\left(1.234 \pm 0.056\right) \times 10^{-6}\ \mathrm{m^{3}/s}$"
    )
    assert flow(2)._repr_latex_() == (
        r"$\mathrm{flow} = \begin{array}{r}0.800 \pm 0.041 \\ 1.200 \pm 0.041\end{array}"
        r"\ \mathrm{L/min}$"
    )
    long = flow(50)._repr_latex_()
    assert long.count(r"\vdots") == 1
    assert r"(50\ readings)" in long
    assert long.count(r"\pm") == 15


@pytest.mark.parametrize(
    ("label", "written"),
    [
        ("50%", r"50\%"),
        ("flow_rate", r"flow\_rate"),
        ("a&b", r"a\&b"),
        ("no. #1", r"no.\ \#1"),
        ("$x$", r"\$x\$"),
        ("{x}", r"\{x\}"),
        ("x^2~\\", r"x\wedge 2\sim \backslash "),
        ("pipe-flow", r"pipe\text{-}flow"),
        ("<script>", "<{}script>"),
        ("</script>", "<{}/script>"),
    ],
)
def test_latex_escapes_a_label(label, written):
    latex = Length(1, "m", label=label)._repr_latex_()
    assert latex == rf"$\mathrm{{{written}}} = 1\ \mathrm{{m}}$"
    assert not re.search(r"<[A-Za-z/!?]", latex)  # what opens a tag in HTML


@pytest.mark.parametrize(
    ("unit", "formula", "source"),
    [
        ("mm", "mm", "mm"),
        ("kg*m^2/s^3", r"kg\,m^{2}/s^{3}", "kg.m^{2}/s^{3}"),
        ("kg m**-1", r"kg\,m^{-1}", "kg.m^{-1}"),
        ("kg m^−1", r"kg\,m^{-1}", "kg.m^{-1}"),
        ("m²·s⁻¹", r"m^{2}\,s^{-1}", "m^{2}.s^{-1}"),
        ("m^(1/2)", "m^{1/2}", "m^{1/2}"),
        ("uPa*s", r"\mu Pa\,s", r"\mu Pa.s"),
        ("µm", r"\mu m", r"\mu m"),
        ("um", r"\mu m", r"\mu m"),
        ("kOhm", r"k\Omega ", r"k\Omega "),
        ("US gal/min", r"US\ gal/min", r"US\ gal/min"),
        ("US_gal", r"US\_gal", r"US\_gal"),
        ("mmH2O", "mmH2O", "mmH2O"),
        ("deg/s", r"{}^{\circ}/s", r"{}^{\circ}/s"),
        ("deg", r"{}^{\circ}", r"\degree"),
        ("%", r"\%", r"\percent"),
        ("J/(kg K)", r"J/(kg\,K)", "J/(kg.K)"),
    ],
)
def test_latex_of_units(unit, formula, source):
    quantity = Quantity(1, unit, standard(0.1))
    assert quantity._repr_latex_() == rf"$1.00 \pm 0.10\ \mathrm{{{formula}}}$"
    assert f"{quantity:latex}" == rf"\qty{{1.00 \pm 0.10}}{{{source}}}"


@pytest.mark.parametrize("unit", ["degC", "°C"])
def test_latex_of_a_celsius_temperature(unit):
    temperature = Temperature(19.3, unit, standard(0.14))
    assert temperature._repr_latex_() == r"$19.30 \pm 0.14\ \mathrm{{}^{\circ}C}$"
    assert f"{temperature:latex}" == r"\qty{19.30 \pm 0.14}{\degreeCelsius}"


@pytest.mark.parametrize(
    "quantity",
    [
        bore(),
        Ratio(3, "%", standard(1e-9), label="a_b 50% #1 {x} $y$ ^~\\ pipe-flow <script>"),
        VolumeFlowRate(-1.2344e-6, "US gal/min", standard(5.6e-8)),
        Quantity(1e22, "uPa*s^-2/kOhm^(1/2)", standard(100.0)),
        Temperature(19.3, "degC", standard(0.14)),
        half_defined()[1],
    ],
)
def test_latex_is_read_by_a_formula_parser(quantity):
    from matplotlib.mathtext import MathTextParser

    MathTextParser("path").parse(quantity._repr_latex_())


@pytest.mark.parametrize(
    ("quantity", "source"),
    [
        (Ratio(0.5, "1", standard(0.1)), r"\num{0.50 \pm 0.10}"),
        (Ratio([1, 2], "1", standard(0.1)), r"\numlist{1.00 \pm 0.10; 2.00 \pm 0.10}"),
        (flow(2), r"\qtylist{0.800 \pm 0.041; 1.200 \pm 0.041}{L/min}"),
        (Length(1.2344e-6, "m", standard(5.6e-8)), r"\qty{1.234 \pm 0.056 e-6}{m}"),
        (Length(1234567, "m"), r"\qty{1.23457 e6}{m}"),
        # a power of ten behind u would be read as common to both numbers
        (Length(3, "m", standard(1.2e-17)), r"\qty{3 \pm 0.000000000000000012}{m}"),
    ],
)
def test_source_for_siunitx(quantity, source):
    assert f"{quantity:latex}" == source


def test_source_for_siunitx_leaves_no_reading_out():
    assert f"{flow(100):latex}".count(r"\pm") == 100


def test_source_for_a_text_does_not_lose_an_undefined_u():
    with pytest.raises(PropagationError, match="sqrt"):
        format(half_defined(), "latex")
