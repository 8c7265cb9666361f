"""`Stopwatch`: a time interval with the reaction of the observer at both ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Term
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.kinds import Time
from flowunc.core.statements import Statement
from flowunc.instruments.instrument import Instrument, first_at
from flowunc.instruments.scale import Scale

__all__ = ["Stopwatch"]

_ENDS = (("start", -1.0), ("stop", 1.0))  # a late start shortens the interval


class Stopwatch(Instrument[Time]):
    """A stopwatch, started and stopped by hand.

    Parameters
    ----------
    scale : Scale
        In a unit of time.
    accuracy : Statement or sequence of Statement
        Of its rate; one error behind all readings.
    reaction : Statement, optional
        Error of one press, such as ``limits(0.2)``: one at the start and one at the stop,
        independent, and new at every reading. ``shared(...)`` makes them two habits of one
        observer that stand behind all readings.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a unit of time.
    StatementError
        A reaction that is no statement.

    Examples
    --------
    >>> from flowunc import Scale, Stopwatch, limits
    >>> watch = Stopwatch(Scale(0.01, "s", kind="digital"), reaction=limits(0.2))
    >>> round(watch.read(60.0).u, 4)  # sqrt(2) * 0.2 / sqrt(3)
    0.1633
    >>> [component.label for component in watch.read(60.0).components]
    ['stopwatch resolution', 'stopwatch reaction at start', 'stopwatch reaction at stop']
    """

    _kind = Time
    _role: ClassVar[str] = "stopwatch"
    _example: ClassVar[str] = "s"

    def __init__(
        self,
        scale: Scale,
        accuracy: Statement | Sequence[Statement] = (),
        reaction: Statement | None = None,
        *,
        label: str | None = None,
    ) -> None:
        super().__init__(scale, accuracy, label=label)
        if reaction is not None and not isinstance(reaction, Statement):
            raise StatementError(
                f"Stopwatch(reaction={reaction!r}): expected a statement such as limits(0.2)"
            )
        self._reaction = reaction
        self._habits: tuple[Component, ...] = ()
        if reaction is not None and not reaction.per_reading:
            self._habits = self._presses(reaction, None)

    @property
    def reaction(self) -> Statement | None:
        """Error of one press."""
        return self._reaction

    def _presses(self, reaction: Statement, size: int | None) -> tuple[Component, ...]:
        name = reaction.label or f"{self._label} reaction"
        reference = replace(self._reference, size=size)
        return tuple(
            # the label would give both presses one name
            replace(reaction, label=None).component(reference, f"{name} at {end}")
            for end, _ in _ENDS
        )

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        bad = values <= 0
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(values[bad].flat[0]):g} "
                f"{self._scale.unit}; expected a time above 0"
            )

    def _completed(self, reading: Time) -> Time:
        if self._reaction is None:
            return reading
        si = np.asarray(reading.si.value, dtype=np.float64)
        gain = self._reaction.gain_for(si, self._reference)
        size = None if si.ndim == 0 else si.shape[0]
        presses = self._habits or self._presses(self._reaction, size)
        terms = [
            Term(component, sign * gain)
            for component, (_, sign) in zip(presses, _ENDS, strict=True)
        ]
        error = Time._from_terms(np.zeros(si.shape), terms, self._reference.unit)
        timed: Time = reading + error
        return timed.to(self._scale.unit).labelled(reading.label)
