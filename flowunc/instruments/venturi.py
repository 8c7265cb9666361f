"""`VenturiTube`: a classical venturi tube, by the standard or as calibrated."""

from __future__ import annotations

from typing import ClassVar, Literal, NamedTuple

import numpy as np

from flowunc.core.errors import StatementError
from flowunc.core.kinds import Length, Ratio
from flowunc.instruments.differential_meter import DifferentialMeter, Floats, refuse_outside

__all__ = ["VenturiTube"]

Convergent = Literal["machined", "as cast", "rough-welded"]


class _Build(NamedTuple):
    """Coefficient of one way of making the convergent, with its range."""

    coefficient: float
    percent: float  # U, k = 2
    bore: tuple[float, float]  # mm
    ratio: tuple[float, float]
    reynolds: tuple[float, float]  # of the pipe
    clause: str


# [ISO 5167-4, 5.5.2 to 5.5.4 and 5.7.1 to 5.7.3], from memory
_BUILDS: dict[str, _Build] = {
    "machined": _Build(0.995, 1.0, (50, 250), (0.4, 0.75), (2e5, 1e6), "5.5.3"),
    "as cast": _Build(0.984, 0.7, (100, 800), (0.3, 0.75), (2e5, 2e6), "5.5.2"),
    "rough-welded": _Build(0.985, 1.5, (200, 1200), (0.4, 0.7), (2e5, 2e6), "5.5.4"),
}


class VenturiTube(DifferentialMeter):
    """A classical venturi tube in a full pipe, for liquids.

    Parameters
    ----------
    throat : Length, scalar
        Bore of the throat, at the temperature of use.
    bore : Length, scalar
        Bore of the pipe upstream, at the temperature of use.
    convergent : {"machined", "as cast", "rough-welded"}
        How the convergent section was made.
    coefficient : Ratio, scalar, optional
        Discharge coefficient of a calibration of one's own, such as
        ``Ratio(0.97, "1", percent_of_reading(1))``. It takes the place of that of the standard,
        and none of its ranges is checked: the way for a small tube of a teaching bench.
    label : str, optional
        Name in budgets.

    Raises
    ------
    DimensionError, ShapeError
        Not one length each; a coefficient that is no ratio.
    RangeError
        A throat as wide as the pipe; a tube outside the range of the standard and without a
        coefficient of its own.
    StatementError
        A convergent of another name.

    Notes
    -----
    [ISO 5167-4, 5.5 and 5.7], U with k = 2, one error of the tube behind all of its readings:

    - machined: C = 0.995 ± 1 %, bore 50 mm to 250 mm, beta 0.4 to 0.75, Re 2e5 to 1e6
    - as cast: 0.984 ± 0.7 %, 100 mm to 800 mm, 0.3 to 0.75, 2e5 to 2e6
    - rough-welded: 0.985 ± 1.5 %, 200 mm to 1200 mm, 0.4 to 0.7, 2e5 to 2e6

    Below Re = 2e5 the coefficient falls and is less certain.

    Examples
    --------
    >>> from flowunc import Density, Length, Pressure, Ratio, limits, percent_of_reading
    >>> from flowunc import VenturiTube
    >>> small = VenturiTube(
    ...     Length(16, "mm", limits(0.02)), Length(26, "mm", limits(0.05)),
    ...     convergent="machined", coefficient=Ratio(0.97, "1", percent_of_reading(1.5)),
    ... )
    >>> water = Density(998.2, "kg/m^3")
    >>> print(small.flow(Pressure(1.96, "kPa", limits(0.02)), density=water).to("L/min"))
    venturi tube: 25.06 ± 0.23 L/min
    """

    _role: ClassVar[str] = "venturi tube"
    _throat_word: ClassVar[str] = "throat"
    _source: ClassVar[str] = "ISO 5167-4"

    def __init__(
        self,
        throat: Length,
        bore: Length,
        *,
        convergent: Convergent,
        coefficient: Ratio | None = None,
        label: str | None = None,
    ) -> None:
        super().__init__(throat, bore, coefficient, label)
        if convergent not in _BUILDS:
            raise StatementError(
                f"{self._label}: convergent={convergent!r}; expected 'machined', 'as cast' or "
                "'rough-welded'"
            )
        self._convergent = convergent
        self._build = _BUILDS[convergent]
        if coefficient is None:
            for value, (low, high), what, unit in (
                (1e3 * self._bore.si.value, self._build.bore, "bore", " mm"),
                (self.diameter_ratio.si.value, self._build.ratio, "diameter ratio", ""),
            ):
                refuse_outside(
                    np.asarray(value), low, high, f"{self._label}: {what}", unit, self._clause
                )

    @property
    def throat(self) -> Length:
        """Bore of the throat."""
        return self._throat

    @property
    def convergent(self) -> Convergent:
        """How the convergent section was made."""
        return self._convergent

    @property
    def _clause(self) -> str:
        return f"[ISO 5167-4, {self._build.clause}]"

    def _standard_coefficient(self, phi: Ratio) -> tuple[Ratio, Floats]:
        build = self._build
        reynolds = np.asarray(build.coefficient * phi._node.value)
        low, high = build.reynolds
        what = f"{self._label}: Reynolds number"
        refuse_outside(reynolds, low, high, what, "", self._clause)
        return Ratio(build.coefficient, "1"), np.full(reynolds.shape, build.percent)
