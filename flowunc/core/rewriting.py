"""Copies of a record with some of its nodes replaced, for asking "what if".

A record is never changed. What does not stand above a replaced node is shared with the
original. `rewritten` keeps values and slopes, since only the errors behind them differ;
`recomputed` finds them again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from flowunc.core.component import Component, Pool, Term, new_key
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise
from flowunc.core.record import (
    Concatenate,
    Input,
    Node,
    Take,
    concatenate_nodes,
    elementwise,
    input_node,
    take,
    total,
)

__all__ = ["recomputed", "rewritten", "with_fresh_components", "with_terms"]


def rewritten(output: Node, replacement: Callable[[Node], Node | None]) -> Node:
    """Return a copy of the record behind a node, with some nodes replaced.

    Parameters
    ----------
    output : Node
    replacement : callable
        ``replacement(node)`` returns what stands in its place, or None to keep it. It is asked
        once for each node, from the output downwards, and not about what is behind a node that
        it replaced.

    Returns
    -------
    Node
        The output itself where nothing is replaced.

    Raises
    ------
    PropagationError
        A replacement of another value: what was computed from it would no longer be true.

    Examples
    --------
    >>> from flowunc import Length, standard
    >>> from flowunc.core.record import constant
    >>> side = Length(2.0, "m", standard(0.1))
    >>> exact = constant(side.value)
    >>> area = rewritten((side * side)._node, lambda node: exact if node is side._node else None)
    >>> area.active, float(area.value)
    (False, 4.0)
    """

    def same_value(node: Node) -> Node | None:
        other = replacement(node)
        if other is not None:
            _require_same_value(node, other)
        return other

    return _rebuilt(output, same_value, _with_inputs)


def recomputed(output: Node, replacement: Callable[[Node], Node | None]) -> Node:
    """Return the record behind a node computed again, with some nodes replaced.

    Parameters
    ----------
    output : Node
    replacement : callable
        As for `rewritten`, but of any value.

    Returns
    -------
    Node
        The output itself where nothing is replaced.

    Raises
    ------
    PropagationError
        A value that is not finite on the way.

    Examples
    --------
    >>> from flowunc import Length
    >>> from flowunc.core.record import constant
    >>> side, longer = Length(2.0, "m"), constant(3.0)
    >>> area = recomputed((side * side)._node, lambda node: longer if node is side._node else None)
    >>> float(area.value)
    9.0
    """
    return _rebuilt(output, replacement, _computed_from)


def _rebuilt(
    output: Node,
    replacement: Callable[[Node], Node | None],
    rebuild: Callable[[Node, tuple[Node, ...]], Node],
) -> Node:
    made: dict[int, Node] = {}
    stack = [(output, False)]
    while stack:
        node, complete = stack.pop()
        if id(node) in made:
            continue
        if complete:
            inputs = tuple(made[id(child)] for child in node.inputs)
            same = all(new is old for new, old in zip(inputs, node.inputs, strict=True))
            made[id(node)] = node if same else rebuild(node, inputs)
            continue
        other = replacement(node)
        if other is not None:
            made[id(node)] = other
        elif not node.inputs:
            made[id(node)] = node
        else:
            stack.append((node, True))
            stack.extend((child, False) for child in node.inputs if id(child) not in made)
    return made[id(output)]


def _with_inputs(node: Node, inputs: tuple[Node, ...]) -> Node:
    return Node(node.operation, inputs, node.value, node.slope)


def _computed_from(node: Node, inputs: tuple[Node, ...]) -> Node:
    operation = node.operation
    if isinstance(operation, Elementwise):
        return elementwise(operation, *inputs)
    if isinstance(operation, Take):
        index = operation.index
        if isinstance(index, slice):
            index = np.arange(inputs[0].size or 1)[index]
        return take(inputs[0], index)
    if isinstance(operation, Concatenate):
        return concatenate_nodes(inputs)
    return total(inputs[0])


def _require_same_value(node: Node, other: Node) -> None:
    if other is node or np.array_equal(node.value, other.value):
        return
    raise PropagationError(
        f"a node of value {_shown(node)} was to be replaced by one of value {_shown(other)} (SI): "
        "expected the same value and shape; compute the result anew for another value"
    )


def _shown(node: Node) -> str:
    value = np.array2string(node.value, precision=6, threshold=6)
    return value if node.size is None else f"{value} of shape {node.value.shape}"


def with_terms(output: Node, change: Callable[[Node, tuple[Term, ...]], Sequence[Term]]) -> Node:
    """Return a copy of the record with other terms at its inputs.

    Parameters
    ----------
    output : Node
    change : callable
        ``change(node, terms)`` returns the terms of an input; the very same ones to keep it.

    Returns
    -------
    Node

    Examples
    --------
    >>> from flowunc import Length, limits, standard
    >>> from flowunc.propagation.linear import standard_uncertainty
    >>> place = Length(2.0, "m", standard(0.3), limits(0.4, label="scale"))
    >>> only = with_terms(
    ...     (3 * place)._node,
    ...     lambda node, terms: [term for term in terms if term.component.label != "scale"],
    ... )
    >>> round(float(standard_uncertainty(only)), 9)
    0.9
    """

    def replacement(node: Node) -> Node | None:
        if not isinstance(node.operation, Input):
            return None
        before = node.operation.terms
        after = tuple(change(node, before))
        if len(after) == len(before) and all(map(_is_same, after, before)):
            return None
        return input_node(node.value, after)

    return rewritten(output, replacement)


def _is_same(after: Term, before: Term) -> bool:
    return after is before


def with_fresh_components(output: Node) -> Node:
    """Return a copy of the record that has nothing in common with any other result.

    Parameters
    ----------
    output : Node

    Returns
    -------
    Node
        Of the same value, uncertainty, degrees of freedom and correlations among its readings,
        with every component and every pool replaced by a new one of the same numbers.

    Examples
    --------
    >>> from flowunc import Length, standard
    >>> side = Length(2.0, "m", standard(0.1))
    >>> other = Length._from_node(with_fresh_components(side._node))
    >>> other.u, round((side - other).u, 6)
    (0.1, 0.141421)
    """
    components: dict[Component, Component] = {}
    pools: dict[str, Pool] = {}

    def fresh(component: Component) -> Component:
        if component not in components:
            pool = component.pool
            if pool is not None:
                pool = pools.setdefault(pool.key, replace(pool, key=new_key()))
            components[component] = replace(component, pool=pool, key=new_key())
        return components[component]

    return with_terms(
        output, lambda node, terms: [Term(fresh(term.component), term.gain) for term in terms]
    )
