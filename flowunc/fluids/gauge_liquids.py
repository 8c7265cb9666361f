"""Densities of common gauge liquids, for manometers with a liquid of their own.

A manometer takes a density: ``UTubeManometer(scale, gauge_liquids.mercury.density(temperature))``.
A liquid sold for gauges has its density on the label or in its data sheet; that is better than
anything here.
"""

from __future__ import annotations

from dataclasses import dataclass

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Rectangular
from flowunc.core.kinds import Density, Temperature, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.units import parse_unit
from flowunc.fluids import formulations as data
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within

__all__ = ["GaugeLiquid", "ethanol", "kerosene", "mercury", "table"]

_CELSIUS = parse_unit("degC")
_ROOM = Component(
    label="gauge liquid temperature, not given",
    distribution=Rectangular(data.GAUGE_TEMPERATURE[1]),
    unit=parse_unit("K"),
    source="gauge liquid",
    key="flowunc.gauge_liquids.temperature",
)


@dataclass(frozen=True, kw_only=True)
class GaugeLiquid:
    """A gauge liquid: density at 20 degC and its change with temperature.

    Attributes
    ----------
    name : str
    description : str
        What quality the numbers hold for, and what to mind.
    source : str
        Where they come from.
    density_at_20 : float
        In kg/m^3.
    expansion : float
        Cubic expansion coefficient at 20 degC, 1/K.
    temperature_range : tuple of float
        In degC.
    density_error, expansion_error : Component
        Relative errors of the two, rectangular.
    """

    name: str
    description: str
    source: str
    density_at_20: float
    expansion: float
    temperature_range: tuple[float, float]
    density_error: Component
    expansion_error: Component

    def __repr__(self) -> str:
        return f"<gauge liquid {self.name}: {self.density_at_20:g} kg/m^3 at 20 degC>"

    def density(self, temperature: Temperature | None = None) -> Density:
        """Compute the density.

        Parameters
        ----------
        temperature : Temperature, scalar or shape (n,), optional
            Of the gauge liquid. If left out: 20 degC +- 10 K (rectangular).

        Returns
        -------
        Density, shaped as ``temperature``
            In kg/m^3.

        Raises
        ------
        DimensionError
            Something else than a Temperature.
        RangeError
            A temperature outside `temperature_range`.

        Notes
        -----
        rho = rho_20/(1 + gamma (T - 20 degC)).

        Examples
        --------
        >>> from flowunc import Temperature, gauge_liquids, limits
        >>> print(gauge_liquids.mercury.density(Temperature(25, "degC", limits(1))))
        mercury density: 13533.6 ± 4.2 kg/m^3
        """
        function = f"gauge_liquids.{self.name}.density"
        if temperature is None:
            kelvin = data.GAUGE_TEMPERATURE[0] + 273.15
            found = Temperature._from_terms(kelvin, [Term(_ROOM)], _CELSIUS)
        else:
            found = require_kind(temperature, Temperature, function, "temperature")
            require_within(
                found,
                *self.temperature_range,
                "degC",
                argument=f"{function}(temperature=...)",
                source=f"the expansion coefficient of {self.name}",
            )
        warmer = (found - Temperature(20, "degC")) / Quantity(1, "K")
        expanded = 1 + self.expansion * one_within(self.expansion_error) * warmer
        result = Density(self.density_at_20, "kg/m^3") * one_within(self.density_error) / expanded
        return Density._from_node(result._node, label=f"{self.name} density")


def _liquid(name: str, numbers: tuple[float, ...], description: str, source: str) -> GaugeLiquid:
    density, density_limits, expansion, expansion_limits, low, high = numbers
    what = {"density": density_limits, "expansion": expansion_limits}
    density_error, expansion_error = (
        Component(
            label=f"{name} {word}",
            distribution=Rectangular(half_width),
            unit=PERCENT,
            source=f"gauge liquid {name}",
            key=f"flowunc.gauge_liquids.{name}.{word}",
        )
        for word, half_width in what.items()
    )
    return GaugeLiquid(
        name=name,
        description=description,
        source=source,
        density_at_20=density,
        expansion=expansion,
        temperature_range=(low, high),
        density_error=density_error,
        expansion_error=expansion_error,
    )


mercury = _liquid(
    "mercury",
    data.GAUGE_MERCURY,
    "Clean mercury; 0.05 % for what is dissolved in it. Mercury is toxic: follow your local rules "
    "and ask qualified staff.",
    "density and expansion from memory; at 0 degC within 0.05 % of the conventional column of "
    "mercury [NIST SP 811]",
)
ethanol = _liquid(
    "ethanol",
    data.GAUGE_ETHANOL,
    "Absolute ethanol, at least 99.5 % by volume. Spirit with more water is denser, by 4 kg/m^3 to "
    "5 kg/m^3 for each percent: measure it. Flammable.",
    "from memory; pure ethanol computed with CoolProp lies within the limits",
)
kerosene = _liquid(
    "kerosene",
    data.GAUGE_KEROSENE,
    "Any kerosene or lamp oil of that kind: the limits are those of a fuel specification, so "
    "measure the density if the result depends on it. Flammable.",
    "[ASTM D1655]: 775 kg/m^3 to 840 kg/m^3 at 15 degC, from memory; expansion from memory",
)

table = {liquid.name: liquid for liquid in (mercury, ethanol, kerosene)}
