"""Curves through tables as JSON: knots and coefficients, checked when they are read.

Unlike the operations of a module, a curve is data of its user, so a step holds all of it. The
knots have to rise and the pieces to go over into one another, else there were no derivative.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import PropagationError
from flowunc.core.exchange.json_components import Json, numbers_json
from flowunc.core.exchange.json_parts import Part
from flowunc.core.piecewise_cubic import PiecewiseCubic

__all__ = ["CURVE", "CURVE_FIELDS", "MOST_KNOTS", "curve_cost", "curve_from", "curve_json"]

CURVE = "piecewise_cubic"
CURVE_FIELDS = ("label", "knots", "coefficients")
MOST_KNOTS = 10_000  # far beyond any data sheet
_POWERS = 4


def curve_json(curve: PiecewiseCubic) -> Json:
    """Return a curve as fields of its step."""
    if curve.knots.size > MOST_KNOTS:
        raise PropagationError(
            f"the curve {curve.label!r} has {curve.knots.size} knots, and at most {MOST_KNOTS} are "
            "read: make it from fewer entries"
        )
    what = f"a coefficient of {curve.label!r}"
    return {
        "label": curve.label,
        "knots": numbers_json(curve.knots, f"a knot of {curve.label!r}"),
        "coefficients": [numbers_json(row, what) for row in curve.coefficients],
    }


def curve_from(part: Part, given: dict[str, Part]) -> PiecewiseCubic:
    """Read a curve from the fields of its step."""
    knots = _listed(given["knots"], MOST_KNOTS)
    rows = list(given["coefficients"].items())
    if len(rows) != _POWERS:
        given["coefficients"].expected("four lists, of the powers 0 to 3")
    coefficients = [_listed(row, MOST_KNOTS + 1) for row in rows]
    for row, found in zip(rows, coefficients, strict=True):
        if found.size != knots.size + 1:
            row.expected(f"a list of {knots.size + 1}, one more than there are knots")
    label = given["label"].text()
    with part.placed():
        return PiecewiseCubic(label, knots, np.array(coefficients))


def _listed(part: Part, most: int) -> NDArray[np.float64]:
    if type(part.value) is not list or len(part.value) > most:
        part.expected(f"a list of {most} numbers at most")
    found: Any = part.numbers()
    return np.asarray(found)


def curve_cost(operation: object) -> int:
    """Return how many numbers an operation holds itself."""
    if isinstance(operation, PiecewiseCubic):
        return operation.knots.size + operation.coefficients.size
    return 0
