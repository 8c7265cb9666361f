"""Liquid water at another pressure than 0.1 MPa: what it changes, and where it ends.

Pressures are absolute. Nothing here is used where no pressure was given.
"""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component
from flowunc.core.distributions import Rectangular
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Density, Pressure, Ratio, Temperature, require_kind
from flowunc.core.operations import Value
from flowunc.core.quantity import Quantity
from flowunc.core.record import common_size, elementwise
from flowunc.core.units import parse_unit
from flowunc.fluids import formulations as data
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within
from flowunc.fluids.water_operations import WATER_COMPRESSION

__all__ = ["compressed", "liquid_pressure", "saturation_pressure", "under_pressure"]

_LOWEST, _HIGHEST = 50.0, 1000.0  # kPa
_VOLUME_OVER_PRESSURE = parse_unit("m^3/kg/Pa")
_VISCOSITY_PRESSURE = Component(
    label="pressure on the viscosity of water",
    distribution=Rectangular(data.WATER_VISCOSITY_PRESSURE_LIMITS),
    unit=PERCENT,
    source="viscosity taken at 0.1 MPa",
    key="flowunc.water.viscosity_pressure",
)
_ABSOLUTE = (
    "it is the absolute pressure in the liquid, a gauge reading plus the pressure of the air "
    "(about 100 kPa), and no pressure drop"
)


def liquid_pressure(
    pressure: Pressure | None, temperature: Temperature, function: str
) -> Pressure | None:
    """Return a given pressure after checking that water is liquid there; None stays None.

    Parameters
    ----------
    pressure : Pressure, scalar or shape (n,), optional
        Absolute.
    temperature : Temperature, scalar or shape (n,)
        Of the water, already checked.
    function : str
        Named in messages.

    Returns
    -------
    Pressure or None

    Raises
    ------
    DimensionError
        Another kind of quantity, a plain number included.
    RangeError
        Outside 50 kPa to 1 MPa, or more than 1 % below the boiling pressure.

    Notes
    -----
    Boiling pressure by [IAPWS SR1-86, eq. 1]; 1 % of it is 0.3 K at most.
    """
    if pressure is None:
        return None
    found = require_kind(pressure, Pressure, function, "pressure")
    require_within(
        found,
        _LOWEST,
        _HIGHEST,
        "kPa",
        argument=f"{function}(pressure=...)",
        source="liquid water near 0.1 MPa",
        hint=_ABSOLUTE,
    )
    size = common_size((temperature._node, found._node))  # before lengths meet in NumPy
    boiling = saturation_pressure(temperature._node.value)
    steam = np.atleast_1d(found._node.value < 0.99 * boiling)
    if steam.any():
        first = int(np.argmax(steam))
        here, needed, kelvin = (
            float(np.broadcast_to(values, steam.shape)[first])
            for values in (found._node.value, boiling, temperature._node.value)
        )
        place = "" if size is None else f" at reading {first}"
        raise RangeError(
            f"{function}(pressure=...): {here / 1e3:.6g} kPa{place}; water of "
            f"{kelvin - 273.15:.6g} degC boils below {needed / 1e3:.6g} kPa and would be steam: "
            f"{_ABSOLUTE}"
        )
    return found


def saturation_pressure(kelvin: Value) -> Value:
    """Compute the pressure in Pa at which water boils, from numbers.

    ln(p_s/p_c) = T_c/T sum c_i (1 - T/T_c)^e_i. Source: [IAPWS SR1-86, eq. 1].
    """
    theta = 1.0 - kelvin / data.WATER_CRITICAL_TEMPERATURE
    total = sum((c * theta**e for c, e in data.WATER_SATURATION), np.zeros_like(theta))
    logarithm = data.WATER_CRITICAL_TEMPERATURE / kelvin * total
    return np.asarray(data.WATER_CRITICAL_PRESSURE * np.exp(logarithm))


def compressed(density: Density, temperature: Temperature, pressure: Pressure) -> Density:
    """Carry a density from 0.1 MPa to another pressure.

    rho = rho_0/(1 + rho_0 (p - p_0) (v_p + v_pp/2 (p - p_0))). Source: [IAPWS SR6-08].
    """
    slope = Quantity._from_node(
        elementwise(WATER_COMPRESSION, temperature._node), _VOLUME_OVER_PRESSURE
    )
    rise = pressure - Pressure(data.WATER_REFERENCE_PRESSURE, "Pa")
    half_change = (
        0.5
        * data.WATER_COMPRESSION_CHANGE
        * (
            data.WATER_GAS_CONSTANT
            * data.WATER_REFERENCE_TEMPERATURE
            / data.WATER_REFERENCE_PRESSURE**3
        )
    )
    curvature = Quantity(half_change, "m^3/kg/Pa^2")
    result: Density = density / (1 + density * rise * (slope + curvature * rise))
    return result


def under_pressure(pressure: Pressure) -> Ratio:
    """Return 1 with the relative error that the pressure leaves in the viscosity."""
    rise = (pressure - Pressure(data.WATER_REFERENCE_PRESSURE, "Pa")) / Pressure(0.9, "MPa")
    result: Ratio = 1 + (one_within(_VISCOSITY_PRESSURE) - 1) * rise
    return result
