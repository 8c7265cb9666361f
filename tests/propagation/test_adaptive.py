"""Drawing until stable, JCGM 101, 7.9.4."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from scipy import stats

from flowunc import FlowuncWarning, RangeError, Ratio, concatenate, limits, standard


def test_result_is_stable_to_the_asked_digits():
    # delta of u = 1 is 0.05 at two digits; all four results of a normal are known exactly
    drawn = Ratio(5.0, "1", standard(1.0)).monte_carlo(digits=2, seed=1)
    low, high = drawn.interval(0.95, "symmetric")
    for found, true in (
        (drawn.mean, 5.0),
        (drawn.u, 1.0),
        (low, 5 - 1.959964),
        (high, 5 + 1.959964),
    ):
        assert abs(found - true) < 0.05


def test_stated_tolerance_is_kept_in_nineteen_of_twenty_runs():
    # two standard errors: about 95 % of runs lie within delta = 0.5 (two digits of u = 10.05)
    model = Ratio(0.0, "1", limits(math.sqrt(300)), limits(math.sqrt(3)))
    # convolution of two rectangles: a trapezoid with half-width a + b and top (a - b)/(a + b)
    a, b = math.sqrt(300), math.sqrt(3)
    top = (a - b) / (a + b)
    law = stats.trapezoid((1 - top) / 2, (1 + top) / 2, -(a + b), 2 * (a + b))
    low = law.ppf(0.025)
    misses = 0
    for seed in range(20):
        drawn = model.monte_carlo(digits=2, seed=seed)
        misses += abs(drawn.interval(0.95, "symmetric")[0] - low) > 0.5
    assert misses <= 3


def test_more_digits_take_more_draws():
    x = Ratio(5.0, "1", standard(1.0))
    few, many = x.monte_carlo(digits=1, seed=1), x.monte_carlo(digits=3, seed=1)
    assert few.trials < many.trials
    assert many.trials >= 100_000
    # the draws are those of a fixed number of the same seed
    fixed = x.monte_carlo(few.trials, seed=1)
    np.testing.assert_array_equal(few.samples(), fixed.samples())
    assert few.u == pytest.approx(fixed.u, rel=1e-13)
    assert few.mean == pytest.approx(fixed.mean, rel=1e-13)


def test_a_sequence_holds_at_least_ten_thousand_trials_and_a_hundred_outside():
    # 7.9.4 b): M >= 100/(1 - p), and at least 10^4
    x = Ratio(5.0, "1", standard(1.0))
    assert x.monte_carlo(digits=1, seed=1).trials >= 2 * 10_000
    assert x.monte_carlo(digits=1, level=0.999, seed=1).trials >= 2 * 100_000


def test_every_reading_has_to_be_stable():
    # the same relative scatter but u = 1.01 asks ten times less than u = 9.99 at one digit
    joined = concatenate(Ratio(0.0, "1", standard(1.01)), Ratio(0.0, "1", standard(9.4)))
    both = joined.monte_carlo(digits=2, seed=1)
    alone = joined[0].monte_carlo(digits=2, seed=1)
    assert both.trials >= alone.trials


def test_ceiling_is_warned_of_with_the_tolerance_reached():
    x = Ratio(5.0, "1", standard(1.0))
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        drawn = x.monte_carlo(digits=4, max_trials=100_000, seed=1)
    assert [item.category for item in caught] == [FlowuncWarning]
    assert caught[0].filename == __file__
    message = str(caught[0].message)
    assert "0.0005" in message  # delta of u = 1 at four digits
    assert "max_trials" in message
    assert drawn.trials <= 100_000
    assert drawn.u == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("ceiling", [100, 1_000, 20_000])
def test_ceiling_below_two_sequences_is_refused_with_itself(ceiling):
    with pytest.raises(RangeError, match=str(ceiling)):
        Ratio(5.0, "1", standard(1.0)).monte_carlo(digits=1, max_trials=ceiling)


@pytest.mark.parametrize("ceiling", [0, -1, 1.5, "1", None, True])
def test_ceiling_that_is_no_whole_number_is_refused_with_itself(ceiling):
    with pytest.raises(RangeError, match=str(ceiling)):
        Ratio(5.0, "1", standard(1.0)).monte_carlo(digits=1, max_trials=ceiling)


@pytest.mark.parametrize("level", [0.0, 1.0, 95, math.nan])
def test_level_is_checked(level):
    with pytest.raises(ValueError, match=str(level)):
        Ratio(5.0, "1", standard(1.0)).monte_carlo(digits=1, level=level)


def test_reading_across_a_pole_does_not_keep_the_others_waiting():
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    with pytest.warns(FlowuncWarning, match="changes sign"):
        drawn = (1 / x).monte_carlo(digits=1, max_trials=400_000, seed=1)
    assert drawn.trials < 200_000
    assert math.isnan(drawn.u[0])
    assert drawn.u[1] == pytest.approx(0.1 / 25, rel=0.02)


def test_certain_quantity_is_stable_at_once():
    drawn = Ratio(5.0, "1").monte_carlo(digits=2)
    assert drawn.mean == 5.0
    assert drawn.trials < 100_000


def test_workers_change_no_bit():
    x = Ratio([1.0, 2.0], "1", standard(0.1, dof=6)) ** 2
    one, two = (x.monte_carlo(digits=2, seed=3, workers=w) for w in (1, 2))
    assert one.trials == two.trials
    np.testing.assert_array_equal(one.samples(), two.samples())
    np.testing.assert_array_equal(one.u, two.u)
