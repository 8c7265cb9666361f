"""The uncertainty budget of one reading, as a table."""

from __future__ import annotations

import math
import operator
from typing import TYPE_CHECKING, Any

import numpy as np

from flowunc.core.errors import ShapeError
from flowunc.core.quantity import Quantity
from flowunc.propagation.contributions import contributions

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["budget", "distinct_labels"]


def distinct_labels(labels: list[str]) -> list[str]:
    """Return labels no two of which are alike: a second "bore" becomes "bore (2)"."""
    taken: set[str] = set()
    result = []
    for label in labels:
        name, number = label, 1
        while name in taken:
            number += 1
            name = f"{label} ({number})"
        taken.add(name)
        result.append(name)
    return result


def check_row(quantity: Quantity, row: int | None) -> int:
    """Return the row of a budget: needed for readings, 0 for a single value."""
    if quantity.ndim == 0:
        if row not in (None, 0):
            raise ShapeError(f"row={row!r} of a single value: leave it out")
        return 0
    count = len(quantity)
    try:
        chosen = operator.index(row)  # type: ignore[arg-type]  # None is refused here
    except TypeError:
        raise ShapeError(
            f"row={row!r}: expected which of the {count} readings, as in budget(row=0)"
        ) from None
    if not -count <= chosen < count:
        raise ShapeError(f"row={row}: expected 0 to {count - 1}")
    return chosen % count


def _lines(single: Quantity) -> list[dict[str, Any]]:
    """Return one line per component of a single value, pools joined to one line each."""
    to_unit = single._unit.scale_from_si
    lines: list[dict[str, Any]] = []
    pools: dict[str, dict[str, Any]] = {}
    for part in contributions(single._node):
        component, pool = part.component, part.component.pool
        signed = float(to_unit(part.per_row()[0]))
        own = component.unit
        u = float(own.scale_from_si(part.standard_uncertainty_per_row()[0]))
        line = {
            "component": component.label,
            "source": component.source or component.label,
            "scope": component.scope,
            "evaluation": component.evaluation,
            "distribution": component.distribution.name,
            "u": u,
            "unit": str(own),
            "dof": float(part.dof_per_row()[0]),
            "sensitivity": signed / u if u else 0.0,
            "contribution": abs(signed),
            "share": 0.0,
        }
        if pool is None:
            lines.append(line)
        elif pool.key in pools:
            joined = pools[pool.key]
            joined["contribution"] = math.hypot(joined["contribution"], abs(signed))
            joined["u"] = joined["contribution"]
        else:
            # what was estimated together is stated as it reaches the result
            line |= {"component": pool.label, "distribution": "multivariate t"}
            line |= {"u": abs(signed), "unit": single.unit, "sensitivity": 1.0}
            pools[pool.key] = line
            lines.append(line)
    return lines


def budget(quantity: Quantity, row: int | None = None) -> pd.DataFrame:
    """Return the budget of one reading; see `Quantity.budget`.

    Notes
    -----
    ``u`` is in ``unit``, the component's own. ``sensitivity`` is the change of the result (in
    its unit) per unit of the component, ``contribution`` the product of both without sign,
    ``share`` its part of the variance [JCGM 100, 5.1.3 and H.1, table H.1].
    """
    import pandas as pd

    chosen = check_row(quantity, row)
    single = quantity if quantity.ndim == 0 else quantity[chosen]
    lines = _lines(single)
    columns = [
        "component",
        "evaluation",
        "distribution",
        "u",
        "unit",
        "dof",
        "sensitivity",
        "contribution",
        "share",
        "scope",
        "source",
    ]
    for line, name in zip(
        lines, distinct_labels([line["component"] for line in lines]), strict=True
    ):
        line["component"] = name
    largest = max((line["contribution"] for line in lines), default=0.0)
    if largest > 0:
        total = float(np.sum([(line["contribution"] / largest) ** 2 for line in lines]))
        for line in lines:
            line["share"] = (line["contribution"] / largest) ** 2 / total
    lines.sort(key=lambda line: -line["contribution"])
    return pd.DataFrame(lines, columns=columns)
