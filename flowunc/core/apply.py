"""A user's own function as one step of the record: solvers, look-ups, anything vectorised.

Its derivative is found numerically, with error control: central differences at a sequence of
shrinking steps, extrapolated to step zero [Ridders 1982], each reading with its own best step.
A function with a kink at the reading is refused by the linear method rather than given a
slope it does not have; the Monte Carlo method needs no derivative.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from typing import Any, NoReturn

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import DimensionError, PropagationError, ShapeError
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.quantity import Quantity
from flowunc.core.record import elementwise
from flowunc.core.units import parse_unit

__all__ = ["apply"]

Function = Callable[..., Any]

ATTEMPTS = 4  # starts, each with steps 2**STEPS times smaller
STEPS = 8  # step sizes, each half the one before
FIRST_STEP = 0.0173  # relative to the argument, above the noise of solvers; no round number, so
# that it does not fall in step with the rounding of a table
RELATIVE_ERROR = 1e-5  # of the derivative, beyond which it is refused
ROUNDING_ERROR = 1e-9  # of value over argument: what rounding leaves where the slope is zero
ALONE_ERROR = 1e-3  # of the largest value: solvers that stop together differ less between lengths


def _scatter_about_smooth_course() -> NDArray[np.float64]:
    """Return the matrix that takes central quotients to their residuals about a cubic in step^2.

    Least squares weighted with the step, because noise of the function enters a quotient in
    proportion to 1/step.
    """
    powers = _RELATIVE_STEPS[:, None] ** np.array([0.0, 2.0, 4.0, 6.0])
    weighted = powers * _RELATIVE_STEPS[:, None]
    fitted: NDArray[np.float64] = powers @ np.linalg.pinv(weighted) @ np.diag(_RELATIVE_STEPS)
    return np.eye(_RELATIVE_STEPS.size) - fitted


# between the halved steps lie others, of no simple ratio, that only serve to see the noise
_BETWEEN = np.array([0.887, 0.773, 0.691, 0.617, 0.431, 0.379, 0.297])
_RELATIVE_STEPS = np.concatenate([0.5 ** np.arange(STEPS), _BETWEEN])
_SCATTER = _scatter_about_smooth_course()


def apply(
    function: Function,
    *quantities: Quantity,
    unit: str = "1",
    kind: type[Quantity] | None = None,
    label: str = "",
) -> Any:
    """Use a vectorised function of your own as one step of the model.

    Parameters
    ----------
    function : callable
        ``function(*arrays) -> array``. It gets one 1-d float64 array in coherent SI per
        quantity, all of equal length (copies, which it may change), and must work reading
        by reading: entry i of the result depends on entries i only. Iterative solvers are
        fine. It is called several times, with other values and other lengths.
    *quantities : Quantity
        Scalars or readings.
    unit : str
        Coherent SI unit in which the function returns its result.
    kind : type of quantity, optional
        Kind of the result; by default the kind that goes with the unit.
    label : str
        Name of the result.

    Returns
    -------
    Quantity
        Scalar if all arguments are, else readings.

    Raises
    ------
    PropagationError
        The function fails, returns complex numbers or something not finite, or gives a
        reading another result when the others are left out; later, when the linear
        uncertainty is asked for: it is not differentiable there, or too noisy.
    ShapeError
        It returns something of another length.

    Notes
    -----
    The derivative is numerical: central differences extrapolated to zero step, relative
    error estimated and required below 1e-5 (typically 1e-10). All other derivatives of
    flowunc are exact.

    Examples
    --------
    >>> import numpy as np
    >>> from flowunc import Length, apply, standard
    >>> depth = Length([0.25, 1.0], "m", standard(0.01))
    >>> print(apply(np.sqrt, depth, unit="m^0.5", label="root"))
    root (2 readings, m^0.5): 0.500 ± 0.010, 1.0000 ± 0.0050
    """
    if not callable(function):
        raise DimensionError(f"apply({function!r}, ...): expected a function")
    if not quantities:
        raise DimensionError("apply(function): expected at least one quantity after the function")
    for item in quantities:
        if not isinstance(item, Quantity):
            raise DimensionError(
                f"apply: argument {item!r} is a {type(item).__name__}; expected quantities "
                "(bind plain numbers with functools.partial)"
            )
    parsed = parse_unit(unit)
    step = UserFunction(function)
    node = elementwise(step, *(item._node for item in quantities))
    if not np.isfinite(node.value).all():
        row = int(np.flatnonzero(~np.isfinite(np.atleast_1d(node.value)))[0])
        name = step.label
        shown = ", ".join(
            f"{float(np.broadcast_to(item._node.value, node.value.shape).flat[row]):.6g}"
            for item in quantities
        )
        raise PropagationError(
            f"the function '{name}' given to apply has no finite value in {name}({shown}) at "
            f"reading {row} (SI): expected numbers for the readings themselves"
        )
    step.require_reading_by_reading([item._node.value for item in quantities], node.value)
    if kind is None:
        kind = Quantity._by_dimension.get(parsed.dimension, Quantity)
        if parsed.dimension is parse_unit("K").dimension:
            kind = Quantity  # a temperature only if asked for
    elif not _is_kind(kind):
        raise DimensionError(f"apply(kind={kind!r}): expected a kind such as flowunc.Length")
    kind._parsed_unit(unit)
    if parsed.factor != 1.0 or parsed.is_offset:
        raise DimensionError(
            f"apply(unit='{unit}'): functions work in coherent SI; return SI values and convert "
            "with .to()"
        )
    kind._check_values(node.value, parsed)
    return kind._from_node(node, parsed, label)


def _hint(error: Exception) -> str:
    """Say what to do where the function was written for one number at a time."""
    text = str(error)
    # what NumPy says where an array stands for one number: in if and while, in float() and math
    alone = ("truth value of an array", "can be converted to Python scalars")
    if not any(words in text for words in alone):
        return ""
    return "; the function gets arrays; wrap a scalar solver with numpy.vectorize"


def _is_kind(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Quantity)


class UserFunction(Elementwise):
    """An opaque function recorded as an elementwise operation."""

    def __init__(self, function: Function) -> None:
        self.function = function
        name = getattr(function, "__qualname__", type(function).__name__)
        super().__init__(name, name, self._evaluate, self._pull)

    def __reduce__(self) -> tuple[Any, ...]:
        try:
            pickle.dumps(self.function)
        except (pickle.PicklingError, AttributeError, TypeError) as error:
            raise PropagationError(
                f"the function '{self.name}' given to apply cannot be pickled ({error}): define it "
                "with def at the top level of a module, not as a lambda or inside a function"
            ) from error
        return UserFunction, (self.function,)

    def require_reading_by_reading(self, values: list[Value], result: Value) -> None:
        """Refuse a function that mixes readings: the first and the last must do without others."""
        if result.size < 2:
            return
        scale = np.abs(result).max()
        for row in (0, result.size - 1):
            alone = float(
                self._call([np.array([np.broadcast_to(v, result.shape)[row]]) for v in values])[0]
            )
            if not abs(alone - result[row]) <= ALONE_ERROR * scale:
                raise PropagationError(
                    f"the function '{self.name}' given to apply mixes readings: reading {row} is "
                    f"{result[row]:.6g} among all {result.size} and {alone:.6g} by itself (SI); "
                    "expected entry i of the result to depend on entries i only. Means, sums and "
                    "differences of readings are arithmetic of quantities, such as q - q.mean()"
                )

    def _evaluate(self, *values: Value, out: Value | None = None) -> Value:
        shape = np.broadcast_shapes(*(np.shape(value) for value in values))
        arguments = [np.array(np.broadcast_to(v, shape), dtype=np.float64).ravel() for v in values]
        result = self._call(arguments).reshape(shape)
        if out is None:
            return result
        out[...] = result
        return out

    def _call(self, arguments: list[NDArray[np.float64]]) -> NDArray[np.float64]:
        """Call the function on copies; what it does with NaN inside is its own business."""
        count = arguments[0].size
        try:
            with np.errstate(all="ignore"):
                returned = self.function(*(argument.copy() for argument in arguments))
            returned = np.asarray(returned)
            complex_result = bool(np.iscomplexobj(returned))
            result = returned.real.astype(np.float64)
        except Exception as error:
            raise PropagationError(
                f"the function '{self.name}' given to apply failed on arrays of length {count}: "
                f"{type(error).__name__}: {error}{_hint(error)}"
            ) from error
        if complex_result:
            raise PropagationError(
                f"the function '{self.name}' given to apply returned complex numbers, "
                f"{returned.dtype} with an imaginary part of up to "
                f"{np.abs(returned.imag).max(initial=0.0):.6g}: expected real numbers; return "
                "the part that is meant, such as np.real(...), np.imag(...) or np.abs(...)"
            )
        if result.shape != (count,):
            raise ShapeError(
                f"the function '{self.name}' given to apply returned shape {result.shape} for "
                f"arrays of length {count}: expected one value for each"
            )
        return result

    def _pull(
        self, weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
    ) -> tuple[Weight, ...]:
        shape = np.broadcast_shapes(*(np.shape(value) for value in values))
        arguments = [np.array(np.broadcast_to(v, shape), dtype=np.float64).ravel() for v in values]
        return tuple(
            weight * self._derivative(arguments, position).reshape(shape) if wanted else None
            for position, wanted in enumerate(needed)
        )

    def _derivative(
        self, arguments: list[NDArray[np.float64]], position: int
    ) -> NDArray[np.float64]:
        """Return the partial derivative by extrapolated central differences."""
        at = arguments[position]
        centre = self._call(arguments)
        scale = np.where(at != 0, np.abs(at), np.abs(at).max() or 1.0)
        slope = np.full(at.size, np.nan)
        error = np.full(at.size, np.inf)
        kinked = np.zeros(at.size, dtype=bool)
        for attempt in range(ATTEMPTS):
            # a steep function, or one near the edge of its domain, asks for smaller steps
            first = scale * FIRST_STEP * 0.5 ** (attempt * STEPS)
            new_slope, new_error, new_kinked = self._extrapolated(
                arguments, position, centre, first
            )
            better = new_error < error
            # a table is flat between two of its steps: smaller steps must agree with larger ones
            better &= ~np.isfinite(error) | (np.abs(new_slope - slope) <= 3.0 * error)
            slope = np.where(better, new_slope, slope)
            kinked = np.where(better, new_kinked, kinked)
            error = np.where(better, new_error, error)
            floor = ROUNDING_ERROR * np.abs(centre) / scale
            bad = kinked | ~(error <= RELATIVE_ERROR * np.abs(slope) + floor)
            if not bad.any():
                return slope
        self._refuse(int(np.flatnonzero(bad)[0]), at, error, kinked)

    def _extrapolated(
        self,
        arguments: list[NDArray[np.float64]],
        position: int,
        centre: NDArray[np.float64],
        first: NDArray[np.float64],
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
        """Return slope, error estimate and kinks from steps that shrink from ``first``."""
        at = arguments[position]
        quotients: list[NDArray[np.float64]] = []
        before: list[NDArray[np.float64]] = []
        jumps: list[NDArray[np.float64]] = []
        best = np.full(at.size, np.nan)
        error = np.full(at.size, np.inf)
        used = first.copy()
        for level in range(STEPS):
            step = first * 0.5**level
            above, below = at + step, at - step
            high = self._moved(arguments, position, above)
            low = self._moved(arguments, position, below)
            row = [(high - low) / (above - below)]
            quotients.append(row[0])
            jumps.append((high - 2.0 * centre + low) / step)
            for order in range(1, level + 1):
                factor = 4.0**order
                row.append((factor * row[-1] - before[order - 1]) / (factor - 1.0))
                distance = np.maximum(
                    np.abs(row[-1] - row[-2]), np.abs(row[-1] - before[order - 1])
                )
                better = distance < error
                best = np.where(better, row[-1], best)
                used = np.where(better, step, used)
                error = np.where(better, distance, error)
            before = row
        for fraction in _BETWEEN:
            quotients.append(
                self._quotient(arguments, position, at + first * fraction, at - first * fraction)
            )
        # quotients of a noisy function agree by chance now and then; the scatter of all of them
        # about a smooth course says how far they can be trusted
        scatter = np.abs(_SCATTER @ np.array(quotients)) * _RELATIVE_STEPS[:, None]
        noise = scatter.max(axis=0) * first
        error = np.fmax(error, noise / used)
        # a second difference over the step goes to zero with the step; at a kink it stays
        jump = np.abs(2.0 * jumps[-1] - jumps[-2])
        rounding = 1e-12 * np.abs(centre) / (first * 0.5**STEPS)
        kinked = (jump > 1e-2 * np.maximum(np.abs(best), np.abs(jumps[0]) * 0.5)) & (
            jump > rounding
        )
        return best, error, kinked

    def _moved(
        self, arguments: list[NDArray[np.float64]], position: int, values: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the result with other values of one argument."""
        return self._call([values if i == position else a for i, a in enumerate(arguments)])

    def _quotient(
        self,
        arguments: list[NDArray[np.float64]],
        position: int,
        above: NDArray[np.float64],
        below: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        high = self._moved(arguments, position, above)
        low = self._moved(arguments, position, below)
        quotient: NDArray[np.float64] = (high - low) / (above - below)
        return quotient

    def _refuse(
        self,
        row: int,
        at: NDArray[np.float64],
        error: NDArray[np.float64],
        kinked: NDArray[np.bool_],
    ) -> NoReturn:
        what = (
            "is not differentiable there (its slope differs on the two sides)"
            if kinked[row]
            else "is not smooth enough there for a numerical derivative (error estimate "
            f"{error[row]:.2g}); tighten the tolerance of an iterative solver"
        )
        raise PropagationError(
            f"the function '{self.name}' given to apply, at reading {row} where argument is "
            f"{at[row]:.6g} (SI), {what}: use .monte_carlo() for this result"
        )
