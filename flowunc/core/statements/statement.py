"""What a statement is, and how it becomes components of a quantity.

A statement knows the distribution it stands for and how its error enters a reading, but no
value yet: the quantity or the instrument that takes it supplies value, unit and span. On
one value a statement is one error; on readings it is an independent error for each, unless
wrapped in `shared`.
"""

from __future__ import annotations

import math
import sys
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Distribution
from flowunc.core.errors import StatementError, UnitError
from flowunc.core.units import Unit, coherent_unit, parse_unit

__all__ = [
    "Absolute",
    "Gain",
    "Reference",
    "Statement",
    "check_statement_unit",
    "shared",
    "terms_of",
]

Gain = float | NDArray[np.float64]


@dataclass(frozen=True)
class Reference:
    """What a statement refers to.

    Attributes
    ----------
    label : str
        Name of the quantity or instrument.
    unit : Unit
        Unit of the value; a statement without a unit of its own is in it.
    size : int or None
        Number of readings, None for one value, "any" before readings are known.
    span : tuple of float, optional
        Lowest and highest reading of the scale, coherent SI.
    """

    label: str
    unit: Unit
    size: int | Literal["any"] | None = None
    span: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Statement(ABC):
    """Base of all statements. ``label`` names the component, ``role`` describes it."""

    label: str | None = None
    per_reading: bool = field(default=True, repr=False)
    source: str = field(default="", repr=False)

    @property
    @abstractmethod
    def role(self) -> str:
        """One or two words that tell this statement from others on the same quantity."""

    @abstractmethod
    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution in coherent SI and the unit in which to show it."""

    def gain_for(self, values: NDArray[np.float64], reference: Reference) -> Gain:
        """Return the sensitivity of each reading (coherent SI) to the error: 1 by default."""
        return 1.0

    @property
    def evaluation(self) -> Literal["A", "B"]:
        """Type of evaluation [JCGM 100, 2.3.2 and 2.3.3]."""
        return "B"

    @property
    def degrees_of_freedom(self) -> float | NDArray[np.float64]:
        """Degrees of freedom, infinite unless stated."""
        return math.inf

    def component(self, reference: Reference, name: str) -> Component:
        """Make the component, once for each quantity or instrument."""
        distribution, unit = self.distribution_for(reference)
        size = distribution.size
        if size is not None and reference.size not in ("any", size):
            readings = "one value" if reference.size is None else f"{reference.size} readings"
            raise StatementError(
                f"{self.role} of {reference.label}: {size} uncertainties for {readings}; "
                "expected one number, or one for each reading"
            )
        each = self.per_reading and reference.size is not None
        if size is not None and not each:
            raise StatementError(
                f"{self.role} of {reference.label}: a shared error has one size, got {size}"
            )
        return Component(
            label=self.label or name,
            distribution=distribution,
            unit=unit,
            scope="each" if each else "shared",
            evaluation=self.evaluation,
            dof=self.degrees_of_freedom,
            source=self.source or reference.label,
        )


def terms_of(
    statements: Sequence[Statement], values: NDArray[np.float64], reference: Reference
) -> tuple[Term, ...]:
    """Turn the statements on one quantity into terms of its record."""
    terms = []
    roles: dict[str, int] = {}
    for statement in statements:
        if not isinstance(statement, Statement):
            raise StatementError(
                f"{statement!r} on {reference.label}: expected a statement such as limits(0.5) "
                "or standard(0.2) after value and unit"
            )
        name = reference.label
        if len(statements) > 1:
            number = roles[statement.role] = roles.get(statement.role, 0) + 1
            name = f"{reference.label} {statement.role}" + (f" {number}" if number > 1 else "")
        component = statement.component(reference, name)
        try:
            with np.errstate(over="raise"):
                terms.append(Term(component, statement.gain_for(values, reference)))
        except FloatingPointError:
            raise StatementError(
                f"{statement.role} on {reference.label}: an uncertainty beyond "
                f"{sys.float_info.max:.3g} in coherent SI, the largest number there is"
            ) from None
    return tuple(terms)


@dataclass(frozen=True, kw_only=True)
class Absolute(Statement):
    """An error stated in the dimension of the value itself."""

    distribution: Distribution
    unit: str | None = None
    kind_of_evaluation: Literal["A", "B"] = "B"
    dof: float | NDArray[np.float64] = math.inf
    wording: str = "uncertainty"

    @property
    def role(self) -> str:
        """What the statement is called."""
        return self.wording

    @property
    def evaluation(self) -> Literal["A", "B"]:
        """Type A for repeats, else B."""
        return self.kind_of_evaluation

    @property
    def degrees_of_freedom(self) -> float | NDArray[np.float64]:
        """Degrees of freedom as stated."""
        return self.dof

    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution scaled to coherent SI, and the unit it was stated in."""
        unit = reference.unit
        if self.unit is not None:
            unit = parse_unit(self.unit)
            if unit.dimension is not reference.unit.dimension:
                raise StatementError(
                    f"{self.wording} in '{unit}' on {reference.label} in '{reference.unit}': "
                    "expected a unit of the same dimension"
                )
        # an uncertainty of a temperature is a difference: scale only, shown in kelvin
        shown = coherent_unit(unit.dimension) if unit.is_offset else unit
        try:
            return self.distribution.scaled(unit.factor), shown
        except StatementError as error:
            raise StatementError(
                f"{self.wording} in '{unit}' on {reference.label}: too large to be written in "
                f"coherent SI; expected numbers up to {sys.float_info.max / unit.factor:.3g}"
            ) from error


def check_statement_unit(unit: Any, name: str) -> str | None:
    """Return the unit of a statement, refused unless text that names a unit."""
    if unit is None:
        return None
    if not isinstance(unit, str):
        raise StatementError(
            f"{name}(..., {unit!r}): the second argument is a unit such as 'mm'; "
            "give dof=, k= or level= by name"
        )
    try:
        parse_unit(unit)
    except UnitError as error:
        raise StatementError(f"{name}: {error}") from error
    return unit


def shared(statement: Statement) -> Statement:
    """Make a statement one error behind all readings instead of one for each.

    Examples
    --------
    >>> from flowunc import Length, limits, shared
    >>> marks = Length([10, 20], "mm", shared(limits(0.5)))
    >>> (marks[1] - marks[0]).u
    0.0
    """
    if not isinstance(statement, Statement):
        raise StatementError(f"shared({statement!r}): expected a statement such as limits(0.5)")
    return replace(statement, per_reading=False)
