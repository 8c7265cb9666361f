"""`Jet`: values with their first and second derivatives along several directions at once.

A jet is a Taylor polynomial cut after the second degree. It takes part in NumPy and SciPy
functions as an array does, so that the recorded operations run on jets unchanged: their
`evaluate` then carries derivatives forward, and their `pull`, itself a formula of first
derivatives, gives second and third ones. All of them are exact: there is no step to choose.

Decisions (comparisons, `numpy.where`) look at the values alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin
from numpy.typing import NDArray

from flowunc.core.errors import PropagationError
from flowunc.propagation.jet_rules import OF_ONE, OF_TWO, Series

__all__ = ["Jet", "derivatives_of", "unwrapped"]

Values = NDArray[np.float64]

_OF_VALUES = {
    *("less", "less_equal", "greater", "greater_equal", "equal", "not_equal"),
    *("isfinite", "isnan", "isinf", "signbit"),
    # flat but for jumps; what is computed from them has no other slope
    *("sign", "floor", "ceil", "rint", "trunc"),
}


class Jet(NDArrayOperatorsMixin):
    """A value of shape (n,) with its derivatives along k directions, each of shape (k, n).

    Parameters
    ----------
    value : ndarray
    first, second : ndarray
        Derivatives; broadcast to one row of values for each direction.

    Notes
    -----
    Constants that a jet meets stay plain numbers or arrays. All jets of one computation have
    the same directions.
    """

    __slots__ = ("first", "second", "value")

    def __init__(self, value: Values, first: Values, second: Values) -> None:
        self.value = value
        shape = (first.shape[0], *value.shape)
        self.first = first if first.shape == shape else np.broadcast_to(first, shape)
        self.second = second if second.shape == shape else np.broadcast_to(second, shape)

    def __repr__(self) -> str:
        return f"Jet({self.value}, {self.first}, {self.second})"

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the value."""
        return self.value.shape

    @property
    def ndim(self) -> int:
        """Number of axes of the value."""
        return self.value.ndim

    @property
    def size(self) -> int:
        """Number of values."""
        return self.value.size

    @property
    def directions(self) -> int:
        """Number of directions."""
        return int(self.first.shape[0])

    def mapped(self, change: Callable[[Values], Any]) -> Jet:
        """Return the jet whose parts are changed alike, by something linear in them."""
        return Jet(change(self.value), change(self.first), change(self.second))

    def __getitem__(self, index: Any) -> Jet:
        """Return values picked along the last axis, by a slice, an index array or a mask."""
        key = index if index is Ellipsis else (..., index)
        return self.mapped(lambda part: part[key])

    def __setitem__(self, index: Any, given: Any) -> None:
        parts = (self.value, self.first, self.second)
        key = index if index is Ellipsis else (..., index)
        copies = [np.array(part) for part in parts]
        for copy, part in zip(copies, _parts(given), strict=True):
            copy[key] = 0.0 if part is None else part
        self.value, self.first, self.second = copies

    def ravel(self) -> Jet:
        """Return the values along one axis."""
        flat = (self.directions, -1)
        return Jet(self.value.ravel(), self.first.reshape(flat), self.second.reshape(flat))

    def total(self) -> Jet:
        """Return the sum over the last axis, which stays with one value."""
        return self.mapped(lambda part: part.sum(axis=-1, keepdims=True))

    def __array_ufunc__(
        self, ufunc: np.ufunc, method: str, *inputs: Any, out: Any = None, **options: Any
    ) -> Any:
        """Carry derivatives through a function that NumPy or SciPy applies value by value."""
        name = ufunc.__name__
        if method == "__call__" and not options and ufunc.nout == 1:
            series = [_parts(given) for given in inputs]
            if name in _OF_VALUES:
                return ufunc(*(value for value, _, _ in series))
            if name in OF_ONE or name in OF_TWO:
                return _into(out, _applied(ufunc, series))
        raise PropagationError(
            f"the second derivative of '{name}'{f' (.{method})' if method != '__call__' else ''} "
            "is not known to flowunc, so the second-order method has no answer: use "
            ".monte_carlo() for this result"
        )

    def __array_function__(
        self, function: Callable[..., Any], types: Any, arguments: Any, options: Any
    ) -> Any:
        """Carry derivatives through the array functions that operations are written with."""
        rule = _FUNCTIONS.get(function.__name__)
        if rule is None:
            raise PropagationError(
                f"the second-order method cannot follow numpy.{function.__name__}: use "
                ".monte_carlo() for this result"
            )
        return rule(*arguments, **options)


def unwrapped(result: Any) -> Any:
    """Return the jet inside the object array that `numpy.asarray` makes of one."""
    if isinstance(result, np.ndarray) and result.dtype == object and result.ndim == 0:
        return result.item()
    return result


def derivatives_of(given: Any) -> Series:
    """Return value, first and second derivative; None for the derivatives of a constant."""
    return _parts(unwrapped(given))


def _parts(given: Any) -> Series:
    if isinstance(given, Jet):
        return given.value, given.first, given.second
    return np.asarray(given, dtype=np.float64), None, None


def _applied(ufunc: np.ufunc, series: Sequence[Series]) -> Jet:
    value = np.asarray(ufunc(*(part[0] for part in series)))
    if len(series) == 1:
        argument, first, second = series[0]
        slope, curvature = OF_ONE[ufunc.__name__](argument, value)
        return Jet(value, slope * first, curvature * (first * first) + slope * second)
    return Jet(value, *OF_TWO[ufunc.__name__](series[0], series[1], value))


def _into(out: Any, result: Jet) -> Jet:
    """Put a result where it was asked for: in place means in place of the old parts."""
    if out is None:
        return result
    (target,) = out
    if not isinstance(target, Jet):
        raise PropagationError(
            "an operation writes derivatives into a plain array: make it with numpy.empty_like "
            "of an argument, so that it takes them"
        )
    target.value, target.first, target.second = result.value, result.first, result.second
    return target


# -- array functions -------------------------------------------------------------------------------
def _each_part(given: Sequence[Any], change: Callable[[Sequence[Any]], Any]) -> Jet:
    """Apply to the values, and to each derivative, what is linear in all arguments together."""
    series = [_parts(item) for item in given]
    directions = next(item.directions for item in given if isinstance(item, Jet))
    flat = [np.zeros((directions, *(value.shape or (1,)))) for value, _, _ in series]
    value = change([part[0] for part in series])
    first, second = (
        change(
            [zero if part[k] is None else part[k] for part, zero in zip(series, flat, strict=True)]
        )
        for k in (1, 2)
    )
    return Jet(value, first, second)


def _where(condition: Any, *choices: Any) -> Any:
    if isinstance(condition, Jet):
        condition = condition.value != 0
    if not choices:
        return np.where(condition)
    if not any(isinstance(choice, Jet) for choice in choices):
        return np.where(condition, *choices)
    return _each_part(choices, lambda parts: np.where(condition, *parts))


def _concatenate(given: Sequence[Any]) -> Jet:
    return _each_part(given, lambda parts: np.concatenate(parts, axis=-1))


def _broadcast_to(given: Jet, shape: Any) -> Jet:
    shape = (shape,) if isinstance(shape, int) else tuple(shape)
    return Jet(np.broadcast_to(given.value, shape), given.first, given.second)


def _outer(given: Jet, factors: Values) -> Jet:
    return given.mapped(lambda part: part[..., None] * factors)


def _bincount(places: Any, weights: Jet, minlength: int = 0) -> Jet:
    length = max(int(minlength), int(places.max(initial=-1)) + 1)

    def counted(part: Values) -> Values:
        lines = np.ascontiguousarray(part).reshape(-1, places.size)
        shifted = places + length * np.arange(lines.shape[0])[:, None]
        found: Any = np.bincount(
            shifted.ravel(), weights=lines.ravel(), minlength=lines.shape[0] * length
        )
        counts: Values = found.reshape(*part.shape[:-1], length)
        return counts

    return weights.mapped(counted)


def _filled(like: Jet, value: Any) -> Jet:
    nothing = np.zeros((like.directions, *like.shape))
    return Jet(np.full(like.shape, value, dtype=np.float64), nothing, nothing)


_FUNCTIONS: dict[str, Callable[..., Any]] = {
    "ndim": lambda given: given.ndim,
    "shape": lambda given: given.shape,
    "size": lambda given: given.size,
    "where": _where,
    "concatenate": _concatenate,
    "broadcast_to": _broadcast_to,
    "outer": _outer,
    "bincount": _bincount,
    "ravel": lambda given: given.ravel(),
    "empty_like": lambda like: _filled(like, 0.0),
    "zeros_like": lambda like: _filled(like, 0.0),
    "ones_like": lambda like: _filled(like, 1.0),
    "full_like": _filled,
}
