"""Parameters of the distributions: what is no number, and degrees of freedom without a factor."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from scipy import special

from flowunc import StatementError, expanded, limits, standard
from flowunc.core.distributions import Normal, ScaledT
from flowunc.core.law_parameters import LEAST_DOF, parameter

MASKED = [
    np.ma.array([1.0, 2.0], mask=[False, True]),
    np.ma.masked,
    [1.0, np.ma.masked],
    (np.ma.masked, 1.0),
]


@pytest.mark.parametrize("given", MASKED, ids=["array", "alone", "in a list", "in a tuple"])
@pytest.mark.parametrize("make", [Normal, standard, limits, lambda u: expanded(u, k=2)])
def test_masked_entries_are_refused(make, given):
    # what lay under the mask was taken, or NaN with a warning of NumPy
    with pytest.raises(StatementError, match=r"masked|--"):
        make(given)


def test_a_mask_that_hides_nothing_is_no_reason():
    given = np.ma.array([1.0, 2.0], mask=[False, False])
    np.testing.assert_array_equal(parameter("normal", "u", given), [1.0, 2.0])


def test_fewer_degrees_of_freedom_than_have_a_factor_are_refused():
    # the tail of t beyond q is a regularised incomplete beta function of nu/(nu + q^2)
    def quantile(dof):
        with mpmath.workdps(30):
            nu = mpmath.mpf(dof)

            def tail(log_q):
                z = nu / (nu + mpmath.exp(2 * log_q))
                return mpmath.log(mpmath.betainc(nu / 2, 0.5, 0, z, regularized=True)) - mpmath.log(
                    0.05
                )

            return mpmath.exp(mpmath.findroot(tail, mpmath.log(20) / nu))

    assert float(special.stdtrit(LEAST_DOF, 0.975)) == pytest.approx(
        float(quantile(LEAST_DOF)), rel=1e-9
    )
    assert quantile(LEAST_DOF / 3) > 1.7e308
    for dof in (5e-324, 1e-300, 0.999 * LEAST_DOF):
        with pytest.raises(StatementError, match=r"0\.01 at least"):
            ScaledT(1.0, dof)
        with pytest.raises(StatementError, match=f"dof={dof!r}"):
            standard(1.0, dof=dof)
    assert math.isfinite(standard(1.0, dof=LEAST_DOF).degrees_of_freedom)
