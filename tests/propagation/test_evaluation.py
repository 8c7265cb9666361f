"""Draws across a pole (Ruling 12), draws without a value, and warnings at the user's line."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    FlowuncWarning,
    Length,
    Pressure,
    Quantity,
    Ratio,
    Time,
    Velocity,
    apply,
    concatenate,
    cross_check,
    limits,
    monte_carlo,
    monte_carlo_joint,
    standard,
)
from flowunc.core.component import Component, Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit


def drawn_with_warnings(quantity, trials=20_000):
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        result = monte_carlo(quantity, trials, seed=1)
    return result, caught


near = Velocity([0.1, 5.0], "m/s", standard(0.1))  # the first reaches zero, the second does not
zero, far = near[0], near[1]


@pytest.mark.parametrize(
    "quantity",
    [
        lambda v: 1 / v,
        lambda v: v / v**2,
        lambda v: v**-1,
        lambda v: v**-2,
        lambda v: 1 / (v * 3.0),
        lambda v: 1 / v**2,
        lambda v: 1 / (2.0 * v * v),
        lambda v: 1 / -v,
        lambda v: 1 / abs(v),
        lambda v: 1 / (v / Velocity(2.0, "m/s")),
        lambda v: np.reciprocal(v),
        lambda v: 1 / v**3,
        lambda v: 1 / np.square(np.square(v)),
        lambda v: Pressure(3.0, "Pa", standard(0.1)) / (Quantity(998, "kg/m^3") * v**2),
        lambda v: (v / Velocity(1, "m/s")) ** Ratio(-2.0, "1"),
        lambda v: 1 / (v - Velocity(0.0, "m/s")),
        lambda v: 1 / np.sin(v / Velocity(1, "m/s")),
    ],
)
def test_denominator_that_changes_sign_is_noticed(quantity):
    result, caught = drawn_with_warnings(quantity(near))
    assert result.has_pole.tolist() == [True, False]
    assert math.isnan(result.mean[0])
    assert math.isnan(result.u[0])
    assert math.isnan(result.mean_error[0])
    low, high = result.interval(0.95)
    assert np.isfinite([low, high]).all()
    assert np.isfinite([result.mean[1], result.u[1]]).all()
    assert [item.category for item in caught] == [FlowuncWarning]
    assert "reading 0:" in str(caught[0].message)


@pytest.mark.parametrize(
    "quantity",
    [
        lambda v: 1 / (v**2)[0],
        lambda v: 1 / (v**2)[:1],
        lambda v: 1 / (v**2)[[0]],
        lambda v: 1 / concatenate(v[1] ** 2, v[0] ** 2),
        lambda v: 1 / abs(v)[::-1],
    ],
    ids=["reading", "slice", "list", "join", "reversed"],
)
def test_even_power_hides_no_pole_behind_a_choice_of_readings(quantity):
    # 1/v[0]**2 is noticed, 1/(v**2)[0] is the same model: v**2 never changes sign, v does
    result, _ = drawn_with_warnings(quantity(near))
    assert np.any(result.has_pole)


@pytest.mark.parametrize(
    "quantity",
    [
        lambda v: v * 2,
        lambda v: v**2,
        lambda v: v / Time(2.0, "s", standard(0.1)),
        lambda v: 1 / np.exp(v / Velocity(1, "m/s")),
        lambda v: 1 / (v**2 + Velocity(1, "m/s") ** 2),
        lambda v: 1 / (v + Velocity(5, "m/s")),
        lambda v: (v * far) / far,
    ],
)
def test_denominator_that_keeps_its_sign_is_left_alone(quantity):
    result, caught = drawn_with_warnings(quantity(near))
    assert not np.any(result.has_pole)
    assert np.isfinite(result.mean).all()
    assert caught == []


def test_pole_of_one_reading_marks_no_other_reading():
    x = Ratio([0.1, 3.0, 4.0], "1", standard(0.1))
    inverse = 1 / x
    for quantity, marks in (
        (inverse[::-1], [False, False, True]),
        (inverse[1:], [False, False]),
        (concatenate(inverse[1], x, inverse[0]), [False, False, False, False, True]),
        (inverse.mean(), True),
        (inverse * inverse[2], [True, False, False]),
        (inverse * inverse.sum(), [True, True, True]),
    ):
        result, _ = drawn_with_warnings(quantity)
        assert np.asarray(result.has_pole).tolist() == marks


def test_positive_exponent_of_a_mixed_array_is_no_pole():
    # x**2 of the first reading has no pole, whatever the exponent of the second
    x = Ratio([0.1, 0.1], "1", standard(0.1))
    result, _ = drawn_with_warnings(x ** np.array([2.0, -1.0]))
    assert result.has_pole.tolist() == [False, True]


@pytest.mark.parametrize(
    "denominator",
    [
        lambda: np.maximum(Ratio(0.01, "1", standard(0.1)), 0.0),
        lambda: np.minimum(Ratio(-0.01, "1", standard(0.1)), 0.0),
    ],
    ids=["above", "below"],
)
def test_denominator_that_stops_at_zero_is_noticed(denominator):
    # about half of the draws are zero, and none is beyond
    result, _ = drawn_with_warnings(1 / denominator(), 2_000)
    assert result.has_pole


@pytest.mark.parametrize("scope", ["each", "shared"])
@pytest.mark.parametrize("gain", [1.0, -3.0, np.array([2.0, 0.5])], ids=["one", "number", "array"])
def test_draws_of_an_error_with_a_gain(scope, gain):
    # input = estimate + gain error: u is the size of the gain times that of the error
    unit = parse_unit("1")
    component = Component("scale", Normal(0.1), unit, scope=scope)
    other = Component("zero", Normal(0.2), unit, scope=scope)
    x = Ratio._from_terms(
        np.array([1.0, 2.0]), [Term(other, 1.0), Term(component, gain)], unit, "x"
    )
    drawn = x.monte_carlo(50_000, seed=1)
    np.testing.assert_allclose(drawn.u, np.hypot(0.1 * gain, 0.2) * np.ones(2), rtol=0.015)
    alone = Ratio._from_terms(np.array([1.0, 2.0]), [Term(component, gain)], unit, "x")
    together = np.corrcoef(alone.monte_carlo(50_000, seed=1).samples().T)[0, 1]
    assert together == pytest.approx(1.0 if scope == "shared" else 0.0, abs=0.02)


def test_interval_across_a_pole_has_its_quantiles():
    # 1/X, X normal(0.1, 0.1): P(1/X <= y) for y > 0 is P(X < 0) + P(X >= 1/y)
    result, _ = drawn_with_warnings(1 / Ratio(0.1, "1", standard(0.1)), 200_000)
    low, high = result.interval(0.80, "symmetric")
    law = stats.norm(0.1, 0.1)
    assert law.cdf(0) + law.sf(1 / high) == pytest.approx(0.9, abs=0.005)
    assert law.cdf(0) - law.cdf(1 / low) == pytest.approx(0.1, abs=0.005)


def test_covariance_across_a_pole_does_not_exist_either():
    # mean and u do not exist; the covariance came out as a number that changes with every seed
    x = Ratio(0.1, "1", standard(0.1))
    with pytest.warns(FlowuncWarning):
        joint = monte_carlo_joint([1 / x, x], 10_000, seed=1)
    assert math.isnan(joint.covariance())
    assert math.isnan(joint.correlation())
    assert joint[1].u == pytest.approx(0.1, rel=0.03)


@pytest.mark.parametrize("workers", [1, 2])
def test_pole_seen_in_one_block_only_is_seen(workers):
    # P(X < 0) = 3.2e-5: some three of 100 000 draws, so most blocks see none
    x = Ratio(4.0, "1", standard(1.0))
    negative = int((x.monte_carlo(100_000, seed=2).samples() < 0).sum())
    assert 0 < negative < 7
    with pytest.warns(FlowuncWarning, match="changes sign"):
        result = monte_carlo(1 / x, 100_000, seed=2, workers=workers)
    assert result.has_pole


# -- draws without a finite value --------------------------------------------------------------
def test_draws_without_a_value_are_counted():
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    samples = x.monte_carlo(20_000, seed=1).samples()
    result, caught = drawn_with_warnings(np.sqrt(x))
    assert result.not_finite.tolist() == [int((samples[:, 0] < 0).sum()), 0]
    assert math.isnan(result.mean[0])
    assert math.isnan(result.u[0])
    assert all(math.isnan(end[0]) for end in result.interval())
    assert math.isnan(result.interval_error()[0][0])
    assert result.mean[1] == pytest.approx(math.sqrt(5), rel=1e-3)
    assert len(caught) == 1
    assert str(result.not_finite[0]) in str(caught[0].message)


def test_function_of_the_user_may_give_nan_for_some_draws():
    root = apply(
        lambda x: np.where(x > 0, np.sqrt(np.abs(x)), np.nan), Ratio(0.2, "1", limits(0.4))
    )
    result, _ = drawn_with_warnings(root)
    assert result.not_finite == pytest.approx(20_000 / 4, rel=0.05)


# -- warnings ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "ask",
    [
        lambda q: q.monte_carlo(2_000),
        lambda q: monte_carlo(q, 2_000),
        lambda q: monte_carlo_joint([q], 2_000),
        lambda q: cross_check(q, trials=2_000),
    ],
    ids=["method", "function", "joint", "cross_check"],
)
def test_warning_points_at_the_line_of_the_user(ask):
    quantity = (1 / Length(0.1, "m", standard(0.1))).labelled("inverse")
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        ask(quantity)
    assert [item.category for item in caught] == [FlowuncWarning]
    assert caught[0].filename == __file__
    assert "inverse" in str(caught[0].message)


def test_too_few_repeats_mark_only_readings_that_have_any_width():
    # t of one degree of freedom has no mean [JCGM 101, 6.4.9.4]; a certain reading has
    x = Ratio([1.0, 2.0], "1", standard([0.0, 0.1], dof=1))
    result, caught = drawn_with_warnings(x, 2_000)
    assert result.mean[0] == 1.0
    assert result.u[0] == 0.0
    assert math.isnan(result.mean[1])
    assert len(caught) == 1


@pytest.mark.parametrize(
    ("count", "named"),
    [
        (2, "reading 0, 1:"),
        (5, "reading 0, 1, 2, 3, 4:"),
        (6, "reading 0, 1, 2, 3, 4 and 1 more:"),
        (8, "reading 0, 1, 2, 3, 4 and 3 more:"),
    ],
)
def test_warning_of_many_readings_names_the_first_and_counts_the_others(count, named):
    _, caught = drawn_with_warnings(1 / Ratio(np.full(count, 0.1), "1", standard(0.1)), 2_000)
    assert named in str(caught[0].message)


def test_nothing_is_warned_of_without_a_reason():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = (1 / Length(10.0, "m", standard(0.1))).monte_carlo(2_000)
    assert not result.has_pole
    assert result.not_finite == 0
