"""How a quantity shows itself: text, format specifications, and notebooks.

`display` and its parts do the work; they load on first use, because rounding goes through the
uncertainties package.
"""

from __future__ import annotations

from typing import Any

__all__ = ["Shown"]


class Shown:
    """The part of a quantity that turns it into text."""

    __slots__ = ()

    def __repr__(self) -> str:
        from flowunc.core.display import represent

        return represent(_quantity(self))

    def __str__(self) -> str:
        return format(self, "")

    def __format__(self, specification: str) -> str:
        from flowunc.core.display import as_text

        return as_text(_quantity(self), specification)

    def _repr_html_(self) -> str:
        from flowunc.core.display import as_html

        return as_html(_quantity(self))

    def _repr_latex_(self) -> str:
        from flowunc.core.display import as_latex

        return as_latex(_quantity(self))


def _quantity(shown: Shown) -> Any:
    """Return the quantity that a `Shown` is a part of."""
    return shown
