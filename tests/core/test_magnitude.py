"""Powers of two against `math.frexp`, deviations against exact fractions of `statistics`."""

from __future__ import annotations

import math
import statistics
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc.core.magnitude import exponent_of, standard_deviation, times_power_of_two

SCALES = [5e-324, 1e-310, 1e-300, 1e-170, 1.0, 1e170, 1e300]


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=5))
def test_exponent_is_that_of_the_largest_magnitude(values):
    assert exponent_of(values) == math.frexp(max(map(abs, values)))[1]
    assert 0.0 <= np.max(np.abs(times_power_of_two(values, -exponent_of(values)))) < 1.0


def test_nothing_and_zeros_have_exponent_zero():
    assert exponent_of([]) == 0
    assert exponent_of([0.0, -0.0]) == 0


def test_too_large_a_power_is_infinite_without_a_word():
    np.testing.assert_array_equal(
        times_power_of_two([1.0, -3.0], np.array([1023, 1023])), [2.0**1023, -math.inf]
    )


def test_powers_are_given_to_ldexp_as_c_integers(monkeypatch):
    # where a C long has 32 bits (LLP64), ldexp has no loop for int64 [NumPy, ldexp.types]
    ldexp, seen = np.ldexp, []

    def watched(values, exponent):
        seen.append(exponent.dtype)
        return ldexp(values, exponent)

    monkeypatch.setattr(np, "ldexp", watched)
    found = times_power_of_two([3.0, 5.0], np.array([1, -1], dtype=np.int64))
    np.testing.assert_array_equal(found, [6.0, 2.5])
    assert seen == [np.dtype(np.intc)]


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("of_mean", [False, True])
def test_deviations_of_any_size(scale, of_mean):
    values = [scale * factor for factor in (1.0, 7.0, 3.0, 4.0)]
    # statistics.variance of fractions is exact, and so is a power of ten taken out of it
    shift = Fraction(10) ** -math.floor(math.log10(max(values)))
    exact = statistics.variance(Fraction(value) * shift for value in values)
    expected = float(Fraction(math.sqrt(exact / (4 if of_mean else 1))) / shift)
    found = standard_deviation(values, of_mean=of_mean)
    assert found == pytest.approx(expected, rel=1e-14, abs=3e-324)


def test_the_deviation_of_a_mean_is_a_number_where_that_of_the_readings_is_none():
    largest = 1.7e308  # s = sqrt(2) 1.7e308 is above 1.797e308 [IEEE 754-2019, binary64]
    assert standard_deviation([largest, -largest]) == math.inf
    assert standard_deviation([largest, -largest], of_mean=True) == pytest.approx(largest)


def test_equal_numbers_have_no_deviation():
    assert standard_deviation([0.1, 0.1, 0.1]) == pytest.approx(0.0, abs=1e-16)
    assert standard_deviation([0.0, 0.0]) == 0.0
