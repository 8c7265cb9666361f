"""A record evaluated once more where one of its errors has another value than 0.

What a result would be if the bore were smaller by 0.4 mm, with every other error as before: the
input moves by gain * error, and all that was computed from it is computed again.
"""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component
from flowunc.core.record import Input, Node, input_node
from flowunc.core.rewriting import recomputed

__all__ = ["with_moved_error"]


def with_moved_error(output: Node, component: Component, column: int | None, error: float) -> Node:
    """Return the record behind a node, computed with another value of one error.

    Parameters
    ----------
    output : Node
    component : Component
    column : int or None
        Reading of the component, where it has a fresh value for each; None for a shared one.
    error : float
        In coherent SI.

    Returns
    -------
    Node
        With the same components behind it; the output itself where the component is not.

    Raises
    ------
    PropagationError
        A value that is not finite on the way.

    Examples
    --------
    >>> from flowunc import Length, limits
    >>> side = Length(2.0, "m", limits(0.1))
    >>> (component,) = side.components
    >>> float(with_moved_error((side**2)._node, component, None, 0.5).value)
    6.25
    """

    def replacement(node: Node) -> Node | None:
        if not isinstance(node.operation, Input):
            return None
        moved = _moved(node, node.operation, component, column, error)
        return None if moved is node else moved

    return recomputed(output, replacement)


def _moved(
    node: Node, operation: Input, component: Component, column: int | None, error: float
) -> Node:
    terms = operation.terms
    gains = [term.gain for term in terms if term.component == component]
    if not gains:
        return node
    moves = np.zeros(node.value.shape)
    for gain in gains:
        moves = moves + np.asarray(gain) * error
    if column is not None:
        only = np.zeros(node.size or 1)
        if column >= only.size:
            return node
        only[column] = 1.0
        moves = moves * (only if node.size is not None else only[0])
    return input_node(node.value + moves, terms)
