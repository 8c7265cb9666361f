"""Drawing until stable, JCGM 101, 7.9.4."""

from __future__ import annotations

import functools
import math
import warnings

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    FlowuncWarning,
    RangeError,
    Ratio,
    StatementError,
    concatenate,
    limits,
    standard,
)
from flowunc.propagation import adaptive
from flowunc.propagation.draws import BLOCK


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


@pytest.mark.parametrize("options", [{}, {"control": True}, {"sampler": "sobol"}])
def test_level_and_ceiling_are_checked_without_digits_as_well(options):
    # both were accepted, whatever they were
    x = Ratio(5.0, "1", standard(1.0))
    for ceiling in (0, 1, 2.5, "1", None):
        with pytest.raises(RangeError, match=f"^max_trials={ceiling!r}"):
            x.monte_carlo(1000, max_trials=ceiling, **options)
    for level in (0.0, 1.0, 95, math.nan):
        with pytest.raises(StatementError, match=f"level={level}"):
            x.monte_carlo(1000, level=level, **options)


@pytest.mark.parametrize("digits", [0, 7, 1.5, "2", True])
def test_digits_are_checked(digits):
    with pytest.raises(RangeError, match=f"digits={digits!r}"):
        Ratio(5.0, "1", standard(1.0)).monte_carlo(digits=digits)


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


# -- the promise of 7.9: nineteen of twenty runs lie within the tolerance ----------------------
ROOT3 = math.sqrt(3)
END = 2 * ROOT3 * (2 - (24 * 0.025) ** 0.25)  # four rectangles: P(S > 4 - t) = t^4/24, t <= 1
LOGNORMAL = stats.lognorm(0.5)
MODELS = {
    "normal": (lambda: Ratio(5.0, "1", standard(1.0)), stats.norm(5, 1), 1.0),
    "rectangle": (lambda: Ratio(5.0, "1", limits(2.0)), stats.uniform(3, 4), 2 / ROOT3),
    "lognormal": (lambda: np.exp(Ratio(0.0, "1", standard(0.5))), LOGNORMAL, LOGNORMAL.std()),
    "t": (
        lambda: Ratio(5.0, "1", standard(1.0, dof=20)),
        stats.t(20, 5.0),
        math.sqrt(20 / 18),
    ),
}


def misses(quantity, exact, delta, digits, seeds):
    """Count the runs whose mean, u, low or high lie off by more than delta."""
    count = np.zeros(4, dtype=int)
    for seed in range(seeds):
        drawn = quantity.monte_carlo(digits=digits, seed=seed)
        found = np.array([drawn.mean, drawn.u, *drawn.interval(0.95, "symmetric")])
        count += np.abs(found - exact) > delta
    return count


@pytest.mark.parametrize(
    ("name", "digits"),
    [(name, digits) for digits in (1, 2) for name in MODELS if (name, digits) != ("lognormal", 2)]
    + [pytest.param("lognormal", 2, marks=pytest.mark.slow)],
)
def test_closed_forms_are_met_in_nineteen_of_twenty_runs(name, digits):
    make, law, u = MODELS[name]
    exact = np.array([law.mean(), u, *law.ppf([0.025, 0.975])])
    # [JCGM 101, 7.9.2]: u from 0.1 to 0.9 has its second digit at 0.01, from 1 to 9.9 at 0.1
    delta = 0.5 * 10.0 ** (math.floor(math.log10(u)) - digits + 1)
    assert np.all(misses(make(), exact, delta, digits, 60) <= 3)


def test_sum_of_four_rectangles_is_met_in_nineteen_of_twenty_runs():
    # [JCGM 101, 9.2.3]: u = 2, ends -3.88 and 3.88 (T); to two digits delta is 0.05
    model = functools.reduce(
        lambda total, _: total + Ratio(0.0, "1", limits(ROOT3)),
        range(3),
        Ratio(0.0, "1", limits(ROOT3)),
    )
    assert abs(END - 3.88) < 0.005
    assert np.all(misses(model, np.array([0.0, 2.0, -END, END]), 0.05, 2, 60) <= 3)


def normal_misses(u, seeds):
    law = stats.norm(5.0, u)
    exact = np.array([5.0, u, *law.ppf([0.025, 0.975])])
    return misses(Ratio(5.0, "1", standard(u)), exact, 0.05, 2, seeds)


def by_luck(seeds):
    """Return the misses that a true share of 5 % exceeds once in a hundred times."""
    return stats.binom(seeds, 0.05).ppf(0.99)


@pytest.mark.slow
def test_stopping_by_chance_does_not_break_the_promise():
    # Two sequences that happen to agree end the draws, as two of their standard deviations are
    # taken for 95 % however few they are; t with h - 1 degrees of freedom is 12.7 for two
    assert np.all(normal_misses(3.0, 1000) <= by_luck(1000))


@pytest.mark.slow
def test_uncertainty_just_below_a_power_of_ten_keeps_its_own_tolerance():
    # u = 9.9 has delta = 0.05 to two digits. The first sequences find u = 9.95 or more in one
    # run of six, which is 10 to two digits, with ten times the tolerance: the draws ended there
    assert np.all(normal_misses(9.9, 100) <= by_luck(100))


# -- length of a sequence, ceiling -------------------------------------------------------------
@pytest.mark.parametrize(
    ("level", "fewest"), [(0.5, 10_000), (0.95, 10_000), (0.99, 10_000), (0.999, 100_000)]
)
def test_length_of_a_sequence(level, fewest):
    # 7.9.4 b): the larger of 100/(1 - p) and 10^4, here in whole blocks; a quantity without
    # uncertainty needs two sequences
    blocks = math.ceil(fewest / BLOCK)
    assert Ratio(5.0, "1").monte_carlo(digits=2, level=level).trials == 2 * blocks * BLOCK


def test_level_decides_which_interval_is_stable():
    # ends farther out scatter more, so that they take more draws
    x = Ratio(5.0, "1", standard(2.0))
    near, far = (x.monte_carlo(digits=2, level=level, seed=1) for level in (0.5, 0.99))
    assert far.trials > near.trials
    for drawn, level in ((near, 0.5), (far, 0.99)):
        end = stats.norm(5.0, 2.0).ppf((1 + level) / 2)
        assert abs(drawn.interval(level, "symmetric")[1] - end) < 0.05


def test_ceiling_speaks_of_the_reading_that_was_not_stable():
    # a reading across a pole is left out of the test of stability, yet it was the one named:
    # its ends scatter by 1900 where "0.5 was asked for"
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        (1 / x).monte_carlo(digits=4, max_trials=100_000, seed=1)
    (message,) = (str(w.message) for w in caught if "max_trials" in str(w.message))
    assert "row 1" in message or "reading 1" in message
    assert "5e-07" in message  # delta of u = 0.1/25 = 0.0040 at four digits


def test_draws_up_to_the_ceiling_are_all_used():
    x = Ratio(5.0, "1", standard(1.0))
    with pytest.warns(FlowuncWarning, match="max_trials"):
        drawn = x.monte_carlo(digits=5, max_trials=5 * BLOCK + 1, seed=1)
    assert drawn.trials == 5 * BLOCK
    fixed = x.monte_carlo(5 * BLOCK, seed=1)
    assert drawn.u == pytest.approx(fixed.u, rel=1e-13)
    assert drawn.interval() == fixed.interval()


def test_draws_too_many_to_keep_give_the_same_interval(monkeypatch):
    x = Ratio([5.0, 6.0], "1", standard(2.0))
    kept = x.monte_carlo(digits=2, seed=1, max_trials=500_000)
    monkeypatch.setattr(adaptive, "KEPT_VALUES", 0)
    again = x.monte_carlo(digits=2, seed=1, max_trials=500_000)
    assert again.trials == kept.trials
    np.testing.assert_array_equal(kept.interval(), again.interval())
    np.testing.assert_array_equal(kept.samples(), again.samples())
