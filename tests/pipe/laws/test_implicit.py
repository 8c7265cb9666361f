"""The closed solution by the Wright omega function."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from scipy.special import lambertw

from flowunc import Ratio, standard
from flowunc.pipe.laws.implicit import WRIGHT_OMEGA, friction_from_implicit, wright_omega


def test_omega_solves_its_equation() -> None:
    # w + ln w = z; from exp(-20) to large arguments
    w = np.geomspace(2e-9, 1e7, 40)
    found = wright_omega(Ratio(w + np.log(w), "1")).value
    np.testing.assert_allclose(found, w, rtol=1e-12)


def test_omega_is_lambert_of_the_exponential() -> None:
    z = np.linspace(-5, 20, 26)
    np.testing.assert_allclose(
        wright_omega(Ratio(z, "1")).value, lambertw(np.exp(z)).real, rtol=1e-13
    )


@pytest.mark.parametrize("w", [1e-6, 0.5, 1.0, 12.0, 1e6])
def test_derivative(w: float) -> None:
    # of the inverse z = w + ln w: dz/dw = 1 + 1/w
    z = Ratio(w + np.log(w), "1", standard(1e-3))
    assert wright_omega(z).covariance(z) / 1e-6 == pytest.approx(1 / (1 + 1 / w), rel=1e-9)


@pytest.mark.parametrize("a", [0.0, 1e-7, 0.0135])
@pytest.mark.parametrize("b", [1e-9, 6e-4])
def test_implicit_equation_is_met(a: float, b: float) -> None:
    x = friction_from_implicit(Ratio(a, "1"), Ratio(b, "1")).value ** -0.5
    assert -2 * np.log10(a + b * x) == pytest.approx(x, rel=1e-14)


def test_extreme_ratio_of_the_terms_does_not_overflow() -> None:
    # a/b = 1e13: exp of it does not exist, the solution is -2 log10(a)
    found = friction_from_implicit(Ratio(0.01, "1"), Ratio(1e-15, "1")).value
    assert found == pytest.approx(1 / 16, rel=1e-12)


def test_operation_pickles_by_name() -> None:
    assert pickle.loads(pickle.dumps(WRIGHT_OMEGA)) is WRIGHT_OMEGA
    made = wright_omega(Ratio(1.0, "1", standard(0.1)))
    assert (pickle.loads(pickle.dumps(made)) - made).u == 0.0
