"""Numbers of any size: the power of two by which their squares stay within float64.

Squares leave float64 below 1e-162 and above 1e154, long before the numbers themselves do. Times
a power of two no number changes its digits [IEEE 754-2019, 5.3.3, scaleB]: so the largest is
brought next to 1, squares are summed there, and the power is taken back from their root.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "LARGEST",
    "LARGEST_EXPONENT",
    "SMALLEST",
    "exponent_of",
    "standard_deviation",
    "times_power_of_two",
]

SMALLEST, LARGEST = 1e-140, 1e140  # between, squares and their sums are as exact as anywhere
LARGEST_EXPONENT = 1000  # of two: such powers, up or down, leave digits and room for factors


def exponent_of(values: ArrayLike) -> int:
    """Return e with the largest magnitude from 2**(e - 1) up to 2**e; 0 where all are zero.

    Examples
    --------
    >>> exponent_of([-5.0, 3.0])
    3
    """
    return int(np.frexp(np.max(np.abs(values), initial=0.0))[1])


def times_power_of_two(values: ArrayLike, exponent: Any) -> NDArray[np.float64]:
    """Return values times 2**exponent, infinite where that leaves float64.

    Parameters
    ----------
    values : float or array_like
    exponent : int or ndarray of int

    Examples
    --------
    >>> times_power_of_two([3.0, 5.0], -1)
    array([1.5, 2.5])
    """
    whole = np.asarray(exponent, dtype=np.intc)  # where a C long has 32 bits, ldexp takes no int64
    with np.errstate(over="ignore"):
        return np.asarray(np.ldexp(values, whole))


def standard_deviation(values: ArrayLike, *, of_mean: bool = False) -> float:
    """Return the sample standard deviation, or that of the mean, of two numbers or more.

    Infinite only where itself it is beyond float64; that of a mean never is.

    Notes
    -----
    s^2 = sum (x - mean)^2/(n - 1), s^2/n for the mean [JCGM 100, 4.2.2 and 4.2.3].

    Examples
    --------
    >>> standard_deviation([2e200, 4e200, 6e200]) / 1e200
    2.0
    """
    numbers = np.asarray(values, dtype=np.float64)
    parts = math.sqrt(numbers.size) if of_mean else 1.0
    with np.errstate(over="ignore", invalid="ignore"):
        s = float(numbers.std(ddof=1))
    if SMALLEST < s < LARGEST:
        return s / parts
    exponent = exponent_of(numbers)
    s = float(times_power_of_two(numbers, -exponent).std(ddof=1)) / parts
    return float(times_power_of_two(s, exponent))
