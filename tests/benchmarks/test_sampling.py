"""Ways to draw: threads, low-discrepancy points, and the cross-check that rests on them."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from flowunc import cross_check

READINGS = 11


@pytest.mark.parametrize("workers", [2, 1])
def test_two_workers(benchmark: Any, chain: Any, readings_of: Any, workers: int) -> None:
    # a million trials of twenty readings, when it is measured
    trials = 1_000_000 if benchmark.enabled else 40_000
    benchmark.group = f"mean and u of f, 20 readings x {trials} trials, two workers"
    if workers == 2:
        benchmark.extra_info.update(ours=True)
    else:
        benchmark.extra_info.update(name="one worker")
    friction = chain.record(readings_of(20))[1]

    def draw() -> Any:
        return friction.monte_carlo(trials, seed=1, workers=workers)

    drawn = benchmark.pedantic(draw, rounds=3 if benchmark.enabled else 1)
    # a sound result: the linear u, up to second order in u/f = 0.1 and the numerical error
    assert drawn.trials == trials
    np.testing.assert_allclose(drawn.u, friction.u, rtol=0.1)


@pytest.mark.parametrize("way", ["Sobol", "random"])
def test_points_in_place_of_draws(benchmark: Any, chain: Any, readings_of: Any, way: str) -> None:
    benchmark.group = f"f with mean, u and 95 % limits, {READINGS} readings, 16384 Sobol points"
    friction = chain.record(readings_of(READINGS))[1]
    seeds = itertools.count()
    options: dict[str, Any] = {"trials": 200_000}
    if way == "Sobol":
        options = {"trials": 1 << 14, "sampler": "sobol"}
        benchmark.extra_info.update(ours=True)
    else:
        benchmark.extra_info.update(name="200000 random draws")

    def draw() -> tuple[Any, ...]:
        drawn = friction.monte_carlo(seed=next(seeds), **options)
        return drawn, drawn.mean, drawn.u, *drawn.interval(0.95, kind="symmetric")

    drawn, _, u, low, high = benchmark(draw)
    # few points are as good as many draws: mean and u better, the limits alike
    assert np.all(drawn.mean_error < 3e-3 * u)
    assert np.all(drawn.u_error < 3e-3 * u)
    errors = np.maximum(*drawn.interval_error(0.95, kind="symmetric"))
    assert np.all(errors < 0.03 * u)
    assert np.all(low < high)


@pytest.mark.parametrize("way", ["Sobol", "random"])
def test_cross_check(benchmark: Any, chain: Any, readings_of: Any, way: str) -> None:
    benchmark.group = f"cross-check of Re and f, {READINGS} readings each"
    results = chain.record(readings_of(READINGS))
    if way == "Sobol":
        benchmark.extra_info.update(ours=True)
    else:
        benchmark.extra_info.update(name="the same by random draws")
    sampler = way.lower()

    def check() -> list[Any]:
        return [cross_check(result, sampler=sampler, seed=1) for result in results]

    for found in benchmark(check):
        assert len(found.verdicts) == READINGS
        assert np.all(found.trials <= 1_000_000)
