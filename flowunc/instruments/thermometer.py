"""`Thermometer`: a temperature scale with its calibration and its correction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from flowunc.core.dimensions import TEMPERATURE
from flowunc.core.errors import DimensionError, ShapeError
from flowunc.core.kinds import Temperature
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.instruments.correction_table import Correction, CorrectionTable
from flowunc.instruments.emergent_stem import EmergentStem
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.scale import Scale

__all__ = ["Thermometer"]


class Thermometer(Instrument[Temperature]):
    """A thermometer.

    Glass breaks, and mercury from it is toxic: follow your local rules and ask qualified staff.

    Parameters
    ----------
    scale : Scale
        In a temperature unit.
    accuracy : Statement or sequence of Statement
        From the data sheet or the certificate; one error behind all readings.
    correction : Quantity (scalar), CorrectionTable, EmergentStem, or several, optional
        Temperature difference that the certificate says to *add* to a reading, such as
        ``Quantity(-0.3, "K", expanded(0.1, k=2))``; its error is behind all readings too. Or
        the table of a certificate, or an emergent stem. Several in a tuple add up, each as
        it stands for the reading itself.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a temperature unit.
    DimensionError
        A correction that is not a temperature difference, a table of another quantity.
    StatementError
        A percentage of a reading in degC or degF.

    Notes
    -----
    A liquid-in-glass thermometer that is not immersed as when it was calibrated needs
    `EmergentStem`. A platinum resistance thermometer has ``accuracy=iec_60751("A")``.

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
        correction: Quantity | Correction | Sequence[Quantity | Correction] | None = None,
        *,
        label: str | None = None,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        self._correction: Quantity | None = None
        self._corrections: tuple[Correction, ...] = ()
        if correction is None:
            return
        items = correction if isinstance(correction, (list, tuple)) else (correction,)
        varying = [item for item in items if isinstance(item, (CorrectionTable, EmergentStem))]
        self._corrections = tuple(self._checked_table(item) for item in varying)
        constant = [item for item in items if not isinstance(item, (CorrectionTable, EmergentStem))]
        for number, item in enumerate(constant, 1):
            name = f"{self._label} correction" + (f" {number}" if len(constant) > 1 else "")
            difference = self._checked_correction(item, name)
            self._correction = difference if number == 1 else self._correction + difference

    def _checked_table(self, correction: CorrectionTable | EmergentStem) -> Correction:
        if isinstance(correction, CorrectionTable) and not isinstance(
            correction.points, Temperature
        ):
            raise DimensionError(
                f"Thermometer(correction=...): a table with points in '{correction.points.unit}'; "
                "expected points such as Temperature([0, 20, 40], 'degC')"
            )
        return correction

    def _checked_correction(self, correction: Any, name: str) -> Quantity:
        expected = "expected a temperature difference such as Quantity(-0.3, 'K')"
        if not isinstance(correction, Quantity):
            raise DimensionError(
                f"Thermometer(correction=...): got {type(correction).__name__} {correction!r}; "
                f"{expected}, a CorrectionTable or an EmergentStem"
            )
        if correction._absolute or correction._unit.dimension is not TEMPERATURE:
            raise DimensionError(
                f"Thermometer(correction=...): got {type(correction).__name__} in "
                f"'{correction.unit}'; {expected}"
            )
        if correction.ndim:
            raise ShapeError(
                f"Thermometer(correction=...): got {correction.size} values; expected one "
                "difference, added to every reading; corrections at several points are a "
                "CorrectionTable"
            )
        return named_by_role(correction, name)

    @property
    def correction(self) -> Quantity | None:
        """The difference that is added to every reading, None if there is none."""
        return self._correction

    @property
    def varying_corrections(self) -> tuple[Correction, ...]:
        """The corrections that depend on the reading."""
        return self._corrections

    def _completed(self, reading: Temperature) -> Temperature:
        if self._correction is None and not self._corrections:
            return reading
        corrected = reading
        if self._correction is not None:
            corrected = corrected + self._correction
        for item in self._corrections:
            corrected = corrected + item.at(reading, self._label)
        return corrected.to(self._scale.unit).labelled(reading.label)
