"""By how many per cent a result changes when the input behind a component does by one.

The record knows an input as estimate + gain * error. Where all inputs behind a component have
the same value over gain, a relative change of the input is one of the error.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.budget_lines import BudgetLines
from flowunc.core.component import Component
from flowunc.core.dimensions import TEMPERATURE
from flowunc.core.operations import Elementwise
from flowunc.core.record import Concatenate, Input, Node, Take, topological_order
from flowunc.propagation.pieces import rows_of

__all__ = ["relative_sensitivity"]

Floats = NDArray[np.float64]

_ROUNDING = 1e-12
# In a walk over the record: the component does not stand behind this reading at all. No value
# over a gain is infinite; NaN says that it does, without a value in common.
_ABSENT = np.inf


def relative_sensitivity(lines: BudgetLines) -> Floats:
    """Return per cent of the result per per cent of the input, shape (lines, readings).

    Parameters
    ----------
    lines : BudgetLines

    Returns
    -------
    ndarray
        NaN where there is no such number; see `budget_table`.

    Notes
    -----
    (dy/d error)(x/gain)/y. For gain 1 it is (dy/dx)(x/y); for an error stated as a fraction of
    the input, gain = x, it is (dy/d error)/y.
    """
    quantity = lines.quantity
    result = np.full(lines.signed.shape, np.nan)
    if quantity._absolute:
        return result
    value = np.atleast_1d(quantity._node.value)
    ratios = _InputRatios(quantity._node)
    with np.errstate(all="ignore"):
        for line, (component, part) in enumerate(zip(lines.components, lines.parts, strict=True)):
            if component.pool is not None or component.unit.dimension is TEMPERATURE:
                continue
            sensitivity = part.per_row() / part.standard_uncertainty_per_row()
            found = sensitivity * ratios.of(component) / value
            readings = np.bincount(part.row_indices(), minlength=part.size)
            defined = np.isfinite(found) & (readings == 1) & lines.acts[line]
            result[line] = np.where(defined, found, np.nan)
    return result


class _InputRatios:
    """Finds the value over the gain of the inputs behind a component, for each reading."""

    def __init__(self, output: Node) -> None:
        self._order = topological_order([output], active_only=True)
        self._count = rows_of(output)
        self._at: dict[Component, dict[int, Floats]] = {}
        for node in self._order:
            if not isinstance(node.operation, Input):
                continue
            gains: dict[Component, Any] = {}
            for term in node.operation.terms:
                gains[term.component] = gains.get(term.component, 0.0) + term.gain
            for component, gain in gains.items():
                with np.errstate(all="ignore"):
                    ratio = np.where(node.value == 0, np.nan, node.value / np.asarray(gain))
                self._at.setdefault(component, {})[id(node)] = ratio

    def of(self, component: Component) -> Floats:
        """Return the ratio common to all inputs behind each reading, NaN where there is none."""
        found = self._at[component]
        everywhere = _common(np.concatenate([ratio.ravel() for ratio in found.values()]))
        if np.isfinite(everywhere):
            return np.full(self._count, everywhere)
        at: dict[int, Floats] = {}
        for node in self._order:
            own = found.get(id(node))
            if own is None and any(id(child) in at for child in node.inputs):
                own = _carried(node, [at.get(id(child)) for child in node.inputs])
            if own is not None:
                at[id(node)] = np.broadcast_to(own, node.value.shape)
        return np.broadcast_to(at[id(self._order[-1])], (self._count,))


def _carried(node: Node, ratios: list[Floats | None]) -> Floats:
    """Return the ratios behind each reading of a node from those behind its inputs."""
    operation = node.operation
    if isinstance(operation, Elementwise):
        present = [ratio for ratio in ratios if ratio is not None]
        result = present[0]
        for other in present[1:]:
            result = _merged(result, other)
        return result
    if isinstance(operation, Concatenate):
        parts = [
            np.full(rows_of(child), _ABSENT) if ratio is None else np.atleast_1d(ratio)
            for child, ratio in zip(node.inputs, ratios, strict=True)
        ]
        return np.concatenate(parts)
    ratio = np.asarray(ratios[0])
    if isinstance(operation, Take):
        return np.asarray(ratio[operation.index])
    return np.asarray(_common(ratio))


def _merged(one: Floats, other: Floats) -> Floats:
    equal = np.abs(one - other) <= _ROUNDING * np.abs(one)
    both = np.where(equal, one, np.nan)
    return np.where(one == _ABSENT, other, np.where(other == _ABSENT, one, both))


def _common(ratios: Floats) -> float:
    present = ratios[ratios != _ABSENT]
    if not present.size:
        return _ABSENT
    first = float(present[0])
    return first if bool(np.all(np.abs(present - first) <= _ROUNDING * abs(first))) else np.nan
