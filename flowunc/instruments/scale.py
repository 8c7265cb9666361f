"""`Scale`: what an observer reads from, with the resolution of one reading."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.component import Component, Term
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.statements import Reference, Statement, limits
from flowunc.core.units import Unit, parse_unit

__all__ = ["Scale"]

_KINDS = ("graduated", "digital", "vernier")
# a reading such as 3 * 0.1 may pass the last mark by rounding only
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Scale:
    """Describe the scale or the display of an instrument.

    Parameters
    ----------
    division : float
        Distance of two marks (of the main scale, if there is a vernier), or one step of the
        last digit, in ``unit``; above 0.
    unit : str
        Unit of the readings, such as "mm", "L/min" or "degC".
    span : (float, float), optional
        Lowest and highest reading in ``unit``. Readings off it are refused, and a
        percentage of full scale refers to its upper end.
    kind : {"graduated", "digital", "vernier"}
        Marks that an observer reads between, digits, or marks with a vernier.
    read_to : float, optional
        Fraction of a division to which the observer reads a graduated scale, above 0 and
        up to 1; 1 (the nearest mark) if left out.
    vernier_divisions : int, optional
        Divisions of the vernier, such as 10, 20 or 50; for ``kind="vernier"`` only.
    parallax : Statement, optional
        Error of an eye that is not square to the scale, such as ``limits(0.3)``: new at every
        reading. ``shared(...)`` makes it the habit of one observer, behind all readings.
    zero_error : Statement, optional
        What is not known of the zero of the scale, such as ``limits(0.02)`` for the closed
        jaws of a caliper: one error behind all readings of the instrument, which cancels in
        differences. Subtract a zero error that is known from the readings.

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
        Another kind of scale, ``read_to`` for a display or a vernier, a vernier without its
        divisions, a parallax or zero error that is no statement.

    Notes
    -----
    The error of one reading is rectangular with the half-width read_to * division / 2, on a
    display half the last digit [JCGM 100, F.2.2.1]. That a graduated scale is read to the
    nearest mark unless stated otherwise is common practice, no source. A vernier is read to
    the line that meets another one best, so to the nearest division / vernier_divisions; its
    half-width is half of that (common practice, no source).

    Examples
    --------
    >>> from flowunc import Scale
    >>> Scale(1, "mm").half_width, Scale(1, "mm", read_to=0.5).half_width
    (0.5, 0.25)
    >>> Scale(1, "mm", kind="vernier", vernier_divisions=20).half_width
    0.025
    """

    division: float
    unit: str
    span: tuple[float, float] | None = None
    _: KW_ONLY
    kind: Literal["graduated", "digital", "vernier"] = "graduated"
    read_to: float | None = None
    vernier_divisions: int | None = None
    parallax: Statement | None = None
    zero_error: Statement | None = None

    def __post_init__(self) -> None:
        parse_unit(self.unit)
        shown = f"Scale in '{self.unit}'"
        division = _finite(self.division, f"{shown}: division")
        if not division > 0:
            raise RangeError(f"{shown}: division {division:g}; expected above 0")
        object.__setattr__(self, "division", division)
        if self.kind not in _KINDS:
            raise StatementError(
                f"{shown}: kind {self.kind!r}; expected 'graduated' (marks), 'digital' (digits) "
                "or 'vernier' (marks with a vernier)"
            )
        if self.read_to is not None:
            read_to = _finite(self.read_to, f"{shown}: read_to")
            if not 0 < read_to <= 1:
                raise RangeError(
                    f"{shown}: read_to {read_to:g}; expected the fraction of a division, above 0 "
                    "and up to 1, such as 0.5"
                )
            if self.kind != "graduated" and read_to != 1:
                read = "a digital display, which is read to its last digit"
                if self.kind == "vernier":
                    read = "a vernier, which is read to the line that meets another one"
                raise StatementError(f"{shown}: read_to {read_to:g} of {read}: leave read_to out")
            object.__setattr__(self, "read_to", read_to)
        self._check_vernier(shown)
        if self.span is not None:
            object.__setattr__(self, "span", self._checked_span(self.span, shown))
        self._check_errors(shown)

    def _check_vernier(self, shown: str) -> None:
        count = self.vernier_divisions
        if self.kind != "vernier":
            if count is not None:
                raise StatementError(
                    f"{shown}: vernier_divisions {count!r} of a {self.kind} scale; give "
                    "kind='vernier', or leave it out"
                )
            return
        whole = isinstance(count, (int, np.integer)) and not isinstance(count, bool)
        if count is None or not whole or count < 2:
            raise StatementError(
                f"{shown}: vernier_divisions {count!r}; expected a whole number of 2 or more "
                "beside the division of the main scale, such as Scale(1, 'mm', kind='vernier', "
                "vernier_divisions=20) for a caliper that reads to 0.05 mm"
            )
        object.__setattr__(self, "vernier_divisions", int(count))

    def _check_errors(self, shown: str) -> None:
        for name in ("parallax", "zero_error"):
            given = getattr(self, name)
            if given is None:
                continue
            if not isinstance(given, Statement):
                raise StatementError(
                    f"{shown}: {name} {given!r}; expected a statement such as limits(0.2), 0 in "
                    "the mean: subtract what is known from the readings"
                )
            reference = Reference(f"{shown}, {name}", self.parsed_unit, None, self.span_si)
            given.component(reference, name)  # a unit or a number that does not fit is refused
            if np.ndim(given.gain_for(np.array([1.0, 2.0]), reference)):
                raise StatementError(
                    f"{shown}: {name} as {given.role} grows with the reading; state limits(...), "
                    "or give it as accuracy= of the instrument"
                )

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
        step = (1.0 if self.read_to is None else self.read_to) * self.division
        return step / (self.vernier_divisions or 1) / 2.0

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
        return replace(limits(self.half_width).component(reference, name), role="resolution")

    def standing_errors(self, reference: Reference) -> tuple[tuple[Statement, Component], ...]:
        """Make the errors of the scale behind every reading of one instrument.

        Parameters
        ----------
        reference : Reference
            The instrument.

        Returns
        -------
        tuple of (Statement, Component)
            Zero error, and the parallax of one observer if it is stated as ``shared(...)``:
            new components at every call, so call it once for each instrument.

        Examples
        --------
        >>> from flowunc import Balance, Scale, limits
        >>> balance = Balance(Scale(1, "g", zero_error=limits(2)))
        >>> [component.label for component in balance.read(850).components]
        ['balance resolution', 'balance zero error']
        """
        standing = []
        if self.zero_error is not None:
            standing.append(("zero error", self.zero_error))
        if self.parallax is not None and not self.parallax.per_reading:
            standing.append(("parallax", self.parallax))
        one = replace(reference, size=None)
        return tuple(
            (statement, statement.component(one, f"{reference.label} {name}"))
            for name, statement in standing
        )

    def parallax_terms(
        self, values: NDArray[np.float64], reference: Reference, part: str | None = None
    ) -> list[Term]:
        """Make the parallax of new readings, none if it is a habit of the observer.

        Parameters
        ----------
        values : ndarray
            Readings in coherent SI.
        reference : Reference
            The instrument, with the number of readings.
        part : str, optional
            What tells these readings from others of one result, such as "high column".

        Returns
        -------
        list of Term
            One or none.

        Examples
        --------
        >>> from flowunc import Scale, Vessel, limits
        >>> cylinder = Vessel(Scale(10, "mL", parallax=limits(5)))
        >>> [component.label for component in cylinder.read([310, 820]).components]
        ['vessel resolution', 'vessel parallax']
        """
        statement = self.parallax
        if statement is None or not statement.per_reading:
            return []
        # the label alone would give two columns one name
        name = (statement.label or f"{reference.label} parallax") + (f", {part}" if part else "")
        component = replace(statement, label=None).component(reference, name)
        return [Term(component, statement.gain_for(values, reference))]

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
