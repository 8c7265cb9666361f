"""The numerical error of a statistic from its scatter over independent scramblings."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.magnitude import LARGEST, SMALLEST, exponent_of, times_power_of_two

__all__ = ["error_over_scramblings"]

Values = NDArray[np.float64]


def error_over_scramblings(
    draws: Values, scramblings: int, statistic: Callable[[Values], Any], u: float
) -> Values:
    """Return the standard error of a pooled statistic of one row of draws.

    Parameters
    ----------
    draws : ndarray, shape (trials,)
        One scrambling after the other, of equal lengths.
    scramblings : int
    statistic : callable
        Of the draws of one scrambling; it grows in proportion to them, as mean, standard
        deviation and limits do.
    u : float
        Standard deviation of the draws.
    """
    exponent = 0 if SMALLEST < u < LARGEST else exponent_of(draws)
    scaled = times_power_of_two(draws, -exponent) if exponent else draws
    with np.errstate(over="ignore", invalid="ignore"):  # of draws that are not finite
        by_part = np.array([statistic(part) for part in scaled.reshape(scramblings, -1)])
        scatter = by_part.std(axis=0, ddof=1) / math.sqrt(scramblings)
    return times_power_of_two(scatter, exponent)
