"""What must be measured better, and by how much, to reach a target uncertainty."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.budget_lines import (
    BudgetLines,
    Grouping,
    budget_lines,
    check_grouping,
    relative_expanded,
    require_quantity,
)
from flowunc.core.arguments import check_level
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.quantity import Quantity
from flowunc.propagation.budget import check_row
from flowunc.propagation.coverage import t_factor

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["improvements"]

_STEPS = 1000  # U of a part that shrinks need not fall all the way; so finely it is looked at


def improvements(
    quantity: Quantity,
    *,
    target: float | None = None,
    relative_target: float | None = None,
    row: int | None = None,
    level: float = 0.95,
    by: Grouping = "source",
) -> pd.DataFrame:
    """Return what must be measured better to reach a target, the first thing to improve on top.

    Parameters
    ----------
    quantity : Quantity, scalar or shape (n,)
    target : float
        Expanded uncertainty to be reached, in the unit of the quantity, above 0.
    relative_target : float
        In place of ``target``: a fraction of the value, such as 0.02 for 2 %.
    row : int, optional
        Reading, counted from 0; may be left out for a single value.
    level : float
        Coverage probability of the target.
    by : {"source", "component", "scope", "evaluation"}
        What is improved as one, with the same factor for all of its components.

    Returns
    -------
    pandas.DataFrame
        One line per source: its name, how many components, share of the variance, u and unit (its
        own for a single component, otherwise of its contribution to the result), and

        - factor: what its u must be multiplied with, all else unchanged, so that U is the target;
          NaN where it alone cannot. Above 1 where the target is reached already: so much may u
          grow.
        - u_needed: that factor times u.
        - U_without: U without any error of this source, the best it can do.
        - factor_with_above: the same factor for this source and all above it together.
        - outcome: "enough alone", "alone cannot" or "target reached".

    Raises
    ------
    DimensionError
        Something else than a quantity.
    ShapeError
        Readings without ``row``, or a row that does not exist.
    StatementError
        Both targets, or none.
    RangeError
        A target not above 0; a relative target of 1 or more; a fraction of a value of 0 or of a
        temperature; another grouping.

    Notes
    -----
    With the contribution c of the source and r of all others, s^2 c^2 + r^2 = (target/k)^2
    [JCGM 100, 5.1.2]. k depends on s where degrees of freedom are finite [JCGM 100, G.4.1]; the
    largest s is then found by root finding. With few repeats behind the rest, k grows as the
    others shrink, and a source may do its best somewhere above s = 0.

    Sources are sorted by the factor that is enough, so that the least change comes first, then by
    U_without; where the target is reached, by share.

    Examples
    --------
    >>> from flowunc import Length, improvements, standard
    >>> a = Length(1.0, "m", standard(4.0, "mm"), label="a")
    >>> b = Length(1.0, "m", standard(3.0, "mm"), label="b")
    >>> table = improvements((a + b).to("mm"), target=8.0)
    >>> print(table[["source", "share", "u", "factor", "U_without"]].round(4).to_string())
      source  share    u  factor  U_without
    0      a   0.64  4.0  0.6919     5.8799
    1      b   0.36  3.0  0.2709     7.8399
    """
    import pandas as pd

    require_quantity(quantity, "improvements")
    check_grouping(by, "improvements")
    checked = check_level(level)
    chosen = check_row(quantity, row)
    single = quantity if quantity.ndim == 0 else quantity[chosen]
    wanted = _target(single, target, relative_target)
    lines = budget_lines(single)
    u = float(single.u)
    groups = lines.groups(by)
    parts = {name: _part(lines, members, checked) for name, members in groups.items()}
    rows = [
        {
            by: name,
            "components": members.size,
            "share": parts[name].share,
            **_stated(lines, members),
            "factor": _factor(parts[name], wanted / u if u else math.inf),
            "U_without": u * float(parts[name].expanded(0.0)),
        }
        for name, members in groups.items()
    ]
    reached = u * float(t_factor(np.asarray(single.dof), checked)) <= wanted
    rows.sort(key=lambda line: (-line["share"],) if reached else _first_to_improve(line))
    above = np.empty(0, dtype=np.intp)
    for line in rows:
        above = np.concatenate([above, groups[line[by]]])
        together = _part(lines, above, checked)
        line["u_needed"] = line["factor"] * line["u"]
        line["factor_with_above"] = _factor(together, wanted / u if u else math.inf)
        enough = "alone cannot" if math.isnan(line["factor"]) else "enough alone"
        line["outcome"] = "target reached" if reached else enough
    columns = [by, "components", "share", "u", "unit", "factor", "u_needed", "U_without"]
    return pd.DataFrame(rows, columns=[*columns, "factor_with_above", "outcome"])


def _first_to_improve(line: dict[str, Any]) -> tuple[float, ...]:
    factor = line["factor"]
    return (math.inf if math.isnan(factor) else -factor, line["U_without"], -line["share"])


def _target(single: Quantity, target: Any, relative: Any) -> float:
    """Return the target in the unit of the quantity."""
    if (target is None) == (relative is None):
        raise StatementError(
            f"improvements(target={target!r}, relative_target={relative!r}): expected one of the "
            f"two, an expanded uncertainty in '{single.unit}' or a fraction of the value"
        )
    name, given = ("target", target) if relative is None else ("relative_target", relative)
    number = isinstance(given, (int, float, np.integer, np.floating))
    if isinstance(given, bool) or not number or not (math.isfinite(given) and given > 0):
        raise RangeError(f"improvements({name}={given!r}): expected a finite number above 0")
    if relative is None:
        return float(given)
    if given >= 1:
        hint = f"; did you mean {given / 100:g}, which is {given:g} %?" if given < 100 else ""
        raise RangeError(
            f"improvements(relative_target={given!r}): expected a fraction between 0 and 1 such "
            f"as 0.03{hint}"
        )
    if single._absolute or single.value == 0:
        raise RangeError(
            f"improvements(relative_target={given!r}) of {single.value:g} {single.unit}: a "
            "fraction of it says nothing; give target= in the unit of the quantity"
        )
    return float(given) * abs(float(single.value))


class _Part(NamedTuple):
    """What is improved, and the rest: shares of the variance and terms of 1/dof_eff."""

    share: float
    loss: float
    rest: float
    rest_loss: float
    level: float

    def expanded(self, factor: Any) -> NDArray[np.float64]:
        """Return U in units of the present u, with the part multiplied by a factor."""
        return relative_expanded(
            self.rest, self.rest_loss, self.share, self.loss, factor, self.level
        )


def _part(lines: BudgetLines, members: NDArray[np.intp], level: float) -> _Part:
    inside = np.zeros(len(lines.parts), dtype=bool)
    inside[members] = True
    # the rest is summed by itself: one minus a large share would lose the digits of a small rest
    own, rest = (
        (float(lines.share[chosen].sum()), float(lines.loss[chosen].sum()))
        for chosen in (inside, ~inside)
    )
    return _Part(*own, *rest, level)


def _stated(lines: BudgetLines, members: NDArray[np.intp]) -> dict[str, Any]:
    if members.size == 1:
        line = int(members[0])
        return {"u": float(lines.u[line, 0]), "unit": lines.texts()["unit"][line]}
    return {"u": float(lines.combined([members])[0, 0]), "unit": lines.quantity.unit}


def _factor(part: _Part, wanted: float) -> float:
    """Return the largest factor with which U is at most so many times the present u."""
    enough_now = float(part.expanded(1.0)) <= wanted
    if part.share == 0:
        return math.inf if enough_now else math.nan
    normal = float(t_factor(np.asarray(np.inf), part.level))
    if part.loss == 0 and part.rest_loss == 0:
        square = ((wanted / normal) ** 2 - part.rest) / part.share
        return math.sqrt(square) if square >= 0 else math.nan
    from scipy.optimize import brentq  # slow to load, and needed for finite dof only

    def excess(factor: Any) -> Any:
        return part.expanded(factor) - wanted

    if enough_now:
        # k is never below that of the normal distribution, so U is above the target there
        high = max(wanted / (normal * math.sqrt(part.share)), 1.0) * (1 + 1e-9)
        return float(brentq(excess, 1.0, high, xtol=1e-15, rtol=1e-14))
    steps = np.linspace(0.0, 1.0, _STEPS + 1)
    low_enough = np.flatnonzero(excess(steps) <= 0)
    if not low_enough.size:
        return math.nan
    last = min(int(low_enough[-1]), _STEPS - 1)
    return float(brentq(excess, steps[last], steps[last + 1], xtol=1e-15, rtol=1e-14))
