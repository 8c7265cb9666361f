"""The elementary operations that a document may name, by names that stay.

A document holds a name, never code. It is looked up among the operations that the modules of
flowunc keep in variables of their own name. All layers are loaded for that, whatever a document
says; nothing is imported or run because of what stands in it. So core need not know which
operations the higher layers have. Their names are part of the form of a
document, laid down in ``quantities.schema.json``.
"""

from __future__ import annotations

import inspect
import sys
from typing import NamedTuple

import numpy as np

from flowunc.core.engine import load_layers
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise

__all__ = ["EXACT", "KnownOperation", "known_operations", "name_of_operation"]

_PACKAGE = "flowunc."
# IEEE 754 defines these to the last bit, so their results need not be written down.
_DEFINED = "add subtract multiply divide negative reciprocal absolute square sqrt maximum minimum"
EXACT = frozenset(_DEFINED.split())


class KnownOperation(NamedTuple):
    """An operation that a document may name.

    Attributes
    ----------
    operation : Elementwise
    arguments : int
        How many it takes.
    """

    operation: Elementwise
    arguments: int


def known_operations() -> dict[str, KnownOperation]:
    """Return the operations of flowunc by their names in documents.

    Examples
    --------
    >>> known_operations()["arctan2"]
    KnownOperation(operation=<operation arctan2>, arguments=2)
    """
    load_layers()
    return {
        _name(value): KnownOperation(value, _arguments(value))
        for module in list(sys.modules)
        if module.startswith(_PACKAGE)
        for value in list(vars(sys.modules[module]).values())
        if isinstance(value, Elementwise) and value.__module__ == module and _is_kept(value)
    }


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
    if operation.__module__.startswith(_PACKAGE) and _is_kept(operation):
        return _name(operation)
    raise PropagationError(
        f"the operation {operation.label!r} cannot be written as JSON: only elementary operations "
        "of flowunc can, since a document holds names and no code; build the model from "
        "arithmetic, or pickle it for use in your own programs"
    )


def _name(operation: Elementwise) -> str:
    return operation.name.lower()


def _is_kept(operation: Elementwise) -> bool:
    """Tell whether an operation stands where its name says, as it has to be for a pickle, too."""
    module = sys.modules.get(operation.__module__)
    return getattr(module, operation.name, None) is operation


def _arguments(operation: Elementwise) -> int:
    evaluate = operation.evaluate
    if isinstance(evaluate, np.ufunc):
        return evaluate.nin
    return len(inspect.signature(evaluate).parameters.keys() - {"out"})
