"""`InclinedManometer`: two inclined limbs in which the flowing liquid stands against air."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from flowunc.core.kinds import Acceleration, Angle, Density, Length, Pressure, require_kind
from flowunc.core.statements import Statement
from flowunc.instruments.columns import ColumnManometer
from flowunc.instruments.inclination import Inclined
from flowunc.instruments.scale import Scale
from flowunc.instruments.surroundings import air_density_or_default, density_contrast

__all__ = ["InclinedManometer"]


class InclinedManometer(Inclined, ColumnManometer):
    """A two-limb inclined manometer, the flowing liquid against air.

    Parameters
    ----------
    scale : Scale
        Along the incline, in a unit of length.
    angle : Angle, scalar or shape (n,)
        Inclination to the horizontal, above 0 and up to 90 deg; one, or one per reading.
    accuracy : Statement or sequence of Statement
        Of the scale; one error behind all readings of both columns.
    label : str
        Name in budgets.
    capillarity : Statement, optional
        What a meniscus may stand wrong, such as ``limits(0.3)``, or as `capillarity` finds it:
        new at every reading of each column; with ``shared(...)`` one error of each column
        that a zero reading takes off. A rise alike in both limbs cancels: leave it out.
    mirrored : bool
        Whether one column falls exactly as far as the other rises, as on a board levelled to a
        mark: both are then rounded together, and one resolution error, opposite in sign, stands
        behind both readings. `flowunc.consistency` sees it in a sheet.

    Raises
    ------
    UnitError
        A scale that is not in a unit of length.
    DimensionError
        An angle without unit.
    RangeError
        An angle of 0 or less, or above 90 deg.

    Notes
    -----
    Water rises from the two taps into the two limbs, with air at one pressure above them; for
    air under pressure, or another fluid there, see `InvertedUTubeManometer`.

    Examples
    --------
    >>> from flowunc import Angle, Density, InclinedManometer, Scale, limits
    >>> manometer = InclinedManometer(Scale(1, "mm"), angle=Angle(10, "deg", limits(0.25)))
    >>> drop = manometer.pressure_drop(
    ...     high=333.0, low=267.0, density=Density(998.4, "kg/m^3"), zero=(300.5, 300.0)
    ... )
    >>> round(drop.value, 2), round(drop.u, 2)
    (111.27, 1.88)
    """

    def __init__(
        self,
        scale: Scale,
        angle: Angle,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        capillarity: Statement | None = None,
        mirrored: bool = False,
    ) -> None:
        super().__init__(scale, accuracy, label=label, capillarity=capillarity, mirrored=mirrored)
        self._incline(angle)

    def pressure_drop(
        self,
        *,
        high: ArrayLike | Length,
        low: ArrayLike | Length,
        density: Density,
        zero: Any = None,
        gravity: Acceleration | None = None,
        air_density: Density | None = None,
    ) -> Pressure:
        """Turn readings of both columns into the piezometric pressure difference.

        Parameters
        ----------
        high, low : float or array_like, shape (n,), or Length
            The upstream and the downstream column, in the unit of the scale; or lengths
            that `read` gave before.
        density : Density, scalar or shape (n,)
            Of the liquid in the limbs.
        zero : pair, or two pairs, of float, or Length, optional
            (high, low) read without flow, or [(high, low) before, (high, low) after] the
            set; or what `zero_offset` gave for it.
        gravity : Acceleration, optional
            9.81 m/s^2 ± 0.03 m/s^2, which holds at sea level anywhere, if left out.
        air_density : Density, optional
            1.20 kg/m^3 ± 0.10 kg/m^3, usual indoor air up to some 400 m, if left out.

        Returns
        -------
        Pressure, scalar or shape (n,)
            In Pa, positive where the high column is the higher one.

        Raises
        ------
        RangeError
            Readings off the scale; columns that look exchanged (a difference more than
            three standard uncertainties below zero); a liquid not denser than air.
        ShapeError
            Different numbers of readings; a zero that is not one or two pairs.
        DimensionError
            A density, gravity or length of another kind.

        Warns
        -----
        FlowuncWarning
            No zero readings: the offset counts as 0, without uncertainty.

        Notes
        -----
        p = (high - low - zero) sin(angle) (density - air_density) gravity

        The relative sensitivity to the angle is cot(angle), so a flatter tube shrinks the
        share of the readings and grows that of the angle.
        """
        contrast = density_contrast(
            require_kind(density, Density, "pressure_drop", "density"),
            air_density_or_default(air_density, "pressure_drop"),
            "pressure_drop",
            ("density of the liquid", "that of the air above it"),
        )
        head: Length = self._difference(high, low, zero) * np.sin(self._angle)
        return self._pressure(head, contrast, gravity)
