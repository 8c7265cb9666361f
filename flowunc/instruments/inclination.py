"""`Inclined`: what manometers have in common whose scale lies along an incline."""

from __future__ import annotations

import copy
import math
from typing import Any, Self

import numpy as np

from flowunc.core.errors import RangeError
from flowunc.core.kinds import Angle, require_kind
from flowunc.core.naming import named_by_role
from flowunc.instruments.instrument import first_at

__all__ = ["Inclined"]

_RIGHT_ANGLE = math.pi / 2 * (1 + 1e-12)  # 90 deg in any unit, whatever its rounding


class Inclined:
    """The part of a manometer that knows its inclination."""

    _label: str
    _angle: Angle

    def _incline(self, angle: Any) -> None:
        """Take an inclination, refused unless above 0 and up to 90 deg."""
        given = require_kind(angle, Angle, type(self).__name__, "angle")
        radians = np.asarray(given.si.value)
        bad = ~((radians > 0) & (radians <= _RIGHT_ANGLE))
        if bad.any():
            degrees = math.degrees(float(radians[bad].flat[0]))
            raise RangeError(
                f"{self._label} angle{first_at(bad)}: {degrees:g} deg; expected the inclination "
                "to the horizontal, above 0 and up to 90 deg"
            )
        self._angle = named_by_role(given, f"{self._label} angle")

    @property
    def angle(self) -> Angle:
        """Inclination to the horizontal."""
        return self._angle

    def at(self, angle: Angle) -> Self:
        """Return the same manometer at another inclination: its calibration stays the same.

        Parameters
        ----------
        angle : Angle, scalar or shape (n,)
            Inclination to the horizontal, above 0 and up to 90 deg.

        Returns
        -------
        InclinedManometer or WellManometer
            Readings of both are correlated through the scale.

        Raises
        ------
        DimensionError, RangeError
            As at construction.

        Examples
        --------
        >>> from flowunc import Angle, InclinedManometer, Scale, limits
        >>> flat = InclinedManometer(Scale(1, "mm"), angle=Angle(10, "deg", limits(0.25)))
        >>> round(flat.at(Angle(30, "deg", limits(0.25))).angle.to("deg").value, 6)
        30.0
        """
        other = copy.copy(self)  # keeps the components of the calibration
        other._incline(angle)
        return other
