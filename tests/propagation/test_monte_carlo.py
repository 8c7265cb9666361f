"""Monte Carlo through the public interface: correlation, repeatability, covariance, refusals."""

from __future__ import annotations

import math
import pickle
import warnings

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    DimensionError,
    FlowuncError,
    FlowuncWarning,
    Length,
    RangeError,
    Ratio,
    ShapeError,
    Temperature,
    Time,
    arcsine,
    concatenate,
    expanded,
    exponential,
    limits,
    monte_carlo,
    monte_carlo_joint,
    repeated,
    shared,
    standard,
    trapezoidal,
    triangular,
)


def model():
    """A formula with shared and own errors, a choice of readings, a mean and a join."""
    x = Ratio([1.0, 2.0, 3.0, 4.0, 5.0], "1", standard(0.1), shared(limits(0.2)), label="x")
    y = Ratio(2.0, "1", triangular(0.3), standard(0.1, dof=5), label="y")
    return concatenate(x[::-1] * y + x.mean(), np.exp(-x[[0, 0, 3]]) * y**2)


# -- repeatability (Ruling 8) ------------------------------------------------------------------
def test_same_formula_built_twice_gives_the_same_bits():
    np.testing.assert_array_equal(
        monte_carlo(model(), 3_000, seed=7).samples(), monte_carlo(model(), 3_000, seed=7).samples()
    )


@pytest.mark.parametrize("workers", [2, 3])
def test_number_of_workers_changes_no_bit(workers):
    one = monte_carlo(model(), 70_000, seed=7)
    more = monte_carlo(model(), 70_000, seed=7, workers=workers)
    np.testing.assert_array_equal(one.samples(), more.samples())
    np.testing.assert_array_equal(one.mean, more.mean)
    np.testing.assert_array_equal(one.u, more.u)
    np.testing.assert_array_equal(one.interval(), more.interval())


def test_more_trials_begin_with_the_same_draws():
    few, many = (monte_carlo(model(), trials, seed=7).samples() for trials in (5_000, 40_000))
    np.testing.assert_array_equal(many[:5_000], few)


def test_another_seed_gives_other_draws():
    a, b = (monte_carlo(model(), 2_000, seed=seed).samples() for seed in (1, 2))
    assert not np.any(a == b)


def test_results_drawn_alone_and_together_are_the_same():
    # Ruling 8: streams by order in the record
    q = model()
    together = monte_carlo_joint([q, Ratio(1.0, "1", standard(1.0))], 3_000, seed=7)
    np.testing.assert_array_equal(together[0].samples(), monte_carlo(q, 3_000, seed=7).samples())


def test_without_a_seed_draws_differ_and_can_be_repeated():
    q = model()
    first, second = monte_carlo(q, 2_000, seed=None), monte_carlo(q, 2_000, seed=None)
    assert first.seed != second.seed
    assert not np.any(first.samples() == second.samples())
    again = monte_carlo(q, 2_000, seed=first.seed)
    np.testing.assert_array_equal(again.samples(), first.samples())


def test_pickled_quantity_gives_the_same_draws():
    q = model()
    back = pickle.loads(pickle.dumps(q))
    np.testing.assert_array_equal(
        back.monte_carlo(2_000, seed=1).samples(), q.monte_carlo(2_000, seed=1).samples()
    )


def test_global_random_state_is_neither_read_nor_set():
    np.random.seed(1)  # noqa: NPY002 - the state under test
    expected = np.random.random()  # noqa: NPY002
    np.random.seed(1)  # noqa: NPY002
    first = monte_carlo(model(), 2_000, seed=1).samples()
    assert np.random.random() == expected  # noqa: NPY002
    np.testing.assert_array_equal(monte_carlo(model(), 2_000, seed=1).samples(), first)


# -- correlation comes by itself ---------------------------------------------------------------
def test_shared_and_own_errors_in_the_draws():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.3), shared(standard(0.4)))
    samples = x.monte_carlo(200_000, seed=1).samples()
    expected = 0.09 * np.eye(3) + 0.16
    np.testing.assert_allclose(np.cov(samples.T), expected, atol=5 * 0.25 * math.sqrt(2 / 200_000))


def test_deviations_from_the_mean_in_the_draws():
    x = Ratio([1.0, 2.0, 3.0], "1", limits(0.3), shared(limits(5.0)))
    samples = (x - x.mean()).monte_carlo(50_000, seed=1).samples()
    np.testing.assert_allclose(samples.sum(axis=1), 0.0, atol=1e-14)
    np.testing.assert_allclose(samples.var(axis=0), 0.03 * 2 / 3, rtol=0.03)


def test_reversed_readings_meet_their_own_draws():
    x = Ratio([1.0, 2.0, 3.0], "1", limits(0.3))
    joint = monte_carlo_joint([x[::-1] + x, x, x[0] * x, x.sum()], 5_000, seed=1)
    plain = joint[1].samples()
    np.testing.assert_array_equal(joint[0].samples(), plain[:, ::-1] + plain)
    np.testing.assert_array_equal(joint[2].samples(), plain[:, :1] * plain)
    np.testing.assert_allclose(joint[3].samples(), plain.sum(axis=1), rtol=1e-15)


def test_single_reading_acts_as_one_value_for_all():
    one = Ratio([2.0], "1", standard(0.5))
    many = Ratio([0.0, 0.0, 0.0], "1")
    samples = (one + many).monte_carlo(2_000, seed=1).samples()
    np.testing.assert_array_equal(samples, samples[:, :1] * np.ones(3))


def test_same_component_in_two_quantities_is_drawn_once():
    bore = Length(0.02, "m", limits(0.001))
    copy = pickle.loads(pickle.dumps(bore))
    samples = (bore / copy).monte_carlo(1_000, seed=1).samples()
    np.testing.assert_allclose(samples, 1.0, rtol=1e-15)


# -- distributions -----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("statement", "law"),
    [
        (standard(0.5), stats.norm(0, 0.5)),
        (limits(0.5), stats.uniform(-0.5, 1.0)),
        (triangular(0.5), stats.triang(0.5, -0.5, 1.0)),
        (trapezoidal(0.5, 0.4), stats.trapezoid(0.3, 0.7, -0.5, 1.0)),
        (arcsine(0.5), stats.arcsine(-0.5, 1.0)),
        (exponential(0.5), stats.expon(-0.5, 0.5)),
        (standard(0.5, dof=3), stats.t(3, 0, 0.5)),
        (expanded(0.5, k=2, dof=7), stats.t(7, 0, 0.25)),
        (repeated([1.0, 2.0, 3.0, 6.0]), stats.t(3, 0, math.sqrt(14 / 3) / 2)),
    ],
)
def test_draws_follow_the_stated_law(statement, law):
    # JCGM 101, table 1; laws by scipy.stats
    samples = Ratio(10.0, "1", statement).monte_carlo(50_000, seed=11).samples() - 10.0
    assert stats.kstest(samples, law.cdf).pvalue > 1e-3


@pytest.mark.parametrize("dof", [3, 5, 10])
def test_few_degrees_of_freedom_widen_the_draws(dof):
    # standard deviation of a scaled t: s sqrt(n/(n - 2)), JCGM 101 6.4.9
    drawn = Ratio(0.0, "1", standard(1.0, dof=dof)).monte_carlo(1_000_000, seed=2)
    assert drawn.u == pytest.approx(math.sqrt(dof / (dof - 2)), rel=0.04 if dof == 3 else 0.01)


def test_standard_uncertainty_of_two_or_three_repeats_does_not_exist():
    # JCGM 101, 6.4.9.4: the variance of a scaled t exists for more than 2 degrees of freedom only.
    # The number that came out changed by a factor of five from seed to seed, without a warning
    for repeats in ([1.0, 2.0], [1.0, 2.0, 3.0]):
        mean = Ratio(2.0, "1", repeated(repeats))
        with warnings.catch_warnings(record=True):
            warnings.simplefilter("always")
            drawn = (2 * mean + Ratio(1.0, "1", standard(0.1))).monte_carlo(5_000, seed=1)
        assert not math.isfinite(drawn.u)
        assert np.isfinite(drawn.interval(0.95)).all()


def test_repeats_of_each_reading_have_their_own_degrees_of_freedom():
    sets = [[0, 1, 2, 1], [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]]
    readings = Ratio([1.0, 2.5], "1", repeated(sets))
    samples = readings.monte_carlo(50_000, seed=2).samples()
    for column, values, centre in zip(samples.T, sets, (1.0, 2.5), strict=True):
        scale = np.std(values, ddof=1) / math.sqrt(len(values))
        law = stats.t(len(values) - 1, centre, scale)
        assert stats.kstest(column, law.cdf).pvalue > 1e-3


# -- joint results -----------------------------------------------------------------------------
def test_joint_covariance_against_the_closed_form_and_the_linear_one():
    # X normal, Y independent: cov(X Y, X) = E[Y] var X = 3 * 0.04
    x, y = Ratio(2.0, "1", standard(0.2)), Ratio(3.0, "1", standard(0.3))
    joint = monte_carlo_joint([x * y, x], 400_000, seed=1)
    assert joint.covariance() == pytest.approx(0.12, rel=0.01)
    assert joint.covariance() == pytest.approx((x * y).covariance(x), rel=0.01)
    # var(XY) = 4*0.09 + 9*0.04 + 0.0036
    correlation = 0.12 / 0.2 / math.sqrt(0.36 + 0.36 + 0.0036)
    assert joint.correlation() == pytest.approx(correlation, abs=0.005)
    assert joint.covariance(0, 0) == pytest.approx(joint[0].u ** 2, rel=1e-9)
    assert joint.correlation(1, 0) == pytest.approx(joint.correlation(0, 1), rel=1e-12)


def test_joint_covariance_has_the_shape_and_units_of_both():
    length = Length([10.0, 20.0], "mm", standard(0.1), shared(standard(0.2)))
    time = Time(0.5, "min", standard(0.6, "s"))
    joint = monte_carlo_joint([(length / time).to("mm/s"), length, time], 100_000, seed=1)
    assert joint.covariance(0, 1).shape == (2, 2)
    assert joint.covariance(0, 2).shape == (2, 1)
    assert type(joint.covariance(2, 2)) is float
    linear = (length / time).to("mm/s").covariance(length)
    np.testing.assert_allclose(joint.covariance(0, 1), linear, rtol=0.03)
    speed = (length / time).to("mm/s")
    np.testing.assert_allclose(joint.covariance(0, 2), speed.covariance(time), rtol=0.03)
    assert len(joint) == 3


def test_one_quantity_twice_is_the_same_draws():
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    joint = monte_carlo_joint([x, x, x[1]], 1_000, seed=1)
    np.testing.assert_array_equal(joint[0].samples(), joint[1].samples())
    np.testing.assert_array_equal(joint[0].samples()[:, 1], joint[2].samples())
    assert joint.correlation(0, 1)[0, 0] == pytest.approx(1.0, abs=1e-12)


def test_many_readings_and_a_scalar_together():
    x = Ratio(np.linspace(1, 2, 300), "1", standard(0.1), shared(standard(0.1)))
    joint = monte_carlo_joint([x, x.mean(), x[7:9]], 2_000, seed=1)
    np.testing.assert_allclose(joint[1].samples(), joint[0].samples().mean(axis=1), rtol=1e-14)
    np.testing.assert_array_equal(joint[2].samples(), joint[0].samples()[:, 7:9])


def test_joint_correlation_with_a_certain_quantity_is_refused_as_by_the_linear_method():
    # a bare numpy warning "invalid value encountered in divide", or a number made of rounding
    uncertain = Ratio(1.0, "1", standard(0.1))
    for certain in (Ratio(3.0, "1"), Ratio(0.3, "1"), uncertain - uncertain):
        joint = monte_carlo_joint([uncertain, certain], 2_000)
        assert joint.covariance() == pytest.approx(0.0, abs=1e-15)
        with pytest.raises(FlowuncError, match="no uncertainty"):
            joint.correlation()


# -- shapes and units --------------------------------------------------------------------------
def test_shapes_follow_the_quantity():
    scalar = Ratio(1.0, "1", standard(0.1)).monte_carlo(1_000)
    single = Ratio([1.0], "1", standard(0.1)).monte_carlo(1_000)
    many = Ratio([1.0, 2.0], "1", standard(0.1)).monte_carlo(1_000)
    assert scalar.samples().shape == (1_000,)
    assert single.samples().shape == (1_000, 1)
    assert many.samples().shape == (1_000, 2)
    assert type(scalar.mean) is type(scalar.u) is type(scalar.interval()[0]) is float
    assert type(scalar.not_finite) is int
    assert type(scalar.has_pole) is bool
    assert many.mean.shape == many.u.shape == many.interval()[0].shape == (2,)
    assert single.u.shape == (1,)
    assert (many.trials, many.seed, many.unit) == (1_000, 0, "1")


def test_everything_is_in_the_unit_of_the_quantity():
    bath = Temperature(20.0, "degC", limits(0.5), label="bath")
    drawn = bath.monte_carlo(50_000, seed=1)
    assert drawn.mean == pytest.approx(20.0, abs=0.01)
    assert drawn.u == pytest.approx(0.5 / math.sqrt(3), rel=0.02)
    warm = bath.to("degF").monte_carlo(50_000, seed=1)
    assert warm.mean == pytest.approx(drawn.mean * 1.8 + 32, rel=1e-12)
    assert warm.u == pytest.approx(drawn.u * 1.8, rel=1e-12)
    assert warm.interval(0.95, "symmetric") == pytest.approx(
        [1.8 * end + 32 for end in drawn.interval(0.95, "symmetric")], rel=1e-12
    )
    assert warm.interval_error()[0] == pytest.approx(1.8 * drawn.interval_error()[0], rel=1e-12)
    assert drawn.label == "bath"


def test_certain_quantity_has_constant_draws():
    drawn = Length([1.0, 2.0], "mm").monte_carlo(1_000)
    assert drawn.mean == pytest.approx([1.0, 2.0], rel=1e-15)
    assert drawn.u.tolist() == [0.0, 0.0]
    half = concatenate(Length(1.0, "m"), Length(2.0, "m", standard(0.1))).monte_carlo(1_000)
    assert half.u[0] == 0.0
    assert half.u[1] > 0.09


def test_moments_are_those_of_the_samples():
    drawn = model().monte_carlo(40_001, seed=3)  # several blocks, the last one short
    samples = drawn.samples()
    np.testing.assert_allclose(drawn.mean, samples.mean(axis=0), rtol=1e-13)
    np.testing.assert_allclose(drawn.u, samples.std(axis=0, ddof=1), rtol=1e-12)


def test_moments_of_a_small_spread_on_a_large_value():
    # a one-pass sum of squares would lose all digits here
    drawn = Ratio(1e9, "1", standard(1e-3)).monte_carlo(100_000, seed=3)
    assert drawn.u == pytest.approx(1e-3, rel=0.02)


def test_text_says_how_it_was_drawn():
    # Sobol points looked like draws
    x = Ratio([1.0, 2.0], "%", standard(0.1), label="slip")
    assert repr(x.monte_carlo(1_000, seed=3)) == (
        "MonteCarloResult('slip', 2 readings in %, 1000 random draws, seed=3)"
    )
    assert repr(x[0].monte_carlo(1_000, sampler="sobol")) == (
        "MonteCarloResult('slip', 1 value in %, 1024 Sobol points, seed=0)"
    )


# -- numerical errors of intervals -------------------------------------------------------------
@pytest.mark.parametrize(
    ("level", "needed"), [(0.999, 16_384), (0.99, 2_048), (0.98, 1_024), (0.005, 1_024)]
)
@pytest.mark.parametrize("kind", ["symmetric", "shortest"])
def test_numerical_error_from_too_few_sobol_points_says_how_many_it_takes(level, needed, kind):
    # spoke of "64 trials" where 512 had been drawn, and of more than 200 where 2048 were needed.
    # An interval leaves two draws outside [JCGM 101, 7.7]: 1.5/(1 - level) in each of 8
    # scramblings, whose length is a power of two; and it holds one, 0.5/level
    x = Ratio(1.0, "1", standard(0.1))
    for trials in (512, needed // 2):
        few = x.monte_carlo(trials, sampler="sobol")
        text = f"{trials} Sobol points are 8 scramblings of {trials // 8},.*trials={needed} or more"
        with pytest.raises(RangeError, match=text):
            few.interval_error(level, kind)
    enough = x.monte_carlo(needed, sampler="sobol")
    assert np.isfinite(enough.interval_error(level, kind)).all()


@pytest.mark.parametrize("level", [0.97, 0.95, 0.5, 0.02])
def test_fewest_sobol_points_suffice_for_usual_levels(level):
    drawn = Ratio(1.0, "1", standard(0.1)).monte_carlo(2, sampler="sobol")
    assert drawn.trials == 512
    assert np.isfinite(drawn.interval_error(level)).all()


def test_numerical_error_from_too_few_draws_speaks_of_all_draws():
    drawn = Ratio(1.0, "1", standard(0.1)).monte_carlo(150)
    with pytest.raises(RangeError, match=r"150 trials are too few.*level 0\.99.*more than 200"):
        drawn.interval_error(0.99)


# -- refusals ----------------------------------------------------------------------------------
@pytest.mark.parametrize("trials", [0, 1, -5, 2.5, math.nan, math.inf, "1000", None, True, [1000]])
def test_trials_that_are_no_positive_whole_number_are_refused_with_themselves(trials):
    with pytest.raises(RangeError) as refusal:
        Ratio(1.0, "1", standard(0.1)).monte_carlo(trials)
    assert str(trials) in str(refusal.value)


def test_trials_may_be_written_as_a_power_of_ten():
    assert Ratio(1.0, "1", standard(0.1)).monte_carlo(1e3).trials == 1_000
    assert Ratio(1.0, "1", standard(0.1)).monte_carlo(np.int64(1_000)).trials == 1_000


@pytest.mark.parametrize("seed", [-1, 1.5, "1", True])
def test_seed_that_is_no_whole_number_is_refused_with_itself(seed):
    with pytest.raises(RangeError, match=f"seed={seed!r}"):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(1_000, seed=seed)


@pytest.mark.parametrize("workers", [0, -1, 1.5, "2", True, None])
def test_workers_must_be_a_positive_whole_number(workers):
    with pytest.raises(RangeError, match=f"workers={workers!r}"):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(1_000, workers=workers)


def test_what_is_no_quantity_is_refused():
    for attempt in (
        lambda: monte_carlo(2.0),
        lambda: monte_carlo_joint([Ratio(1.0, "1"), 2.0]),
        lambda: monte_carlo_joint([]),
        lambda: monte_carlo_joint(Ratio(1.0, "1", standard(0.1))),
    ):
        with pytest.raises((DimensionError, FlowuncError)):
            attempt()


def test_misspelt_option_fails():
    with pytest.raises(TypeError):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(1_000, sead=1)


@pytest.mark.parametrize("trials", [10**12, 1e10])
def test_trials_beyond_reason_are_refused(trials):
    # these were drawn until the program was killed
    with pytest.raises(RangeError, match="expected at most 1,000,000,000"):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(trials)


def test_number_of_trials_beyond_any_array_is_refused():
    with pytest.raises(RangeError):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(10**30)


def test_the_reason_for_lost_draws_names_overflow():
    with pytest.warns(FlowuncWarning, match="a result too large"):
        np.exp(Ratio(700.0, "1", standard(10.0))).monte_carlo(5_000)


@pytest.mark.parametrize("names", [np.array(["7", "8"]), np.array([7, 8])])
def test_names_may_come_in_an_array(names):
    q = 1.0 / Ratio([1.0, 9.0], "1", standard(0.5))
    with pytest.warns(FlowuncWarning, match=", 7: a denominator changes sign"):
        monte_carlo(q, 5000, names=names)


def test_warnings_call_readings_by_their_names():
    q = np.exp(Ratio([0.0, 700.0], "1", standard(10.0))).labelled("gain")
    with pytest.warns(FlowuncWarning, match="gain, run B: .* draws have no finite value"):
        monte_carlo(q, 5000, names=("run A", "run B"))
    with pytest.warns(FlowuncWarning, match="gain, reading 1: .* draws have no finite value"):
        monte_carlo(q, 5000)
    with pytest.raises(ShapeError, match="1 for the 2 readings of gain"):
        monte_carlo(q, 5000, names=("run A",))


@pytest.mark.parametrize(
    ("dof", "has_mean", "has_u"),
    [(1, False, False), (1.5, True, False), (2, True, False), (2.5, True, True)],
)
def test_moments_are_those_that_the_t_distribution_has(dof, has_mean, has_u):
    # a mean from more than 1 degree of freedom on, a variance from more than 2 [JCGM 101, 6.4.9.4]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FlowuncWarning)
        drawn = Length(1.0, "m", standard(0.1, dof=dof), standard(0.1)).monte_carlo(2_000, seed=1)
    assert math.isfinite(drawn.mean) is has_mean
    assert math.isfinite(drawn.u) is has_u


@pytest.mark.parametrize(
    ("statement", "kurtosis", "digits"),
    # fourth moment over the square of the second: textbook values of the distributions
    [(standard(0.3), 3.0, 0.02), (limits(0.3), 1.8, 0.02), (exponential(0.3), 9.0, 0.15)],
)
def test_numerical_errors_of_mean_and_u_are_those_of_sampling(statement, kurtosis, digits):
    # variance of a mean: u^2/n; of a sample variance: (kurtosis - 1) u^4/n for large n, and half
    # of the relative error of a variance is that of its root
    trials = 200_000
    drawn = Length(1.0, "m", statement).monte_carlo(trials, seed=4)
    assert drawn.mean_error == pytest.approx(drawn.u / math.sqrt(trials), rel=1e-3)
    expected = drawn.u * math.sqrt((kurtosis - 1) / trials) / 2
    assert drawn.u_error == pytest.approx(expected, rel=digits)


@pytest.mark.parametrize(("statement", "kurtosis"), [(standard(0.2), 3.0), (limits(0.3), 1.8)])
def test_stated_error_of_u_is_that_of_a_standard_deviation(statement, kurtosis):
    # the variance of a sample variance is (mu_4 - sigma^4)/n, half of its root relative for u
    drawn = Ratio(1.0, "1", statement).monte_carlo(100_000, seed=1)
    expected = math.sqrt((kurtosis - 1) / 100_000) / 2
    assert drawn.u_error / drawn.u == pytest.approx(expected, rel=0.03)
