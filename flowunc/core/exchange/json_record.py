"""A record as JSON: its components and its steps, flat, each step after those it takes.

`record_json` lays the record out, `record_from` checks every statement of a document and builds
the nodes again: the same graph, so that both engines find the same bits. What a step has to be
by its inputs is computed and held against what the document says, so a document that was edited
by hand cannot say one thing to the linear engine and another to the simulation.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core import memory
from flowunc.core.component import Component, Pool, Term
from flowunc.core.errors import PropagationError
from flowunc.core.exchange.json_components import (
    Json,
    component_from,
    component_json,
    misfit,
    numbers_json,
    pool_from,
    pool_json,
)
from flowunc.core.exchange.json_curves import (
    CURVE,
    CURVE_FIELDS,
    curve_cost,
    curve_from,
    curve_json,
)
from flowunc.core.exchange.json_parts import Numbers, Part
from flowunc.core.exchange.known_operations import (
    EXACT,
    KnownOperation,
    known_operations,
    name_of_operation,
)
from flowunc.core.operations import Elementwise
from flowunc.core.piecewise_cubic import PiecewiseCubic
from flowunc.core.record import (
    Concatenate,
    Input,
    Node,
    Take,
    Total,
    common_size,
    concatenate_nodes,
    input_node,
    take,
    topological_order,
)

__all__ = ["MOST_VALUES", "count_values", "most_values", "record_from", "record_json"]

# Numbers in all steps together, 512 MB: a short text could ask for any number of them.
MOST_VALUES = 1 << 26
# And a text of a few lines no more than 32 MB: readings that are written take characters.
_VALUES_OF_ANY_TEXT = 1 << 22
_VALUES_OF_A_CHARACTER = 16
_CLOSE = 1e-9  # relative: what mathematics libraries differ by is far below


def most_values(characters: int) -> int:
    """Return how many numbers all steps of a text of this length may hold."""
    return min(MOST_VALUES, max(_VALUES_OF_ANY_TEXT, _VALUES_OF_A_CHARACTER * characters))


# -- writing -------------------------------------------------------------------------------------
def count_values(outputs: Sequence[Node]) -> int:
    """Return how many numbers all steps behind some nodes hold or go through."""
    return sum(map(_cost, topological_order(outputs)))


def record_json(outputs: Sequence[Node]) -> tuple[Json, list[int]]:
    """Return the record behind some nodes as JSON, and the places of these nodes in it.

    Raises
    ------
    PropagationError
        What JSON cannot hold: a function of the user, a distribution of the user, too many
        values.
    """
    order = topological_order(outputs)
    if sum(map(_cost, order)) > MOST_VALUES:
        raise PropagationError(
            f"the record holds more than {MOST_VALUES} values: write fewer readings at a time"
        )
    place = {id(node): position for position, node in enumerate(order)}
    components = _Components()
    steps = []
    for node in order:
        step = _step_json(node, components)
        if node.inputs:
            step["inputs"] = [place[id(child)] for child in node.inputs]
        steps.append(step)
    record = {"pools": components.pools, "components": components.listed, "steps": steps}
    return record, [place[id(node)] for node in outputs]


class _Components:
    """The components and pools met so far, with their places."""

    def __init__(self) -> None:
        self.pools: list[Json] = []
        self.listed: list[Json] = []
        self._pool_places: dict[str, int] = {}
        self._places: dict[int, int] = {}
        self._by_key: dict[str, Component] = {}

    def place(self, component: Component) -> int:
        """Return the place of a component, which is listed when first met."""
        found = self._places.get(id(component))
        if found is None:
            other = misfit(self._by_key.setdefault(component.key, component), component)
            if other:
                raise PropagationError(f"{other}; expected one error behind one key")
            found = self._places[id(component)] = len(self.listed)
            self.listed.append(component_json(component, self._pool_place(component.pool)))
        return found

    def _pool_place(self, pool: Pool | None) -> int | None:
        if pool is None:
            return None
        if pool.key not in self._pool_places:
            self._pool_places[pool.key] = len(self.pools)
            self.pools.append(pool_json(pool))
        return self._pool_places[pool.key]


def _step_json(node: Node, components: _Components) -> Json:
    operation = node.operation
    if isinstance(operation, PiecewiseCubic):
        value = numbers_json(node.value, f"a result of {operation.label}")
        return {"operation": CURVE, **curve_json(operation), "value": value}
    if isinstance(operation, Elementwise):
        name = name_of_operation(operation)
        step: Json = {"operation": name}
        if name not in EXACT or not _is_exact(operation, node):
            step["value"] = numbers_json(node.value, f"a result of {operation.label}")
        return step | ({} if node.slope is None else {"slope": True})
    if isinstance(operation, Take):
        index = operation.index
        if isinstance(index, slice):
            return {"operation": "take", "index": {"start": index.start, "stop": index.stop}}
        return {"operation": "take", "index": index if isinstance(index, int) else index.tolist()}
    if isinstance(operation, Concatenate):
        return {"operation": "concatenate"}
    if isinstance(operation, Total):
        return {"operation": "total", "value": numbers_json(node.value, "a sum")}
    terms = []
    for term in operation.terms:
        wrong = _wrong_size(term.component, term.gain, node.size)
        if wrong:
            raise PropagationError(f"the component {term.component.label!r} {wrong}")
        gain = numbers_json(term.gain, f"the gain of {term.component.label!r}")
        terms.append({"component": components.place(term.component), "gain": gain})
    step = {"operation": "input", "value": numbers_json(node.value, "an input")}
    return step | ({"terms": terms} if terms else {})


def _is_exact(operation: Elementwise, node: Node) -> bool:
    with np.errstate(all="ignore"):
        found = operation.evaluate(*(child.value for child in node.inputs))
    return np.asarray(found).tobytes() == node.value.tobytes()


# -- reading -------------------------------------------------------------------------------------
def record_from(pools: Part, components: Part, steps: Part, most: int | None = None) -> list[Node]:
    """Return the nodes of a document, one for each of its steps; ``most`` numbers in all.

    Raises
    ------
    DocumentError
        Anything that is not a record as `record_json` writes it: names the place.
    """
    operations = known_operations()  # first: loads the modules that state built-in components
    known = [pool_from(part) for part in pools.items()]
    found = [component_from(part, known) for part in components.items()]
    nodes: list[Node] = []
    most = left = MOST_VALUES if most is None else most
    for part in steps.items():
        step = _Step(part, nodes, (left, most), operations)
        nodes.append(step.node(found))
        left -= step.used
    return nodes


class _Step:
    """One step of a document, read with the nodes before it."""

    def __init__(
        self,
        part: Part,
        before: list[Node],
        room: tuple[int, int],
        operations: dict[str, KnownOperation],
    ) -> None:
        self._part = part
        self._before = before
        self._left, self._most = room
        self._operations = operations
        self.used = 1

    def node(self, components: list[Component]) -> Node:
        part = self._part
        named = part.optional_field("operation")
        if named is None:
            part.refuse("the field 'operation' is missing")
        name = named.text()
        if name == "input":
            return self._input(components)
        if name == "take":
            return self._take()
        if name == "concatenate":
            inputs = self._inputs(part.object(("operation", "inputs"))["inputs"], None)
            self._room(sum(node.value.size for node in inputs))
            return concatenate_nodes(inputs)
        if name == "total":
            return self._total()
        if name == CURVE:
            given = part.object(("operation", "inputs", *CURVE_FIELDS, "value"))
            return self._elementwise(KnownOperation(curve_from(part, given), 1), given)
        known = self._operations.get(name)
        if known is None:
            named.refuse(
                f"the operation {name[:40]!r} is not known to this flowunc; expected an elementary "
                "one such as 'multiply': a file from a newer flowunc needs that one"
            )
        required = ("operation", "inputs") if name in EXACT else ("operation", "inputs", "value")
        return self._elementwise(known, part.object(required, ("value", "slope")))

    def _room(self, values: int) -> None:
        """Refuse a step that goes through more numbers than are left; see `_cost`."""
        self.used = values
        if values > self._left:
            self._part.refuse(f"more than {self._most} values in all; expected fewer readings")

    def _inputs(self, part: Part, count: int | None) -> tuple[Node, ...]:
        """Return the nodes that a step takes: earlier ones, so there is no circle."""
        last = len(self._before) - 1
        places = [entry.whole(0, last, "the place of an earlier step") for entry in part.items()]
        if len(places) != count and (count is not None or not places):
            part.expected(f"{count or 'one or more'} inputs")
        return tuple(self._before[place] for place in places)

    def _input(self, components: list[Component]) -> Node:
        given = self._part.object(("operation", "value"), ("terms",))
        value = given["value"].numbers()
        size = None if np.ndim(value) == 0 else np.size(value)
        used = size or 1
        self._room(used)
        terms = []
        for part in given["terms"].items() if "terms" in given else ():
            entry = part.object(("component", "gain"))
            which = entry["component"].whole(0, len(components) - 1, "the place of a component")
            gain = entry["gain"].numbers()
            wrong = _wrong_size(components[which], gain, size)
            if wrong:
                part.refuse(f"the component {components[which].label[:80]!r} {wrong}")
            used += max(np.size(gain), components[which].distribution.size or 1)
            self._room(used)
            with np.errstate(over="ignore"):
                term = Term(components[which], gain)
            if not np.isfinite(term.width).all():
                entry["gain"].refuse("gain times standard uncertainty is too large for a number")
            terms.append(term)
        return input_node(value, terms)

    def _take(self) -> Node:
        given = self._part.object(("operation", "inputs", "index"))
        (node,) = self._inputs(given["inputs"], 1)
        if node.size is None:
            given["inputs"].refuse("this step is a single value; expected one with readings")
        index, last = given["index"], node.size - 1
        if isinstance(index.value, dict):
            bounds = index.object(("start", "stop"))
            start = bounds["start"].whole(0, last, "a reading")
            stop = bounds["stop"].whole(start + 1, node.size, "the reading after the last")
            chosen: NDArray[np.intp] = np.arange(start, stop)
        elif isinstance(index.value, list):
            picked = [entry.whole(0, last, "a reading") for entry in index.items()]
            if not picked:
                index.expected("one reading or more")
            chosen = np.array(picked, dtype=np.intp)
        else:
            return take(node, index.whole(0, last, "a reading"))
        self._room(chosen.size)
        return take(node, chosen)

    def _total(self) -> Node:
        given = self._part.object(("operation", "inputs", "value"))
        (node,) = self._inputs(given["inputs"], 1)
        if node.size is None:
            given["inputs"].refuse("this step is a single value; expected one with readings")
        self._room(1 + node.size)
        with np.errstate(over="ignore"):
            computed, size = node.value.sum(), np.abs(node.value).sum()
        value = self._followed(given["value"], given["value"].numbers(), computed, size)
        return Node(Total(), (node,), _own(value))

    def _elementwise(self, known: KnownOperation, given: dict[str, Part]) -> Node:
        part, operation = self._part, known.operation
        inputs = self._inputs(given["inputs"], known.arguments)
        with part.placed():
            size = common_size(inputs)
        self._room((size or 1) + curve_cost(operation))
        stated = given.get("value")
        found: Any = None if stated is None else stated.numbers()
        shape = () if size is None else (size,)
        if stated is not None and np.shape(found) != shape:  # before anything is computed
            stated.expected(f"a list of {size}" if shape else "one value")
        value: Numbers = _evaluated(operation, inputs, size)
        if not np.isfinite(value).all():
            part.refuse(f"{operation.label} has no finite value for these inputs")
        if stated is not None:
            value = self._followed(stated, found, value, np.abs(value))
        slope = self._slope(given.get("slope"), operation, inputs)
        return Node(operation, inputs, _own(value), slope)

    def _slope(
        self, part: Part | None, operation: Elementwise, inputs: tuple[Node, ...]
    ) -> NDArray[np.float64] | None:
        """Return the derivative again that was found together with the value."""
        if part is None:
            return None
        if part.value is not True or operation.with_slope is None or inputs[0].size is None:
            part.refuse(
                "expected true, and only for readings of an operation that finds its derivative "
                "together with its value"
            )
        with np.errstate(all="ignore"):
            return _own(operation.with_slope(inputs[0].value)[1])

    def _followed(self, part: Part, given: Numbers, computed: Numbers, size: Any) -> Numbers:
        """Return the value that the document states, refused unless it follows from the inputs."""
        if np.shape(given) != np.shape(computed):
            part.expected("one value")
        with np.errstate(all="ignore"):
            good = np.atleast_1d(np.abs(given - computed) <= _CLOSE * size)
        if not good.all():
            row = int(np.argmin(good))
            stated, found = (float(np.atleast_1d(each)[row]) for each in (given, computed))
            where = f"reading {row} is " if np.ndim(given) else ""
            part.refuse(
                f"{where}{stated:.17g}, but this flowunc computes {found:.17g} from the inputs of "
                "the step; the file was changed, or made by a flowunc with another formula"
            )
        return given


def _evaluated(
    operation: Elementwise, inputs: tuple[Node, ...], size: int | None
) -> NDArray[np.float64]:
    values = tuple(node.value for node in inputs)
    with np.errstate(all="ignore"):
        if size is None:
            return np.asarray(operation.evaluate(*values))
        return np.asarray(operation.evaluate(*values, out=memory.empty(size)))


def _cost(node: Node) -> int:
    """Return how many numbers a step holds or goes through."""
    if isinstance(node.operation, Total):
        return 1 + node.inputs[0].value.size
    terms = node.operation.terms if isinstance(node.operation, Input) else ()
    held = sum(np.size(term.width) for term in terms) + curve_cost(node.operation)
    return node.value.size + held


def _own(value: Any) -> NDArray[np.float64]:
    """Return an array that was just made as a node holds it."""
    own = np.asarray(value, dtype=np.float64)
    own.setflags(write=False)
    return own


def _wrong_size(component: Component, gain: Any, size: int | None) -> str:
    """Say what does not fit ``size`` readings, "" if all does."""
    pool, width = component.pool, component.distribution.size
    for what, found in (
        ("gain", np.shape(gain)),
        ("distribution", () if width is None else (width,)),
        ("degrees of freedom", np.shape(component.dof)),
        ("degrees of freedom of its pool", () if pool is None else np.shape(pool.dof)),
    ):
        if found and what != "gain" and component.scope == "shared":
            return f"is shared by all readings, but its {what} is for {found[0]}"
        if found and found != (size,):
            readings = "a single value" if size is None else f"{size} readings"
            return f"has a {what} for {found[0]} readings at an input of {readings}"
    return ""
