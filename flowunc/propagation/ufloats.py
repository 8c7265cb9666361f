"""Numbers of the `uncertainties` package, in and out, with all correlations kept.

Going out, every component (and every reading of an `each` component) becomes one live
variable of that package, the same one at every call. Coming in, every live variable is one
component, the same one at every call. So a round trip, and results that meet again outside,
stay correlated as they were.
"""

from __future__ import annotations

import sys
import threading
import weakref
from dataclasses import fields
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from flowunc.core import operations as op
from flowunc.core.component import Component, Term
from flowunc.core.distributions import Normal
from flowunc.core.errors import RangeError, ShapeError, StatementError
from flowunc.core.quantity import Quantity
from flowunc.core.record import (
    Node,
    concatenate_nodes,
    constant,
    elementwise,
    error_node,
    input_node,
    take,
)
from flowunc.core.units import parse_unit
from flowunc.propagation.contributions import contributions

if TYPE_CHECKING:
    from uncertainties.core import Variable

__all__ = ["from_ufloats", "to_ufloats"]

Q = TypeVar("Q", bound=Quantity)


class _Origin(NamedTuple):
    """Where a variable belongs, and what its component was made of."""

    component: weakref.ref[Component]
    parts: tuple[Any, ...]
    reading: int
    spread: float


# A variable of that package cannot be referred to weakly, a component can. A variable lives as
# long as its component; one that somebody else still holds then is kept as an orphan, with the
# key of its component, until nobody does.
_variables: dict[str, dict[int, Variable]] = {}
_origins: dict[int, _Origin] = {}
_orphans: dict[int, Variable] = {}
_survivors = [0]  # orphans left by the last look
_lock = threading.RLock()
# references to a variable: its own (it is its own derivative), a local name, the counting call
ONLY_OURS = 3


def _link(component: Component, reading: int, variable: Variable, spread: float) -> None:
    if component.key not in _variables:
        _variables[component.key] = {}
        weakref.finalize(component, _release, component.key).atexit = False
    _variables[component.key][reading] = variable
    parts = tuple(getattr(component, item.name) for item in fields(component))
    _origins[id(variable)] = _Origin(weakref.ref(component), parts, reading, spread)
    _orphans.pop(id(variable), None)


def _release(key: str) -> None:
    """Let go of the variables of a component that is no more, except those held elsewhere."""
    with _lock:
        waiting = list(_variables.pop(key, {}).values())
        look = len(_orphans) > 2 * _survivors[0]
        if look:  # seldom, so that many orphans cost little each
            waiting += _orphans.values()
            _orphans.clear()
        while waiting:
            variable = waiting.pop()
            if sys.getrefcount(variable) > ONLY_OURS:
                _orphans[id(variable)] = variable
            else:
                _origins.pop(id(variable), None)
            del variable
        if look:
            _survivors[0] = len(_orphans)


def _variable(component: Component, reading: int, spread: float) -> Variable:
    from uncertainties import ufloat

    with _lock:
        known = _variables.get(component.key, {}).get(reading)
        if known is not None:
            return known
        variable: Variable = ufloat(0.0, spread, tag=component.label)
        _link(component, reading, variable, spread)
        return variable


def to_ufloats(quantity: Quantity) -> Any:
    """Return ufloats in the unit of the quantity; see `Quantity.to_ufloats`."""
    from uncertainties.core import AffineScalarFunc, LinearCombination

    values = np.atleast_1d(np.asarray(quantity.value))
    derivatives: list[dict[Variable, float]] = [{} for _ in values]
    for part in contributions(quantity._node):
        rows, columns = part.row_indices(), part.column_indices()
        spread = np.broadcast_to(
            np.asarray(part.component.distribution.standard_uncertainty, dtype=float),
            (int(columns.max(initial=0)) + 1,)
            if np.ndim(part.component.distribution.standard_uncertainty) == 0
            else np.shape(part.component.distribution.standard_uncertainty),
        )
        shown = quantity._unit.scale_from_si(part.values)
        for row, column, value in zip(rows, columns, shown, strict=True):
            width = float(spread[column])
            if width > 0:
                variable = _variable(part.component, int(column), width)
                slope = derivatives[row].get(variable, 0.0)
                derivatives[row][variable] = slope + float(value) / width
    numbers = np.empty(values.size, dtype=object)
    for row, value in enumerate(values):
        numbers[row] = AffineScalarFunc(float(value), LinearCombination(derivatives[row]))
    return numbers[0] if quantity.ndim == 0 else numbers


def from_ufloats(kind: type[Q], values: Any, unit: str, label: str) -> Q:
    """Make a quantity from ufloats; see `Quantity.from_ufloats`."""
    from uncertainties.core import AffineScalarFunc

    parsed = kind._parsed_unit(unit) if kind is not Quantity else parse_unit(unit)
    single = isinstance(values, AffineScalarFunc)
    if not single and (isinstance(values, (str, float, int)) or not np.iterable(values)):
        raise StatementError(
            f"from_ufloats({values!r}): expected numbers of the uncertainties package, such as "
            "ufloat(2.0, 0.1); a plain number goes into the constructor"
        )
    items = [values] if single else list(np.asarray(values, dtype=object).ravel())
    if np.ndim(np.asarray(values, dtype=object)) > 1:
        raise ShapeError("from_ufloats: expected one number or one axis of readings")
    if not items:
        raise ShapeError("from_ufloats: got no readings; expected at least one")
    name = label or kind._word()
    nodes = []
    for position, item in enumerate(items):
        if not isinstance(item, AffineScalarFunc):
            raise StatementError(
                f"from_ufloats: item {position} is the plain number {item!r}, which carries no "
                "uncertainty; use ufloat(value, 0) if it is exact"
            )
        nodes.append(_node(item, parsed, f"{name} {position}" if len(items) > 1 else name))
    node = nodes[0] if single else concatenate_nodes(nodes)
    kind._check_values(node.value, parsed)
    return kind._from_node(node, parsed, label)


def _node(item: Any, unit: Any, name: str) -> Node:
    if not (np.isfinite(item.nominal_value) and np.isfinite(item.std_dev)):
        raise RangeError(f"from_ufloats: {item!r}; expected finite value and uncertainty")
    terms: list[Term] = []
    readings: list[tuple[Component, int, float]] = []
    for variable, slope in item.derivatives.items():
        component, reading, spread = _origin(variable, name)
        # a variable whose std_dev was set anew is the same error, larger or smaller
        gain = float(unit.scale_to_si(slope)) * (variable.std_dev / spread if spread else 0.0)
        if component.scope == "shared":
            terms.append(Term(component, gain))
        else:
            readings.append((component, reading, gain))
    node = input_node(unit.to_si(item.nominal_value), terms)
    for component, reading, gain in readings:
        error = take(error_node(component, reading), reading)
        error = elementwise(op.MULTIPLY, error, constant(gain))
        node = elementwise(op.ADD, node, error)
    return node


def _origin(variable: Variable, name: str) -> tuple[Component, int, float]:
    with _lock:
        known = _origins.get(id(variable))
        if known is not None:
            component = known.component() or Component(*known.parts)
            _link(component, known.reading, variable, known.spread)
            return component, known.reading, known.spread
        spread = float(variable.std_dev)
        component = Component(
            label=variable.tag or name, distribution=Normal(spread), unit=parse_unit("1")
        )
        _link(component, 0, variable, spread)
        return component, 0, spread
