"""`CalibratedByLine`: an instrument that goes by a calibration line instead of its data sheet.

A line y = intercept + slope x, found against a reference, takes the place of what the data
sheet says. Its two parameters are quantities, so their errors are shared by all readings (and
with whatever else hangs on the same reference); how single readings scatter about the line is
a new error at every reading.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, replace
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Distribution, Normal
from flowunc.core.errors import RangeError, ShapeError, StatementError
from flowunc.core.kinds import Ratio, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Reference, Statement
from flowunc.core.units import Unit
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.scale import Scale

__all__ = ["CalibratedByLine", "CalibrationLine", "ResidualScatter"]

Q = TypeVar("Q", bound=Quantity)

_RESOLUTION = 1 / math.sqrt(3)  # u of a resolution over its half-width [JCGM 100, F.2.2.1]


@dataclass(frozen=True, kw_only=True)
class ResidualScatter(Statement):
    """The scatter of single readings about a fitted line, from the same sample as the line."""

    standard_deviation: float  # coherent SI of what the line gives
    pool: Pool

    @property
    def role(self) -> str:
        """What it is called in messages and budgets."""
        return "scatter"

    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution in coherent SI, shown in the unit of the scale."""
        return Normal(self.standard_deviation), reference.unit

    def component(self, reference: Reference, name: str) -> Component:
        """Make the component, pooled with the parameters of the line."""
        made = super().component(reference, name)
        return replace(made, evaluation="A", dof=self.pool.dof, pool=self.pool)


@dataclass(frozen=True, eq=False)
class CalibrationLine:
    """The line that an instrument goes by.

    Attributes
    ----------
    intercept : Quantity, scalar
        Of the kind of the readings.
    slope : Ratio, scalar
        Calibrated value over reading.
    span : (float, float)
        Lowest and highest reading of the calibration, in the unit of the scale.
    scatter : Statement or None
        How single readings scatter about the line.
    """

    intercept: Quantity
    slope: Ratio
    span: tuple[float, float]
    scatter: Statement | None

    def applied(self, reading: Quantity, scale: Scale, reference: Reference) -> Quantity:
        """Return the line at a reading, with the scatter of the reading about it."""
        result: Quantity = self.intercept + self.slope * reading
        if self.scatter is None:
            return result
        values = np.asarray(reading.si.value, dtype=np.float64)
        size = None if values.ndim == 0 else values.shape[0]
        component = self.scatter.component(
            replace(reference, size=size), f"{reference.label} scatter about its line"
        )
        spread = component.distribution.standard_uncertainty
        with np.errstate(divide="ignore", invalid="ignore"):
            known = self.slope.si.value * self._resolution(scale) / np.asarray(spread)
        # the scatter contains the resolution, which every reading has already
        rest = np.sqrt(np.clip(1.0 - np.square(known), 0.0, 1.0))
        gain: Any = float(rest) if rest.ndim == 0 else rest
        error = type(reading)._from_terms(
            np.zeros(values.shape), (Term(component, gain),), reference.unit
        )
        scattered: Quantity = result + error
        return scattered

    @staticmethod
    def _resolution(scale: Scale) -> float:
        unit = scale.parsed_unit
        return float(unit.to_si(scale.half_width) - unit.to_si(0.0)) * _RESOLUTION


class CalibratedByLine(Instrument[Q]):
    """Base of instruments that can go by a calibration line."""

    _line: CalibrationLine | None = None

    @property
    def line(self) -> CalibrationLine | None:
        """The calibration line it goes by; None where it goes by its data sheet."""
        return self._line

    def calibrated(
        self,
        *,
        intercept: Quantity,
        slope: Quantity,
        span: tuple[float, float],
        scatter: Statement | None = None,
        drift: Statement | None = None,
    ) -> Self:
        """Return the same instrument going by a calibration line instead of its accuracy.

        Parameters
        ----------
        intercept : Quantity, scalar
            Of the kind of the readings: what the line gives at a reading of 0.
        slope : Ratio, scalar
            Calibrated value over reading, above 0. Parameters of one fit are correlated:
            take them from the fit, as `fit_calibration` does, not as two new numbers.
        span : (float, float)
            Lowest and highest reading of the calibration, in the unit of the scale. Readings
            outside it are refused: a line says nothing there.
        scatter : Statement, optional
            How single readings scatter about the line, such as ``standard(0.02, dof=9)``: the
            residual standard deviation. It contains the resolution, which is not counted
            twice.
        drift : Statement, optional
            What may have changed since the calibration: one error behind all readings.

        Returns
        -------
        instrument of the same class
            With the accuracy of the data sheet left out. All its readings share the errors
            of the line.

        Raises
        ------
        DimensionError
            Intercept or slope of another kind.
        ShapeError
            More than one intercept or slope.
        RangeError
            A slope that is not above 0; a span that is not two rising readings of the scale.
        StatementError
            A scatter or drift that is no statement.

        Notes
        -----
        value = intercept + slope * reading + scatter, as in [JCGM 100, H.3]; there the
        correction is fitted, here the value itself, which is the same line with 1 added to
        the slope.

        Examples
        --------
        >>> from flowunc import Ratio, Scale, VariableAreaMeter, VolumeFlowRate
        >>> from flowunc import percent_of_full_scale, standard
        >>> sheet = VariableAreaMeter(
        ...     Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=percent_of_full_scale(4)
        ... )
        >>> meter = sheet.calibrated(
        ...     intercept=VolumeFlowRate(0.03, "L/min", standard(0.01)),
        ...     slope=Ratio(1.01, "1"),
        ...     span=(0.5, 3.5),
        ... )
        >>> print(sheet.read(2.0), "->", meter.read(2.0))
        flow meter: 2.000 ± 0.097 L/min -> flow meter: 2.050 ± 0.031 L/min
        """
        owner = f"{self._label} calibrated"
        a = require_kind(intercept, self._kind, owner, "intercept")
        b = require_kind(slope, Ratio, owner, "slope")
        for name, parameter in (("intercept", a), ("slope", b)):
            if parameter.ndim:
                raise ShapeError(f"{owner}: {parameter.size} values of the {name}; expected one")
        if not b.si.value > 0:
            raise RangeError(
                f"{owner}: slope {b.si.value:g}; expected above 0, and near 1 on a scale in "
                f"'{self._scale.unit}'"
            )
        for name, statement in (("scatter", scatter), ("drift", drift)):
            if statement is not None and not isinstance(statement, Statement):
                raise StatementError(
                    f"{owner}: {name}={statement!r}; expected a statement such as standard(0.02)"
                )
        if scatter is not None and not scatter.per_reading:
            raise StatementError(
                f"{owner}: a shared scatter; expected one new at each reading, such as "
                "standard(0.02), and what is common to all of them as drift="
            )
        other = copy.copy(self)
        other._accuracy = () if drift is None else (drift,)
        other._calibration = tuple(
            (item, item.component(self._reference, f"{self._label} drift since its calibration"))
            for item in other._accuracy
        )
        # a constant error of the scale's zero is in the intercept
        other._standing = tuple(
            item for item in self._standing if item[0] is not self._scale.zero_error
        )
        other._line = CalibrationLine(
            named_by_role(a, f"{self._label} calibration intercept"),
            named_by_role(b, f"{self._label} calibration slope"),
            self._checked_span(span, owner),
            scatter,
        )
        return other

    def _checked_span(self, span: Any, owner: str) -> tuple[float, float]:
        # a scale of its own checks the two ends
        ends = Scale(self._scale.division, self._scale.unit, span).span
        if ends is None:
            raise RangeError(f"{owner}: span {span!r}; expected (lowest, highest) reading")
        low, high = ends
        self._scale.check([low, high], f"{owner}, span")
        return low, high

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        super()._check_readings(values)
        if self._line is not None:
            low, high = self._line.span
            slack = 1e-9 * self._scale.division
            off = (values < low - slack) | (values > high + slack)
            if off.any():
                place = f", reading {int(np.argmax(off))}" if off.ndim else ""
                raise RangeError(
                    f"{self._label}{place}: {float(values[off].flat[0]):g} {self._scale.unit} "
                    f"lies outside its calibration from {low:g} to {high:g} {self._scale.unit}; "
                    "calibrate over the range of use, or use the meter with its data sheet"
                )

    def _completed(self, reading: Q) -> Q:
        if self._line is None:
            return reading
        return self._along_line(reading)

    def _along_line(self, reading: Any) -> Q:
        """Return what the line makes of a reading, in the unit of the scale."""
        if self._line is None:
            return require_kind(reading, self._kind, self._label, "reading")
        found = self._line.applied(reading, self._scale, self._reference)
        typed = require_kind(found, self._kind, self._label, "reading")
        return typed.to(self._scale.unit).labelled(reading.label)
