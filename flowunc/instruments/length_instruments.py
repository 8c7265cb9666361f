"""`Rule` and `Caliper`, and the thermal expansion of what they measure.

A rule is read at two marks, and what its maker states holds for the length between them: two
resolutions, one calibration. A caliper is read once; its zero is part of the reading.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.component import Term
from flowunc.core.dimensions import DIMENSIONLESS, TEMPERATURE
from flowunc.core.errors import DimensionError, RangeError, ShapeError
from flowunc.core.kinds import Length, Temperature, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement, terms_of
from flowunc.instruments.instrument import Instrument, first_at

__all__ = ["Caliper", "Rule", "thermally_expanded"]

_REFERENCE = 20.0  # degC, at which lengths are stated unless another is marked [ISO 1:2016]
_LARGEST_EXPANSION = 1e-3  # 1/K; plastics stay below 3e-4


class Rule(Instrument[Length]):
    """A rule or a tape measure.

    Parameters
    ----------
    scale : Scale
        In a unit of length.
    accuracy : Statement or sequence of Statement
        Largest error of the length between any two marks; one error behind all lengths
        measured with this rule.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a unit of length.

    Notes
    -----
    `read` takes the length from the zero of the rule, which is often a worn end: state
    ``zero_error=`` of the scale, or use `between`.

    Examples
    --------
    >>> from flowunc import Rule, Scale, limits
    >>> rule = Rule(Scale(1, "mm", span=(0, 2000)), accuracy=limits(0.5))
    >>> spacing = rule.between(100.0, 1624.0)
    >>> round(spacing.value, 3), round(spacing.u, 4)  # two resolutions, one calibration
    (1524.0, 0.5)
    """

    _kind = Length
    _role: ClassVar[str] = "rule"
    _example: ClassVar[str] = "mm"

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        bad = values < 0
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(values[bad].flat[0]):g} "
                f"{self._scale.unit}; expected 0 or more"
            )

    def between(
        self, start: ArrayLike, end: ArrayLike, *statements: Statement, label: str | None = None
    ) -> Length:
        """Return the length between two marks that were both read.

        Parameters
        ----------
        start, end : float or array_like, shape (n,)
            Marks in the unit of the scale, the lower one first.
        *statements : Statement
            What else is known of the length, such as the width of a tap, ``limits(0.5)``.
        label : str, optional
            Name of the length; the name of the rule if left out.

        Returns
        -------
        Length, scalar or shape (n,)
            In the unit of the scale. Resolution, and parallax, count at both ends; the
            accuracy once, at the length; a zero error, or one observer's parallax, cancels.

        Raises
        ------
        RangeError
            Marks off the scale, or exchanged.
        ShapeError
            Different numbers of marks.
        """
        marks = {"start": start, "end": end}
        read = {name: self._given(value, name) for name, value in marks.items()}
        if read["start"].shape != read["end"].shape:
            raise ShapeError(
                f"{self._label}: {read['start'].size} marks at the start and {read['end'].size} "
                "at the end; expected one of each for every length"
            )
        bad = read["end"] <= read["start"]
        if bad.any():
            lower, upper = (float(read[name][bad].flat[0]) for name in ("start", "end"))
            raise RangeError(
                f"{self._label}{first_at(bad)}: from {lower:g} to {upper:g} {self._scale.unit}; "
                "expected the lower mark first, start and end exchanged?"
            )
        unit = self._reference.unit
        values = np.asarray(unit.to_si(read["end"] - read["start"]), dtype=np.float64)
        size = None if values.ndim == 0 else values.shape[0]
        reference = replace(self._reference, size=size)
        terms: list[Term] = []
        for name, sign in (("start", -1.0), ("end", 1.0)):
            part = name if label is None else f"{label}, {name}"
            at = np.asarray(unit.to_si(read[name]), dtype=np.float64)
            mark = [Term(self._resolution(part, size))]
            mark += self._scale.parallax_terms(at, reference, part)
            terms += [Term(term.component, sign * term.gain) for term in mark]
        terms += [
            Term(component, statement.gain_for(values, self._reference))
            for statement, component in self._calibration
        ]
        mine = [self._sourced(statement) for statement in statements]
        terms += terms_of(mine, values, replace(reference, label=label or f"{self._label} length"))
        return Length._from_terms(values, terms, unit, label or self._label)

    def _given(self, values: Any, name: str) -> NDArray[np.float64]:
        owner = f"{self._label}, {name}"
        marks = read_values(values, f"{owner} in '{self._scale.unit}'")
        self._scale.refuse_off_span(marks, owner)
        self._check_readings(marks)
        return marks

    def _resolution(self, part: str, size: int | None) -> Any:
        return self._scale.resolution_component(
            f"{self._label} resolution, {part}", size, source=self._label
        )


class Caliper(Instrument[Length]):
    """A caliper, a micrometer or a bore gauge: one reading for one length.

    Parameters
    ----------
    scale : Scale
        In a unit of length: ``kind="vernier"``, ``"digital"`` or a dial. Its ``zero_error=``
        is what is not known of the reading with closed jaws.
    accuracy : Statement or sequence of Statement
        Maximum permissible error, or certificate; one error behind all readings.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a unit of length.

    Notes
    -----
    Inside jaws with flats of width w rest on a chord of a round bore: they read
    D - sqrt(D^2 - w^2) too little, about w^2 / (2 D). Add it, or use a bore gauge.

    Examples
    --------
    >>> from flowunc import Caliper, Scale, limits
    >>> scale = Scale(1, "mm", span=(0, 150), kind="vernier", vernier_divisions=20)
    >>> caliper = Caliper(scale, accuracy=limits(0.05))
    >>> round(caliper.read(19.05).u, 4)
    0.0323
    """

    _kind = Length
    _role: ClassVar[str] = "caliper"
    _example: ClassVar[str] = "mm"

    def _check_readings(self, values: NDArray[np.float64]) -> None:
        bad = values <= 0
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(values[bad].flat[0]):g} "
                f"{self._scale.unit}; expected a length above 0; a zero error is subtracted from "
                "the readings, and what is not known of it is zero_error= of the scale"
            )


def thermally_expanded(
    length: Length,
    *,
    temperature: Temperature,
    expansion: Quantity,
    reference: Temperature | None = None,
) -> Length:
    """Return a length at another temperature than the one it is known at.

    Parameters
    ----------
    length : Length, scalar or shape (n,)
        At the reference temperature: a bore as measured, or the length that a rule shows.
    temperature : Temperature, scalar or shape (n,)
        At which the length is wanted; that of the rule, if its own expansion is corrected.
    expansion : Quantity, scalar
        Linear coefficient in "1/K", such as ``Quantity(7e-5, "1/K", limits(1e-5))``.
    reference : Temperature, optional
        20 degC, at which scales are right [ISO 1:2016], if left out.

    Returns
    -------
    Length, scalar or shape (n,)
        In the unit of ``length``.

    Raises
    ------
    DimensionError
        Arguments of another kind.
    RangeError
        A coefficient that is none.

    Notes
    -----
    L (1 + alpha (T - T_ref)). Handbook values of alpha in 1e-6 /K: steel 11.5, brass 19,
    copper 17, aluminium 23, borosilicate glass 3.3, acrylic 70, rigid PVC 70 (common
    practice, no source): 5 K are 0.035 % of an acrylic bore.

    Examples
    --------
    >>> from flowunc import Length, Quantity, Temperature, thermally_expanded
    >>> bore = Length(19.05, "mm")
    >>> warm = thermally_expanded(
    ...     bore, temperature=Temperature(40, "degC"), expansion=Quantity(7e-5, "1/K")
    ... )
    >>> round(warm.value, 4)
    19.0767
    """
    name = "thermally_expanded"
    known = require_kind(length, Length, name, "length")
    at = require_kind(temperature, Temperature, name, "temperature")
    start = Temperature(_REFERENCE, "degC") if reference is None else reference
    start = require_kind(start, Temperature, name, "reference")
    expected = "expected a linear coefficient such as Quantity(1.15e-5, '1/K')"
    if not isinstance(expansion, Quantity):
        raise DimensionError(f"{name}(expansion=...): got {expansion!r}; {expected}")
    if expansion._unit.dimension is not DIMENSIONLESS / TEMPERATURE:
        raise DimensionError(f"{name}(expansion=...): got one in '{expansion.unit}'; {expected}")
    if not bool(np.all(np.abs(expansion._node.value) < _LARGEST_EXPANSION)):
        raise RangeError(
            f"{name}(expansion=...): {expansion.si.value} 1/K; {expected}, below "
            f"{_LARGEST_EXPANSION:g} /K: handbooks list it in 1e-6 /K"
        )
    factor = 1.0 + named_by_role(expansion, "thermal expansion") * (at - start)
    expanded: Length = known * factor
    return expanded.to(known.unit).labelled(known.label)
