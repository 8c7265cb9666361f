"""`ReadingError`: an error of each reading by itself, the same whenever that reading is used.

What drips from a bucket, or how a meniscus stands, happens once for a reading. Whoever turns the
same reading into a volume flow and into a mass flow has one error behind both. So the component
gets its key from the record of the reading, which copies and pickles keep.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from flowunc.core.component import Component, Term, new_key
from flowunc.core.operations import MULTIPLY, Elementwise
from flowunc.core.quantity import Quantity
from flowunc.core.record import (
    Concatenate,
    Input,
    Node,
    Take,
    concatenate_nodes,
    constant,
    elementwise,
    input_node,
    take,
    topological_order,
)
from flowunc.core.statements import Reference, Statement

__all__ = ["ReadingError"]

Q = TypeVar("Q", bound=Quantity)


@dataclass(frozen=True, eq=False)
class ReadingError:
    """What a statement adds to each reading of one instrument.

    Parameters
    ----------
    statement : Statement
        One error for each reading.
    reference : Reference
        The instrument.
    key : str
        Identity of the instrument.

    Notes
    -----
    Readings are told apart by their record. One without any uncertainty has nothing that would
    tell it from another one with the same value, so it gets a new error each time.

    Examples
    --------
    >>> from flowunc import Balance, Scale, limits
    >>> from flowunc.core.statements import Reference
    >>> balance = Balance(Scale(1, "g"))
    >>> drip = ReadingError(limits(2), Reference("balance", balance.scale.parsed_unit))
    >>> masses = balance.read([4090, 4120])
    >>> first, again = (drip.of(masses, "drip")[0], drip.of(masses[0], "drip"))
    >>> (again - first).u
    0.0
    """

    statement: Statement
    reference: Reference
    key: str = field(default_factory=new_key)

    def of(self, reading: Q, name: str, part: str = "", behind: Quantity | None = None) -> Q:
        """Return the error of a reading, 0 in value, of its kind and shape.

        Parameters
        ----------
        reading : Quantity, scalar or shape (n,)
            What the statement refers to, such as the net mass of a collection.
        name : str
            Of the component in budgets.
        part : str
            Tells apart what one instrument has several of, such as its columns.
        behind : Quantity, optional
            By what the reading is known, such as the gross mass; itself if left out.
        """
        values = np.asarray(reading.si.value, dtype=np.float64)
        here = replace(self.reference, size=None if values.ndim == 0 else values.shape[0])
        gain = self.statement.gain_for(values, here)
        node = reading._node if behind is None else behind._node
        if node.size != here.size:  # one gross mass less several tares
            node = reading._node

        def component(of: Node) -> Component:
            made = self.statement.component(replace(here, size=of.size), name)
            known = _identity(of)
            return replace(made, key=f"{self.key}.{part}.{known}") if known else made

        one_size = self.statement.distribution_for(here)[0].size is None
        if one_size and isinstance(node.operation, Take | Concatenate):
            error = _gathered(node, component)
            if np.ndim(gain) or gain != 1.0:
                error = elementwise(MULTIPLY, error, constant(gain))
        else:
            error = input_node(np.zeros(values.shape), (Term(component(node), gain),))
        return type(reading)._from_node(error, self.reference.unit)


def _gathered(node: Node, component: Callable[[Node], Component]) -> Node:
    """Record the errors of readings that were picked or joined as those of what was read."""
    errors: dict[int, Node] = {}
    waiting = [node]
    while waiting:  # no recursion: a series may have been joined reading by reading
        current = waiting[-1]
        operation = current.operation
        moved = isinstance(operation, Take | Concatenate)
        unknown = [child for child in current.inputs if moved and id(child) not in errors]
        if unknown:
            waiting += unknown
            continue
        waiting.pop()
        if id(current) in errors:
            continue
        behind = [errors[id(child)] for child in current.inputs if moved]
        if isinstance(operation, Take):
            index = operation.index
            rows = np.arange(behind[0].size or 1)[index] if isinstance(index, slice) else index
            errors[id(current)] = take(behind[0], rows)
        elif isinstance(operation, Concatenate):
            errors[id(current)] = concatenate_nodes(behind)
        else:
            zero = np.zeros(current.value.shape)
            errors[id(current)] = input_node(zero, (Term(component(current)),))
    return errors[id(node)]


def _identity(node: Node) -> str:
    """Return what tells the record of a reading from all others, "" if nothing does."""
    if not node.active:
        return ""
    order = topological_order([node])
    place = {id(step): number for number, step in enumerate(order)}
    found = hashlib.blake2b(digest_size=16)
    for step in order:
        operation = step.operation
        terms = operation.terms if isinstance(operation, Input) else ()
        keys = [term.component.key for term in terms]
        name = operation.name if isinstance(operation, Elementwise) else type(operation).__name__
        found.update(repr((name, keys, [place[id(child)] for child in step.inputs])).encode())
        found.update(step.value.tobytes())
    return found.hexdigest()
