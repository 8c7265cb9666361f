"""Accuracy statements of data sheets that refer to the reading or to the full scale.

What to use when: `percent_of_reading` where the sheet says "of reading" (o.r., of measured
value); `percent_of_full_scale` where it says "of full scale" (f.s., of end value);
`error_limit` where it gives an accuracy class by VDI/VDE 3513-2 with its two numbers G and
qG. A bare percentage on a data sheet is ambiguous: ask for the missing words, since at a
quarter of the scale the two readings of it differ by a factor of four.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.arguments import check_coverage_factor, check_dof
from flowunc.core.distributions import Distribution, Normal, Rectangular, ScaledT
from flowunc.core.errors import StatementError
from flowunc.core.record import freeze
from flowunc.core.statements import Gain, Reference, Statement
from flowunc.core.units import Unit, parse_unit

__all__ = ["error_limit", "percent_of_full_scale", "percent_of_reading"]


@dataclass(frozen=True, kw_only=True)
class Percentage(Statement):
    """Base: a percentage, either a limit either way or, with ``k``, an expanded uncertainty."""

    percent: float
    k: float | None = None
    dof: float = math.inf

    @property
    def degrees_of_freedom(self) -> float:
        """Degrees of freedom, infinite unless stated."""
        return self.dof

    def _fraction(self) -> Distribution:
        """Return the distribution of the relative error, as a fraction."""
        width = self.percent / 100.0
        if self.k is None:
            return Rectangular(width)
        u = width / self.k
        return Normal(u) if math.isinf(self.dof) else ScaledT(u, self.dof)

    def _refuse_shifted_zero(self, reference: Reference) -> None:
        if reference.unit.is_offset:
            raise StatementError(
                f"{self.percent:g} % ({self.role}) on {reference.label} in '{reference.unit}': "
                "a percentage of a temperature depends on where its scale has its zero; state "
                "limits(...) or expanded(..., k=2) in kelvin"
            )

    def _full_scale(self, reference: Reference) -> float:
        """Return the highest mark of the scale in coherent SI."""
        if reference.span is None:
            raise StatementError(
                f"{self.percent:g} % ({self.role}) on {reference.label}: no full scale is known; "
                "give the instrument's scale its span=(low, high), or state limits(...)"
            )
        highest = reference.span[1]
        if not highest > 0:
            raise StatementError(
                f"{self.percent:g} % ({self.role}) on {reference.label}: the span ends at "
                f"{reference.unit.from_si(highest):g} {reference.unit}; expected a full scale "
                "above 0, or limits(...)"
            )
        return highest


@dataclass(frozen=True, kw_only=True)
class PercentOfReading(Percentage):
    """An error in proportion to the reading."""

    @property
    def role(self) -> str:
        """What it is called in messages and budgets."""
        return "percent of reading"

    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution of the relative error, shown in per cent."""
        self._refuse_shifted_zero(reference)
        return self._fraction(), parse_unit("%")

    def gain_for(self, values: NDArray[np.float64], reference: Reference) -> Gain:
        """Return the readings: what a relative error is multiplied with."""
        return _gain(values)


@dataclass(frozen=True, kw_only=True)
class PercentOfFullScale(Percentage):
    """An error of one size anywhere on the scale, in proportion to its highest mark."""

    @property
    def role(self) -> str:
        """What it is called in messages and budgets."""
        return "percent of full scale"

    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution of the error in coherent SI, shown in the scale's unit."""
        self._refuse_shifted_zero(reference)
        return self._fraction().scaled(self._full_scale(reference)), reference.unit


@dataclass(frozen=True, kw_only=True)
class ErrorLimit(Percentage):
    """An error in proportion to the reading down to the linearity limit, constant below it."""

    linearity_limit: float

    @property
    def role(self) -> str:
        """What it is called in messages and budgets."""
        return "error limit"

    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution of the error relative to the gain, shown in per cent."""
        self._refuse_shifted_zero(reference)
        self._full_scale(reference)
        return self._fraction(), parse_unit("%")

    def gain_for(self, values: NDArray[np.float64], reference: Reference) -> Gain:
        """Return the readings, but nowhere less than the reading at the linearity limit."""
        knee = self.linearity_limit / 100.0 * self._full_scale(reference)
        return _gain(np.maximum(np.abs(values), knee))


def _gain(values: Any) -> Gain:
    return float(values) if np.ndim(values) == 0 else freeze(values)


def percent_of_reading(
    p: float, *, k: float | None = None, dof: float = math.inf, label: str | None = None
) -> Statement:
    """State an error of at most ±p per cent of the reading.

    Parameters
    ----------
    p : float
        Per cent, 0 or more: 2 for 2 %.
    k : float, optional
        Coverage factor, if ``p`` is an expanded uncertainty: normal with u = p / k.
        Without it ±p are limits (rectangular).
    dof : float
        Degrees of freedom. With ``k`` a finite number draws from the scaled t distribution
        [JCGM 101, 6.4.9]; with limits it is used by the linear method only.
    label : str, optional
        Name of the component in budgets.

    Returns
    -------
    Statement
        For a quantity, or for ``accuracy=`` of an instrument.

    Raises
    ------
    StatementError
        Negative or not finite numbers; a value in degC or degF, of which a percentage
        depends on the zero of the scale.

    Notes
    -----
    One relative error e stands behind all readings of an instrument:
    value = reading * (1 + e), u(e) = p / sqrt(3) [JCGM 100, 4.3.7].

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, percent_of_reading
    >>> round(VolumeFlowRate(2.0, "L/min", percent_of_reading(3)).u, 5)
    0.03464
    """
    name = "percent_of_reading"
    return PercentOfReading(
        percent=_percent(p, name), k=_factor(k, name), dof=check_dof(dof, name), label=label
    )


def percent_of_full_scale(
    p: float, *, k: float | None = None, dof: float = math.inf, label: str | None = None
) -> Statement:
    """State an error of at most ±p per cent of the full scale, alike at every reading.

    Parameters
    ----------
    p : float
        Per cent of the highest mark of the scale, 0 or more.
    k, dof, label
        As in `percent_of_reading`.

    Returns
    -------
    Statement
        For ``accuracy=`` of an instrument whose scale has a span.

    Raises
    ------
    StatementError
        Negative or not finite numbers; no span, or one that does not end above 0; a scale
        in degC or degF.

    Notes
    -----
    Full scale is the upper end of the span, not its width: ±p/100 * high, with
    u = p/100 * high / sqrt(3) [JCGM 100, 4.3.7].

    Examples
    --------
    >>> from flowunc import Scale, VariableAreaMeter, percent_of_full_scale
    >>> meter = VariableAreaMeter(
    ...     Scale(0.1, "L/min", span=(0.4, 4.0), read_to=0.1), accuracy=percent_of_full_scale(2)
    ... )
    >>> round(meter.read(1.0).u, 4)
    0.0463
    """
    name = "percent_of_full_scale"
    return PercentOfFullScale(
        percent=_percent(p, name), k=_factor(k, name), dof=check_dof(dof, name), label=label
    )


def error_limit(
    G: float,  # noqa: N803 - G is the symbol of the standard
    *,
    linearity_limit: float,
    k: float | None = None,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State the accuracy class of a variable-area meter by its two numbers G and qG.

    Parameters
    ----------
    G : float
        Error limit in per cent of the reading, at and above the linearity limit; 0 or more.
    linearity_limit : float
        qG in per cent of full scale, above 0 and up to 100.
    k, dof, label
        As in `percent_of_reading`.

    Returns
    -------
    Statement
        For ``accuracy=`` of an instrument whose scale has a span.

    Raises
    ------
    StatementError
        Numbers out of range; no span, or one that does not end above 0; a scale in degC or
        degF.

    Notes
    -----
    The relative limit is G for q >= qG and G * qG / q below, so the absolute limit is
    G * max(q, qG), constant on the lower part of the scale. Source: [VDI/VDE 3513-2].

    Examples
    --------
    >>> from flowunc import Scale, VariableAreaMeter, error_limit
    >>> meter = VariableAreaMeter(
    ...     Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=error_limit(2.5, linearity_limit=50)
    ... )
    >>> round(meter.read(1.2).u, 4), round(meter.read(2.0).u, 4)  # constant up to 2 L/min
    (0.0408, 0.0408)
    """
    name = "error_limit"
    knee = _number(linearity_limit, name, "linearity_limit")
    if not 0 < knee <= 100:
        raise StatementError(
            f"error_limit(linearity_limit={linearity_limit!r}): expected per cent of full scale, "
            "above 0 and up to 100, such as 50"
        )
    return ErrorLimit(
        percent=_percent(G, name),
        linearity_limit=knee,
        k=_factor(k, name),
        dof=check_dof(dof, name),
        label=label,
    )


def _number(value: Any, name: str, argument: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise StatementError(f"{name}({argument}={value!r}): expected a number")
    try:
        return float(value)
    except OverflowError:
        raise StatementError(
            f"{name}({argument}=...): a whole number of {len(str(value))} digits is too large"
        ) from None


def _percent(value: Any, name: str) -> float:
    number = _number(value, name, "p" if name != "error_limit" else "G")
    if not (math.isfinite(number) and number >= 0):
        raise StatementError(f"{name}({value!r}): expected per cent, 0 or more; drop the sign")
    return number


def _factor(value: Any, name: str) -> float | None:
    return None if value is None else check_coverage_factor(value, name)
