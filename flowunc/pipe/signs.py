"""The refusal of values that must be above zero: a bore, a density, a velocity."""

from __future__ import annotations

from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import RangeError
from flowunc.core.quantity import Quantity

__all__ = ["require_not_negative", "require_positive"]


def require_positive(quantity: Quantity, function: str, argument: str) -> None:
    """Refuse values of zero or less."""
    values = quantity._node.value
    if not values.min() > 0:
        _refuse(quantity, values <= 0, function, argument, "above 0")


def require_not_negative(quantity: Quantity, function: str, argument: str) -> None:
    """Refuse values below zero."""
    values = quantity._node.value
    if values.min() < 0:
        _refuse(quantity, values < 0, function, argument, "0 or more")


def _refuse(
    quantity: Quantity, bad: NDArray[np.bool_], function: str, argument: str, text: str
) -> NoReturn:
    outside = np.flatnonzero(bad)
    first = int(outside[0])
    value = np.atleast_1d(quantity.value)[first]
    unit = "" if quantity.unit == "1" else f" {quantity.unit}"
    place = "" if quantity._node.size is None else f" at reading {first}"
    more = "" if outside.size == 1 else f" (and {outside.size - 1} more)"
    raise RangeError(
        f"{function}({argument}=...): {value:.6g}{unit}{place}{more}; expected a "
        f"value {text}: check the reading, or leave out the run"
    )
