"""Density of moist air: the CIPM-2007 equation, or a constant with wide limits."""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Normal, Rectangular
from flowunc.core.errors import DimensionError
from flowunc.core.kinds import Density, Pressure, Ratio, Temperature, require_kind
from flowunc.core.units import parse_unit
from flowunc.fluids import formulations as data
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within
from flowunc.instruments.surroundings import air_density_or_default

__all__ = ["density"]

_PPM = parse_unit("ppm")
_FORMULATION = Component(
    label="air density formulation",
    distribution=Normal(data.AIR_FORMULATION_STANDARD),
    unit=PERCENT,
    source="CIPM-2007",
    key="flowunc.air.formulation",
)
_CARBON_DIOXIDE = Component(
    label="carbon dioxide in room air",
    distribution=Rectangular(data.AIR_CARBON_DIOXIDE[1]),
    unit=_PPM,
    source="carbon dioxide not measured",
    key="flowunc.air.carbon_dioxide",
)


def density(
    temperature: Temperature | None = None,
    pressure: Pressure | None = None,
    humidity: Ratio | None = None,
    *,
    carbon_dioxide: Ratio | None = None,
) -> Density:
    """Compute the density of moist air, or state it where nothing was measured.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,), optional
        15 degC to 27 degC.
    pressure : Pressure, scalar or shape (n,), optional
        Absolute, 60 kPa to 110 kPa: station pressure, not reduced to sea level.
    humidity : Ratio, scalar or shape (n,), optional
        Relative humidity, 0 % to 100 %. Give all three, or none.
    carbon_dioxide : Ratio, optional
        Mole fraction, 0 % to 1 %; 0.0007 +- 0.0003 if left out, outdoor air to a badly aired room.

    Returns
    -------
    Density
        In kg/m^3. Without arguments 1.20 kg/m^3 +- 0.10 kg/m^3 (rectangular), which covers
        10 degC to 27 degC, 96.5 kPa to 104.5 kPa and any humidity: the very component that a
        manometer or a balance takes where no air density was given.

    Raises
    ------
    DimensionError
        Some of the three without the others, or another kind of quantity.
    RangeError
        A value outside the range of the equation.

    Notes
    -----
    rho = p M_a/(Z R T) [1 - x_v (1 - M_v/M_a)] with x_v = h f p_sv/p. Source: [CIPM-2007,
    eq. 1 and appendix A1], coefficients from memory, checked against CoolProp's moist air. The
    equation itself has the relative standard uncertainty 2.2e-5 (from memory), a shared
    component.

    Examples
    --------
    >>> from flowunc import Pressure, Ratio, Temperature, air
    >>> rho = air.density(Temperature(20, "degC"), Pressure(101.325, "kPa"), Ratio(50, "%"))
    >>> round(rho.value, 3)
    1.199
    >>> print(air.density().value)
    1.2
    """
    given = {"temperature": temperature, "pressure": pressure, "humidity": humidity}
    if all(value is None for value in (*given.values(), carbon_dioxide)):
        return air_density_or_default(None, "air.density")
    missing = [name for name, value in given.items() if value is None]
    if missing:
        raise DimensionError(
            f"air.density: no {' and no '.join(missing)}; expected temperature, pressure and "
            "humidity together, or none of them for a constant with wide limits"
        )
    T = require_kind(temperature, Temperature, "air.density", "temperature")
    p = require_kind(pressure, Pressure, "air.density", "pressure")
    h = require_kind(humidity, Ratio, "air.density", "humidity")
    equation = "the equation [CIPM-2007]"
    require_within(T, 15, 27, "degC", argument="air.density(temperature=...)", source=equation)
    require_within(p, 60, 110, "kPa", argument="air.density(pressure=...)", source=equation)
    require_within(h, 0, 100, "%", argument="air.density(humidity=...)", source="relative humidity")
    if carbon_dioxide is None:
        x = Ratio._from_terms(data.AIR_CARBON_DIOXIDE[0], [Term(_CARBON_DIOXIDE)], _PPM)
    else:
        x = require_kind(carbon_dioxide, Ratio, "air.density", "carbon_dioxide")
        require_within(
            x, 0, 1, "%", argument="air.density(carbon_dioxide=...)", source="air people breathe"
        )
    exact = _cipm_2007(T / Temperature(1, "K"), p / Pressure(1, "Pa"), h, x)
    result = exact * one_within(_FORMULATION)
    return Density._from_node(result._node, label="air density")


def _cipm_2007(T: Ratio, p: Ratio, h: Ratio, carbon_dioxide: Ratio) -> Ratio:  # noqa: N803 - T is the symbol of the source
    """Return the density in kg/m3 from kelvin, pascal and fractions, all as pure numbers."""
    t = T - 273.15
    A, B, C, D = data.AIR_SATURATION
    saturation = np.exp(A * T**2 + B * T + C + D / T)
    alpha, beta, gamma = data.AIR_ENHANCEMENT
    vapour = h * (alpha + beta * p + gamma * t**2) * saturation / p  # x_v
    a0, a1, a2 = data.AIR_COMPRESSIBILITY_A
    b0, b1 = data.AIR_COMPRESSIBILITY_B
    c0, c1 = data.AIR_COMPRESSIBILITY_C
    d, e = data.AIR_COMPRESSIBILITY_D, data.AIR_COMPRESSIBILITY_E
    over_temperature = p / T
    linear = a0 + a1 * t + a2 * t**2 + (b0 + b1 * t) * vapour + (c0 + c1 * t) * vapour**2
    compressibility = 1 - over_temperature * linear + over_temperature**2 * (d + e * vapour**2)
    molar = data.AIR_MOLAR_MASS_OVER_R + data.AIR_CARBON_DIOXIDE_SLOPE * (
        carbon_dioxide - data.AIR_CARBON_DIOXIDE_REFERENCE
    )
    dry_share = 1 - data.AIR_ONE_MINUS_MOLAR_MASS_RATIO * vapour
    result: Ratio = molar * over_temperature / compressibility * dry_share
    return result
