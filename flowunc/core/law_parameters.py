"""Parameters of the distributions: one number, or a read-only array with one per reading."""

from __future__ import annotations

import math
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import StatementError

__all__ = ["LEAST_DOF", "LIMITS", "Floats", "Parameter", "parameter", "require", "shaped"]

Floats: TypeAlias = NDArray[np.float64]
Parameter: TypeAlias = float | Floats

# With few degrees of freedom n the factor of 95 % is about sqrt(n) 20**(1/n): 6e128 here, and
# beyond float64 for less than 0.0042, where SciPy gives any number.
LEAST_DOF = 0.01
LIMITS = {  # of a parameter, by its name; any other is a length
    "mean": (-math.inf, math.inf, "a number"),
    "top": (0.0, 1.0, "0 to 1, the top width over the base width"),
    "dof": (LEAST_DOF, math.inf, f"above 0 ({LEAST_DOF:g} at least)"),
}


def shaped(value: Any) -> Parameter:
    """Return an array with axes as it is, anything else as a float."""
    return value if np.ndim(value) else float(value)


def require(owner: str, name: str, value: Parameter, good: Any, expected: str) -> None:
    """Refuse a parameter, naming the first offending value."""
    if not good.all():
        first = int(np.argmin(good))
        found = f"{value}" if not np.ndim(value) else f"{np.ravel(value)[first]} at reading {first}"
        raise StatementError(f"{owner} distribution: {name} is {found}; expected {expected}")


def parameter(owner: str, name: str, given: Any) -> Parameter:
    """Turn what was given into a float or a read-only array of its own."""
    if isinstance(given, float) and math.isfinite(given):
        return float(given) + 0.0  # -0.0 becomes 0.0: what is equal has equal bytes
    expected = "a finite number, or a 1-d array with one for each reading"
    try:
        array = np.asarray(None if _is_masked(given) else given)
    except ValueError:  # rows of different lengths
        array = np.asarray(None)
    if array.ndim > 1 or (array.dtype.kind not in "iuf" and array.size):
        raise StatementError(f"{owner} distribution: {name} is {given!r}; expected {expected}")
    numbers = np.asarray(array.astype(np.float64) + 0.0)
    require(owner, name, numbers, np.isfinite(numbers), expected)
    numbers.flags.writeable = False
    return shaped(numbers)


def _is_masked(given: Any) -> bool:
    """Tell whether entries are masked, of which NumPy would take what is under the mask, or NaN."""
    listed = isinstance(given, (list, tuple))
    return any(map(np.ma.is_masked, given)) if listed else bool(np.ma.is_masked(given))
