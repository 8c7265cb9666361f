"""`Vessel`: a volume read from a graduated cylinder, a flask or a tank with a sight glass."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import RangeError
from flowunc.core.kinds import Volume
from flowunc.instruments.instrument import Instrument, first_at

__all__ = ["Vessel"]


class Vessel(Instrument[Volume]):
    """A graduated vessel.

    Parameters
    ----------
    scale : Scale
        In a unit of volume.
    accuracy : Statement or sequence of Statement
        From its class or certificate; one error behind all readings.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a unit of volume.

    Notes
    -----
    Volumes hold at the reference temperature marked on the vessel, usually 20 degC. Away
    from it add a statement for the expansion: 1e-5 /K of the volume for borosilicate glass,
    5e-5 /K for steel (common practice, no source).

    Examples
    --------
    >>> from flowunc import Scale, Vessel, limits
    >>> cylinder = Vessel(Scale(10, "mL", span=(0, 1000)), accuracy=limits(5))
    >>> round(cylinder.read(850.0).u, 3)
    4.082
    """

    _kind = Volume
    _role: ClassVar[str] = "vessel"
    _example: ClassVar[str] = "mL"

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        bad = values < 0
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(values[bad].flat[0]):g} "
                f"{self._scale.unit}; expected a volume of 0 or more"
            )
