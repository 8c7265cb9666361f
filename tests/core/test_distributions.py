"""Distributions against scipy.stats, mixture integrals and closed forms of [JCGM 101]."""

from __future__ import annotations

import copy
import itertools
import math
import pickle
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate, stats

from flowunc.core.distributions import (
    Arcsine,
    Distribution,
    Exponential,
    InexactRectangular,
    Normal,
    Rectangular,
    ScaledT,
    Trapezoidal,
    Triangular,
)
from flowunc.core.errors import RangeError, ShapeError, StatementError

# Each law beside an independent one: scipy.stats, located so that its mean is zero.
REFERENCES = [
    (Normal(0.3), stats.norm(scale=0.3)),
    (Rectangular(0.3), stats.uniform(-0.3, 0.6)),
    (Triangular(0.3), stats.triang(0.5, -0.3, 0.6)),
    (Trapezoidal(0.3, 0.0), stats.triang(0.5, -0.3, 0.6)),
    (Trapezoidal(0.3, 0.4), stats.trapezoid(0.3, 0.7, -0.3, 0.6)),
    (Trapezoidal(0.3, 1.0), stats.uniform(-0.3, 0.6)),
    (Arcsine(0.3), stats.arcsine(-0.3, 0.6)),
    (Exponential(0.3), stats.expon(-0.3, 0.3)),
    (ScaledT(0.3, 1.0), stats.t(1.0, scale=0.3)),
    (ScaledT(0.3, 4.0), stats.t(4.0, scale=0.3)),
    (ScaledT(0.3, 250.5), stats.t(250.5, scale=0.3)),
    (InexactRectangular(0.3, 0.0), stats.uniform(-0.3, 0.6)),
]
REFERENCE_IDS = [repr(law) for law, _ in REFERENCES]
LAWS = [law for law, _ in REFERENCES] + [
    Exponential(-0.3),
    InexactRectangular(0.3, 1e-9),
    InexactRectangular(0.3, 0.1),
    InexactRectangular(0.3, 0.3),
]
SYMMETRIC = [law for law in LAWS if not isinstance(law, Exponential)]
LOWER = np.concatenate([10.0 ** np.arange(-12.0, -1.0), np.linspace(0.02, 0.49, 15), [0.5]])
LEVELS = np.concatenate([LOWER, 1.0 - LOWER])
MIXED = [(0.3, 0.1), (0.3, 0.3), (0.3, 1e-3), (2.0, 1.9)]
every_law = pytest.mark.parametrize("law", LAWS, ids=repr)


def seeded() -> np.random.Generator:
    return np.random.default_rng(20240611)


def mixture_tail(half_width: float, inexact: float, x: float) -> float:
    """Integrate the rectangular upper tail over equally likely limits [JCGM 101, 6.4.3.1]."""
    low, high = half_width - inexact, half_width + inexact
    tail = integrate.quad(
        lambda limit: stats.uniform.sf(x, -limit, 2.0 * limit),
        max(low, x),  # a limit below x leaves nothing beyond x
        high,
        epsabs=0.0,
        epsrel=1e-12,
    )[0]
    return float(tail / (2.0 * inexact))


@pytest.mark.parametrize(("law", "reference"), REFERENCES, ids=REFERENCE_IDS)
def test_quantiles_and_cdf_agree_with_scipy_stats_in_both_tails(law, reference):
    low, high = reference.ppf(LOWER), reference.isf(LOWER)
    # Next to a limit the last bits of x move the probability; how far, the reference says itself.
    bits = 2e-16
    slack = 1e-11 * LOWER + reference.cdf(low + bits) - reference.cdf(low - bits)
    assert np.all(np.abs(law.cdf(low) - LOWER) <= slack)
    slack = 1e-14 + reference.cdf(high + bits) - reference.cdf(high - bits)
    assert np.all(np.abs(law.cdf(high) - (1.0 - LOWER)) <= slack)
    assert_allclose(law.quantile(LOWER), low, rtol=1e-11, atol=1e-15)
    upper = 1.0 - LOWER
    assert_allclose(law.quantile(upper), reference.isf(1.0 - upper), rtol=1e-11, atol=1e-15)


@pytest.mark.parametrize(
    ("law", "reference"),
    [pair for pair in REFERENCES if isinstance(pair[0], Normal | ScaledT)],
    ids=repr,
)
def test_unlimited_laws_keep_relative_accuracy_far_out(law, reference):
    x = reference.ppf(LOWER)
    assert_allclose(law.cdf(x), LOWER, rtol=1e-11)
    assert_array_equal(law.cdf([-math.inf, math.inf]), [0.0, 1.0])


def test_t_matches_the_closed_form_of_two_degrees_of_freedom():
    # F(x) = 1/2 + x/(2 sqrt(2 + x^2)), so x = (2p - 1)/sqrt(2 p (1 - p)); integration by hand.
    p = LOWER[:-1]
    assert_allclose(
        ScaledT(1.0, 2.0).quantile(p), (2.0 * p - 1.0) / np.sqrt(2.0 * p * (1.0 - p)), rtol=1e-12
    )


@pytest.mark.parametrize(("law", "reference"), REFERENCES, ids=REFERENCE_IDS)
def test_standard_deviation_is_that_of_scipy_stats(law, reference):
    expected = math.inf if law == ScaledT(0.3, 1.0) else reference.std()
    assert law.standard_deviation == pytest.approx(expected, rel=1e-13, abs=0.0)
    assert type(law.standard_deviation) is float
    assert type(law.standard_uncertainty) is float
    if not isinstance(law, ScaledT):
        assert law.standard_uncertainty == law.standard_deviation


def test_t_tells_the_scale_to_the_law_of_propagation():
    # [JCGM 100, 4.2.3] takes s/sqrt(n) itself; [JCGM 101, 6.4.9.4] gives the variance,
    # which exists above two degrees of freedom only.
    law = ScaledT([1.0, 1.0, 2.0, 0.0], [2.0, 1.5, 4.0, 1.0])
    assert_array_equal(law.standard_uncertainty, [1.0, 1.0, 2.0, 0.0])
    assert_allclose(law.standard_deviation, [math.inf, math.inf, math.sqrt(8.0), 0.0])


@pytest.mark.parametrize(("half_width", "inexact"), MIXED)
def test_inexact_limits_agree_with_the_mixture_integral(half_width, inexact):
    law = InexactRectangular(half_width, inexact)
    inside = half_width - inexact
    xs = [0.0, 0.4 * inside, inside, *(inside + inexact * np.array([1e-3, 0.5, 1.0, 1.7, 1.99]))]
    expected = [mixture_tail(half_width, inexact, x) for x in xs]
    assert_allclose(law.cdf(np.negative(xs)), expected, rtol=1e-9)
    assert_allclose(law.cdf(xs), 1.0 - np.array(expected), atol=1e-13)
    assert_allclose(-law.quantile(expected), xs, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize(("half_width", "inexact"), MIXED)
def test_inexact_limits_have_the_variance_of_the_guide(half_width, inexact):
    # [JCGM 101, 6.4.3.3]: variance (b - a)^2/12 + d^2/9 with b - a = 2 half_width [M].
    law = InexactRectangular(half_width, inexact)
    variance = half_width**2 / 3.0 + inexact**2 / 9.0
    assert law.standard_uncertainty**2 == pytest.approx(variance, rel=1e-13, abs=0.0)
    # E[X^2] = 2 * integral of 2 x P(X > x), from the cdf alone.
    pieces = [0.0, half_width - inexact, half_width + inexact]
    second = sum(
        integrate.quad(lambda x: 4.0 * x * float(law.cdf(-x)), a, b, epsrel=1e-11)[0]
        for a, b in itertools.pairwise(pieces)
    )
    assert second == pytest.approx(variance, rel=1e-9)


@pytest.mark.parametrize("ratio", [1e-17, 1e-12, 1e-6, 0.01, 0.9, 1.0 - 1e-12])
def test_a_small_or_full_inexactness_joins_on_smoothly(ratio):
    # Near the limit the tail is (x_max - x)^2/(8 d x_max) to first order: half the square of the
    # wedge between the density of the middle and zero, expanded by hand.
    law, tail = InexactRectangular(1.0, ratio), 1e-12
    if ratio < 1e-9:
        assert_allclose(law.quantile(LEVELS), stats.uniform(-1.0, 2.0).ppf(LEVELS), atol=3e-12)
    else:
        gap = math.sqrt(8.0 * ratio * (1.0 + ratio) * tail)
        assert float(law.quantile(tail)) == pytest.approx(gap - (1.0 + ratio), abs=1e-5 * gap)


@pytest.mark.parametrize("inexact", [2.0**-20, 2.0**-6, 0.25, 1.0])
@pytest.mark.parametrize("share", [2.0**-14, 2.0**-8, 0.125, 0.5])
def test_inexact_limits_keep_their_digits_next_to_the_limit(inexact, share):
    # Powers of two make the limit, x and their distance exact. Limits l from x to the largest
    # leave (l - x)/(2 l) beyond x each; their mean is integrated over the distance l - x.
    gap = 2.0 * inexact * share
    x = 1.0 + inexact - gap
    beyond = integrate.quad(lambda s: s / (2.0 * (x + s)), 0.0, gap, epsabs=0.0, epsrel=1e-13)[0]
    tail = beyond / (2.0 * inexact)
    law = InexactRectangular(1.0, inexact)
    assert float(law.cdf(-x)) == pytest.approx(tail, rel=1e-12, abs=0.0)
    assert float(law.quantile(tail)) == pytest.approx(-x, rel=1e-15, abs=0.0)


@pytest.mark.parametrize(
    ("law", "probability"),
    [
        (Rectangular(1.0), lambda y: y / 2.0),
        (Triangular(1.0), lambda y: y**2 / 2.0),
        (Trapezoidal(1.0, 0.5), lambda y: y**2 / 1.5),
        (Arcsine(1.0), lambda y: math.sqrt(2.0 * y) * (1.0 + y / 12.0) / math.pi),
        (Exponential(1.0), lambda y: y - y**2 / 2.0),
    ],
    ids=repr,
)
@pytest.mark.parametrize("y", [2.0**-30, 2.0**-50])
def test_cdf_keeps_its_digits_a_short_way_above_the_lower_limit(law, probability, y):
    # Expansion of each density about its lower limit -1, integrated by hand over 0 to y.
    assert float(law.cdf(y - 1.0)) == pytest.approx(probability(y), rel=1e-14, abs=0.0)


@pytest.mark.parametrize("law", SYMMETRIC, ids=repr)
def test_symmetric_laws_mirror_exactly(law):
    p = 2.0 ** -np.arange(2.0, 40.0)  # 1 - p is exact
    assert_array_equal(law.quantile(1.0 - p), -law.quantile(p))
    assert law.quantile(0.5) == 0.0
    assert law.cdf(0.0) == 0.5


def test_negative_mean_mirrors_the_exponential():
    mirrored = stats.expon(-0.3, 0.3)
    assert_allclose(Exponential(-0.3).quantile(LOWER), -mirrored.isf(LOWER), rtol=1e-12, atol=1e-15)
    x = -mirrored.isf(LOWER)
    assert_allclose(Exponential(-0.3).cdf(x), LOWER, rtol=1e-13)
    assert_array_equal(Exponential(-0.3).cdf([0.31, math.inf, -math.inf]), [1.0, 1.0, 0.0])


@pytest.mark.parametrize("x", [1e-9, 1e-5, 0.3, 0.999, 1.001, 50.0])
def test_cauchy_law_near_its_middle(x):
    # closed form 1/2 + arctan(x)/pi [JCGM 101, 6.4.9 for one degree of freedom]
    expected = 0.5 + math.atan(x) / math.pi
    assert float(ScaledT(1.0, 1.0).cdf(x)) == pytest.approx(expected, rel=4e-16)


@every_law
@given(data=st.data())
def test_quantile_undoes_cdf(law, data):
    x = float(law.quantile(data.draw(st.floats(1e-9, 1.0 - 1e-9))))
    p = float(law.cdf(x))
    assume(0.0 < p < 1.0)
    # Rounding p by half a unit moves x by that over the density, here from a difference of cdf.
    step = 1e-7 * max(abs(x), 0.3)
    density = (float(law.cdf(x + step)) - float(law.cdf(x - step))) / (2.0 * step)
    slack = 1e-13 + 1e-15 / max(density, 1e-15)
    assert float(law.quantile(p)) == pytest.approx(x, rel=1e-10, abs=slack)


@every_law
def test_draws_follow_the_law(law):
    draws = np.empty(40_000)
    law.sample(seeded(), draws)
    assert stats.kstest(draws, law.cdf).pvalue > 0.01
    if not isinstance(law, ScaledT):
        u = law.standard_deviation
        assert abs(draws.mean()) < 4.0 * u / math.sqrt(draws.size)
        fourth = ((draws / u) ** 4).mean()
        spread = u * math.sqrt((fourth - 1.0) / 4.0 / draws.size)  # of a standard deviation
        assert abs(draws.std() - u) < 4.0 * spread


@pytest.mark.parametrize(
    ("law", "limit"),
    [
        (Rectangular(0.3), 0.3),
        (Triangular(0.3), 0.3),
        (Trapezoidal(0.3, 0.9), 0.3),
        (Arcsine(0.3), 0.3),
        (InexactRectangular(0.3, 0.1), 0.4),
    ],
    ids=repr,
)
def test_draws_keep_within_the_limits_and_come_near_them(law, limit):
    draws = np.empty(100_000)
    law.sample(seeded(), draws)
    assert limit * 0.98 < np.abs(draws).max() <= limit * (1.0 + 1e-15)


@every_law
@pytest.mark.parametrize("n", [1, 7, 1000])
def test_a_short_array_gets_the_first_draws_of_a_long_one(law, n):
    short, long = np.empty(n), np.empty(20_011)
    law.sample(seeded(), short)
    law.sample(seeded(), long)
    assert_array_equal(short, long[:n])


@every_law
def test_two_calls_draw_what_one_call_does(law):
    whole, parts, generator = np.empty(5003), np.empty(5003), seeded()
    law.sample(seeded(), whole)
    law.sample(generator, parts[:13])
    law.sample(generator, parts[13:13])
    law.sample(generator, parts[13:])
    assert_array_equal(parts, whole)
    assert np.unique(whole).size == whole.size


def test_arcsine_draws_are_the_sine_of_the_uniform_stream():
    # [JCGM 101, 6.4.6]: a sine of a uniform phase; here numpy's sine is the reference.
    draws = np.empty(5000)
    Arcsine(2.0).sample(seeded(), draws)
    assert_allclose(draws, 2.0 * np.sin(np.pi * (seeded().random(5000) - 0.5)), rtol=1e-14)


def test_inexact_draws_follow_the_procedure_of_the_guide():
    # [JCGM 101, 6.4.3.4]: draw the lower limit, mirror it for the upper one, draw between.
    # The first of each pair is taken as 1 - r, as likely as r.
    first, second = seeded().random((5000, 2)).T
    lower = (-0.3 - 0.1) + 2.0 * 0.1 * (1.0 - first)
    draws = np.empty(5000)
    InexactRectangular(0.3, 0.1).sample(seeded(), draws)
    assert_allclose(draws, lower + (-lower - lower) * second, rtol=1e-12, atol=1e-15)


@every_law
def test_scaling_multiplies_quantiles_of_either_sign(law):
    p = np.array([1e-6, 0.02, 0.3, 0.5, 0.9])
    assert_allclose(law.scaled(4.0).quantile(p), 4.0 * law.quantile(p), rtol=1e-14)
    mirrored = law.scaled(-4.0)
    assert type(mirrored) is type(law)
    assert_allclose(mirrored.quantile(p), -4.0 * law.quantile(1.0 - p), rtol=1e-9, atol=1e-12)
    assert mirrored.standard_uncertainty == pytest.approx(4.0 * law.standard_uncertainty)
    assert mirrored.standard_deviation == pytest.approx(4.0 * law.standard_deviation)
    assert law.scaled(0.0).is_zero


@every_law
def test_a_factor_for_each_reading_gives_a_law_for_each_reading(law):
    many = law.scaled([1.0, -2.0, 0.0])
    assert law.size is None
    assert many.size == 3
    assert [many.at(i) for i in range(3)] == [law, law.scaled(-2.0), law.scaled(0.0)]
    assert many.take([2, 0]) == law.scaled([0.0, 1.0])
    assert many.take(np.array([False, True, False])).size == 1
    assert many.take(np.array([], dtype=int)).size == 0
    assert many.at(-1).is_zero
    assert not many.is_zero
    assert many.scaled(2.0).at(1) == law.scaled(-4.0)
    assert_allclose(many.standard_uncertainty, law.standard_uncertainty * np.array([1, 2, 0]))
    assert_allclose(many.standard_deviation[:2], law.standard_deviation * np.array([1, 2]))
    assert law.at(5) is law
    assert law.take([0, 0]) is law


def test_numbers_and_arrays_of_parameters_mix():
    law = ScaledT(0.5, [3, 8])
    assert law.at(1) == ScaledT(0.5, 8.0)
    assert law.take([1]) == ScaledT(0.5, [8.0])
    assert_allclose(Trapezoidal([1.0, 2.0], 0.5).standard_uncertainty, np.sqrt([1.25 / 6, 5.0 / 6]))


@pytest.mark.parametrize(
    "law",
    [
        Normal(0.0),
        Rectangular(0),
        Triangular(0),
        Trapezoidal(0, 0.5),
        Arcsine(0),
        Exponential(-0.0),
        ScaledT(0, 0.5),
        InexactRectangular(0, 0),
    ],
    ids=repr,
)
def test_no_width_means_no_error(law):
    draws = np.empty(9)
    law.sample(seeded(), draws)
    assert law.is_zero
    assert law.standard_uncertainty == law.standard_deviation == 0.0
    assert_array_equal(draws, 0.0)
    assert_array_equal(law.quantile([1e-9, 0.5, 0.9]), 0.0)
    assert_array_equal(law.cdf([-1e-300, 0.0, 1.0]), [0.0, 1.0, 1.0])


def test_parameters_are_read_only_copies():
    given_array = np.array([1.0, 2.0])
    law = Normal(given_array)
    given_array[0] = 9.0
    assert_array_equal(law.u, [1.0, 2.0])
    with pytest.raises(ValueError, match="read-only"):
        law.u[0] = 9.0
    with pytest.raises(AttributeError):
        law.u = 3.0


@every_law
@pytest.mark.parametrize("factor", [1.0, [1.0, 3.0]], ids=["number", "array"])
def test_copies_are_equal_and_stay_read_only(law, factor):
    law = law.scaled(factor)
    for twin in (pickle.loads(pickle.dumps(law)), copy.deepcopy(law), copy.copy(law)):
        assert twin == law
        assert hash(twin) == hash(law)
        assert twin.scaled(2.0) != law
        if law.size:
            with pytest.raises(ValueError, match="read-only"):
                twin.scaled(1.0)._parameters()[0][0] = 1.0
            with pytest.raises(ValueError, match="read-only"):
                twin._parameters()[0][0] = 1.0


def test_zero_of_either_sign_is_the_same_law():
    assert hash(Exponential(-0.0)) == hash(Exponential(0.0))
    assert hash(Exponential([-0.0, 1.0])) == hash(Exponential([0.0, 1.0]))


def test_different_laws_of_the_same_numbers_differ():
    assert Rectangular(1.0) != Triangular(1.0)
    assert Normal(1.0) != Normal([1.0])
    assert Normal(1.0) != 1.0


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Normal(-0.1), r"normal .*u is -0\.1; expected 0 or more"),
        (lambda: Rectangular([1.0, -2.5]), r"half_width is -2\.5 at reading 1; expected 0"),
        (lambda: Triangular(math.nan), "triangular .*half_width is nan; expected a finite"),
        (lambda: Arcsine([math.inf, 1.0]), "half_width is inf at reading 0; expected a finite"),
        (lambda: Exponential(math.inf), "mean is inf; expected a finite"),
        (lambda: Normal("wide"), "u is 'wide'; expected a finite number"),
        (lambda: Normal(None), "u is None; expected a finite number"),
        (lambda: Normal(True), "u is True; expected a finite number"),
        (lambda: Normal(1j), "u is 1j; expected a finite number"),
        (lambda: Normal([[1.0]]), "expected a finite number, or a 1-d array"),
        (lambda: Normal([[1.0], [1.0, 2.0]]), "expected a finite number, or a 1-d array"),
        (lambda: Trapezoidal(1.0, 1.1), r"top is 1\.1; expected 0 to 1"),
        (lambda: Trapezoidal(1.0, -0.1), r"top is -0\.1; expected 0 to 1"),
        (lambda: Trapezoidal(-1.0, 0.1), r"half_width is -1\.0; expected 0 or more"),
        (lambda: ScaledT(1.0, 0.0), r"dof is 0\.0; expected above 0"),
        (lambda: ScaledT(1.0, [3.0, -1.0]), r"dof is -1\.0 at reading 1; expected above 0"),
        (lambda: ScaledT(1.0, math.inf), "dof is inf; expected a finite"),
        (lambda: ScaledT([1.0, 2.0], [1.0, 2.0, 3.0]), r"numbers for \[2, 3\] readings"),
        (lambda: InexactRectangular(1.0, 1.5), r"inexact is 1\.5; expected 0 to half_width"),
        (lambda: InexactRectangular([3.0, 1.0], 2.0), "inexact is 2.0; expected 0 to half_width"),
        (lambda: InexactRectangular(1.0, -0.5), r"inexact is -0\.5; expected 0 or more"),
        (lambda: Normal([1.0, 2.0]).scaled([1.0, 2.0, 3.0]), r"numbers for \[2, 3\] readings"),
        (lambda: Normal(1.0).scaled(math.nan), "factor is nan; expected a finite"),
        (lambda: Normal([1.0, 2.0]).quantile(0.5), r"2 readings: take at\(reading\) first"),
        (lambda: Normal([1.0, 2.0]).cdf(0.5), r"2 readings: take at\(reading\) first"),
        (lambda: Normal([1.0]).sample(seeded(), np.empty(3)), r"take at\(reading\) first"),
    ],
)
def test_what_is_refused_says_what_was_given(make, message):
    with pytest.raises(StatementError, match=message):
        make()


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, 95, [0.5, math.nan]])
def test_a_level_outside_zero_to_one_is_refused(p):
    with pytest.raises(RangeError, match="expected above 0 and below 1"):
        Normal(1.0).quantile(p)


def test_cdf_refuses_nan():
    with pytest.raises(RangeError, match="nan"):
        Normal(1.0).cdf([0.0, math.nan])


@pytest.mark.parametrize(
    "out", [np.empty((2, 3)), np.empty(6)[::2], np.empty(3, dtype=np.float32), np.empty(3, int)]
)
def test_sample_refuses_an_array_it_cannot_fill(out):
    for law in (Normal(1.0), Triangular(1.0), ScaledT(1.0, 3.0)):
        with pytest.raises(ShapeError, match="contiguous 1-d float64"):
            law.sample(seeded(), out)


def test_the_base_class_is_abstract():
    with pytest.raises(TypeError, match="abstract"):
        Distribution()


def test_import_leaves_scipy_stats_alone():
    code = "import sys, flowunc.core.distributions; sys.exit('scipy.stats' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
