"""Seawater at 0.1 MPa: density and viscosity from temperature and salinity.

Plain arithmetic on top of `water`: at salinity 0 the two agree, and the errors of the water
formulations are shared with it.
"""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component
from flowunc.core.distributions import Rectangular
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Ratio,
    Temperature,
    require_kind,
)
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.record import elementwise
from flowunc.fluids import formulations as data
from flowunc.fluids import water
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within

__all__ = ["density", "kinematic_viscosity", "viscosity"]

_DENSITY_CORRELATION = Component(
    label="seawater density correlation",
    distribution=Rectangular(data.SEAWATER_DENSITY_LIMITS),
    unit=PERCENT,
    source="UNESCO 44",
    key="flowunc.seawater.density",
)
_VISCOSITY_CORRELATION = Component(
    label="seawater viscosity correlation",
    distribution=Rectangular(data.SEAWATER_VISCOSITY_LIMITS),
    unit=PERCENT,
    source="Sharqawy 2010",
    key="flowunc.seawater.viscosity",
)


def density(temperature: Temperature, salinity: Ratio) -> Density:
    """Compute the density of seawater at 0.1 MPa.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 40 degC.
    salinity : Ratio, scalar or shape (n,)
        Mass of sea salt over mass of seawater, 0 g/kg to 42 g/kg: ``Ratio(35, "g/kg")``. The
        practical salinity that a conductivity meter shows, times 1.00472, is this in g/kg.

    Returns
    -------
    Density, shaped as the arguments
        In kg/m^3.

    Raises
    ------
    DimensionError
        Another kind of quantity, a plain number included.
    RangeError
        A temperature or a salinity outside its range.

    Notes
    -----
    rho = rho_w(T) + A(t) S + B(t) S^1.5 + C S^2 with the practical salinity S = 35 w/35.16504
    g/kg of the mass fraction w. Source: [UNESCO 44] for the salt, [IAPWS SR6-08] for the water;
    coefficients from memory, within 1e-5 of [IAPWS R13-08] over the range (computed). Relative
    uncertainty: rectangular, 0.005 % either way, one shared component. It holds for the
    mixture of salts of the open sea: table salt weighs less (0.15 % at 35 g/kg, from memory),
    so measure the density of other brines.

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, seawater
    >>> rho = seawater.density(Temperature(20, "degC"), Ratio(35, "g/kg"))
    >>> round(rho.value, 2)
    1024.64
    """
    t, w = _checked(temperature, salinity, "density")
    S = w * data.SEAWATER_PRACTICAL_PER_FRACTION
    three_halves = Ratio._from_node(elementwise(THREE_HALVES, S._node))
    A = _polynomial(t, data.SEAWATER_DENSITY_A)
    B = _polynomial(t, data.SEAWATER_DENSITY_B)
    salt = A * S + B * three_halves + data.SEAWATER_DENSITY_C * S**2
    exact = water.density(temperature, water="pure") + salt * Density(1, "kg/m^3")
    result = exact * one_within(_DENSITY_CORRELATION)
    return Density._from_node(result._node, label="seawater density")


def viscosity(temperature: Temperature, salinity: Ratio) -> DynamicViscosity:
    """Compute the dynamic viscosity of seawater at 0.1 MPa.

    Parameters
    ----------
    temperature, salinity
        As in `density`.

    Returns
    -------
    DynamicViscosity, shaped as the arguments
        In Pa s.

    Raises
    ------
    DimensionError, RangeError
        As `density`.

    Notes
    -----
    mu = mu_w(T) (1 + A(t) w + B(t) w^2). Source: [Sharqawy 2010, eq. 22], from memory; range
    there 0 degC to 180 degC and up to 150 g/kg, of which the range of `density` is offered.
    Relative uncertainty: 1.5 % either way as published, taken as rectangular, one shared
    component; and that of the viscosity of water.

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, seawater
    >>> mu = seawater.viscosity(Temperature(20, "degC"), Ratio(35, "g/kg"))
    >>> round(mu.to("mPa*s").value, 3)
    1.076
    """
    t, w = _checked(temperature, salinity, "viscosity")
    A = _polynomial(t, data.SEAWATER_VISCOSITY_A)
    B = _polynomial(t, data.SEAWATER_VISCOSITY_B)
    result = water.viscosity(temperature) * (1 + A * w + B * w**2)
    result = result * one_within(_VISCOSITY_CORRELATION)
    return DynamicViscosity._from_node(result._node, label="seawater viscosity")


def kinematic_viscosity(temperature: Temperature, salinity: Ratio) -> KinematicViscosity:
    """Compute the kinematic viscosity of seawater at 0.1 MPa.

    Parameters
    ----------
    temperature, salinity
        As in `density`.

    Returns
    -------
    KinematicViscosity, shaped as the arguments
        In m^2/s.

    Raises
    ------
    DimensionError, RangeError
        As `density`.

    Notes
    -----
    nu = mu/rho, both at the same temperature and salinity, whose errors are shared.

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, seawater
    >>> nu = seawater.kinematic_viscosity(Temperature(20, "degC"), Ratio(35, "g/kg"))
    >>> round(nu.to("mm^2/s").value, 3)
    1.051
    """
    ratio = viscosity(temperature, salinity) / density(temperature, salinity)
    return KinematicViscosity._from_node(ratio._node, label="seawater kinematic viscosity")


def _checked(temperature: Temperature, salinity: Ratio, function: str) -> tuple[Ratio, Ratio]:
    """Return the Celsius temperature as a pure number, and the mass fraction."""
    name = f"seawater.{function}"
    T = require_kind(temperature, Temperature, name, "temperature")
    w = require_kind(salinity, Ratio, name, "salinity")
    source = "the seawater correlations [UNESCO 44]"
    require_within(T, 0, 40, "degC", argument=f"{name}(temperature=...)", source=source)
    require_within(
        w,
        0,
        42,
        "g/kg",
        argument=f"{name}(salinity=...)",
        source=source,
        hint="35 g of salt in 1 kg of seawater is Ratio(35, 'g/kg') or Ratio(0.035, '1')",
    )
    return T / Temperature(1, "K") - 273.15, w


def _polynomial(t: Ratio, coefficients: tuple[float, ...]) -> Ratio:
    """Return the sum of c_i t^i, by Horner's rule."""
    total = t * coefficients[-1] + coefficients[-2]
    for coefficient in coefficients[-3::-1]:
        total = total * t + coefficient
    result: Ratio = total
    return result


def _three_halves(x: Value, out: Value | None = None) -> Value:
    return np.asarray(np.multiply(x, np.sqrt(np.abs(x)), out=out))


def _pull_three_halves(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return (weight * 1.5 * np.sqrt(np.abs(values[0])),)


# x^1.5 continued as an odd function, because draws of a salinity near 0 stray below it
THREE_HALVES = Elementwise(
    "THREE_HALVES", "power 3/2", _three_halves, _pull_three_halves, module=__name__
)
