"""`PressureTransmitter`: a digital gauge of differential pressure, with zero and temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike

from flowunc.core.arguments import read_values
from flowunc.core.component import Component, Term
from flowunc.core.errors import ShapeError, StatementError, warn_user
from flowunc.core.kinds import Pressure, Temperature, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.core.units import parse_unit
from flowunc.instruments.columns import ZERO_NAMES, drift_of, refuse_negative
from flowunc.instruments.instrument import _listed
from flowunc.instruments.meter_calibration import CalibratedByLine
from flowunc.instruments.scale import Scale

__all__ = ["PressureTransmitter"]

# degC: where most data sheets state the accuracy (common practice, no source)
_REFERENCE_TEMPERATURE = 20.0


class PressureTransmitter(CalibratedByLine[Pressure]):
    """A differential-pressure transmitter or gauge with a display.

    Keep below the pressure that its data sheet allows on one side alone: opening one tap
    before the other can destroy the cell. Follow your local rules and ask qualified staff.

    Parameters
    ----------
    scale : Scale
        In a unit of pressure, with the span it is set to.
    accuracy : Statement or sequence of Statement
        What the data sheet says of linearity, hysteresis and repeatability together, such as
        `percent_of_full_scale`; one error behind all readings.
    label : str
        Name in budgets.
    temperature_effect : Statement or sequence of Statement, optional
        Change per kelvin away from the reference temperature. One of constant size, such as
        ``percent_of_full_scale(0.02)`` or ``limits(0.5)``, moves the zero; a
        ``percent_of_reading(0.02)`` changes the span.
    reference_temperature : Temperature, scalar, optional
        Where the accuracy holds; 20 degC if left out.

    Raises
    ------
    UnitError
        A scale that is not in a unit of pressure.
    StatementError
        Statements that do not fit the scale; a reference temperature without an effect.
    ShapeError
        More than one reference temperature.

    Warns
    -----
    FlowuncWarning
        No accuracy: budgets without it are too small.

    Examples
    --------
    >>> from flowunc import PressureTransmitter, Scale, Temperature, percent_of_full_scale
    >>> cell = PressureTransmitter(
    ...     Scale(0.01, "kPa", span=(0, 10), kind="digital"),
    ...     accuracy=percent_of_full_scale(0.25),
    ...     temperature_effect=percent_of_full_scale(0.02),
    ... )
    >>> room = Temperature(26, "degC")
    >>> print(cell.pressure_drop(reading=4.0, zero=(0.02, 0.04), temperature=room))
    pressure drop: 3.970 ± 0.016 kPa
    """

    _kind = Pressure
    _role: ClassVar[str] = "pressure transmitter"
    _example: ClassVar[str] = "kPa"

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        temperature_effect: Statement | Sequence[Statement] = (),
        reference_temperature: Temperature | None = None,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        self._effects = tuple(
            (statement, self._per_kelvin(statement))
            for statement in _listed(temperature_effect, type(self).__name__)
        )
        if reference_temperature is not None and not self._effects:
            raise StatementError(
                f"{self._label}: a reference temperature without temperature_effect=, which says "
                "what a kelvin away from it does"
            )
        given = Temperature(_REFERENCE_TEMPERATURE, "degC")
        if reference_temperature is not None:
            given = require_kind(
                reference_temperature, Temperature, type(self).__name__, "reference_temperature"
            )
        if given.ndim:
            raise ShapeError(f"{self._label}: {given.size} reference temperatures; expected one")
        self._reference_temperature = named_by_role(given, f"{self._label} reference temperature")
        if not self._accuracy:
            warn_user(
                f"{self._label}: no accuracy stated, so its calibration counts as perfect; give "
                "accuracy=percent_of_full_scale(...) from its data sheet"
            )

    def _per_kelvin(self, statement: Statement) -> Component:
        kind = "zero" if _is_constant(statement, self) else "span"
        made = statement.component(self._reference, f"{self._label} temperature effect, {kind}")
        return replace(made, unit=parse_unit(f"{made.unit}/K"))

    def pressure_drop(
        self,
        *,
        reading: ArrayLike | Pressure,
        zero: Any = None,
        temperature: Temperature | None = None,
        zero_temperature: Temperature | None = None,
    ) -> Pressure:
        """Turn readings of the display into pressure differences.

        Parameters
        ----------
        reading : float or array_like, shape (n,), or Pressure
            In the unit of the scale; or pressures that `read` gave before.
        zero : float, or pair of float, or Pressure, optional
            What it showed without pressure difference, or (before, after) the set.
        temperature : Temperature, scalar or shape (n,), optional
            Of the transmitter; needed where a temperature effect is stated.
        zero_temperature : Temperature, scalar, optional
            At the zero reading; as at the readings if left out, so that the effect on the
            zero cancels.

        Returns
        -------
        Pressure, scalar or shape (n,)
            In the unit of the scale.

        Raises
        ------
        RangeError
            Readings off the scale, or outside a calibration; a difference more than three
            standard uncertainties below zero.
        StatementError
            A temperature missing or without use.
        ShapeError
            A zero that is not one or two numbers.
        DimensionError
            Quantities of another kind.

        Warns
        -----
        FlowuncWarning
            No zero reading: zero of the display counts as exact.

        Notes
        -----
        p = reading - zero + e_zero (t - t_zero) + e_span p (t - t_ref), with e the errors per
        kelvin, 0 in value. The zero reading has a resolution, and a rectangular drift of half
        the change from before to after. It takes off nothing of the accuracy: linearity and
        hysteresis stay. The intercept of a calibration line drops out against a zero reading.
        """
        shown = self._taken(reading, "pressure_drop", "reading")
        if zero is None:
            warn_user(
                f"{self._label}: no zero reading, so the zero of the display counts as exact; "
                "give zero=(before, after) read without pressure difference"
            )
            drop = shown
        else:
            drop = shown - self.zero_offset(zero)
        drop = self._kind._from_node(drop._node)
        warmth = self._warmth(temperature, zero_temperature, zero is not None)
        values = np.asarray(drop._node.value)
        for (statement, component), away in zip(self._effects, warmth, strict=True):
            gain = statement.gain_for(values, self._reference)
            error = Quantity._from_terms(
                np.zeros(np.shape(gain)), (Term(component, gain),), parse_unit("Pa/K")
            )
            drop = drop + error * away
        refuse_negative(self, drop, "ports exchanged, or a zero reading missing?")
        return drop.to(self._scale.unit).labelled("pressure drop")

    def zero_offset(self, zero: Any) -> Pressure:
        """Return what the display shows without pressure difference.

        Parameters
        ----------
        zero : float, or pair of float, or Pressure
            One reading, or (before, after) a set; a Pressure is passed on.

        Returns
        -------
        Pressure, scalar
            With the resolution, and for a pair the drift. Pass it as ``zero=`` to several
            calls to tie their readings to the same zero.

        Raises
        ------
        ShapeError
            More than two readings.
        RangeError
            Not numbers.
        """
        if isinstance(zero, Quantity):
            return require_kind(zero, Pressure, "pressure_drop", "zero")
        levels = np.atleast_1d(read_values(zero, f"{self._label}, zero in '{self._scale.unit}'"))
        if levels.size > 2:
            raise ShapeError(
                f"{self._label}: {levels.size} zero readings; expected one, or (before, after)"
            )
        unit = self._scale.parsed_unit
        offsets = [
            Pressure._from_terms(
                unit.to_si(level),
                (
                    Term(
                        self._scale.resolution_component(
                            f"{self._label} resolution, {name}", source=self._label
                        )
                    ),
                ),
                unit,
            )
            for level, name in zip(levels.tolist(), ZERO_NAMES[levels.size], strict=True)
        ]
        offset: Any = offsets[0]
        if levels.size == 2:
            offset = (offsets[0] + offsets[1]) / 2 + drift_of(self, *levels.tolist())
        if self._line is not None:
            offset = self._line.intercept + self._line.slope * offset
        typed = require_kind(offset, Pressure, "zero_offset", "zero")
        return typed.to(self._scale.unit).labelled(f"{self._label} zero")

    def _warmth(self, temperature: Any, zero_temperature: Any, zeroed: bool) -> list[Quantity]:
        """Return for each temperature effect how many kelvin it acts over."""
        if not self._effects:
            if temperature is not None or zero_temperature is not None:
                raise StatementError(
                    f"{self._label}: a temperature has no use without temperature_effect="
                )
            return []
        if temperature is None:
            raise StatementError(
                f"{self._label}: temperature= of the transmitter is missing, which its "
                "temperature effect needs"
            )
        now = require_kind(temperature, Temperature, "pressure_drop", "temperature")
        start = self._reference_temperature
        if zero_temperature is not None:
            if not zeroed:
                raise StatementError(f"{self._label}: zero_temperature= without a zero reading")
            start = require_kind(zero_temperature, Temperature, "pressure_drop", "zero_temperature")
        elif zeroed:
            start = now
        return [
            now - (start if _is_constant(statement, self) else self._reference_temperature)
            for statement, _ in self._effects
        ]


def _is_constant(statement: Statement, owner: PressureTransmitter) -> bool:
    """Tell an error of one size anywhere on the scale from one that grows with the reading."""
    return np.ndim(statement.gain_for(np.array([1.0, 2.0]), owner._reference)) == 0
