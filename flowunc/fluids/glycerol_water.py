"""Mixtures of glycerol (glycerine) and water: density and viscosity.

Viscous enough for laminar flow at a bench's velocities. The viscosity changes with the water
content far more than with anything else, so weigh the liquids, or measure the density. Plain
arithmetic on quantities: arithmetic is the record.
"""

from __future__ import annotations

import math

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
from flowunc.fluids import formulations as data
from flowunc.fluids import water
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within

__all__ = ["density", "kinematic_viscosity", "viscosity"]

_DENSITY_CORRELATION = Component(
    label="glycerol-water density correlation",
    distribution=Rectangular(data.GLYCEROL_DENSITY_LIMITS),
    unit=PERCENT,
    source="Volk 2018",
    key="flowunc.glycerol_water.density",
)
_VISCOSITY_CORRELATION = Component(
    label="glycerol-water viscosity correlation",
    distribution=Rectangular(data.GLYCEROL_VISCOSITY_LIMITS),
    unit=PERCENT,
    source="Cheng 2008",
    key="flowunc.glycerol_water.viscosity",
)


def density(temperature: Temperature, glycerol: Ratio) -> Density:
    """Compute the density of a mixture of glycerol and water at atmospheric pressure.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 40 degC.
    glycerol : Ratio, scalar or shape (n,)
        Mass of glycerol over mass of the mixture, 1 % to 99.5 %: ``Ratio(60, "%")``. A
        fraction by volume is another number.

    Returns
    -------
    Density, shaped as the arguments
        In kg/m^3.

    Raises
    ------
    DimensionError
        Another kind of quantity, a plain number included.
    RangeError
        A temperature or a mass fraction outside its range.

    Notes
    -----
    rho = (1 + c(t) sin(pi w^1.31)^0.81) (rho_w + (rho_g - rho_w) v) with the share of the volume
    v = w rho_w/(w rho_w + (1 - w) rho_g), and rho_w by [IAPWS SR6-08]. Source: [Volk 2018], from
    memory, published for 15 degC to 30 degC. Relative uncertainty: rectangular, 0.15 % either
    way, one shared component, which covers two independent fits of measured mixtures (computed
    up to 60 %).

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, glycerol_water
    >>> rho = glycerol_water.density(Temperature(20, "degC"), Ratio(60, "%"))
    >>> round(rho.value, 1)
    1153.6
    """
    t, w = _checked(temperature, glycerol, "density", 40)
    rho_w = water.density(temperature, water="pure")
    g0, g1 = data.GLYCEROL_DENSITY
    rho_g = Density(1, "kg/m^3") * (g0 + g1 * t)
    volume = w * rho_w / (w * rho_w + (1 - w) * rho_g)
    c0, c1, c2 = data.GLYCEROL_CONTRACTION
    inner, outer = data.GLYCEROL_CONTRACTION_EXPONENTS
    # draws of w stray beyond 0 and 1, where the powers have no value: no contraction there
    arch = np.maximum(np.sin(math.pi * np.maximum(w, 0.0) ** inner), 0.0)
    exact = (1 + (c0 + c1 * t + c2 * t**2) * arch**outer) * (rho_w + (rho_g - rho_w) * volume)
    result = exact * one_within(_DENSITY_CORRELATION)
    return Density._from_node(result._node, label="glycerol-water density")


def viscosity(temperature: Temperature, glycerol: Ratio) -> DynamicViscosity:
    """Compute the dynamic viscosity of a mixture of glycerol and water.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.
    glycerol : Ratio, scalar or shape (n,)
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
    mu = mu_w^a mu_g^(1 - a), a = 1 - w + A B w (1 - w)/(A w + B (1 - w)) with A, B, mu_w and mu_g
    functions of the temperature. Source: [Cheng 2008], from memory. Relative uncertainty:
    rectangular, 5 % either way, one shared component; the table [Segur 1951] is met within 4 %.
    Near 20 degC one percent more glycerol makes 6 % more viscosity at w = 0.5, 12 % at 0.8 and
    20 % at 0.95.

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, glycerol_water, limits
    >>> w = Ratio(60, "%", limits(0.5), label="glycerol")
    >>> mu = glycerol_water.viscosity(Temperature(20, "degC", limits(0.5)), w)
    >>> print(mu.to("mPa*s"))
    glycerol-water viscosity: 10.91 ± 0.40 mPa*s
    """
    t, w = _checked(temperature, glycerol, "viscosity", 100)
    A = data.GLYCEROL_EXPONENT_A[0] + data.GLYCEROL_EXPONENT_A[1] * t
    b0, b1, power = data.GLYCEROL_EXPONENT_B
    B = (b0 + b1 * t) * A**power
    share = 1 - w + A * B * w * (1 - w) / (A * w + B * (1 - w))
    log_w = _logarithm(t, data.GLYCEROL_WATER_VISCOSITY)
    log_g = _logarithm(t, data.GLYCEROL_VISCOSITY)
    exact = DynamicViscosity(1, "Pa*s") * np.exp(share * log_w + (1 - share) * log_g)
    result = exact * one_within(_VISCOSITY_CORRELATION)
    return DynamicViscosity._from_node(result._node, label="glycerol-water viscosity")


def kinematic_viscosity(temperature: Temperature, glycerol: Ratio) -> KinematicViscosity:
    """Compute the kinematic viscosity of a mixture of glycerol and water.

    Parameters
    ----------
    temperature, glycerol
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
    nu = mu/rho, both at the same temperature and mass fraction, whose errors are shared.

    Examples
    --------
    >>> from flowunc import Ratio, Temperature, glycerol_water
    >>> nu = glycerol_water.kinematic_viscosity(Temperature(20, "degC"), Ratio(60, "%"))
    >>> round(nu.to("mm^2/s").value, 2)
    9.46
    """
    ratio = viscosity(temperature, glycerol) / density(temperature, glycerol)
    return KinematicViscosity._from_node(ratio._node, label="glycerol-water kinematic viscosity")


def _checked(
    temperature: Temperature, glycerol: Ratio, function: str, highest: float
) -> tuple[Ratio, Ratio]:
    """Return the Celsius temperature as a pure number, and the mass fraction."""
    name = f"glycerol_water.{function}"
    T = require_kind(temperature, Temperature, name, "temperature")
    w = require_kind(glycerol, Ratio, name, "glycerol")
    source = "the glycerol-water correlations [Cheng 2008; Volk 2018]"
    require_within(T, 0, highest, "degC", argument=f"{name}(temperature=...)", source=source)
    require_within(
        w,
        1,
        99.5,
        "%",
        argument=f"{name}(glycerol=...)",
        source=source,
        hint="60 g of glycerol in 100 g of the mixture is Ratio(60, '%') or Ratio(0.6, '1'); for "
        "water alone use water",
    )
    return T / Temperature(1, "K") - 273.15, w


def _logarithm(t: Ratio, coefficients: tuple[float, float, float, float, float]) -> Ratio:
    """Return ln(mu/(Pa s)) of one of the two pure liquids."""
    factor, p, q, r, s = coefficients
    result: Ratio = math.log(factor) + (p + q * t) * t / (r + s * t)
    return result
