"""Scrambled Sobol points: closed forms, stated errors, gain, and what may be set side by side."""

from __future__ import annotations

import functools
import math
import pickle
import tracemalloc

import numpy as np
import pytest
from scipy import optimize, special, stats

from flowunc import (
    Acceleration,
    Angle,
    Component,
    Density,
    FlowuncWarning,
    Length,
    PropagationError,
    RangeError,
    Ratio,
    StatementError,
    VolumeFlowRate,
    concatenate,
    cross_check,
    limits,
    monte_carlo,
    monte_carlo_joint,
    repeated,
    shared,
    standard,
)
from flowunc.core.component import Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit
from flowunc.propagation import low_discrepancy, outcome

POINTS = 1 << 14
SEEDS = 100
ROOT3 = math.sqrt(3)
ONE = parse_unit("1")


def sobol(quantity, trials=POINTS, seed=1, **options):
    return quantity.monte_carlo(trials, sampler="sobol", seed=seed, **options)


# -- closed forms ------------------------------------------------------------------------------
def square():
    return Ratio(3.0, "1", standard(1.0)) ** 2


def exponential_of_normal():
    return np.exp(Ratio(0.0, "1", standard(0.5)))


def product():
    return Ratio(0.0, "1", standard(1.0)) * Ratio(0.0, "1", standard(1.0))


def four_rectangular():
    a, b, c, d = (Ratio(0.0, "1", limits(ROOT3)) for _ in range(4))
    return a + b + c + d


def product_end():
    """Density K0(|z|)/pi, so P(|Z| < z) = 2/pi times the integral of K0 from 0 to z."""
    return optimize.brentq(lambda z: 2 / math.pi * special.iti0k0(z)[1] - 0.95, 1.0, 4.0)


# upper tail of four unit rectangles: P(S > 4 - t) = t^4/24 for t <= 1 (volume of a simplex)
FOUR_END = 2 * ROOT3 * (2 - (24 * 0.025) ** 0.25)
SQUARE = stats.ncx2(1, 9.0)  # square of a normal of mean 3 and unit variance
LOGNORMAL = stats.lognorm(0.5)

MODELS = {
    square: (SQUARE.mean(), SQUARE.std(), *SQUARE.ppf([0.025, 0.975])),
    exponential_of_normal: (LOGNORMAL.mean(), LOGNORMAL.std(), *LOGNORMAL.ppf([0.025, 0.975])),
    product: (0.0, 1.0, -product_end(), product_end()),
    four_rectangular: (0.0, 2.0, -FOUR_END, FOUR_END),
}
STATISTICS = ("mean", "u", "low", "high")


def test_closed_form_of_four_rectangular_is_the_printed_one():
    assert pytest.approx(3.88, abs=0.005) == FOUR_END  # [JCGM 101, 9.2.3, table 4], T


@functools.cache
def found_and_stated(model, kind="symmetric"):
    """Return mean, u and both ends of many seeds, and their stated errors: (seeds, 4) each."""
    quantity = model()
    found, stated = [], []
    for seed in range(SEEDS):
        drawn = sobol(quantity, seed=seed)
        found.append((drawn.mean, drawn.u, *drawn.interval(0.95, kind)))
        stated.append((drawn.mean_error, drawn.u_error, *drawn.interval_error(0.95, kind)))
    return np.array(found), np.array(stated)


# eight scramblings: found - true over the stated error follows t with 7 degrees of freedom, of
# which 5 % lie beyond 2.36 (scipy.stats). Where one scrambling's result is skewed, as mean and u
# of long-tailed laws are, it is more: 11 % for the mean of exp(X/2), X normal, from the scrambling
# of scipy.stats.qmc.Sobol alone (computed, 1500 seeds)
OUTSIDE = {square: 0.11, exponential_of_normal: 0.11, product: 0.05, four_rectangular: 0.05}


@pytest.mark.parametrize("which", range(4), ids=STATISTICS)
@pytest.mark.parametrize("model", MODELS)
def test_closed_form_is_met_within_the_stated_errors(model, which):
    found, stated = (values[:, which] for values in found_and_stated(model))
    outside = np.abs(found - MODELS[model][which]) > stats.t(7).ppf(0.975) * stated
    assert outside.sum() <= stats.binom(SEEDS, OUTSIDE[model]).ppf(0.9995)


@pytest.mark.parametrize("which", range(4), ids=STATISTICS)
@pytest.mark.parametrize("model", MODELS)
def test_no_bias_is_left_over_many_seeds(model, which):
    found = found_and_stated(model)[0][:, which]
    error = found.std(ddof=1) / math.sqrt(SEEDS)
    assert abs(found.mean() - MODELS[model][which]) < 4 * error


def test_standard_deviation_of_even_points_is_not_raised_by_one_over_the_count():
    # Even points miss the variance 1 of a rectangle by far less than the factor n/(n - 1) that
    # independent draws need: dividing by n - 1 put u 3e-5 too high, many stated errors
    quantity = Ratio(0.0, "1", limits(ROOT3))
    found = np.array([[d.u, d.u_error] for d in (sobol(quantity, seed=s) for s in range(20))])
    assert abs(found[:, 0].mean() - 1.0) < 3 * np.sqrt(np.mean(found[:, 1] ** 2) / 20)


@pytest.mark.parametrize("which", range(4), ids=STATISTICS)
@pytest.mark.parametrize("model", MODELS)
def test_stated_error_is_the_spread_over_seeds(model, which):
    found, stated = (values[:, which] for values in found_and_stated(model))
    ratio = found.std(ddof=1) / math.sqrt(np.mean(stated**2))
    assert 0.6 < ratio < 1.4


@pytest.mark.parametrize("which", [2, 3], ids=["low", "high"])
@pytest.mark.parametrize("model", [exponential_of_normal, product, four_rectangular])
def test_stated_error_of_the_shortest_interval_is_the_spread_over_seeds(model, which):
    # its ends converge with the cube root of the number of draws, so that the scatter of one
    # scrambling is divided by 2, not by sqrt(8); it was stated too small by that
    found, stated = (values[:, which] for values in found_and_stated(model, "shortest"))
    ratio = found.std(ddof=1) / math.sqrt(np.mean(stated**2))
    assert 0.6 < ratio < 1.4


def test_errors_have_the_shape_and_unit_of_the_quantity():
    length = Length([10.0, 20.0], "mm", standard(0.1))
    in_mm, in_m = sobol(length), sobol(length.to("m"))
    for name in ("mean_error", "u_error"):
        assert getattr(in_mm, name).shape == (2,)
        np.testing.assert_allclose(getattr(in_mm, name), 1000 * getattr(in_m, name), rtol=1e-9)
    low, high = in_mm.interval_error(0.9)
    assert low.shape == high.shape == (2,)
    assert type(sobol(length[0]).u_error) is float


# -- gain --------------------------------------------------------------------------------------
def friction():
    """Darcy friction factor of a small bench, invented; twelve components."""
    flow = VolumeFlowRate(3.0, "L/min", limits(0.075), limits(0.05), label="flow")
    bore = Length(19.05, "mm", limits(0.05), label="bore")
    spacing = Length(2.4, "m", limits(1, "mm"), label="tap spacing")
    angle = Angle(10, "deg", limits(0.25), label="angle")
    density = Density(998.2, "kg/m^3", limits(0.5), label="density")
    air = Density(1.2, "kg/m^3", limits(0.1), label="air")
    gravity = Acceleration(9.8124, "m/s^2", limits(0.0005), label="gravity")
    high = Length(400, "mm", limits(0.5), label="high")
    low = Length(330, "mm", limits(0.5), label="low")
    zero = Length(0.5, "mm", limits(0.5), standard(0.1), label="zero")
    velocity = flow / (math.pi / 4 * bore**2)
    drop = (high - low - zero) * np.sin(angle) * (density - air) * gravity
    return 2 * bore * drop / (density * spacing * velocity**2)


def test_gain_over_random_draws_on_the_friction_chain():
    chain = friction()
    assert len(chain.components) == 12

    def results(sampler):
        drawn = [chain.monte_carlo(POINTS, sampler=sampler, seed=seed) for seed in range(40)]
        return np.array([(d.mean, d.u, *d.interval(0.95, "symmetric")) for d in drawn])

    random, even = (results(sampler) for sampler in ("random", "sobol"))
    gain = random.var(axis=0) / even.var(axis=0)
    assert gain[0] > 1e3
    assert gain[1] > 1e3
    assert gain[2:].mean() > 2.5
    # and both mean the same distribution
    error = np.sqrt(random.var(axis=0) / 40 + even.var(axis=0) / 40)
    assert np.all(np.abs(random.mean(axis=0) - even.mean(axis=0)) < 4 * error)


def test_every_reading_gains_also_the_last_of_many():
    # the lowest dimensions serve every reading: twelve readings with own errors of three kinds
    n = 12
    x, y = (Ratio(np.linspace(1, 2, n), "1", limits(0.2)) for _ in range(2))
    z = Ratio(1.0, "1", standard(0.1))
    found = np.array([sobol(x * y * z, seed=seed).mean for seed in range(20)])
    plain = np.array([(x * y * z).monte_carlo(POINTS, seed=seed).mean for seed in range(20)])
    assert np.all(plain.var(axis=0) > 1e3 * found.var(axis=0))


# -- repeatability -----------------------------------------------------------------------------
def readings():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), shared(limits(0.2)), label="x")
    y = Ratio(2.0, "1", limits(0.3), standard(0.1, dof=5), label="y")
    return concatenate(x[::-1] * y + x.mean(), np.exp(-x[[0, 0, 2]]) * y**2)


def assert_same(one, other):
    np.testing.assert_array_equal(one.mean, other.mean)
    np.testing.assert_array_equal(one.u, other.u)
    for kind in ("shortest", "symmetric"):
        np.testing.assert_array_equal(one.interval(0.95, kind), other.interval(0.95, kind))


def test_same_seed_same_bits():
    first, again = sobol(readings(), 4096), sobol(readings(), 4096)
    assert_same(first, again)
    np.testing.assert_array_equal(first.samples(), again.samples())
    np.testing.assert_array_equal(first.u_error, again.u_error)
    assert not np.any(sobol(readings(), 4096, seed=2).mean == first.mean)


def test_pickling_changes_no_bit():
    quantity = readings()
    first = sobol(quantity, 4096)
    assert_same(first, sobol(pickle.loads(pickle.dumps(quantity)), 4096))
    back = pickle.loads(pickle.dumps(first))
    assert_same(first, back)
    np.testing.assert_array_equal(first.samples(), back.samples())


def test_fresh_seed_is_kept_with_the_result():
    drawn = sobol(square(), 1024, seed=None)
    assert sobol(square(), 1024, seed=drawn.seed).mean == drawn.mean
    assert sobol(square(), 1024, seed=None).mean != drawn.mean


def uneven():
    """Rows that ask for one, two and one coordinates."""
    x, y = (Ratio([1.0, 2.0, 3.0], "1", standard(0.1)) for _ in range(2))
    return concatenate(x[0:1], x[1:2] * y[1:2], x[2:3])


def very_uneven():
    """Rows that ask for one coordinate, for forty, and for one."""
    x = Ratio(np.linspace(1.0, 2.0, 40), "1", standard(0.1))
    y = Ratio([1.0, 2.0], "1", standard(0.1))
    return concatenate(y[0:1], y[1:2] - y[1:2] + x.sum(), y[1:2]) + 0 * y[0]


def many_own():
    """Rows that ask for one coordinate, and one row for forty of its own."""
    x = Ratio(np.linspace(1.0, 2.0, 40), "1", standard(0.1))
    total = x[0:1]
    for reading in range(1, 40):
        total = total + x[reading : reading + 1]
    return concatenate(x[3:4], total, x[5:6])


@pytest.mark.parametrize("model", [readings, uneven, very_uneven, many_own])
def test_result_too_large_to_keep_has_the_same_bits(model, monkeypatch):
    # points made for fewer dimensions are other points: mean and interval of one reading came
    # from different draws where another row asks for more dimensions
    quantity = model()
    kept = sobol(quantity, 4096)
    monkeypatch.setattr(outcome, "KEPT_VALUES", 0)
    again = sobol(quantity, 4096)
    assert_same(kept, again)
    np.testing.assert_array_equal(kept.u_error, again.u_error)


def test_results_drawn_alone_and_together_are_the_same():
    # Ruling 8, as for random draws; and one quantity that stands twice is one result
    x, y = Ratio(1.0, "1", standard(0.1)), Ratio([1.0, 2.0], "1", standard(0.2))
    quantities = [x, x * y * np.exp(y), x, y]
    joint = monte_carlo_joint(quantities, 4096, sampler="sobol", seed=1)
    for together, quantity in zip(joint, quantities, strict=True):
        assert_same(together, sobol(quantity, 4096))


def test_result_with_many_coordinates_changes_nothing_for_others():
    x, y = Ratio(1.0, "1", standard(0.1)), Ratio(np.linspace(1.0, 2.0, 40), "1", standard(0.2))
    joint = monte_carlo_joint([x, x + y.mean(), x], 4096, sampler="sobol", seed=1)
    assert_same(joint[0], joint[2])
    assert_same(joint[1], sobol(x + y.mean(), 4096))
    assert_same(joint[2], sobol(x, 4096))


def common_and_own():
    """Rows whose own draws stand in a scalar as well, rows of one sample, and a width for each."""
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), limits([0.1, 0.2, 0.3]))
    a, b = pooled(Pool(dof=4.0), 3)
    return concatenate(x - x.mean(), x * (a + 2 * b), x * a[0])


@pytest.mark.parametrize("model", [readings, very_uneven, many_own, common_and_own])
def test_size_of_blocks_and_groups_changes_no_bit(model, monkeypatch):
    quantity = model()
    whole, joint = sobol(quantity, 1 << 15), sobol(quantity, 1 << 15).samples()
    monkeypatch.setattr(low_discrepancy, "LARGEST_BLOCK", 1 << 11)
    monkeypatch.setattr(low_discrepancy, "GROUP", 2)
    parts = sobol(quantity, 1 << 15)
    assert_same(whole, parts)
    np.testing.assert_array_equal(joint, parts.samples())


def together():
    """Rows that each depend on their own reading alone: shared, own, pooled, few repeats."""
    x = Ratio(np.linspace(1.0, 2.0, 5), "1", standard(0.1), shared(limits(0.2)), label="x")
    y = Ratio(np.linspace(2.0, 3.0, 5), "1", limits(np.linspace(0.1, 0.5, 5)), label="y")
    a, b = pooled(Pool(dof=np.array([3.0, 4.0, 5.0, 6.0, 7.0])), 5)
    return x / y + np.exp(a) * Ratio(1.0, "1", standard(0.1, dof=5)) * x.mean() - 1e-3 * b


def test_rows_computed_together_have_the_bits_of_rows_by_themselves():
    quantity = together()
    drawn = low_discrepancy.LowDiscrepancy([quantity._node], 1, 512)
    rows = drawn.draw_rows([0, 1, 2, 3, 4])
    for row in range(5):
        np.testing.assert_array_equal(rows[[row]], drawn.draw_rows([row]))
    np.testing.assert_array_equal(rows[[3, 1]], drawn.draw_rows([3, 1]))


def test_draws_side_by_side_take_little_more_than_themselves():
    # every coordinate of every trial stood in memory: 134 MB beside 42 MB of results
    x = Ratio(np.linspace(1.0, 2.0, 20), "1", limits(0.1), standard(0.05), shared(limits(0.1)))
    points = low_discrepancy.LowDiscrepancy([(x**2)._node], 1, 1 << 15)
    for job in (points.joint, lambda: points.draw_rows(list(range(20)))):
        tracemalloc.start()
        try:
            draws = job()
            peak = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
        assert draws.shape == (20, 1 << 18)
        assert peak < draws.nbytes + 32e6


def test_more_readings_asked_for_change_nothing_for_one():
    x = Ratio([1.0, 2.0, 3.0], "1", limits(0.3))
    z = Ratio(1.0, "1", standard(0.3))
    whole, part = sobol(np.exp(x) * z, 4096), sobol((np.exp(x) * z)[1:], 4096)
    np.testing.assert_allclose(whole.mean[1:], part.mean, rtol=1e-14)
    np.testing.assert_allclose(whole.u[1:], part.u, rtol=1e-13)


# -- what may be set side by side --------------------------------------------------------------
def assert_uncorrelated(matrix, trials):
    matrix = np.array(matrix)
    assert np.all(np.abs(matrix[~np.eye(len(matrix), dtype=bool)]) < 4 / math.sqrt(trials))


def test_samples_of_readings_have_no_false_correlation():
    x = Ratio([1.0, 2.0, 3.0, 4.0, 5.0], "1", standard(0.1), limits(0.1))
    drawn = sobol(x**2, 8192)
    samples = drawn.samples()
    assert samples.shape == (8192, 5)
    assert_uncorrelated(np.corrcoef(samples.T), 8192)
    np.testing.assert_allclose(samples.mean(axis=0), drawn.mean, atol=1e-3)
    np.testing.assert_allclose(samples.std(axis=0), drawn.u, rtol=4e-3)  # random: 8e-3


def test_joint_covariance_of_independent_readings_is_none():
    x, y = (Ratio([1.0, 2.0, 3.0], "1", standard(0.1)) for _ in range(2))
    joint = monte_carlo_joint([x, y], 8192, sampler="sobol", seed=1)
    assert np.all(np.abs(joint.correlation()) < 4 / math.sqrt(8192))
    assert_uncorrelated(joint.correlation(0, 0), 8192)
    np.testing.assert_allclose(np.diag(joint.covariance(0, 0)), 0.01, rtol=4e-3)


@pytest.mark.parametrize("value", [1.0, [1.0], [1.0, 2.0]], ids=["scalar", "one", "two"])
def test_samples_of_two_results_drawn_together_have_no_false_correlation(value):
    # "draws of one trial belong together": each result alone has the lowest coordinate for its
    # own component, so that two independent scalars came out with a correlation of 1
    x, y = Ratio(value, "1", standard(0.1)), Ratio(5.0, "1", limits(0.3))
    joint = monte_carlo_joint([x, y], 8192, sampler="sobol", seed=1)
    both = np.column_stack([joint[0].samples().reshape(8192, -1), joint[1].samples()])
    assert_uncorrelated(np.corrcoef(both.T), 8192)


def test_shared_errors_are_kept_in_samples_and_covariance():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.3), shared(standard(0.4)))
    expected = 0.09 * np.eye(3) + 0.16  # own variance, shared variance
    drawn = sobol(x)
    np.testing.assert_allclose(np.cov(drawn.samples().T), expected, atol=1e-3)
    joint = monte_carlo_joint([x, x[1:]], POINTS, sampler="sobol", seed=1)
    np.testing.assert_allclose(joint.covariance(), expected[:, 1:], atol=1e-3)


def test_samples_of_two_results_keep_what_they_share():
    # cov(x + y, x) = var x = 0.01
    x, y = Ratio(1.0, "1", standard(0.1)), Ratio(2.0, "1", standard(0.2))
    joint = monte_carlo_joint([x + y, x], POINTS, sampler="sobol", seed=1)
    pair = np.cov(joint[0].samples(), joint[1].samples())
    assert pair[0, 1] == pytest.approx(0.01, rel=0.01)
    assert joint.covariance() == pytest.approx(0.01, rel=0.01)


def test_covariance_agrees_with_the_linear_one():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), shared(standard(0.2)))
    y = Ratio(2.0, "1", standard(0.3))
    first, second = 2 * x - y, x[::-1] + 3 * y
    joint = monte_carlo_joint([first, second], POINTS, sampler="sobol", seed=1)
    spread = np.outer(first.u, second.u)
    assert np.all(np.abs(joint.covariance() - first.covariance(second)) < 3e-3 * spread)
    assert np.all(np.abs(joint.correlation() - first.correlation(second)) < 3e-3)


def test_result_is_fully_correlated_with_itself():
    # u divides by the number of points, the covariance by one less: a correlation of 1.001
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    joint = monte_carlo_joint([x[0], x[0], np.exp(x)], 1024, sampler="sobol", seed=1)
    assert joint.correlation() == pytest.approx(1.0, abs=1e-9)
    assert joint.covariance(0, 1) == pytest.approx(joint[0].u ** 2, rel=1e-9)
    assert np.all(np.abs(joint.correlation(2, 2)) <= 1 + 2e-3)  # other points than those of u


def test_draws_of_one_trial_belong_together():
    x = Ratio([1.0, 2.0, 3.0, 4.0], "1", limits(0.3), shared(limits(5.0)))
    samples = sobol(x - x.mean(), 4096).samples()
    np.testing.assert_allclose(samples.sum(axis=1), 0.0, atol=1e-13)


# -- rows that use several readings ------------------------------------------------------------
STATEMENTS = {
    "one width for all": lambda: standard(0.1),
    "a width for each": lambda: standard([0.1] * 5),
    "rectangles": lambda: limits(0.1 * ROOT3),
    "a rectangle for each": lambda: limits([0.1 * ROOT3] * 5),
}


@pytest.mark.parametrize("name", STATEMENTS)
def test_rows_that_use_several_readings(name):
    # readings with a width each shared the coordinate of a neighbour, once they had stood in
    # another row: the difference x[2] - x[1] came out without any uncertainty
    x = Ratio([1.0, 2.0, 3.0, 4.0, 5.0], "1", STATEMENTS[name]())
    root2 = math.sqrt(2)
    cases = [
        (x.mean(), 1 / math.sqrt(5)),
        (x.sum(), math.sqrt(5)),
        (x - x.mean(), np.full(5, math.sqrt(0.8))),
        (x + x[::-1], np.array([root2, root2, 2.0, root2, root2])),
        (x[1:] - x[:-1], np.full(4, root2)),
        (x[1:] + x[:-1], np.full(4, root2)),
        (x[[0, 0, 3]] - x[[1, 0, 2]], np.array([root2, 0.0, root2])),
    ]
    for quantity, expected in cases:
        drawn = sobol(quantity, 8192)
        np.testing.assert_allclose(drawn.u, 0.1 * expected, rtol=2e-3, atol=1e-12)
        np.testing.assert_allclose(drawn.mean, quantity.value, atol=1e-3)
        # the linear method is exact for sums
        np.testing.assert_allclose(drawn.u, quantity.u, rtol=2e-3, atol=1e-12)


def test_readings_of_different_width_keep_their_own():
    x = Ratio([1.0, 2.0, 3.0], "1", standard([0.1, 0.2, 0.4]))
    np.testing.assert_allclose(sobol(x).u, [0.1, 0.2, 0.4], rtol=1e-3)
    np.testing.assert_allclose(sobol(x).samples().std(axis=0), [0.1, 0.2, 0.4], rtol=1e-3)
    np.testing.assert_allclose(sobol(x[::-1] + x).u[[0, 2]], math.sqrt(0.17), rtol=1e-3)


@pytest.mark.parametrize("count", [1, 2])
def test_readings_without_uncertainty_beside_others(count):
    certain = Ratio([7.0, 8.0][:count], "1")
    drawn = sobol(concatenate(certain, Ratio([2.0], "1", standard(0.1))), 4096)
    np.testing.assert_array_equal(drawn.mean[:count], certain.value)
    np.testing.assert_array_equal(drawn.u[:count], 0.0)
    assert drawn.u[count] == pytest.approx(0.1, rel=1e-3)


def test_certain_quantity_has_constant_draws():
    for quantity in (Ratio(2.0, "1"), Ratio([2.0, 3.0], "1")):
        drawn = sobol(quantity, 1024)
        np.testing.assert_array_equal(drawn.mean, quantity.value)
        np.testing.assert_array_equal(drawn.u, 0.0)
        np.testing.assert_array_equal(drawn.u_error, 0.0)
        np.testing.assert_array_equal(drawn.interval(), (quantity.value, quantity.value))


# -- pools and few repeats ---------------------------------------------------------------------
def pooled(pool, count, *, scope="each"):
    """Two quantities of unit spread from one sample, just beside zero."""
    return tuple(
        Ratio._from_terms(
            np.full(count, 1e-9),
            [Term(Component(name, Normal(1.0), ONE, scope=scope, pool=pool, dof=pool.dof))],
            ONE,
            name,
        )
        for name in ("a", "b")
    )


def share_of(a, b):
    """a^2/(a^2 + b^2): the common factor of a pool cancels, which leaves an arcsine law."""
    return a**2 / (a**2 + b**2)


ARCSINE = stats.arcsine()


@pytest.mark.parametrize("dof", [3.0, np.array([3.0, 4.0])], ids=["one", "each"])
@pytest.mark.parametrize("scope", ["each", "shared"])
def test_pooled_components_have_their_factor_in_common(dof, scope):
    if scope == "shared" and np.ndim(dof):
        dof = 5.0
    a, b = pooled(Pool(dof=dof), 2, scope=scope)
    drawn = sobol(share_of(a, b))
    np.testing.assert_allclose(drawn.u, ARCSINE.std(), rtol=3e-3)
    np.testing.assert_allclose(drawn.interval(0.9, "symmetric")[0], ARCSINE.ppf(0.05), rtol=0.05)
    np.testing.assert_allclose(
        sobol(share_of(a, b)).samples().std(axis=0), ARCSINE.std(), rtol=0.01
    )


def test_pooled_components_keep_their_factor_where_rows_differ():
    # a row that had taken another coordinate for the factor left its draws behind: the next row
    # then met a and b of one sample with two different factors
    a, b = pooled(Pool(dof=3.0), 2)
    d = Ratio([0.0, 0.0], "1", standard(1e-9))
    share = share_of(a[1:2], b[1:2])
    together = concatenate(d[0:1] + a[0:1], d[0:1] + d[1:2] + share)
    drawn = sobol(together, 1 << 15)
    assert drawn.u[1] == pytest.approx(ARCSINE.std(), rel=3e-3)
    assert drawn.interval(0.9, "symmetric")[0][1] == pytest.approx(ARCSINE.ppf(0.05), rel=0.05)


def test_sum_of_a_pool_is_scaled_t():
    # any combination of the estimates of one sample is t with its degrees of freedom
    # [JCGM 102, 5.3.2]
    a, b = pooled(Pool(dof=6.0), 1)
    drawn = sobol(3 * a[0] + 4 * b[0], 1 << 15)
    low, high = drawn.interval(0.95, "symmetric")
    errors = drawn.interval_error(0.95)
    law = stats.t(6, 0, 5.0)
    assert abs(low - law.ppf(0.025)) < 4 * errors[0]
    assert abs(high - law.ppf(0.975)) < 4 * errors[1]
    assert high == pytest.approx(law.ppf(0.975), rel=0.02)


@pytest.mark.parametrize("dof", [3, 6, 20])
def test_few_repeats_are_drawn_from_scaled_t(dof):
    # quantiles of t; standard deviation s sqrt(n/(n - 2)) [JCGM 101, 6.4.9]
    drawn = sobol(Ratio(0.0, "1", standard(1.0, dof=dof)))
    low, high = drawn.interval(0.95, "symmetric")
    assert low == pytest.approx(stats.t(dof).ppf(0.025), rel=3e-3)
    assert high == pytest.approx(stats.t(dof).ppf(0.975), rel=3e-3)
    if dof > 4:
        assert drawn.u == pytest.approx(math.sqrt(dof / (dof - 2)), rel=0.01)


def test_repeats_of_each_reading():
    sets = [[0, 1, 2, 1], [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]]
    drawn = sobol(Ratio([1.0, 2.5], "1", repeated(sets)))
    for row, values in enumerate(sets):
        scale = np.std(values, ddof=1) / math.sqrt(len(values))
        law = stats.t(len(values) - 1, (1.0, 2.5)[row], scale)
        assert drawn.interval(0.95, "symmetric")[1][row] == pytest.approx(law.ppf(0.975), rel=3e-3)


# -- marks -------------------------------------------------------------------------------------
def test_errors_are_not_given_where_mean_and_u_do_not_exist():
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    with pytest.warns(FlowuncWarning, match="changes sign"):
        drawn = sobol(1 / x)
    np.testing.assert_array_equal(drawn.has_pole, [True, False])
    for values in (drawn.mean, drawn.u, drawn.mean_error, drawn.u_error):
        np.testing.assert_array_equal(np.isnan(values), [True, False])
    assert np.isfinite(drawn.interval()).all()
    assert np.isfinite(drawn.interval_error()).all()


def test_two_repeats_have_neither_u_nor_its_error():
    with pytest.warns(FlowuncWarning, match="degrees of freedom"):
        drawn = sobol(Ratio(1.0, "1", standard(0.1, dof=2)))
    assert math.isnan(drawn.u)
    assert math.isnan(drawn.u_error)
    assert drawn.interval(0.95, "symmetric")[1] == pytest.approx(
        1 + 0.1 * stats.t(2).ppf(0.975), rel=5e-3
    )


def test_draws_without_a_value_are_counted():
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    with pytest.warns(FlowuncWarning, match="no finite value"):
        drawn = sobol(np.sqrt(x))
    # P(X < 0) = Phi(-1)
    assert drawn.not_finite[0] == pytest.approx(POINTS * stats.norm.cdf(-1), rel=1e-3)
    assert drawn.not_finite[1] == 0
    assert np.isnan(drawn.interval()[0][0])
    assert np.isnan(drawn.interval_error()[0][0])
    assert np.isfinite(drawn.interval()[0][1])


# -- options -----------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["halton", "Sobol", "", None, 1])
def test_unknown_sampler_is_refused_with_itself(name):
    with pytest.raises(StatementError, match=repr(name)):
        square().monte_carlo(sampler=name)


@pytest.mark.parametrize(
    ("options", "shown"), [({"digits": 2}, "digits"), ({"control": True}, "control")]
)
def test_options_that_exclude_each_other(options, shown):
    with pytest.raises(StatementError, match=rf"sobol.*{shown}"):
        square().monte_carlo(sampler="sobol", **options)
    with pytest.raises(StatementError, match=r"digits.*control"):
        square().monte_carlo(digits=2, control=True)


@pytest.mark.parametrize(
    ("asked", "made"),
    [(2, 512), (512, 512), (513, 1024), (10_000, 16_384), (16_384, 16_384), (200_000, 262_144)],
)
def test_trials_are_eight_times_a_power_of_two(asked, made):
    assert sobol(Ratio(1.0, "1", standard(0.1)), asked).trials == made


def test_more_trials_than_the_sequence_has_are_refused():
    with pytest.raises(RangeError, match=str(9 * 2**30)):
        sobol(square(), 9 * 2**30)


def test_more_dimensions_than_the_sequence_has_are_refused_with_the_way_out():
    mean = Ratio(np.ones(21_202), "1", standard(0.1)).mean()
    with pytest.raises(PropagationError, match=r"21202 .*21201 .*sampler='random'"):
        sobol(mean, 512)
    with pytest.raises(PropagationError, match="21201"):
        cross_check(mean)
    assert cross_check(mean, sampler="random", trials=1000).drawn.trials == 1000


def test_sampler_is_passed_on_by_the_function_and_the_method():
    quantity = square()
    one, other = monte_carlo(quantity, 1024, sampler="sobol", seed=3), sobol(quantity, 1024, 3)
    assert one.mean == other.mean
    assert one.mean != monte_carlo(quantity, 1024, seed=3).mean
