"""Models with closed forms: both engines, and the cross-check between them.

Exact moments are elementary integrals ([JCGM 101, 5.10] gives the kind of case); each is
written out beside the model. Tolerances are five standard errors of the draws at a fixed seed.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc import Length, Ratio, concatenate, cross_check, limits, standard

TRIALS = 400_000
M, S = 0.7, 0.3


def normal(mean=M, u=S):
    return Ratio(mean, "1", standard(u))


def sine_moments():
    mean = math.sin(M) * math.exp(-(S**2) / 2)
    square = (1 - math.cos(2 * M) * math.exp(-2 * S**2)) / 2
    return mean, math.sqrt(square - mean**2)


def inverse_square_moments(a=0.1):
    # X rectangular on 1 +/- a: E[X^-2] = 1/(1 - a^2), E[X^-4] = ((1-a)^-3 - (1+a)^-3)/(6 a)
    mean = 1 / (1 - a * a)
    fourth = ((1 - a) ** -3 - (1 + a) ** -3) / (6 * a)
    return mean, math.sqrt(fourth - mean**2)


def product_of_two():
    return Ratio(2.0, "1", standard(0.5)) * Ratio(3.0, "1", standard(0.8))


LOGNORMAL = math.exp(M + S**2 / 2)
CASES = {
    # model: (quantity, exact mean, exact u, linear value, linear u)
    "square": (normal() ** 2, M**2 + S**2, math.sqrt(4 * M**2 * S**2 + 2 * S**4), M**2, 2 * M * S),
    "square of zero mean": (normal(0.0) ** 2, S**2, math.sqrt(2) * S**2, 0.0, 0.0),
    "product": (
        product_of_two(),
        6.0,
        math.sqrt(4 * 0.64 + 9 * 0.25 + 0.64 * 0.25),
        6.0,
        math.sqrt(4 * 0.64 + 9 * 0.25),
    ),
    "exponential": (
        math.e ** normal(),
        LOGNORMAL,
        LOGNORMAL * math.sqrt(math.exp(S**2) - 1),
        math.exp(M),
        S * math.exp(M),
    ),
    "inverse square": (
        Ratio(1.0, "1", limits(0.1)) ** -2,
        *inverse_square_moments(),
        1.0,
        0.2 / math.sqrt(3),
    ),
    "sine": (np.sin(normal()), *sine_moments(), math.sin(M), S * math.cos(M)),
    "scaled t": (Ratio(1.0, "1", standard(S, dof=9)), 1.0, S * math.sqrt(9 / 7), 1.0, S),
    "inexact limits": (
        Ratio(0.0, "1", limits(0.6, inexact=0.3)),
        0.0,
        math.sqrt(0.36 / 3 + 0.09 / 9),
        0.0,
        math.sqrt(0.36 / 3 + 0.09 / 9),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_linear_method_against_its_closed_form(name):
    quantity, _, _, value, u = CASES[name]
    assert quantity.value == pytest.approx(value, rel=1e-14, abs=1e-15)
    assert quantity.u == pytest.approx(u, rel=1e-13, abs=1e-15)


@pytest.mark.parametrize("name", CASES)
def test_draws_against_the_exact_moments(name):
    quantity, mean, u, _, _ = CASES[name]
    drawn = quantity.monte_carlo(TRIALS, seed=5)
    assert drawn.mean == pytest.approx(mean, abs=5 * u / math.sqrt(TRIALS))
    centred = drawn.samples() - mean
    kurtosis = float((centred**4).mean()) / u**4
    spread = u * math.sqrt((kurtosis - 1) / (4 * TRIALS))  # standard error of s, delta method
    assert drawn.u == pytest.approx(u, abs=5 * spread)
    assert drawn.mean_error == pytest.approx(u / math.sqrt(TRIALS), rel=0.02)


def test_inverse_square_numbers():
    # computed: 1.0101010, 0.1172240 against the linear 1, 0.1154701
    assert inverse_square_moments() == pytest.approx((1.0101010, 0.1172240), abs=5e-8)


def test_square_of_zero_mean_has_the_intervals_of_chi_squared():
    # shortest 95 % [0, 3.841459 s^2], symmetric [0.000982069 s^2, 5.023886 s^2]
    drawn = (normal(0.0) ** 2).monte_carlo(TRIALS, seed=5)
    low, high = (end / S**2 for end in drawn.interval(0.95, "shortest"))
    assert 0 <= low < 1e-4
    assert high == pytest.approx(stats.chi2(1).ppf(0.95), rel=0.01)
    low, high = (end / S**2 for end in drawn.interval(0.95, "symmetric"))
    assert low == pytest.approx(0.000982069, rel=0.06)
    assert high == pytest.approx(5.023886, rel=0.015)


def test_square_of_zero_mean_is_flagged_though_both_numbers_are_zero():
    check = cross_check(normal(0.0) ** 2, seed=5)
    assert check.verdicts == ("fails",)
    assert "zero" in check.sentence()


@pytest.mark.parametrize("digits", [1, 2])
def test_what_is_exactly_linear_holds(digits):
    check = cross_check(3 * normal() - 2 * normal() + 1, digits=digits, trials=2_000_000, seed=5)
    assert check.verdicts == ("holds",)


def test_a_quantity_minus_itself_is_certain_in_both_engines():
    x = normal()
    drawn = (x - x).monte_carlo(10_000, seed=5)
    assert (drawn.mean, drawn.u) == (0.0, 0.0)
    assert drawn.interval(0.95) == (0.0, 0.0)
    assert cross_check(x - x, seed=5).verdicts == ("holds",)


def test_same_bore_in_numerator_and_denominator_cancels_in_the_draws():
    bore = Length(0.02, "m", limits(0.002))
    drawn = (bore**5 / (bore**2) ** 2 / bore).monte_carlo(20_000, seed=5)
    assert drawn.u == pytest.approx(0.0, abs=1e-15)
    assert drawn.mean == pytest.approx(1.0, rel=1e-15)


def test_fifth_power_of_the_bore_in_the_draws():
    # X^5 with X rectangular 1 +/- a: E[X^n] = ((1+a)^(n+1) - (1-a)^(n+1)) / (2 a (n+1))
    def moment(n, a=0.05):
        return ((1 + a) ** (n + 1) - (1 - a) ** (n + 1)) / (2 * a * (n + 1))

    bore = Length(0.02, "m", limits(0.001))
    velocity = 1e-4 / bore**2
    drawn = (bore / velocity**2 / (bore / velocity**2).value).monte_carlo(TRIALS, seed=5)
    assert drawn.mean == pytest.approx(moment(5), rel=2e-3)
    assert drawn.u == pytest.approx(math.sqrt(moment(10) - moment(5) ** 2), rel=5e-3)


def test_readings_have_their_closed_forms_one_by_one():
    squares = concatenate(normal(0.0), normal(1.0), normal(5.0)) ** 2
    drawn = squares.monte_carlo(TRIALS, seed=5)
    for row, mean in enumerate((0.0, 1.0, 5.0)):
        exact = math.sqrt(4 * mean**2 * S**2 + 2 * S**4)
        assert drawn.u[row] == pytest.approx(exact, rel=0.01)
        assert drawn.mean[row] == pytest.approx(mean**2 + S**2, rel=0.01)
    assert [*cross_check(squares, seed=5).verdicts] == ["fails", "fails", "holds"]
