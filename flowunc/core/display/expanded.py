"""`Expanded`: an expanded uncertainty with its coverage factor."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flowunc.core.engine import Numbers

__all__ = ["Expanded"]

MOST_READINGS, HEAD, TAIL = 8, 3, 3


class Expanded(NamedTuple):
    """An expanded uncertainty ``U`` with its coverage factor ``k``, each shaped as the value.

    A tuple, so that ``U, k = quantity.expanded()`` takes it apart; printed, it is rounded.

    Examples
    --------
    >>> from flowunc import Mass, standard
    >>> print(Mass(1.0, "kg", standard(0.002)).expanded())
    U = 0.0039, k = 1.96
    """

    U: Numbers
    k: Numbers

    def __str__(self) -> str:
        from flowunc.core.display.rounding import round_number
        from flowunc.core.display.rows import shown_positions

        factors = np.atleast_1d(self.k)
        low, high = (f"{k:.2f}" for k in (np.min(factors), np.max(factors)))
        coverage = f"k = {low}" if low == high else f"k = {low} to {high}"
        if np.ndim(self.U) == 0:
            return f"U = {round_number(float(self.U))}, {coverage}"
        widths = np.atleast_1d(self.U)
        positions = shown_positions(widths.size, MOST_READINGS, HEAD, TAIL)
        texts = [round_number(float(widths[position])) for position in positions]
        if widths.size > len(positions):
            texts.insert(HEAD, "...")
        return f"U = [{', '.join(texts)}], {coverage}"
