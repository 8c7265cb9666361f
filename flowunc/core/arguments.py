"""Checks of plain arguments: numbers, levels, factors, degrees of freedom."""

from __future__ import annotations

import math
import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.law_parameters import LEAST_DOF
from flowunc.core.rules import Operand

__all__ = ["check_coverage_factor", "check_dof", "check_level", "read_values"]

_NO_NUMBERS = (str, bytes, bool, np.bool_)


def read_values(values: Any, what: str) -> NDArray[np.float64]:
    """Turn a number or a 1-d sequence of numbers into float64, refusing anything else."""
    if isinstance(values, Operand):
        raise DimensionError(f"{what}: got a quantity; expected plain numbers with their unit")
    if _is_no_number(values) or np.ma.is_masked(values):
        raise RangeError(f"{what}: got {values!r}; expected a number or a list of numbers")
    try:
        # before NumPy reads them: of a masked entry it would warn and make NaN
        if any(_is_no_number(entry) for entry in _entries(values)):
            raise ValueError
        raw = np.asarray(values)
        entries = raw.flat if raw.dtype.kind == "O" else ()
        if raw.dtype.kind not in "iufO" or any(_is_no_number(entry) for entry in entries):
            raise ValueError
        array: NDArray[np.float64] = raw.astype(np.float64, copy=False)
    except (TypeError, ValueError, OverflowError):
        raise RangeError(
            f"{what}: got {values!r}; expected a number or a list of numbers"
        ) from None
    if array.ndim > 1:
        raise ShapeError(
            f"{what}: got an array of shape {array.shape}; expected one number or one axis of "
            "readings"
        )
    if array.size == 0:
        raise ShapeError(f"{what}: got no readings; expected at least one")
    if not np.isfinite(array).all():
        place = "" if array.ndim == 0 else f" at reading {int(np.argmin(np.isfinite(array)))}"
        raise RangeError(f"{what}: NaN or infinity{place}; expected finite numbers")
    return array


def _is_no_number(value: Any) -> bool:
    return value is None or value is np.ma.masked or isinstance(value, _NO_NUMBERS)


def _entries(values: Any) -> Any:
    """Return the entries of a plain list, which NumPy may have made alike (True became 1.0)."""
    return values if isinstance(values, (list, tuple)) else ()


def check_level(level: Any) -> float:
    """Return a coverage probability, refused unless strictly between 0 and 1."""
    if isinstance(level, bool) or not isinstance(level, (int, float, np.number)):
        raise StatementError(f"level={level!r}: expected a number between 0 and 1 such as 0.95")
    if not 0 < level < 1:
        raise StatementError(
            f"level={level}: expected a coverage probability between 0 and 1 such as 0.95"
        )
    return float(level)


def check_coverage_factor(k: Any, name: str) -> float:
    """Return a coverage factor, refused unless above 0."""
    if isinstance(k, bool) or not isinstance(k, (int, float, np.number)):
        raise StatementError(f"{name}(k={k!r}): expected a coverage factor above 0, usually 2")
    if not 0 < k <= sys.float_info.max:
        raise StatementError(
            f"{name}(k={str(k)[:40]}): expected a coverage factor above 0, usually 2"
        )
    return float(k)


def check_dof(dof: Any, name: str) -> float:
    """Return degrees of freedom, refused unless above 0 and not absurdly few."""
    is_number = isinstance(dof, (int, float, np.number)) and not isinstance(dof, bool)
    if not is_number or not (dof == math.inf or LEAST_DOF <= dof <= sys.float_info.max):
        raise StatementError(
            f"{name}(dof={dof!r}): expected degrees of freedom above 0 ({LEAST_DOF:g} at least), "
            "for example n - 1 for n repeats"
        )
    return float(dof)
