"""Coordinates of scrambled Sobol points, held against `scipy.stats.qmc`."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

from flowunc.propagation.sobol_points import SobolPoints

POINTS, SCRAMBLINGS = 256, 4


def all_coordinates(points, dimension, most=1 << 20):
    """Return shape (scramblings, points)."""
    found = np.concatenate([points.coordinates(dimension, b) for b in points.blocks(most)])
    return found.reshape(points.scramblings, points.points)


def boxes(first, second, bits):
    """Count points in boxes of equal area, for all shapes of box; sorted for each shape."""
    counts = []
    for a in range(bits + 1):
        box = np.floor(first * 2**a) * 2 ** (bits - a) + np.floor(second * 2 ** (bits - a))
        counts.append(np.sort(np.bincount(box.astype(int), minlength=2**bits)))
    return np.array(counts)


# -- even as the sequence is -------------------------------------------------------------------
@pytest.mark.parametrize("dimension", [0, 1, 12, 31, 32, 40, 1000, 21_200])
def test_each_coordinate_has_one_point_in_every_interval(dimension):
    for row in all_coordinates(SobolPoints(1, POINTS, SCRAMBLINGS), dimension):
        np.testing.assert_array_equal(np.sort(np.floor(row * POINTS)), np.arange(POINTS))


def test_pairs_are_as_even_as_those_of_the_sequence():
    # a random lower triangle and a shift of the digits only rename the boxes [Matousek 1998],
    # so the counts are those of the sequence itself, in pairs of any distance
    plain = qmc.Sobol(70, scramble=False).random(POINTS).T
    points = SobolPoints(5, POINTS, SCRAMBLINGS)
    for j, k in itertools.combinations([0, 1, 2, 7, 31, 32, 33, 69], 2):
        expected = boxes(plain[j], plain[k], 8)
        ours = zip(all_coordinates(points, j), all_coordinates(points, k), strict=True)
        for first, second in ours:
            np.testing.assert_array_equal(boxes(first, second, 8), expected)


def test_integral_in_many_dimensions_is_as_exact_as_with_the_scrambling_of_scipy():
    # mean of the product of 1 + (x - 1/2)/(k + 1) over 40 dimensions is 1
    weights = 1.0 / np.arange(1, 41)

    def error(points):
        return np.prod(1 + (points - 0.5) * weights, axis=-1).mean(axis=-1) - 1

    ours = SobolPoints(3, 1024, 200)
    cube = np.stack([all_coordinates(ours, k) for k in range(40)], axis=-1)
    theirs = np.stack([qmc.Sobol(40, seed=seed).random(1024) for seed in range(200)])
    found, expected = error(cube), error(theirs)
    random = np.prod(1 + (np.random.default_rng(1).random((200, 1024, 40)) - 0.5) * weights, -1)
    assert 0.75 < found.std() / expected.std() < 1.33
    assert random.mean(-1).std() > 10 * found.std()
    assert abs(found.mean()) < 4 * found.std() / np.sqrt(200)


# -- random as the scrambling is ---------------------------------------------------------------
@pytest.mark.parametrize("dimension", [0, 3, 33])
def test_every_point_is_uniform_and_points_of_two_dimensions_are_independent(dimension):
    points = SobolPoints(2, 64, 2000)
    own, other = all_coordinates(points, dimension), all_coordinates(points, dimension + 1)
    for place in (0, 1, 37, 63):
        assert stats.kstest(own[:, place], "uniform").pvalue > 1e-3
        # within its interval as well, where scrambled and shifted digits stand
        assert stats.kstest((own[:, place] * 64) % 1, "uniform").pvalue > 1e-3
        assert abs(np.corrcoef(own[:, place], other[:, place])[0, 1]) < 4 / np.sqrt(2000)
    assert abs(np.corrcoef(own[:-1, 0], own[1:, 0])[0, 1]) < 4 / np.sqrt(2000)


def test_coordinates_are_above_0_and_below_1_and_lie_symmetrically():
    found = all_coordinates(SobolPoints(1, 1 << 12, 64), 0)
    assert found.min() > 0
    assert found.max() < 1
    steps = np.ldexp(found, 53)
    np.testing.assert_array_equal(steps % 2, 1)  # middles of steps of 2**-52: 1 - x is exact


# -- what they depend on -----------------------------------------------------------------------
def test_dimension_does_not_depend_on_others_asked_before():
    alone, after = SobolPoints(1, POINTS, SCRAMBLINGS), SobolPoints(1, POINTS, SCRAMBLINGS)
    for dimension in (500, 40, 32, 31, 5, 0):
        all_coordinates(after, dimension)
    for dimension in (0, 5, 31, 32):
        np.testing.assert_array_equal(
            all_coordinates(alone, dimension), all_coordinates(after, dimension)
        )


@pytest.mark.parametrize("most", [1, 4, 64, 256, 512, 2048])
def test_size_of_blocks_changes_no_bit(most):
    points = SobolPoints(1, POINTS, 5)
    np.testing.assert_array_equal(
        all_coordinates(points, 7, most), all_coordinates(points, 7, 1 << 20)
    )
    blocks = list(points.blocks(most))
    assert max(block.length for block in blocks) <= most
    trials = np.concatenate([np.arange(points.trials)[block.trials] for block in blocks])
    np.testing.assert_array_equal(trials, np.arange(points.trials))


def test_seed_scrambling_and_dimension_each_change_the_points():
    first = all_coordinates(SobolPoints(1, POINTS, SCRAMBLINGS), 0)
    for other in (
        all_coordinates(SobolPoints(2, POINTS, SCRAMBLINGS), 0),
        all_coordinates(SobolPoints(1, POINTS, SCRAMBLINGS), 1),
        first[[1, 2, 3, 0]],
    ):
        assert not np.any(first == other)


def test_more_scramblings_leave_the_first_ones_as_they_are():
    few, many = SobolPoints(1, POINTS, 2), SobolPoints(1, POINTS, 6)
    np.testing.assert_array_equal(all_coordinates(few, 9), all_coordinates(many, 9)[:2])
