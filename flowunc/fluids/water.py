"""Liquid water: density and viscosity from temperature, and from pressure where it was given.

The formulas are recorded operations with exact derivatives (`water_operations`), coefficients
are in `formulations`, the step from 0.1 MPa to another pressure is in `water_pressure`. What a
formulation itself leaves open comes in as a shared component.
"""

from __future__ import annotations

from typing import Literal

from flowunc.core.component import Component
from flowunc.core.distributions import Normal, Rectangular
from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Pressure,
    Temperature,
    require_kind,
)
from flowunc.core.record import elementwise
from flowunc.fluids import formulations as data
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within
from flowunc.fluids.water_operations import WATER_DENSITY, WATER_VISCOSITY
from flowunc.fluids.water_pressure import compressed, liquid_pressure, under_pressure

__all__ = ["density", "kinematic_viscosity", "viscosity"]

_DENSITY_FORMULATION = Component(
    label="water density formulation",
    distribution=Normal(data.WATER_DENSITY_STANDARD),
    unit=PERCENT,
    source="IAPWS SR6-08",
    key="flowunc.water.density",
)
_TAP_WATER = Component(
    label="salts and air dissolved in tap water",
    distribution=Rectangular(data.TAP_WATER_LIMITS),
    unit=PERCENT,
    source="tap water",
    key="flowunc.water.tap",
)
_VISCOSITY_FORMULATION = Component(
    label="water viscosity formulation",
    distribution=Normal(data.WATER_VISCOSITY_STANDARD),
    unit=PERCENT,
    source="IAPWS SR6-08",
    key="flowunc.water.viscosity",
)


def density(
    temperature: Temperature,
    pressure: Pressure | None = None,
    *,
    water: Literal["tap", "pure"] = "tap",
) -> Density:
    """Compute the density of liquid water, at 0.1 MPa unless a pressure is given.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.
    pressure : Pressure, scalar or shape (n,), optional
        Absolute, 50 kPa to 1 MPa, and not below the boiling pressure: a gauge reading plus
        the pressure of the air. Exactly 0.1 MPa if left out.
    water : {"tap", "pure"}
        ``"tap"``: salts and air dissolved in it shift the density by up to 0.05 % either way,
        one shared component. ``"pure"``: air-free pure water, the formulation alone.

    Returns
    -------
    Density, shaped as the arguments
        In kg/m^3.

    Raises
    ------
    DimensionError
        Something else than a Temperature, a temperature difference included.
    RangeError
        A temperature outside 0 degC to 100 degC; a pressure outside its range, or at which
        the water would be steam; another ``water`` than the two.

    Notes
    -----
    rho = 1/v, v = R T_R/p_0 (a_5 + sum a_i alpha^n_i + sum b_i beta^m_i) with
    alpha = T_R/(593 K - T), beta = T_R/(T - 232 K). Source: [IAPWS SR6-08, eq. 2], valid
    253.15 K to 383.15 K; below 0 degC water is supercooled and refused here.

    At pressure p, v(p) = v + v_p (p - p_0) + v_pp/2 (p - p_0)^2 with the release's own
    v_p(T) and constant v_pp, p_0 = 0.1 MPa: 0.04 % more density at 1 MPa. Within 2e-7 of
    [IAPWS R6-95] over the whole range (computed), so no component is added for it.

    Relative uncertainty: u = 1e-6 of the formulation (from memory). Tap water: rectangular,
    0.05 % either way, which covers 0.6 g/kg of salts (0.046 % by [IAPWS R13-08], computed), air
    saturation (0.0003 %, from memory) and up to 0.1 MPa of further pressure (0.005 %). For
    heavier water measure the density.

    Examples
    --------
    >>> from flowunc import Temperature, limits, water
    >>> rho = water.density(Temperature(20, "degC", limits(0.5)), water="pure")
    >>> round(rho.value, 3), round(rho.u, 3)
    (998.207, 0.06)
    >>> from flowunc import Pressure
    >>> round(water.density(Temperature(20, "degC"), Pressure(600, "kPa")).value, 3)
    998.435
    """
    if water not in ("tap", "pure"):
        raise RangeError(f"water.density(water={water!r}): expected 'tap' or 'pure'")
    found = _checked(temperature, "density")
    absolute = liquid_pressure(pressure, found, "water.density")
    components = [_DENSITY_FORMULATION] if water == "pure" else [_DENSITY_FORMULATION, _TAP_WATER]
    exact = Density._from_node(elementwise(WATER_DENSITY, found._node))
    if absolute is not None:
        exact = compressed(exact, found, absolute)
    result = exact * one_within(*components)
    return Density._from_node(result._node, label="water density")


def viscosity(temperature: Temperature, pressure: Pressure | None = None) -> DynamicViscosity:
    """Compute the dynamic viscosity of liquid water.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.
    pressure : Pressure, scalar or shape (n,), optional
        As in `density`. It adds an uncertainty and does not shift the value.

    Returns
    -------
    DynamicViscosity, shaped as the arguments
        In Pa s.

    Raises
    ------
    DimensionError
        Something else than a Temperature or a Pressure.
    RangeError
        A temperature outside 0 degC to 100 degC; a pressure as in `density`.

    Notes
    -----
    mu = 1 uPa s * sum a_i (T/300 K)^b_i, i = 1 .. 4. Source: [IAPWS SR6-08, eq. 7], valid
    253.15 K to 383.15 K; below 0 degC water is supercooled and refused here. Relative
    uncertainty: 1 % at k = 2 [IAPWS R12-08] (from memory), one shared normal component of
    u = 0.5 %. That is wide at 20 degC, where 0.17 % at k = 2 is known; and it has room for the
    0.1 % that the salts of tap water add.

    1 MPa in place of 0.1 MPa lowers the viscosity by 0.11 % at 0 degC and raises it by 0.09 %
    at 100 degC (computed from [IAPWS R12-08]), less than is known of it anyway. So a given
    pressure brings a second shared component instead of a formula: a relative error within
    0.12 % at 1 MPa (rectangular), in proportion to p - 0.1 MPa.

    Examples
    --------
    >>> from flowunc import Temperature, limits, water
    >>> mu = water.viscosity(Temperature(20, "degC", limits(0.5)))
    >>> round(mu.to("mPa*s").value, 4)
    1.0016
    """
    found = _checked(temperature, "viscosity")
    absolute = liquid_pressure(pressure, found, "water.viscosity")
    exact = DynamicViscosity._from_node(elementwise(WATER_VISCOSITY, found._node))
    result = exact * one_within(_VISCOSITY_FORMULATION)
    if absolute is not None:
        result = result * under_pressure(absolute)
    return DynamicViscosity._from_node(result._node, label="water viscosity")


def kinematic_viscosity(
    temperature: Temperature,
    pressure: Pressure | None = None,
    *,
    water: Literal["tap", "pure"] = "tap",
) -> KinematicViscosity:
    """Compute the kinematic viscosity of liquid water.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.
    pressure : Pressure, scalar or shape (n,), optional
        As in `density` and `viscosity`.
    water : {"tap", "pure"}
        As in `density`.

    Returns
    -------
    KinematicViscosity, shaped as the arguments
        In m^2/s.

    Raises
    ------
    DimensionError, RangeError
        As `density` and `viscosity`.

    Notes
    -----
    nu = mu/rho, both at the same temperature and pressure, whose errors are shared.

    Examples
    --------
    >>> from flowunc import Temperature, water
    >>> round(water.kinematic_viscosity(Temperature(20, "degC")).to("mm^2/s").value, 4)
    1.0034
    """
    ratio = viscosity(temperature, pressure) / density(temperature, pressure, water=water)
    return KinematicViscosity._from_node(ratio._node, label="water kinematic viscosity")


def _checked(temperature: Temperature, function: str) -> Temperature:
    found = require_kind(temperature, Temperature, f"water.{function}", "temperature")
    require_within(
        found,
        0.0,
        100.0,
        "degC",
        argument=f"water.{function}(temperature=...)",
        source="liquid water at 0.1 MPa [IAPWS SR6-08]",
    )
    return found
