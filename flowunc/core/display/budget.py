"""`rounded_budget`: the budget of one reading as it is printed, rounded, in 100 columns.

`Quantity.budget` gives all digits for computing; this is for reading and for the report.
"""

from __future__ import annotations

import math
from typing import Any

from flowunc.core.arguments import check_level
from flowunc.core.display.rounding import round_number, round_pair
from flowunc.core.display.rows import label_of, unit_of
from flowunc.core.display.tables import ShownTable
from flowunc.core.errors import DimensionError
from flowunc.core.quantity import Quantity

__all__ = ["rounded_budget"]

_SMALLEST_SHARE = 0.0005  # printed as 0.1 %


def rounded_budget(
    quantity: Quantity, row: int | None = None, *, level: float = 0.95
) -> ShownTable:
    """Round the uncertainty budget of one reading for reading.

    Parameters
    ----------
    quantity : Quantity
    row : int, optional
        Reading, counted from 0; may be left out for a single value.
    level : float
        Coverage probability of the expanded uncertainty.

    Returns
    -------
    ShownTable
        ``print`` shows it in 100 columns, a notebook as a table, ``.latex()`` gives source for a
        report.

    Raises
    ------
    DimensionError
        Something else than a quantity.
    ShapeError
        Readings without ``row``, or a row that does not exist.

    Notes
    -----
    Columns as in [JCGM 100, H.1.7, table H.1]: component, standard uncertainty u, sensitivity
    c, contribution abs(c) u; with them the share of the variance, the type of evaluation, the
    distribution and the degrees of freedom. u and contributions have two significant digits
    [JCGM 100, 7.2.6], sensitivities three.

    Examples
    --------
    >>> from flowunc import Length, Time, limits, rounded_budget, standard
    >>> way = Length(2.0, "m", standard(0.01), label="way")
    >>> speed = way / Time(20.0, "s", limits(0.2), label="stopwatch")
    >>> print(rounded_budget(speed.labelled("speed")))
    Budget of speed: 0.10000 ± 0.00076 m/s
    component  type  distribution      u  unit  dof         c  |c| u/(m/s)   share
    ------------------------------------------------------------------------------
    stopwatch  B     rectangular    0.12  s     inf  -0.00500      0.00058  57.1 %
    way        B     normal        0.010  m     inf    0.0500      0.00050  42.9 %
    combined u = 0.00076 m/s, infinite degrees of freedom; U = 0.0015 m/s, k = 1.96 (95 %)
    c: change of the result in m/s per unit in which u is given
    """
    if not isinstance(quantity, Quantity):
        raise DimensionError(
            f"rounded_budget({quantity!r}): expected a quantity, such as a friction factor"
        )
    checked = check_level(level)
    frame = quantity.budget(row)
    single = quantity if quantity.ndim == 0 else quantity[row]
    unit = unit_of(single)
    heading = f"|c| u/{_bracketed(unit)}" if unit else "|c| u"
    head = ("component", "type", "distribution", "u", "unit", "dof", "c", heading, "share")
    rows = tuple(_cells(line) for line in frame.to_dict("records"))
    return ShownTable(
        title=_title(quantity, single, row),
        head=head,
        rows=rows,
        align="<<<><>>>>",
        notes=_notes(single, checked),
    )


def _title(quantity: Quantity, single: Quantity, row: int | None) -> str:
    name = label_of(quantity) or type(quantity).__name__
    place = "" if quantity.ndim == 0 else f", reading {range(quantity.size)[row or 0]}"
    unit = unit_of(single)
    pair = round_pair(float(single.value), float(single.u)).text
    return f"Budget of {name}{place}: {pair}{f' {unit}' if unit else ''}"


def _cells(line: dict[Any, Any]) -> tuple[str, ...]:
    return (
        " ".join(str(line["component"]).split()),
        line["evaluation"],
        line["distribution"],
        round_number(line["u"]),
        "" if line["unit"] == "1" else line["unit"],
        _freedom(line["dof"]),
        round_number(line["sensitivity"], 3),
        round_number(line["contribution"]),
        _share(line["share"]),
    )


def _freedom(dof: float) -> str:
    """Write degrees of freedom: whole ones without decimals, effective ones with three digits."""
    return f"{dof:.0f}" if math.isinf(dof) or dof >= 100 or dof == int(dof) else f"{dof:.3g}"


def _share(share: float) -> str:
    return "<0.1 %" if 0 < share < _SMALLEST_SHARE else f"{100 * share:.1f} %"


def _bracketed(unit: str) -> str:
    return f"({unit})" if any(sign in unit for sign in "*/ ·") else unit


def _notes(single: Quantity, level: float) -> tuple[str, ...]:
    U, k = single.expanded(level)
    unit = unit_of(single)
    shown = f" {unit}" if unit else ""
    u = float(single.u)
    if u == 0:
        return ("no uncertainty stated",)
    dof = float(single.dof)
    freedom = "infinite" if math.isinf(dof) else f"{_freedom(dof)} effective"
    return (
        f"combined u = {round_number(u)}{shown}, {freedom} degrees of freedom; "
        f"U = {round_number(float(U))}{shown}, k = {k:.2f} ({100 * level:g} %)",
        f"c: change of the result{f' in {unit}' if unit else ''} per unit in which u is given",
    )
