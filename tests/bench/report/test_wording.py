"""Numbers as a reader sees them; expected digits follow from the rounding rules by hand."""

from __future__ import annotations

import math

import pytest

from flowunc import Scale
from flowunc.bench.conclusions import Outcome
from flowunc.bench.report.wording import (
    formula_text,
    interval,
    named,
    number,
    outcome,
    pair,
    percent,
    probability,
    reading,
    unit_text,
    with_unit,
)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.0, 3, "0"),
        (-0.0, 3, "0"),
        (-0.0001234, 3, "-0.000123"),
        (1.5e-7, 2, "1.5×10⁻⁷"),
        (-2.0e-12, 1, "-2×10⁻¹²"),
        (50.0, 1, "50"),
        (9_999_000.0, 2, "10000000"),
        (1.25e11, 2, "1.2×10¹¹"),
        (math.inf, 3, "∞"),
        (-math.inf, 3, "-∞"),
        (math.nan, 3, "–"),
    ],
)
def test_number(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        # value to the last of two digits of u [JCGM 100, 7.2.6]
        (998.1234, 0.2891, "998.12 ± 0.29"),
        (24041.0, 652.0, "24040 ± 650"),
        (-3.1e-6, 2.2e-7, "(-3.10 ± 0.22)×10⁻⁶"),
        (2.5e9, 1.1e8, "(2.50 ± 0.11)×10⁹"),
        (9.81, 0.0, "9.81"),
        (math.nan, 1.0, "–"),
        (7.5, math.nan, "7.5"),
    ],
)
def test_pair(value: float, u: float, text: str) -> None:
    assert pair(value, u) == text


def test_interval_of_no_draws_is_none() -> None:
    assert interval(math.nan, 1.0) == "none"
    assert interval(-0.00163, 0.00181) == "-0.00163 to 0.00181"
    assert interval(1228.2, 1441.8) == "1228 to 1442"


def test_outcome_is_marked_where_it_is_drawn() -> None:
    assert outcome(Outcome(0.0307, 0.0036, 0.0271, 0.0343, "holds", 1)) == "0.0307 ± 0.0036"
    assert outcome(Outcome(0.09, math.nan, 0.068, 0.131, "fails", 0)) == "0.068 to 0.131*"
    nothing = Outcome(0.09, math.nan, math.nan, math.nan, "fails", 0)
    assert outcome(nothing) == "0.09, no interval*"


def test_shares_and_probabilities_do_not_claim_too_much() -> None:
    assert [percent(x) for x in (0, 4e-5, 0.0994, 0.0996, 1)] == [
        "0 %", "<0.1 %", "9.9 %", "10 %", "100 %",
    ]  # fmt: skip
    assert [probability(x) for x in (0.55, 0.994, 0.9999, 1)] == [
        "55 %", "99.4 %", ">99.9 %", "100 %",
    ]  # fmt: skip
    assert percent(math.nan) == "–"


def test_readings_have_the_digits_to_which_the_scale_is_read() -> None:
    assert reading(352.0, Scale(1, "mm", read_to=0.5)) == "352.0"
    assert reading(352.0, Scale(1, "mm")) == "352"
    assert reading(30.0, Scale(5, "L/h")) == "30"
    assert reading(19.0, Scale(0.5, "degC")) == "19.0"
    assert reading(1.234567, Scale(0.1, "L/min")) == "1.234567"  # a mean, or finer than the marks


@pytest.mark.parametrize(
    ("unit", "text"),
    [
        ("m/s^2", "m/s²"),
        ("s^-1", "s⁻¹"),
        ("kg*m/s", "kg·m/s"),
        ("degF", "°F"),
        ("deg", "°"),
        ("um", "µm"),
        ("mm", "mm"),
        ("%", "%"),
    ],
)
def test_units(unit: str, text: str) -> None:
    assert unit_text(unit) == text


def test_a_pair_with_a_unit_has_brackets() -> None:
    assert with_unit("1.2 ± 0.1", "mm") == "(1.2 ± 0.1) mm"
    assert with_unit("(1.2 ± 0.1)×10⁻⁶", "m") == "(1.2 ± 0.1)×10⁻⁶ m"
    assert with_unit("8", "deg") == "8°"
    assert with_unit("0.03 ± 0.01", "1") == "0.03 ± 0.01"


def test_many_runs_are_counted() -> None:
    assert named([str(n) for n in range(15)]).endswith("10, 11 and 3 more")


def test_formula_keeps_powers_that_are_no_whole_numbers() -> None:
    assert formula_text("f = 0.3164 Re^-0.25") == "f = 0.3164 Re^-0.25"
    assert formula_text("[2.457 ln(x)]^16") == "[2.457 ln(x)]¹⁶"
