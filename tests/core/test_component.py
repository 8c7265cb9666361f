"""Components: identity by key, degrees of freedom, pools of one sample."""

from __future__ import annotations

import copy
import math
import pickle

import numpy as np
import pytest
from scipy import stats

from flowunc import Length, StatementError, monte_carlo_joint, standard
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit

METRE = parse_unit("m")


def component(label="bore", u=0.1, **options):
    return Component(label, Normal(u), METRE, **options)


def length(value, *components):
    return Length._from_terms(value, [Term(item) for item in components], METRE)


def test_two_components_of_equal_numbers_are_different():
    first, second = component(), component()
    assert first != second
    assert (length(1.0, first) - length(1.0, second)).u == pytest.approx(0.1 * math.sqrt(2))


def test_same_key_is_the_same_component():
    first, second = component(key="k"), component(key="k")
    assert first == second
    assert hash(first) == hash(second)
    assert (length(1.0, first) - length(2.0, second)).u == 0.0


def test_key_survives_copying_and_pickling():
    original = component()
    for other in (
        copy.copy(original),
        copy.deepcopy(original),
        pickle.loads(pickle.dumps(original)),
    ):
        assert other == original
        assert other.label == "bore"
        assert other.distribution == Normal(0.1)
        assert (length(1.0, original) - length(1.0, other)).u == 0.0


def test_component_is_not_equal_to_something_else():
    assert component() != "bore"


@pytest.mark.parametrize("dof", [0, -3.0, math.nan, np.array([5.0, 0.0])])
def test_degrees_of_freedom_must_be_above_zero(dof):
    with pytest.raises(StatementError, match="degrees of freedom"):
        component(dof=dof)


def test_least_degrees_of_freedom_are_those_that_the_message_names():
    for make in (lambda dof: component(dof=dof), lambda dof: standard(0.1, dof=dof)):
        with pytest.raises(StatementError, match=r"0\.01 at least"):
            make(0.0099)
        make(0.01)


def test_gain_is_the_sensitivity_of_each_reading():
    # input = estimate + gain * error (docstring of Term)
    shared = component(u=0.1)
    readings = Length._from_terms([1.0, 2.0], [Term(shared, np.array([1.0, -3.0]))], METRE)
    np.testing.assert_allclose(readings.u, [0.1, 0.3], rtol=1e-15)
    assert readings[0].correlation(readings[1]) == pytest.approx(-1.0, abs=1e-15)


def test_component_that_stands_twice_in_one_input_adds_up_before_it_is_squared():
    # input = estimate + sum of gain * error: one error with gains 1 and 2 has the gain 3. The
    # linear u was the root sum of squares, while covariance, budget and draws had the sum
    one = component(u=0.1)
    for value in (1.0, [1.0, 2.0]):
        twice = Length._from_terms(value, [Term(one, 1.0), Term(one, 2.0)], METRE)
        np.testing.assert_allclose(twice.u, 0.3, rtol=1e-14)
        np.testing.assert_allclose(np.sqrt(np.diag(np.atleast_2d(twice.covariance(twice)))), 0.3)
        np.testing.assert_allclose(twice.monte_carlo(20_000, seed=1).u, 0.3, rtol=0.03)


def test_pool_counts_once_in_the_effective_degrees_of_freedom():
    # any linear combination of estimates from one sample has the dof of that sample
    pool = Pool(dof=7.0)
    a = component("a", 0.3, dof=7.0, pool=pool)
    b = component("b", 0.4, dof=7.0, pool=pool)
    combination = 2 * length(1.0, a) - 5 * length(1.0, b)
    assert combination.dof == pytest.approx(7.0, rel=1e-12)
    # without the pool: Welch-Satterthwaite [JCGM 100, G.4.1]
    free = 2 * length(1.0, component("a", 0.3, dof=7.0)) - 5 * length(
        1.0, component("b", 0.4, dof=7.0)
    )
    expected = (0.6**2 + 2.0**2) ** 2 / (0.6**4 / 7 + 2.0**4 / 7)
    assert free.dof == pytest.approx(expected, rel=1e-12)


def test_pooled_components_are_drawn_from_the_multivariate_t():
    # [JCGM 102, 5.3.2]: any combination is a scaled t with the dof of the sample; the two are
    # uncorrelated but not independent, their squares correlate
    pool = Pool(dof=6.0)
    a = length(0.0, component("a", 0.3, dof=6.0, pool=pool))
    b = length(0.0, component("b", 0.4, dof=6.0, pool=pool))
    joint = monte_carlo_joint([a, b, a + b], 100_000, seed=4)
    for drawn, scale in zip(joint, (0.3, 0.4, 0.5), strict=True):
        test = stats.kstest(drawn.samples() / scale, stats.t(6).cdf)
        assert test.pvalue > 1e-3
    assert abs(joint.correlation(0, 1)) < 0.03
    squares = np.corrcoef(np.abs(joint[0].samples()), np.abs(joint[1].samples()))[0, 1]
    # |t| of a common chi: E|ab| = (2/pi) E[n/chi2], E|a|^2 = (2/pi) (E sqrt(n/chi2))^2
    n = 6.0
    mean_inverse = n / (n - 2)
    root = math.sqrt(n / 2) * math.gamma((n - 1) / 2) / math.gamma(n / 2)
    expected = (2 / math.pi) * (mean_inverse - root**2) / (mean_inverse - 2 / math.pi * root**2)
    assert squares == pytest.approx(expected, abs=0.02)


def test_dof_of_each_reading_is_its_own():
    readings = Length([1.0, 2.0], "m", standard([0.1, 0.2]))  # certain: infinite degrees of freedom
    assert np.all(np.isinf(readings.dof))
