"""What each operation does to dimensions and kinds, and how it is recorded.

A rule takes operands (quantities or plain numbers), refuses those whose dimensions do not fit,
records the operation and returns a quantity of the resulting dimension. Temperatures are
points on a scale: their differences are plain, and two of them do not add.
"""

from __future__ import annotations

import numbers
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from flowunc.core import operations as op
from flowunc.core.dimensions import DIMENSIONLESS, TEMPERATURE, Dimension
from flowunc.core.errors import DimensionError, RangeError, ShapeError
from flowunc.core.record import Node, common_size, constant, elementwise

if TYPE_CHECKING:
    from flowunc.core.units import Unit

__all__ = [
    "Operand",
    "Rule",
    "add",
    "apply_rule",
    "arctan2",
    "comparison",
    "divide",
    "multiply",
    "negative",
    "power",
    "pure",
    "reciprocal",
    "root",
    "same_dimension",
    "square",
    "subtract",
    "value_test",
]


class Operand(ABC):
    """What takes part in a formula: it has a node of the record, a unit, and a kind."""

    __slots__ = ()

    _node: Node
    _unit: Unit
    _absolute: ClassVar[bool] = False  # a point on a scale with a zero of its own (Temperature)

    @classmethod
    @abstractmethod
    def _result(cls, node: Node, dimension: Dimension, *, absolute: bool = False) -> Operand:
        """Make the quantity that a result of this dimension is."""


Rule = Callable[..., Any]


class PlainNumber(Operand):
    """A plain number or array that takes part in a formula."""

    __slots__ = ("_node",)

    def __init__(self, node: Node) -> None:
        self._node = node

    @classmethod
    def _result(cls, node: Node, dimension: Dimension, *, absolute: bool = False) -> Operand:
        return cls(node)


def constant_operand(value: Any) -> Node | None:
    """Record a plain number or array; None where it is neither."""
    if isinstance(value, (bool, np.bool_)):
        return None
    if isinstance(value, (numbers.Real, np.number)):
        try:
            number = float(value)
        except OverflowError:
            raise RangeError(f"the number {value} in a formula is too large") from None
        if not np.isfinite(number):
            raise RangeError(f"the number {number} in a formula: expected a finite one")
        return constant(number)
    if isinstance(value, np.ndarray) and value.dtype.kind in "iuf":
        if np.ma.is_masked(value):
            raise RangeError("an array with masked readings in a formula: leave those out")
        if value.ndim > 1:
            raise ShapeError(
                f"an array of shape {value.shape} in a formula: expected a number or one axis "
                "of readings"
            )
        if not np.isfinite(value).all():
            raise RangeError("an array with NaN or infinity in a formula: expected finite numbers")
        return constant(value)
    return None


def apply_rule(rule: Rule, *operands: Any) -> Any:
    """Apply a rule to quantities and plain numbers; NotImplemented for anything else."""
    ready = []
    for operand in operands:
        if not isinstance(operand, Operand):
            node = constant_operand(operand)
            if node is None:
                return NotImplemented
            operand = PlainNumber(node)
        ready.append(operand)
    return rule(*ready)


def dimension_of(quantity: Operand) -> Dimension:
    return DIMENSIONLESS if isinstance(quantity, PlainNumber) else quantity._unit.dimension


def _name(quantity: Operand) -> str:
    if isinstance(quantity, PlainNumber):
        return "a plain number"
    kind = type(quantity).__name__
    label = getattr(quantity, "label", "")
    return f"'{label}' ({kind}, {quantity._unit})" if label else f"{kind} ({quantity._unit})"


def _make(
    template: tuple[Operand, ...], node: Node, dimension: Dimension, *, absolute: bool = False
) -> Any:
    owner = next(item for item in template if not isinstance(item, PlainNumber))
    return owner._result(node, dimension, absolute=absolute)


def _require_same_point(verb: str, a: Operand, b: Operand) -> Dimension:
    dimension = _require_same(verb, a, b)
    if a._absolute != b._absolute:
        raise DimensionError(
            f"cannot {verb} {_name(a)} and {_name(b)}: one is a temperature, the other a "
            "temperature difference"
        )
    return dimension


def _require_same(verb: str, a: Operand, b: Operand) -> Dimension:
    dimension = dimension_of(a)
    if dimension is not dimension_of(b):
        raise DimensionError(
            f"cannot {verb} {_name(a)} and {_name(b)}: their dimensions differ; "
            "check the formula, or give the plain number a unit"
        )
    return dimension


def add(a: Operand, b: Operand) -> Any:
    """Add; two temperatures do not add."""
    dimension = _require_same("add", a, b)
    if a._absolute and b._absolute:
        raise DimensionError(
            "cannot add two temperatures: add a difference such as Quantity(0.3, 'K'), "
            "or take .mean() of readings"
        )
    node = elementwise(op.ADD, a._node, b._node)
    return _make((a, b), node, dimension, absolute=a._absolute or b._absolute)


def subtract(a: Operand, b: Operand) -> Any:
    """Subtract; two temperatures give a plain difference."""
    dimension = _require_same("subtract", a, b)
    if b._absolute and not a._absolute:
        raise DimensionError(
            "cannot subtract a temperature from a temperature difference: exchange the two"
        )
    node = elementwise(op.SUBTRACT, a._node, b._node)
    return _make((a, b), node, dimension, absolute=a._absolute and not b._absolute)


def multiply(a: Operand, b: Operand) -> Any:
    """Multiply."""
    return _make(
        (a, b), elementwise(op.MULTIPLY, a._node, b._node), dimension_of(a) * dimension_of(b)
    )


def divide(a: Operand, b: Operand) -> Any:
    """Divide."""
    return _make(
        (a, b), elementwise(op.DIVIDE, a._node, b._node), dimension_of(a) / dimension_of(b)
    )


_SPECIAL_POWERS = {2.0: op.SQUARE, 0.5: op.SQRT, -1.0: op.RECIPROCAL}


def power(a: Operand, b: Operand) -> Any:
    """Raise to a power: a plain number, or anything pure where the base is pure."""
    if dimension_of(b) is not DIMENSIONLESS:
        raise DimensionError(f"an exponent must be a pure number: got {_name(b)}")
    exponent = b._node.value
    if isinstance(b, PlainNumber) and exponent.ndim == 0:
        number = float(exponent)
        dimension = dimension_of(a) ** number
        if number in _SPECIAL_POWERS:
            return _make((a, b), elementwise(_SPECIAL_POWERS[number], a._node), dimension)
    elif dimension_of(a) is DIMENSIONLESS:
        dimension = DIMENSIONLESS
    else:
        raise DimensionError(
            f"{_name(a)} raised to an exponent that varies or is uncertain has no dimension: "
            "divide it by a reference value first"
        )
    return _make((a, b), elementwise(op.power_operation(exponent), a._node, b._node), dimension)


def negative(a: Operand) -> Any:
    """Change the sign."""
    if a._absolute:
        raise DimensionError("the negative of a temperature has no meaning: use a difference")
    return _make((a,), elementwise(op.NEGATIVE, a._node), dimension_of(a))


def square(a: Operand) -> Any:
    """Square."""
    return _make((a,), elementwise(op.SQUARE, a._node), dimension_of(a) ** 2)


def root(operation: op.Elementwise, power: float) -> Rule:
    """Make the rule of a root: the dimension to a fractional power."""

    def rule(a: Operand) -> Any:
        return _make((a,), elementwise(operation, a._node), dimension_of(a) ** power)

    return rule


def same_dimension(operation: op.Elementwise) -> Rule:
    """Make the rule of an operation whose arguments and result share a dimension."""

    def rule(*inputs: Operand) -> Any:
        dimension = dimension_of(inputs[0])
        if len(inputs) == 2:
            dimension = _require_same_point(f"take the {operation.label} of", *inputs)
        absolute = all(item._absolute for item in inputs) and operation in (op.MAXIMUM, op.MINIMUM)
        node = elementwise(operation, *(item._node for item in inputs))
        return _make(inputs, node, dimension, absolute=absolute)

    return rule


def pure(operation: op.Elementwise) -> Rule:
    """Make the rule of a function of pure numbers."""

    def rule(*inputs: Operand) -> Any:
        for item in inputs:
            if dimension_of(item) is not DIMENSIONLESS:
                hint = (
                    "divide it by a reference temperature first"
                    if dimension_of(item) is TEMPERATURE
                    else "divide it by a reference value first"
                )
                raise DimensionError(
                    f"{operation.label} needs a pure number or an angle: got {_name(item)}; {hint}"
                )
        return _make(inputs, elementwise(operation, *(i._node for i in inputs)), DIMENSIONLESS)

    return rule


def arctan2(a: Operand, b: Operand) -> Any:
    """Take the angle of two quantities of one dimension."""
    _require_same("take the arctan2 of", a, b)
    return _make((a, b), elementwise(op.ARCTAN2, a._node, b._node), DIMENSIONLESS)


def reciprocal(a: Operand) -> Any:
    """Take the reciprocal."""
    return _make((a,), elementwise(op.RECIPROCAL, a._node), DIMENSIONLESS / dimension_of(a))


def comparison(compare: Callable[..., Any]) -> Rule:
    """Make the rule of a comparison of values, which is not recorded."""

    def rule(a: Operand, b: Operand) -> Any:
        _require_same_point("compare", a, b)
        common_size((a._node, b._node))
        result = compare(a._node.value, b._node.value)
        return bool(result) if np.ndim(result) == 0 else result

    return rule


def value_test(test: Callable[..., Any]) -> Rule:
    """Make the rule of a yes-or-no test of values, which is not recorded."""

    def rule(a: Operand) -> Any:
        result = test(a._node.value)
        return bool(result) if np.ndim(result) == 0 else result

    return rule
