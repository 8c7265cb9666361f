"""One unknown error where the deviations are no straight line in it: closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import Quantity, Ratio, standard
from flowunc.analysis.settled_errors import Point, Step, law_of, settled
from flowunc.analysis.shared_errors import sources_of
from flowunc.propagation.contributions import contributions

ROWS = np.arange(3)


def estimated(deviation: Quantity, label: str) -> Step:
    node = deviation._node
    sources = sources_of(contributions(node), ROWS, np.ones(3))
    (one,) = [each for each in sources.shared if each.label == label]
    return settled(one, Point(node, 0.0, np.asarray(node.value), sources), ROWS)


def side(u: float = 0.1) -> Ratio:
    return Ratio(1.0, "1", standard(u), label="side")


def own(u: float = 0.02) -> Quantity:
    return Ratio(np.zeros(3), "1", standard(u), label="reading")


@pytest.mark.parametrize("power", [-2, 0.5, 1, 4, 5])
def test_the_root_of_a_power(power: float) -> None:
    # (1 + x)^p = 1.5 for x = 1.5^(1/p) - 1; the first step is at 0.5/p
    found = estimated(side() ** power - 1.5 + own(), "side")
    x = 1.5 ** (1 / power) - 1
    assert 0.1 * found.z == pytest.approx(x, rel=1e-4)
    # u of the mean of three over the slope there, p (1 + x)^(p - 1), in units of 0.1
    slope = abs(power) * (1 + x) ** (power - 1)
    assert 0.1 * found.estimate.u == pytest.approx(0.02 / math.sqrt(3) / slope, rel=0.01)
    assert abs(found.size) <= 0.03 * found.estimate.u
    assert law_of(found.one).standard_uncertainty == pytest.approx(0.1)


def test_weights_are_those_of_the_place_where_it_comes_out() -> None:
    # errors in proportion to the result: at (1 + x)^2 = 0.5 they are half of those stated
    relative = Ratio(np.ones(3), "1", standard(np.array([0.01, 0.02, 0.04])), label="reading")
    found = estimated(relative * side() ** 2 - 0.5, "side")
    # sum of 1/u^2 of u = 0.5 * 1, 2 and 4 %, slope 2 sqrt 0.5
    u = 0.5 / math.sqrt(1e4 + 0.25e4 + 0.0625e4) / (2 * math.sqrt(0.5))
    assert 0.1 * found.estimate.u == pytest.approx(u, rel=1e-3)


def test_no_value_on_the_way_leaves_the_first_step() -> None:
    # d = 2 + ln(1 + x): the first step is x = -2, where there is no logarithm
    found = estimated(np.log(side()) + 2.0 + own(), "side")
    assert 0.1 * found.z == pytest.approx(-2.0, rel=1e-9)
    assert found.point.z == 0.0


@pytest.mark.parametrize("constant", [0.5, 1.0])
def test_what_never_settles_leaves_the_first_step(constant: float) -> None:
    # (1 + x)^2 + c has no root: Newton's steps wander, from c = 1 to where the slope is 0
    found = estimated(side() ** 2 + constant + own(1e-3), "side")
    assert 0.1 * found.z == pytest.approx(-(1.0 + constant) / 2, rel=1e-9)
    assert found.point.z == 0.0
