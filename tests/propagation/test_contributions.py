"""Contributions and covariances against matrices written out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import (
    FlowuncError,
    Length,
    PropagationError,
    Ratio,
    concatenate,
    limits,
    repeated,
    shared,
    standard,
)
from flowunc.propagation.contributions import contributions, near_one, variances_of
from flowunc.propagation.linear import BLOCK


def test_squares_add_up_to_the_variance_of_each_row():
    x = Ratio([1.0, 2.0, 3.0], "1", standard([0.1, 0.2, 0.3]), shared(limits(0.2)))
    y = x**2 * x.mean() + concatenate(x[2], x[:2])
    total = sum(part.variances() for part in contributions(y._node))
    np.testing.assert_allclose(np.sqrt(total), y.u, rtol=1e-13)


def test_shared_contributions_keep_their_sign():
    angle = Ratio([1.0, 2.0], "1", shared(standard(0.1)))
    (part,) = contributions((np.array([1.0, -1.0]) * angle)._node)
    np.testing.assert_allclose(part.values, [0.1, -0.1], rtol=1e-14)
    assert part.rows is None
    assert part.columns is None


def test_covariance_with_another_number_of_readings():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), shared(standard(0.2)))
    matrix = x.covariance(x[[2, 0]])
    expected = 0.04 + 0.01 * np.array([[0, 1], [0, 0], [1, 0]])
    np.testing.assert_allclose(matrix, expected, rtol=1e-13)
    np.testing.assert_allclose(x.covariance(x.sum()), np.full((3, 1), 0.01 + 0.12), rtol=1e-13)


def test_covariance_of_unrelated_results_is_zero():
    a, b = Ratio([1.0, 2.0], "1", standard(0.1)), Ratio([1.0, 2.0], "1", standard(0.1))
    np.testing.assert_array_equal(a.covariance(b), 0.0)
    np.testing.assert_array_equal(a.correlation(b), 0.0)


def test_covariance_is_that_of_the_error_in_common_wherever_it_stands():
    # the first, second or third of the errors behind the sum
    several = [Ratio(1.0, "1", standard(u)) for u in (0.1, 0.2, 0.3)]
    total = sum(several)
    for each, u in zip(several, (0.1, 0.2, 0.3), strict=True):
        assert total.covariance(each) == pytest.approx(u**2, rel=1e-13)
        assert each.covariance(total) == pytest.approx(u**2, rel=1e-13)
    # several in common, those of all readings before and behind those of each
    assert total.covariance(2 * total) == pytest.approx(2 * 0.14, rel=1e-13)
    x = Ratio([1.0, 2.0], "1", shared(standard(0.1)), standard(0.2), shared(standard(0.3)))
    both = several[0] + x + several[1]
    expected = 0.05 + 0.1 + 0.04 * np.eye(2)
    np.testing.assert_allclose(both.covariance(both), expected, rtol=1e-13)
    np.testing.assert_allclose(both.covariance(x), expected - 0.05, rtol=1e-13)


def test_correlation_stays_within_one_and_is_symmetric():
    x = Ratio(np.linspace(0.1, 1, 5), "1", standard(0.1), shared(standard(1e-9)))
    y = np.sin(x) * 7 + x.mean()
    matrix = y.correlation(y)
    assert np.abs(matrix).max() <= 1.0
    np.testing.assert_allclose(matrix, matrix.T, atol=1e-15)
    np.testing.assert_allclose(np.diag(matrix), 1.0, rtol=1e-14)
    np.testing.assert_allclose(y.correlation(x), x.correlation(y).T, atol=1e-15)


def test_covariance_is_positive_semidefinite():
    x = Ratio(np.linspace(0.1, 1, 6), "1", standard(0.1), shared(limits(0.3)))
    y = concatenate(x, x.mean(), x[0] - x[1], 2 * x[:2])
    eigenvalues = np.linalg.eigvalsh(y.covariance(y))
    assert eigenvalues.min() > -1e-15
    assert (eigenvalues > 1e-12).sum() == 6  # ten rows, all linear in the six readings


def test_covariance_across_blocks():
    count = BLOCK + 40
    x = Ratio(np.linspace(1, 2, count), "1", standard(0.1), shared(standard(0.2)))
    picked = x[[0, BLOCK - 1, BLOCK, count - 1]]
    joined = concatenate(x[::-1], x[:30])
    matrix = picked.covariance(joined)
    expected = np.full((4, count + 30), 0.04)
    for row, reading in enumerate((0, BLOCK - 1, BLOCK, count - 1)):
        expected[row, count - 1 - reading] += 0.01
        if reading < 30:
            expected[row, count + reading] += 0.01
    np.testing.assert_allclose(matrix, expected, rtol=1e-13)


def test_component_that_only_later_blocks_hold():
    count = BLOCK + 40
    plain = Ratio(np.ones(count), "1", standard(0.1))
    late = Ratio(2.0, "1", standard(0.3, dof=4))
    joined = concatenate(plain, late * plain[:5])
    np.testing.assert_allclose(joined.u[-5:], math.hypot(0.3, 0.2), rtol=1e-13)
    np.testing.assert_allclose(joined.covariance(late)[-6:, 0], [0, *[0.09] * 5], rtol=1e-13)
    assert np.isinf(joined.dof[0])
    share = 0.09 / 0.13
    assert joined.dof[-1] == pytest.approx(4 / share**2, rel=1e-12)
    # own errors of plain: reading 0 stands in the first row and in the last block
    assert joined[0].covariance(joined[count]) == pytest.approx(0.02, rel=1e-13)


def test_degrees_of_freedom_across_blocks():
    count = BLOCK + 3
    sets = np.tile([[1.0, 2.0, 4.0]], (count, 1)).tolist()
    sets[-1] = [1.0, 2.0, 4.0, 5.0]
    x = Ratio(np.ones(count), "1", repeated(sets))
    assert x.dof[0] == 2.0
    assert x.dof[-1] == 3.0
    assert x[::-1].dof[0] == 3.0


def test_readings_that_a_run_of_rows_in_a_later_block_holds():
    count = BLOCK + 10
    plain = Ratio(np.ones(count), "1", standard(0.5))
    x = Ratio([1.0, 2.0, 3.0], "1", standard([0.1, 0.2, 0.3]))
    matrix = concatenate(plain, x, plain[:2]).covariance(x)
    np.testing.assert_allclose(matrix[count : count + 3], np.diag([0.01, 0.04, 0.09]), rtol=1e-13)
    assert np.count_nonzero(matrix) == 3


def test_degrees_of_freedom_of_rows_of_several_readings():
    # equal contributions of 4 degrees of freedom each: (2 u^2)^2/(2 u^4/4) = 8 [JCGM 100, G.2b]
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1, dof=4))
    rows = concatenate(x[0] + x[1], 0.0 * x[2], x[2])
    np.testing.assert_allclose(rows.dof, [8.0, np.inf, 4.0], rtol=1e-13)


@given(st.integers(0, 2**32 - 1), st.integers(1, 5), st.integers(1, 5))
def test_covariance_against_the_matrix_product(seed, rows, columns):
    # y = A x + b s: cov = A diag(u^2) A^T + (A 1) s^2 (A 1)^T, JCGM 100 F.1.2.3 in matrix form
    generator = np.random.default_rng(seed)
    matrix = generator.normal(size=(rows, columns))
    u, common = generator.uniform(0.1, 1.0, columns), generator.uniform(0.1, 1.0)
    x = Ratio(generator.normal(size=columns), "1", standard(u), shared(standard(common)))
    y = concatenate(*[(row * x).sum() for row in matrix])
    weight = matrix.sum(axis=1)
    expected = matrix * u**2 @ matrix.T + common**2 * np.outer(weight, weight)
    np.testing.assert_allclose(y.covariance(y), expected, rtol=1e-10, atol=1e-13)
    np.testing.assert_allclose(y.u, np.sqrt(np.diag(expected)), rtol=1e-10, atol=1e-13)
    cross = matrix * u**2 + common**2 * weight[:, None]
    np.testing.assert_allclose(y.covariance(x), cross, rtol=1e-10, atol=1e-13)


def test_correlation_of_a_certain_reading_names_it():
    x = concatenate(Length(1.0, "m", standard(0.1)), Length(2.0, "m"))
    with pytest.raises(FlowuncError, match="reading 1"):
        x.correlation(x)
    assert x.covariance(x)[1, 1] == 0.0


# -- sizes whose squares leave float64 ---------------------------------------------------------
@pytest.mark.parametrize("scale", [1e-300, 1e-170, 1e160, 1e300])
def test_variances_for_shares_at_any_size(scale):
    sizes = np.array([scale, 1.0, 0.0])
    a, b = (Length(sizes, "m", standard(u * sizes)) for u in (3.0, 4.0))
    node = (a + b)._node
    variances, total = variances_of(contributions(node), 3)
    np.testing.assert_allclose(np.array(variances)[:, :2] / total[:2], [[0.36] * 2, [0.64] * 2])
    assert total[2] == 0.0


def test_variances_for_shares_are_the_variances_at_ordinary_sizes():
    x = Ratio([1.0, 2.0], "1", standard(3.0), shared(standard(4.0)))
    variances, total = variances_of(contributions(x._node), 2)
    np.testing.assert_array_equal(variances, [[9.0, 9.0], [16.0, 16.0]])
    np.testing.assert_array_equal(total, [25.0, 25.0])


def test_a_power_of_two_brings_contributions_next_to_one():
    x = Length([3e-200, 5e200], "m", standard([3e-200, 5e200]), standard([1e-200, 7e198]))
    parts = contributions((2 * x)._node)
    near, exponents = near_one(parts, 2)
    for part, scaled in zip(parts, near, strict=True):
        np.testing.assert_array_equal(np.ldexp(scaled.values, exponents), part.values)
    assert all(0.5 <= size < 1.0 for size in np.max([np.abs(p.values) for p in near], axis=0))


def test_rows_of_one_and_of_several_readings_keep_sign_and_u():
    # budget_table and relative_sensitivity take their lines from here
    x = Ratio(np.ones(4), "1", standard([0.1, 0.2, 0.3, 0.4]))
    rows = concatenate(x[0] + x[1], -x[2], x[3], x[1] - x[3], x[0] + x[1] + x[2])
    (part,) = contributions(rows._node)
    assert part.per_row()[[1, 2]] == pytest.approx([-0.3, 0.4], rel=1e-12)
    assert part.standard_uncertainty_per_row()[[1, 2]] == pytest.approx([0.3, 0.4], rel=1e-12)


@pytest.mark.parametrize("size", [1e-200, 1.0, 1e200])
def test_size_of_rows_of_one_and_of_several_readings(size):
    # independent errors: the root of their number, at any size
    x = Ratio(np.full(4, size), "1", standard(0.1 * size))
    rows = concatenate(x[0] + x[1], -x[2], x[3], x[1] - x[3], x[0] + x[1] + x[2])
    (part,) = contributions(rows._node)
    expected = np.sqrt([2, 1, 1, 2, 3])
    np.testing.assert_allclose(np.abs(part.per_row()) / (0.1 * size), expected, rtol=1e-12)


def test_a_covariance_beyond_float64_is_refused_with_the_way_out():
    # it was infinite, with NumPy's warning
    for statement in (standard(1e200), shared(standard(1e200))):
        x = Length([1e200, 2e200], "m", statement)
        with pytest.raises(PropagationError, match=r"correlation\(\)"):
            x.covariance(x)
        np.testing.assert_allclose(np.diag(x.correlation(x)), 1.0, rtol=1e-12)


def test_covariances_within_float64_are_given_though_their_sum_is_not():
    x = Length([1e154, 2e154], "m", standard(1.2e154))
    np.testing.assert_allclose(x.covariance(x), np.diag([1.44e308, 1.44e308]), rtol=1e-12)


@pytest.mark.parametrize("method", ["covariance", "correlation"])
def test_tables_beyond_memory_are_refused_with_their_size(method):
    # a table of 7 TiB was asked for: NumPy's MemoryError
    x = Length(np.linspace(1.0, 2.0, 1_000_000), "m", standard(0.01), limits(0.02))
    with pytest.raises(PropagationError, match=r"1e\+12 numbers.*x\[:1000\]"):
        getattr(x, method)(x)
    assert getattr(x, method)(x.mean()).shape == (1_000_000, 1)
