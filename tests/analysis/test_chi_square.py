"""Chi-square of correlated deviations against scipy.stats and matrix inversion."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc.analysis.chi_square import ChiSquare, joint_chi_square


@pytest.mark.parametrize(("value", "dof"), [(0.5, 1), (3.84, 1), (11.866353194, 8), (300.0, 250)])
def test_probability_is_that_of_the_distribution(value: float, dof: int) -> None:
    assert ChiSquare(value, dof).p_value == pytest.approx(stats.chi2.sf(value, dof), rel=1e-12)


def test_value_is_the_quadratic_form_of_the_inverse() -> None:
    rng = np.random.default_rng(3)
    factor = rng.normal(size=(6, 6))
    covariance = factor @ factor.T
    u = np.sqrt(np.diag(covariance))
    d = rng.normal(size=6)
    found = joint_chi_square(d / u, covariance / np.outer(u, u), np.zeros(6))
    assert found.value == pytest.approx(d @ np.linalg.inv(covariance) @ d, rel=1e-9)
    assert found.dof == 6


def test_rank_counts_independent_errors() -> None:
    # five readings, two errors behind them: the pseudo-inverse gives the same sum
    gains = np.array([[1.0, 1, 1, 1, 1], [1, 2, 3, 4, 5]])
    errors = np.array([0.3, -0.2])
    covariance = gains.T @ gains
    u = np.sqrt(np.diag(covariance))
    d = gains.T @ errors
    found = joint_chi_square(d / u, covariance / np.outer(u, u), np.full(5, 1e-15))
    assert found.dof == 2
    assert found.value == pytest.approx(errors @ errors, rel=1e-8)
    d[2] += 0.01
    beyond = joint_chi_square(d / u, covariance / np.outer(u, u), np.full(5, 1e-15))
    assert beyond.value == math.inf
    assert "5 deviations have only 2 independent errors" in beyond.reason


def test_nothing_to_test() -> None:
    found = joint_chi_square(np.zeros(0), np.zeros((0, 0)), np.zeros(0))
    assert found.dof == 0
    assert math.isnan(found.p_value)
    assert found.verdict == ""
    assert "no chi-square" in str(found)


@pytest.mark.parametrize(
    ("p", "verdict"),
    [(0.049, "too large"), (0.051, "as stated"), (0.949, "as stated"), (0.951, "too small")],
)
def test_verdict_at_its_edges(p: float, verdict: str) -> None:
    assert ChiSquare(float(stats.chi2.isf(p, 3)), 3).verdict == verdict


@pytest.mark.parametrize(
    ("value", "dof", "text"),
    [
        # p from a table of chi-square: 1.323 is exceeded with 0.25 at 1 degree of freedom, 9.236
        # with 0.10 at 5
        (1.323, 1, "chi-square 1.32 on 1 degree of freedom, p = 0.25"),
        (9.236, 5, "chi-square 9.24 on 5 degrees of freedom, p = 0.10"),
        (100.0, 3, "chi-square 100 on 3 degrees of freedom, p = 2e-21"),
        (0.001, 3, "chi-square 0.001 on 3 degrees of freedom, p above 0.99"),
        (math.inf, 3, "chi-square inf on 3 degrees of freedom, p = 0"),
    ],
)
def test_text(value: float, dof: int, text: str) -> None:
    assert str(ChiSquare(value, dof)) == text
