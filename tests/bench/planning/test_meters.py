"""Crossover of two meters against closed forms.

A meter with limits of a % of full scale F has the relative error a F/q, one with limits of b %
of the reading has b everywhere: they cross at q = a F/b. With half-widths w of the resolution,
rectangular like the limits, at (a F)^2 + w1^2 = (b q)^2 + w2^2.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from flowunc import (
    Bench,
    RangeError,
    Ratio,
    Scale,
    VariableAreaMeter,
    error_limit,
    percent_of_full_scale,
    percent_of_reading,
)
from flowunc.bench.planning.meters import meter_crossover
from flowunc.bench.planning.plan import plan

FULL = 4.0


def meter(division: float, accuracy: Any, span: tuple[float, float] = (0.2, FULL)) -> Any:
    return VariableAreaMeter(Scale(division, "L/min", span=span), accuracy)


def crossing(bench: Bench, first: Any, second: Any, **options: Any) -> Any:
    return meter_crossover(replace(bench, meters={"A": first, "B": second}), **options)


def test_full_scale_against_reading(bench: Bench) -> None:
    a, b, first, second = 0.01, 0.025, 0.05, 0.02
    found = crossing(
        bench,
        meter(first, percent_of_full_scale(100 * a)),
        meter(second, percent_of_reading(100 * b)),
    )
    expected = math.sqrt((a * FULL) ** 2 + (first / 2) ** 2 - (second / 2) ** 2) / b
    assert found.better == ("B", "A")  # percent of reading is better at small flows
    assert found.flows.to("L/min").value == pytest.approx([expected], rel=1e-7)
    assert found.common.to("L/min").value == pytest.approx([0.2, FULL])
    assert f"below {expected:.4g} L/min B" in found.sentence
    # bore, temperature and coverage are common to both: they do not move it
    other = crossing(
        bench,
        meter(first, percent_of_full_scale(100 * a)),
        meter(second, percent_of_reading(100 * b)),
        k=3,
    )
    assert other.flows.to("L/min").value == pytest.approx([expected], rel=1e-7)


def test_below_the_kink_of_an_error_limit(bench: Bench) -> None:
    # G qG = 2.5 % of 2 L/min either way below 2 L/min: 3 % of the reading at 0.05/0.03 L/min
    found = crossing(
        bench, meter(1e-6, error_limit(2.5, linearity_limit=50)), meter(1e-6, percent_of_reading(3))
    )
    assert found.flows.to("L/min").value == pytest.approx([0.05 / 0.03], rel=1e-6)
    assert found.better == ("B", "A")


def test_equal_from_a_flow_on(bench: Bench) -> None:
    # 2.5 % of the reading both, above the linearity limit of 2 L/min
    found = crossing(
        bench,
        meter(1e-6, error_limit(2.5, linearity_limit=50)),
        meter(1e-6, percent_of_reading(2.5)),
    )
    assert found.flows.to("L/min").value == pytest.approx([2.0], rel=1e-6)
    assert found.better == ("B", "")
    assert "either, they are equal" in found.sentence


def test_twice(bench: Bench) -> None:
    # A: constant 0.05 L/min up to 2, then 2.5 %; B: 1.9 % of 4 = 0.076 L/min everywhere; A is
    # better up to 0.076/0.025 = 3.04 L/min only
    found = crossing(
        bench,
        meter(1e-6, error_limit(2.5, linearity_limit=50)),
        meter(1e-6, percent_of_full_scale(1.9)),
    )
    assert found.better == ("A", "B")
    assert found.flows.to("L/min").value == pytest.approx([3.04], rel=1e-6)


def test_throughout_and_equal_and_apart(bench: Bench) -> None:
    better = crossing(bench, meter(0.1, percent_of_reading(1)), meter(0.1, percent_of_reading(2)))
    assert (better.better, better.flows) == (("A",), None)
    assert better.sentence.endswith("A gives the smaller U(Re)/Re throughout.")
    equal = crossing(bench, meter(0.1, percent_of_reading(2)), meter(0.1, percent_of_reading(2)))
    assert equal.better == ("",)
    assert "the same on both" in equal.sentence
    apart = crossing(
        bench,
        meter(0.1, percent_of_reading(2), (0.2, 1.0)),
        meter(0.1, percent_of_reading(2), (1.2, 4.0)),
    )
    assert (apart.common, apart.flows, apart.better) == (None, None, ())
    assert apart.sentence == (
        "No flow can be read on both meters: A 0.2 L/min to 1 L/min and B 1.2 L/min to 4 L/min."
    )


def test_the_table_of_a_plan_changes_sides_there(bench: Bench) -> None:
    meters = {
        "A": meter(0.05, percent_of_full_scale(1)),
        "B": meter(0.02, percent_of_reading(2.5)),
    }
    changed = replace(bench, meters=meters)
    at = meter_crossover(changed).flows
    step = np.array([1 - 1e-4, 1 + 1e-4])
    table = plan(changed, flows=at[[0, 0]] * Ratio(step, "1"), inclinations=20).table()
    by_meter = table.pivot(index="flow", columns="meter", values="U(Re)/Re")
    assert (by_meter["B"] < by_meter["A"]).tolist() == [True, False]


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (("small", "smal"), "did you mean 'small'"),
        (("small", "small"), "expected the names of two different meters"),
        (("small",), "expected the names of two different meters"),
    ],
)
def test_mistakes(bench: Bench, names: tuple[str, ...], words: str) -> None:
    with pytest.raises(RangeError, match=words):
        meter_crossover(bench, *names)


def test_three_meters_need_names(bench: Bench) -> None:
    three = replace(bench, meters={**bench.meters, "C": meter(0.1, percent_of_reading(2))})
    with pytest.raises(RangeError, match="small, large, C"):
        meter_crossover(three)
    assert meter_crossover(three, "small", "C").meters == ("small", "C")
