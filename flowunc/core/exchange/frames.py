"""Tables: quantities as a pandas DataFrame with units in its headers, and back.

A column "flow [L/h]" has values, "u(flow) [L/h]" their standard uncertainties. A table holds
numbers only, so correlations are lost: read back, the errors of all readings are independent of
each other. `to_json` keeps them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError, UnitError
from flowunc.core.quantity import Quantity
from flowunc.core.record import common_size
from flowunc.core.statements import Statement, standard
from flowunc.core.units import Unit, coherent_unit, parse_unit

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["from_frame", "to_frame"]

_HEADER = re.compile(r"(?P<name>[^\[\]]*[^\[\]\s])\s*\[(?P<unit>[^\[\]]*)\]")
_UNCERTAINTY = re.compile(r"u\((?P<name>.*)\)")
_EXPECTED = 'expected "name [unit]", such as "flow [L/h]"'


class _Column(NamedTuple):
    """A header, taken apart."""

    header: str
    name: str
    unit: Unit


def to_frame(
    quantities: Quantity | Mapping[str, Quantity], *, uncertainty: bool = True
) -> pd.DataFrame:
    """Return quantities as a table, one row for each reading.

    Parameters
    ----------
    quantities : Quantity, or mapping of str to Quantity
        Of one length; a single value stands in every row. A quantity by itself goes by its
        label, or by its kind in words.
    uncertainty : bool
        Whether each has a column of standard uncertainties beside it.

    Returns
    -------
    pandas.DataFrame
        Columns "name [unit]" and "u(name) [unit]". The uncertainty of a temperature is a
        difference, in K. The table is a copy: changing it changes no quantity.

    Raises
    ------
    ShapeError
        Different numbers of readings.
    RangeError
        A name that a header cannot hold: with brackets, or like "u(flow)".

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, standard, to_frame
    >>> print(to_frame({"flow": VolumeFlowRate([90, 120], "L/h", standard(2))}))
       flow [L/h]  u(flow) [L/h]
    0        90.0            2.0
    1       120.0            2.0
    """
    import pandas as pd

    if isinstance(quantities, Quantity):
        quantities = {quantities.label or quantities._word(): quantities}
    elif not isinstance(quantities, Mapping):
        raise DimensionError(
            f"to_frame of {type(quantities).__name__}: expected a quantity, or a mapping of names "
            "to quantities"
        )
    if not quantities:
        raise ShapeError("to_frame: got no quantity; expected at least one")
    for name, quantity in quantities.items():
        if not isinstance(quantity, Quantity):
            raise DimensionError(
                f"to_frame: {name!r} is a {type(quantity).__name__}; expected quantities"
            )
        _check_name(name)
    size = common_size([quantity._node for quantity in quantities.values()])
    columns: dict[str, NDArray[np.float64]] = {}
    for name, quantity in quantities.items():
        columns[f"{name} [{quantity.unit}]"] = _filled(quantity.value, size)
        if uncertainty:
            unit = quantity._unit
            shown = coherent_unit(unit.dimension) if unit.is_offset else unit
            width = shown.scale_from_si(quantity._u_si())
            columns[f"u({name}) [{shown}]"] = _filled(width, size)
    return pd.DataFrame(columns)


def _check_name(name: Any) -> None:
    whole = isinstance(name, str) and _HEADER.fullmatch(f"{name} [1]")
    if not whole or name != name.strip() or _UNCERTAINTY.fullmatch(name):
        raise RangeError(
            f"to_frame: the name {name!r} cannot stand in a header; expected text without square "
            "brackets that is not itself u(...)"
        )


def _filled(values: Any, size: int | None) -> NDArray[np.float64]:
    return np.array(np.broadcast_to(values, (size or 1,)), dtype=np.float64)


def from_frame(
    frame: pd.DataFrame,
    statements: Mapping[str, Statement | Sequence[Statement]] | None = None,
    *,
    kinds: Mapping[str, type[Quantity]] | None = None,
    skip: Collection[str] = (),
) -> dict[str, Quantity]:
    """Read quantities from a table whose headers have units.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns "name [unit]", and "u(name) [unit]" with standard uncertainties: one
        independent error for each reading. The unit of a pure number is "1".
    statements : mapping of str to Statement, or to several, optional
        What else is known of the uncertainty, by name.
    kinds : mapping of str to kind, optional
        Where the dimension does not tell: kinds of dimension one, and `Temperature` for a
        column in K, which is taken for a difference otherwise.
    skip : collection of str
        Headers of columns to leave out, such as remarks.

    Returns
    -------
    dict of str to Quantity
        Each of shape (n,), by name, which is also its label. They keep nothing of the table.

    Raises
    ------
    RangeError
        NaN, infinity, something missing or no number: names row and column. A header without
        unit, or a name that stands twice.
    UnitError
        An unknown unit, or one of another dimension than the kind or the value has.
    ShapeError
        No rows.
    StatementError
        A negative uncertainty; uncertainties or statements for a name without values.

    Examples
    --------
    >>> import pandas as pd
    >>> from flowunc import from_frame, limits
    >>> table = pd.DataFrame({"flow [L/h]": [90.0, 120.0], "u(flow) [%]": [1.0, 1.0]})
    >>> from_frame(table)
    Traceback (most recent call last):
        ...
    flowunc.core.errors.UnitError: column 'u(flow) [%]': ...
    >>> found = from_frame(table, {"flow": limits(2)}, skip=["u(flow) [%]"])
    >>> print(found["flow"])
    flow (2 readings, L/h): 90.0 ± 1.2, 120.0 ± 1.2
    """
    import pandas as pd

    if not isinstance(frame, pd.DataFrame):
        raise DimensionError(f"from_frame of {type(frame).__name__}: expected a pandas DataFrame")
    stated, chosen = dict(statements or {}), dict(kinds or {})
    values: dict[str, tuple[_Column, NDArray[np.float64]]] = {}
    widths: dict[str, tuple[_Column, NDArray[np.float64]]] = {}
    for column, numbers in _columns(frame, skip):
        match = _UNCERTAINTY.fullmatch(column.name)
        name, found = (match["name"].strip(), widths) if match else (column.name, values)
        if name in found:
            raise RangeError(
                f"columns {found[name][0].header!r} and {column.header!r}: both are "
                f"{column.name!r}; expected one"
            )
        found[name] = column, numbers
    for what, names in (("statements", stated), ("kinds", chosen), ("uncertainties", widths)):
        for name in names:
            if name not in values:
                raise StatementError(
                    f"from_frame: {what} for {name!r}, but no column has its values; expected one "
                    f"of {', '.join(map(repr, values)) or 'none'}"
                )
    return {
        name: _quantity(column, numbers, widths.get(name), stated.get(name, ()), chosen.get(name))
        for name, (column, numbers) in values.items()
    }


def _columns(
    frame: pd.DataFrame, skip: Collection[str]
) -> Iterator[tuple[_Column, NDArray[np.float64]]]:
    """Return the columns that are read, taken apart and checked."""
    if isinstance(skip, str):
        raise RangeError(
            f"from_frame(skip={skip!r}): expected a list of headers, such as [{skip!r}]"
        )
    headers = list(frame.columns)
    for header in skip:
        if header not in headers:
            raise RangeError(f"from_frame(skip=...): no column {header!r}; expected headers")
    if not len(frame):
        raise ShapeError("from_frame: the table has no rows; expected at least one")
    for place, header in enumerate(headers):
        if header not in skip:
            column = _taken_apart(header)
            yield column, _numbers(frame.iloc[:, place], column.header)


def _taken_apart(header: Any) -> _Column:
    match = _HEADER.fullmatch(header.strip()) if isinstance(header, str) else None
    if match is None:
        raise RangeError(
            f"column {header!r} has no unit; {_EXPECTED}, or leave the column out with "
            f"skip=[{header!r}]"
        )
    try:
        unit = parse_unit(match["unit"].strip())
    except UnitError as error:
        raise UnitError(f"column {header!r}: {error}") from error
    return _Column(header, match["name"].strip(), unit)


def _numbers(column: pd.Series[Any], header: str) -> NDArray[np.float64]:
    """Return the numbers of a column as an array of their own."""
    import pandas as pd

    def refuse(row: int, found: str) -> None:
        raise RangeError(
            f"column {header!r}, row {column.index[row]!r}: {found}; expected a finite number"
        )

    missing = np.asarray(column.isna(), dtype=bool)
    if missing.any():
        refuse(int(np.argmax(missing)), "the number is missing (NaN)")
    plain = pd.api.types.is_float_dtype(column.dtype) or pd.api.types.is_integer_dtype(column.dtype)
    if not plain:
        _each_a_number(column, refuse)
    numbers = np.array(column.to_numpy(dtype=np.float64), dtype=np.float64)
    if not np.isfinite(numbers).all():
        refuse(int(np.argmin(np.isfinite(numbers))), "infinity")
    return numbers


def _each_a_number(column: pd.Series[Any], refuse: Callable[[int, str], None]) -> None:
    for row, entry in enumerate(column):
        good = isinstance(entry, (int, float, np.integer, np.floating))
        if not good or isinstance(entry, bool):
            refuse(row, f"got {entry!r}")


def _quantity(
    column: _Column,
    numbers: NDArray[np.float64],
    width: tuple[_Column, NDArray[np.float64]] | None,
    given: Statement | Sequence[Statement],
    chosen: type[Quantity] | None,
) -> Quantity:
    unit = column.unit
    kind: Any = _kind(unit) if chosen is None else chosen
    if not (isinstance(kind, type) and issubclass(kind, Quantity)):
        raise DimensionError(
            f"from_frame(kinds=...): {column.name!r} is {kind!r}; expected a kind such as "
            "flowunc.Angle"
        )
    if isinstance(given, (str, bytes)) or not isinstance(given, (Statement, Sequence)):
        raise StatementError(
            f"from_frame: {given!r} for {column.name!r}; expected a statement such as limits(0.5), "
            "or several"
        )
    several = [given] if isinstance(given, Statement) else list(given)
    if width is not None:
        several.insert(0, _standard(column, *width))
    with_place = f"column {column.header!r}"
    try:
        made: Quantity = kind(numbers, str(unit), *several, label=column.name)
    except UnitError as error:
        raise UnitError(f"{with_place}: {error}") from error
    except RangeError as error:
        raise RangeError(f"{with_place}: {error}") from error
    return made


def _standard(column: _Column, own: _Column, width: NDArray[np.float64]) -> Statement:
    """Return the statement of a column of standard uncertainties."""
    if own.unit.dimension is not column.unit.dimension:
        raise UnitError(
            f"column {own.header!r}: '{own.unit}' is no unit of an uncertainty of "
            f"{column.header!r}; expected one such as '{column.unit}'"
        )
    try:
        return standard(width, str(own.unit))
    except StatementError as error:
        raise StatementError(f"column {own.header!r}: {error}") from error


def _kind(unit: Unit) -> type[Quantity]:
    """Return the kind of a dimension; kelvins may be a difference, so no temperature."""
    kind = Quantity._by_dimension.get(unit.dimension, Quantity)
    return Quantity if kind._absolute and not unit.is_offset else kind
