"""The budgets of all readings of a result in one table, and what halving a part would gain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.budget_lines import Grouping, budget_lines, check_grouping, require_quantity
from flowunc.analysis.relative_sensitivity import relative_sensitivity
from flowunc.core.arguments import check_level
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["budget_table"]


def budget_table(
    quantity: Quantity, *, by: Grouping = "component", level: float = 0.95
) -> pd.DataFrame:
    """Return the uncertainty budgets of all readings as one tidy table.

    Parameters
    ----------
    quantity : Quantity, scalar or shape (n,)
    by : {"component", "source", "scope", "evaluation"}
        One line for each component, or for all of one instrument or certificate, for what all
        readings share against what each has for itself, for Type A against Type B.
    level : float
        Coverage probability of the expanded uncertainty in ``gain_if_halved``.

    Returns
    -------
    pandas.DataFrame
        Readings in their order, in each the largest contribution first. By component: reading,
        component, source, scope, evaluation, distribution, u, unit, dof, sensitivity,
        relative_sensitivity, contribution, share, gain_if_halved. Otherwise: reading, the group,
        how many components, contribution, share, gain_if_halved.

    Raises
    ------
    DimensionError
        Something else than a quantity.
    RangeError
        Another grouping.

    Notes
    -----
    ``u``, ``sensitivity``, ``contribution`` and ``share`` are those of `Quantity.budget` for
    each reading [JCGM 100, 5.1.3], what was estimated together joined to one line as there. A
    component that contributes to some readings only (the calibration of one of two meters) has
    lines for these only; where two components have one label, the second is numbered through
    the whole table.

    ``relative_sensitivity`` is (dy/dx)(x/y): by how many per cent the result y changes when the
    input x behind the component does by one. With x = estimate + gain * error it is
    (dy/d error)(x/gain)/y, so that an error stated as a fraction of x counts as such, at any x.
    It is NaN where there is no such number: for an input or result whose zero is arbitrary (a
    temperature, also a difference of two) or that is 0, for a component behind inputs with
    different x/gain (an error in mm behind two columns of different height), for own errors of
    several readings in one result, and for what was estimated together.

    ``gain_if_halved`` is 1 - U'/U, with U' the expanded uncertainty if the standard uncertainty
    of this line were half as large and its degrees of freedom the same; the effective degrees of
    freedom and k are computed anew [JCGM 100, G.4.1]. It can be negative: where few repeats
    remain to decide, k grows faster than u shrinks.

    Examples
    --------
    >>> from flowunc import Length, Time, budget_table, limits, standard
    >>> way = Length([0.5, 2.0], "m", standard(0.01), label="way")
    >>> speed = way / Time(20.0, "s", limits(0.2), label="stopwatch")
    >>> table = budget_table(speed)
    >>> print(table[["reading", "component", "relative_sensitivity", "share"]].round(3).to_string())
       reading  component  relative_sensitivity  share
    0        0        way                   1.0  0.923
    1        0  stopwatch                  -1.0  0.077
    2        1  stopwatch                  -1.0  0.571
    3        1        way                   1.0  0.429
    """
    import pandas as pd

    require_quantity(quantity, "budget_table")
    check_grouping(by, "budget_table")
    level = check_level(level)
    lines = budget_lines(quantity)
    groups = lines.groups(by)
    members = list(groups.values())
    contribution = lines.combined(members)
    acts = np.array([lines.acts[own].any(axis=0) for own in members]).reshape(contribution.shape)
    of_line: dict[str, Any] = {}
    numbers: dict[str, NDArray[Any]] = {}
    if by == "component":
        of_line = {"component": list(groups)} | lines.texts()
        numbers = {
            "u": lines.u,
            "dof": lines.dof,
            "sensitivity": lines.sensitivity(),
            "relative_sensitivity": relative_sensitivity(lines),
        }
    else:
        counts = [lines.acts[own].sum(axis=0) for own in members]
        of_line = {by: list(groups)}
        numbers = {"components": np.array(counts).reshape(contribution.shape)}
    numbers |= {
        "contribution": contribution,
        "share": np.array([lines.share[own].sum(axis=0) for own in members]).reshape(acts.shape),
        "gain_if_halved": np.array([lines.gain_if_halved(own, level) for own in members]).reshape(
            acts.shape
        ),
    }
    # one entry for each (reading, line): readings in order, the largest contribution first
    reading, line = np.nonzero(acts.T)
    order = np.lexsort((-contribution[line, reading], reading))
    reading, line = reading[order], line[order]
    columns: dict[str, Any] = {"reading": reading}
    columns |= {name: np.array(texts, dtype=object)[line] for name, texts in of_line.items()}
    columns |= {name: values[line, reading] for name, values in numbers.items()}
    return pd.DataFrame(columns, columns=_order_of_columns(by))


def _order_of_columns(by: Grouping) -> list[str]:
    result = ["contribution", "share", "gain_if_halved"]
    if by != "component":
        return ["reading", by, "components", *result]
    stated = ["source", "scope", "evaluation", "distribution", "u", "unit", "dof"]
    return ["reading", by, *stated, "sensitivity", "relative_sensitivity", *result]
