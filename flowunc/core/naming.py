"""Names by role: what an unlabelled input is called where a function uses it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

from flowunc.core.component import Term
from flowunc.core.kinds import Ratio, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.record import Input, input_node

__all__ = ["named_argument", "named_by_role"]

Q = TypeVar("Q", bound=Quantity)


def named_by_role(quantity: Q, role: str) -> Q:
    """Give an unlabelled input, and its unlabelled components, the name of its role.

    ``Angle(10, "deg", limits(0.25))`` as the inclination of a manometer is the "manometer
    angle" in budgets, not the "angle". The components stay the same ones: they are known by
    their keys.
    """
    if quantity.label:
        return quantity
    operation = quantity._node.operation
    if not isinstance(operation, Input):
        return quantity.labelled(role)
    words = [kind._word() for kind in (type(quantity), Quantity, Ratio)]
    terms = []
    for term in operation.terms:
        component = term.component
        word = next((w for w in words if f"{component.label} ".startswith(f"{w} ")), None)
        if word is not None:
            named = role + component.label.removeprefix(word)
            source = role if component.source == word else component.source
            component = replace(component, label=named, source=source)
        terms.append(Term(component, term.gain))
    node = input_node(quantity._node.value, terms)
    return quantity._from_node(node, quantity._unit, role)


def named_argument(value: Any, kind: type[Q], function: str, argument: str) -> Q:
    """Return an argument checked by `require_kind` and, unlabelled, named after its role."""
    role = "Reynolds number" if argument == "reynolds" else argument.replace("_", " ")
    return named_by_role(require_kind(value, kind, function, argument), role)
