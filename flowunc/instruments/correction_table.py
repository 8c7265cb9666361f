"""`CorrectionTable`: the corrections of a certificate, interpolated with their covariance.

The corrections are one quantity with a value for each calibrated point. What the errors of the
points have in common (the reference of the laboratory) is stated as ``shared(...)``, what each has
of its own without. Between two points the correction is a weighted mean of both, so that the
correlation of any two corrected readings follows from the record, none is stated by hand.
"""

from __future__ import annotations

from typing import Any, Protocol, TypeVar

import numpy as np

from flowunc.core.dimensions import DIMENSIONLESS
from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement

__all__ = ["Correction", "CorrectionTable"]

Q = TypeVar("Q", bound=Quantity)

# 32 degF converted to degC is 6e-14 off zero
_ROUNDING = 1e-9


class Correction(Protocol):
    """What can be added to a reading, and may depend on it."""

    def at(self, reading: Quantity, owner: str = "instrument") -> Quantity:
        """Return the difference to add, its unlabelled components named after the owner."""


class CorrectionTable:
    """Corrections at calibrated points, with straight lines between them.

    Parameters
    ----------
    points : Quantity, shape (m,)
        Indications of the instrument at which it was calibrated, rising, two or more; exact,
        since all uncertainty of the calibration is in the corrections.
    corrections : Quantity, shape (m,)
        What the certificate says to *add* at each point: differences of the same dimension
        (in K for a thermometer), or a relative correction in "%" or "1". For a certificate
        that lists errors (indication less reference) see `from_errors`.
    interpolation : Statement, optional
        How far the correction may lie off the straight line between two points: one error
        behind all readings.
    label : str, optional
        Name in budgets.

    Raises
    ------
    DimensionError
        Points or corrections that are no quantities, or do not fit together.
    ShapeError
        Fewer than two points, or another number of corrections.
    RangeError
        Points that do not rise.
    StatementError
        Points with an uncertainty.

    Notes
    -----
    Between the points x_j and x_j+1

        c(x) = c_j + (c_j+1 - c_j) (x - x_j) / (x_j+1 - x_j)

    Errors of the points of their own partly cancel between them, so state ``interpolation``
    where the points lie far apart. A reading on a point belongs to the segment above it.

    Examples
    --------
    >>> from flowunc import (
    ...     CorrectionTable, Quantity, Scale, Temperature,
    ...     Thermometer, expanded, limits, shared,
    ... )
    >>> table = CorrectionTable(
    ...     points=Temperature([0, 20, 40], "degC"),
    ...     corrections=Quantity(
    ...         [0.05, -0.10, -0.20], "K", shared(expanded(0.06, k=2)), limits(0.02)
    ...     ),
    ... )
    >>> tank = Thermometer(Scale(0.1, "degC"), correction=table)
    >>> round(tank.read(25.0).value, 3)
    24.875
    """

    def __init__(
        self,
        *,
        points: Quantity,
        corrections: Quantity,
        interpolation: Statement | None = None,
        label: str = "",
    ) -> None:
        self._sign = 1.0
        self._points = _checked_points(points)
        self._given = _checked_corrections(corrections, points)
        self._relative = (
            corrections._unit.dimension is DIMENSIONLESS
            and points._unit.dimension is not DIMENSIONLESS
        )
        self._interpolation: Quantity | None = None
        if interpolation is not None:
            unit = corrections.unit
            self._interpolation = Quantity(0.0, unit, interpolation)
        if not isinstance(label, str):
            raise RangeError(f"CorrectionTable(label={label!r}): expected text")
        self._label = label

    @classmethod
    def from_errors(
        cls,
        *,
        points: Quantity,
        errors: Quantity,
        interpolation: Statement | None = None,
        label: str = "",
    ) -> CorrectionTable:
        """Make the table from errors of indication, which have the opposite sign.

        Parameters
        ----------
        points, interpolation, label
            As for the class.
        errors : Quantity, shape (m,)
            Indication less reference at each point, as many certificates list it.

        Examples
        --------
        >>> from flowunc import CorrectionTable, Mass
        >>> table = CorrectionTable.from_errors(
        ...     points=Mass([0, 5], "kg"), errors=Mass([0, 2], "g")
        ... )
        >>> round(table.corrected(Mass(2.5, "kg")).value, 6)
        2.499
        """
        table = cls(points=points, corrections=errors, interpolation=interpolation, label=label)
        table._sign = -1.0
        return table

    @property
    def points(self) -> Quantity:
        """Indications at which the instrument was calibrated."""
        return self._points

    @property
    def label(self) -> str:
        """Name in budgets, "" if none."""
        return self._label

    def at(self, reading: Quantity, owner: str = "instrument") -> Quantity:
        """Return the difference to add to readings.

        Parameters
        ----------
        reading : Quantity, scalar or shape (n,)
            Indications, of the kind of the points.
        owner : str
            Instrument, after which unlabelled components are named.

        Returns
        -------
        Quantity, scalar or shape (n,)

        Raises
        ------
        DimensionError
            Readings of another kind than the points.
        RangeError
            A reading outside the points: the table is not extrapolated.
        """
        low = self._segments(reading, owner)
        name = self._label or f"{owner} correction"
        given = named_by_role(self._given, name)
        start, end = self._points[low], self._points[low + 1]
        share = (reading - start) / (end - start)
        correction = given[low] + (given[low + 1] - given[low]) * share
        if self._sign < 0:
            correction = -correction
        if self._interpolation is not None:
            correction = correction + named_by_role(self._interpolation, f"{name} interpolation")
        if self._relative:
            correction = correction * reading
        difference: Quantity = correction
        return difference.labelled(name)

    def corrected(self, reading: Q, owner: str = "instrument") -> Q:
        """Return readings with their correction added, in the unit they came in.

        Parameters
        ----------
        reading : Quantity, scalar or shape (n,)
            Indications, of the kind of the points.
        owner : str
            Instrument, after which unlabelled components are named.

        Returns
        -------
        Quantity, scalar or shape (n,)
            Of the same kind.

        Raises
        ------
        DimensionError, RangeError
            As `at`.

        Examples
        --------
        >>> from flowunc import CorrectionTable, Quantity, VolumeFlowRate
        >>> table = CorrectionTable(
        ...     points=VolumeFlowRate([0.5, 4.0], "L/min"), corrections=Quantity([2, 1], "%")
        ... )
        >>> round(table.corrected(VolumeFlowRate(4.0, "L/min")).value, 4)
        4.04
        """
        added: Q = reading + self.at(reading, owner)
        return added.to(reading.unit).labelled(reading.label)

    def _segments(self, reading: Any, owner: str) -> Any:
        """Return the point below each reading; refuse what lies outside all of them."""
        points = self._points
        fits = (
            isinstance(reading, Quantity)
            and reading._unit.dimension is points._unit.dimension
            and reading._absolute == points._absolute
        )
        if not fits:
            got = f" in '{reading.unit}'" if isinstance(reading, Quantity) else f" {reading!r}"
            raise DimensionError(
                f"{owner}, correction table: got {type(reading).__name__}{got}; expected "
                f"{type(points).__name__} like its points in '{points.unit}'"
            )
        known, values = points._node.value, reading._node.value
        slack = _ROUNDING * (known[-1] - known[0])
        outside = (values < known[0] - slack) | (values > known[-1] + slack)
        if outside.any():
            worst = points._unit.from_si(float(values[outside].flat[0]))
            first, last = points._unit.from_si(known[[0, -1]])
            place = f", reading {int(np.argmax(outside))}" if values.ndim else ""
            raise RangeError(
                f"{owner}{place}: {worst:.6g} {points.unit} lies outside the calibrated points, "
                f"{first:.6g} to {last:.6g} {points.unit}; a correction table is not "
                "extrapolated: have a point calibrated there, or state limits(...)"
            )
        low = np.clip(np.searchsorted(known, values, side="right") - 1, 0, known.size - 2)
        return low if values.ndim else int(low)


def _checked_points(points: Any) -> Quantity:
    if not isinstance(points, Quantity):
        raise DimensionError(
            f"CorrectionTable(points=...): got {type(points).__name__} {points!r}; expected a "
            "quantity such as Temperature([0, 20, 40], 'degC')"
        )
    if points.ndim == 0 or points.size < 2:
        raise ShapeError(
            f"CorrectionTable(points=...): {points.size} point; expected two or more, since a "
            "single correction is Quantity(-0.3, 'K', ...)"
        )
    if points._node.active:
        raise StatementError(
            "CorrectionTable(points=...): the points have an uncertainty; expected exact "
            "indications: state the uncertainty of the calibration with the corrections"
        )
    falls = np.diff(points._node.value) <= 0
    if falls.any():
        place = int(np.argmax(falls))
        shown = points._unit.from_si(points._node.value[place : place + 2])
        raise RangeError(
            f"CorrectionTable(points=...): {shown[1]:g} follows {shown[0]:g} {points.unit}; "
            "expected rising points, each once, and the corrections in the same order"
        )
    return points


def _checked_corrections(corrections: Any, points: Quantity) -> Quantity:
    unit = "K" if points._absolute else points.unit
    expected = f"expected differences such as Quantity([...], '{unit}')"
    if not points._absolute:
        expected += " or, relative to the reading, Quantity([...], '%')"
    if not isinstance(corrections, Quantity):
        raise DimensionError(
            f"CorrectionTable(corrections=...): got {type(corrections).__name__} "
            f"{corrections!r}; {expected}"
        )
    dimension = corrections._unit.dimension
    relative = dimension is DIMENSIONLESS and not points._absolute
    if corrections._absolute or not (relative or dimension is points._unit.dimension):
        raise DimensionError(
            f"CorrectionTable(corrections=...): got {type(corrections).__name__} in "
            f"'{corrections.unit}' for points in '{points.unit}'; {expected}"
        )
    if corrections.ndim == 0 or corrections.size != points.size:
        raise ShapeError(
            f"CorrectionTable: {corrections.size} corrections for {points.size} points; expected "
            "one for each"
        )
    return corrections
