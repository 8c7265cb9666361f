"""What is kept of the draws, and what is said of rows where nothing exists."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from flowunc import FlowuncWarning, Ratio, limits, standard
from flowunc.propagation import outcome

TRIALS = 1024


@pytest.mark.parametrize(
    ("options", "drawn_together"),
    [({}, 1), ({"control": True}, 3), ({"sampler": "sobol"}, 1)],  # result, linear model, rest
    ids=["random", "control", "sobol"],
)
def test_draws_stay_in_memory_up_to_a_number_of_values(options, drawn_together, monkeypatch):
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    needed = 2 * drawn_together * TRIALS
    monkeypatch.setattr(outcome, "KEPT_VALUES", needed)
    kept = np.exp(x).monte_carlo(TRIALS, seed=1, **options)
    monkeypatch.setattr(outcome, "KEPT_VALUES", needed - 1)
    again = np.exp(x).monte_carlo(TRIALS, seed=1, **options)
    assert kept._draws is not None
    assert again._draws is None
    np.testing.assert_array_equal(kept.samples(), again.samples())
    np.testing.assert_array_equal(kept.u, again.u)


@pytest.mark.parametrize(
    ("dof", "has_mean", "has_u"),
    [(1.0, False, False), (1.005, True, False), (2.0, True, False), (2.01, True, True)],
)
def test_moments_are_given_from_the_degrees_of_freedom_on_where_they_exist(dof, has_mean, has_u):
    # t has a mean above 1 degree of freedom and a variance above 2 [JCGM 101, 6.4.9.4]
    x = Ratio(1.0, "1", standard(0.1, dof=dof))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FlowuncWarning)
        drawn = x.monte_carlo(TRIALS, seed=1)
    assert (math.isfinite(drawn.mean), math.isfinite(drawn.u)) == (has_mean, has_u)


def test_gain_of_a_controlled_mean_is_given_where_there_is_a_mean():
    # a t variable of 2 degrees of freedom or fewer is refused; a pole leaves no mean
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    with pytest.warns(FlowuncWarning, match="changes sign"):
        drawn = (1 / x).monte_carlo(TRIALS, seed=1, control=True)
    assert math.isnan(drawn.variance_reduction[0])
    assert drawn.variance_reduction[1] > 100
    # draws without a value: a square root below zero
    with pytest.warns(FlowuncWarning, match="finite"):
        drawn = np.sqrt(x).monte_carlo(TRIALS, seed=1, control=True)
    assert math.isnan(drawn.variance_reduction[0])
    assert drawn.variance_reduction[1] > 100


def test_gain_at_the_end_of_limits_is_given_while_the_mean_exists():
    # 1/sqrt(X) of a rectangle on 0 to 2: mean sqrt(2), no variance
    flat = Ratio(1.0, "1", limits(1.0))
    with pytest.warns(FlowuncWarning, match="end of stated limits"):
        drawn = (1 / np.sqrt(flat)).monte_carlo(200_000, seed=1, control=True)
    assert drawn.mean == pytest.approx(math.sqrt(2), rel=0.02)
    assert math.isnan(drawn.u)
    assert math.isfinite(drawn.variance_reduction)
