"""Monte Carlo propagation against a fair hand-written NumPy simulation of the same model."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest

from flowunc.fluids.water import WATER_DENSITY

CASES = [(1, 1_000_000), (20, 100_000)]


def by_hand(readings: Any, trials: int, seed: int) -> tuple[np.ndarray, ...]:
    """Readings along the first axis, only what f needs, sorted along the contiguous axis."""
    draw = np.random.default_rng(seed)
    each, shared = (readings.small.size, trials), (1, trials)

    def limits(half_width: float, shape: tuple[int, int]) -> np.ndarray:
        return draw.uniform(-half_width, half_width, shape)

    kelvin = (
        readings.temperature[:, None] + 273.15 + limits(0.25, each) + draw.normal(0, 0.15, shared)
    )
    read = readings.small[:, None]
    flow = (read + limits(0.05, each) + np.maximum(read, 2.0) * limits(0.025, shared)) / 60_000
    bore = (19.05 + limits(0.05, shared)) / 1000
    density = WATER_DENSITY.evaluate(kelvin)
    density *= 1 + draw.normal(0, 1e-6, shared) + limits(5e-4, shared)
    high = readings.high[:, None] + limits(0.5, each)
    low = readings.low[:, None] + limits(0.5, each)
    zero = 0.5 + 0.5 * sum(limits(0.5, shared) for _ in range(4))
    angle = np.radians(10 + limits(0.25, shared))
    velocity = flow / (math.pi / 4 * bore**2)
    head = (high - low - zero) / 1000 * np.sin(angle)
    drop = head * (density - (1.2 + limits(0.1, shared))) * (9.8124 + limits(5e-4, shared))
    friction = 2 * bore * drop / (density * (2.4 + limits(1e-3, shared)) * velocity**2)
    mean, u = friction.mean(axis=1), friction.std(axis=1, ddof=1)
    friction.sort(axis=1)
    tail = round(0.025 * trials)
    return mean, u, friction[:, tail], friction[:, trials - tail]


@pytest.mark.parametrize("way", ["flowunc", "numpy"])
@pytest.mark.parametrize(("count", "trials"), CASES)
def test_friction_factor(
    benchmark: Any, chain: Any, readings_of: Any, count: int, trials: int, way: str
) -> None:
    benchmark.group = f"Monte Carlo of f with u and limits, {count} x {trials} trials"
    readings = readings_of(count)
    readings = type(readings)(
        np.linspace(1.2, 3.6, count),
        readings.large[:0],
        readings.temperature,
        readings.high,
        readings.low,
    )
    seeds = itertools.count()

    def ours() -> tuple[Any, ...]:
        drawn = chain.record(readings)[1].monte_carlo(trials, seed=next(seeds))
        return (drawn.mean, drawn.u, *drawn.interval(0.95, kind="symmetric"))

    if way == "flowunc":
        benchmark.extra_info.update(ours=True)
        found = benchmark(ours)
        other = by_hand(readings, trials, 1)
        u = np.asarray(found[1])
        # two independent simulations: four combined standard errors of mean, u and limits
        for mine, theirs, errors in zip(found, other, (6, 6, 25, 25), strict=True):
            assert np.all(np.abs(mine - theirs) < errors * u / math.sqrt(trials))
    else:
        benchmark.extra_info.update(name="hand-written NumPy, sorted", aim=0.7)
        benchmark(lambda: by_hand(readings, trials, next(seeds)))
