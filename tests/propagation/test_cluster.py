"""Draws on a cluster: the client's executor gives the same bits, and failures come home.

A cluster of its own on this machine, once with worker threads and once with a worker process,
to which record, components and functions travel by pickle.
"""

from __future__ import annotations

import importlib
import os
import sys

import numpy as np
import pytest

from flowunc import (
    PropagationError,
    Ratio,
    apply,
    concatenate,
    limits,
    monte_carlo,
    shared,
    standard,
    triangular,
)
from flowunc.propagation.draws import BLOCK

# what a cluster's release warns of in itself says nothing about the draws
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")

TRIALS = 3 * BLOCK + 500

# A module of the user's own, that worker processes can import.
SOLVERS = """
def doubled(x):
    return 2 * x


def failing_when_drawn(x):
    if x.size > 1000:
        raise ValueError("the solver gave up")
    return x
"""


@pytest.fixture(scope="module")
def solvers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("solvers")
    (folder / "solvers_of_the_user.py").write_text(SOLVERS, encoding="utf-8")
    sys.path.insert(0, str(folder))  # worker processes get the path handed on
    try:
        yield importlib.import_module("solvers_of_the_user")
    finally:
        sys.path.remove(str(folder))
        sys.modules.pop("solvers_of_the_user", None)


@pytest.fixture(scope="module", params=[False, True], ids=["threads", "process"])
def client(request, solvers):
    import distributed

    workers = {"n_workers": 1, "threads_per_worker": 1} if request.param else {"n_workers": 2}
    with distributed.Client(processes=request.param, dashboard_address=None, **workers) as client:
        own = set(client.run(os.getpid).values()) == {os.getpid()}
        assert own is not request.param  # a process of its own, or this one
        yield client


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


@pytest.mark.parametrize("options", [{}, {"control": True}, {"digits": 1}], ids=str)
def test_cluster_changes_no_bit(client, options):
    alone = monte_carlo(model(), TRIALS, seed=7, **options)
    with client.get_executor() as executor:
        drawn = monte_carlo(model(), TRIALS, seed=7, executor=executor, **options)
    assert drawn.trials == alone.trials
    assert_same(drawn, alone)
    assert np.all(drawn.u[:-1] > 0)


def test_function_of_the_user_travels(client, solvers):
    quantity = apply(solvers.doubled, Ratio([1.0, 2.0], "1", standard(0.1)))
    with client.get_executor() as executor:
        drawn = monte_carlo(quantity, TRIALS, seed=2, executor=executor)
    assert_same(drawn, monte_carlo(quantity, TRIALS, seed=2))


def test_failure_in_a_worker_names_function_block_and_trials(client, solvers):
    quantity = apply(solvers.failing_when_drawn, Ratio(1.0, "1", standard(0.1)))
    with client.get_executor() as executor:
        with pytest.raises(PropagationError) as caught:
            monte_carlo(quantity, TRIALS, executor=executor)
        # and the cluster goes on
        sound = Ratio(1.0, "1", standard(0.1))
        assert monte_carlo(sound, TRIALS, executor=executor).u == monte_carlo(sound, TRIALS).u
    message = str(caught.value)
    assert "failing_when_drawn" in message
    assert "the solver gave up" in message
    assert f"block 0 (trials 0 to {BLOCK - 1})" in message
