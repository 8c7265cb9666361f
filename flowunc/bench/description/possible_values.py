"""Uncertainties that cannot be: a bore of 20 mm within 25 mm would have no inside.

Nearly always a unit is wrong, or a decimal point.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.description.toml_table import TomlTable
from flowunc.core.distributions import Distribution
from flowunc.core.kinds import (
    Acceleration,
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Length,
    Mass,
    VolumeFlowRate,
)
from flowunc.core.quantity import Quantity
from flowunc.core.record import Input

__all__ = ["Floor", "refuse_impossible"]

# What the true value may be: above 0, 0 as well (a smooth wall), or anything (a height).
Floor = Literal["above 0", "from 0", "anything"]

_NEVER_NEGATIVE = (
    Acceleration,
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Length,
    Mass,
    VolumeFlowRate,
)
_STANDARD = 2.0  # u of an error without limits that would leave 2 % below 0


def refuse_impossible(table: TomlTable, name: str | None, given: Quantity, floor: Floor) -> None:
    """Refuse a value that its own uncertainty would let be 0 or less.

    Parameters
    ----------
    table : TomlTable
        Where it stands.
    name : str or None
        Its key there, None for the table itself.
    given : Quantity
        As it was stated: nothing computed.
    floor : {"above 0", "from 0", "anything"}
        What the true value may be.

    Raises
    ------
    BenchError
        Names file and key.
    """
    node = given._node
    if floor == "anything" or not isinstance(given, _NEVER_NEGATIVE):
        return
    if not isinstance(node.operation, Input):
        return
    values = np.atleast_1d(node.value)
    for term in node.operation.terms:
        law = term.component.distribution
        size = np.atleast_1d(np.abs(term.gain) * _largest(law, floor))
        wrong = (size >= values) if floor == "above 0" else (size > values)
        wrong &= values > 0  # what is not is refused for itself
        if wrong.any():
            place = int(np.argmax(wrong))
            value, most = (
                given._unit.scale_from_si(float(np.broadcast_to(numbers, wrong.shape)[place]))
                for numbers in (values, size)
            )
            least = "0 or less" if floor == "above 0" else "less than 0"
            raise table.error(
                f"{value:g} {given.unit} with an error of up to {most:g} {given.unit} could be "
                f"{least}; expected a smaller uncertainty: is its unit that of the value?",
                name,
            )


def _largest(law: Distribution, floor: Floor) -> NDArray[np.float64]:
    """Return the size of an error that can occur, in coherent SI."""
    limit = getattr(law, "half_width", None)
    if limit is not None:
        return np.asarray(limit, dtype=np.float64)
    factor = _STANDARD if floor == "above 0" else 1.0
    return np.asarray(factor * law.standard_uncertainty, dtype=np.float64)
