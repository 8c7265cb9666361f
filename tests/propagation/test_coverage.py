"""Effective degrees of freedom and coverage factors, JCGM 100 annex G."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from flowunc import Length, Ratio, concatenate, limits, repeated, shared, standard
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit

# JCGM 100:2008, table G.2 [M], agreeing with the t distribution to every printed digit.
TABLE_G2 = [
    (1, 0.95, 12.71),
    (2, 0.95, 4.30),
    (5, 0.95, 2.57),
    (10, 0.95, 2.23),
    (16, 0.99, 2.92),
    (50, 0.95, 2.01),
    (5, 0.6827, 1.11),
    (3, 0.9973, 9.22),
]


@pytest.mark.parametrize(("dof", "level", "factor"), TABLE_G2)
def test_coverage_factor_is_that_of_table_g2(dof, level, factor):
    _, k = Length(1.0, "m", standard(0.1, dof=dof)).expanded(level)
    assert k == pytest.approx(factor, abs=0.005)
    assert k == pytest.approx(stats.t(dof).ppf((1 + level) / 2), rel=1e-9)


def test_level_is_95_percent_unless_given():
    # [JCGM 100, G.3.3 and table G.2]: 1.96 for many degrees of freedom, 2.23 for ten
    certain, few = Length(1.0, "m", standard(0.1)), Length(1.0, "m", standard(0.1, dof=10))
    assert certain.expanded()[1] == pytest.approx(1.959964, rel=1e-6)
    assert few.expanded()[1] == pytest.approx(2.228, abs=5e-4)
    low, high = few.interval()
    assert high - low == pytest.approx(0.2 * stats.t(10).ppf(0.975), rel=1e-9)


def test_welch_satterthwaite_of_the_guide():
    # JCGM 100, G.4.1 example: Y = b X1 X2 X3, relative u 0.25 %, 0.57 %, 0.82 % with n = 10, 5,
    # 15 readings: nu_eff = 19.0, u(y)/y = 1.03 % [M] [C]
    inputs = [
        Ratio(1.0, "1", standard(u / 100, dof=n - 1))
        for u, n in ((0.25, 10), (0.57, 5), (0.82, 15))
    ]
    product = inputs[0] * inputs[1] * inputs[2]
    assert product.u == pytest.approx(0.0103, abs=5e-5)
    assert product.dof == pytest.approx(19.0, abs=0.05)
    # t95(19) = 2.09, U = 2.2 % (printed)
    wide, k = product.expanded(0.95)
    assert k == pytest.approx(2.09, abs=0.005)
    assert wide == pytest.approx(0.022, abs=5e-4)


def test_certain_contributions_have_infinite_degrees_of_freedom():
    assert Length(1.0, "m", limits(0.1)).dof == math.inf
    assert Length(1.0, "m").dof == math.inf
    assert Length(1.0, "m").expanded(0.95).U == 0.0
    mixed = Length(1.0, "m", standard(0.1, dof=4), limits(0.1))
    share = 0.01 / (0.01 + 0.01 / 3)
    assert mixed.dof == pytest.approx(4 / share**2, rel=1e-12)


def test_limits_of_doubtful_size_count():
    # JCGM 100, G.4.2: relative uncertainty of u of 25 % is dof 8, 10 % is dof 50
    assert Length(1.0, "m", limits(0.1, dof=8)).dof == pytest.approx(8.0, rel=1e-12)


def test_component_in_two_places_counts_once():
    x = Ratio(1.0, "1", standard(0.1, dof=5))
    assert (x * x * x).dof == pytest.approx(5.0, rel=1e-12)
    assert (x - 0.5 * x).dof == pytest.approx(5.0, rel=1e-12)


def test_cancelled_component_does_not_count():
    a = Ratio(1.0, "1", standard(0.1, dof=2))
    b = Ratio(1.0, "1", standard(0.1, dof=30))
    assert (a + b - a).dof == pytest.approx(30.0, rel=1e-12)


def test_components_of_one_sample_count_once_with_the_fewest():
    # one term of Welch-Satterthwaite for what was estimated together [JCGM 100, G.4.1]
    metre, pool = parse_unit("m"), Pool(dof=7.0, label="fit")
    three = [
        Length._from_terms(
            1.0, [Term(Component(name, Normal(u), metre, dof=dof, pool=pool))], metre
        )
        for name, u, dof in (("a", 0.3, 7.0), ("b", 0.4, 5.0), ("c", 1.2, 6.0))
    ]
    assert sum(three).dof == pytest.approx(5.0, rel=1e-12)
    alone = Length(1.0, "m", standard(1.3, dof=20))
    # 0.3, 0.4 and 1.2 make 1.3, half of the variance
    assert (sum(three) + alone).dof == pytest.approx(1 / (0.25 / 5 + 0.25 / 20), rel=1e-12)


def test_each_reading_has_its_own():
    readings = Length([1.0, 2.0, 3.0], "m", repeated([[1, 2], [1, 2, 3, 4], [2, 3, 4]]))
    np.testing.assert_allclose(readings.dof, [1, 3, 2], rtol=1e-12)
    np.testing.assert_allclose(readings[::-1].dof, [2, 3, 1], rtol=1e-12)
    assert readings[1].dof == pytest.approx(3.0)
    _, k = readings.expanded(0.95)
    np.testing.assert_allclose(k, stats.t([1, 3, 2]).ppf(0.975), rtol=1e-9)
    joined = concatenate(readings[2], readings[:2])
    np.testing.assert_allclose(joined.dof, [2, 1, 3], rtol=1e-12)


def test_shared_error_keeps_its_own_in_a_mean():
    readings = Length([1.0, 2.0, 3.0], "m", shared(standard(0.1, dof=7)))
    assert readings.mean().dof == pytest.approx(7.0, rel=1e-12)
    assert (2 * readings).dof == pytest.approx([7.0] * 3, rel=1e-12)


@given(
    st.lists(
        st.tuples(st.floats(0.01, 10.0), st.floats(1.0, 60.0), st.floats(0.1, 5.0)),
        min_size=1,
        max_size=6,
    )
)
def test_effective_degrees_of_freedom_lie_between_the_smallest_and_the_sum(terms):
    # JCGM 100, G.4.1: nu_eff <= sum of nu_i; never below the smallest
    total = sum(c * Ratio(1.0, "1", standard(u, dof=dof)) for u, dof, c in terms)
    smallest, whole = min(t[1] for t in terms), sum(t[1] for t in terms)
    assert smallest * (1 - 1e-12) <= total.dof <= whole * (1 + 1e-12)
    variances = np.array([(u * c) ** 2 for u, _, c in terms])
    expected = variances.sum() ** 2 / (variances**2 / np.array([t[1] for t in terms])).sum()
    assert total.dof == pytest.approx(expected, rel=1e-11)


def test_extreme_sizes_do_not_overflow():
    for scale in (1e-120, 1e120):
        mixed = Length(scale, "m", standard(scale, dof=4), standard(scale, dof=12))
        assert mixed.dof == pytest.approx(4 / (1 / 4 + 1 / 12), rel=1e-12)


# -- sizes whose squares leave float64 ---------------------------------------------------------
SCALES = [1e-300, 1e-170, 1e160, 1e300]


@pytest.mark.parametrize("scale", SCALES)
def test_effective_degrees_of_freedom_at_any_size(scale):
    # [JCGM 100, G.4.1]: equal parts of 5 and 7. They were infinite below, NumPy's warning above
    parts = [Length(scale, "m", standard(0.01 * scale, dof=dof)) for dof in (5, 7)]
    assert (parts[0] + parts[1]).dof == pytest.approx(35 / 3, rel=1e-12)
    assert (parts[0] + parts[1]).expanded(0.95).k == pytest.approx(stats.t(35 / 3).ppf(0.975))


def test_rows_of_different_size_each_have_their_own():
    # [JCGM 100, G.4.1]: parts of 1 and 2 with 5 and 7 degrees of freedom
    sizes = np.array([1e-200, 1.0, 1e200, 0.0])
    x, y = (Length(sizes, "m", standard(u * sizes, dof=dof)) for u, dof in ((1, 5), (2, 7)))
    expected = 25 / (1 / 5 + 16 / 7)
    np.testing.assert_allclose((x + y).dof, [expected] * 3 + [np.inf], rtol=1e-12)


@pytest.mark.parametrize("scale", SCALES)
def test_a_mean_at_any_size(scale):
    # [JCGM 100, G.4.1] among readings of one component: u of 1, 2, 2, each of 4 degrees of freedom
    x = Length(np.ones(3) * scale, "m", standard(np.array([1.0, 2.0, 2.0]) * scale, dof=4))
    assert x.mean().dof == pytest.approx(81 / ((1 + 16 + 16) / 4), rel=1e-12)
    assert x.mean().budget()["dof"].tolist() == pytest.approx([81 / (33 / 4)], rel=1e-12)
    assert x.mean().budget()["contribution"][0] == pytest.approx(scale, rel=1e-12)
