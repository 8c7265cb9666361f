"""HTML of a quantity for notebooks: a span, or a table of readings.

No colours and no fonts: the page that shows it decides, dark or light.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from flowunc.core.display.rows import (
    HEAD,
    NOT_DEFINED,
    Row,
    Showable,
    both_ends,
    label_of,
    unit_of,
)
from flowunc.core.display.tables import table_html

__all__ = ["as_html"]


def as_html(quantity: Showable) -> str:
    """Write a quantity as an HTML fragment.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings.

    Returns
    -------
    str
        A ``span`` for a scalar, a ``table`` (row counted from 0, value, u) for readings; of
        more than 20 both ends are shown and the number left out is stated.

    Examples
    --------
    >>> from flowunc import Length, standard
    >>> as_html(Length(19.05, "mm", standard(0.029), label="bore"))
    '<span>bore: 19.050 ± 0.029 mm</span>'
    """
    label, unit, count = label_of(quantity), unit_of(quantity), quantity.size
    shown = both_ends(quantity)
    if quantity.ndim == 0:
        note = f" ({NOT_DEFINED})" if shown[0].k is None else ""
        text = f"{shown[0].rounded.text}{f' {unit}' if unit else ''}{note}"
        return f"<span>{escape(f'{label}: {text}' if label else text)}</span>"
    within = f" in {unit}" if unit else ""
    lines: list[Sequence[str]] = [_line(row) for row in shown]
    if count > len(shown):
        lines.insert(HEAD, (f"... {count - len(shown)} of {count} readings not shown ...",))
    return table_html(("row", f"value{within}", f"u{within}"), lines, ">>>", label, row_heads=True)


def _line(row: Row) -> tuple[str, str, str]:
    value, u = row.rounded.cells
    return str(row.position), value, "not defined" if row.k is None else u
