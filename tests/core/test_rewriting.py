"""Copies of a record: what is replaced, what is shared, and that values never change."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import Length, PropagationError, Temperature, limits, repeated, shared, standard, water
from flowunc.core.component import Term
from flowunc.core.quantity import Quantity
from flowunc.core.record import constant, topological_order
from flowunc.core.rewriting import rewritten, with_fresh_components, with_terms


def keep(node):
    return None


def test_nothing_replaced_is_the_same_record():
    side = Length([1.0, 2.0], "m", standard(0.1))
    area = (side * side).sum()
    assert rewritten(area._node, keep) is area._node
    assert with_terms(area._node, lambda node, terms: list(terms)) is area._node


def test_untouched_parts_are_shared_and_the_original_stays():
    a, b = (Length(2.0, "m", standard(0.1), label=name) for name in "ab")
    square_a, square_b = a * a, b * b
    both = square_a + square_b
    before = both.u
    exact = constant(a._node.value)
    changed = rewritten(both._node, lambda node: exact if node is a._node else None)
    assert changed.inputs[1] is square_b._node
    assert changed.inputs[0] is not square_a._node
    assert both.u == before
    # b alone is left: d(b^2) = 2 b db = 0.4
    assert both._with(changed).u == pytest.approx(0.4, rel=1e-14)


def test_a_node_met_on_two_ways_is_replaced_by_one_and_asked_about_once():
    side = Length(2.0, "m", standard(0.1))
    doubled = side + side
    product = doubled * doubled
    asked = []

    def replacement(node):
        asked.append(node)
        return with_fresh_components(node) if node is doubled._node else None

    made = product._with(rewritten(product._node, replacement))
    assert made._node.inputs[0] is made._node.inputs[1]
    # (2 x)^2: d = 8 x dx = 1.6, all of one error
    assert made.u == pytest.approx(1.6, rel=1e-14)
    assert len(asked) == len(set(map(id, asked)))
    assert side._node not in asked  # behind the replaced node


def test_deep_records_need_no_deep_stack():
    start = Length(1.0, "m", standard(0.25), label="start")
    place, depth = start, 10_000
    for _ in range(depth):
        place = place + Length(1.0, "m")
    exact = constant(start._node.value)
    made = rewritten(place._node, lambda node: exact if node is start._node else None)
    assert float(made.value) == depth + 1
    assert not made.active
    assert place._with(with_fresh_components(place._node)).u == 0.25


@pytest.mark.parametrize("value", [2.5, [2.0], [2.0, 2.0]])
def test_another_value_is_refused(value):
    side = Length(2.0, "m", standard(0.1))
    other = constant(value)
    with pytest.raises(PropagationError, match="same value and shape"):
        rewritten((3 * side)._node, lambda node: other if node is side._node else None)


def test_values_and_slopes_are_kept():
    bath = Temperature([15.0, 20.0, 25.0], "degC", standard(0.1), label="bath")
    density = water.density(bath)
    made = with_fresh_components(density._node)
    pairs = list(zip(topological_order([density._node]), topological_order([made]), strict=True))
    assert any(old.slope is not None for old, _ in pairs)
    for old, new in pairs:
        assert new.value is old.value
        assert new.slope is old.slope


def test_terms_left_out_are_gone_for_every_use_of_the_input():
    gauge = Length([4.0, 3.0], "m", shared(limits(0.3, label="zero")), standard(0.1), label="gauge")
    total = gauge.sum() + gauge[0]
    made = total._with(
        with_terms(
            total._node, lambda node, terms: [t for t in terms if t.component.label == "zero"]
        )
    )
    # three times the zero, whose u is 0.3/sqrt(3)
    assert made.u == pytest.approx(0.3 * np.sqrt(3), rel=1e-14)
    assert [c.label for c in made.components] == ["zero"]


def test_terms_can_be_made_wider():
    gauge = Length([4.0, 3.0], "m", standard(0.1))
    made = with_terms(
        gauge._node, lambda node, terms: [Term(t.component, 2 * t.gain) for t in terms]
    )
    np.testing.assert_allclose(gauge._with(made).u, [0.2, 0.2], rtol=1e-14)


def test_fresh_components_keep_numbers_and_correlations_and_share_nothing():
    gauge = Length([4.0, 3.0], "m", shared(standard(0.3)), standard(0.4), label="gauge")
    copy = gauge._with(with_fresh_components(gauge._node))
    np.testing.assert_array_equal(copy.u, gauge.u)
    np.testing.assert_allclose(copy.correlation(copy), gauge.correlation(gauge), rtol=1e-14)
    np.testing.assert_array_equal(copy.covariance(gauge), np.zeros((2, 2)))
    # u(difference) of independent copies is sqrt(2) u
    np.testing.assert_allclose((copy - gauge).u, np.sqrt(2) * gauge.u, rtol=1e-14)


def test_fresh_components_have_degrees_of_freedom_of_their_own():
    side = Length(2.0, "mm", repeated([1.9, 2.0, 2.2]), label="side")
    copy = side._with(with_fresh_components(side._node))
    assert copy.dof == side.dof == 2
    # two equal and independent contributions of 2 dof each: 4 by Welch-Satterthwaite
    assert (side + copy).dof == pytest.approx(4, rel=1e-14)
    assert (side + side).dof == pytest.approx(2, rel=1e-14)


def test_pools_are_renewed_with_their_components():
    from flowunc.analysis import fit_line

    x = Length([1.0, 2.0, 3.0, 4.0], "m")
    y = Length([1.1, 1.9, 3.2, 3.9], "m")
    fitted = fit_line(x, y, scatter=True).predict(Length(2.0, "m"))
    copy = fitted._with(with_fresh_components(fitted._node))
    assert copy.u == pytest.approx(fitted.u, rel=1e-14)
    old, new = fitted.components, copy.components
    assert len({c.pool.key for c in new}) == 1
    assert new[0].pool.key != old[0].pool.key
    assert copy.dof == fitted.dof == 2
    assert (fitted + copy).dof == pytest.approx(4, rel=1e-12)


def test_both_engines_read_a_copy():
    side = Length(2.0, "m", standard(0.1), label="side")
    made = Quantity._from_node(with_fresh_components((side * side)._node), (side * side)._unit)
    drawn = made.monte_carlo(trials=20_000, seed=3)
    assert drawn.u == pytest.approx(0.4, rel=0.02)  # standard error of u: 0.5 %
