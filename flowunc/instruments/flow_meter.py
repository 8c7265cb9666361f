"""`VariableAreaMeter`: a float in a tapered tube, read on a scale of volume flow rate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.errors import RangeError, StatementError, warn_user
from flowunc.core.kinds import Density, VolumeFlowRate, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.instruments.instrument import first_at
from flowunc.instruments.meter_calibration import CalibratedByLine
from flowunc.instruments.scale import Scale

__all__ = ["VariableAreaMeter"]


class VariableAreaMeter(CalibratedByLine[VolumeFlowRate]):
    """A variable-area flow meter.

    Goes by its data sheet, or by a line that `calibrated` gives it.

    Glass meters under pressure can burst: keep below the pressure and temperature marked on
    them, follow your local rules and ask qualified staff.

    Parameters
    ----------
    scale : Scale
        In a unit of volume flow rate, with a span.
    accuracy : Statement or sequence of Statement
        `error_limit`, `percent_of_full_scale`, `percent_of_reading` or any other statement;
        one error behind all readings of this meter. ``limits(0)`` says that it has none.
    label : str
        Name in budgets, such as "small meter".
    calibration_density, float_density : Density, scalar, optional
        Density of the fluid that the scale was made for, and of the float. Give both to
        have readings corrected for the density of the fluid that flows.

    Raises
    ------
    UnitError
        A scale that is not in a unit of volume flow rate.
    StatementError
        An accuracy that does not fit the scale; one of the two densities without the other.
    RangeError
        A float that is not denser than the calibration fluid.

    Warns
    -----
    FlowuncWarning
        No accuracy: the calibration of such a meter is hardly ever better than 1 % of full
        scale (common practice, no source), and budgets without it are too small.

    Examples
    --------
    >>> from flowunc import Scale, VariableAreaMeter, error_limit
    >>> small = VariableAreaMeter(
    ...     Scale(0.1, "L/min", span=(0.4, 4.0)),
    ...     accuracy=error_limit(2.5, linearity_limit=50),
    ...     label="small meter",
    ... )
    >>> flow = small.read([0.8, 3.6])
    >>> flow.u.round(4)
    array([0.0408, 0.0594])
    """

    _kind = VolumeFlowRate
    _role: ClassVar[str] = "flow meter"
    _example: ClassVar[str] = "L/min"

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        calibration_density: Density | None = None,
        float_density: Density | None = None,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        self._densities: tuple[Density, Density] | None = None
        if calibration_density is not None and float_density is not None:
            self._densities = self._checked_densities(calibration_density, float_density)
        elif calibration_density is not None or float_density is not None:
            missing = "float_density" if float_density is None else "calibration_density"
            raise StatementError(
                f"{self._label}: {missing}= is missing; a correction for the density needs both "
                "float_density= and calibration_density="
            )
        if not self._accuracy:
            warn_user(
                f"{self._label}: no accuracy stated, so its calibration counts as perfect; give "
                "accuracy=error_limit(...), percent_of_full_scale(...) or percent_of_reading(...) "
                "from its data sheet"
            )

    def _checked_densities(
        self, calibration_density: Density, float_density: Density
    ) -> tuple[Density, Density]:
        owner = type(self).__name__
        calibration = require_kind(calibration_density, Density, owner, "calibration_density")
        floating = require_kind(float_density, Density, owner, "float_density")
        if calibration.ndim or floating.ndim:
            raise RangeError(
                f"{self._label}: expected one calibration_density and one float_density, got "
                f"{calibration.size} and {floating.size}"
            )
        if not 0 < calibration.si.value < floating.si.value:
            raise RangeError(
                f"{self._label}: float of {floating.si.value:g} kg/m^3 in a calibration fluid of "
                f"{calibration.si.value:g} kg/m^3; expected a float denser than the fluid"
            )
        return (
            named_by_role(calibration, f"{self._label} calibration density"),
            named_by_role(floating, f"{self._label} float density"),
        )

    def calibrated(
        self,
        *,
        intercept: Quantity,
        slope: Quantity,
        span: tuple[float, float],
        scatter: Statement | None = None,
        drift: Statement | None = None,
        density: Density | None = None,
    ) -> Self:
        """Return the same meter going by a calibration line instead of its accuracy.

        Parameters
        ----------
        intercept : VolumeFlowRate, scalar
            What the line gives at a reading of 0.
        slope : Ratio, scalar
            Flow over reading, above 0. Parameters of one fit are correlated: take them from
            the fit, as `fit_calibration` does, not as two new numbers.
        span : (float, float)
            Lowest and highest reading of the calibration; readings outside are refused.
        scatter, drift : Statement, optional
            Of single readings about the line, the resolution included; and what may have
            changed since, one error behind all readings.
        density : Density, scalar, optional
            Of the liquid in the calibration, needed by a meter that knows its densities: the
            line holds for that liquid, whatever the scale was made for.

        Returns
        -------
        VariableAreaMeter

        Raises
        ------
        DimensionError, ShapeError, RangeError, StatementError
            Parameters that do not fit this meter; a density missing or without use.

        Notes
        -----
        q = (intercept + slope * reading + scatter) times the factor for the density, if any;
        see `read`. Line as in [JCGM 100, H.3].

        Examples
        --------
        >>> from flowunc import Ratio, Scale, VariableAreaMeter, VolumeFlowRate
        >>> from flowunc import percent_of_full_scale, standard
        >>> meter = VariableAreaMeter(
        ...     Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=percent_of_full_scale(4)
        ... ).calibrated(
        ...     intercept=VolumeFlowRate(0.03, "L/min", standard(0.01)),
        ...     slope=Ratio(1.01, "1"),
        ...     span=(0.5, 3.5),
        ... )
        >>> first, second = meter.read([2.0, 3.0])
        >>> round(first.covariance(second) ** 0.5, 6)  # the line is common to both
        0.01
        """
        made = super().calibrated(
            intercept=intercept, slope=slope, span=span, scatter=scatter, drift=drift
        )
        if self._densities is None:
            if density is not None:
                raise StatementError(
                    f"{self._label}: a density for a meter that does not know its own; give it "
                    "calibration_density= and float_density="
                )
            return made
        if density is None:
            raise StatementError(
                f"{self._label} calibrated: density= of the liquid in the calibration is missing, "
                "from which readings in another liquid are corrected"
            )
        made._densities = self._checked_densities(density, self._densities[1])
        return made

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        super()._check_readings(values)
        bad = values <= 0
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(values[bad].flat[0]):g} "
                f"{self._scale.unit}; expected a flow above 0: a run without flow is a zero "
                "check of the manometer, give it as zero=(high, low) there"
            )

    def read(
        self,
        values: ArrayLike,
        *statements: Statement,
        density: Density | None = None,
        label: str | None = None,
    ) -> VolumeFlowRate:
        """Turn readings of the float into volume flow rates.

        Parameters
        ----------
        values : float or array_like, shape (n,)
            Readings in the unit of the scale, above 0.
        *statements : Statement
            What is known of these readings besides accuracy and resolution, such as the
            dance of the float: ``limits(0.05)``.
        density : Density, scalar or shape (n,), optional
            Of the fluid that flows; needs a meter with both of its densities. Without it
            the reading stands as on the scale.
        label : str, optional
            Name of the flow; the name of the meter if left out.

        Returns
        -------
        VolumeFlowRate, scalar or shape (n,)
            In the unit of the scale.

        Raises
        ------
        RangeError
            A reading off the scale, or of 0 or less; a fluid denser than the float.
        StatementError
            A density for a meter without calibration and float density.

        Warns
        -----
        FlowuncWarning
            No density for a meter that knows its two: the reading is not corrected.

        Notes
        -----
        The float hangs where drag equals its weight in the fluid, so at one height
        q**2 * rho / (rho_f - rho) is the same for every fluid of low viscosity:

            q = q_scale * sqrt((rho_f - rho) rho_cal / ((rho_f - rho_cal) rho))

        Source: [VDI/VDE 3513-1]. A change of viscosity is not corrected; it matters below
        the viscosity limit on the data sheet.

        Examples
        --------
        >>> from flowunc import Density, Scale, VariableAreaMeter, percent_of_reading
        >>> meter = VariableAreaMeter(
        ...     Scale(0.1, "L/min", span=(0.4, 4.0)),
        ...     accuracy=percent_of_reading(2),
        ...     calibration_density=Density(998.2, "kg/m^3"),
        ...     float_density=Density(7900, "kg/m^3"),
        ... )
        >>> brine = Density(1100, "kg/m^3")
        >>> round(meter.read(2.0, density=brine).value, 3)
        1.891
        """
        reading = self._take(values, statements, label)
        if self._densities is None:
            if density is not None:
                raise StatementError(
                    f"{self._label}: a density for a meter that does not know its own; give it "
                    "calibration_density= and float_density="
                )
            return reading
        if density is None:
            warn_user(
                f"{self._label}: not corrected for the density of the fluid, which shifts the "
                "scale; give read(..., density=)"
            )
            return reading
        calibration, floating = self._densities
        fluid = require_kind(density, Density, "read", "density")
        values_si = np.asarray(fluid.si.value)
        bad = (values_si <= 0) | (values_si >= floating.si.value)
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: fluid of {float(values_si[bad].flat[0]):g} "
                f"kg/m^3; expected above 0 and below the float's {floating.si.value:g} kg/m^3"
            )
        lift = (floating - fluid) / (floating - calibration)
        corrected: VolumeFlowRate = reading * np.sqrt(lift * calibration / fluid)
        return corrected.to(self._scale.unit).labelled(reading.label)
