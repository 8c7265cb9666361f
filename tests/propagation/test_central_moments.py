"""Skewness and kurtosis against scipy.stats and against integrals of published densities."""

from __future__ import annotations

import numpy as np
import pytest
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
from flowunc.core.errors import PropagationError
from flowunc.propagation.central_moments import shape_of

CASES = [
    (Normal(0.3), stats.norm()),
    (Rectangular(0.3), stats.uniform()),
    (Triangular(2.0), stats.triang(0.5)),
    # flat over the middle 40 % of the base
    (Trapezoidal(0.3, 0.4), stats.trapezoid(0.3, 0.7)),
    (Trapezoidal(0.3, 0.95), stats.trapezoid(0.025, 0.975)),
    (Arcsine(0.3), stats.arcsine()),
    (Exponential(0.3), stats.expon()),
]


@pytest.mark.parametrize(("distribution", "known"), CASES, ids=lambda item: str(item)[:30])
def test_shape_is_that_of_scipy(distribution, known):
    skewness, excess = (float(moment) for moment in known.stats("sk"))
    found = shape_of(distribution)
    assert found.skewness == pytest.approx(skewness, abs=1e-12)
    assert found.kurtosis == pytest.approx(3 + excess, rel=1e-8)


def test_mirrored_exponential_has_the_opposite_skewness():
    assert shape_of(Exponential(-2.0)) == (-2.0, 9.0)


@pytest.mark.parametrize("inexact", [0.01, 0.4, 1.0])
def test_rectangle_with_inexact_limits(inexact):
    # density [JCGM 101, 6.4.3.2] about 0, half-width 1: ln((1 + d)/max(|x|, 1 - d))/(4 d)
    def density(x):
        return np.log((1 + inexact) / max(abs(x), 1 - inexact)) / (4 * inexact)

    def moment(order):
        middle, end = 1 - inexact, 1 + inexact
        inner = integrate.quad(lambda x: x**order * density(x), 0, middle)[0]
        return 2 * (inner + integrate.quad(lambda x: x**order * density(x), middle, end)[0])

    assert moment(0) == pytest.approx(1, rel=1e-9)
    found = shape_of(InexactRectangular(0.2, 0.2 * inexact))
    assert found.kurtosis == pytest.approx(moment(4) / moment(2) ** 2, rel=1e-8)
    assert found.skewness == 0.0


def test_exact_limits_are_a_rectangle_even_of_no_width():
    assert shape_of(InexactRectangular(0.2, 0.0)).kurtosis == pytest.approx(1.8, rel=1e-15)
    wide = shape_of(InexactRectangular([0.2, 0.0, 1.0], [0.0, 0.0, 1.0])).kurtosis
    np.testing.assert_allclose(wide[:2], 1.8, rtol=1e-15)


def test_one_shape_for_each_reading():
    found = shape_of(Trapezoidal([1.0, 1.0, 2.0], [0.0, 1.0, 1.0])).kurtosis
    np.testing.assert_allclose(found, [2.4, 1.8, 1.8], rtol=1e-14)  # triangle, rectangles


@pytest.mark.parametrize("dof", [1.0, 3.0, 50.0])
def test_scaled_t_counts_as_normal(dof):
    assert shape_of(ScaledT(0.1, dof)) == (0.0, 3.0)


def test_a_distribution_of_another_class_is_refused():
    class Cauchy(Distribution):
        name = "cauchy"

        def _draw(self, generator, out):
            out[:] = generator.standard_cauchy(out.size)

    with pytest.raises(PropagationError, match=r"'cauchy'.*normal=True"):
        shape_of(Cauchy())
