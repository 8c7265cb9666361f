"""Operators and NumPy functions on quantities.

One table says which NumPy function becomes which recorded operation. A function that is not
in the table raises; a quantity never turns into an array of objects.
"""

from __future__ import annotations

from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core import rules
from flowunc.core.errors import DimensionError, PropagationError
from flowunc.core.rules import Operand, Rule, apply_rule

__all__ = ["Arithmetic"]


class Arithmetic(Operand):
    """Operators of a quantity. Subclasses hold ``_node`` and ``_unit``."""

    __slots__ = ()
    __hash__ = None  # type: ignore[assignment]  # values compare elementwise, so no hash exists

    def __add__(self, other: Any) -> Any:
        return apply_rule(rules.add, self, other)

    def __radd__(self, other: Any) -> Any:
        # sum() starts from the plain number 0, whatever the dimension; False is no number
        if type(other) is int and other == 0:
            return self
        return apply_rule(rules.add, other, self)

    def __sub__(self, other: Any) -> Any:
        return apply_rule(rules.subtract, self, other)

    def __rsub__(self, other: Any) -> Any:
        return apply_rule(rules.subtract, other, self)

    def __mul__(self, other: Any) -> Any:
        return apply_rule(rules.multiply, self, other)

    def __rmul__(self, other: Any) -> Any:
        return apply_rule(rules.multiply, other, self)

    def __truediv__(self, other: Any) -> Any:
        return apply_rule(rules.divide, self, other)

    def __rtruediv__(self, other: Any) -> Any:
        return apply_rule(rules.divide, other, self)

    def __pow__(self, other: Any) -> Any:
        return apply_rule(rules.power, self, other)

    def __rpow__(self, other: Any) -> Any:
        return apply_rule(rules.power, other, self)

    def __neg__(self) -> Any:
        return rules.negative(self)

    def __pos__(self) -> Self:
        return self

    def __abs__(self) -> Any:
        return rules.same_dimension(op.ABSOLUTE)(self)

    def __eq__(self, other: object) -> Any:
        return apply_rule(rules.comparison(np.equal), self, other)

    def __ne__(self, other: object) -> Any:
        return apply_rule(rules.comparison(np.not_equal), self, other)

    def __lt__(self, other: Any) -> Any:
        return apply_rule(rules.comparison(np.less), self, other)

    def __le__(self, other: Any) -> Any:
        return apply_rule(rules.comparison(np.less_equal), self, other)

    def __gt__(self, other: Any) -> Any:
        return apply_rule(rules.comparison(np.greater), self, other)

    def __ge__(self, other: Any) -> Any:
        return apply_rule(rules.comparison(np.greater_equal), self, other)

    def __float__(self) -> float:
        raise DimensionError(
            "a quantity does not turn into a plain number by itself, which would lose its "
            "uncertainty and unit: write .value for the value in its unit, .si.value for SI"
        )

    __int__ = __float__  # the same refusal

    def __bool__(self) -> bool:
        raise DimensionError(
            "the truth of a quantity is not defined: compare it with a quantity, or use .value"
        )

    def __array__(self, *args: Any, **kwargs: Any) -> NDArray[Any]:
        raise DimensionError(
            "a quantity does not turn into a plain array by itself, which would lose its "
            "uncertainty and unit: write .value for the numbers in its unit"
        )

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **options: Any) -> Any:
        rule = _UFUNCS.get(ufunc.__name__)
        if method != "__call__" or rule is None:
            called = ufunc.__name__ if method == "__call__" else f"{ufunc.__name__}.{method}"
            raise PropagationError(
                f"'{called}' is not among the functions recorded for quantities: use a formula, "
                "or flowunc.apply(function, ...) for a function of your own"
            )
        if any(value is not None for value in options.values()):
            raise PropagationError(
                f"options {sorted(options)} of '{ufunc.__name__}' cannot be recorded: "
                "call it with the quantities alone"
            )
        result = apply_rule(rule, *inputs)
        if result is NotImplemented:
            kinds = " and ".join(type(value).__name__ for value in inputs)
            raise PropagationError(f"'{ufunc.__name__}' of {kinds}: expected quantities or numbers")
        return result


_UFUNCS: dict[str, Rule] = {
    "add": rules.add,
    "subtract": rules.subtract,
    "multiply": rules.multiply,
    "divide": rules.divide,
    "power": rules.power,
    "float_power": rules.power,
    "negative": rules.negative,
    "positive": lambda a: a,
    "square": rules.square,
    "reciprocal": rules.reciprocal,
    "sqrt": rules.root(op.SQRT, 0.5),
    "cbrt": rules.root(op.CBRT, 1 / 3),
    "absolute": rules.same_dimension(op.ABSOLUTE),
    "fabs": rules.same_dimension(op.ABSOLUTE),
    "hypot": rules.same_dimension(op.HYPOT),
    "maximum": rules.same_dimension(op.MAXIMUM),
    "minimum": rules.same_dimension(op.MINIMUM),
    "fmax": rules.same_dimension(op.MAXIMUM),
    "fmin": rules.same_dimension(op.MINIMUM),
    "arctan2": rules.arctan2,
    "isfinite": rules.value_test(np.isfinite),
    "isnan": rules.value_test(np.isnan),
    "isinf": rules.value_test(np.isinf),
    "signbit": rules.value_test(np.signbit),
}
_UFUNCS |= {
    compare.__name__: rules.comparison(compare)
    for compare in (
        np.equal,
        np.not_equal,
        np.less,
        np.less_equal,
        np.greater,
        np.greater_equal,
    )
}
_UFUNCS |= {
    operation.label: rules.pure(operation)
    for operation in (
        op.EXP,
        op.EXP2,
        op.EXPM1,
        op.LOG,
        op.LOG2,
        op.LOG10,
        op.LOG1P,
        op.SIN,
        op.COS,
        op.TAN,
        op.ARCSIN,
        op.ARCCOS,
        op.ARCTAN,
        op.SINH,
        op.COSH,
        op.TANH,
        op.ARCSINH,
        op.ARCCOSH,
        op.ARCTANH,
        op.ERF,
        op.ERFC,
        op.NDTR,
    )
}
