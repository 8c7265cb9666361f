"""Ctrl-C in the middle of draws, and worker processes that are killed."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
import time
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest

from flowunc import PropagationError, Ratio, cross_check, limits, monte_carlo, shared, standard

PROMPT = 2.0  # seconds

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="sends the signals of POSIX"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


def model(readings):
    """A record of which one block of all readings takes a while."""
    x = Ratio(np.linspace(1.0, 2.0, readings), "1", standard(0.01), shared(limits(0.02)))
    q = x
    for _ in range(8):
        q = np.exp(q * 0.1) * x
    return q


@contextlib.contextmanager
def interrupted(after):
    """Send what Ctrl-C sends; what is inside must raise soon after."""
    usual = signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may have it ignored
    before = set(threading.enumerate())
    raised = threading.Event()

    def press():
        # once more where Python could not raise it, as inside the callback of a weak reference
        pause = after
        while not raised.wait(pause):
            os.kill(os.getpid(), signal.SIGINT)
            pause = 1.0

    keyboard = threading.Thread(target=press)
    started = time.monotonic()
    keyboard.start()
    try:
        with pytest.raises(KeyboardInterrupt):
            yield
        took = time.monotonic() - started - after
    finally:
        raised.set()
        keyboard.join()
        signal.signal(signal.SIGINT, usual)
    assert took < PROMPT
    assert set(threading.enumerate()) <= before
    assert not multiprocessing.active_children()


@pytest.mark.parametrize(
    "options",
    [
        {"trials": 5_000_000},
        {"trials": 5_000_000, "control": True},
        {"trials": 5_000_000, "workers": 2},
        {"trials": 4_000_000, "sampler": "sobol"},
        {"digits": 4, "max_trials": 10_000_000},
    ],
    ids=["random", "control", "threads", "sobol", "digits"],
)
def test_draws_stop_when_interrupted(options):
    q = model(40)
    monte_carlo(q, 2000)  # what is imported on first use is imported
    with interrupted(0.4):
        monte_carlo(q, **options)
    assert monte_carlo(q, 2000).u == pytest.approx(q.u, rel=0.1)


def test_draws_drawn_again_stop_when_interrupted():
    drawn = monte_carlo(model(20), 40_000)
    with interrupted(0.3):
        for step in range(100_000):
            drawn.interval(0.9 + step * 1e-7)


def test_cross_check_stops_when_interrupted():
    q = model(2000)
    cross_check(model(2))
    with interrupted(0.4):
        for _ in range(1000):
            cross_check(q)


def test_killed_worker_is_a_failure_and_leaves_no_process():
    q = model(400)
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        worker = pool.submit(os.getpid).result()
        monte_carlo(model(2), 2000, executor=pool)  # what is imported on first use is imported
        timer = threading.Timer(0.3, os.kill, (worker, signal.SIGKILL))
        timer.start()
        started = time.monotonic()
        with pytest.raises(PropagationError, match=r"blocks? 0 .*failed in a worker.*partial"):
            monte_carlo(q, 2_000_000, executor=pool)
        assert time.monotonic() - started < 0.3 + 5.0
        timer.join()
        with pytest.raises(PropagationError, match="takes no work"):
            monte_carlo(q, 2000, executor=pool)
    assert not multiprocessing.active_children()
    with pytest.raises(ProcessLookupError):
        os.kill(worker, 0)  # not even as a zombie


def test_interrupt_leaves_processes_of_the_caller_to_him():
    q = model(40)
    usual = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
            monte_carlo(model(2), 2000, executor=pool)
            timer = threading.Timer(0.3, os.kill, (os.getpid(), signal.SIGINT))
            started = time.monotonic()
            timer.start()
            with pytest.raises(KeyboardInterrupt):
                monte_carlo(q, 700_000, executor=pool)
            assert time.monotonic() - started < 0.3 + PROMPT
            assert pool.submit(int, "1").result() == 1
    finally:
        signal.signal(signal.SIGINT, usual)
    assert not multiprocessing.active_children()
