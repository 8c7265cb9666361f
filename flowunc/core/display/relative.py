"""The rows of a quantity with its uncertainty in per cent of the value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flowunc.core.display.rounding import Rounded, round_number
from flowunc.core.display.rows import (
    Row,
    Showable,
    picked,
    rows,
    spreads,
    standard_spreads,
    unit_of,
)
from flowunc.core.errors import UnitError
from flowunc.core.units import parse_unit

__all__ = ["relative_rows"]


def relative_rows(quantity: Showable, positions: Sequence[int], digits: int) -> list[Row]:
    """Round the readings at these positions, the uncertainty as a percentage.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings.
    positions : sequence of int
    digits : int
        Significant digits of the uncertainty.

    Returns
    -------
    list of Row
        The value ends with the last digit of its uncertainty in the unit of the quantity. That of
        a scalar has its unit behind it. A value of zero has no relative uncertainty.

    Raises
    ------
    UnitError
        Degrees Celsius or Fahrenheit, whose zero is arbitrary.

    Notes
    -----
    u_r = u/abs(y) [JCGM 100, 5.1.6]. The percentage of a value that is one itself has "of it"
    behind it.
    """
    if parse_unit(quantity.unit).is_offset:
        raise UnitError(
            f"relative uncertainty in '{quantity.unit}': the zero of that scale is arbitrary, so "
            "a percentage of the value means nothing; expected 'K', or a form without 'relative'"
        )
    shown = picked(quantity, positions)
    values = np.atleast_1d(shown.value)
    found = []
    for row, value, spread in zip(
        rows(quantity, positions, digits), values, spreads(shown, standard_spreads), strict=True
    ):
        text = replace(row.rounded, uncertainty="").text
        if quantity.ndim == 0 and unit_of(quantity):
            text = f"{text} {unit_of(quantity)}"
        percent = ""
        if spread is not None and spread.u > 0:
            if value == 0:
                text = f"{text} (no relative u)"
            else:
                of_it = " of it" if quantity.unit == "%" else ""
                percent = f"{round_number(100 * abs(spread.u / float(value)), digits)} %{of_it}"
        found.append(Row(row.position, Rounded(text, percent), row.k))
    return found
