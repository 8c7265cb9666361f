"""Numerical tolerance delta of JCGM 101, 7.9.2."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import FlowuncError, Ratio, cross_check, standard
from flowunc.propagation.tolerance import check_digits, numerical_tolerance

# JCGM 101:2008, 7.9.2 examples and the ruling "round u first" (0.00983 at one digit is 0.01) [M].
CASES = [
    (0.00035, 2, 0.000005),  # 35 x 10^-5 g, standard's example 1
    (2, 1, 0.5),  # 2 x 10^0 K, standard's example 2
    (0.00983, 1, 0.005),
    (0.00983, 2, 0.00005),
    (0.00999, 2, 0.0005),  # 0.010 = 10 x 10^-3
    (0.0539, 1, 0.005),
    (0.0539, 2, 0.0005),
    (10.14889, 1, 5.0),
    (10.14889, 2, 0.5),
    (2.0, 3, 0.005),
    (9.5, 1, 5.0),  # 9.5 rounds to 10 (half to even of its binary value: 9.5 is exact, to 10)
    (0.95, 1, 0.05),  # the float 0.95 lies below: 0.9
    (1.0, 1, 0.5),
    (999.6, 3, 5.0),
    (5e-300, 1, 0.5e-300),
]


@pytest.mark.parametrize(("u", "digits", "delta"), CASES)
def test_tolerance_is_half_a_unit_of_the_last_digit(u, digits, delta):
    assert numerical_tolerance(u, digits) == pytest.approx(delta, rel=1e-12)


def test_no_uncertainty_has_no_tolerance():
    assert numerical_tolerance(0.0, 1) == 0.0
    assert math.isnan(numerical_tolerance(math.nan, 1))
    assert math.isnan(numerical_tolerance(math.inf, 1))


@pytest.mark.parametrize("digits", [0, -1, 7, 1.0, "1", None, True])
def test_digits_must_be_a_small_whole_number(digits):
    if digits is None:
        with pytest.raises(FlowuncError, match="None"):
            cross_check(Ratio(1.0, "1", standard(0.1)), digits=digits)
        return
    for ask in (
        lambda: cross_check(Ratio(1.0, "1", standard(0.1)), digits=digits),
        lambda: Ratio(1.0, "1", standard(0.1)).monte_carlo(digits=digits),
    ):
        with pytest.raises(FlowuncError, match=f"digits={digits!r}"):
            ask()


def test_one_to_six_digits_are_taken():
    assert [check_digits(digits) for digits in (1, np.int64(2), 6)] == [1, 2, 6]
