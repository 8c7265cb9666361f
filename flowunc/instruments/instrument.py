"""`Instrument`: a scale with its calibration, made once and shared by all of its readings.

An instrument is a thing on the bench. Its calibration error is one unknown value for each
statement of accuracy, drawn up when the object is made: two readings of one object are
correlated through it, two objects never are, even with the same numbers. Copies and pickles
are the same instrument. The resolution is a new error at every reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar, Generic, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.component import Component, Term
from flowunc.core.errors import (
    DimensionError,
    RangeError,
    StatementError,
    UnitError,
)
from flowunc.core.kinds import require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Reference, Statement, terms_of
from flowunc.instruments.scale import Scale

__all__ = ["Instrument", "first_at"]

Q = TypeVar("Q", bound=Quantity)


class Instrument(Generic[Q]):
    """Base of the instruments: what a scale reads becomes a typed quantity.

    Parameters
    ----------
    scale : Scale
        What is read.
    accuracy : Statement or sequence of Statement
        What data sheet or certificate says of the calibration; several add up.
    label : str, optional
        Name in budgets, such as "small meter"; the kind of instrument if left out.

    Raises
    ------
    UnitError
        A scale in a unit that the instrument cannot show.
    StatementError
        An accuracy that does not fit the scale, such as per cent of full scale without a
        span.
    """

    _kind: type[Q]
    _role: ClassVar[str] = "instrument"
    _example: ClassVar[str] = "1"

    def __init_subclass__(cls, **options: Any) -> None:
        super().__init_subclass__(**options)
        # a base for instruments of several kinds still has its type parameter
        generic = bool(getattr(cls, "__parameters__", ()))
        if not generic and not hasattr(cls, "_kind"):
            raise TypeError(
                f"class {cls.__name__}(Instrument): expected the kind of quantity it reads as a "
                "class attribute, such as _kind = Length"
            )

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        *,
        label: str | None = None,
    ) -> None:
        name = type(self).__name__
        self._label = self._role if label is None else _name(label, name)
        if not isinstance(scale, Scale):
            raise DimensionError(
                f"{name}(scale=...): got {type(scale).__name__} {scale!r}; expected a Scale such "
                f"as Scale(1, '{self._example}')"
            )
        unit = scale.parsed_unit
        dimension = self._kind.dimension
        if unit.dimension is not dimension:
            raise UnitError(
                f"{self._label}: scale in '{scale.unit}'; expected a unit of {self._kind._word()} "
                f"such as '{self._example}'"
            )
        self._scale = scale
        self._accuracy = (accuracy,) if isinstance(accuracy, Statement) else _listed(accuracy, name)
        self._reference = Reference(self._label, unit, None, scale.span_si)
        several = len(self._accuracy) > 1
        self._calibration: tuple[tuple[Statement, Component], ...] = tuple(
            (
                statement,
                replace(
                    statement.component(
                        self._reference,
                        f"{self._label} calibration" + (f", {statement.role}" if several else ""),
                    ),
                    role="calibration",
                ),
            )
            for statement in self._accuracy
        )
        self._standing = scale.standing_errors(self._reference)

    @property
    def scale(self) -> Scale:
        """What is read."""
        return self._scale

    @property
    def accuracy(self) -> tuple[Statement, ...]:
        """What is stated of the calibration."""
        return self._accuracy

    @property
    def label(self) -> str:
        """Name in budgets."""
        return self._label

    @property
    def calibration(self) -> tuple[Component, ...]:
        """The components behind every reading of this instrument."""
        return tuple(component for _, component in self._calibration)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} '{self._label}', {self._scale}>"

    def read(self, values: ArrayLike, *statements: Statement, label: str | None = None) -> Q:
        """Turn numbers read from the scale into a quantity with its uncertainty.

        Parameters
        ----------
        values : float or array_like, shape (n,)
            Readings in the unit of the scale.
        *statements : Statement
            What is known besides accuracy and resolution, such as the swing of the pointer,
            ``limits(0.2)``, or the scatter of repeats behind a mean,
            ``repeated([...])``: an independent error for each reading.
        label : str, optional
            Name of the quantity and of what belongs to these readings alone; the name of
            the instrument if left out.

        Returns
        -------
        Quantity, scalar or shape (n,)
            In the unit of the scale. Resolution errors are independent for every reading,
            the calibration error is one for all readings this instrument ever takes.

        Raises
        ------
        RangeError
            A reading off the scale; NaN, infinity or text.
        ShapeError
            More than one axis, or no reading.
        """
        return self._take(values, statements, label)

    def _take(
        self,
        values: ArrayLike,
        statements: Sequence[Statement] = (),
        label: str | None = None,
        part: str = "",
    ) -> Q:
        """Read, with ``part`` telling the resolutions of one result apart ("high column")."""
        owner = f"{self._label}, {part}" if part else self._label
        given = read_values(values, f"{owner} in '{self._scale.unit}'")
        self._scale.refuse_off_span(given, owner)
        self._check_readings(given)
        si = np.asarray(self._reference.unit.to_si(given), dtype=np.float64)
        size = None if si.ndim == 0 else si.shape[0]
        suffix = part or label
        resolution = self._scale.resolution_component(
            f"{self._label} resolution" + (f", {suffix}" if suffix else ""),
            size,
            source=self._label,
        )
        terms = [Term(resolution)]
        terms += [
            Term(component, statement.gain_for(si, self._reference))
            for statement, component in self._calibration + self._standing
        ]
        terms += self._scale.parallax_terms(si, replace(self._reference, size=size), suffix)
        mine = [self._sourced(statement) for statement in statements]
        reference = replace(self._reference, label=label or f"{self._label} reading", size=size)
        terms += terms_of(mine, si, reference)
        reading = self._kind._from_terms(si, terms, self._reference.unit, label or self._label)
        return self._completed(reading)

    def _completed(self, reading: Q) -> Q:
        """Add what belongs to every reading besides the scale: a correction, a reaction."""
        return reading

    def _sourced(self, statement: Any) -> Any:
        if isinstance(statement, Statement) and not statement.source:
            return replace(statement, source=self._label)
        return statement

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        """Refuse readings without meaning, in the unit of the scale; subclasses add rules."""

    def _taken(self, values: Any, function: str, argument: str, part: str = "") -> Q:
        """Read plain numbers; pass on what was read before as a quantity."""
        if isinstance(values, Quantity):
            return require_kind(values, self._kind, function, argument)
        return self._take(values, part=part)


def _name(label: Any, owner: str) -> str:
    if not isinstance(label, str) or not label.strip():
        raise RangeError(f"{owner}(label={label!r}): expected a name such as 'small meter'")
    return label


def _listed(accuracy: Any, name: str) -> tuple[Statement, ...]:
    listed = tuple(accuracy) if isinstance(accuracy, (list, tuple)) else (accuracy,)
    for item in listed:
        if not isinstance(item, Statement):
            raise StatementError(
                f"{name}(accuracy=...): got {item!r}; expected a statement such as "
                "percent_of_reading(2), or several in a tuple"
            )
    return listed


def first_at(bad: Any) -> str:
    """Say which reading is the first bad one: " at reading 2", nothing for a single value."""
    return f" at reading {int(np.argmax(bad))}" if np.ndim(bad) else ""
