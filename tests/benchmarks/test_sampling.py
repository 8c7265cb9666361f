"""Ways to draw: threads, processes, low-discrepancy points, and the cross-check on them."""

from __future__ import annotations

import itertools
import multiprocessing
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

from flowunc import cross_check

READINGS = 11


@pytest.fixture(scope="module")
def processes() -> Any:
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        yield pool


@pytest.mark.parametrize("way", ["two threads", "two processes", "one thread"])
def test_workers(benchmark: Any, chain: Any, readings_of: Any, request: Any, way: str) -> None:
    # a million trials of twenty readings, when it is measured
    trials = 1_000_000 if benchmark.enabled else 40_000
    benchmark.group = f"mean and u of f, 20 readings x {trials} trials"
    options: dict[str, Any] = {}
    if way == "one thread":
        benchmark.extra_info.update(name=way, aim=0.6)
    else:
        benchmark.extra_info.update(ours=True, name=way)
    if way == "two threads":
        options = {"workers": 2}
    elif way == "two processes":
        options = {"executor": request.getfixturevalue("processes")}
    friction = chain.record(readings_of(20))[1]

    def draw() -> Any:
        return friction.monte_carlo(trials, seed=1, **options)

    drawn = benchmark.pedantic(
        draw,
        rounds=3 if benchmark.enabled else 1,
        warmup_rounds=1 if way == "two processes" and benchmark.enabled else 0,  # they start
    )
    # a sound result: the linear u, up to second order in u/f = 0.1 and the numerical error
    assert drawn.trials == trials
    np.testing.assert_allclose(drawn.u, friction.u, rtol=0.1)


@pytest.mark.parametrize("way", ["Sobol", "random"])
def test_points_in_place_of_draws(benchmark: Any, chain: Any, readings_of: Any, way: str) -> None:
    benchmark.group = f"f with u and limits, {READINGS} readings, 16384 Sobol points"
    friction = chain.record(readings_of(READINGS))[1]
    seeds = itertools.count()
    options: dict[str, Any] = {"trials": 200_000}
    if way == "Sobol":
        options = {"trials": 1 << 14, "sampler": "sobol"}
        benchmark.extra_info.update(ours=True)
    else:
        benchmark.extra_info.update(name="200000 random draws", aim=0.5)

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


def test_what_two_threads_can_gain(
    benchmark: Any, chain: Any, readings_of: Any, figure_of: Any
) -> None:
    # the rows above say as much of what else runs on this machine as of flowunc: so, what two
    # threads of bare NumPy gain at the same time, and CPU time, which waiting does not enter
    benchmark.group = "two threads"
    trials = 400_000 if benchmark.enabled else 40_000
    friction = chain.record(readings_of(20))[1]

    def bare(workers: int) -> float:
        generators = [np.random.default_rng(seed) for seed in range(4)]
        start = time.perf_counter()
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(lambda generator: generator.standard_normal(5 * trials), generators))
        return time.perf_counter() - start

    def processor(workers: int) -> float:
        start = time.process_time()
        friction.monte_carlo(trials, seed=1, workers=workers)
        return time.process_time() - start

    def fastest(measure: Any) -> tuple[float, float]:
        times = [[measure(workers) for workers in (2, 1)] for _ in range(3)]
        two, one = (min(column) for column in zip(*times, strict=True))
        return two, one

    elapsed = benchmark.pedantic(fastest, args=(bare,), rounds=1)
    used = fastest(processor)
    benchmark.extra_info["figures"] = [
        figure_of(
            "s for bare NumPy draws, two threads: this machine now",
            elapsed[0],
            "one thread",
            elapsed[1],
        ),
        figure_of(
            "s of CPU time, mean and u of f, two threads", used[0], "one thread", used[1], 1.15
        ),
    ]
    two, one = (friction.monte_carlo(trials, seed=1, workers=workers) for workers in (2, 1))
    np.testing.assert_array_equal(two.u, one.u)


def test_variance_of_points(benchmark: Any, chain: Any, readings_of: Any, figure_of: Any) -> None:
    # as many points as draws: how far u and the limits scatter when the seed is another one
    benchmark.group = "scatter of Sobol points"
    trials = 1 << 13
    friction = chain.record(readings_of(READINGS))[1]
    seeds = range(40 if benchmark.enabled else 8)

    def variances(sampler: Any) -> Any:
        found = []
        for seed in seeds:
            drawn = friction.monte_carlo(trials, seed=seed, sampler=sampler)
            low, high = drawn.interval(0.95, kind="symmetric")
            found.append([drawn.mean, drawn.u, low, high])
        scatter = np.var(np.array(found) / friction.u, axis=0, ddof=1)
        mean, u, low, high = scatter.mean(axis=1)
        return {"mean": mean, "u": u, "95 % limits": (low + high) / 2}

    points = benchmark.pedantic(variances, args=("sobol",), rounds=1)
    draws = variances("random")
    aims = {"mean": 0.01, "u": 0.1, "95 % limits": 0.5}
    benchmark.extra_info["figures"] = [
        figure_of(
            f"variance of {what} of f over u^2, {trials} Sobol points",
            points[what],
            f"{trials} random draws",
            draws[what],
            aim,
        )
        for what, aim in aims.items()
    ]
    for what in aims:
        assert 0 < points[what] < draws[what]
    # 1/n for the mean of n draws, and about 1/(2 n) for u of anything near to normal
    assert draws["mean"] == pytest.approx(1 / trials, rel=0.5)
    assert draws["u"] < 1 / trials


@pytest.mark.parametrize("way", ["Sobol", "random"])
def test_cross_check(benchmark: Any, chain: Any, readings_of: Any, way: str) -> None:
    benchmark.group = f"cross_check of Re and f, {READINGS} readings each"
    results = chain.record(readings_of(READINGS))
    if way == "Sobol":
        benchmark.extra_info.update(ours=True)
    else:
        benchmark.extra_info.update(name="the same by random draws", aim=0.5)
    sampler = way.lower()

    def check() -> list[Any]:
        return [cross_check(result, sampler=sampler, seed=1) for result in results]

    for found in benchmark(check):
        assert len(found.verdicts) == READINGS
        assert np.all(found.trials <= 1_000_000)
