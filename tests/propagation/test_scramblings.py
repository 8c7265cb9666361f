"""Errors of statistics over scramblings, against scipy.stats.sem of the parts."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from scipy import stats

from flowunc.propagation.scramblings import error_over_scramblings

SCRAMBLINGS, LENGTH = 4, 50
PARTS = np.random.default_rng(3).normal(2.0, 1.0, (SCRAMBLINGS, LENGTH))


@pytest.mark.parametrize("size", [1e-300, 1e-200, 1.0, 1e200, 1e300])
@pytest.mark.parametrize("statistic", [np.mean, np.std, lambda part: np.quantile(part, [0.1, 0.9])])
def test_error_is_that_of_the_mean_of_independent_parts(size, statistic):
    # the standard error of a mean of m observations: s/sqrt(m) [JCGM 100, 4.2.3]
    expected = stats.sem([statistic(part) for part in PARTS])
    found = error_over_scramblings(PARTS.ravel() * size, SCRAMBLINGS, statistic, size)
    assert found.shape == expected.shape
    np.testing.assert_allclose(found / size, expected, rtol=1e-12)


@pytest.mark.parametrize("draw", [math.inf, -math.inf, math.nan])
def test_draws_that_are_not_finite_have_no_error_and_warn_of_nothing(draw):
    draws = PARTS.ravel().copy()
    draws[7] = draw
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = error_over_scramblings(draws, SCRAMBLINGS, np.mean, math.nan)
    assert math.isnan(found)


def test_sums_beyond_float64_beside_a_draw_without_a_value_warn_of_nothing():
    draws = np.array([1e308, 1e308, math.nan, 1.0])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert math.isnan(error_over_scramblings(draws, 2, np.mean, math.nan))
