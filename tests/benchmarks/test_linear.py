"""Linear propagation against bare NumPy and against the uncertainties package."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from uncertainties import umath
from uncertainties.core import ufloat

MANY = 100_000
FEW = 20  # readings for the package that computes one reading at a time


def with_uncertainties(readings: Any, ask: Any = lambda result: result.std_dev) -> list[Any]:
    """The same model, reading by reading, with ufloats; and what is asked of Re and f."""
    rectangular = 1 / math.sqrt(3)
    calibration = ufloat(0, 0.15)
    meter = ufloat(0, 0.025 * rectangular)
    bore = ufloat(0.01905, 5e-5 * rectangular)
    spacing = ufloat(2.4, 1e-3 * rectangular)
    gravity = ufloat(9.8124, 5e-4 * rectangular)
    angle = ufloat(math.radians(10), math.radians(0.25) * rectangular)
    air = ufloat(1.2, 0.1 * rectangular)
    water = ufloat(1, math.hypot(1e-6, 5e-4 * rectangular))
    thickness = ufloat(1, 5e-3)
    zero = 0.5 + 0.5 * sum(ufloat(0, 0.5 * rectangular) for _ in range(4))
    results = []
    flow_in_litres = np.concatenate([readings.small, readings.large * 60])
    for row in range(flow_in_litres.size):
        read = flow_in_litres[row]
        limit = max(read, 2.0) * meter
        flow = (read + ufloat(0, 0.05 * rectangular) + limit) / 60_000
        kelvin = readings.temperature[row] + 273.15 + ufloat(0, 0.25 * rectangular) + calibration
        alpha, beta = 10 / (593 - kelvin), 10 / (kelvin - 232)
        volume = (
            1.93763157e-2
            + 6.74458446e3 * alpha**4
            - 2.22521604e5 * alpha**5
            + 1.00231247e8 * alpha**7
            - 1.63552118e9 * alpha**8
            + 8.32299658e9 * alpha**9
            + 5.78545292e-3 * beta
            - 1.53195665e-2 * beta**2
            + 3.11337859e-2 * beta**3
            - 4.23546241e-2 * beta**4
            + 3.38713507e-2 * beta**5
            - 1.19946761e-2 * beta**6
        )
        density = water / (461.51805 * 10 / 1e5 * volume)
        ratio = kelvin / 300
        viscosity = (
            thickness
            * 1e-6
            * (
                280.68 * ratio**-1.9
                + 511.45 * ratio**-7.7
                + 61.131 * ratio**-19.6
                + 0.45903 * ratio**-40
            )
        )
        velocity = flow / (math.pi / 4 * bore**2)
        reynolds = density * velocity * bore / viscosity
        high = readings.high[row] + ufloat(0, 0.5 * rectangular)
        low = readings.low[row] + ufloat(0, 0.5 * rectangular)
        head = (high - low - zero) / 1000 * umath.sin(angle)
        drop = head * (density - air) * gravity
        friction = 2 * bore * drop / (density * spacing * velocity**2)
        results.append((ask(reynolds), ask(friction)))
    return results


def on_a_warm_heap(benchmark: Any, job: Any) -> Any:
    """Measure enough rounds that the memory of one is there for the next."""
    if not benchmark.enabled:
        return benchmark(job)
    return benchmark.pedantic(job, rounds=20, warmup_rounds=3)


def few_of(readings_of: Any) -> Any:
    """Return few readings, all of the small meter."""
    few = readings_of(FEW)
    size = few.small.size
    return type(few)(
        few.small, few.large[:0], few.temperature[:size], few.high[:size], few.low[:size]
    )


@pytest.mark.benchmark(group=f"linear u of Re and f, {MANY} readings")
@pytest.mark.parametrize("way", ["flowunc", "numpy", "uncertainties"])
def test_linear_u(
    benchmark: Any, chain: Any, readings_of: Any, nominal_values: Any, way: str
) -> None:
    readings = readings_of(MANY)
    if way == "flowunc":

        def ours() -> Any:
            reynolds, friction = chain.record(readings)
            return reynolds.u, friction.u

        benchmark.extra_info.update(ours=True, readings=MANY)
        u_reynolds, u_friction = on_a_warm_heap(benchmark, ours)
        assert np.all(u_reynolds > 0)
        assert np.all(u_friction > 0)
    elif way == "numpy":
        benchmark.extra_info.update(name="bare NumPy, nominal values only", readings=MANY, aim=3.0)
        reynolds, friction = on_a_warm_heap(benchmark, lambda: nominal_values(readings))
        recorded = chain.record(readings)
        np.testing.assert_allclose(recorded[0].value, reynolds, rtol=1e-12)
        np.testing.assert_allclose(recorded[1].value, friction, rtol=1e-11)
    else:
        few = few_of(readings_of)
        benchmark.extra_info.update(name="uncertainties package", readings=few.small.size, aim=0.01)
        found = np.array(benchmark(with_uncertainties, few))
        reynolds, friction = chain.record(few)
        np.testing.assert_allclose(reynolds.u, found[:, 0], rtol=1e-9)
        np.testing.assert_allclose(friction.u, found[:, 1], rtol=1e-9)


@pytest.mark.benchmark(group="linear u of Re and f, one reading")
@pytest.mark.parametrize("way", ["flowunc", "uncertainties"])
def test_one_reading(benchmark: Any, chain: Any, readings_of: Any, way: str) -> None:
    one = readings_of(1)
    if way == "flowunc":
        benchmark.extra_info.update(ours=True)
        reynolds, friction = benchmark(lambda: [q.u for q in chain.record(one)])
        assert reynolds > 0
        assert friction > 0
    else:
        benchmark.extra_info.update(name="uncertainties package")
        assert len(benchmark(with_uncertainties, one)) == 1


@pytest.mark.benchmark(group=f"u of Re and f with every contribution, {MANY} readings")
@pytest.mark.parametrize("way", ["flowunc", "numpy", "uncertainties"])
def test_contributions(
    benchmark: Any, chain: Any, readings_of: Any, nominal_values: Any, way: str
) -> None:
    from flowunc.propagation.contributions import contributions

    readings = readings_of(MANY)
    if way == "flowunc":

        def ours() -> Any:
            results = chain.record(readings)
            return [q.u for q in results], [contributions(q._node) for q in results]

        benchmark.extra_info.update(ours=True, readings=MANY)
        for u, parts in zip(*on_a_warm_heap(benchmark, ours), strict=True):
            assert len(parts) >= 7
            total = sum(part.variances() for part in parts)
            np.testing.assert_allclose(np.sqrt(total), u, rtol=1e-12)
    elif way == "numpy":
        benchmark.extra_info.update(name="bare NumPy, nominal values only", readings=MANY, aim=3.0)
        on_a_warm_heap(benchmark, lambda: nominal_values(readings))
    else:
        few = few_of(readings_of)
        benchmark.extra_info.update(name="uncertainties package", readings=few.small.size, aim=0.01)

        def theirs(result: Any) -> Any:
            return result.std_dev, result.error_components()

        found = benchmark(with_uncertainties, few, theirs)
        # the same number of components behind a reading, but that the factor of the water
        # formulation is one there and two here
        for q, (_, parts) in zip(chain.record(few), found[0], strict=True):
            assert 0 <= len(contributions(q._node)) - len(parts) <= 1
