"""How a quantity shows itself: text, format specifications, and notebooks.

`display` and its parts do the work; they load on first use, because rounding goes through the
uncertainties package.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flowunc.core.display.tables import mimebundle

if TYPE_CHECKING:
    from flowunc.core.display.rows import Showable

__all__ = ["Shown"]


class Shown:
    """The part of a quantity that turns it into text."""

    __slots__ = ()

    def __repr__(self: Showable) -> str:
        from flowunc.core.display.quantity_text import represent

        return represent(self)

    def __str__(self) -> str:
        return format(self, "")

    def __format__(self: Showable, specification: str) -> str:
        from flowunc.core.display.quantity_text import as_text

        return as_text(self, specification)

    def _repr_html_(self: Showable) -> str:
        from flowunc.core.display.quantity_text import as_html

        return as_html(self)

    def _repr_latex_(self: Showable) -> str:
        from flowunc.core.display.quantity_text import as_latex

        return as_latex(self)

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return mimebundle(self, include, exclude, plain=repr(self))
