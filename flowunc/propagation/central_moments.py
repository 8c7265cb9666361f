"""Skewness and kurtosis of the error distributions: what curvature makes of their shape.

Both are of the distribution divided by its standard uncertainty, so they carry no unit:
skewness mu_3/u^3, kurtosis mu_4/u^4.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from flowunc.core.distributions import (
    Arcsine,
    Distribution,
    Exponential,
    InexactRectangular,
    Normal,
    ScaledT,
    Trapezoidal,
)
from flowunc.core.errors import PropagationError
from flowunc.core.law_parameters import Parameter

__all__ = ["NORMAL_SHAPE", "Shape", "shape_of"]


class Shape(NamedTuple):
    """Skewness and kurtosis, each a number or an array with one for each reading."""

    skewness: Parameter
    kurtosis: Parameter


NORMAL_SHAPE = Shape(0.0, 3.0)


def shape_of(distribution: Distribution) -> Shape:
    """Return skewness and kurtosis of an error.

    Parameters
    ----------
    distribution : Distribution

    Returns
    -------
    Shape

    Raises
    ------
    PropagationError
        A distribution of another class than those of flowunc.

    Notes
    -----
    The scaled t counts as normal. Its u is by definition not its standard deviation, and its
    kurtosis exists for more than 4 degrees of freedom only; the few degrees of freedom enter
    a GUM result through the coverage factor [JCGM 100, G.3], not through the moments.

    Examples
    --------
    >>> from flowunc.core.distributions import Rectangular
    >>> shape_of(Rectangular(0.5)).kurtosis
    1.8
    """
    if isinstance(distribution, Normal | ScaledT):
        return NORMAL_SHAPE
    if isinstance(distribution, Trapezoidal):
        # sum of two rectangular errors of half-widths (1 + top)/2 and (1 - top)/2; the fourth
        # cumulant of one of half-width w is -2 w^4/15, and cumulants add up
        wide, narrow = np.square(1.0 + distribution.top), np.square(1.0 - distribution.top)
        excess = -1.2 * (wide**2 + narrow**2) / (wide + narrow) ** 2
        return Shape(0.0, _shaped(3.0 + excess))
    if isinstance(distribution, Arcsine):
        return Shape(0.0, 1.5)
    if isinstance(distribution, Exponential):
        return Shape(_shaped(2.0 * np.sign(distribution.mean)), 9.0)
    if isinstance(distribution, InexactRectangular):
        # a rectangular error of half-width A, itself rectangular within a +- d: the moments of
        # A^2 and A^4 times those at unit half-width, 1/3 and 1/5
        exact = np.equal(distribution.inexact, 0.0)
        r = distribution.inexact / np.where(exact, 1.0, distribution.half_width)
        square = np.square(r)
        fourth = (1.0 + 2.0 * square + np.square(square) / 5.0) / 5.0
        return Shape(0.0, _shaped(fourth / np.square((1.0 + square / 3.0) / 3.0)))
    raise PropagationError(
        f"the third and fourth moments of the distribution '{distribution.name}' are not known: "
        "use second_order(..., normal=True), or .monte_carlo() for this result"
    )


def _shaped(value: Any) -> Parameter:
    return value if np.ndim(value) else float(value)
