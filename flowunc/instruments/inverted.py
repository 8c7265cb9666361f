"""`InvertedUTubeManometer`: the flowing liquid under air, or under a lighter liquid."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from numpy.typing import ArrayLike

from flowunc.core.errors import RangeError
from flowunc.core.kinds import Acceleration, Density, Length, Pressure, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.statements import Statement
from flowunc.instruments.columns import ColumnManometer
from flowunc.instruments.scale import Scale
from flowunc.instruments.surroundings import air_density_or_default, density_contrast

__all__ = ["InvertedUTubeManometer"]


class InvertedUTubeManometer(ColumnManometer):
    """An upright U-tube with its bend on top, the flowing liquid under a lighter fluid.

    Glass under pressure can burst: keep below the pressure marked on it, follow your local
    rules and ask qualified staff.

    Parameters
    ----------
    scale : Scale
        Upright, in a unit of length.
    top_density : Density, scalar or shape (n,), optional
        Of the fluid in the bend. Left out, it is air near the pressure of the room, 1.20
        kg/m^3 ± 0.10 kg/m^3; air pumped in to press the columns down is denser in proportion
        to its absolute pressure.
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
    DimensionError, RangeError
        A top density of another kind, or below 0.

    Examples
    --------
    Oil over water makes 40 mm of a drop that would be 5 mm high under air.

    >>> from flowunc import Density, InvertedUTubeManometer, Scale, limits
    >>> oil = InvertedUTubeManometer(Scale(1, "mm"), Density(870, "kg/m^3", limits(2)))
    >>> drop = oil.pressure_drop(
    ...     high=320.0, low=280.0, density=Density(998.2, "kg/m^3"), zero=(300.0, 300.0)
    ... )
    >>> round(drop.value, 1), round(drop.u, 1)
    (50.3, 0.9)
    """

    def __init__(
        self,
        scale: Scale,
        top_density: Density | None = None,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        capillarity: Statement | None = None,
        mirrored: bool = False,
    ) -> None:
        super().__init__(scale, accuracy, label=label, capillarity=capillarity, mirrored=mirrored)
        if top_density is None:
            self._top_density = air_density_or_default(None, type(self).__name__)
            return
        given = require_kind(top_density, Density, type(self).__name__, "top_density")
        if (given._node.value < 0).any():
            raise RangeError(f"{self._label}: top density {given}; expected 0 or more")
        self._top_density = named_by_role(given, f"{self._label} top density")

    @property
    def top_density(self) -> Density:
        """Density of the fluid in the bend."""
        return self._top_density

    def pressure_drop(
        self,
        *,
        high: ArrayLike | Length,
        low: ArrayLike | Length,
        density: Density,
        zero: Any = None,
        gravity: Acceleration | None = None,
    ) -> Pressure:
        """Turn readings of both columns into the piezometric pressure difference.

        Parameters
        ----------
        high, low : float or array_like, shape (n,), or Length
            Level of the flowing liquid in the upstream limb (the higher one), and in the
            downstream limb, in the unit of the scale.
        density : Density, scalar or shape (n,)
            Of the flowing liquid.
        zero, gravity
            As for `InclinedManometer.pressure_drop`.

        Returns
        -------
        Pressure, scalar or shape (n,)
            In Pa.

        Raises
        ------
        RangeError
            Readings off the scale; levels that look exchanged; a flowing liquid not denser
            than the fluid on top.
        ShapeError, DimensionError
            As for `InclinedManometer.pressure_drop`.

        Warns
        -----
        FlowuncWarning
            No zero readings: the offset counts as 0, without uncertainty.

        Notes
        -----
        p = (high - low - zero) (density - top_density) gravity
        """
        contrast = density_contrast(
            require_kind(density, Density, "pressure_drop", "density"),
            self._top_density,
            "pressure_drop",
            ("density of the liquid", "that of the fluid above it"),
        )
        return self._pressure(self._difference(high, low, zero), contrast, gravity)
