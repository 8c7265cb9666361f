"""Which dimension of the Sobol sequence each draw takes: the lowest for what matters most."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from flowunc.core.component import Component
from flowunc.core.errors import PropagationError
from flowunc.core.record import Node, topological_order
from flowunc.propagation.contributions import contributions, variances_of
from flowunc.propagation.draws import Places
from flowunc.propagation.evaluation import Rows
from flowunc.propagation.pieces import rows_of

__all__ = ["Address", "Dimensions", "by_importance", "keys_of", "places_of"]

Address = tuple[str, int]  # key of a component or pool, and reading
Dimensions = dict[Address, int]


def by_importance(output: Node) -> dict[str, int]:
    """Give a dimension to every component, the lowest ones to what contributes most.

    The lowest dimensions of the sequence are the most even. Where the linear method has no
    answer the order of the record stands.
    """
    try:
        parts = contributions(output)
    except PropagationError:
        places = Places(topological_order([output]))
        return {component.key: place for component, place in places.components.items()}
    variances, total = variances_of(parts, rows_of(output))
    with np.errstate(all="ignore"):
        shares = [float(np.nan_to_num(variance / total).mean()) for variance in variances]
    ranked = np.argsort(-np.array(shares), kind="stable")
    return {parts[which].component.key: slot for slot, which in enumerate(ranked)}


def keys_of(component: Component) -> tuple[str, ...]:
    """Return what a component takes its draws from: itself, and its pool if it has one."""
    pool = component.pool
    return (component.key,) if pool is None else (component.key, f"pool {pool.key}")


def places_of(
    drawn: Iterable[tuple[Component, Rows]], common: Dimensions, slots: dict[str, int]
) -> Dimensions:
    """Give a dimension to every draw that a program asks for.

    ``common`` holds those given before. The first reading of a component takes the slot of the
    component; whatever else is asked for comes after all slots.
    """
    places = dict(common)
    taken = set(places.values())
    beyond = max([len(slots) - 1, *taken]) + 1
    for component, rows in drawn:
        readings = [0] if component.scope == "shared" else rows.tolist()
        for address in [(key, reading) for key in keys_of(component) for reading in readings]:
            if address in places:
                continue
            slot = slots.get(address[0], beyond)
            if slot in taken:
                slot = beyond
            places[address] = slot
            taken.add(slot)
            beyond = max(beyond, slot + 1)
    return places
