"""Blocks of memory are used again once nobody sees them any more, and never before."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from flowunc.core import memory

SIZE = memory.BLOCK // 5  # four arrays a block


@pytest.fixture
def in_own_thread():
    """Return a caller in a thread that has cut nothing yet."""

    def call(job):
        failed = []

        def work():
            try:
                job()
            except BaseException as error:
                failed.append(error)

        thread = threading.Thread(target=work)
        thread.start()
        thread.join()
        if failed:
            raise failed[0]

    return call


WAYS = {
    "itself": lambda array: array,
    "slice": lambda array: array[10:500:3],
    "slice of a slice": lambda array: array[1:][2:100],
    "matrix": lambda array: array[:100].reshape(10, 10).T,
    "memoryview": lambda array: memoryview(array)[5:9],
    "array of a memoryview": lambda array: np.asarray(memoryview(array[:50])),
    "other type": lambda array: array[:8].view(np.int64),
    "read only": lambda array: np.broadcast_to(array[:1], (3, 1)),
}


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_what_somebody_still_sees_stays_as_it_is(way, in_own_thread):
    def job():
        array = memory.empty(SIZE)
        array[:] = 7.0
        held = way(array)
        before = np.array(held)
        del array
        for _ in range(20):  # many blocks' worth of arrays that live for a moment only
            memory.empty(SIZE)[:] = -1.0
        np.testing.assert_array_equal(np.array(held), before)

    in_own_thread(job)


def test_a_block_nobody_sees_is_used_again(in_own_thread):
    def job():
        places = set()
        for _ in range(40):
            places.add(memory.empty(SIZE).ctypes.data)
        assert len(places) <= 4 * memory.KEPT

    in_own_thread(job)


def test_one_array_counts_as_one_reference_more():
    block = np.empty(100)
    blocks = [block]
    del block
    assert memory._references(blocks) == [memory.OURS]
    array = blocks[0][:10]
    assert memory._references(blocks) == [memory.OURS + 1]
    del array
    assert memory._references(blocks) == [memory.OURS]


def test_scratch_is_handed_out_again_only_when_released():
    pool = memory.Pool()
    with memory.reuse(pool):
        first, second = memory.scratch((3, 50)), memory.scratch((3, 50))
        assert not np.shares_memory(first, second)
        memory.release(first)
        third = memory.scratch((50, 3))
        assert np.shares_memory(first, third)
        assert not np.shares_memory(memory.scratch((3, 50)), third)


def release_and_fail(array):
    with memory.reuse(memory.Pool()):
        memory.release(array)
        raise ZeroDivisionError


def test_a_pool_within_a_pool_gives_its_own_and_the_outer_one_comes_back():
    outer = memory.Pool()
    with memory.reuse(outer):
        kept = memory.scratch((20,))
        with pytest.raises(ZeroDivisionError):
            release_and_fail(kept)
        assert not outer.waiting
        memory.release(kept)
        assert np.shares_memory(memory.scratch((20,)), kept)
    memory.release(kept)  # outside of any pool nothing is kept
    assert outer.waiting == {20: []}
