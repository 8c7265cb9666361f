"""Text and HTML of a fit: one title, the parameters, and notes, for lines and power laws alike."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from html import escape

from flowunc.core.display.tables import WIDTH
from flowunc.core.quantity import Quantity

__all__ = ["fit_html", "fit_lines"]


def fit_lines(title: str, parameters: Sequence[Quantity], notes: Sequence[str]) -> list[str]:
    """Write a fit as lines of at most 100 columns."""
    lines = textwrap.wrap(title, WIDTH, subsequent_indent="  ")
    lines += [f"  {parameter}" for parameter in parameters]
    for note in notes:
        lines += textwrap.wrap(
            note, WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False
        )
    return lines


def fit_html(title: str, parameters: Sequence[Quantity], notes: Sequence[str]) -> str:
    """Write a fit as an HTML fragment."""
    items = [*map(str, parameters), *notes]
    listed = "".join(f"<li>{escape(item)}</li>" for item in items)
    return f"<p>{escape(title)}</p>\n<ul>{listed}</ul>"
