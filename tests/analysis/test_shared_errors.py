"""Errors of several readings told from those of one, and the estimate of an unknown one."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc.analysis.shared_errors import Sources, estimate, sources_of
from flowunc.core.kinds import Length
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.statements import repeated, shared, standard
from flowunc.propagation.contributions import contributions


def sources(quantity: Quantity) -> Sources:
    rows = np.arange(len(quantity))
    return sources_of(contributions(quantity._node), rows, np.asarray(quantity._u_si()))


def test_sorts_of_errors() -> None:
    readings = Length([10.0, 20.0, 30.0, 40.0], "m", standard([0.1, 0.2, 0.3, 0.4]), label="rule")
    zeros = Length([0.0, 0.0], "m", standard(0.5), label="zero")
    datum = Length(0.0, "m", standard(0.7), label="datum")
    each_zero = concatenate([zeros[0], zeros[0], zeros[1], zeros[1]])
    d = readings - each_zero + datum
    found = sources(d)
    by_label = {each.label: each for each in found.shared}
    assert set(by_label) == {"zero, reading 0", "zero, reading 1", "datum"}
    np.testing.assert_allclose(by_label["zero, reading 0"].values, [-0.5, -0.5, 0, 0])
    np.testing.assert_allclose(by_label["datum"].values, 0.7)
    np.testing.assert_allclose(found.own, np.square([0.1, 0.2, 0.3, 0.4]))
    assert found.left_out == ("rule (an error of single readings)",)
    np.testing.assert_allclose(found.covariance(), d.covariance(d), rtol=1e-12)
    i = list(by_label).index("datum")
    np.testing.assert_allclose(found.covariance(without=i), d.covariance(d) - 0.49, atol=1e-12)


def test_some_rows_only() -> None:
    datum = Length(0.0, "m", standard(0.7), label="datum")
    d = Length([1.0, 2.0, 3.0], "m", standard([0.1, 0.2, 0.3]), label="rule") + datum
    found = sources_of(contributions(d._node), np.array([0, 2]), np.array([1.0, 1.0]))
    np.testing.assert_allclose(found.own, [0.01, 0.09])
    np.testing.assert_allclose(found.covariance(), [[0.5, 0.49], [0.49, 0.58]])


def test_no_candidates() -> None:
    pooled = Length(1.0, "m", repeated([0.99, 1.0, 1.01]), label="repeats")
    gone = Length(0.0, "m", shared(standard(1.0)), label="gone")
    d = Length([1.0, 2.0], "m", standard(0.1), label="rule") + (gone - gone) + pooled
    found = sources(d)
    candidates = [each.label for each in found.shared if each.candidate]
    # repeats of a single quantity are one ordinary component, not a pool
    assert candidates == ["repeats"]
    assert "gone (it cancels)" in found.left_out


def test_estimate_against_matrix_inversion() -> None:
    rng = np.random.default_rng(4)
    factor = rng.normal(size=(5, 5))
    V_0, s, d = factor @ factor.T, rng.normal(size=5), rng.normal(size=5)
    found = estimate(V_0, s)
    inverse = np.linalg.inv(V_0)
    information = s @ inverse @ s
    assert found.weights @ d == pytest.approx(-(s @ inverse @ d) / information, rel=1e-8)
    assert found.u == pytest.approx(information**-0.5, rel=1e-8)
    np.testing.assert_allclose(found.covariance, V_0)


def test_estimate_does_not_suffer_from_a_large_error() -> None:
    # a component 1e7 times the rest: taking it off the whole would leave nothing of the rest
    s = np.array([1e7, 1e7])
    found = estimate(np.diag([1.0, 4.0]), s)
    np.testing.assert_allclose(found.weights, [-0.8e-7, -0.2e-7], rtol=1e-9)
    assert found.u == pytest.approx((1 / (1 / 1 + 1 / 4)) ** 0.5 * 1e-7, rel=1e-9)


def test_estimate_without_an_inverse() -> None:
    # one further error, common to all and no other: two readings with other gains fix both
    V_0, s = np.ones((3, 3)), np.array([1.0, 2.0, 3.0])
    found = estimate(V_0, s)
    # d = -s z0 + c for any c: the estimate is z0, free of uncertainty
    assert found.weights @ (-s * 0.7 + 5.0) == pytest.approx(0.7, rel=1e-7)
    assert found.u == pytest.approx(0, abs=1e-5)
    # a reading without any other error fixes it alone
    exact = estimate(np.diag([0.0, 1.0]), np.array([2.0, 1.0]))
    np.testing.assert_allclose(exact.weights, [-0.5, 0.0], atol=1e-9)
    assert exact.u == pytest.approx(0, abs=1e-7)
    # nothing else at all
    alone = estimate(np.zeros((2, 2)), np.array([1.0, 1.0]))
    assert alone.weights @ np.array([3.0, 3.0]) == pytest.approx(-3.0)
    assert alone.u == 0
