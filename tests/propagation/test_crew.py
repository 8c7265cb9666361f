"""Who runs the blocks: threads, processes, a cluster; failures, interrupts and what they leave."""

from __future__ import annotations

import _thread
import functools
import gc
import importlib
import itertools
import multiprocessing
import re
import signal
import sys
import threading
import time
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest

from flowunc import (
    PropagationError,
    RangeError,
    Ratio,
    StatementError,
    apply,
    concatenate,
    limits,
    monte_carlo,
    monte_carlo_joint,
    shared,
    standard,
    triangular,
    water,
)
from flowunc.core.kinds import Temperature
from flowunc.propagation import crew, outcome
from flowunc.propagation.draws import BLOCK

TRIALS = 3 * BLOCK + 500

# A module of the user's own, that worker processes can import.
OWN_FUNCTIONS = """
import os

import numpy as np


def doubled(x):
    return 2 * x


def failing_when_drawn(x):
    if x.size > 1000:
        raise ValueError("the solver gave up")
    return x


def failing_above(limit, x):
    if np.any(x >= limit):
        raise ValueError("above the limit")
    return x


def killing_when_drawn(x):
    if x.size > 1000:
        os._exit(3)
    return x
"""


@pytest.fixture(scope="module")
def own(tmp_path_factory):
    folder = tmp_path_factory.mktemp("own")
    (folder / "own_functions.py").write_text(OWN_FUNCTIONS, encoding="utf-8")
    sys.path.insert(0, str(folder))  # spawned processes get the path handed on
    try:
        yield importlib.import_module("own_functions")
    finally:
        sys.path.remove(str(folder))
        sys.modules.pop("own_functions", None)


@pytest.fixture(scope="module")
def processes(own):
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        yield pool


@pytest.fixture
def no_thread_left():
    before = set(threading.enumerate())
    yield
    assert set(threading.enumerate()) <= before


def model():
    x = Ratio([1.0, 2.0, 3.0, 4.0], "1", standard(0.1), shared(limits(0.2)), label="x")
    y = Ratio(2.0, "1", triangular(0.3), standard(0.1, dof=5), label="y")
    return concatenate(x[::-1] * y + x.mean(), np.exp(-x[[0, 0, 3]]) * y**2, Ratio(1.0, "1"))


def assert_same(one, other):
    for name in ("mean", "u", "not_finite", "has_pole", "mean_error", "u_error"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    for kind in ("symmetric", "shortest"):
        np.testing.assert_array_equal(one.interval(0.95, kind), other.interval(0.95, kind))
    np.testing.assert_array_equal(one.samples(), other.samples())


@pytest.fixture(scope="module")
def alone():
    return monte_carlo(model(), TRIALS, seed=7)


# -- bits --------------------------------------------------------------------------------------
@pytest.mark.parametrize("workers", [1, 2, 3, 16])
def test_number_of_workers_changes_no_bit(alone, workers, no_thread_left):
    assert_same(monte_carlo(model(), TRIALS, seed=7, workers=workers), alone)


def test_processes_change_no_bit(alone, processes):
    assert_same(monte_carlo(model(), TRIALS, seed=7, executor=processes), alone)


def test_threads_of_the_caller_change_no_bit(alone):
    with ThreadPoolExecutor(2) as pool:
        assert_same(monte_carlo(model(), TRIALS, seed=7, executor=pool), alone)
        assert pool.submit(int, "1").result() == 1  # his pool is not shut down


class Backwards:
    """An executor that only can submit, and finishes what it was given last first."""

    def __init__(self, broken=()):
        self.given = []
        self.broken = broken

    def submit(self, function, /, *arguments, **options):
        number = len(self.given)
        future = Backward(self, number, function, arguments, options)
        self.given.append(future)
        return future


class Backward(Future):
    def __init__(self, executor, number, function, arguments, options):
        super().__init__()
        self.work = executor, number, function, arguments, options

    def result(self, timeout=None):
        executor = self.work[0]
        for future in reversed(executor.given):
            if not future.done():
                _, number, function, arguments, options = future.work
                if number in executor.broken:
                    future.set_exception(OSError("the node went away"))
                else:
                    future.set_result(function(*arguments, **options))
        return super().result(0)


def test_order_of_finishing_changes_no_bit(alone):
    assert_same(monte_carlo(model(), TRIALS, seed=7, executor=Backwards()), alone)


@pytest.mark.parametrize("kind", ["processes", "threads"])
def test_other_ways_to_draw_change_no_bit(kind, processes):
    x = Ratio([1.0, 2.0], "1", standard(0.1, dof=6)) ** 2
    pool = processes if kind == "processes" else ThreadPoolExecutor(2)
    try:
        for options in ({"digits": 2}, {"control": True, "trials": TRIALS}):
            one = monte_carlo(x, seed=3, **options)
            other = monte_carlo(x, seed=3, executor=pool, **options)
            assert one.trials == other.trials
            assert_same(one, other)
        one = monte_carlo_joint([x, x.sum()], TRIALS, seed=3)
        other = monte_carlo_joint([x, x.sum()], TRIALS, seed=3, executor=pool)
        np.testing.assert_array_equal(one.covariance(), other.covariance())
    finally:
        if kind == "threads":
            pool.shutdown()


def test_result_too_large_to_keep_changes_no_bit(alone, processes, monkeypatch, no_thread_left):
    monkeypatch.setattr(outcome, "KEPT_VALUES", 0)
    assert_same(monte_carlo(model(), TRIALS, seed=7, workers=2), alone)
    assert_same(monte_carlo(model(), TRIALS, seed=7, executor=processes), alone)


def test_built_in_formulations_travel(processes):
    density = water.density(Temperature([18.0, 20.0], "degC", standard(0.2), shared(limits(0.1))))
    one, other = (density.monte_carlo(TRIALS, executor=e) for e in (None, processes))
    assert_same(one, other)


# -- runs of blocks ----------------------------------------------------------------------------
class Counting:
    """An executor that says how many workers it has, works at once and remembers its tasks."""

    def __init__(self, workers):
        self.given = []
        if workers is not None:
            self._max_workers = workers

    def submit(self, function, /, *arguments):
        future = Future()
        self.given.append(future)
        try:
            future.set_result(function(*arguments))
        except Exception as error:
            future.set_exception(error)
        return future


@pytest.mark.slow
@pytest.mark.parametrize(("workers", "most"), [(1, 8), (2, 16), (3, 24), (None, 100)])
def test_simulation_travels_a_few_times_for_each_worker(workers, most):
    # it travelled with every block
    x = Ratio(np.linspace(1.0, 2.0, 5), "1", standard(0.1))
    trials = 200 * BLOCK - 5
    executor = Counting(workers)
    drawn = monte_carlo(x**2, trials, executor=executor)
    assert 2 <= len(executor.given) <= most
    alone = monte_carlo(x**2, trials, workers=2)
    np.testing.assert_array_equal(drawn.mean, alone.mean)
    np.testing.assert_array_equal(drawn.u, alone.u)


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_runs_of_blocks_change_no_bit(workers):
    trials = 21 * BLOCK + 7
    assert_same(
        monte_carlo(model()[:3], trials, seed=7, executor=Counting(workers)),
        monte_carlo(model()[:3], trials, seed=7),
    )


@pytest.mark.parametrize("kind", [Counting, ThreadPoolExecutor, ProcessPoolExecutor])
def test_failure_inside_a_run_names_its_own_block(kind, own):
    trials = 20 * BLOCK + 9
    x = Ratio(1.0, "1", standard(0.1))
    draws = x.monte_carlo(trials, seed=1).samples()
    block = int(np.argmax(draws)) // BLOCK
    assert block % 6  # is not the first of a run
    quantity = apply(functools.partial(own.failing_above, draws.max()), x)
    options = {}
    if kind is ProcessPoolExecutor:
        options["mp_context"] = multiprocessing.get_context("spawn")
    executor = kind(1, **options)
    try:
        with pytest.raises(PropagationError) as caught:
            quantity.monte_carlo(trials, seed=1, executor=executor)
    finally:
        if kind is not Counting:
            executor.shutdown()
    message = str(caught.value)
    assert f"block {block} (trials {block * BLOCK} to {(block + 1) * BLOCK - 1}) failed" in message
    assert "above the limit" in message
    assert type(caught.value) is PropagationError
    assert caught.value.__cause__ is not None


def test_failure_of_a_whole_run_names_its_blocks():
    class Broken:
        _max_workers = 1

        def submit(self, function, /, *arguments):
            future = Future()
            future.set_exception(OSError("the node went away"))
            return future

    expected = rf"blocks 0 to 4 \(trials 0 to {5 * BLOCK - 1}\) failed"
    with pytest.raises(PropagationError, match=expected):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(20 * BLOCK, executor=Broken())


def test_executor_that_stops_taking_work_is_named_and_leaves_nothing_waiting():
    class Closing:
        def __init__(self):
            self.futures = []

        def submit(self, function, /, *arguments):
            if len(self.futures) == 2:
                raise RuntimeError("cannot schedule new futures after shutdown")
            self.futures.append(Future())
            return self.futures[-1]

    executor = Closing()
    with pytest.raises(PropagationError, match=r"Closing.*takes no work.*after shutdown"):
        monte_carlo(Ratio(1.0, "1", standard(0.1)), TRIALS, executor=executor)
    assert all(future.cancelled() for future in executor.futures)


# -- functions of the user ---------------------------------------------------------------------
def test_function_of_a_module_travels(own, processes):
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    drawn = apply(own.doubled, x).monte_carlo(TRIALS, seed=2, executor=processes)
    assert_same(drawn, apply(own.doubled, x).monte_carlo(TRIALS, seed=2))
    np.testing.assert_array_equal(
        drawn.samples(), 2 * x.monte_carlo(TRIALS, seed=2, executor=processes).samples()
    )


def test_lambda_is_refused_by_name_with_the_way_out(processes):
    def inner(x):
        return x**2

    x = Ratio(1.0, "1", standard(0.1))
    for function, name in ((lambda v: v**2, "<lambda>"), (inner, "inner")):
        with pytest.raises(PropagationError, match=f"{name}.*top level of a module"):
            apply(function, x).monte_carlo(TRIALS, executor=processes)
        # threads of this process need no pickle
        assert apply(function, x).monte_carlo(TRIALS, workers=2).mean == pytest.approx(1.01, 0.01)


class Failing:
    """Fails in one of the calls on draws, for as many blocks as stand before it."""

    def __init__(self, error, at, pause=0.0):
        self.error, self.at, self.pause = error, at, pause
        self.count = itertools.count()
        self.calls = 0
        self.__qualname__ = "solver"

    def __call__(self, x):
        if x.size < 1000:
            return x
        number = next(self.count)
        self.calls = number + 1
        time.sleep(self.pause)
        if number == self.at:
            self.error()
        return x


def raise_value_error():
    raise ValueError("no root in the bracket")


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_failure_in_a_worker_names_block_and_trials(workers, no_thread_left):
    # the function's own error was passed on without saying where among the draws it arose
    x = Ratio(1.0, "1", standard(0.1))
    function = Failing(raise_value_error, at=0)
    with pytest.raises(PropagationError) as caught:
        apply(function, x).monte_carlo(200 * BLOCK, workers=workers)
    message = str(caught.value)
    assert "solver" in message
    assert "no root in the bracket" in message
    assert function.calls < 100  # the other blocks are not drawn first
    if workers > 1:  # whichever block was the first to call the function
        block = int(re.search(r"block (\d+) ", message)[1])
        assert f"trials {block * BLOCK} to {(block + 1) * BLOCK - 1}" in message


def test_failure_in_a_process_names_function_block_and_trials(own, processes):
    x = Ratio(1.0, "1", standard(0.1))
    quantity = apply(own.failing_when_drawn, x)
    with pytest.raises(PropagationError) as caught:
        quantity.monte_carlo(TRIALS, executor=processes)
    message = str(caught.value)
    assert "failing_when_drawn" in message
    assert "the solver gave up" in message
    assert "block 0" in message
    assert f"trials 0 to {BLOCK - 1}" in message
    # the pool goes on
    assert x.monte_carlo(TRIALS, executor=processes).u == x.monte_carlo(TRIALS).u


def test_process_that_dies_names_block_and_trials(own, no_thread_left):
    x = Ratio(1.0, "1", standard(0.1))
    quantity = apply(own.killing_when_drawn, x)
    with (
        ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool,
        pytest.raises(PropagationError, match=rf"block 0 \(trials 0 to {BLOCK - 1}\)"),
    ):
        quantity.monte_carlo(TRIALS, executor=pool)


@pytest.mark.parametrize(
    ("broken", "trials"), [(0, f"0 to {BLOCK - 1}"), (2, f"{2 * BLOCK} to {3 * BLOCK - 1}")]
)
def test_failure_of_the_executor_names_block_and_trials(broken, trials):
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    executor = Backwards(broken=(broken,))
    with pytest.raises(PropagationError) as caught:
        x.monte_carlo(TRIALS, executor=executor)
    message = str(caught.value)
    assert f"block {broken} (trials {trials})" in message
    assert "OSError: the node went away" in message
    assert "partial result is not given" in message
    assert isinstance(caught.value.__cause__, OSError)


def test_last_block_is_named_with_its_own_end():
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    with pytest.raises(PropagationError, match=rf"trials {3 * BLOCK} to {TRIALS - 1}\)"):
        x.monte_carlo(TRIALS, executor=Backwards(broken=(3,)))


def test_blocks_behind_a_failure_are_cancelled():
    class Waiting:
        def __init__(self):
            self.futures = []

        def submit(self, function, /, *arguments):
            future = Future()
            if not self.futures:
                future.set_exception(OSError("the node went away"))
            self.futures.append(future)
            return future

    executor = Waiting()
    with pytest.raises(PropagationError, match="block 0"):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(TRIALS, executor=executor)
    assert [future.cancelled() for future in executor.futures] == [False, True, True, True]


def test_cancelled_block_is_a_failure():
    class Cancelling:
        def submit(self, function, /, *arguments):
            future = Future()
            future.cancel()
            return future

    with pytest.raises(PropagationError, match="block 0"):
        Ratio(1.0, "1", standard(0.1)).monte_carlo(TRIALS, executor=Cancelling())


# -- interrupts --------------------------------------------------------------------------------
def interrupt():
    raise KeyboardInterrupt


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_interrupt_inside_a_block_goes_through_at_once(workers, no_thread_left):
    function = Failing(interrupt, at=2, pause=0.002)
    quantity = apply(function, Ratio(1.0, "1", standard(0.1)))
    with pytest.raises(KeyboardInterrupt):
        quantity.monte_carlo(500 * BLOCK, workers=workers)
    assert function.calls < 50
    # and what is left behind still draws
    assert quantity.monte_carlo(2 * BLOCK, workers=workers).mean == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("workers", [1, 2])
def test_interrupt_of_the_caller_goes_through_at_once(workers, no_thread_left):
    # what Ctrl-C does: the signal reaches the main thread, which waits for a block
    function = Failing(_thread.interrupt_main, at=2, pause=0.005)
    quantity = apply(function, Ratio(1.0, "1", standard(0.1)))
    usual = signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may have it ignored
    started = time.monotonic()
    try:
        with pytest.raises(KeyboardInterrupt):
            quantity.monte_carlo(1000 * BLOCK, workers=workers)
    finally:
        signal.signal(signal.SIGINT, usual)
    assert function.calls < 100
    assert time.monotonic() - started < 2.0  # all blocks would take 2.5 s and more


def test_interrupt_leaves_the_pool_of_the_caller_to_him():
    function = own_interrupt
    quantity = apply(function, Ratio(1.0, "1", standard(0.1)))
    with ThreadPoolExecutor(2) as pool:
        with pytest.raises(KeyboardInterrupt):
            quantity.monte_carlo(50 * BLOCK, executor=pool)
        assert pool.submit(int, "1").result() == 1


def own_interrupt(x):
    if x.size > 1000:
        raise KeyboardInterrupt
    return x


# -- what is no executor -----------------------------------------------------------------------
@pytest.mark.parametrize(
    "given", [2, "processes", object(), ThreadPoolExecutor, ProcessPoolExecutor, True]
)
def test_what_is_no_executor_is_refused_with_itself(given):
    # a class has a submit too, which then failed on an attribute of its own
    with pytest.raises(RangeError, match="executor"):
        monte_carlo(Ratio(1.0, "1", standard(0.1)), TRIALS, executor=given)


@pytest.mark.parametrize("workers", [0, -1, 1.5, "2", None, True])
def test_number_of_workers_is_checked(workers):
    with pytest.raises(RangeError, match="workers"):
        monte_carlo(Ratio(1.0, "1", standard(0.1)), TRIALS, workers=workers)


def test_pool_that_is_shut_down_says_so():
    pool = ThreadPoolExecutor(1)
    pool.shutdown()
    with pytest.raises((PropagationError, RuntimeError), match=r"shutdown|shut down"):
        monte_carlo(Ratio(1.0, "1", standard(0.1)), TRIALS, executor=pool)


@pytest.mark.parametrize("workers", [2, 5])
def test_workers_beside_an_executor_are_refused(workers):
    # workers were ignored
    with (
        ThreadPoolExecutor(1) as pool,
        pytest.raises(StatementError, match=f"workers={workers} and executor=.*one of the two"),
    ):
        monte_carlo(Ratio(1.0, "1", standard(0.1)), TRIALS, workers=workers, executor=pool)


def test_sobol_points_refuse_who_would_not_be_asked():
    # both were ignored
    x = Ratio(1.0, "1", standard(0.1))
    with pytest.raises(StatementError, match="sampler='sobol' and workers=2"):
        monte_carlo(x, TRIALS, sampler="sobol", workers=2)
    with (
        ThreadPoolExecutor(1) as pool,
        pytest.raises(StatementError, match="sampler='sobol' and executor="),
    ):
        monte_carlo(x, TRIALS, sampler="sobol", executor=pool)
    assert monte_carlo(x, TRIALS, sampler="sobol", workers=1).trials == 4 * BLOCK


def test_threads_stop_inside_a_block():
    calls = itertools.count(1)
    stop = 6

    def slow(x):
        if x.size < 10_000:
            return x
        if next(calls) == stop:
            raise KeyboardInterrupt
        time.sleep(0.01)
        return x

    # 2000 readings are many groups: a block of them would be hundreds of calls
    q = apply(slow, Ratio(np.linspace(1.0, 2.0, 2000), "1", standard(0.1)))
    with pytest.raises(KeyboardInterrupt):
        monte_carlo(q, 40 * BLOCK, workers=2)
    assert next(calls) < 2 * stop + 10


def test_an_executor_of_threads_keeps_no_record():
    crew._simulation.cache_clear()
    with ThreadPoolExecutor(1) as pool:
        monte_carlo(Ratio([1.0, 2.0], "1", standard(0.1)), 40_000, executor=pool)
    gc.collect()
    assert crew._simulation.cache_info().currsize == 0
