"""The recorded graph: order, broadcasting, refusals, and flat storage of deep records."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from flowunc.core import operations as op
from flowunc.core.component import Component, Term
from flowunc.core.distributions import Normal
from flowunc.core.errors import PropagationError, ShapeError
from flowunc.core.record import (
    Input,
    concatenate_nodes,
    constant,
    elementwise,
    freeze,
    from_flat,
    input_node,
    take,
    to_flat,
    topological_order,
    total,
)
from flowunc.core.units import parse_unit


def component(label="c", u=0.1):
    return Component(label, Normal(u), parse_unit("m"))


def source(value, label="c", u=0.1):
    return input_node(value, [Term(component(label, u))])


def test_frozen_value_is_a_copy_nobody_can_write():
    given = np.array([1.0, 2.0])
    kept = freeze(given)
    given[0] = 99.0
    assert kept[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 0.0


def test_result_of_an_operation_cannot_be_written():
    node = elementwise(op.ADD, source([1.0, 2.0]), constant(1.0))
    with pytest.raises(ValueError, match="read-only"):
        node.value[0] = 0.0


def test_constant_is_inactive_and_so_is_what_is_made_of_constants():
    product = elementwise(op.MULTIPLY, constant(2.0), constant([1.0, 2.0]))
    assert not product.active
    assert elementwise(op.ADD, product, source(1.0)).active


def test_component_without_width_is_left_out():
    node = source(1.0, u=0.0)
    assert isinstance(node.operation, Input)
    assert node.operation.terms == ()
    assert not node.active


@pytest.mark.parametrize(
    ("left", "right", "size"),
    [(1.0, 2.0, None), (1.0, [2.0], 1), ([1.0], [2.0, 3.0], 2), ([1.0, 2.0], 3.0, 2)],
)
def test_scalar_and_single_reading_broadcast(left, right, size):
    assert elementwise(op.ADD, constant(left), constant(right)).size == size


def test_lengths_that_do_not_fit_are_named():
    with pytest.raises(ShapeError, match=r"lengths 3 and 2"):
        elementwise(op.ADD, constant([1.0, 2.0, 3.0]), constant([1.0, 2.0]))


@pytest.mark.parametrize(
    ("operation", "arguments", "text"),
    [
        (op.DIVIDE, (1.0, 0.0), r"divide\(1, 0\)"),
        (op.LOG, (-2.5,), r"log\(-2.5\)"),
        (op.SQRT, ([4.0, -9.0, -1.0],), r"sqrt\(-9\) at reading 1 and 1 more"),
        (op.EXP, (1e3,), r"exp\(1000\)"),
        (op.ARCSIN, (1.5,), r"arcsin\(1.5\)"),
        (op.POWER, (-8.0, 0.5), r"power\(-8, 0.5\)"),
        (op.MULTIPLY, (1e200, 1e200), r"multiply\(1e\+200, 1e\+200\)"),
    ],
)
def test_value_that_is_not_finite_is_refused_with_its_arguments(operation, arguments, text):
    with pytest.raises(PropagationError, match=text):
        elementwise(operation, *(constant(a) for a in arguments))


def test_total_that_overflows_is_refused_like_any_other_operation():
    # a sum of finite readings beyond the range of float64 came out as infinity
    with pytest.raises(PropagationError):
        total(constant([1e308, 1e308]))


def test_underflow_to_zero_is_no_error():
    assert elementwise(op.EXP, constant(-1e4)).value == 0.0


def test_take_by_run_is_a_slice_and_by_list_an_index():
    node = source(np.arange(5.0))
    run = take(node, np.array([1, 2, 3]))
    assert run.operation.index == slice(1, 4)
    assert np.shares_memory(run.value, node.value)
    assert take(node, np.array([3, 1])).value.tolist() == [3.0, 1.0]
    assert take(node, 4).size is None


def test_take_keeps_its_own_index():
    index = np.array([3, 1])
    node = take(source(np.arange(5.0)), index)
    index[:] = 0
    assert node.operation.index.tolist() == [3, 1]


def test_concatenation_counts_a_scalar_as_one_reading():
    node = concatenate_nodes([constant(1.0), constant([2.0, 3.0]), constant(4.0)])
    assert node.value.tolist() == [1.0, 2.0, 3.0, 4.0]


def test_order_puts_inputs_first_and_each_node_once():
    a, b = source(1.0, "a"), source(2.0, "b")
    product = elementwise(op.MULTIPLY, a, b)
    output = elementwise(op.ADD, product, elementwise(op.DIVIDE, product, a))
    order = topological_order([output])
    place = {id(node): i for i, node in enumerate(order)}
    assert len(place) == len(order) == 5
    for node in order:
        assert all(place[id(child)] < place[id(node)] for child in node.inputs)


def test_order_depends_on_structure_alone():
    def labels():
        a, b, c = (source(1.0, name) for name in "abc")
        output = elementwise(op.ADD, elementwise(op.MULTIPLY, b, a), elementwise(op.ADD, c, b))
        return [
            node.operation.terms[0].component.label
            for node in topological_order([output])
            if isinstance(node.operation, Input)
        ]

    assert labels() == labels() == ["b", "a", "c"]


def test_inactive_branches_can_be_left_out():
    output = elementwise(op.ADD, source(1.0), elementwise(op.EXP, constant(1.0)))
    assert len(topological_order([output])) == 4
    assert len(topological_order([output], active_only=True)) == 2


def test_flat_form_keeps_sharing_values_and_components():
    a = source([1.0, 2.0], "a")
    square = elementwise(op.SQUARE, a)
    output = total(concatenate_nodes([elementwise(op.ADD, square, a), take(square, 1)]))
    rebuilt = from_flat(pickle.loads(pickle.dumps(to_flat([output]))))[0]
    before, after = topological_order([output]), topological_order([rebuilt])
    assert len(before) == len(after) == 6
    for old, new in zip(before, after, strict=True):
        np.testing.assert_array_equal(old.value, new.value)
        assert type(old.operation) is type(new.operation)
        assert not new.value.flags.writeable
        if isinstance(old.operation, Input) and old.operation.terms:
            assert new.operation.terms[0].component == old.operation.terms[0].component


@pytest.mark.slow
def test_record_of_a_hundred_thousand_steps_needs_no_recursion():
    node = source(1.0)
    for _ in range(100_000):
        node = elementwise(op.NEGATIVE, node)
    assert len(topological_order([node])) == 100_001
    copy = from_flat(pickle.loads(pickle.dumps(to_flat([node]))))[0]
    assert copy.value == node.value
    del node, copy  # letting go of a long chain must not recurse either
