"""`rounded_table`: any table of results rounded for reading, in 100 columns."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.display.rounding import round_cells, round_number
from flowunc.core.display.rows import shown_positions
from flowunc.core.display.tables import ShownTable
from flowunc.core.errors import RangeError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Format", "rounded_table"]

Format: TypeAlias = int | str
Write: TypeAlias = Callable[[int], str]

MOST_LINES, HEAD, TAIL = 40, 20, 10
_EMPTY = "-"
_USUAL: dict[str, Format] = {
    "E_n": ".2f",
    "normalised_error": ".2f",
    "independent_normalised_error": ".2f",
    "p_value": 2,
    "share": ".1%",
}
_PARTNERS = ("U({})", "u({})", "u_{}", "{}_u")  # what the tables of flowunc call the u of a column


def rounded_table(
    frame: pd.DataFrame,
    *,
    uncertainty_of: Mapping[str, str | ArrayLike] | None = None,
    formats: Mapping[str, Format] | None = None,
    index: str = "",
    title: str = "",
    notes: tuple[str, ...] = (),
) -> ShownTable:
    """Round a table for reading; the table itself keeps all digits.

    Parameters
    ----------
    frame : pandas.DataFrame
        Such as `Runs.table` or `budget_table` give. Of more than 40 lines both ends are shown.
    uncertainty_of : mapping of str to str or array_like, optional
        For columns of values: the column of their uncertainties, or these themselves.
    formats : mapping of str to int or str, optional
        For other columns: significant digits, or a format specification such as ".2f".
    index : str
        Name for a first column with the index of the lines; none if left out.
    title : str
    notes : tuple of str
        Sentences below the table.

    Returns
    -------
    ShownTable
        ``print`` shows it in 100 columns: long texts go on in the next line, columns that do not
        fit below, with the first one in front of them. A notebook shows all side by side.

    Raises
    ------
    RangeError
        A column that is not there.

    Notes
    -----
    An uncertainty has two significant digits and its value ends with the same one [JCGM 100,
    7.2.6]. Without being told so, ``U(x)``, ``u(x)``, ``u_x`` and ``x_u`` are taken as the
    uncertainty of a column ``x``. E_n has two decimals, a share one per mille, p two significant
    digits, other numbers four; "-" stands for NaN.

    Examples
    --------
    >>> import pandas as pd
    >>> from flowunc import rounded_table
    >>> runs = pd.DataFrame({"run": ["1", "2"], "Re": [1334.71, 8085.7], "U(Re)": [56.9, 162.3]})
    >>> print(rounded_table(runs))
    run    Re  U(Re)
    ----------------
    1    1335     57
    2    8090    160
    """
    names = [str(name) for name in frame.columns]
    chosen = {name: _USUAL[name] for name in names if name in _USUAL} | dict(formats or {})
    partners: dict[str, str | ArrayLike] = {
        name: partner
        for name in names
        for partner in (pattern.format(name) for pattern in _PARTNERS)
        if partner in names and _is_number(frame[name])
    }
    partners |= dict(uncertainty_of or {})
    known = {*names, *(each for each in partners.values() if isinstance(each, str))}
    for name in (*chosen, *partners, *known):
        if name not in names:
            raise RangeError(f"rounded_table: no column {name!r}; expected some of {names}")
    count = len(frame)
    positions = shown_positions(count, MOST_LINES, HEAD, TAIL)
    shown = frame.iloc[positions]
    writers: dict[str, Write] = {}
    for name, partner in partners.items():
        if isinstance(partner, str):
            spreads = np.asarray(shown[partner], dtype=np.float64)
            writers.setdefault(partner, _spread(spreads))
        else:
            whole = np.broadcast_to(np.asarray(partner, dtype=np.float64), (count,))
            spreads = whole[positions]
        writers[name] = _value(np.asarray(shown[name], dtype=np.float64), spreads)
    for name, wanted in chosen.items():
        writers[name] = _formatted(np.asarray(shown[name], dtype=np.float64), wanted)
    columns = [writers.get(name) or _plain(shown[name]) for name in names]
    rows: list[tuple[str, ...]] = [
        tuple(write(row) for write in columns) for row in range(len(positions))
    ]
    sides = [">" if _is_number(frame[name]) else "<" for name in names]
    if index:
        rows = [(_text(key), *row) for key, row in zip(shown.index, rows, strict=True)]
        names, sides = [index, *names], [">", *sides]
    if count > len(positions):
        rows.insert(HEAD, (f"... {count - len(positions)} of {count} lines not shown ...",))
    return ShownTable(
        title=title, head=tuple(names), rows=tuple(rows), align="".join(sides), notes=notes
    )


def _is_number(column: Any) -> bool:
    return bool(column.dtype.kind in "iuf")


def _value(values: NDArray[np.float64], spreads: NDArray[np.float64]) -> Write:
    def write(row: int) -> str:
        value, spread = float(values[row]), float(spreads[row])
        if np.isnan(value):
            return _EMPTY
        if not np.isfinite(spread):
            return _number(value)
        return round_cells(value, abs(spread))[0]

    return write


def _spread(spreads: NDArray[np.float64]) -> Write:
    return lambda row: _EMPTY if np.isnan(spreads[row]) else round_number(float(spreads[row]))


def _formatted(values: NDArray[np.float64], wanted: Format) -> Write:
    def write(row: int) -> str:
        value = float(values[row])
        if np.isnan(value):
            return _EMPTY
        return round_number(value, wanted) if isinstance(wanted, int) else format(value, wanted)

    return write


def _plain(column: Any) -> Write:
    """Write what has no rule of its own: four digits, yes and no, texts on one line."""
    kind, cells = column.dtype.kind, column.to_numpy()
    if kind == "f":
        return lambda row: _number(float(cells[row]))
    if kind == "b":
        return lambda row: "yes" if cells[row] else "no"
    return lambda row: _text(cells[row])


def _number(value: float) -> str:
    if np.isnan(value):
        return _EMPTY
    # digits before the decimal point are not given away for an "e"
    return f"{value:.0f}" if 1e4 <= abs(value) < 1e7 else f"{value + 0.0:.4g}"


def _text(cell: Any) -> str:
    if cell is None or (isinstance(cell, float) and np.isnan(cell)):
        return _EMPTY
    if isinstance(cell, bool | np.bool_):
        return "yes" if cell else "no"
    return " ".join(str(cell).split())
