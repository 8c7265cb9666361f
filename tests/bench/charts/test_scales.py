"""Ticks of logarithmic axes."""

from __future__ import annotations

import math

import pytest
from matplotlib.axes import Axes

from flowunc.bench.charts.scales import log_limits, log_scale, number


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.025, "0.025"),
        (500.0, "500"),
        (2300.0, "2300"),
        (20_000.0, "20 000"),
        (999_999.0, "999 999"),
        (1e6, "$10^{6}$"),
        (2.5e7, "$2.5\\times10^{7}$"),
        (3e-5, "$3\\times10^{-5}$"),
    ],
)
def test_numbers_are_written_without_a_power_where_that_is_short(value: float, text: str) -> None:
    assert number(value) == text


@pytest.mark.parametrize("high", [110.0, 300.0, 900.0, 5e3, 1e5, 3e7])
@pytest.mark.parametrize("which", ["x", "y"])
def test_every_axis_has_some_ticks_but_not_too_many(ax: Axes, which: str, high: float) -> None:
    log_scale(ax, which, 95.0, high)
    axis = ax.xaxis if which == "x" else ax.yaxis
    inside = [tick for tick in axis.get_majorticklocs() if 95.0 <= tick <= high]
    assert 2 <= len(inside) <= 11
    limits = ax.get_xlim() if which == "x" else ax.get_ylim()
    assert limits == pytest.approx((95.0, high))


def test_limits_enclose_what_a_logarithm_exists_of() -> None:
    found = log_limits([3.0, -1.0, math.nan], [[20.0, math.inf]], margin=0.5)
    assert found == pytest.approx((3 / math.sqrt(10), 20 * math.sqrt(10)))
    low, high = log_limits([0.0], margin=0.1)
    assert 0 < low < high
