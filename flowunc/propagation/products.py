"""Products of powers swept in one step.

A result such as f = 2 D dp/(rho L v^2) is recorded as a chain of products and quotients. The weight
of a factor x with the exponent p is that of the result y times p y/x: found from the result itself,
it spares the sweep every product in between, and all factors that are no readings (bore, tap
spacing, gravity) count as one.
"""

from __future__ import annotations

from collections import Counter
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.record import Node

__all__ = ["exponents_of", "products"]

Values = NDArray[np.float64]

SMALLEST, LARGEST = 1e-250, 1e250  # magnitudes whose quotients keep all their digits

EXPONENTS: dict[Elementwise, tuple[float, ...]] = {
    op.MULTIPLY: (1.0, 1.0),
    op.DIVIDE: (1.0, -1.0),
    op.RECIPROCAL: (-1.0,),
    op.SQUARE: (2.0,),
    op.SQRT: (0.5,),
    op.CBRT: (1.0 / 3.0,),
    op.NEGATIVE: (1.0,),
}


def products(order: list[Node]) -> dict[int, Node]:
    """Find nodes that are products of several steps.

    Parameters
    ----------
    order : list of Node
        Active nodes behind an output, inputs first, the output last.

    Returns
    -------
    dict of node id to Node
        A node of the same value whose inputs are the factors: each reading by itself, all others
        as one scalar.
    """
    uses = Counter(id(child) for node in order for child in node.inputs if child.active)
    found: dict[int, Node] = {}
    inside: set[int] = set()
    for node in reversed(order):
        if node.size is None or id(node) in inside or not exponents_of(node):
            continue
        powers, steps = _factors(node, uses)
        stand_in = _stand_in(node, powers) if steps and _divides_well(node.value) else None
        if stand_in is not None:
            inside.update(steps)
            found[id(node)] = stand_in
    return found


def exponents_of(node: Node) -> tuple[float, ...]:
    """Return the power to which a product takes each input, () where a step is no product."""
    operation = node.operation
    return EXPONENTS.get(operation, ()) if isinstance(operation, Elementwise) else ()


Powers = dict[int, tuple[Node, float]]


def _factors(node: Node, uses: Counter[int]) -> tuple[Powers, list[int]]:
    """Return the factors of a node by their id, and the steps between, used nowhere else."""
    powers: Powers = {}
    steps: list[int] = []
    waiting = [(node, 1.0)]
    while waiting:
        step, outer = waiting.pop()
        for child, exponent in zip(step.inputs, exponents_of(step), strict=True):
            if not child.active:
                continue
            power = outer * exponent
            whole = child.size == node.size and uses[id(child)] == 1
            if whole and exponents_of(child):
                steps.append(id(child))
                waiting.append((child, power))
            else:
                before = powers.get(id(child), (child, 0.0))[1]
                powers[id(child)] = child, before + power
    return powers, steps


def _divides_well(value: Values) -> bool:
    """Tell whether all values are so far from zero and infinity that factors divide them."""
    low, high = float(value.min()), float(value.max())
    if low > SMALLEST and high < LARGEST:
        return True  # the usual case, without an array of magnitudes
    return bool(np.abs(value).min() > SMALLEST and max(-low, high) < LARGEST)


def _stand_in(node: Node, powers: Powers) -> Node | None:
    """Return the product of its factors, None where those that are no readings leave float64."""
    factors = [(factor, p) for factor, p in powers.values() if factor.size is not None]
    scalars = [(factor, p) for factor, p in powers.values() if factor.size is None]
    if scalars:
        # its sign does not matter: the weight is that of the result over this value
        with np.errstate(all="ignore"):
            value = np.asarray(np.prod([np.abs(factor.value) ** p for factor, p in scalars]))
        if not _divides_well(value):
            return None
        factors.append((_product(scalars, value), 1.0))
    return _product(factors, node.value)


def _product(factors: list[tuple[Node, float]], value: Values) -> Node:
    pull = partial(_pull_product, tuple(p for _, p in factors))
    operation = Elementwise("", "product", np.multiply, pull)  # its value is there already
    return Node(operation, tuple(factor for factor, _ in factors), value)


def _pull_product(
    exponents: tuple[float, ...],
    w: Weight,
    x: tuple[Value, ...],
    y: Value,
    needed: tuple[bool, ...],
) -> tuple[Weight, ...]:
    base = w * y if np.ndim(w) or w != 1.0 else y
    weights = []
    for factor, exponent in zip(x, exponents, strict=True):
        if np.ndim(factor):
            weight: Any = base / factor
            if exponent != 1.0:
                weight *= exponent
        else:
            weight = base * (exponent / factor)
        weights.append(weight)
    return tuple(weights)
