"""`Thermometer`: a temperature scale with its calibration and its correction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from flowunc.core.dimensions import TEMPERATURE
from flowunc.core.errors import DimensionError, ShapeError
from flowunc.core.kinds import Temperature
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.scale import Scale

__all__ = ["Thermometer"]


class Thermometer(Instrument[Temperature]):
    """A thermometer.

    Parameters
    ----------
    scale : Scale
        In a temperature unit.
    accuracy : Statement or sequence of Statement
        From the data sheet or the certificate; one error behind all readings.
    correction : Quantity, scalar, optional
        Temperature difference that the certificate says to *add* to a reading, such as
        ``Quantity(-0.3, "K", expanded(0.1, k=2))``; its error is behind all readings too.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a temperature unit.
    DimensionError
        A correction that is not a temperature difference.
    StatementError
        A percentage of a reading in degC or degF.

    Notes
    -----
    Emergent stem of a liquid-in-glass thermometer: the correction is k n (t_read - t_stem),
    with n the emergent column in degrees and k = 0.00016 /K for mercury in glass. Mercury is
    toxic: treat a broken thermometer by your local rules and ask qualified staff.

    Examples
    --------
    >>> from flowunc import Scale, Thermometer, expanded
    >>> tank = Thermometer(Scale(0.5, "degC"), accuracy=expanded(0.30, k=2))
    >>> water = tank.read([19.0, 19.5])
    >>> round(water[0].u, 4), round((water[1] - water[0]).u, 4)
    (0.2082, 0.2041)
    >>> from flowunc import Quantity
    >>> corrected = Thermometer(Scale(0.1, "degC"), correction=Quantity(-0.3, "K"))
    >>> round(corrected.read(19.0).value, 3)
    18.7
    """

    _kind = Temperature
    _role: ClassVar[str] = "thermometer"
    _example: ClassVar[str] = "degC"

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        correction: Quantity | None = None,
        label: str | None = None,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        self._correction: Quantity | None = None
        if correction is not None:
            self._correction = self._checked_correction(correction)

    def _checked_correction(self, correction: Quantity) -> Quantity:
        expected = "expected a temperature difference such as Quantity(-0.3, 'K')"
        if not isinstance(correction, Quantity):
            raise DimensionError(
                f"Thermometer(correction=...): got {type(correction).__name__} {correction!r}; "
                f"{expected}"
            )
        if correction._absolute or correction._unit.dimension is not TEMPERATURE:
            raise DimensionError(
                f"Thermometer(correction=...): got {type(correction).__name__} in "
                f"'{correction.unit}'; {expected}"
            )
        if correction.ndim:
            raise ShapeError(
                f"Thermometer(correction=...): got {correction.size} values; expected one "
                "difference, added to every reading"
            )
        return named_by_role(correction, f"{self._label} correction")

    @property
    def correction(self) -> Quantity | None:
        """The difference that is added to every reading."""
        return self._correction

    def _completed(self, reading: Temperature) -> Temperature:
        if self._correction is None:
            return reading
        corrected: Temperature = reading + self._correction
        return corrected.to(self._scale.unit).labelled(reading.label)
