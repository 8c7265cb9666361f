"""`Vessel`: a volume read from a graduated cylinder, a flask or a tank with a sight glass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import Temperature, Volume, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.core.units import parse_unit
from flowunc.instruments.instrument import Instrument, first_at
from flowunc.instruments.scale import Scale

__all__ = ["Vessel"]

_PER_KELVIN = parse_unit("1/K")
# degC and 1/K: the temperature marked on most vessels, and more than any wall expands; acrylic
# has some 2e-4 /K (common practice, no source)
_MARKED, _MOST = 20.0, 5e-4


class Vessel(Instrument[Volume]):
    """A graduated vessel.

    Glass breaks, and a full tank is heavy: follow your local rules and ask qualified staff.

    Parameters
    ----------
    scale : Scale
        In a unit of volume.
    accuracy : Statement or sequence of Statement
        From its class or certificate; one error behind all readings.
    label : str
        Name in budgets.
    expansion : Quantity, scalar, optional
        Cubic expansion of its wall in 1/K, such as ``Quantity(9.9e-6, "1/K")``: readings are
        then corrected with ``read(..., temperature=)``.
    reference_temperature : Temperature, scalar, optional
        Where the marks hold; 20 degC if left out.

    Raises
    ------
    UnitError
        A scale that is not in a unit of volume.
    DimensionError, ShapeError, RangeError
        An expansion or temperature of another kind, more than one, or out of reach.
    StatementError
        A reference temperature without expansion.

    Notes
    -----
    V = V_read (1 + expansion (t - t_ref)). Cubic expansion of borosilicate glass 3.3:
    9.9e-6 /K, of soda-lime glass 27e-6 /K [ISO 4787]; of stainless steel some 5e-5 /K (common
    practice, no source). For a vessel without ``expansion`` volumes hold at the temperature
    marked on it.

    Examples
    --------
    >>> from flowunc import Quantity, Scale, Temperature, Vessel, limits
    >>> cylinder = Vessel(Scale(10, "mL", span=(0, 1000)), accuracy=limits(5))
    >>> round(cylinder.read(850.0).u, 3)
    4.082
    >>> tank = Vessel(Scale(0.1, "L"), expansion=Quantity(5e-5, "1/K", limits(1e-5)))
    >>> round(tank.read(100.0, temperature=Temperature(45, "degC", limits(1))).value, 6)
    100.125
    """

    _kind = Volume
    _role: ClassVar[str] = "vessel"
    _example: ClassVar[str] = "mL"

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        expansion: Quantity | None = None,
        reference_temperature: Temperature | None = None,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        self._expansion: Quantity | None = None
        if expansion is None:
            if reference_temperature is not None:
                raise StatementError(
                    f"{self._label}: a reference temperature without expansion; give expansion= "
                    "in 1/K too"
                )
            return
        self._expansion = self._checked_expansion(expansion)
        given = Temperature(_MARKED, "degC")
        if reference_temperature is not None:
            given = require_kind(
                reference_temperature, Temperature, "Vessel", "reference_temperature"
            )
        if given.ndim:
            raise ShapeError(f"{self._label}: {given.size} reference temperatures; expected one")
        self._marked = named_by_role(given, f"{self._label} reference temperature")

    def _checked_expansion(self, expansion: Any) -> Quantity:
        dimension = _PER_KELVIN.dimension
        if not isinstance(expansion, Quantity) or expansion._unit.dimension is not dimension:
            raise DimensionError(
                f"Vessel(expansion=...): got {expansion!r}; expected a cubic expansion such as "
                "Quantity(9.9e-6, '1/K')"
            )
        if expansion.ndim:
            raise ShapeError(f"{self._label}: {expansion.size} expansions; expected one")
        if not 0 <= expansion.si.value <= _MOST:
            raise RangeError(
                f"{self._label}: cubic expansion {expansion.si.value:g} /K; expected that of the "
                f"wall, 0 to {_MOST:g} /K, not that of the liquid"
            )
        return named_by_role(expansion, f"{self._label} expansion")

    @property
    def expansion(self) -> Quantity | None:
        """Cubic expansion of the wall."""
        return self._expansion

    def read(
        self,
        values: ArrayLike,
        *statements: Statement,
        temperature: Temperature | None = None,
        label: str | None = None,
    ) -> Volume:
        """Turn numbers read from the scale into volumes.

        Parameters
        ----------
        values : float or array_like, shape (n,)
            Readings in the unit of the scale, 0 or more.
        *statements : Statement
            What is known of these readings besides accuracy and resolution.
        temperature : Temperature, scalar or shape (n,), optional
            Of vessel and liquid; needs a vessel with its expansion. Without it readings
            stand as on the scale.
        label : str, optional
            Name of the volume.

        Returns
        -------
        Volume, scalar or shape (n,)
            In the unit of the scale.

        Raises
        ------
        RangeError
            A reading off the scale or below 0.
        StatementError
            A temperature for a vessel without expansion.
        """
        reading = self._take(values, statements, label)
        if temperature is None:
            return reading
        if self._expansion is None:
            raise StatementError(
                f"{self._label}: a temperature for a vessel that does not know its expansion; "
                "give it expansion=Quantity(..., '1/K')"
            )
        warm = require_kind(temperature, Temperature, "read", "temperature")
        grown: Volume = reading * (1 + self._expansion * (warm - self._marked))
        return grown.to(self._scale.unit).labelled(reading.label)

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        bad = values < 0
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(values[bad].flat[0]):g} "
                f"{self._scale.unit}; expected a volume of 0 or more"
            )
