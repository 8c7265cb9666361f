"""Draws without a finite value: counted and marked, with no word from NumPy."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import Ratio, cross_check, monte_carlo, monte_carlo_joint, standard

pytestmark = pytest.mark.filterwarnings("ignore::flowunc.FlowuncWarning", "error::RuntimeWarning")


@pytest.fixture
def beyond():
    """Exceeds float64 in about a tenth of the draws."""
    return np.exp(Ratio(700.0, "1", standard(10.0)))


def test_scatter_over_scramblings(beyond):
    assert np.isnan(monte_carlo(beyond, 5000, sampler="sobol").mean_error)


def test_cross_check(beyond):
    assert not cross_check(beyond).holds.any()


@pytest.mark.parametrize("name", ["covariance", "correlation"])
def test_covariances(beyond, name):
    assert np.isnan(getattr(monte_carlo_joint([beyond, beyond + 1.0], 5000), name)())
