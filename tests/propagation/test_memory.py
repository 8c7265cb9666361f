"""Memory of long draws: many trials of many readings must not be kept side by side."""

from __future__ import annotations

import os
import subprocess
import sys
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

import flowunc
from flowunc import Ratio, limits, shared, standard
from flowunc.propagation import adaptive, outcome

READINGS = 20


def model():
    x = Ratio(np.linspace(1.0, 2.0, READINGS), "1", limits(0.1), shared(standard(0.05)))
    y = Ratio(2.0, "1", limits(0.1))
    return x**2 * y


def peak_of(job):
    """Return what a job returns and the most bytes that lived at once meanwhile."""
    tracemalloc.start()
    try:
        found = job()
        return found, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.fixture
def nothing_kept(monkeypatch):
    monkeypatch.setattr(outcome, "KEPT_VALUES", 1 << 20)
    monkeypatch.setattr(adaptive, "KEPT_VALUES", 1 << 20)


def test_a_million_trials_of_twenty_readings_take_a_tenth_of_their_draws(nothing_kept):
    trials = 1_000_000
    stored = READINGS * trials * 8
    drawn, peak = peak_of(lambda: model().monte_carlo(trials))
    assert peak < stored / 10
    # row by row: one being judged, one being drawn, and what the blocks need
    (low, high), peak = peak_of(lambda: drawn.interval(0.95, "symmetric"))
    assert peak < 3 * stored / READINGS
    assert np.all(low < drawn.mean)
    assert np.all(drawn.mean < high)


@pytest.mark.parametrize("workers", [1, 2])
def test_shortest_interval_takes_a_few_rows_of_draws(workers, nothing_kept):
    trials = 300_000
    stored = READINGS * trials * 8
    drawn, peak = peak_of(lambda: model().monte_carlo(trials, workers=workers))
    assert peak < stored / 3  # blocks in the making: more threads make more, and longer steps
    (low, high), peak = peak_of(lambda: drawn.interval(0.95, "shortest"))
    assert peak < 5 * stored / READINGS
    assert np.all(low < high)


def test_numerical_errors_take_a_few_rows_of_draws(nothing_kept):
    trials = 200_000
    drawn = model().monte_carlo(trials)
    for statistic in (lambda: drawn.u_error, lambda: drawn.interval_error(0.95, "shortest")):
        _, peak = peak_of(statistic)
        assert peak < READINGS * trials * 8 / 3


def test_peak_does_not_grow_with_the_number_of_trials(nothing_kept):
    _, few = peak_of(lambda: model().monte_carlo(100_000))
    _, many = peak_of(lambda: model().monte_carlo(1_000_000))
    assert many < 1.5 * few


def test_peak_does_not_grow_with_the_number_of_readings(nothing_kept):
    def draw(count):
        x = Ratio(np.linspace(1.0, 2.0, count), "1", limits(0.1), shared(standard(0.05)))
        return (x**2).monte_carlo(20_000)

    _, few = peak_of(lambda: draw(100))
    _, many = peak_of(lambda: draw(1_000))
    assert many < 2.5 * few  # ten times as many readings; plans and streams grow a little


def test_control_takes_a_few_rows_of_draws(nothing_kept):
    trials = 200_000
    _, peak = peak_of(lambda: model().monte_carlo(trials, control=True))
    assert peak < READINGS * trials * 8 / 3


def test_control_keeps_the_draws_of_the_result_alone():
    # those of the linear model stayed in memory beside them
    trials = 40_000
    tracemalloc.start()
    try:
        drawn = model().monte_carlo(trials, control=True)
        held = tracemalloc.get_traced_memory()[0]
    finally:
        tracemalloc.stop()
    stored = READINGS * trials * 8
    assert drawn.samples().nbytes == stored
    assert stored < held < 1.3 * stored


def test_adaptive_draws_take_one_sequence_of_all_readings(nothing_kept):
    # a sequence has 16 384 trials; the ceiling is what could be stored
    _, peak = peak_of(lambda: model().monte_carlo(digits=2, seed=1, max_trials=2_000_000))
    assert peak < READINGS * 2_000_000 * 8 / 10


@pytest.mark.parametrize("rows", [1, READINGS])
def test_small_result_is_kept_and_not_drawn_again(rows, monkeypatch):
    from flowunc.propagation import simulation

    drawn = model()[:rows].monte_carlo(10_000)
    monkeypatch.setattr(simulation.Simulation, "block_rows", None)  # cannot draw any more
    assert np.all(drawn.interval()[0] < drawn.mean)


FULL_SIZE = """
import time
from pathlib import Path

import numpy as np

from flowunc import Ratio, limits, shared, standard

x = Ratio(np.linspace(1.0, 2.0, 20), "1", limits(0.1), shared(standard(0.05)))
y = Ratio(2.0, "1", limits(0.1))
started = time.perf_counter()
drawn = (x**2 * y).monte_carlo(10_000_000, workers=2)
low, high = drawn.interval(0.95, "symmetric")
assert ((low < drawn.mean) & (drawn.mean < high)).all()
seconds = time.perf_counter() - started
status = Path("/proc/self/status").read_text()
peak = next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))
print(peak, f"{seconds:.1f}")
"""


@pytest.mark.slow
def test_ten_million_trials_of_twenty_readings_under_500_megabytes():
    # getrusage would count what this process held before the other one began
    if not Path("/proc/self/status").exists():
        pytest.skip("the peak of a process is read from /proc")
    root = Path(flowunc.__file__).parents[1]
    found = subprocess.run(
        [sys.executable, "-c", FULL_SIZE],
        env=os.environ | {"PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
        check=True,
    )
    peak = 1024 * int(found.stdout.split()[0])  # kB
    print("peak and seconds:", found.stdout)
    assert peak < 500e6
