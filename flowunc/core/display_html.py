"""HTML of a quantity for notebooks: a span, or a table of readings.

No colours and no style: the page that shows it decides, dark or light.
"""

from __future__ import annotations

from html import escape

from flowunc.core.display_rows import (
    HEAD,
    NOT_DEFINED,
    Row,
    Showable,
    both_ends,
    label_of,
    unit_of,
)

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
    label, unit = escape(label_of(quantity)), escape(unit_of(quantity))
    count = quantity.size
    shown = both_ends(quantity)
    if quantity.ndim == 0:
        note = f" ({NOT_DEFINED})" if shown[0].k is None else ""
        text = f"{shown[0].rounded.text}{f' {unit}' if unit else ''}{note}"
        return f"<span>{f'{label}: ' if label else ''}{text}</span>"
    within = f" in {unit}" if unit else ""
    lines = ["<table>"]
    if label:
        lines.append(f"<caption>{label}</caption>")
    lines.append(f"<thead><tr><th>row</th><th>value{within}</th><th>u{within}</th></tr></thead>")
    lines.append("<tbody>")
    for order, row in enumerate(shown):
        if order == HEAD and count > len(shown):
            left_out = f"{count - len(shown)} of {count} readings not shown"
            lines.append(f'<tr><td colspan="3">... {left_out} ...</td></tr>')
        lines.append(_line(row))
    return "\n".join([*lines, "</tbody>", "</table>"])


def _line(row: Row) -> str:
    value, u, exponent = row.rounded.value, row.rounded.uncertainty, row.rounded.exponent
    spread = "not defined" if row.k is None else _alone(u, exponent) if u else "0"
    return f"<tr><th>{row.position}</th><td>{_alone(value, exponent)}</td><td>{spread}</td></tr>"


def _alone(digits: str, exponent: int) -> str:
    """Write a number for a cell of its own, where it carries the common power of ten."""
    mantissa, _, own = digits.partition("e")
    power = exponent + int(own or 0)
    return f"{mantissa}e{power:+03d}" if power and mantissa[-1].isdigit() else mantissa
