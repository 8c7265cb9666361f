"""What flows through a bench: water unless a liquid is given.

A liquid is anything with a density and a viscosity at a temperature, such as a
`TabulatedLiquid`; a `Mixture` is water with something in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, Protocol, runtime_checkable

from flowunc.core.errors import RangeError
from flowunc.core.kinds import Density, DynamicViscosity, Ratio, Temperature, require_kind
from flowunc.core.naming import named_by_role
from flowunc.fluids import glycerol_water, seawater

__all__ = ["FlowingLiquid", "Mixture"]


@runtime_checkable
class FlowingLiquid(Protocol):
    """A liquid whose properties depend on the temperature."""

    def density(self, temperature: Temperature) -> Density:
        """Return the density."""

    def viscosity(self, temperature: Temperature) -> DynamicViscosity:
        """Return the dynamic viscosity."""


_CONTENTS = {
    "seawater": ("salinity", seawater.density, seawater.viscosity),
    "glycerol_water": ("glycerol", glycerol_water.density, glycerol_water.viscosity),
}
_TITLES = {"seawater": "seawater", "glycerol_water": "glycerol and water"}


@dataclass(frozen=True, eq=False)
class Mixture:
    """Water with salt or glycerol in it, as much in all runs.

    Parameters
    ----------
    name : {"seawater", "glycerol_water"}
        As the module in `flowunc.fluids`.
    content : Ratio, scalar
        Mass of sea salt or of glycerol over mass of the mixture.

    Raises
    ------
    DimensionError
        A content that is no ratio.
    RangeError
        Another name, or several contents.

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, limits
    >>> from flowunc.bench.description.flowing_liquid import Mixture
    >>> sea = Mixture("seawater", Ratio(35, "g/kg", limits(0.5)))
    >>> round(sea.density(Temperature(20, "degC")).value, 2)
    1024.64
    """

    name: Literal["seawater", "glycerol_water"]
    content: Ratio

    @property
    def title(self) -> str:
        """What it is called in a sentence."""
        return _TITLES[self.name]

    def __post_init__(self) -> None:
        given: Any = self.name
        if given not in _CONTENTS:
            raise RangeError(f"Mixture({given!r}): expected one of {', '.join(_CONTENTS)}")
        word = _CONTENTS[given][0]
        content = require_kind(self.content, Ratio, "Mixture", "content")
        if content.ndim:
            raise RangeError(f"Mixture: {content.size} contents; expected one")
        # named once: one error behind density and viscosity of all runs
        object.__setattr__(self, "content", named_by_role(content, word))

    def density(self, temperature: Temperature) -> Density:
        """Return the density at a temperature."""
        return _CONTENTS[self.name][1](temperature, self.content)

    def viscosity(self, temperature: Temperature) -> DynamicViscosity:
        """Return the dynamic viscosity at a temperature."""
        return _CONTENTS[self.name][2](temperature, self.content)
