"""Directions of differentiation: no row may see two readings of one colour."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc.core.component import Component
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit
from flowunc.propagation.directions import Direction, coloured, directions_of, pairs_of
from flowunc.propagation.linear import BlockPart


def component(scope):
    return Component("error", Normal(1.0), parse_unit("m"), scope=scope)


def clashes(rows, columns, colours):
    seen = set()
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        if (row, int(colours[column])) in seen:
            return True
        seen.add((row, int(colours[column])))
    return False


@given(st.sets(st.tuples(st.integers(0, 7), st.integers(0, 11)), min_size=1))
def test_no_row_has_two_readings_of_one_colour(pairs):
    rows, columns = (np.array(part, dtype=np.intp) for part in zip(*pairs, strict=True))
    colours = coloured(rows, columns)
    assert not clashes(rows, columns, colours)
    fullest = np.bincount(rows).max()
    assert fullest <= len(np.unique(colours[columns]))
    # first free colour: never more than one plus the number of readings met in common rows
    shared = [len(set(columns[np.isin(rows, rows[columns == c])])) for c in set(columns.tolist())]
    assert colours.max() + 1 <= max(shared)


def test_one_reading_a_row_takes_one_colour_whatever_the_order():
    assert not coloured(np.arange(5), np.array([4, 2, 0, 2, 1])).any()


def test_differences_of_neighbours_take_two_colours():
    rows = np.repeat(np.arange(99), 2)
    columns = rows + np.tile([0, 1], 99)
    assert coloured(rows, columns).max() == 1


@pytest.mark.parametrize(("around", "colours"), [(3, 3), (4, 2), (5, 3), (8, 2), (9, 3)])
def test_differences_around_a_ring_take_what_the_ring_needs(around, colours):
    # a row sees two readings only, yet a ring of odd length cannot be coloured with two: chromatic
    # number of a cycle, textbook graph theory
    rows = np.repeat(np.arange(around), 2)
    columns = np.stack([np.arange(around), (np.arange(around) + 1) % around], axis=1).ravel()
    found = coloured(rows, columns)
    assert not clashes(rows, columns, found)
    assert found.max() + 1 == colours


def test_a_mean_takes_as_many_colours_as_readings():
    assert sorted(coloured(np.zeros(6, dtype=int), np.arange(3, 9))[3:]) == list(range(6))


def test_a_shared_component_is_one_direction_and_moves_everything():
    (direction,) = directions_of(component("shared"), np.arange(3), np.zeros(3, dtype=int))
    assert direction.readings is None
    assert direction.moves(np.arange(9)).all()


def test_readings_beyond_those_coloured_do_not_move():
    rows, columns = np.zeros(3, dtype=int), np.arange(3)
    found = directions_of(component("each"), rows, columns)
    moved = np.array([direction.moves(np.array([0, 1, 2, 7])) for direction in found])
    np.testing.assert_array_equal(moved, np.eye(3, 4, dtype=bool))


@pytest.mark.parametrize("columns", [None, 0])
def test_pairs_of_patterns_without_index_arrays(columns):
    rows, readings = pairs_of([BlockPart(None, columns, np.ones(3))], 3)
    assert (rows.tolist(), readings.tolist()) == ([0, 1, 2], [0, 0, 0])


def test_pairs_of_runs_and_arrays_are_joined():
    parts = [
        BlockPart(slice(1, 3), slice(5, 7), np.ones(2)),
        BlockPart(np.array([0]), np.array([9]), np.ones(1)),
    ]
    rows, readings = pairs_of(parts, 3)
    assert (rows.tolist(), readings.tolist()) == ([1, 2, 0], [5, 6, 9])
    assert isinstance(Direction(component("each"), None), tuple)
