"""A smooth curve through the entries of a table, as one recorded operation.

The curve is the monotone cubic of [Fritsch 1984], which never swings beyond the entries. It knows
its derivative exactly, and an estimate of how far the true curve may lie from it.
"""

from __future__ import annotations

from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import RangeError, ShapeError
from flowunc.core.operations import Elementwise, Value, Weight

__all__ = ["PiecewiseCubic"]

Floats = NDArray[np.float64]

_CLOSE = 1e-9  # relative: by how much pieces may miss one another, far above rounding


class PiecewiseCubic(Elementwise):
    """Cubic pieces between knots; beyond the ends the curve goes on straight.

    Parameters
    ----------
    label : str
        Name shown in messages.
    knots : ndarray, shape (n,)
        Rising, two or more. Piece i ends at knot i; the first and the last piece lie outside.
    coefficients : ndarray, shape (4, n + 1)
        Of the powers 0 to 3 of the distance from the knot before the piece, of the first piece
        from the knot after it.

    Raises
    ------
    ShapeError
        Fewer than two knots, or coefficients that do not fit them.
    RangeError
        A number that is not finite; knots that do not rise; pieces that do not go over into one
        another in value and slope; an outer piece that is not straight.
    """

    def __init__(self, label: str, knots: Floats, coefficients: Floats) -> None:
        super().__init__(label, label, self._evaluate, self._pull)
        _check(label, knots, coefficients)
        self.knots = knots
        self.coefficients = coefficients
        self._origins = np.concatenate([knots[:1], knots])
        for array in (knots, coefficients):
            array.setflags(write=False)

    @classmethod
    def through(cls, label: str, knots: Floats, values: Floats) -> Self:
        """Lay the monotone curve through values at rising knots, three or more."""
        from scipy.interpolate import PchipInterpolator

        curve = PchipInterpolator(knots, values)
        slopes = curve.derivative()(knots[[0, -1]])
        ends = np.zeros((2, 4))
        ends[:, 0], ends[:, 1] = values[[0, -1]], slopes
        inner = curve.c[::-1]  # SciPy has the highest power first
        coefficients = np.concatenate([ends[:1].T, inner, ends[1:].T], axis=1)
        return cls(label, np.array(knots), coefficients)

    def __reduce__(self) -> tuple[Any, ...]:
        # unlike the operations of a module, each table has one of its own
        return type(self), (self.label, self.knots, self.coefficients)

    def departure(self, x: Floats) -> Floats:
        """Estimate how far the true curve may lie from this one, at arguments between the knots.

        |x - x_i| |x_i+1 - x| k: zero at the entries, and in between what a straight line would
        miss of a curve with the second derivative 2 k. k is the largest difference between the
        slope at an entry and that of the chord, over the distance of the entries, in the
        interval and its two neighbours. For smooth curves the true departure is of higher order
        and smaller.
        """
        step = np.diff(self.knots)
        value, slope, *_ = self.coefficients[:, 1:]
        chord = np.diff(value) / step
        bend = np.maximum(np.abs(slope[:-1] - chord), np.abs(slope[1:] - chord)) / step
        padded = np.concatenate([[0.0], bend, [0.0]])
        bend = np.maximum(np.maximum(padded[:-2], bend), padded[2:])
        piece = np.clip(self._piece(x) - 1, 0, step.size - 1)
        inside = np.clip(x, self.knots[0], self.knots[-1])  # rounding at the ends of the range
        left, right = self.knots[piece], self.knots[piece + 1]
        return np.asarray((inside - left) * (right - inside) * bend[piece])

    def bracket(self, x: Floats) -> tuple[NDArray[np.intp], Floats]:
        """Return the entry below each argument and the share of the way to the next one."""
        below = np.clip(self._piece(x) - 1, 0, self.knots.size - 2)
        share = (x - self.knots[below]) / (self.knots[below + 1] - self.knots[below])
        return below, np.clip(share, 0.0, 1.0)

    def _piece(self, x: Any) -> NDArray[np.intp]:
        if isinstance(x, np.ndarray):
            return np.asarray(np.searchsorted(self.knots, x, side="right"))
        # comparisons rather than a search: derivatives of second order run through here, too
        piece = np.zeros(np.shape(x), dtype=np.intp)
        for knot in self.knots:
            piece += x >= knot
        return piece

    def _evaluate(self, x: Value, out: Value | None = None) -> Value:
        piece = self._piece(x)
        c0, c1, c2, c3 = (c[piece] for c in self.coefficients)
        s = x - self._origins[piece]
        return np.asarray(np.add(((c3 * s + c2) * s + c1) * s, c0, out=out))

    def _pull(
        self, weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
    ) -> tuple[Weight, ...]:
        piece = self._piece(values[0])
        _, c1, c2, c3 = (c[piece] for c in self.coefficients)
        s = values[0] - self._origins[piece]
        return (weight * ((3.0 * c3 * s + 2.0 * c2) * s + c1),)


def _check(label: str, knots: Floats, coefficients: Floats) -> None:
    if knots.ndim != 1 or knots.size < 2 or coefficients.shape != (4, knots.size + 1):
        raise ShapeError(
            f"curve {label!r}: {knots.size} knots and coefficients of shape {coefficients.shape}; "
            "expected two knots or more, and four coefficients for each piece: one piece before "
            "each knot and one behind the last"
        )
    if not (np.isfinite(knots).all() and np.isfinite(coefficients).all()):
        raise RangeError(f"curve {label!r}: a knot or coefficient is not a finite number")
    step = np.diff(knots)
    if not (step > 0).all():
        raise RangeError(f"curve {label!r}: expected rising knots, each once")
    if coefficients[2:, [0, -1]].any():
        raise RangeError(f"curve {label!r}: expected straight pieces outside the knots")
    with np.errstate(all="ignore"):  # what is too large has no finite value, and is refused there
        _check_joints(label, step, coefficients)


def _check_joints(label: str, step: Floats, coefficients: Floats) -> None:
    powers = np.concatenate([[0.0], step]) ** np.arange(4)[:, np.newaxis]
    slopes = np.arange(1.0, 4.0)[:, np.newaxis] * coefficients[1:, :-1] * powers[:3]
    for parts, begins in (
        (coefficients[:, :-1] * powers, coefficients[0, 1:]),
        (slopes, coefficients[1, 1:]),
    ):
        size = np.abs(parts).sum(axis=0) + np.abs(begins)
        met = np.abs(parts.sum(axis=0) - begins) <= _CLOSE * size
        if not met.all():
            raise RangeError(
                f"curve {label!r}: has a step or a kink at knot {int(np.argmin(met))}; "
                "expected pieces that go over into one another in value and slope"
            )
