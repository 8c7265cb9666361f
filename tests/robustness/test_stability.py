"""The same bits whoever computes them; deep records; many threads; memory given back."""

from __future__ import annotations

import copy
import gc
import pickle
import sys
import tracemalloc
import weakref
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowunc import (
    PropagationError,
    Ratio,
    concatenate,
    cross_check,
    limits,
    monte_carlo,
    second_order,
    shared,
    standard,
    triangular,
    water,
)
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.propagation.draws import BLOCK
from flowunc.propagation.simulation import Simulation

TRIALS = 2 * BLOCK + 300


# -- bits --------------------------------------------------------------------------------------
def mixed():
    x = Ratio(np.linspace(1.0, 2.0, 7), "1", standard(0.1), shared(limits(0.2)))
    y = Ratio(2.0, "1", triangular(0.3), standard(0.1, dof=5))
    picked = np.exp(-x[[0, 0, 6]]) * y**2
    return [concatenate(x[::-1] * y + x.mean(), picked, Ratio(1.0, "1")), (x * y).sum(), x[1:4]]


@pytest.fixture(scope="module")
def alone():
    nodes = [quantity._node for quantity in mixed()]
    keep = np.empty((Simulation(nodes, 9).rows, TRIALS))
    moments, _ = Simulation(nodes, 9).moments(TRIALS, keep)
    return moments, keep


@settings(derandomize=True, max_examples=25, deadline=None, database=None)
@given(group=st.integers(1, 400_000), row=st.lists(st.integers(0, 14), min_size=1, max_size=5))
def test_size_of_the_groups_changes_no_bit(alone, group, row):
    nodes = [quantity._node for quantity in mixed()]
    simulation = Simulation(nodes, 9, group=group)
    keep = np.empty((simulation.rows, TRIALS))
    moments, _ = simulation.moments(TRIALS, keep)
    for name in ("mean", "squares", "not_finite"):
        assert np.array_equal(getattr(moments, name), getattr(alone[0], name))
    assert np.array_equal(keep, alone[1])
    # any rows, drawn again by themselves
    assert np.array_equal(simulation.draw_rows(row, TRIALS), alone[1][row])


# -- threads -----------------------------------------------------------------------------------
def test_threads_that_share_instruments_and_results_get_the_same_bits(bench):
    meter, thermometer = bench.meters["small"], bench.thermometer
    before = meter.read([30.0, 60.0, 90.0])

    def work(seed):
        flow = meter.read([30.0, 60.0, 90.0])
        q = flow * water.density(thermometer.read([20.0, 20.2, 20.4]))
        drawn = q.monte_carlo(2000, seed=seed)
        return (
            q.u.tobytes(), q.dof.tobytes(), q.budget(1).to_csv(), str(q),
            drawn.samples().tobytes(), drawn.interval()[0].tobytes(),
            flow.correlation(before).tobytes(), second_order(q).u.tobytes(),
        )  # fmt: skip

    common = before * 2.0

    def ask(_):
        return common.u.tobytes(), common.budget(0).to_csv(), common.interval()[0].tobytes()

    expected = [work(seed) for seed in range(3)]
    usual = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(12) as pool:
            found = list(pool.map(work, [0, 1, 2] * 12))
            asked = set(pool.map(ask, range(60)))
    finally:
        sys.setswitchinterval(usual)
    assert found == expected * 12
    assert len(asked) == 1


# -- depth -------------------------------------------------------------------------------------
@pytest.mark.parametrize("value", [1.0, pytest.param([1.0, 2.0], marks=pytest.mark.slow)])
def test_ten_thousand_operations_need_no_recursion(value):
    x = Ratio(value, "1", standard(0.1))
    q = x
    for step in range(3_400):
        q = q * 1.0001 + x * (1e-6 if step % 2 else -1e-6)
    # linear in x: q = (1.0001^3400 + a sum) x, so u/q is that of x
    relative = np.asarray(x.u) / x.value
    assert q.u / np.asarray(q.value) == pytest.approx(relative, rel=1e-9)
    one = q[0] if q.ndim else q
    assert one.budget()["share"].tolist() == pytest.approx([1.0])
    assert np.all(np.isinf(q.dof))
    assert second_order(q).u == pytest.approx(q.u, rel=1e-9)
    assert q.monte_carlo(2000, seed=1).u == pytest.approx(q.u, rel=0.1)
    assert q.monte_carlo(512, sampler="sobol").u == pytest.approx(q.u, rel=0.02)
    assert one.correlation(x[0] if x.ndim else x) == pytest.approx(1.0, rel=1e-9)
    assert copy.deepcopy(q) is q
    for again in (pickle.loads(pickle.dumps(q)), from_json(to_json(q))):
        assert (again - q).u == pytest.approx(0.0, abs=1e-12)
        assert np.array_equal(again.value, q.value)
    del again, one, q
    gc.collect()  # dealloc of a chain of nodes needs no recursion either


# -- memory ------------------------------------------------------------------------------------
def results():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), shared(limits(0.2)))
    q = np.exp(-x) * Ratio(2.0, "1", triangular(0.3)) ** 2 + x.mean()
    _ = q.u, q.dof, q.interval(), str(q), q.covariance(q)
    return q


def test_a_record_dies_with_its_last_result():
    q = results()
    drawn = monte_carlo(q, 2000, workers=2)
    _ = drawn.interval(), cross_check(q[0]), second_order(q).u, q.budget(0)
    found = [weakref.ref(node.value) for node in (q._node, *q._node.inputs)]
    assert all(ref() is not None for ref in found)
    del q, drawn, _
    gc.collect()
    assert [ref() for ref in found] == [None] * len(found)


def test_a_record_dies_with_the_error_that_it_led_to():
    x = Ratio([1.0, -1.0], "1", standard(0.1))
    found = weakref.ref(x._node.value)
    with pytest.raises(PropagationError):
        np.sqrt(x)
    del x
    gc.collect()
    assert found() is None


@pytest.mark.slow
def test_memory_does_not_grow_with_repetitions():
    def used(repetitions):
        for _ in range(repetitions):
            monte_carlo(results(), 100, workers=2).interval()
        gc.collect()
        return tracemalloc.get_traced_memory()[0]

    used(5)
    tracemalloc.start()
    try:
        first = used(50)  # fills the caches of small blocks that NumPy and Python keep
        later = used(200)
    finally:
        tracemalloc.stop()
    # those caches fill up to 70 kB; one array and its node for each repetition are 100 kB
    assert later - first < 60_000
