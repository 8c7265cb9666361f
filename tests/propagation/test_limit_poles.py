"""Denominators that end at zero: ends against scipy.stats, existence of moments by integration."""

from __future__ import annotations

import math
import tracemalloc
import warnings

import numpy as np
import pytest
from scipy import integrate, stats

from flowunc import (
    FlowuncWarning,
    Ratio,
    arcsine,
    concatenate,
    exponential,
    limits,
    monte_carlo_joint,
    shared,
    standard,
    trapezoidal,
    triangular,
)
from flowunc.core.distributions import (
    Arcsine,
    Exponential,
    InexactRectangular,
    Normal,
    Rectangular,
    ScaledT,
    Trapezoidal,
    Triangular,
)
from flowunc.core.record import topological_order
from flowunc.propagation.limit_poles import ends_of, strengths_at_limits

TRIALS = 5_000


def drawn(quantity, match=None, **options):
    if match is None:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return quantity.monte_carlo(TRIALS, **options)
    with pytest.warns(FlowuncWarning, match=match):
        return quantity.monte_carlo(TRIALS, **options)


# -- ends of the distributions -----------------------------------------------------------------
# rectangles whose half-width is itself rectangular between 0.4 and 0.6 [JCGM 101, 6.4.3]
def tail_of_inexact(x):
    return integrate.quad(lambda a: max(a - x, 0.0) / (2 * a) / 0.2, 0.4, 0.6, points=[x])[0]


LAWS = [
    (Rectangular(0.5), stats.uniform(-0.5, 1.0).sf),
    (Triangular(0.5), stats.triang(0.5, -0.5, 1.0).sf),
    (Trapezoidal(0.5, 0.4), stats.trapezoid(0.3, 0.7, -0.5, 1.0).sf),
    (Arcsine(0.5), stats.arcsine(-0.5, 1.0).sf),
    (Exponential(-0.5), lambda x: stats.expon(-0.5, 0.5).cdf(-x)),
    (InexactRectangular(0.5, 0.1), tail_of_inexact),
]


@pytest.mark.parametrize(("law", "tail"), LAWS, ids=[law.name for law, _ in LAWS])
def test_upper_end_and_its_order(law, tail):
    end = ends_of(law)[1]
    place = end.distance * law.standard_uncertainty
    near = [tail(place - step) for step in (1e-5, 1e-6)]
    assert tail(place + 1e-6) == pytest.approx(0.0, abs=1e-12)
    assert math.log10(near[0] / near[1]) == pytest.approx(end.order, abs=2e-3)


def test_lower_ends_and_laws_without_end():
    for law, _ in LAWS[:4]:
        assert ends_of(law)[0] == ends_of(law)[1]
    assert ends_of(Exponential(0.5))[0] == ends_of(Exponential(-0.5))[1]
    for law in (Normal(1.0), ScaledT(1.0, 3.0)):
        assert all(np.isinf(end.distance) for end in ends_of(law))
    assert np.isinf(ends_of(Exponential(0.5))[1].distance)


def test_end_of_limits_that_are_exact_for_some_readings_only():
    # exact limits end as a rectangle does, at sqrt(3) u; limits of no width at the estimate
    end = ends_of(InexactRectangular(np.array([0.0, 0.5, 0.5]), np.array([0.0, 0.0, 0.1])))[0]
    np.testing.assert_allclose(end.distance[:2], [0.0, math.sqrt(3)], rtol=1e-14)
    np.testing.assert_array_equal(end.order, [1.0, 1.0, 2.0])


# -- what exists -------------------------------------------------------------------------------
def denominators():
    """Return denominators that end at zero, with the order of the end and the power taken."""
    flat, edge = Ratio(1.0, "1", limits(1.0)), Ratio(1.0, "1", triangular(1.0))
    x = Ratio([1.0, 2.0], "1", limits(1.0))
    three = Ratio(1.0, "1", limits(0.5), limits(0.25), limits(0.25))
    return {
        "rectangle": (flat, 1.0),
        "below zero": (Ratio(-1.0, "1", limits(1.0)), 1.0),
        "wide": (Ratio(100.0, "1", limits(100.0)), 1.0),
        "narrow": (Ratio(-0.01, "1", limits(0.01)), 1.0),
        "mirrored exponential": (Ratio(-0.5, "1", exponential(-0.5)), 1.0),
        "difference": (3.0 - Ratio(2.0, "1", limits(1.0)), 1.0),
        "rounded": (Ratio(0.3, "1", shared(limits(0.1))) - 0.2 * 1.0, 1.0),
        "arcsine": (Ratio(1.0, "1", arcsine(1.0)), 2.0),
        "exponential": (Ratio(1.0, "1", exponential(1.0)), 1.0),
        "square": (flat**2, 2.0),
        "product with itself": (flat * flat, 2.0),
        "power": (flat**1.5, 1.5),
        "product": (flat * Ratio(3.0, "1", standard(0.1)), 1.0),
        "quotient": (flat / Ratio(3.0, "1", limits(0.1)), 1.0),
        "size": (abs(flat), 1.0),
        "root": (np.sqrt(flat), 0.5),
        "triangle": (edge, 0.5),
        "trapezium": (Ratio(1.0, "1", trapezoidal(1.0, 0.5)), 0.5),
        "two rectangles": (Ratio(1.0, "1", limits(0.5), limits(0.5)), 0.5),
        "two readings": (x[0] + x[1] - 1.0, 0.5),
        "square of triangle": (edge**2, 1.0),
        "cube root": (np.cbrt(flat), 1 / 3),
        "power below a half": (flat**0.4, 0.4),
        "three rectangles": (three, 1 / 3),
        "square of three": (np.square(three), 2 / 3),
        "three with themselves": (three * three, 2 / 3),
        "power of three": (three**2.5, 2.5 / 3),
        "size of nearly a half": (abs(three**1.49), 1.49 / 3),
        "cube root of a cube": (np.cbrt(flat**3), 1.0),
        "size of triangle": (abs(edge), 0.5),
        "negative triangle": (-edge, 0.5),
        "root of triangle": (np.sqrt(edge), 0.25),
        "nothing added": (flat + 0.0 * Ratio(3.0, "1", exponential(1.0)), 1.0),
        "farther off": (Ratio(1.001, "1", limits(1.0)), 0.0),
        "normal as well": (Ratio(9.0, "1", limits(1.0), standard(0.1)), 0.0),
        "function": (np.exp(flat), 0.0),
    }


@pytest.mark.parametrize("name", denominators())
def test_mean_and_u_are_given_where_they_exist(name):
    # P(1/F^r > y) goes like y^(-order/r): the mean exists for order/r > 1, the variance for
    # order/r > 2; here r/order is written beside each
    denominator, strength = denominators()[name]
    match = None
    if strength >= 1:
        match = "comes down to zero at the end of stated limits, so mean and standard uncertainty"
    elif strength >= 0.5:
        match = "so the standard uncertainty does not exist"
    found = drawn(1 / denominator, match)
    assert math.isnan(found.mean) == (strength >= 1)
    assert math.isnan(found.u) == (strength >= 0.5)
    assert found.has_pole == (strength >= 1)
    assert np.isfinite(found.interval()).all()


def test_other_ways_to_write_a_reciprocal():
    flat = Ratio(1.0, "1", limits(1.0))
    for quantity in (flat**-1.0, np.reciprocal(flat), Ratio(2.0, "1", limits(0.1)) / flat):
        assert drawn(quantity, "end of stated limits").has_pole
    assert math.isfinite(drawn(flat**-0.4).u)
    assert math.isnan(drawn(flat**-0.5, "end of stated limits").u)


@pytest.mark.parametrize("sampler", ["random", "sobol"])
def test_means_that_exist_are_right(sampler):
    # 1/X of a triangle on 0 to 2: 2 ln 2; 1/sqrt X of a rectangle there: sqrt 2
    edge, flat = Ratio(1.0, "1", triangular(1.0)), Ratio(1.0, "1", limits(1.0))
    for quantity, mean in ((1 / edge, 2 * math.log(2)), (1 / np.sqrt(flat), math.sqrt(2))):
        with pytest.warns(FlowuncWarning, match="end of stated limits"):
            found = quantity.monte_carlo(200_000, sampler=sampler)
        assert found.mean == pytest.approx(mean, rel=0.02)


@pytest.mark.parametrize(
    "options", [{"sampler": "sobol"}, {"digits": 1}, {"control": True}, {"workers": 2}]
)
def test_every_way_to_draw_says_so(options):
    found = drawn(1 / Ratio(1.0, "1", limits(1.0)), "end of stated limits", **options)
    assert found.has_pole
    assert math.isnan(found.mean)


def test_rows_are_marked_one_by_one_and_followed():
    x = Ratio([1.0, 2.0, -1.0], "1", limits([1.0, 1.0, 1.0]))
    np.testing.assert_array_equal(drawn(1 / x, "reading 0, 2").has_pole, [True, False, True])
    picked = concatenate((1 / x)[[1, 0]], Ratio(3.0, "1", limits(0.1)))
    np.testing.assert_array_equal(drawn(picked, "reading 1").has_pole, [False, True, False])
    assert drawn((1 / x).mean(), "end of stated limits").has_pole
    with pytest.warns(FlowuncWarning, match="end of stated limits"):
        joint = monte_carlo_joint([1 / x[0], x], TRIALS)
    assert joint[0].has_pole
    assert not joint[1].has_pole.any()
    mixed = concatenate(x[:1], x[1:] ** 2)
    np.testing.assert_array_equal(drawn(1 / mixed, "reading 0, 2").has_pole, [True, False, True])


def test_shared_limits_of_all_readings():
    x = Ratio([1.0, 2.0], "1", shared(limits(1.0)))
    np.testing.assert_array_equal(drawn(1 / x, "reading 0").has_pole, [True, False])
    assert drawn(1 / (x[0] - x[1] + 2.0)).u < 1e-15  # it cancels


def test_sums_over_many_readings_need_no_table_of_their_errors():
    x = Ratio(np.linspace(5.0, 6.0, 2_000), "1", limits(0.1))
    node = (1.0 / (x - x.mean() + 5.0))._node
    tracemalloc.start()
    try:
        strengths = strengths_at_limits(topological_order([node]), [node])
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert not strengths.any()
    assert peak < 8 * x.size**2 / 10


def test_an_error_common_to_many_readings_ends_their_sum():
    # the mean of many readings with one error is that error: a rectangle from 0 to 2
    x = Ratio(np.ones(100), "1", shared(limits(1.0)))
    assert drawn(1.0 / x.mean(), match="end of stated limits").has_pole
    with_own = x + Ratio(np.zeros(100), "1", limits(0.0))
    assert drawn(1.0 / with_own.mean(), match="end of stated limits").has_pole
