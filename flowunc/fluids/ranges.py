"""A stated validity range is a checked one: the refusal of values outside it.

Only the values are checked. Draws of a Monte Carlo simulation that stray past an end are
evaluated by the formula as it stands, or the end would cut their distribution.
"""

from __future__ import annotations

import numpy as np

from flowunc.core.errors import RangeError
from flowunc.core.quantity import Quantity
from flowunc.core.units import parse_unit

__all__ = ["require_within"]


def require_within(
    quantity: Quantity, low: float, high: float, unit: str, *, argument: str, source: str
) -> None:
    """Refuse values below ``low`` or above ``high``, both stated in ``unit``.

    Parameters
    ----------
    quantity : Quantity
        Value or readings.
    low, high : float
        Limits in ``unit``; both belong to the range.
    unit : str
        Unit of the limits, in which the message shows the value.
    argument : str
        What the value is, such as "water.density(temperature=...)".
    source : str
        What has this range, with its reference key.

    Raises
    ------
    RangeError
        The first value outside, with its place, the limits and the source.
    """
    shown = np.atleast_1d(parse_unit(unit).from_si(quantity._node.value))
    # 32 degF converted to degC is 6e-14 off zero
    slack = 1e-9 * (high - low)
    outside = np.flatnonzero((shown < low - slack) | (shown > high + slack))
    if outside.size:
        first = int(outside[0])
        place = "" if quantity._node.size is None else f" at reading {first}"
        more = "" if outside.size == 1 else f" (and {outside.size - 1} more)"
        raise RangeError(
            f"{argument}: {shown[first]:.9g} {unit}{place}{more}; expected {low:g} to {high:g} "
            f"{unit}, the range of {source}: check number and unit of the reading"
        )
