"""Significant digits of an uncertainty and the numerical tolerance that goes with them.

Source: [JCGM 101, 7.9.2]: with u written as c times 10**l, c a whole number of the asked
digits, the tolerance is half of 10**l. u is rounded first: 0.00983 at one digit is 0.01, so
the tolerance is 0.005.
"""

from __future__ import annotations

import math
import operator

from flowunc.core.errors import RangeError

__all__ = ["MOST_DIGITS", "check_digits", "numerical_tolerance"]

MOST_DIGITS = 6  # beyond, no number of draws decides


def check_digits(digits: int) -> int:
    """Return a number of significant digits, 1 to 6."""
    try:
        value = operator.index(digits)
    except TypeError:
        value = 0
    if isinstance(digits, bool) or not 1 <= value <= MOST_DIGITS:
        raise RangeError(
            f"digits={digits!r}: expected a whole number of significant digits of u, "
            f"1 to {MOST_DIGITS}"
        )
    return value


def numerical_tolerance(u: float, digits: int) -> float:
    """Return delta for a standard uncertainty: 0 where u is 0, NaN where u is NaN.

    >>> numerical_tolerance(0.00983, 1)
    0.005
    >>> numerical_tolerance(0.0539, 2)
    0.0005
    """
    if not u > 0 or math.isinf(u):
        return 0.0 if u == 0 else math.nan
    exponent = f"{u:.{digits - 1}e}".partition("e")[2]
    return 0.5 * 10.0 ** (int(exponent) - digits + 1)
