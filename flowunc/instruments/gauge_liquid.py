"""Manometers with a liquid of their own: `WellManometer` and `UTubeManometer`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike

from flowunc.core.arguments import read_values
from flowunc.core.errors import RangeError, ShapeError, warn_user
from flowunc.core.kinds import Acceleration, Angle, Density, Length, Pressure, Ratio, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.instruments.columns import ZERO_NAMES, ColumnManometer, drift_of, refuse_negative
from flowunc.instruments.inclination import Inclined
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.scale import Scale
from flowunc.instruments.surroundings import (
    air_density_or_default,
    density_contrast,
    gravity_or_default,
)

__all__ = ["UTubeManometer", "WellManometer"]


class UTubeManometer(ColumnManometer):
    """An upright U-tube, a gauge liquid under the flowing liquid.

    Mercury is toxic, and a surge can blow it into the pipe: where it is still the gauge
    liquid, follow your local rules and ask qualified staff.

    Parameters
    ----------
    scale : Scale
        Upright, in a unit of length.
    gauge_density : Density, scalar or shape (n,)
        Of the gauge liquid, which does not mix with the flowing liquid and is denser.
    accuracy : Statement or sequence of Statement
        Of the scale; one error behind all readings of both columns.
    label : str
        Name in budgets.
    capillarity : Statement, optional
        What a meniscus may stand wrong; as for `InclinedManometer`.
    mirrored : bool
        Whether one column falls exactly as far as the other rises; as for `InclinedManometer`.

    Raises
    ------
    UnitError
        A scale that is not in a unit of length.
    DimensionError
        A gauge density of another kind.

    Examples
    --------
    >>> from flowunc import Density, Scale, UTubeManometer, limits
    >>> gauge = UTubeManometer(Scale(1, "mm"), Density(1590, "kg/m^3", limits(5)))
    >>> drop = gauge.pressure_drop(
    ...     high=320.0, low=280.0, density=Density(998.2, "kg/m^3"), zero=(300.0, 300.0)
    ... )
    >>> round(drop.value, 1)
    232.2
    """

    def __init__(
        self,
        scale: Scale,
        gauge_density: Density,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        capillarity: Statement | None = None,
        mirrored: bool = False,
    ) -> None:
        super().__init__(scale, accuracy, label=label, capillarity=capillarity, mirrored=mirrored)
        given = require_kind(gauge_density, Density, type(self).__name__, "gauge_density")
        self._gauge_density = named_by_role(given, f"{self._label} gauge density")

    @property
    def gauge_density(self) -> Density:
        """Density of the gauge liquid."""
        return self._gauge_density

    def pressure_drop(
        self,
        *,
        high: ArrayLike | Length,
        low: ArrayLike | Length,
        density: Density,
        zero: Any = None,
        gravity: Acceleration | None = None,
    ) -> Pressure:
        """Turn readings of both levels of the gauge liquid into a pressure difference.

        Parameters
        ----------
        high, low : float or array_like, shape (n,), or Length
            The level of the gauge liquid in the downstream limb (the higher one), and in
            the upstream limb, in the unit of the scale.
        density : Density, scalar or shape (n,)
            Of the flowing liquid that stands on the gauge liquid in both limbs.
        zero, gravity
            As for `InclinedManometer.pressure_drop`.

        Returns
        -------
        Pressure, scalar or shape (n,)
            In Pa.

        Raises
        ------
        RangeError
            Readings off the scale; levels that look exchanged; a gauge liquid not denser
            than the flowing one.
        ShapeError, DimensionError
            As for `InclinedManometer.pressure_drop`.

        Warns
        -----
        FlowuncWarning
            No zero readings: the offset counts as 0, without uncertainty.

        Notes
        -----
        p = (high - low - zero) (gauge_density - density) gravity
        """
        contrast = density_contrast(
            self._gauge_density,
            require_kind(density, Density, "pressure_drop", "density"),
            "pressure_drop",
            ("density of the gauge liquid", "that of the liquid above it"),
        )
        return self._pressure(self._difference(high, low, zero), contrast, gravity)


class WellManometer(Inclined, Instrument[Length]):
    """A manometer with one tube, upright or inclined, that rises out of a well.

    Where the liquid is still mercury, which is toxic, follow your local rules and ask
    qualified staff.

    Parameters
    ----------
    scale : Scale
        Along the tube, in a unit of length.
    angle : Angle, scalar or shape (n,), optional
        Inclination of the tube to the horizontal, above 0; upright (90 deg) if left out.
    area_ratio : float or Ratio
        Cross-section of the tube over that of the well, 0 up to below 1. Give 0 where the
        marks are already drawn closer to allow for the fall in the well.
    accuracy : Statement or sequence of Statement
        Of the scale; one error behind all of its readings.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a unit of length.
    DimensionError
        An angle without unit, or a ratio with one.
    RangeError
        Angle or ratio out of range.

    Examples
    --------
    >>> from flowunc import Angle, Density, Scale, WellManometer
    >>> well = WellManometer(Scale(1, "mm"), angle=Angle(30, "deg"), area_ratio=0.02)
    >>> drop = well.pressure_drop(reading=50.0, density=Density(998.2, "kg/m^3"), zero=0.0)
    >>> round(drop.value, 1)
    254.3
    """

    _kind = Length
    _role: ClassVar[str] = "manometer"
    _example: ClassVar[str] = "mm"

    def __init__(
        self,
        scale: Scale,
        angle: Angle | None = None,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        area_ratio: float | Ratio,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        upright = Angle(90, "deg", label=f"{self._label} angle")
        self._incline(upright if angle is None else angle)
        self._area_ratio = self._checked_ratio(area_ratio)

    def _checked_ratio(self, area_ratio: Any) -> Ratio:
        given = area_ratio if isinstance(area_ratio, Quantity) else Ratio(area_ratio, "1")
        ratio = require_kind(given, Ratio, type(self).__name__, "area_ratio")
        if ratio.ndim:
            raise ShapeError(f"{self._label}: {ratio.size} area ratios; expected one")
        if not 0 <= ratio.si.value < 1:
            raise RangeError(
                f"{self._label}: area ratio {ratio.si.value:g}; expected tube over well, 0 up to "
                "below 1 (the well is the wide one)"
            )
        return named_by_role(ratio, f"{self._label} area ratio")

    @property
    def area_ratio(self) -> Ratio:
        """Cross-section of the tube over that of the well."""
        return self._area_ratio

    def pressure_drop(
        self,
        *,
        reading: ArrayLike | Length,
        density: Density,
        zero: Any = None,
        gravity: Acceleration | None = None,
        air_density: Density | None = None,
    ) -> Pressure:
        """Turn readings of the tube into a pressure difference, the well on the higher side.

        Parameters
        ----------
        reading : float or array_like, shape (n,), or Length
            The level in the tube, in the unit of the scale.
        density : Density, scalar or shape (n,)
            Of the liquid in well and tube.
        zero : float, or pair of float, or Length, optional
            The level without pressure difference, or (before, after) the set.
        gravity, air_density
            As for `InclinedManometer.pressure_drop`; give as ``air_density`` whatever fluid
            stands above the liquid, if it is not air.

        Returns
        -------
        Pressure, scalar or shape (n,)
            In Pa.

        Raises
        ------
        RangeError
            Readings off the scale; a reading more than three standard uncertainties below
            zero; a liquid not denser than air.
        ShapeError
            A zero that is not one or two numbers.

        Warns
        -----
        FlowuncWarning
            No zero reading: zero of the scale counts as exact.

        Notes
        -----
        p = (reading - zero) (sin(angle) + area_ratio) (density - air_density) gravity: the
        level in the well falls by the volume that rises in the tube.
        """
        contrast = density_contrast(
            require_kind(density, Density, "pressure_drop", "density"),
            air_density_or_default(air_density, "pressure_drop"),
            "pressure_drop",
            ("density of the liquid", "that of what stands above it"),
        )
        rise = self._rise(self._taken(reading, "pressure_drop", "reading"), zero)
        head: Length = rise * (np.sin(self._angle) + self._area_ratio)
        drop: Pressure = head * contrast * gravity_or_default(gravity, "pressure_drop")
        return drop.labelled("pressure drop")

    def _rise(self, reading: Length, zero: Any) -> Length:
        rise: Length = reading
        if zero is None:
            warn_user(
                f"{self._label}: no zero reading, so the zero of the scale counts as exact; give "
                "zero=(before, after) read without pressure difference"
            )
        elif isinstance(zero, Quantity):
            rise = reading - require_kind(zero, Length, "pressure_drop", "zero")
        else:
            rise = reading - self._zero_level(zero)
        refuse_negative(self, rise, "well connected to the lower pressure?")
        return rise

    def _zero_level(self, zero: Any) -> Length:
        levels = np.atleast_1d(read_values(zero, f"{self._label}, zero in '{self._scale.unit}'"))
        if levels.size > 2:
            raise ShapeError(
                f"{self._label}: {levels.size} zero readings; expected one, or (before, after)"
            )
        before, after = float(levels[0]), float(levels[-1])
        names = ZERO_NAMES[levels.size]
        if levels.size == 1:
            return self._take(before, part=names[0])
        mean: Length = (self._take(before, part=names[0]) + self._take(after, part=names[1])) / 2
        offset: Length = mean + drift_of(self, before, after)
        return offset
