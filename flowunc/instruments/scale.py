"""`Scale`: what an observer reads from, with the resolution of one reading."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.component import Component
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.statements import Reference, limits
from flowunc.core.units import Unit, parse_unit

__all__ = ["Scale"]

_KINDS = ("graduated", "digital")
# a reading such as 3 * 0.1 may pass the last mark by rounding only
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Scale:
    """Describe the scale or the display of an instrument.

    Parameters
    ----------
    division : float
        Distance of two marks, or one step of the last digit, in ``unit``; above 0.
    unit : str
        Unit of the readings, such as "mm", "L/min" or "degC".
    span : (float, float), optional
        Lowest and highest reading in ``unit``. Readings off it are refused, and a
        percentage of full scale refers to its upper end.
    kind : {"graduated", "digital"}
        Marks that an observer reads between, or digits.
    read_to : float, optional
        Fraction of a division to which the observer reads a graduated scale, above 0 and
        up to 1; 1 (the nearest mark) if left out.

    Attributes
    ----------
    half_width : float
        Largest error of one reading either way, in ``unit``.

    Raises
    ------
    RangeError
        Division, span or fraction out of range.
    UnitError
        Unknown unit.
    StatementError
        Another kind of scale, or ``read_to`` for a display.

    Notes
    -----
    The error of one reading is rectangular with the half-width read_to * division / 2, on a
    display half the last digit [JCGM 100, F.2.2.1]. That a graduated scale is read to the
    nearest mark unless stated otherwise is common practice, no source.

    Examples
    --------
    >>> from flowunc import Scale
    >>> Scale(1, "mm").half_width, Scale(1, "mm", read_to=0.5).half_width
    (0.5, 0.25)
    """

    division: float
    unit: str
    span: tuple[float, float] | None = None
    _: KW_ONLY
    kind: Literal["graduated", "digital"] = "graduated"
    read_to: float | None = None

    def __post_init__(self) -> None:
        parse_unit(self.unit)
        shown = f"Scale in '{self.unit}'"
        division = _finite(self.division, f"{shown}: division")
        if not division > 0:
            raise RangeError(f"{shown}: division {division:g}; expected above 0")
        object.__setattr__(self, "division", division)
        if self.kind not in _KINDS:
            raise StatementError(
                f"{shown}: kind {self.kind!r}; expected 'graduated' (marks) or 'digital' (digits)"
            )
        if self.read_to is not None:
            read_to = _finite(self.read_to, f"{shown}: read_to")
            if not 0 < read_to <= 1:
                raise RangeError(
                    f"{shown}: read_to {read_to:g}; expected the fraction of a division, above 0 "
                    "and up to 1, such as 0.5"
                )
            if self.kind == "digital" and read_to != 1:
                raise StatementError(
                    f"{shown}: read_to {read_to:g} of a digital display, which is read to its "
                    "last digit: leave read_to out"
                )
            object.__setattr__(self, "read_to", read_to)
        if self.span is not None:
            object.__setattr__(self, "span", self._checked_span(self.span, shown))

    def _checked_span(self, span: Any, shown: str) -> tuple[float, float]:
        if isinstance(span, str) or not np.iterable(span) or len(list(span)) != 2:
            raise RangeError(f"{shown}: span {span!r}; expected (lowest, highest) reading")
        low, high = (_finite(end, f"{shown}: span") for end in span)
        if not low < high:
            raise RangeError(
                f"{shown}: span ({low:g}, {high:g}); expected the lowest reading first"
            )
        if self.division > high - low:
            raise RangeError(
                f"{shown}: one division of {self.division:g} is wider than the span "
                f"({low:g}, {high:g}); check which number is which"
            )
        return low, high

    @property
    def parsed_unit(self) -> Unit:
        """Unit of the readings with its factor."""
        return parse_unit(self.unit)

    @property
    def span_si(self) -> tuple[float, float] | None:
        """Lowest and highest reading in coherent SI."""
        if self.span is None:
            return None
        low, high = self.span
        return self.parsed_unit.to_si(low), self.parsed_unit.to_si(high)

    @property
    def half_width(self) -> float:
        """Largest error of one reading either way, in the unit of the scale."""
        return (1.0 if self.read_to is None else self.read_to) * self.division / 2.0

    def resolution_component(
        self, name: str, size: int | None = None, *, source: str = ""
    ) -> Component:
        """Make the component of the resolution for one value or for several readings.

        Parameters
        ----------
        name : str
            Name in budgets.
        size : int, optional
            Number of readings, each with an error of its own; one value if left out.
        source : str
            The instrument, by which budgets can be grouped.

        Returns
        -------
        Component
            A new one at every call: each reading is an error of its own.

        Examples
        --------
        >>> from flowunc import Scale
        >>> Scale(0.5, "degC").resolution_component("thermometer resolution", 3).scope
        'each'
        """
        reference = Reference(source or name, self.parsed_unit, size)
        return limits(self.half_width).component(reference, name)

    def check(self, values: ArrayLike, owner: str = "scale") -> None:
        """Refuse readings that the scale cannot show.

        Parameters
        ----------
        values : float or array_like, shape (n,)
            Readings in the unit of the scale.
        owner : str
            Instrument to name in the message.

        Raises
        ------
        RangeError
            Off the span; names the first such reading, counted from 0.

        Examples
        --------
        >>> from flowunc import Scale
        >>> Scale(0.1, "L/min", span=(0.4, 4.0)).check([0.4, 2.0, 4.0])
        """
        self.refuse_off_span(read_values(values, f"{owner} in '{self.unit}'"), owner)

    def refuse_off_span(self, readings: NDArray[np.float64], owner: str) -> None:
        """Refuse checked readings off the span, naming the first; see `check`."""
        if self.span is None:
            return
        low, high = self.span
        slack = _ROUNDING * self.division
        if readings.min() < low - slack or readings.max() > high + slack:
            off = (readings < low - slack) | (readings > high + slack)
            first = int(np.argmax(off))
            place = f", reading {first}" if readings.ndim else ""
            raise RangeError(
                f"{owner}{place}: {float(readings.flat[first]):g} {self.unit} lies off the scale, "
                f"which spans {low:g} to {high:g} {self.unit}; check the number and which "
                "instrument was read"
            )


def _finite(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise RangeError(f"{what} {value!r}; expected a number")
    if not math.isfinite(value):
        raise RangeError(f"{what} {value!r}; expected a finite number")
    return float(value)
