"""Elementwise operations with exact derivatives: what a recorded model is made of.

Each `Elementwise` carries an evaluation and a *pull*: given the weight with which the
result enters an output (the adjoint), it returns the weight with which each argument does.
That product form lets one backward sweep find the sensitivity to every component at once.

Derivatives are written so that they reuse the recorded value where that is stable
(exp, sqrt, quotient) and are NaN exactly where the function has no derivative; the linear
engine reports that place.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import scipy  # its sub-packages load at first use, which keeps `import flowunc` light
from numpy.typing import NDArray

__all__ = ["Elementwise", "Value", "Weight"]

Value = NDArray[np.float64]
Weight = Any  # ndarray or a plain number: constant weights stay numbers, which saves a pass
Pull = Callable[[Weight, tuple[Value, ...], Value, tuple[bool, ...]], tuple[Weight, ...]]


class Elementwise:
    """A function applied reading by reading, with its exact first derivative.

    Parameters
    ----------
    name : str
        Name of the module-level variable that holds it: pickling stores only this name.
    label : str
        Name shown in messages.
    evaluate : callable
        ``evaluate(*values, out=None)`` on float64 arrays of any broadcastable shape.
    pull : callable
        ``pull(weight, values, result, needed)`` returns one weight per argument;
        entries whose ``needed`` is False may be anything.
    pole : int, optional
        Position of the argument that must not change sign: the result has a pole where it
        is zero.
    with_slope : callable, optional
        ``with_slope(x)`` returns value and derivative of a function of one argument together,
        for 1-d arrays. Given where the derivative shares costly steps with the value: the
        record then keeps it.
    module : str
        Module that holds the variable.
    """

    def __init__(
        self,
        name: str,
        label: str,
        evaluate: Callable[..., Value],
        pull: Pull,
        *,
        pole: int | None = None,
        with_slope: Callable[[Value], tuple[Value, Value]] | None = None,
        module: str = __name__,
    ) -> None:
        self.name = name
        self.label = label
        self.evaluate = evaluate
        self.pull = pull
        self.pole = pole
        self.with_slope = with_slope
        self.__module__ = module

    def __repr__(self) -> str:
        return f"<operation {self.label}>"

    def __reduce__(self) -> str | tuple[Any, ...]:
        return self.name


def _pull_add(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return w, w


def _pull_subtract(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return w, -w if needed[1] else None


def _pull_multiply(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return w * x[1] if needed[0] else None, w * x[0] if needed[1] else None


def _pull_divide(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    quotient = w / x[1]
    return quotient, -quotient * y if needed[1] else None


def _pull_power(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    base, exponent = x
    to_base = to_exponent = None
    if needed[0]:
        slope = exponent * np.power(base, exponent - 1.0)
        to_base = w * np.where(
            (exponent == 0) & (base == 0), 0.0, slope
        )  # 0**0 is flat: not 0 * inf
    if needed[1]:
        # 0**p is 0 on the whole half-line p > 0, so its derivative there is 0, not 0 * -inf
        log_base = np.where((base == 0) & (exponent > 0), 0.0, np.log(base))
        to_exponent = w * y * log_base
    return to_base, to_exponent


def _pull_hypot(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    scaled = w / y
    return scaled * x[0], scaled * x[1]


def _pull_arctan2(
    w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    # divided twice by the hypotenuse: its square would leave the range of float64 first
    length = np.hypot(x[0], x[1])
    return w * (x[1] / length) / length, -w * (x[0] / length) / length


def _choice(sign: float) -> Pull:
    def pull(
        w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
    ) -> tuple[Weight, ...]:
        difference = sign * (x[0] - x[1])
        # at a tie the derivative exists only if one argument is a mere constant copy: none
        first = np.where(difference > 0, 1.0, np.where(difference < 0, 0.0, np.nan))
        return w * first, w * (1.0 - first)

    return pull


def _chain(derivative: Callable[[Value, Value], Any]) -> Pull:
    """Pull of a function of one argument from its derivative as a function of (x, y)."""

    def pull(
        w: Weight, x: tuple[Value, ...], y: Value, needed: tuple[bool, ...]
    ) -> tuple[Weight, ...]:
        return (w * derivative(x[0], y),)

    return pull


def _sign_or_nan(x: Value, y: Value) -> Value:
    return np.where(x == 0, np.nan, np.sign(x))


ADD = Elementwise("ADD", "add", np.add, _pull_add)
SUBTRACT = Elementwise("SUBTRACT", "subtract", np.subtract, _pull_subtract)
MULTIPLY = Elementwise("MULTIPLY", "multiply", np.multiply, _pull_multiply)
DIVIDE = Elementwise("DIVIDE", "divide", np.divide, _pull_divide, pole=1)
POWER = Elementwise("POWER", "power", np.power, _pull_power)
POLE_POWER = Elementwise("POLE_POWER", "power", np.power, _pull_power, pole=0)
HYPOT = Elementwise("HYPOT", "hypot", np.hypot, _pull_hypot)
ARCTAN2 = Elementwise("ARCTAN2", "arctan2", np.arctan2, _pull_arctan2)
MAXIMUM = Elementwise("MAXIMUM", "maximum", np.maximum, _choice(1.0))
MINIMUM = Elementwise("MINIMUM", "minimum", np.minimum, _choice(-1.0))

NEGATIVE = Elementwise("NEGATIVE", "negative", np.negative, lambda w, x, y, n: (-w,))
RECIPROCAL = Elementwise(
    "RECIPROCAL",
    "reciprocal",
    lambda x, out=None: np.divide(1.0, x, out=out),
    _chain(lambda x, y: -y * y),
    pole=0,
)
ABSOLUTE = Elementwise("ABSOLUTE", "absolute", np.absolute, _chain(_sign_or_nan))
SQUARE = Elementwise("SQUARE", "square", np.square, _chain(lambda x, y: 2.0 * x))
SQRT = Elementwise("SQRT", "sqrt", np.sqrt, _chain(lambda x, y: 0.5 / y))
CBRT = Elementwise("CBRT", "cbrt", np.cbrt, _chain(lambda x, y: 1.0 / (3.0 * y * y)))
EXP = Elementwise("EXP", "exp", np.exp, _chain(lambda x, y: y))
EXP2 = Elementwise("EXP2", "exp2", np.exp2, _chain(lambda x, y: math.log(2.0) * y))
EXPM1 = Elementwise("EXPM1", "expm1", np.expm1, _chain(lambda x, y: np.exp(x)))
LOG = Elementwise("LOG", "log", np.log, _chain(lambda x, y: 1.0 / x))
LOG2 = Elementwise("LOG2", "log2", np.log2, _chain(lambda x, y: 1.0 / (math.log(2.0) * x)))
LOG10 = Elementwise("LOG10", "log10", np.log10, _chain(lambda x, y: 1.0 / (math.log(10.0) * x)))
LOG1P = Elementwise("LOG1P", "log1p", np.log1p, _chain(lambda x, y: 1.0 / (1.0 + x)))
SIN = Elementwise("SIN", "sin", np.sin, _chain(lambda x, y: np.cos(x)))
COS = Elementwise("COS", "cos", np.cos, _chain(lambda x, y: -np.sin(x)))
TAN = Elementwise("TAN", "tan", np.tan, _chain(lambda x, y: 1.0 + y * y))
ARCSIN = Elementwise(
    "ARCSIN", "arcsin", np.arcsin, _chain(lambda x, y: 1.0 / np.sqrt((1.0 - x) * (1.0 + x)))
)
ARCCOS = Elementwise(
    "ARCCOS", "arccos", np.arccos, _chain(lambda x, y: -1.0 / np.sqrt((1.0 - x) * (1.0 + x)))
)
ARCTAN = Elementwise("ARCTAN", "arctan", np.arctan, _chain(lambda x, y: 1.0 / (1.0 + x * x)))
SINH = Elementwise("SINH", "sinh", np.sinh, _chain(lambda x, y: np.cosh(x)))
COSH = Elementwise("COSH", "cosh", np.cosh, _chain(lambda x, y: np.sinh(x)))
TANH = Elementwise("TANH", "tanh", np.tanh, _chain(lambda x, y: 1.0 / np.cosh(x) ** 2))
ARCSINH = Elementwise("ARCSINH", "arcsinh", np.arcsinh, _chain(lambda x, y: 1.0 / np.hypot(1.0, x)))
ARCCOSH = Elementwise(
    "ARCCOSH", "arccosh", np.arccosh, _chain(lambda x, y: 1.0 / np.sqrt((x - 1.0) * (x + 1.0)))
)
ARCTANH = Elementwise(
    "ARCTANH", "arctanh", np.arctanh, _chain(lambda x, y: 1.0 / ((1.0 - x) * (1.0 + x)))
)
ERF = Elementwise(
    "ERF",
    "erf",
    lambda x, out=None: scipy.special.erf(x, out=out),
    _chain(lambda x, y: (2.0 / math.sqrt(math.pi)) * np.exp(-x * x)),
)
ERFC = Elementwise(
    "ERFC",
    "erfc",
    lambda x, out=None: scipy.special.erfc(x, out=out),
    _chain(lambda x, y: (-2.0 / math.sqrt(math.pi)) * np.exp(-x * x)),
)
NDTR = Elementwise(
    "NDTR",
    "ndtr",
    lambda x, out=None: scipy.special.ndtr(x, out=out),
    _chain(lambda x, y: np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)),
)


def power_operation(exponent: NDArray[np.float64]) -> Elementwise:
    """Return the power whose pole is watched when the exponent is a negative constant."""
    return POLE_POWER if bool(np.any(exponent < 0)) else POWER
