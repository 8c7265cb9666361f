import math
import re
from decimal import ROUND_HALF_EVEN, Context, Decimal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.constants import physical_constants
from uncertainties import formatting, ufloat

from flowunc.core.display.rounding import Rounded, round_cells, round_number, round_pair, text_pair
from flowunc.core.errors import RangeError

# Results and uncertainties as printed in [JCGM 100]; from memory, H.1 and H.3 also computed from
# their inputs [M] [C]. Where a clause prints u only, the value is not tested.
JCGM_100 = [
    # 7.2.6: 10.057 62 ohm with u = 27 milliohm becomes 10.058 ohm
    (10.05762, 0.027, "10.058 ± 0.027", "10.058(27)"),
    # 7.2.2: 100.021 47 g, u = 0.35 mg; 7.2.4: U = 0.79 mg
    (100.02147, 0.35e-3, "100.02147 ± 0.00035", "100.02147(35)"),
    (100.02147, 0.79e-3, "100.02147 ± 0.00079", "100.02147(79)"),
    # H.1: 50.000 838 mm, u = 32 nm (31.658 computed)
    (50.000838, 31.658e-6, "50.000838 ± 0.000032", "50.000838(32)"),
    # H.3: intercept -0.1712, u 0.0029; slope 0.002 18, u 0.000 67; correction -0.1494, u 0.0041
    (-0.17120379, 0.00287760, "-0.1712 ± 0.0029", "-0.1712(29)"),
    (0.00218270, 0.00066794, "0.00218 ± 0.00067", "0.00218(67)"),
    (-0.14937681, 0.00413860, "-0.1494 ± 0.0041", "-0.1494(41)"),
]

FINITE = st.floats(allow_nan=False, allow_infinity=False)
POSITIVE = st.floats(min_value=0, exclude_min=True, allow_infinity=False)
# Magnitudes within which the formatter of `uncertainties` can be the judge.
MANTISSA = st.integers(100, 999)
POWER = st.integers(-30, 30)


def decimal_of(digits, rounded):
    """The number that is printed, exactly."""
    return Decimal(digits).scaleb(rounded.exponent, Context(prec=800))


@pytest.mark.parametrize(("value", "u", "text", "short"), JCGM_100)
def test_results_are_printed_as_in_the_standard(value, u, text, short):
    assert text_pair(value, u) == text
    assert round_pair(value, u).short == short


def test_28_05_khz_becomes_28_khz():
    # [JCGM 100, 7.2.6], from memory [M]: "u(x) = 28.05 kHz should be rounded down to 28 kHz"
    assert round_pair(1000.0, 28.05).uncertainty == "28"


@pytest.mark.parametrize("name", [name for name, (_, _, u) in physical_constants.items() if u > 0])
def test_codata_constants_keep_exactly_their_published_digits(name):
    # CODATA publishes two digits of u and the value to the same place, as scipy holds them:
    # rounding must give back every digit and invent none.
    value, _, u = physical_constants[name]
    rounded = round_pair(value, u)
    assert float(decimal_of(rounded.value, rounded)) == value
    assert float(decimal_of(rounded.uncertainty, rounded)) == u
    assert Decimal(rounded.value).as_tuple().exponent == (
        Decimal(rounded.uncertainty).as_tuple().exponent
    )


# Expected u: the float exactly as stored, rounded by the decimal module. 0.0995 is stored a
# little above and 9.95 a little below the edge at which two digits become three; 0.125, 0.375
# and 12.5 are stored exactly, so they are ties and go to the even digit.
@pytest.mark.parametrize(
    ("u", "text"),
    [
        (0.0994, "1.500 ± 0.099"), (0.0995, "1.50 ± 0.10"), (0.0996, "1.50 ± 0.10"),
        (0.9949, "1.50 ± 0.99"), (0.9951, "1.5 ± 1.0"),
        (9.94, "1.5 ± 9.9"), (9.95, "1.5 ± 9.9"), (9.96, "2 ± 10"),
        (99.4, "2 ± 99"), (99.6, "(0.0 ± 1.0)e+02"),
        (0.125, "1.50 ± 0.12"), (0.375, "1.50 ± 0.38"), (12.5, "2 ± 12"),
    ],
)  # fmt: skip
def test_edges_of_two_digits(u, text):
    rounded = round_pair(1.5, u)
    exact = Context(prec=2, rounding=ROUND_HALF_EVEN).create_decimal(Decimal(u))
    assert decimal_of(rounded.uncertainty, rounded) == exact
    assert rounded.text == text


def test_u_keeps_two_digits_when_the_common_power_of_ten_is_that_of_the_value():
    # The formatter alone scales to 1e-07 first and prints 0.0100 here, one digit too many.
    u = 9.95e-10
    rounded = round_pair(3.4714106665889266e-07, u)
    exact = Context(prec=2).create_decimal(Decimal(u))
    assert decimal_of(rounded.uncertainty, rounded) == exact


@given(MANTISSA, POWER, st.integers(-(10**6), 10**6), st.integers(-3, 3), st.integers(1, 3))
def test_agrees_with_the_formatter_of_uncertainties(mantissa, power, number, shift, digits):
    u = float(f"{mantissa}e{power}")
    value = float(f"{number}e{power + shift}")
    assume(mantissa % 10 != 5)  # ties of u: settled before scaling here, after it there
    assume(mantissa % 100 not in (5, 50, *range(46, 55)))
    assume(value != 0)
    rounded = round_pair(value, u, digits)
    for text, options in ((rounded.text, ""), (rounded.short, "S")):
        expected = format(ufloat(value, u), f".{digits}u{options}").replace("+/-", " ± ")
        # a negative value rounded to nothing keeps its sign there
        assert text == re.sub(r"^(\(?)-(0\.?0*)(?=[ (])", r"\1\2", expected)


@given(FINITE, POSITIVE)
def test_what_is_printed_is_next_to_what_is_true(value, u):
    rounded = round_pair(value, u)
    printed, spread = (
        decimal_of(digits, rounded) for digits in (rounded.value, rounded.uncertainty)
    )
    last_place = Decimal(1).scaleb(spread.as_tuple().exponent, Context(prec=800))
    assert len(spread.as_tuple().digits) == 2
    assert abs(spread - Decimal(u)) <= last_place / 2 * Decimal("1.000001")
    # where u is below the resolution of the float, the shortest digits of the float stand
    noise = abs(Decimal(value)) * Decimal(2) ** -53
    assert abs(printed - Decimal(value)) <= last_place / 2 + noise
    if "e" not in rounded.uncertainty:
        assert printed.as_tuple().exponent == spread.as_tuple().exponent


@given(FINITE)
def test_without_uncertainty_up_to_six_digits_and_no_sign_of_u(value):
    rounded = round_pair(value, 0.0)
    assert rounded.uncertainty == ""
    assert "±" not in rounded.text
    assert "(" not in rounded.short
    assert float(rounded.text) == pytest.approx(value, rel=5.0000001e-6, abs=0)
    assert len(Decimal(rounded.value).normalize().as_tuple().digits) <= 6


@pytest.mark.parametrize(
    ("value", "u", "text", "short"),
    [
        # a minus without a digit behind it says nothing
        (-0.0, 0.0, "0", "0"),
        (-0.0, 0.1, "0.00 ± 0.10", "0.00(10)"),
        (-1e-9, 0.03, "0.000 ± 0.030", "0.000(30)"),
        (-2.5, 1e9, "(0.0 ± 1.0)e+09", "0.0(1.0)e+09"),
        (-0.03, 0.029, "-0.030 ± 0.029", "-0.030(29)"),
        # u larger than the value
        (0.001, 5.0, "0.0 ± 5.0", "0.0(5.0)"),
        (1234.4, 55.7, "1234 ± 56", "1234(56)"),
        (4.0, 31.0, "4 ± 31", "4(31)"),
        # common power of ten, and its two ends
        (1.2344e-6, 5.6e-8, "(1.234 ± 0.056)e-06", "1.234(56)e-06"),
        (1.2344e-4, 2e-6, "0.0001234 ± 0.0000020", "0.0001234(20)"),
        (12344.0, 56.0, "12344 ± 56", "12344(56)"),
        (12344.0, 560.0, "(1.234 ± 0.056)e+04", "1.234(56)e+04"),
        # not a number
        (math.nan, 1.0, "nan ± 1.0", "nan(1.0)"),
        (math.nan, 0.29, "nan ± 0.29", "nan(0.29)"),
        (math.nan, math.nan, "nan ± nan", "nan(nan)"),
        (19.05, math.nan, "19.05 ± nan", "19.05(nan)"),
        (math.inf, 0.29, "inf ± 0.29", "inf(0.29)"),
        (-math.inf, math.inf, "-inf ± inf", "-inf(inf)"),
        (19.05, math.inf, "19.05 ± inf", "19.05(inf)"),
        (math.nan, 0.0, "nan", "nan"),
        (-math.inf, 0.0, "-inf", "-inf"),
        # ends of float64: 4.9e-324 is its smallest number, 1.8e308 lies above its largest
        (5e-324, 5e-324, "(4.9 ± 4.9)e-324", "4.9(4.9)e-324"),
        (1.7e308, 1.79e308, "(1.7 ± 1.8)e+308", "1.7(1.8)e+308"),
        (
            1.23456789012e300,
            1e290,
            "(1.23456789012 ± 0.00000000010)e+300",
            "1.23456789012(10)e+300",
        ),
        (3.0, 1e300, "(0.0 ± 1.0)e+300", "0.0(1.0)e+300"),
        # u below the last digit of the float
        (19.05, 1.2e-17, "19.05 ± 1.2e-17", "19.05(1.2e-17)"),
        (1.0, 5e-324, "1 ± 4.9e-324", "1(4.9e-324)"),
        (1e22, 100.0, "(1 ± 1.0e-20)e+22", "1(1.0e-20)e+22"),
    ],
)
def test_unusual_pairs(value, u, text, short):
    rounded = round_pair(value, u)
    assert (rounded.text, rounded.short) == (text, short)


@pytest.mark.parametrize(
    ("digits", "text"),
    [(1, "50.00084 ± 0.00003"), (2, "50.000838 ± 0.000032"), (3, "50.0008380 ± 0.0000317")],
)
def test_number_of_digits_of_u(digits, text):
    # [JCGM 100, H.1], u = 31.658 nm computed from its inputs [C], rounded by hand
    assert round_pair(50.000838, 31.658e-6, digits).text == text


def test_numpy_numbers_and_integers_are_numbers():
    expected = Rounded("1234", "56")
    assert round_pair(np.float64(1234.4), np.float32(56)) == expected
    assert round_pair(np.int64(1234), 56) == expected


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((1.0, -0.1), "uncertainty -0.1: expected zero or a positive number"),
        ((1.0, -math.inf), "uncertainty -inf"),
        (("1.0", 0.1), "value: got '1.0'; expected one number"),
        ((1.0, np.array([0.1, 0.2])), "uncertainty: got array"),
        ((True, 0.1), "value: got True"),
        ((1 + 2j, 0.1), "value: got"),
        ((1.0, 0.1, 0), "digits=0: expected a whole number from 1 to 9"),
        ((1.0, 0.1, 10), "digits=10"),
        ((1.0, 0.1, 2.0), r"digits=2\.0"),
        ((1.0, 0.1, True), "digits=True"),
    ],
)
def test_refuses_with_the_reason(arguments, message):
    with pytest.raises(RangeError, match=message):
        round_pair(*arguments)


@pytest.mark.parametrize("sign", [" +- ", "±", " -/+ "])
def test_signs_changed_by_the_user_of_that_package_do_no_harm(monkeypatch, sign):
    monkeypatch.setitem(formatting.PM_SYMBOLS, "default", sign)
    assert format(ufloat(1.0, 0.1), ".2u") == f"1.00{sign}0.10"  # the change is in force
    assert text_pair(-1.2344e-6, 5.6e-8) == "(-1.234 ± 0.056)e-06"


def test_a_result_cannot_be_changed():
    with pytest.raises(AttributeError):
        round_pair(1.0, 0.1).value = "2"


# --- numbers for tables ---


@given(MANTISSA, POWER, st.integers(-(10**6), 10**6), st.integers(-3, 3))
def test_cells_are_the_numbers_of_the_pair(mantissa, power, number, shift):
    u = float(f"{mantissa}e{power}")
    value = float(f"{number}e{power + shift}")
    rounded = round_pair(value, u)
    cell, cell_u = round_cells(value, u)
    own = Decimal(rounded.uncertainty)  # with its own power of ten below the last digit
    assert Decimal(cell) == decimal_of(rounded.value, rounded)
    assert Decimal(cell_u) == own.scaleb(rounded.exponent, Context(prec=800))


@pytest.mark.parametrize(
    ("value", "u", "cells"),
    [
        (8085.7, 162.0, ("8090", "160")),
        (12344.0, 56.0, ("12344", "56")),
        (1234567.0, 4.4e4, ("1235000", "44000")),
        (1.2344e9, 5.6e7, ("1.234e+09", "0.056e+09")),
        (1.2344e-6, 5.6e-8, ("1.234e-06", "0.056e-06")),
        # nothing says which zeros of 1234570 would count
        (1234567.0, 0.0, ("1.23457e+06", "0")),
        (3.0, 0.0, ("3", "0")),
        (-1e-9, 0.03, ("0.000", "0.030")),
        (19.05, 1.2e-17, ("19.05", "1.2e-17")),
        (math.nan, 1.0, ("nan", "1.0")),
        (1.0, math.inf, ("1", "inf")),
    ],
)
def test_cells(value, u, cells):
    assert round_cells(value, u) == cells


@pytest.mark.parametrize(
    ("number", "digits", "text"),
    [
        (0.0, 2, "0"),
        (-0.0, 2, "0"),
        (130.2, 2, "130"),
        (-123456.0, 3, "-123000"),
        (9.96, 2, "10"),
        (0.0996, 2, "0.10"),
        (-0.01998, 3, "-0.0200"),
        (1e7, 2, "1.0e+07"),
        (5e-324, 2, "4.9e-324"),
        (math.inf, 2, "inf"),
        (-math.inf, 2, "-inf"),
        (math.nan, 2, "nan"),
    ],
)
def test_numbers_that_stand_alone(number, digits, text):
    assert round_number(number, digits) == text


@pytest.mark.parametrize(("number", "digits"), [("1", 2), (1.0, 0), (math.nan, 10), (True, 2)])
def test_no_number_is_refused(number, digits):
    with pytest.raises(RangeError, match="expected"):
        round_number(number, digits)
