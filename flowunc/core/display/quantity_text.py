r"""Text of a quantity: `str`, `format` and `repr`; HTML and LaTeX are next door.

The specification of `format(quantity, specification)`, also after the colon in an f-string,
is a form; after a further colon the significant digits of the uncertainty (1 to 9; two unless
given); and after " in " the unit::

    specification = [form] [":" digits] ["in" unit]

=================  ========================================  ==================================
form               shows                                     19.05 mm with u = 0.029 mm
=================  ========================================  ==================================
(none)             value ± standard uncertainty              19.050 ± 0.029 mm
``short``          standard uncertainty in parentheses       19.050(29) mm
``expanded``       value ± U at 95 %, and k                  19.050 ± 0.057 mm (k = 1.96)
``expanded 99 %``  the same at another level                 19.050 ± 0.075 mm (k = 2.58, 99 %)
``expanded k=2``   value ± k times the standard uncertainty  19.050 ± 0.058 mm (k = 2)
``relative``       standard uncertainty in % of the value    19.050 mm ± 0.15 %
``latex``          LaTeX source with siunitx commands        \qty{19.050 \pm 0.029}{mm}
``math``           LaTeX formula without a package           $19.050 \pm 0.029\ \mathrm{mm}$
=================  ========================================  ==================================

so that ``short:1`` gives 19.05(3) mm, and ``short:1 in cm`` 1.905(3) cm. All but ``latex`` put
the label in front and show both ends of many readings; ``latex`` is for pasting, so it has no
label and leaves no reading out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from flowunc.core.display.quantity_html import as_html
from flowunc.core.display.quantity_latex import as_latex, siunitx_source
from flowunc.core.display.relative import relative_rows
from flowunc.core.display.rounding import Rounded
from flowunc.core.display.rows import (
    NOT_DEFINED,
    Row,
    Showable,
    expanded_by,
    joined,
    label_of,
    picked,
    rows,
    shown_positions,
    spreads,
    standard_spreads,
    unit_of,
)
from flowunc.core.errors import RangeError

__all__ = ["as_html", "as_latex", "as_text", "represent"]

MOST_READINGS = 8
WIDTH = 100
# Readings of the two ends, most first: the first pair that fits the width is taken.
_ENDS = ((3, 3), (3, 2), (2, 2), (2, 1), (1, 1))
_FORMS = ("", "short", "expanded", "relative", "latex", "math")
_SPECIFICATION = re.compile(
    r"""(?P<form>[a-z]*)
    (?:[ ]k[ ]?=[ ]?(?P<k>[0-9.]+) | [ ](?P<percent>[0-9.]+)[ ]?%)?
    (?: :(?P<digits>[1-9]))?
    (?: (?:^|[ ])in[ ](?P<unit>\S.*))?""",
    re.VERBOSE | re.ASCII,
)


class _Specification(NamedTuple):
    form: str
    digits: int
    unit: str
    k: float | None
    level: float | None


def as_text(quantity: Showable, specification: str = "") -> str:
    """Write a quantity as one line of text.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings.
    specification : str
        Form, digits and unit, such as "", "short", "expanded:1", ":3" or "in L/h"; the table at
        the top of this module shows them all.

    Returns
    -------
    str

    Raises
    ------
    RangeError
        Another specification.
    UnitError
        A unit of another dimension; ``relative`` for a temperature in °C or °F.
    StatementError
        A level or coverage factor that is none.
    PropagationError
        For ``latex``, where the uncertainty is not defined. The other forms say so in the text.

    Notes
    -----
    Rounding is by `round_pair`, for each reading [JCGM 100, 7.2.6]. U at 95 % and k are those
    of `Quantity.expanded` [JCGM 100, G.6.4].

    Examples
    --------
    >>> from flowunc import Length, VolumeFlowRate, standard
    >>> bore = Length(19.05, "mm", standard(0.029), label="bore")
    >>> print(bore)
    bore: 19.050 ± 0.029 mm
    >>> print(f"{bore:short:1}")
    bore: 19.05(3) mm
    >>> print(f"{bore:expanded k=2 in cm}")
    bore: 1.9050 ± 0.0058 cm (k = 2)
    >>> print(VolumeFlowRate([0.8, 1.2], "L/min", standard(0.041), label="flow"))
    flow (2 readings, L/min): 0.800 ± 0.041, 1.200 ± 0.041
    """
    form, digits, unit, k, level = _parsed(specification)
    if unit:
        quantity = quantity.to(unit)
    if form == "latex":
        return siunitx_source(quantity, digits)
    if form == "math":
        return as_latex(quantity, digits)
    make: Callable[[Showable, Sequence[int], int], list[Row]]
    if form == "relative":
        make = relative_rows
    else:
        make = partial(rows, ask=expanded_by(level, k) if form == "expanded" else standard_spreads)
    write = _short if form == "short" else _long
    if quantity.ndim == 0:
        row = make(quantity, [0], digits)[0]
        shown_unit = "" if form == "relative" else unit_of(quantity)
        return _scalar_text(quantity, row, write, shown_unit, _coverage([row], form, level))
    shown = make(quantity, shown_positions(quantity.size, MOST_READINGS, *_ENDS[0]), digits)
    line = _readings_text(quantity, shown, write, _coverage(shown, form, level))
    if len(shown) == quantity.size:
        return line
    for head, tail in _ENDS[1:]:
        if len(line) <= WIDTH:
            break
        ends = [*shown[:head], *shown[-tail:]]
        line = _readings_text(quantity, ends, write, _coverage(ends, form, level))
    return line


def represent(quantity: Showable) -> str:
    """Write a quantity for `repr`: kind, value, unit, uncertainty and label on one line.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings.

    Returns
    -------
    str
        The value with up to 12 significant digits, not rounded to its uncertainty; u with 3.

    Examples
    --------
    >>> from flowunc import Length, standard
    >>> Length(19.05, "mm", standard(0.029), label="bore")
    Length(19.05 mm, u = 0.029 mm, label='bore')
    """
    count = quantity.size
    positions = shown_positions(count, MOST_READINGS, *_ENDS[0])
    shown = picked(quantity, positions)
    found = spreads(shown, standard_spreads)
    values = [f"{value + 0.0:.12g}" for value in np.atleast_1d(shown.value)]
    known = ["not defined" if spread is None else f"{spread.u:.3g}" for spread in found]
    unit = f" {unit_of(quantity)}" if unit_of(quantity) else ""
    if quantity.ndim == 0:
        parts = [f"{values[0]}{unit}", f"u = {known[0]}{unit}"]
    else:
        parts = [f"[{joined(texts, positions)}]{unit}" for texts in (values, known)]
        parts[1] = f"u = {parts[1]}"
    if all(spread is None for spread in found):
        parts[1] = NOT_DEFINED
    if count > len(positions):
        parts.append(f"{count} readings")
    if quantity.label:
        parts.append(f"label={quantity.label!r}")
    return f"{type(quantity).__name__}({', '.join(parts)})"


def _parsed(specification: str) -> _Specification:
    """Split a specification into its parts."""
    found = _SPECIFICATION.fullmatch(specification)
    if found is None or found["form"] not in _FORMS or not _fits(found):
        raise RangeError(
            f"format specification {specification!r}: expected one of "
            f"{', '.join(map(repr, _FORMS))}, each with ':1' to ':9' behind it for another "
            "number of digits of the uncertainty, such as 'short:1', and a unit, such as "
            "'short in mm'; 'expanded' also as 'expanded 99 %' or 'expanded k=2'; to align in a "
            "column, format the text str(quantity)"
        )
    return _Specification(
        found["form"],
        int(found["digits"] or 2),
        found["unit"] or "",
        None if found["k"] is None else float(found["k"]),
        None if found["percent"] is None else float(found["percent"]) / 100,
    )


def _fits(found: re.Match[str]) -> bool:
    """Tell whether k or level is a number, and stands behind a form that has one."""
    given = found["k"] or found["percent"]
    return not given or (found["form"] == "expanded" and given.count(".") < 2 and given != ".")


def _long(rounded: Rounded) -> str:
    return rounded.text


def _short(rounded: Rounded) -> str:
    return rounded.short


def _coverage(shown: Sequence[Row], form: str, level: float | None) -> list[str]:
    """Say which coverage factors lie behind what is shown, and which level if a special one."""
    if form != "expanded":
        return []
    factors = sorted(row.k for row in shown if row.k is not None and row.rounded.uncertainty)
    texts = list(dict.fromkeys(f"{k:.0f}" if k == round(k) else f"{k:.2f}" for k in factors))
    if not texts:
        return []
    text = f"k = {texts[0]}" if len(texts) == 1 else f"k = {texts[0]} to {texts[-1]}"
    return [text, *([] if level is None else [f"{100 * level:g} %"])]


def _scalar_text(
    quantity: Showable, row: Row, write: Callable[[Rounded], str], unit: str, coverage: list[str]
) -> str:
    label = label_of(quantity)
    notes = [NOT_DEFINED] if row.k is None else coverage
    return (
        (f"{label}: " if label else "")
        + write(row.rounded)
        + (f" {unit}" if unit else "")
        + (f" ({', '.join(notes)})" if notes else "")
    )


def _readings_text(
    quantity: Showable, shown: Sequence[Row], write: Callable[[Rounded], str], coverage: list[str]
) -> str:
    label, unit, count = label_of(quantity), unit_of(quantity), quantity.size
    texts = [write(row.rounded) + (f" ({NOT_DEFINED})" if row.k is None else "") for row in shown]
    listed = joined(texts, [row.position for row in shown])
    counted = f"{count} reading{'s' if count > 1 else ''}"
    if label:
        notes = [counted, *([unit] if unit else []), *coverage]
        return f"{label} ({', '.join(notes)}): {listed}"
    notes = [*([counted] if count > len(shown) else []), *coverage]
    return (
        f"[{listed}]" + (f" {unit}" if unit else "") + (f" ({', '.join(notes)})" if notes else "")
    )
