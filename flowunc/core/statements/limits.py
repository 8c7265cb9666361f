"""Limits: half-widths of rectangular distributions and their relatives.

Half-widths are those of a rectangular distribution unless something more is known of the
shape [JCGM 100, 4.3.7 to 4.3.9; JCGM 101, 6.4].
"""

from __future__ import annotations

import math

from numpy.typing import ArrayLike

from flowunc.core.arguments import check_dof
from flowunc.core.distributions import (
    Arcsine,
    Distribution,
    Exponential,
    InexactRectangular,
    Rectangular,
    Trapezoidal,
    Triangular,
)
from flowunc.core.statements.statement import Absolute, Statement, check_statement_unit

__all__ = ["arcsine", "exponential", "limits", "trapezoidal", "triangular"]


def limits(
    a: ArrayLike,
    unit: str | None = None,
    *,
    inexact: float | None = None,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State that the error lies between -a and +a, anywhere alike (rectangular).

    Parameters
    ----------
    a : float or array_like, shape (n,)
        Half-width, 0 or more.
    unit : str, optional
        Unit of ``a``; the value's own unit if left out.
    inexact : float, optional
        The half-width itself is only known to within this much either way.
    dof : float
        Degrees of freedom that express how well ``a`` is known [JCGM 100, G.4.2]; used by
        the linear method only.
    label : str, optional
        Name of the component in budgets.

    Raises
    ------
    StatementError
        Negative, NaN or infinite half-width, or ``inexact`` above it.

    Notes
    -----
    u = a / sqrt(3) [JCGM 100, 4.3.7]; with inexact limits u = sqrt(a**2/3 + d**2/9)
    [JCGM 101, 6.4.3].

    Examples
    --------
    >>> from flowunc import Length, limits
    >>> round(Length(19.05, "mm", limits(0.05)).u, 4)
    0.0289
    """
    distribution: Distribution = (
        Rectangular(a) if inexact is None else InexactRectangular(a, inexact)
    )
    return _limits(distribution, unit, dof, label, "limits")


def triangular(
    a: ArrayLike,
    unit: str | None = None,
    *,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State limits -a to +a with values near the middle more likely: u = a / sqrt(6).

    See `limits` for the parameters. Source: [JCGM 100, 4.3.9], [JCGM 101, 6.4.5].

    Examples
    --------
    >>> from flowunc import Length, triangular
    >>> round(Length(10, "mm", triangular(0.6)).u, 4)
    0.2449
    """
    return _limits(Triangular(a), unit, dof, label, "triangular")


def trapezoidal(
    a: ArrayLike,
    top: float,
    unit: str | None = None,
    *,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State limits -a to +a with a flat top of relative width ``top`` (0 triangle, 1 rectangle).

    u = a sqrt((1 + top**2) / 6). See `limits` for the other parameters. Source:
    [JCGM 100, 4.3.9], [JCGM 101, 6.4.4].

    Examples
    --------
    >>> from flowunc import Length, trapezoidal
    >>> round(Length(10, "mm", trapezoidal(0.6, 0.5)).u, 4)
    0.2739
    """
    return _limits(Trapezoidal(a, top), unit, dof, label, "trapezoidal")


def arcsine(
    a: ArrayLike,
    unit: str | None = None,
    *,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State an error that swings sinusoidally between -a and +a: u = a / sqrt(2).

    See `limits` for the parameters. Source: [JCGM 101, 6.4.6].

    Examples
    --------
    >>> from flowunc import Temperature, arcsine
    >>> round(Temperature(20, "degC", arcsine(0.5)).u, 4)
    0.3536
    """
    return _limits(Arcsine(a), unit, dof, label, "arcsine")


def exponential(mean: ArrayLike, unit: str | None = None, *, label: str | None = None) -> Statement:
    """State a one-sided quantity of which only the mean is known: u = mean.

    The value given to the quantity is that mean; draws run from 0 (value - mean) upwards.
    Source: [JCGM 101, 6.4.10].

    Examples
    --------
    >>> from flowunc import Mass, exponential
    >>> Mass(0.2, "g", exponential(0.2)).u
    0.2
    """
    return Absolute(
        distribution=Exponential(mean),
        unit=check_statement_unit(unit, "exponential"),
        wording="exponential",
        label=label,
    )


def _limits(
    distribution: Distribution, unit: str | None, dof: float, label: str | None, name: str
) -> Statement:
    return Absolute(
        distribution=distribution,
        unit=check_statement_unit(unit, name),
        dof=check_dof(dof, name),
        wording=name if name == "limits" else f"{name} limits",
        label=label,
    )
