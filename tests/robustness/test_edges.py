"""Sizes at the ends of float64, no scatter, no information: a right answer or a reason."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from flowunc import (
    FlowuncError,
    FlowuncWarning,
    Length,
    PropagationError,
    Quantity,
    RangeError,
    Ratio,
    agreement,
    concatenate,
    cross_check,
    fit_line,
    limits,
    monte_carlo_joint,
    second_order,
    shared,
    standard,
    weighted_mean,
)

SCALES = [1e-300, 1e-160, 1e-100, 1e100, 1e160, 1e300]
# Variances of these fit float64.
MIDDLE = [1e-140, 1e-100, 1e100, 1e140]


# -- sizes -------------------------------------------------------------------------------------
@pytest.mark.parametrize("scale", SCALES)
def test_linear_u_and_budget_do_not_depend_on_the_size(scale):
    # u = sqrt(2^2 + 1) * 0.01 scale for 2x + y; shares 4/5 and 1/5 [JCGM 100, 5.1.2, eq. 10]
    x, y = (Quantity(scale, "m", standard(0.01 * scale)) for _ in range(2))
    q = 2 * x + y
    assert q.u / scale == pytest.approx(0.01 * math.sqrt(5.0), rel=1e-14)
    assert q.budget()["share"].tolist() == pytest.approx([0.8, 0.2], rel=1e-14)
    assert q.correlation(x) == pytest.approx(2.0 / math.sqrt(5.0), rel=1e-14)
    assert agreement(q, x + x).normalised_error == pytest.approx(1 / (2 * 0.01), rel=1e-9)


@pytest.mark.parametrize("scale", MIDDLE)
@pytest.mark.parametrize("options", [{}, {"control": True}, {"sampler": "sobol"}, {"digits": 1}])
def test_draws_do_not_depend_on_the_size(scale, options):
    def drawn(size):
        x = Quantity(size, "m", standard(0.01 * size)) * Ratio(2.0, "1", limits(0.1))
        return x.monte_carlo(4000, seed=3, **options)

    one, scaled = drawn(1.0), drawn(scale)
    for name in ("mean", "u", "mean_error", "u_error"):
        assert getattr(scaled, name) / scale == pytest.approx(getattr(one, name), rel=1e-9)
    assert np.divide(scaled.interval(), scale) == pytest.approx(one.interval(), rel=1e-9)


@pytest.mark.parametrize("scale", MIDDLE)
def test_methods_do_not_depend_on_the_size(scale):
    # a product of two independent normals: u^2 = x^2 s^2 + y^2 r^2 + r^2 s^2, exactly
    x, y = Quantity(scale, "m", standard(0.1 * scale)), Ratio(1.0, "1", standard(0.1))
    assert second_order(x * y, normal=True).u / scale == pytest.approx(
        math.sqrt(0.02 + 0.0001), rel=1e-12
    )
    assert cross_check(x + x * y).holds == cross_check(x / scale + x / scale * y).holds
    # [JCGM 100, G.4.1]: equal parts with 5 and 7 degrees of freedom
    parts = [Quantity(scale, "m", standard(0.01 * scale, dof=dof)) for dof in (5, 7)]
    assert (parts[0] + parts[1]).dof == pytest.approx(4 / (1 / 5 + 1 / 7), rel=1e-12)


@pytest.mark.parametrize("scale", [1e-100, 1e100])
def test_fits_do_not_depend_on_the_size(scale):
    def line(size):
        x = Quantity(np.array([1.0, 2.0, 3.0, 4.1]) * size, "m", standard(0.01 * size))
        return fit_line(
            x, Quantity(np.array([2.0, 4.0, 6.0, 8.0]) * size, "s", limits(0.01 * size))
        )

    one, scaled = line(1.0), line(scale)
    assert scaled.slope.value == pytest.approx(one.slope.value, rel=1e-9)
    assert scaled.slope.u == pytest.approx(one.slope.u, rel=1e-9)
    assert scaled.intercept.u / scale == pytest.approx(one.intercept.u, rel=1e-9)
    assert scaled.chi_square == pytest.approx(one.chi_square, rel=1e-9)


def test_a_result_beyond_float64_is_refused():
    x = Quantity(1e200, "m", standard(1e198))
    for make in (lambda: x * x, lambda: x**3, lambda: 1e-200 / x / x * 1e-300 / (x * 0.0)):
        with pytest.raises(PropagationError, match="no finite value"):
            make()
    with pytest.raises(RangeError, match="too large"):
        Length(1e308, "km")


# -- draws without a value ---------------------------------------------------------------------
LOST = [
    # expected share of lost draws, from the normal distribution function
    ("root", lambda: np.sqrt(Ratio(1.0, "1", standard(1.0))), -1.0),
    ("logarithm", lambda: np.log(Ratio(1.0, "1", standard(0.5))), -2.0),
    ("overflow", lambda: np.exp(Ratio(700.0, "1", standard(10.0))), -0.978271),
    ("power", lambda: Ratio(1.0, "1", standard(0.5)) ** 0.3, -2.0),
    ("product", lambda: np.exp(Ratio(700.0, "1", standard(10.0))) * 1.0 - 1.0, -0.978271),
]


@pytest.mark.parametrize(("name", "make", "z"), LOST, ids=[case[0] for case in LOST])
@pytest.mark.parametrize("options", [{}, {"workers": 2}, {"sampler": "sobol"}])
def test_draws_without_a_value_are_counted_and_never_averaged(name, make, z, options):
    share = math.erfc(-z / math.sqrt(2)) / 2  # ln(1.797e308) = 709.783 [IEEE 754-2019, binary64]
    with pytest.warns(FlowuncWarning, match="draws have no finite value"):
        drawn = make().monte_carlo(40_000, seed=5, **options)
    bound = 4 * math.sqrt(share * (1 - share) / drawn.trials)
    assert drawn.not_finite / drawn.trials == pytest.approx(share, abs=bound)
    assert math.isnan(drawn.mean)
    assert math.isnan(drawn.u)
    assert np.isnan(drawn.interval()).all()
    assert np.count_nonzero(~np.isfinite(drawn.samples())) == drawn.not_finite


def test_lost_draws_of_one_reading_leave_the_others_alone():
    x = Ratio([1.0, 100.0], "1", standard(1.0))
    with pytest.warns(FlowuncWarning, match="reading 0"):
        drawn = np.sqrt(x).monte_carlo(20_000, seed=5)
    alone = np.sqrt(Ratio([100.0], "1", standard(1.0)))
    assert drawn.not_finite[0] > 3000
    assert drawn.not_finite[1] == 0
    assert math.isnan(drawn.u[0])
    assert drawn.u[1] == pytest.approx(alone.u[0], rel=0.03)
    with pytest.warns(FlowuncWarning, match="draws have no finite value"):
        assert math.isnan(np.sqrt(x).sum().monte_carlo(20_000, seed=5).u)
    with pytest.warns(FlowuncWarning, match="draws have no finite value"):
        matrix = monte_carlo_joint([np.sqrt(x), x], 20_000).covariance()
    assert np.isnan(matrix[0]).all()
    assert np.isfinite(matrix[1]).all()


# -- no scatter, no information ----------------------------------------------------------------
@pytest.mark.parametrize(
    "quantity",
    [Length(2.0, "m"), Length(2.0, "m", limits(0)), Length([2.0, 3.0], "m", standard(0))],
)
def test_no_uncertainty_is_zero_by_every_method(quantity):
    assert np.all(np.asarray(quantity.u) == 0)
    assert np.all(np.isinf(quantity.dof))
    assert quantity.budget(0 if quantity.ndim else None).empty
    assert np.array_equal(second_order(quantity).u, np.zeros(quantity.shape))
    for options in ({}, {"sampler": "sobol"}, {"control": True}, {"digits": 2}):
        drawn = quantity.monte_carlo(2000, **options)
        assert np.array_equal(drawn.u, quantity.u)
        assert np.array_equal(drawn.interval()[0], quantity.value)
        assert np.all(np.asarray(drawn.u_error) == 0)
    assert np.all(cross_check(quantity).holds)


def test_what_has_no_uncertainty_cannot_be_compared_or_weighted(answer):
    exact, other = Length(1.0, "m"), Length(2.0, "m")
    attempts = [
        lambda: agreement(exact, other),
        lambda: exact.correlation(other),
        lambda: weighted_mean([exact, other]),
        lambda: fit_line(Length([1.0, 2, 3], "m"), Length([1.0, 2, 3.1], "m")),
    ]
    for make in attempts:
        assert isinstance(answer(make)[1], FlowuncError)


def test_what_is_wholly_correlated_is_answered_or_refused(answer):
    x = Length(2.0, "m", limits(0.1))
    assert (x - x).u == 0
    assert (x - x).monte_carlo(2000).u == 0
    assert cross_check(x - x).holds
    assert weighted_mean([x, x]).mean.u == pytest.approx(x.u, rel=1e-12)
    common = Length([1.0, 2.0, 3.0, 4.0], "m", shared(limits(0.1)))
    refused = [
        lambda: agreement(x, x + Length(0.1, "m")),
        lambda: fit_line(common, 2 * common),
        lambda: weighted_mean(common),
    ]
    for make in refused:
        assert isinstance(answer(make)[1], FlowuncError)


def test_a_reading_entered_twice_counts_once():
    # [JCGM 100, F.1.2]: no information is added by the copy
    y = Length([1.0, 1.1, 1.2], "m", standard(0.1))
    twice = weighted_mean(concatenate(y[0], y, y[2])).mean
    once = weighted_mean(y).mean
    assert twice.value == pytest.approx(once.value, rel=1e-12)
    assert twice.u == pytest.approx(once.u, rel=1e-12)


def test_one_reading_is_readings():
    one = Length([2.0], "m", standard(0.3))
    assert one.u.tolist() == [0.3]
    assert one.mean().u == pytest.approx(one.u[0])
    assert one.monte_carlo(20_000).u == pytest.approx(one.u, rel=0.02)
    assert second_order(one).u == pytest.approx(one.u)
    assert cross_check(one).holds.all()
    with pytest.raises(RangeError, match="1 point"):
        fit_line(one, one)


def test_a_million_readings():
    count = 1_000_000
    x = Length(np.linspace(1.0, 2.0, count), "m", standard(0.03), shared(limits(0.02)))
    # independent parts average out, the shared one stays [JCGM 100, 5.2.2]
    assert x.mean().u == pytest.approx(math.hypot(0.03 / 1000, 0.02 / math.sqrt(3)), rel=1e-9)
    assert x.u[[0, -1]] == pytest.approx(math.hypot(0.03, 0.02 / math.sqrt(3)), rel=1e-12)
    assert (x - x.mean()).u[7] == pytest.approx(0.03 * math.sqrt(1 - 1 / count), rel=1e-9)
    assert (x * x).u[-1] == pytest.approx(2 * 2.0 * x.u[-1], rel=1e-12)
    assert x[[5, 6]].monte_carlo(5000).u == pytest.approx(x.u[:2], rel=0.05)
    assert len(repr(x)) < 400
    assert len(x._repr_html_()) < 5000


# -- text --------------------------------------------------------------------------------------
def test_a_label_is_text_in_html():
    label = "<script>alert(1)</script>&\"'"
    x = Length([1.0, 2.0], "m", limits(0.1), label=label)
    for quantity in (x, x[0]):
        assert "<script" not in quantity._repr_html_()
        assert "&lt;script" in quantity._repr_html_()


def test_no_warning_but_ours_on_the_way():
    # a pole, a root and few repeats at once
    x = Ratio(1.0, "1", standard(0.6, dof=2))
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        q = np.sqrt(x) + 1 / x
        drawn = q.monte_carlo(5000)
        _ = drawn.interval(), drawn.mean_error, drawn.u_error, drawn.interval_error(), repr(drawn)
        _ = str(cross_check(q)), second_order(q).u
    assert caught
    assert {found.category for found in caught} == {FlowuncWarning}
