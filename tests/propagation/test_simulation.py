"""The machinery under the draws: grouping, redrawing, blocks, long sums; and its streams."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from scipy import stats

from flowunc import Ratio, apply, concatenate, limits, shared, standard
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.record import topological_order
from flowunc.core.units import parse_unit
from flowunc.propagation import adaptive, outcome
from flowunc.propagation.crew import Crew
from flowunc.propagation.draws import BLOCK, BlockDraws, Places
from flowunc.propagation.moments import Moments
from flowunc.propagation.simulation import Simulation


def outputs():
    x = Ratio(np.linspace(1, 2, 9), "1", standard(0.1), shared(limits(0.2)), label="x")
    y = Ratio(2.0, "1", limits(0.3), standard(0.1, dof=5), label="y")
    square = np.square(x) * y
    return [
        q._node
        for q in (
            square + x.mean(),
            concatenate(square[::-1], x[[0, 0, 3]], y),
            y,
            x[4],
            apply(lambda a, b: np.sin(a) * b, x[2:5], y),
            Ratio([1.0, 2.0], "1"),
            np.power(x, 3.0) / x[1:2],
        )
    ]


def drawn(trials, rows=None, workers=1, **options):
    simulation = Simulation(outputs(), 11, **options)
    return simulation.draw_rows(rows or list(range(simulation.rows)), trials, Crew(workers))


@pytest.fixture(scope="module")
def reference():
    return drawn(BLOCK + 300)


@pytest.mark.parametrize("group", [1, 7, 5 * BLOCK, 10**9])
def test_group_size_changes_no_bit(reference, group):
    np.testing.assert_array_equal(drawn(BLOCK + 300, group=group), reference)


@pytest.mark.parametrize("workers", [2, 3])
def test_threads_change_no_bit(reference, workers):
    np.testing.assert_array_equal(drawn(BLOCK + 300, workers=workers), reference)


def test_rows_drawn_again_are_those_kept(reference):
    kept = np.empty_like(reference)
    Simulation(outputs(), 11).moments(BLOCK + 300, kept)
    np.testing.assert_array_equal(kept, reference)
    rows = [20, 3, 3, 0, reference.shape[0] - 1, 22]
    np.testing.assert_array_equal(drawn(BLOCK + 300, rows), reference[rows])
    for row in range(reference.shape[0]):
        np.testing.assert_array_equal(drawn(500, [row])[0], reference[row, :500])


def test_moments_do_not_depend_on_grouping_or_threads(reference):
    simulation = Simulation(outputs(), 11)
    moments, _ = simulation.moments(BLOCK + 300)
    np.testing.assert_allclose(moments.mean, reference.mean(axis=1), rtol=1e-13)
    expected = reference.var(axis=1, ddof=1)
    np.testing.assert_allclose(moments.squares / (moments.count - 1), expected, rtol=1e-11)
    for options, workers in (({"group": 1}, 1), ({"group": 10**9}, 1), ({}, 2)):
        other, _ = Simulation(outputs(), 11, **options).moments(BLOCK + 300, crew=Crew(workers))
        np.testing.assert_array_equal(other.mean, moments.mean)
        np.testing.assert_array_equal(other.squares, moments.squares)


def test_later_blocks_can_be_drawn_alone(reference):
    keep = np.empty((reference.shape[0], 300))
    moments, _ = Simulation(outputs(), 11).moments(BLOCK + 300, keep, 1)
    assert moments.count == 300
    np.testing.assert_array_equal(keep, reference[:, BLOCK:])


def test_later_blocks_drawn_elsewhere_land_in_their_place():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1))
    simulation = Simulation([(x**2)._node], 11)
    whole, keep = simulation.draw_rows([0, 1, 2], 2 * BLOCK + 300), np.empty((3, BLOCK + 300))
    with ThreadPoolExecutor(1) as executor:
        moments, _ = simulation.moments(2 * BLOCK + 300, keep, 1, Crew(executor=executor))
    assert moments.count == BLOCK + 300
    np.testing.assert_array_equal(keep, whole[:, BLOCK:])


def pooled():
    """Return two quantities estimated from one sample, so that both have the same chi factor."""
    pool = Pool(dof=6.0)
    return [
        Ratio._from_terms(
            np.ones(2),
            [Term(Component(name, Normal(0.1), unit, scope="each", dof=6.0, pool=pool))],
            unit,
            name,
        )
        for name, unit in (("a", parse_unit("1")), ("b", parse_unit("1")))
    ]


@pytest.mark.parametrize("together", [False, True])
def test_components_of_one_sample_are_drawn_again_one_by_one(together):
    a, b = pooled()
    nodes = [q._node for q in ([a, b, (a + b)[:1]] if together else [a, b])]
    simulation = Simulation(nodes, 5)
    whole = simulation.draw_rows(list(range(simulation.rows)), 700)
    for row in range(simulation.rows):
        np.testing.assert_array_equal(Simulation(nodes, 5).draw_rows([row], 700)[0], whole[row])
    # the common factor shows in the sizes, not in the signs [JCGM 102, 5.3.2]
    sizes = np.abs(whole[:4] - 1)
    assert np.abs(np.corrcoef(whole[:4]) - np.eye(4)).max() < 5 / np.sqrt(700)
    assert np.corrcoef(sizes[0], sizes[2])[0, 1] > 0.1
    # a/u is a t variable of 6 degrees of freedom
    assert stats.kstest((whole[:4].ravel() - 1) / 0.1, stats.t(6).cdf).pvalue > 1e-3


def test_results_too_large_to_keep_are_drawn_again(monkeypatch):
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), shared(limits(0.2)))
    kept = (x**2).monte_carlo(20_000, seed=1)
    monkeypatch.setattr(outcome, "KEPT_VALUES", 0)
    again = (x**2).monte_carlo(20_000, seed=1)
    assert again._draws is None
    np.testing.assert_array_equal(again.samples(), kept.samples())
    np.testing.assert_array_equal(again.interval(0.9), kept.interval(0.9))
    np.testing.assert_array_equal(again.interval_error(0.9), kept.interval_error(0.9))
    np.testing.assert_array_equal(again.u, kept.u)


def test_adaptive_results_too_large_to_keep_are_drawn_again(monkeypatch):
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    kept = x.monte_carlo(digits=1, seed=1)
    monkeypatch.setattr(adaptive, "KEPT_VALUES", 0)
    again = x.monte_carlo(digits=1, seed=1)
    assert again.trials == kept.trials
    assert kept._draws is not None
    assert again._draws is None
    np.testing.assert_array_equal(again.samples(), kept.samples())


def test_long_sum_is_drawn_in_pieces_with_the_same_bits():
    # the widest intermediate result bounds the piece: one block is then drawn in many pieces
    count = 5_000
    x = Ratio(np.linspace(1, 2, count), "1", standard(0.1, dof=5), shared(limits(0.2)))
    total = x.mean()
    simulation = Simulation([total._node, x[:3]._node], 5)
    assert simulation._piece < 1_000
    both = simulation.draw_rows([0, 1, 2, 3], 1_500)
    whole = Simulation([x._node], 5).draw_rows(list(range(count)), 1_500)
    np.testing.assert_allclose(both[0], whole.mean(axis=0), rtol=1e-13)
    np.testing.assert_array_equal(both[1:], whole[:3])


def test_one_reading_of_many_costs_one_reading():
    x = Ratio(np.linspace(1, 2, 200_000), "1", standard(0.1))

    def seconds(quantity):
        start = time.process_time()
        quantity.monte_carlo(20_000, seed=1)
        return time.process_time() - start

    single = Ratio(1.0, "1", standard(0.1))
    seconds(single)
    assert seconds(x[77]) < 20 * max(seconds(single), 1e-3)


def test_deep_model_is_drawn_without_recursion():
    value = Ratio(1.0, "1", standard(0.01))
    for _ in range(10_000):
        value = -value
    assert value.monte_carlo(2_000, seed=1).u == pytest.approx(0.01, rel=0.1)


def test_merged_moments_are_those_of_the_whole():
    generator = np.random.default_rng(1)
    values = generator.normal(1e6, 1.0, (2, 1_000))
    values[1, 3] = np.inf
    parts = []
    for columns in (slice(0, 10), slice(10, 700), slice(700, 1_000)):
        part = Moments.empty(2, columns.stop - columns.start)
        part.fill(np.arange(2), values[:, columns].copy())
        parts.append(part)
    whole = parts[0].merge(parts[1]).merge(parts[2])
    assert whole.count == 1_000
    assert whole.mean[0] == pytest.approx(values[0].mean(), rel=1e-15)
    assert whole.squares[0] == pytest.approx(values[0].var() * 1_000, rel=1e-9)
    assert whole.not_finite.tolist() == [0, 1]


# -- streams -----------------------------------------------------------------------------------
def block_draws(quantity, block=0, seed=3, keep=True):
    return BlockDraws(Places(topological_order([quantity._node])), seed, block, keep=keep)


def test_streams_of_readings_components_blocks_and_seeds_differ():
    x = Ratio([1.0, 2.0], "1", standard(0.1), standard(0.1), shared(standard(0.1)))
    first, second, common = x.components
    seen = []
    for block in (0, 1):
        for seed in (3, 4):
            draws = block_draws(x, block, seed)
            seen.append(draws.shared(common, 200))
            for component in (first, second):
                for reading in (0, 1):
                    out = np.empty(200)
                    draws.each(component, np.array([reading]), out[None, :])
                    seen.append(out.copy())
    matrix = np.corrcoef(np.array(seen))
    assert len(seen) == 20
    assert np.abs(matrix - np.eye(20)).max() < 0.35  # 5 / sqrt(200)


@pytest.mark.parametrize("seed", [0, 3, 2**31 + 5, 2**32, 2**64 - 1, 2**130 + 7])
def test_streams_are_those_of_numpy_with_a_spawn_key(seed):
    x = Ratio([1.0, 2.0], "1", standard(0.1), shared(standard(1.0)))
    common = x.components[1]
    sequence = np.random.SeedSequence(seed, spawn_key=(0, 1, 0, 7))
    expected = np.random.Generator(np.random.SFC64(sequence)).standard_normal(40)
    np.testing.assert_array_equal(block_draws(x, 7, seed).shared(common, 40), expected)


def test_streams_go_on_piece_by_piece():
    x = Ratio([1.0, 2.0], "1", standard(0.1, dof=4))
    (component,) = x.components
    whole, pieces = np.empty(1_000), np.empty(1_000)
    block_draws(x).each(component, np.array([1]), whole[None, :])
    for keep in (True, False):
        draws = block_draws(x, keep=keep)
        for start, stop in ((0, 1), (1, 400), (400, 1_000)):
            out = np.empty(stop - start)
            draws.each(component, np.array([1]), out[None, :])
            pieces[start:stop] = out
            draws.forget()
        np.testing.assert_array_equal(pieces, whole)


def test_kept_draws_are_handed_out_again_within_a_piece():
    x = Ratio([1.0, 2.0], "1", standard(0.1))
    (component,) = x.components
    draws = block_draws(x)
    one, two = np.empty(50), np.empty(50)
    draws.each(component, np.array([0]), one[None, :])
    draws.each(component, np.array([0]), two[None, :])
    np.testing.assert_array_equal(one, two)
    draws.forget()
    draws.each(component, np.array([0]), two[None, :])
    assert not np.any(one == two)


def test_neighbouring_readings_and_blocks_are_independent():
    x = Ratio(np.zeros(20), "1", standard(1.0))
    samples = x.monte_carlo(2 * BLOCK, seed=0).samples()
    matrix = np.corrcoef(samples.T)
    assert np.abs(matrix - np.eye(20)).max() < 5 / np.sqrt(2 * BLOCK)
    lagged = np.corrcoef(samples[:BLOCK, 0], samples[BLOCK:, 0])[0, 1]
    assert abs(lagged) < 5 / np.sqrt(BLOCK)
    assert stats.kstest(samples.ravel(), stats.norm.cdf).pvalue > 1e-3
