"""The linear model as control variate: gain as stated, closed forms, refusals."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    Component,
    FlowuncWarning,
    PropagationError,
    Ratio,
    StatementError,
    apply,
    concatenate,
    exponential,
    limits,
    monte_carlo_joint,
    repeated,
    shared,
    standard,
)
from flowunc.core.component import Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit
from flowunc.propagation import outcome
from flowunc.propagation.control import linear_control

TRIALS = 2_000
SEEDS = 60


# -- closed forms ------------------------------------------------------------------------------
def square():
    return Ratio(3.0, "1", standard(0.3)) ** 2


def exponential_of_normal():
    return np.exp(Ratio(0.0, "1", standard(0.2)))


def product():
    return Ratio(2.0, "1", standard(0.2)) * Ratio(3.0, "1", limits(0.6))


def reciprocal():
    return 1 / Ratio(2.0, "1", limits(0.2))


LOGNORMAL = stats.lognorm(0.2)
SQUARE = stats.ncx2(1, 100.0, scale=0.09)
A, B = 1.8, 2.2  # 1/X of a rectangle: E = ln(B/A)/(B - A), E of the square = 1/(A B)
RECIPROCAL_MEAN = math.log(B / A) / (B - A)
MODELS = {
    square: (SQUARE.mean(), SQUARE.std()),
    exponential_of_normal: (LOGNORMAL.mean(), LOGNORMAL.std()),
    # var(XY) = x^2 var Y + y^2 var X + var X var Y
    product: (6.0, math.sqrt(4 * 0.12 + 9 * 0.04 + 0.04 * 0.12)),
    reciprocal: (RECIPROCAL_MEAN, math.sqrt(1 / (A * B) - RECIPROCAL_MEAN**2)),
}


@functools.cache
def many(model, control):
    """Return mean, u, stated error of the mean and stated reduction of many seeds."""
    drawn = [model().monte_carlo(TRIALS, seed=seed, control=control) for seed in range(SEEDS)]
    return np.array([(d.mean, d.u, d.mean_error, d.variance_reduction or 1.0) for d in drawn]).T


@pytest.mark.parametrize("model", MODELS)
def test_stated_reduction_is_the_measured_one(model):
    plain, controlled = many(model, False), many(model, True)
    measured = plain[0].var(ddof=1) / controlled[0].var(ddof=1)
    assert controlled[3].mean() == pytest.approx(measured, rel=0.4)
    assert controlled[3].mean() > 10


@pytest.mark.parametrize("model", MODELS)
def test_stated_error_of_the_mean_is_the_spread_over_seeds(model):
    mean, _, stated, _ = many(model, True)
    assert mean.std(ddof=1) == pytest.approx(math.sqrt(np.mean(stated**2)), rel=0.4)


@pytest.mark.parametrize("model", MODELS)
def test_mean_and_u_meet_the_closed_form_within_much_smaller_errors(model):
    exact = MODELS[model]
    for which in (0, 1):
        plain, controlled = many(model, False)[which], many(model, True)[which]
        error = controlled.std(ddof=1) / math.sqrt(SEEDS)
        assert abs(controlled.mean() - exact[which]) < 4 * error
        worst, usual = np.abs(controlled - exact[which]), np.abs(plain - exact[which])
        assert np.sqrt(np.mean(worst**2)) < 0.4 * np.sqrt(np.mean(usual**2))


@pytest.mark.parametrize("model", MODELS)
def test_draws_and_intervals_are_those_without_control(model):
    plain, controlled = (model().monte_carlo(TRIALS, seed=5, control=c) for c in (False, True))
    np.testing.assert_array_equal(plain.samples(), controlled.samples())
    for kind in ("symmetric", "shortest"):
        assert plain.interval(0.9, kind) == controlled.interval(0.9, kind)
        assert plain.interval_error(0.9, kind) == controlled.interval_error(0.9, kind)
    assert plain.variance_reduction is None
    assert controlled.mean != plain.mean
    assert controlled.u != plain.u


# -- linear models -----------------------------------------------------------------------------
def linear_model():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), exponential(0.05), shared(limits(0.2)))
    y = Ratio(0.7, "1", limits(0.3), standard(0.1))
    return 2 * x - 3 * y + 1


def test_linear_model_is_exact():
    quantity = linear_model()
    drawn = quantity.monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(drawn.mean, quantity.value, rtol=1e-14)
    np.testing.assert_allclose(drawn.u, quantity.u, rtol=1e-13)
    assert np.all(drawn.variance_reduction > 1e20)  # only rounding is left
    assert np.all(np.asarray(drawn.mean_error) < 1e-14)
    # an input itself leaves not even that
    one = Ratio(2.0, "1", limits(0.3)).monte_carlo(TRIALS, control=True)
    assert one.variance_reduction == math.inf
    assert one.mean_error == 0.0
    assert one.mean == 2.0
    assert one.u == pytest.approx(0.3 / math.sqrt(3), rel=1e-14)


@pytest.mark.parametrize("dof", [3, 5, 12])
def test_few_repeats_have_the_standard_deviation_of_t(dof):
    # exact where the linear u is not: s sqrt(n/(n - 2)) [JCGM 101, 6.4.9]
    drawn = Ratio(2.0, "1", standard(0.3, dof=dof)).monte_carlo(TRIALS, control=True)
    assert drawn.u == pytest.approx(0.3 * math.sqrt(dof / (dof - 2)), rel=1e-13)


def pool_of(dof, widths=(0.3, 0.4)):
    pool = Pool(dof=dof)
    return tuple(
        Ratio._from_terms(
            np.ones(np.shape(width)),
            [Term(Component(name, Normal(width), parse_unit("1"), dof=dof, pool=pool))],
            parse_unit("1"),
            name,
        )
        for name, width in zip("ab", widths, strict=True)
    )


def test_pool_has_the_standard_deviation_of_the_multivariate_t():
    # one factor for both, uncorrelated: var(a + b) = (0.09 + 0.16) n/(n - 2) [JCGM 102, 5.3.2]
    a, b = pool_of(6.0)
    drawn = (a + b).monte_carlo(TRIALS, control=True)
    assert drawn.u == pytest.approx(0.5 * math.sqrt(6 / 4), rel=1e-13)


def test_certain_readings_of_a_pool_need_no_variance():
    # 2 degrees of freedom have none, but nothing is drawn there; beside it sqrt(n/(n - 2))
    unit, dof = parse_unit("1"), np.array([2.0, 6.0])
    pool = Pool(dof=dof)
    a, b = (
        Ratio._from_terms(
            np.ones(2),
            [Term(Component(n, Normal(u), unit, scope="each", dof=dof, pool=pool))],
            unit,
            n,
        )
        for n, u in (("a", np.array([0.0, 0.3])), ("b", np.array([0.0, 0.4])))
    )
    drawn = (a + b).monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(drawn.u, [0.0, 0.5 * math.sqrt(6 / 4)], rtol=1e-13)


# -- readings ----------------------------------------------------------------------------------
def test_curved_single_value_beside_constant_readings():
    # each reading is exp(X) and a constant, their sum three times exp(X): lognormal
    total = (np.exp(Ratio(0.0, "1", standard(0.2))) + np.array([1.0, 2.0, 4.0])).sum()
    drawn = total.monte_carlo(TRIALS, control=True, seed=3)
    assert drawn.mean == pytest.approx(3 * LOGNORMAL.mean() + 7, rel=1e-3)
    assert drawn.u == pytest.approx(3 * LOGNORMAL.std(), rel=0.01)
    assert drawn.variance_reduction > 10


def test_readings_with_shared_and_own_errors():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.05), shared(standard(0.05)))
    drawn = (x**2).monte_carlo(TRIALS, control=True, seed=3)
    variance = 0.005
    np.testing.assert_allclose(drawn.mean, x.value**2 + variance, atol=1e-3)
    exact = np.sqrt(4 * x.value**2 * variance + 2 * variance**2)
    np.testing.assert_allclose(drawn.u, exact, rtol=5e-3)
    assert drawn.variance_reduction.shape == (3,)
    # s^2 of Y over s^2 of Y - L = (4 x^2 v + 2 v^2)/(2 v^2)
    np.testing.assert_allclose(drawn.variance_reduction, exact**2 / 2 / variance**2, rtol=0.3)


WIDTHS = np.array([0.1, 0.2, 0.1, 0.3, 0.1])


@pytest.mark.parametrize("widths", [WIDTHS, np.full(5, 0.1), 0.1], ids=["own", "equal", "one"])
@pytest.mark.parametrize("chosen", [slice(None), slice(1, 3), [3], [3, 0], [3, 0, 3], 3])
def test_some_readings_out_of_many(widths, chosen):
    # every row depends on one reading of the component. With a width for each reading this ended
    # in "operands could not be broadcast together"
    x = Ratio([1.0, 2.0, 3.0, 4.0, 5.0], "1", standard(widths))
    quantity = (2 * x)[chosen]
    drawn = quantity.monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(drawn.mean, quantity.value, rtol=1e-14)
    np.testing.assert_allclose(drawn.u, quantity.u, rtol=1e-13)


def test_reading_without_width_beside_others():
    # slope was found as contribution over width, 0/0 here
    x = Ratio([1.0, 2.0, 3.0], "1", standard([0.1, 0.0, 0.2]))
    drawn = (2 * x).monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(drawn.mean, [2.0, 4.0, 6.0], rtol=1e-14)
    np.testing.assert_allclose(drawn.u, [0.2, 0.0, 0.4], rtol=1e-13)


def repeats(counts):
    """Return readings from as many repeats as stated, their standard errors and their dof."""
    sets = [np.linspace(0.0, 1.0, count).tolist() for count in counts]
    errors = np.array([np.std(values, ddof=1) / math.sqrt(len(values)) for values in sets])
    readings = Ratio(np.arange(1.0, len(counts) + 1), "1", repeated(sets), label="flow")
    return readings, errors, np.array(counts) - 1.0


def test_pool_of_certain_size_has_the_plain_variance():
    # the t factor was inf/inf there, taken for no variance
    a, b = pool_of(math.inf)
    _, deviations = linear_control([(a + b)._node])
    np.testing.assert_allclose(deviations, [0.5], rtol=1e-13)


def test_every_reading_has_the_standard_deviation_of_its_own_t():
    # s sqrt(n/(n - 2)) reading by reading [JCGM 101, 6.4.9]
    x, errors, dof = repeats([5, 13, 103])
    expected = errors * np.sqrt(dof / (dof - 2))
    for chosen in (slice(None), [2, 0], slice(1, 2)):
        drawn = (3 * x)[chosen].monte_carlo(TRIALS, control=True)
        np.testing.assert_allclose(drawn.u, 3 * expected[chosen], rtol=1e-13)
    total = x.sum().monte_carlo(TRIALS, control=True)
    assert total.u == pytest.approx(math.sqrt(np.square(expected).sum()), rel=1e-13)


# -- rows that depend on several readings ------------------------------------------------------
# Each a matrix A on the errors of five readings: u^2 is the diagonal of A diag(w^2) A^T, and with
# an error w_s that all readings share, w_s^2 times the square of the row sums comes on top.
I5, ONES5 = np.eye(5), np.ones((5, 5))
LINEAR = {
    "one after the other": (lambda x: x[[3, 0]], I5[[3, 0]]),
    "some twice": (lambda x: x[[3, 0, 3, 3]], I5[[3, 0, 3, 3]]),
    "sum": (lambda x: x.sum(), ONES5[:1]),
    "mean": (lambda x: x.mean(), ONES5[:1] / 5),
    "mean of some": (lambda x: x[[4, 1]].mean(), (I5[[4]] + I5[[1]]) / 2),
    "difference of two": (lambda x: x[0] - x[1], I5[[0]] - I5[[1]]),
    "differences to one": (lambda x: x - x[2], I5 - I5[[2]]),
    "differences to the mean": (lambda x: x - x.mean(), I5 - ONES5 / 5),
    "steps": (lambda x: x[1:] - x[:-1], I5[1:] - I5[:-1]),
    "backwards on top": (lambda x: x + x[::-1], I5 + I5[::-1]),
    "beside constants": (
        lambda x: concatenate(Ratio(1.0, "1"), 3 * x[[4]], Ratio([2.0, 3.0], "1"), x.mean()),
        np.vstack([np.zeros(5), 3 * I5[4], np.zeros((2, 5)), np.ones(5) / 5]),
    ),
    "weights for each": (
        lambda x: x.sum() * np.array([1.0, 0.0, -2.0]),
        np.outer([1.0, 0.0, -2.0], np.ones(5)),
    ),
}


@pytest.mark.parametrize("name", LINEAR)
@pytest.mark.parametrize("common", [0.0, 0.3], ids=["own", "and shared"])
def test_linear_rows_of_several_readings_are_exact(name, common):
    # all but the first were refused: "rows depend on several readings"
    x = Ratio([1.0, 2.0, 3.0, 4.0, 5.0], "1", standard(WIDTHS))
    if common:
        x = x + Ratio(0.0, "1", limits(common * math.sqrt(3)))
    model, matrix = LINEAR[name]
    quantity = model(x)
    variance = np.square(matrix) @ np.square(WIDTHS) + (common * matrix.sum(axis=1)) ** 2
    drawn = quantity.monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(drawn.mean, quantity.value, rtol=1e-14)
    np.testing.assert_allclose(np.atleast_1d(drawn.u), np.sqrt(variance), rtol=1e-12, atol=1e-15)


def test_squares_of_differences_meet_their_closed_form():
    # D = x_i - x_j normal, E = d, var = v: E D^2 = d^2 + v, var D^2 = 4 d^2 v + 2 v^2
    x = Ratio([1.0, 2.0, 4.0], "1", standard([0.1, 0.05, 0.2]), shared(limits(0.5)))
    pairs = [(1, 0), (2, 0), (2, 1)]
    quantity = (x[[1, 2, 2]] - x[[0, 0, 1]]) ** 2
    d = np.array([x.value[i] - x.value[j] for i, j in pairs])
    width = np.array([0.1, 0.05, 0.2])
    v = np.array([width[i] ** 2 + width[j] ** 2 for i, j in pairs])
    means, us, stated, reductions = [], [], [], []
    for seed in range(SEEDS):
        drawn = quantity.monte_carlo(TRIALS, seed=seed, control=True)
        means.append(drawn.mean)
        us.append(drawn.u)
        stated.append(drawn.mean_error)
        reductions.append(drawn.variance_reduction)
    root = math.sqrt(SEEDS)
    error_of_mean, error_of_u = (np.std(found, axis=0, ddof=1) for found in (means, us))
    u = np.sqrt(4 * d**2 * v + 2 * v**2)
    assert np.all(np.abs(np.mean(means, axis=0) - d**2 - v) < 4 * error_of_mean / root)
    assert np.all(np.abs(np.mean(us, axis=0) - u) < 4 * error_of_u / root)
    np.testing.assert_allclose(error_of_mean, np.mean(stated, axis=0), rtol=0.3)
    # s^2 of Y over s^2 of Y - L, with Y - L = (D - d)^2 of variance 2 v^2
    np.testing.assert_allclose(np.mean(reductions, axis=0), u**2 / (2 * v**2), rtol=0.1)


def rich(scale):
    """Steps of every sort, on readings, scalars, lengths of one, sums, choices and joins."""
    x = Ratio([1.0, 2.0, 3.0, 4.0], "1", standard(scale * np.array([1.0, 2.0, 0.5, 1.0])))
    common = Ratio(2.0, "1", limits(scale), standard(scale, dof=9))
    one = Ratio([0.5], "1", standard(scale))
    part = np.hypot(x / x.mean(), common) * np.log(x[[3, 0, 1, 1]] + one)
    joined = concatenate(part[::-1] - part.sum(), one**3, 7 / common, Ratio(3.0, "1"))
    return np.exp(-joined / 20) * common + (joined * joined)[[6, 5, 4, 3, 2, 1, 0]] ** 0.5


def test_what_is_left_is_of_second_order():
    # Y - L falls with the square of the widths, so the reduction grows with 1/width^2; with one
    # wrong or missing derivative it would not
    coarse, fine = (rich(scale).monte_carlo(TRIALS, control=True) for scale in (1e-3, 1e-5))
    growth = fine.variance_reduction / coarse.variance_reduction
    uncertain = np.asarray(rich(1e-3).u) > 0
    assert uncertain.sum() >= 6
    np.testing.assert_allclose(growth[uncertain], 1e4, rtol=0.1)
    assert coarse.variance_reduction[uncertain].min() > 1e3


def test_one_point_of_many_rows():
    # n rows that each depend on n readings: var(x_i - mean) = w^2 (1 - 1/n)
    count = 600
    x = Ratio(np.linspace(1.0, 2.0, count), "1", standard(0.1))
    drawn = (x - x.mean()).monte_carlo(500, control=True)
    np.testing.assert_allclose(drawn.u, 0.1 * math.sqrt(1 - 1 / count), rtol=1e-12)


def test_reading_that_no_row_uses_needs_no_derivative():
    x = Ratio([0.0, 1.0, -2.0], "1", standard(0.1))
    kept = np.abs(x)[[2, 1]].monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(kept.u, 0.1, rtol=1e-13)
    # a numerical derivative there raises; it is not asked for
    kept = apply(np.abs, x)[1:].monte_carlo(TRIALS, control=True)
    np.testing.assert_allclose(kept.u, 0.1, rtol=1e-9)


def test_certain_quantity():
    drawn = Ratio([2.0, 3.0], "1").monte_carlo(TRIALS, control=True)
    np.testing.assert_array_equal(drawn.mean, [2.0, 3.0])
    np.testing.assert_array_equal(drawn.u, 0.0)
    np.testing.assert_array_equal(drawn.mean_error, 0.0)


def test_joint_results_of_unlike_rows():
    x = Ratio([1.0, 2.0, 3.0], "1", standard([0.1, 0.2, 0.3]))
    joint = monte_carlo_joint([x.mean(), x[[2, 0]] ** 2, x], TRIALS, control=True, seed=5)
    assert joint[0].u == pytest.approx(math.sqrt(0.14) / 3, rel=1e-13)
    np.testing.assert_allclose(joint[2].u, [0.1, 0.2, 0.3], rtol=1e-13)
    alone = (x[[2, 0]] ** 2).monte_carlo(TRIALS, control=True, seed=5)
    assert joint[1].variance_reduction.shape == (2,)
    # s^2 of Y over s^2 of Y - L = (4 x^2 + 2 v)/(2 v), the same seed or not
    exact = (4 * np.array([9.0, 1.0]) + 2 * np.array([0.09, 0.01])) / (2 * np.array([0.09, 0.01]))
    for found in (joint[1], alone):
        np.testing.assert_allclose(found.variance_reduction, exact, rtol=0.3)


def test_joint_results_have_their_own_reduction():
    x = Ratio(3.0, "1", standard(0.3))
    joint = monte_carlo_joint([x, x**2], TRIALS, control=True, seed=5)
    assert joint[0].variance_reduction == math.inf
    alone = (x**2).monte_carlo(TRIALS, control=True, seed=5)
    assert joint[1].variance_reduction == pytest.approx(alone.variance_reduction, rel=1e-12)
    assert joint[1].mean == pytest.approx(alone.mean, rel=1e-15)


def test_units_are_those_of_the_quantity():
    shifted = Ratio(30.0, "%", standard(1.0))
    for quantity in (shifted, np.square(shifted)):
        drawn = quantity.monte_carlo(TRIALS, control=True)
        assert drawn.mean == pytest.approx(quantity.value, rel=0.01)
        assert drawn.u == pytest.approx(quantity.u, rel=0.01)


# -- repeatability -----------------------------------------------------------------------------
def curved():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), shared(limits(0.2)))
    return np.exp(x) * Ratio(2.0, "1", limits(0.1))


def assert_same(one, other):
    np.testing.assert_array_equal(one.mean, other.mean)
    np.testing.assert_array_equal(one.u, other.u)
    np.testing.assert_array_equal(one.interval(), other.interval())
    np.testing.assert_array_equal(one.variance_reduction, other.variance_reduction)


@pytest.mark.parametrize("workers", [2, 3])
def test_workers_change_no_bit(workers):
    one, more = (curved().monte_carlo(50_000, control=True, workers=w) for w in (1, workers))
    assert_same(one, more)


@pytest.mark.parametrize("workers", [1, 2])
def test_result_too_large_to_keep_has_the_same_bits(workers, monkeypatch):
    kept = curved().monte_carlo(40_000, control=True)
    monkeypatch.setattr(outcome, "KEPT_VALUES", 0)
    again = curved().monte_carlo(40_000, control=True, workers=workers)
    assert_same(kept, again)
    np.testing.assert_array_equal(kept.samples(), again.samples())


# -- refusals and marks ------------------------------------------------------------------------
@pytest.mark.parametrize("dof", [1, 2])
def test_too_few_repeats_for_a_variance_are_refused(dof):
    x = Ratio(2.0, "1", standard(0.3, dof=dof), label="flow")
    with pytest.raises(PropagationError, match=r"flow.*degrees of freedom.*leave control out"):
        (x**2).monte_carlo(TRIALS, control=True)
    a, b = pool_of(float(dof))
    with pytest.raises(PropagationError, match=r"degrees of freedom.*leave control out"):
        (a * b).monte_carlo(TRIALS, control=True)


def test_rows_of_few_repeats_are_refused_only_where_they_count():
    x, errors, dof = repeats([3, 13, 2, 53])
    for quantity in (x, x[1:], x.mean(), x[3] - x[0]):
        with pytest.raises(PropagationError, match=r"flow.*degrees of freedom.*leave control out"):
            quantity.monte_carlo(TRIALS, control=True)
    with pytest.raises(PropagationError, match="row 1 without a variance"):
        x[[3, 0]].monte_carlo(TRIALS, control=True)
    drawn = (2 * x)[[3, 1]].monte_carlo(TRIALS, control=True)
    expected = 2 * errors[[3, 1]] * np.sqrt(dof[[3, 1]] / (dof[[3, 1]] - 2))
    np.testing.assert_allclose(drawn.u, expected, rtol=1e-13)


def test_formula_without_a_derivative_is_refused():
    x = Ratio([1.0, 0.0], "1", standard(0.3))
    for quantity in (np.abs(x), np.abs(x[1]), concatenate(x, np.abs(x).sum())):
        with pytest.raises(PropagationError, match=r"control=True.*leave control out"):
            quantity.monte_carlo(TRIALS, control=True)


@pytest.mark.parametrize("options", [{"sampler": "sobol"}, {"digits": 2}])
def test_control_excludes_other_ways_to_draw(options):
    with pytest.raises(StatementError, match="control=True"):
        square().monte_carlo(TRIALS, control=True, **options)


def test_no_reduction_is_stated_where_no_mean_is_given():
    # draws without a value came out with an infinite reduction
    x = Ratio([0.1, 5.0], "1", standard(0.1))
    with pytest.warns(FlowuncWarning, match="no finite value"):
        drawn = np.sqrt(x).monte_carlo(TRIALS, control=True)
    np.testing.assert_array_equal(np.isnan(drawn.mean), [True, False])
    np.testing.assert_array_equal(np.isnan(drawn.variance_reduction), [True, False])
    with pytest.warns(FlowuncWarning, match="changes sign"):
        drawn = (1 / x).monte_carlo(TRIALS, control=True)
    np.testing.assert_array_equal(np.isnan(drawn.mean), [True, False])
    np.testing.assert_array_equal(np.isnan(drawn.variance_reduction), [True, False])


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_infinite_draws_give_no_warning_of_numpy():
    # ln(1.797e308) = 709.783 [IEEE 754-2019, binary64]: some draws of the first row are infinite,
    # and the square of its linear u is
    q = np.exp(Ratio([700.0, 1.0], "1", standard([10.0, 0.1])))
    with pytest.warns(FlowuncWarning, match="reading 0: .* draws have no finite value"):
        drawn = q.monte_carlo(5_000, control=True)
    assert np.isnan([drawn.mean[0], drawn.u[0], drawn.variance_reduction[0]]).all()
    # the mean of a lognormal is exp(mu + sigma^2/2)
    assert drawn.mean[1] == pytest.approx(math.exp(1.005), abs=6 * drawn.mean_error[1])
