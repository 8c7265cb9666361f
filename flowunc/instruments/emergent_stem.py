"""`EmergentStem`: the part of a liquid-in-glass thermometer that stands out of the liquid."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from flowunc.core.dimensions import DIMENSIONLESS, TEMPERATURE
from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Temperature, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits
from flowunc.instruments.instrument import first_at

__all__ = ["EmergentStem"]

# Apparent expansion of the filling in glass, 1/K, and limits that hold for the usual glasses and,
# for organic liquids, from alcohol to toluene and petroleum [NBS Monograph 150].
_EXPANSION = {"mercury": (0.00016, 0.000015), "organic": (0.0010, 0.0003)}
_LARGEST = 0.01  # 1/K; no thermometric liquid comes near: a coefficient in another unit


class EmergentStem:
    """Correct a thermometer for its emergent column: one calibrated fully immersed.

    Parameters
    ----------
    stem_temperature : Temperature, scalar or shape (n,)
        Mean temperature of the emergent column, as a second thermometer beside its middle
        shows it; state its uncertainty generously.
    emergent : Quantity, scalar or shape (n,)
        Length of the emergent column in degrees of the scale, such as
        ``Quantity(20, "K", limits(1))``; or
    surface : Temperature, scalar
        the mark of the scale at the surface of the liquid, from which the column emerges.
    filling : {"mercury", "organic"}
        Liquid in the thermometer; organic liquids are mostly dyed red or blue.
    coefficient : Quantity, scalar, optional
        Apparent expansion in "1/K" from the certificate, in place of that of the filling.

    Raises
    ------
    DimensionError
        Arguments of another kind.
    StatementError
        Neither or both of ``emergent`` and ``surface``; another filling.
    RangeError
        A negative column; a coefficient that is none.

    Notes
    -----
    Add k n (t_read - t_stem), with n the emergent column in degrees, and the apparent
    expansion k = 0.00016 /K ± 0.000015 /K for mercury and 0.0010 /K ± 0.0003 /K for organic
    liquids [NBS Monograph 150]; the limits are those of glasses and liquids in use (common
    practice, no source). For a thermometer marked for partial immersion, and immersed to its
    mark, the column is allowed for in the calibration and nothing is to be added.

    Mercury is toxic: treat a broken thermometer by your local rules and ask qualified staff.

    Examples
    --------
    >>> from flowunc import EmergentStem, Quantity, Scale, Temperature, Thermometer, limits
    >>> stem = EmergentStem(
    ...     stem_temperature=Temperature(25, "degC", limits(3)),
    ...     emergent=Quantity(20, "K", limits(1)),
    ... )
    >>> bath = Thermometer(Scale(0.1, "degC"), correction=stem)
    >>> round(bath.read(60.0).value, 3)
    60.112
    """

    def __init__(
        self,
        *,
        stem_temperature: Temperature,
        emergent: Quantity | None = None,
        surface: Temperature | None = None,
        filling: Literal["mercury", "organic"] = "mercury",
        coefficient: Quantity | None = None,
    ) -> None:
        if (emergent is None) == (surface is None):
            given = "both emergent= and surface=" if surface is not None else "neither"
            raise StatementError(
                f"EmergentStem: got {given}; expected emergent= (degrees of the scale out of the "
                "liquid) or surface= (mark at the surface of the liquid)"
            )
        if str(filling) not in _EXPANSION:
            raise StatementError(
                f"EmergentStem(filling={filling!r}): expected 'mercury' or 'organic', or the "
                "coefficient= of the certificate"
            )
        self._stem = require_kind(stem_temperature, Temperature, "EmergentStem", "stem_temperature")
        self._surface: Temperature | None = None
        if surface is not None:
            self._surface = require_kind(surface, Temperature, "EmergentStem", "surface")
        else:
            self._emergent = _checked_column(emergent)
        if coefficient is None:
            value, width = _EXPANSION[filling]
            self._coefficient = Quantity(value, "1/K", limits(width))
        else:
            self._coefficient = _checked_coefficient(coefficient)

    def at(self, reading: Quantity, owner: str = "thermometer") -> Quantity:
        """Return the difference to add to readings.

        Parameters
        ----------
        reading : Temperature, scalar or shape (n,)
            As read, before any correction.
        owner : str
            Thermometer, after which unlabelled components are named.

        Returns
        -------
        Quantity, scalar or shape (n,)
            Temperature difference in K, positive where the stem is the colder part.

        Raises
        ------
        DimensionError
            Readings that are no temperatures.
        RangeError
            A reading below the mark at the surface: the column does not emerge.
        """
        read = require_kind(reading, Temperature, "EmergentStem.at", "reading")
        stem = named_by_role(self._stem, f"{owner} stem temperature")
        coefficient = named_by_role(self._coefficient, f"{owner} stem coefficient")
        if self._surface is not None:
            column = _above(self._surface, read, owner)
        else:
            column = named_by_role(self._emergent, f"{owner} emergent column")
        correction: Quantity = coefficient * column * (read - stem)
        return correction.labelled(f"{owner} stem correction")


def _above(surface: Temperature, reading: Temperature, owner: str) -> Quantity:
    """Return the column above the surface, refused where the liquid covers all of it."""
    column: Quantity = reading - named_by_role(surface, f"{owner} surface mark")
    below = np.asarray(column._node.value) < 0
    if below.any():
        raise RangeError(
            f"{owner}{first_at(below)}: the column ends "
            f"{-float(column._node.value[below].flat[0]):.3g} K below the mark at the surface of "
            "the liquid, so nothing of it emerges; expected readings above that mark"
        )
    return column


def _checked_column(emergent: Any) -> Quantity:
    expected = "expected degrees of the scale as a difference, such as Quantity(20, 'K', limits(1))"
    if not isinstance(emergent, Quantity):
        raise DimensionError(
            f"EmergentStem(emergent=...): got {type(emergent).__name__} {emergent!r}; {expected}"
        )
    if emergent._absolute or emergent._unit.dimension is not TEMPERATURE:
        raise DimensionError(
            f"EmergentStem(emergent=...): got {type(emergent).__name__} in '{emergent.unit}'; "
            f"{expected}"
        )
    bad = np.asarray(emergent._node.value) < 0
    if bad.any():
        raise RangeError(
            f"EmergentStem(emergent=...){first_at(bad)}: "
            f"{float(emergent._node.value[bad].flat[0]):g} K; expected 0 or more"
        )
    return emergent


def _checked_coefficient(coefficient: Any) -> Quantity:
    expected = "expected an apparent expansion such as Quantity(0.00016, '1/K')"
    if not isinstance(coefficient, Quantity):
        raise DimensionError(
            f"EmergentStem(coefficient=...): got {type(coefficient).__name__} {coefficient!r}; "
            f"{expected}"
        )
    if coefficient._unit.dimension is not DIMENSIONLESS / TEMPERATURE:
        raise DimensionError(
            f"EmergentStem(coefficient=...): got {type(coefficient).__name__} in "
            f"'{coefficient.unit}'; {expected}"
        )
    if coefficient.ndim or not 0 < coefficient.si.value < _LARGEST:
        raise RangeError(
            f"EmergentStem(coefficient=...): {coefficient.si.value} 1/K; {expected}, one value "
            f"above 0 and below {_LARGEST:g} /K"
        )
    return coefficient
