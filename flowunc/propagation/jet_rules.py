"""First and second derivatives of the functions that recorded operations are built from.

Keys are the names of NumPy and SciPy ufuncs, so that nothing is loaded for one that is not
used. A rule returns NaN or infinity where the derivative does not exist.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["OF_ONE", "OF_TWO", "Series"]

Values = NDArray[np.float64]

# value, first and second derivative along every direction; both derivatives are None for a constant
Series = tuple[Values, Any, Any]
Slopes = tuple[Any, Any]

_LN2, _LN10 = math.log(2.0), math.log(10.0)


def _absolute(x: Values, y: Values) -> Slopes:
    kink = np.where(x == 0, np.nan, 0.0)
    return np.sign(x) + kink, kink


def _sqrt(x: Values, y: Values) -> Slopes:
    slope = 0.5 / y
    return slope, -0.5 * slope / x


def _cbrt(x: Values, y: Values) -> Slopes:
    slope = 1.0 / (3.0 * y * y)
    return slope, slope / x * (-2.0 / 3.0)


def _expm1(x: Values, y: Values) -> Slopes:
    slope = np.exp(x)
    return slope, slope


def _logarithm(scale: float, shift: float = 0.0) -> Callable[[Values, Values], Slopes]:
    """Return the rule of ln(x + shift)/scale."""

    def rule(x: Values, y: Values) -> Slopes:
        inverse = 1.0 / (x + shift)
        slope = inverse / scale
        return slope, -slope * inverse

    return rule


def _tan(x: Values, y: Values) -> Slopes:
    slope = 1.0 + y * y
    return slope, 2.0 * y * slope


def _inverse_sine(sign: float) -> Callable[[Values, Values], Slopes]:
    def rule(x: Values, y: Values) -> Slopes:
        square = (1.0 - x) * (1.0 + x)
        slope = sign / np.sqrt(square)
        return slope, x * slope / square

    return rule


def _arctan(x: Values, y: Values) -> Slopes:
    length = np.hypot(1.0, x)
    slope = 1.0 / length / length
    return slope, -2.0 * x * slope * slope


def _tanh(x: Values, y: Values) -> Slopes:
    slope = 1.0 / np.cosh(x) ** 2
    return slope, -2.0 * y * slope


def _arcsinh(x: Values, y: Values) -> Slopes:
    slope = 1.0 / np.hypot(1.0, x)
    return slope, -x * slope * slope * slope


def _arccosh(x: Values, y: Values) -> Slopes:
    square = (x - 1.0) * (x + 1.0)
    slope = 1.0 / np.sqrt(square)
    return slope, -x * slope / square


def _arctanh(x: Values, y: Values) -> Slopes:
    slope = 1.0 / ((1.0 - x) * (1.0 + x))
    return slope, 2.0 * x * slope * slope


def _bell(factor: float, steepness: float) -> Callable[[Values, Values], Slopes]:
    """Return the rule of the integral of factor * exp(-steepness x^2)."""

    def rule(x: Values, y: Values) -> Slopes:
        slope = factor * np.exp(-steepness * x * x)
        return slope, -2.0 * steepness * x * slope

    return rule


def _wright_omega(x: Values, y: Values) -> Slopes:
    slope = y / (1.0 + y)
    return slope, slope / (1.0 + y) ** 2


OF_ONE: dict[str, Callable[[Values, Values], Slopes]] = {
    # from argument x and value y of the function to its first and second derivative
    "positive": lambda x, y: (1.0, 0.0),
    "negative": lambda x, y: (-1.0, 0.0),
    "absolute": _absolute,
    "square": lambda x, y: (2.0 * x, 2.0),
    "reciprocal": lambda x, y: (-y * y, 2.0 * y * y * y),
    "sqrt": _sqrt,
    "cbrt": _cbrt,
    "exp": lambda x, y: (y, y),
    "exp2": lambda x, y: (_LN2 * y, _LN2 * _LN2 * y),
    "expm1": _expm1,
    "log": _logarithm(1.0),
    "log2": _logarithm(_LN2),
    "log10": _logarithm(_LN10),
    "log1p": _logarithm(1.0, 1.0),
    "sin": lambda x, y: (np.cos(x), -y),
    "cos": lambda x, y: (-np.sin(x), -y),
    "tan": _tan,
    "arcsin": _inverse_sine(1.0),
    "arccos": _inverse_sine(-1.0),
    "arctan": _arctan,
    "sinh": lambda x, y: (np.cosh(x), y),
    "cosh": lambda x, y: (np.sinh(x), y),
    "tanh": _tanh,
    "arcsinh": _arcsinh,
    "arccosh": _arccosh,
    "arctanh": _arctanh,
    "erf": _bell(2.0 / math.sqrt(math.pi), 1.0),
    "erfc": _bell(-2.0 / math.sqrt(math.pi), 1.0),
    "ndtr": _bell(1.0 / math.sqrt(2.0 * math.pi), 0.5),
    "wrightomega": _wright_omega,
}


def _or_zero(derivative: Values | None) -> Any:
    return 0.0 if derivative is None else derivative


def _sum(sign: float) -> Callable[[Series, Series, Values], Slopes]:
    def rule(a: Series, b: Series, y: Values) -> Slopes:
        first, second = (_or_zero(a[order]) + sign * _or_zero(b[order]) for order in (1, 2))
        return first, second

    return rule


def _multiply(a: Series, b: Series, y: Values) -> Slopes:
    (a0, a1, a2), (b0, b1, b2) = a, b
    if a1 is None:
        return a0 * b1, a0 * b2
    if b1 is None:
        return a1 * b0, a2 * b0
    return a1 * b0 + a0 * b1, a2 * b0 + 2.0 * a1 * b1 + a0 * b2


def _divide(a: Series, b: Series, y: Values) -> Slopes:
    (_, a1, a2), (b0, b1, b2) = a, b
    if b1 is None:
        return a1 / b0, a2 / b0
    first = (_or_zero(a1) - y * b1) / b0
    return first, (_or_zero(a2) - 2.0 * first * b1 - y * b2) / b0


def _power(a: Series, b: Series, y: Values) -> Slopes:
    (x, x1, x2), (p, p1, p2) = a, b
    first: Any = 0.0
    second: Any = 0.0
    if x1 is not None:
        # a factor of 0 wins over the pole of a negative power: x**1 has no curvature at 0
        slope = np.where(p == 0, 0.0, p * np.power(x, p - 1.0))
        curvature = np.where((p == 0) | (p == 1), 0.0, p * (p - 1.0) * np.power(x, p - 2.0))
        first, second = slope * x1, curvature * x1 * x1 + slope * x2
    if p1 is not None:
        # 0**p is 0 on the whole half-line p > 0, so its derivatives by p are 0 there
        flat = (x == 0) & (p > 0)
        logarithm = np.where(flat, 0.0, np.log(x))
        first = first + y * logarithm * p1
        second = second + y * logarithm * logarithm * p1 * p1 + y * logarithm * p2
        if x1 is not None:
            mixed = np.power(x, p - 1.0) * (1.0 + p * logarithm)
            second = second + 2.0 * np.where(flat & (p > 1), 0.0, mixed) * x1 * p1
    return first, second


def _hypot(a: Series, b: Series, y: Values) -> Slopes:
    # by the unit vector (c, s): squares of the arguments would leave float64 first
    c, s = a[0] / y, b[0] / y
    a1, a2, b1, b2 = (_or_zero(part) for part in (*a[1:], *b[1:]))
    across = c * b1 - s * a1
    return c * a1 + s * b1, c * a2 + s * b2 + across * across / y


def _arctan2(a: Series, b: Series, y: Values) -> Slopes:
    length = np.hypot(a[0], b[0])
    s, c = a[0] / length, b[0] / length
    a1, a2, b1, b2 = (_or_zero(part) / length for part in (*a[1:], *b[1:]))
    turn = c * a1 - s * b1
    return turn, c * a2 - s * b2 - 2.0 * turn * (c * b1 + s * a1)


def _choice(sign: float) -> Callable[[Series, Series, Values], Slopes]:
    def rule(a: Series, b: Series, y: Values) -> Slopes:
        difference = sign * (a[0] - b[0])
        tie = np.where(difference == 0, np.nan, 0.0)
        first, second = (
            np.where(difference > 0, _or_zero(a[order]), _or_zero(b[order])) + tie
            for order in (1, 2)
        )
        return first, second

    return rule


OF_TWO: dict[str, Callable[[Series, Series, Values], Slopes]] = {
    # from both arguments, at least one of which is no constant, to the derivatives of the result
    "add": _sum(1.0),
    "subtract": _sum(-1.0),
    "multiply": _multiply,
    "divide": _divide,
    "power": _power,
    "hypot": _hypot,
    "arctan2": _arctan2,
    "maximum": _choice(1.0),
    "minimum": _choice(-1.0),
}
