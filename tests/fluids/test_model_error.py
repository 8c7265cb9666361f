"""The factor 1 with relative errors."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import Component
from flowunc.core.component import Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit
from flowunc.fluids.model_error import one_within

A, B = (
    Component(label=name, distribution=Normal(u), unit=parse_unit("%"))
    for name, u in (("a", 0.03), ("b", 0.04))
)


def test_errors_add_in_quadrature() -> None:
    found = one_within(A, B)
    assert found.si.value == 1.0
    assert found.si.u == pytest.approx(0.05)  # 3-4-5


def test_one_gain_per_reading_broadcasts_over_all_errors() -> None:
    found = one_within(Term(A, np.array([0.0, 1.0, 2.0])), B).si
    np.testing.assert_allclose(found.u, [0.04, 0.05, np.hypot(0.06, 0.04)])
    assert (found[1] - found[0]).u == pytest.approx(0.03)


def test_a_single_gain_joins_those_of_more_readings() -> None:
    found = one_within(Term(A, np.array([1.0])), Term(B, np.array([0.0, 1.0]))).si
    np.testing.assert_allclose(found.u, [0.03, 0.05])
    drawn = found.monte_carlo(40_000, seed=1)
    np.testing.assert_allclose(drawn.u, [0.03, 0.05], rtol=0.02)
