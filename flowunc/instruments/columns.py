"""`ColumnManometer`: what every manometer with two liquid columns on one scale has in common.

The two columns are read separately, so a difference carries two resolution errors. The
calibration of the scale enters both: an absolute error of the scale cancels in the
difference, one in proportion to the reading does not.

Zero readings (no flow) give the offset of a set of readings. Their resolution is one error
for the whole set, and the drift between the zero before and the zero after the set is a
rectangular error of half their difference either way, again one for the set.

What a meniscus stands wrong because the tube is not wetted alike everywhere (`capillarity`) is
an error of each column at each reading, the same whenever that reading is used; one that stays
the same cancels with the zero.

Where one column rises exactly as far as the other falls (``mirrored=True``), both are rounded
together: high + e, low - e. One resolution error stands behind both columns of a reading, and
their difference has it twice: u is d/sqrt(3) for a scale read to a step d, where two independent
errors make d/sqrt(6). That is so where the middle of the columns stands at a mark or halfway
between two; anywhere else the difference is rounded less, so it is the most that can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.component import Component, Term
from flowunc.core.errors import (
    DimensionError,
    RangeError,
    ShapeError,
    StatementError,
    warn_user,
)
from flowunc.core.kinds import Acceleration, Density, Length, Pressure, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.record import Node
from flowunc.core.rewriting import with_terms
from flowunc.core.statements import Statement, limits
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.reading_errors import ReadingError
from flowunc.instruments.scale import Scale
from flowunc.instruments.surroundings import gravity_or_default

__all__ = ["ZERO_NAMES", "ColumnManometer", "drift_of", "refuse_negative"]

COLUMNS = ("high column", "low column")
ZERO_NAMES = {1: ("zero",), 2: ("zero before", "zero after")}

Q = TypeVar("Q", bound=Quantity)

# Beyond so many standard uncertainties below zero a difference is not noise about zero.
_FAR = 3.0


class ColumnManometer(Instrument[Length]):
    """Base of manometers that compare a high and a low liquid column."""

    _kind = Length
    _role: ClassVar[str] = "manometer"
    _example: ClassVar[str] = "mm"

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
        capillarity: Statement | None = None,
        mirrored: bool = False,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        if not isinstance(mirrored, bool):
            raise DimensionError(
                f"{self._label}: mirrored={mirrored!r}; expected True where one column rises as "
                "far as the other falls, else False"
            )
        self._mirrored = mirrored
        self._capillarity = capillarity
        self._habits: dict[str, Component] = {}
        self._menisci: ReadingError | None = None
        if capillarity is None:
            return
        if not isinstance(capillarity, Statement):
            raise StatementError(
                f"{self._label}: capillarity={capillarity!r}; expected a statement such as "
                "limits(0.3, 'mm')"
            )
        # the label would give both columns one name
        unnamed = replace(capillarity, label=None)
        if capillarity.per_reading:
            self._menisci = ReadingError(unnamed, self._reference)
            return
        self._habits = {
            column: unnamed.component(self._reference, self._meniscus_name(capillarity, column))
            for column in COLUMNS
        }

    @property
    def capillarity(self) -> Statement | None:
        """Error of a column by its meniscus."""
        return self._capillarity

    @property
    def mirrored(self) -> bool:
        """Whether one column is the mirror image of the other, and both are rounded together."""
        return self._mirrored

    def _tied(self, high: Length, low: Length, when: str = "") -> tuple[Length, Length]:
        """Give both columns of mirrored readings one resolution error, opposite in sign."""
        if not self._mirrored:
            return high, low
        if high.size != low.size or high.ndim != low.ndim:
            raise ShapeError(
                f"{self._label}: {high.size} readings of the high column and {low.size} of the low "
                "column; expected both of each reading, as the columns mirror each other"
            )
        error = self._scale.resolution_component(
            f"{self._label} resolution, {when}both columns",
            None if high.ndim == 0 else high.size,
            source=self._label,
        )
        return _rounded_by(high, Term(error)), _rounded_by(low, Term(error, -1.0))

    def _meniscus_name(self, statement: Statement, part: str) -> str:
        return f"{statement.label or f'{self._label} capillarity'}, {part}"

    def _with_meniscus(self, column: Length, part: str, when: str = "") -> Length:
        """Add the error of a meniscus, of each reading unless it is a habit of the tube."""
        statement = self._capillarity
        if statement is None:
            return column
        if self._menisci is not None:
            name = self._meniscus_name(statement, f"{when}{part}")
            error = self._menisci.of(column, name, part)
        else:
            values = np.asarray(column.si.value, dtype=np.float64)
            term = Term(self._habits[part], statement.gain_for(values, self._reference))
            error = Length._from_terms(np.zeros(values.shape), (term,), self._reference.unit)
        standing: Length = column + error
        return standing

    def zero_offset(self, zero: Any) -> Length:
        """Return the difference that the columns show without flow.

        Parameters
        ----------
        zero : (float, float) or sequence of one or two such pairs
            (high, low) in the unit of the scale: one pair, or the pairs before and after
            the set of readings.

        Returns
        -------
        Length, scalar
            One pair: high - low. Two pairs: the mean of the two differences, with a shared
            rectangular "zero drift" of half-width abs(after - before) / 2. Pass it as
            ``zero=`` to several calls to tie their readings to the same zero.

        Raises
        ------
        ShapeError
            Anything but one or two pairs of numbers.
        RangeError
            Readings off the scale.

        Examples
        --------
        >>> from flowunc import Angle, InclinedManometer, Scale
        >>> manometer = InclinedManometer(Scale(1, "mm"), angle=Angle(10, "deg"))
        >>> offset = manometer.zero_offset([(300.5, 300.0), (301.0, 300.0)]).to("mm")
        >>> round(offset.value, 6)
        0.75
        """
        pairs = _zero_pairs(zero, self._label)
        offsets: list[Length] = [
            self._balance(high, low, f"{when}, ")
            for when, (high, low) in zip(ZERO_NAMES[len(pairs)], pairs.tolist(), strict=True)
        ]
        offset = offsets[0]
        if len(offsets) == 2:
            before, after = (high - low for high, low in pairs.tolist())
            offset = (offsets[0] + offsets[1]) / 2 + drift_of(self, before, after)
        return offset.labelled(f"{self._label} zero")

    def _balance(self, high: ArrayLike, low: ArrayLike, when: str) -> Length:
        """Read both columns without flow and return their difference."""
        upper, lower = self._tied(
            self._take(high, part=f"{when}{COLUMNS[0]}"),
            self._take(low, part=f"{when}{COLUMNS[1]}"),
            when,
        )
        balance: Length = self._with_meniscus(upper, COLUMNS[0], when) - self._with_meniscus(
            lower, COLUMNS[1], when
        )
        return balance

    def _difference(self, high: Any, low: Any, zero: Any) -> Length:
        """Return high - low - zero along the scale, refused where the columns look exchanged."""
        upper = self._taken(high, "pressure_drop", "high", "high column")
        lower = self._taken(low, "pressure_drop", "low", "low column")
        if upper.ndim and lower.ndim and 1 < upper.size != lower.size > 1:
            raise ShapeError(
                f"{self._label}: {upper.size} readings of the high column and {lower.size} of "
                "the low column; expected one of each for every flow"
            )
        if not isinstance(high, Quantity) and not isinstance(low, Quantity):
            upper, lower = self._tied(upper, lower)
        elif self._mirrored and _rounded_apart(upper, lower):
            warn_user(
                f"{self._label}: its columns mirror each other, but these were read one by one, "
                "so that their resolutions count as independent; give high= and low= as the "
                "numbers that were read"
            )
        difference: Length = self._with_meniscus(upper, "high column") - self._with_meniscus(
            lower, "low column"
        )
        if zero is None:
            warn_user(
                f"{self._label}: no zero reading, so the offset of the columns counts as 0; give "
                "zero=[(high, low) before, (high, low) after] read without flow"
            )
        else:
            if isinstance(zero, Quantity):
                offset = require_kind(zero, Length, "pressure_drop", "zero")
            else:
                offset = self.zero_offset(zero)
            difference = difference - offset
        refuse_negative(self, difference, "high and low exchanged, or a zero reading missing?")
        return difference

    def _pressure(self, head: Length, contrast: Density, gravity: Any) -> Pressure:
        """Return the pressure difference of a vertical head between two fluids."""
        g: Acceleration = gravity_or_default(gravity, "pressure_drop")
        drop: Pressure = head * contrast * g
        return drop.labelled("pressure drop")


def _rounded_by(column: Length, error: Term) -> Length:
    """Put another resolution error in the place of a column's own."""

    def change(node: Node, terms: tuple[Term, ...]) -> list[Term]:
        return [error if term.component.role == "resolution" else term for term in terms]

    node = with_terms(column._node, change)
    return Length._from_node(node, column._unit, label=column.label)


def _rounded_apart(high: Length, low: Length) -> bool:
    """Tell whether both columns have a resolution, and none in common."""
    own, other = (
        {found for found in column.components if found.role == "resolution"}
        for column in (high, low)
    )
    return bool(own and other) and not own & other


def drift_of(owner: Instrument[Q], before: float, after: float, which: str = "") -> Q:
    """Return the error of a zero that moved from one reading to another, in the scale's unit.

    ``which`` tells several drifts of one instrument apart in budgets.
    """
    component = limits(abs(after - before) / 2).component(
        owner._reference, f"{owner.label} zero drift{which}"
    )
    return owner._kind._from_terms(0.0, (Term(component),), owner._reference.unit)


def refuse_negative(owner: Instrument[Q], difference: Q, question: str) -> None:
    """Refuse a difference that is negative by far more than its uncertainty."""
    values = np.asarray(difference.si.value)
    if not np.any(values < 0):
        return
    spread = np.asarray(difference.si.u)
    bad = values < -_FAR * spread
    if bad.any():
        place = f", reading {int(np.argmax(bad))}" if bad.ndim else ""
        unit = owner.scale.parsed_unit
        worst = unit.from_si(float(values[bad].flat[0]))
        noise = unit.from_si(float(spread[bad].flat[0]))
        raise RangeError(
            f"{owner.label}{place}: the difference is {worst:.4g} {unit} with a standard "
            f"uncertainty of {noise:.2g} {unit}; expected 0 or more: {question}"
        )


def _zero_pairs(zero: ArrayLike, label: str) -> NDArray[np.float64]:
    expected = "expected (high, low), or [(high, low) before, (high, low) after] as numbers"
    try:
        raw = np.asarray(zero)
    except (TypeError, ValueError):  # rows of different lengths, or quantities
        raise ShapeError(f"{label}: zero={zero!r}; {expected}") from None
    if raw.dtype.kind not in "iuf" or raw.shape not in ((2,), (1, 2), (2, 2)):
        raise ShapeError(f"{label}: zero={zero!r}; {expected}")
    return np.atleast_2d(raw).astype(np.float64)
