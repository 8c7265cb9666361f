"""The elementary operations that a document may name, by names that stay.

A document holds a name, never code: what it names is looked up in this fixed table. The table
says where the package keeps each operation. Those of higher layers are found only once their
module has been loaded; nothing is imported for a document.
"""

from __future__ import annotations

import sys
from typing import NamedTuple

from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise

__all__ = ["EXACT", "KNOWN", "OperationPlace", "known_operation", "name_of_operation"]


class OperationPlace(NamedTuple):
    """Where an operation is kept.

    Attributes
    ----------
    module, variable : str
    arguments : int
        How many it takes.
    """

    module: str
    variable: str
    arguments: int


_BINARY = "add subtract multiply divide power pole_power hypot arctan2 maximum minimum"
_UNARY = (
    "negative reciprocal absolute square sqrt cbrt exp exp2 expm1 log log2 log10 log1p sin cos tan "
    "arcsin arccos arctan sinh cosh tanh arcsinh arccosh arctanh erf erfc ndtr"
)
_ELSEWHERE = {
    "fluids.water_operations": {"water_density": 1, "water_viscosity": 1, "water_compression": 1},
    "fluids.seawater": {"three_halves": 1},
    "instruments.discharge_coefficient": {
        "corner_taps": 3,
        "d_and_d_2_taps": 3,
        "flange_taps": 3,
    },
    "instruments.platinum_resistance": {"platinum_ratio": 1, "platinum_temperature": 1},
    "pipe.laws.implicit": {"wright_omega": 1},
    "pipe.laws.superpipe": {"mckeon": 1},
}


def _core(names: str, arguments: int) -> dict[str, OperationPlace]:
    return {
        name: OperationPlace("flowunc.core.operations", name.upper(), arguments)
        for name in names.split()
    }


KNOWN: dict[str, OperationPlace] = (
    _core(_BINARY, 2)
    | _core(_UNARY, 1)
    | {
        name: OperationPlace(f"flowunc.{module}", name.upper(), arguments)
        for module, found in _ELSEWHERE.items()
        for name, arguments in found.items()
    }
)
# IEEE 754 defines these to the last bit, so their results need not be written down.
_DEFINED = "add subtract multiply divide negative reciprocal absolute square sqrt maximum minimum"
EXACT = frozenset(_DEFINED.split())


def known_operation(name: str) -> Elementwise:
    """Return the operation of a name.

    Raises
    ------
    PropagationError
        No such name, or one whose module has not been loaded.

    Examples
    --------
    >>> known_operation("arctan2")
    <operation arctan2>
    """
    place = KNOWN.get(name)
    if place is None:
        raise PropagationError(
            f"the operation {name[:40]!r} is not known to this flowunc: expected an elementary one "
            "such as 'multiply'; a file from a newer flowunc needs that one"
        )
    module = sys.modules.get(place.module)
    found = getattr(module, place.variable, None)
    if not isinstance(found, Elementwise):
        raise PropagationError(
            f"the operation {name!r} belongs to {place.module}, which is not loaded: "
            f"`import {place.module}` first, and read again"
        )
    return found


def name_of_operation(operation: Elementwise) -> str:
    """Return the name under which a document may refer to an operation.

    Raises
    ------
    PropagationError
        An operation of the user, which a document cannot hold.

    Examples
    --------
    >>> from flowunc.core.operations import LOG10
    >>> name_of_operation(LOG10)
    'log10'
    """
    name = operation.name.lower()
    place = KNOWN.get(name)
    if place is not None and place.module == operation.__module__:
        module = sys.modules.get(place.module)
        if getattr(module, place.variable, None) is operation:
            return name
    raise PropagationError(
        f"the operation {operation.label!r} cannot be written as JSON: only elementary operations "
        "of flowunc can, since a document holds names and no code; build the model from "
        "arithmetic, or pickle it for use in your own programs"
    )
