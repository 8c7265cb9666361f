"""Variances of rows that depend on sums over many readings, against full tables of weights."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import Ratio, standard
from flowunc.propagation import sums
from flowunc.propagation.pieces import Piece
from flowunc.propagation.sums import Spread, variance_with_sums

ROWS, READINGS = 7, 12


def full_table(sparse, spreads):
    """Return the weight of every reading in every row, written out one by one."""
    table = np.zeros((ROWS, READINGS))
    for rows, columns, weight in sparse:
        for entry, row in enumerate(range(ROWS)[rows] if isinstance(rows, slice) else rows):
            table[row, columns[entry]] += weight[entry]
    for rows, weight, columns, factors in spreads:
        for entry, row in enumerate(rows):
            for column, factor in zip(columns, factors, strict=True):
                table[row, column] += weight[entry] * factor
    return table


def from_table(table):
    # what independent errors of 1 do to each row [JCGM 100, 5.1.2, eq. 10]
    return np.array([np.dot(row, row) for row in table])


def drawn(seed):
    generator = np.random.default_rng(seed)
    every, readings = np.arange(ROWS), np.arange(READINGS)
    spreads = [
        (every, generator.normal(size=ROWS), readings[2:], generator.normal(size=READINGS - 2)),
        (every[1:4], generator.normal(size=3), readings[:9], generator.normal(size=9)),
        ([5, 0, 5], generator.normal(size=3), readings, generator.normal(size=READINGS)),
    ]
    sparse = [
        (every, readings[3 : 3 + ROWS], generator.normal(size=ROWS)),
        (slice(2, 5), readings[:3], generator.normal(size=3)),
        ([6, 1, 1], [0, 0, 11], generator.normal(size=3)),
    ]
    return sparse, spreads


def as_given(sparse, spreads):
    """Return the same in the patterns of the sweep: None, a slice, an array."""
    pieces = [
        Piece(None, slice(3, 3 + ROWS), sparse[0][2]),
        Piece(slice(2, 5), slice(0, 3), sparse[1][2]),
        Piece(np.array(sparse[2][0]), np.array(sparse[2][1]), sparse[2][2]),
    ]
    made = [
        Spread(None, spreads[0][1], slice(2, READINGS), spreads[0][3]),
        Spread(slice(1, 4), spreads[1][1], slice(0, 9), spreads[1][3]),
        Spread(np.array(spreads[2][0]), spreads[2][1], np.arange(READINGS), spreads[2][3]),
    ]
    return pieces, made


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("written_out", [False, True])
def test_variance_is_that_of_the_full_table(seed, written_out, monkeypatch):
    if written_out:  # as if every row had cancelled, a few rows at a time
        monkeypatch.setattr(sums, "CANCELLED", 2.0)
        monkeypatch.setattr(sums, "MOST_ENTRIES", 3 * READINGS)
    sparse, spreads = drawn(seed)
    found = variance_with_sums(*as_given(sparse, spreads), ROWS)
    np.testing.assert_allclose(found, from_table(full_table(sparse, spreads)), rtol=1e-12)


def test_each_row_is_written_out_that_cancels_and_no_other(monkeypatch):
    # row 0 and row 2 are nearly nothing, beside rows that are not
    monkeypatch.setattr(sums, "MOST_ENTRIES", 1)
    t = np.array([1.0, 1.0, -3.0, 1.0])
    less = np.array([-1.0, 2.0, 3.0, 0.5])
    near = np.full(20, 0.05)
    near[4] += 1e-9
    pieces = [Piece(None, slice(7, 11), np.array([0.0, 1.0, 2e-9, 0.0]))]
    spreads = [
        Spread(None, t, slice(0, 20), np.full(20, 0.05)),
        Spread(None, less, slice(0, 20), near),
    ]
    # row 0: only reading 4 is left, with -1e-9; row 2: 3e-9 of it and 2e-9 of reading 9
    found = np.sqrt(variance_with_sums(pieces, spreads, 4))
    # 0.05 + 1e-9 is known to 7e-18, of the 1e-9 that is 1e-8
    np.testing.assert_allclose(found[[0, 2]], [1e-9, 1e-9 * np.hypot(3, 2)], rtol=5e-8)
    np.testing.assert_allclose(
        found[[1, 3]] ** 2, [20 * 0.15**2 + 2 * 0.15 + 1, 20 * 0.075**2], rtol=1e-7
    )


@pytest.mark.parametrize("closeness", [1e-3, 1e-6, 1e-9])
def test_difference_of_two_nearly_equal_means_keeps_its_digits(closeness):
    # t_i (m - m'), m' with weights 1/n + d_k: u = |t_i| s sqrt(sum d_k^2); the squares of the two
    # means cancel to closeness^2 of themselves
    count, s = 50, 0.1
    x = Ratio(np.linspace(1, 2, count), "1", standard(s))
    d = closeness * np.sin(np.arange(count))
    t = np.linspace(1, 3, count)
    plain, tilted = x.mean(), (x * (1 / count + d)).sum()
    found = (t * plain - t * tilted).u
    digits = max(1e-12, 1e-15 / closeness)
    np.testing.assert_allclose(found, t * s * np.sqrt(np.sum(d**2)), rtol=digits)


def test_difference_of_equal_sums_is_certain():
    x = Ratio(np.linspace(1, 2, 40), "1", standard(0.1))
    t = np.linspace(1, 3, 40)
    again = (x[::-1] * 1.0).sum()
    np.testing.assert_allclose((t * x.sum() - t * again).u, 0.0, atol=1e-14)


@pytest.mark.parametrize("closeness", [1e-5, 1e-7, 1e-9])
def test_difference_of_a_reading_and_a_sum_that_is_nearly_it_keeps_its_digits(closeness):
    # S = x_0 + d (x_1 + ... + x_n): of x_0 - S only d of each is left, u = d s sqrt(n);
    # of x_i - t S with 1 - t d of its own, t of x_0, and t d of the other n - 1
    n, s, d = 30, 0.1, closeness
    x = Ratio(np.linspace(1, 2, n + 1), "1", standard(s))
    weights, t = np.full(n + 1, d), np.linspace(1, 2, n + 1)
    weights[0] = 1.0
    found = (x - t * (x * weights).sum()).u
    assert found[0] == pytest.approx(d * s * np.sqrt(n), rel=1e-12)
    expected = s * np.sqrt((1 - t * d) ** 2 + t**2 + (n - 1) * (t * d) ** 2)
    np.testing.assert_allclose(found[1:], expected[1:], rtol=1e-12)
