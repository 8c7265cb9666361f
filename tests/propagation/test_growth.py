"""Cost of the linear evaluation of a whole bench, from 10 to a million readings.

Time and memory must grow with the number of readings and no faster; how many seconds that is
stands in tests/benchmarks. Every time is the fastest of several runs: a pause of the machine
in one of them says nothing.
"""

from __future__ import annotations

import math
import time
import tracemalloc

import numpy as np
import pytest

import flowunc as fu
from flowunc.propagation.contributions import contributions

ZERO = [(300.5, 300.0), (301.0, 300.5)]
RUNS = 5


class Bench:
    """An invented bench with two meters, a thermometer and a manometer."""

    def __init__(self):
        accuracy = fu.error_limit(2.5, linearity_limit=50)
        self.small = fu.VariableAreaMeter(
            fu.Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=accuracy, label="small meter"
        )
        self.large = fu.VariableAreaMeter(
            fu.Scale(0.01, "L/s", span=(0.04, 0.40)), accuracy=accuracy, label="large meter"
        )
        self.thermometer = fu.Thermometer(fu.Scale(0.5, "degC"), accuracy=fu.expanded(0.3, k=2))
        self.manometer = fu.InclinedManometer(
            fu.Scale(1, "mm"), angle=fu.Angle(10, "deg", fu.limits(0.25))
        )
        self.bore = fu.Length(19.05, "mm", fu.limits(0.05), label="bore")
        self.spacing = fu.Length(2.4, "m", fu.limits(1, "mm"), label="tap spacing")
        self.gravity = fu.Acceleration(9.8124, "m/s^2", fu.limits(0.0005), label="gravity")

    def results(self, count):
        """Return Re and f of so many readings, half of them on either meter."""
        half = count // 2
        part = np.linspace(0.0, 1.0, count)
        temperature = self.thermometer.read(18 + 3 * part)
        flow = fu.concatenate(
            self.small.read(np.linspace(0.6, 3.9, half)),
            self.large.read(np.linspace(0.05, 0.39, count - half)),
        )
        density = fu.water.density(temperature)
        viscosity = fu.water.viscosity(temperature)
        velocity = fu.mean_velocity(flow, self.bore)
        high = 350 + 150 * part
        drop = self.manometer.pressure_drop(
            high=high, low=high - 200, density=density, zero=ZERO, gravity=self.gravity
        )
        return (
            fu.reynolds_number(velocity, self.bore, density, viscosity),
            fu.darcy_friction_factor(drop, density, velocity, self.bore, self.spacing),
        )


def answer(count):
    """Return u of Re and f with the contribution of every component: the whole chain."""
    results = Bench().results(count)
    return [q.u for q in results], [contributions(q._node) for q in results]


def fastest(counts):
    """Return the shortest time of the whole chain for each number of readings.

    The numbers take turns, so that a slow spell of the machine does not fall on one of them.
    """
    best = dict.fromkeys(counts, math.inf)
    answer(10)
    for _ in range(RUNS):
        for count in counts:
            start = time.thread_time()
            answer(count)
            best[count] = min(best[count], time.thread_time() - start)
    return best


def arrays_of(found):
    """Return the bytes of the arrays of an answer, each memory counted once."""
    u, parts = found
    arrays = [*u, *(part.values for own in parts for part in own)]
    for part in (part for own in parts for part in own):
        arrays += [a for a in (part.columns, part.rows) if isinstance(a, np.ndarray)]
    return sum({a.__array_interface__["data"]: a.nbytes for a in arrays}.values())


def peak_over_answer(count):
    answer(10)  # what is loaded or kept once does not count
    tracemalloc.start()
    try:
        found = answer(count)
        return tracemalloc.get_traced_memory()[1] / arrays_of(found)
    finally:
        tracemalloc.stop()


def test_chain_is_the_whole_bench():
    (u_reynolds, u_friction), parts = answer(10)
    assert np.all(u_reynolds > 0)
    for u, own in zip((u_reynolds, u_friction), parts, strict=True):
        # every component is there: their squares add up to the variance [JCGM 100, 5.1.3]
        total = sum(part.variances() for part in own)
        np.testing.assert_allclose(np.sqrt(total), u, rtol=1e-12)
    assert len({part.component.key for own in parts for part in own}) >= 14


def test_time_grows_like_the_number_of_readings():
    counts = (10, 100, 1_000, 10_000, 100_000)
    best = fastest(counts)
    per_reading = best[100_000] / 100_000
    # ten times the readings: ten times the time, a hundred if it were quadratic
    assert best[100_000] < 25 * best[10_000]
    # and no hump below: nothing but a fixed cost and one for each reading
    for count in counts:
        assert best[count] < 3 * (best[10] + count * per_reading)


@pytest.mark.slow
def test_time_grows_like_the_number_of_readings_up_to_a_million():
    best = fastest((100_000, 1_000_000))
    assert best[1_000_000] / 1_000_000 < 2 * best[100_000] / 100_000


@pytest.mark.parametrize(
    "count", [10_000, 100_000, pytest.param(1_000_000, marks=pytest.mark.slow)]
)
def test_memory_is_three_times_the_answer_at_most(count):
    # the record of the chain itself counts as well: 23 to 26 arrays of one value a reading,
    # beside 29 of the answer
    assert peak_over_answer(count) < 3.0
