"""`OrificePlate`: a thin plate with a sharp-edged hole, by the standard or as calibrated."""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np

from flowunc.core.errors import StatementError
from flowunc.core.kinds import Length, Ratio
from flowunc.instruments.differential_meter import DifferentialMeter, Floats, refuse_outside
from flowunc.instruments.discharge_coefficient import (
    TAPS,
    Taps,
    coefficient_percent,
    orifice_coefficient,
)

__all__ = ["OrificePlate"]


class OrificePlate(DifferentialMeter):
    """An orifice plate in a full pipe, for liquids.

    Parameters
    ----------
    orifice : Length, scalar
        Bore of the orifice, at the temperature of use.
    bore : Length, scalar
        Bore of the pipe upstream, at the temperature of use.
    taps : {"corner", "D and D/2", "flange"}
        Where the pressure is taken.
    coefficient : Ratio, scalar, optional
        Discharge coefficient of a calibration of one's own, such as
        ``Ratio(0.61, "1", percent_of_reading(1))``. It takes the place of that of the standard,
        and none of its ranges is checked.
    label : str, optional
        Name in budgets.

    Raises
    ------
    DimensionError, ShapeError
        Not one length each; a coefficient that is no ratio.
    RangeError
        An orifice as wide as the pipe; a plate outside the range of the standard and without
        a coefficient of its own.
    StatementError
        Taps of another name.

    Notes
    -----
    C by Reader-Harris and Gallagher, solved together with the Reynolds number of the pipe
    [ISO 5167-2, 5.3.2.1]. Range: orifice from 12.5 mm, bore 50 mm to 1000 mm, ratio beta 0.1 to
    0.75; Re from 5000, and above beta = 0.56 from 16 000 beta^2 (corner, D and D/2), with
    flange taps always from 170 beta^2 D/mm [ISO 5167-2, 5.3.1]. Its U (k = 2) of 0.5 % for beta
    0.2 to 0.6, more elsewhere, is one error of the plate behind all of its readings
    [ISO 5167-2, 5.3.3.1]. It holds with the straight lengths, the smooth pipe and the sharp
    edge that the standard asks for.

    Examples
    --------
    >>> from flowunc import Density, DynamicViscosity, Length, Pressure, limits, standard
    >>> from flowunc import OrificePlate
    >>> plate = OrificePlate(
    ...     Length(30, "mm", limits(0.01)), Length(60, "mm", limits(0.1)), taps="corner"
    ... )
    >>> water = {"density": Density(998.2, "kg/m^3"), "viscosity": DynamicViscosity(1.0, "mPa*s")}
    >>> print(plate.flow(Pressure(10, "kPa", standard(0.05)), **water).to("L/min"))
    orifice plate: 119.73 ± 0.47 L/min
    """

    _role: ClassVar[str] = "orifice plate"
    _throat_word: ClassVar[str] = "orifice"
    _source: ClassVar[str] = "ISO 5167-2"

    def __init__(
        self,
        orifice: Length,
        bore: Length,
        *,
        taps: Taps,
        coefficient: Ratio | None = None,
        label: str | None = None,
    ) -> None:
        super().__init__(orifice, bore, coefficient, label)
        if taps not in TAPS:
            raise StatementError(
                f"{self._label}: taps={taps!r}; expected 'corner', 'D and D/2' or 'flange'"
            )
        self._taps = taps
        if coefficient is None:
            source = "[ISO 5167-2, 5.3.1]"
            for value, low, high, what, unit in (
                (1e3 * self._throat.si.value, 12.5, math.inf, "orifice", " mm"),
                (1e3 * self._bore.si.value, 50.0, 1000.0, "bore", " mm"),
                (self.diameter_ratio.si.value, 0.1, 0.75, "diameter ratio", ""),
            ):
                refuse_outside(np.asarray(value), low, high, f"{self._label}: {what}", unit, source)

    @property
    def orifice(self) -> Length:
        """Bore of the orifice."""
        return self._throat

    @property
    def taps(self) -> Taps:
        """Where the pressure is taken."""
        return self._taps

    def _standard_coefficient(self, phi: Ratio) -> tuple[Ratio, Floats]:
        ratio = self.diameter_ratio
        found = orifice_coefficient(phi, ratio, self._bore, self._taps)
        reynolds = np.asarray(found._node.value * phi._node.value)
        beta, D = ratio._node.value, self._bore._node.value
        if self._taps == "flange":
            lowest = max(5000.0, 170e3 * float(beta**2 * D))
        else:
            lowest = 5000.0 if beta <= 0.56 else 16e3 * float(beta**2)
        what = f"{self._label}: Reynolds number"
        refuse_outside(reynolds, lowest, math.inf, what, "", "[ISO 5167-2, 5.3.1]")
        return found, coefficient_percent(reynolds, beta, D)
