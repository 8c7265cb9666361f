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
    quantity: Quantity,
    low: float,
    high: float,
    unit: str,
    *,
    argument: str,
    source: str,
    hint: str = "check number and unit of the reading",
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
    hint : str
        What to do about it.

    Raises
    ------
    RangeError
        The first value outside, with its place, the limits and the source.
    """
    limits = parse_unit(unit)
    # 32 degF converted to degC is 6e-14 off zero
    slack = 1e-9 * (high - low)
    lowest, highest = limits.to_si(low - slack), limits.to_si(high + slack)
    values = np.atleast_1d(quantity._node.value)
    if values.min() >= lowest and values.max() <= highest:
        return
    outside = np.flatnonzero((values < lowest) | (values > highest))
    first = int(outside[0])
    shown = limits.from_si(float(values[first]))
    place = "" if quantity._node.size is None else f" at reading {first}"
    more = "" if outside.size == 1 else f" (and {outside.size - 1} more)"
    raise RangeError(
        f"{argument}: {shown:.9g} {unit}{place}{more}; expected {low:g} to {high:g} "
        f"{unit}, the range of {source}: {hint}"
    )
