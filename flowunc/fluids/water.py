"""Liquid water at 0.1 MPa: density and viscosity from temperature.

The formulas are two recorded operations with exact derivatives; coefficients are in
`formulations`. What a formulation itself leaves open comes in as a shared component.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

import numpy as np

from flowunc.core import memory
from flowunc.core.component import Component
from flowunc.core.distributions import Normal, Rectangular
from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Temperature,
    require_kind,
)
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.record import elementwise
from flowunc.fluids import formulations as data
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within

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


def density(temperature: Temperature, *, water: Literal["tap", "pure"] = "tap") -> Density:
    """Compute the density of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.
    water : {"tap", "pure"}
        ``"tap"``: salts and air dissolved in it shift the density by up to 0.05 % either way,
        one shared component. ``"pure"``: air-free pure water, the formulation alone.

    Returns
    -------
    Density, shaped as ``temperature``
        In kg/m^3.

    Raises
    ------
    DimensionError
        Something else than a Temperature, a temperature difference included.
    RangeError
        A temperature outside 0 degC to 100 degC; another ``water`` than the two.

    Notes
    -----
    rho = 1/v, v = R T_R/p_0 (a_5 + sum a_i alpha^n_i + sum b_i beta^m_i) with
    alpha = T_R/(593 K - T), beta = T_R/(T - 232 K). Source: [IAPWS SR6-08, eq. 2], valid
    253.15 K to 383.15 K; below 0 degC water is supercooled and refused here.

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
    """
    if water not in ("tap", "pure"):
        raise RangeError(f"water.density(water={water!r}): expected 'tap' or 'pure'")
    found = _checked(temperature, "density")
    components = [_DENSITY_FORMULATION] if water == "pure" else [_DENSITY_FORMULATION, _TAP_WATER]
    exact = Density._from_node(elementwise(WATER_DENSITY, found._node))
    result = exact * one_within(*components)
    return Density._from_node(result._node, label="water density")


def viscosity(temperature: Temperature) -> DynamicViscosity:
    """Compute the dynamic viscosity of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.

    Returns
    -------
    DynamicViscosity, shaped as ``temperature``
        In Pa s.

    Raises
    ------
    DimensionError
        Something else than a Temperature.
    RangeError
        A temperature outside 0 degC to 100 degC.

    Notes
    -----
    mu = 1 uPa s * sum a_i (T/300 K)^b_i, i = 1 .. 4. Source: [IAPWS SR6-08, eq. 7], valid
    253.15 K to 383.15 K; below 0 degC water is supercooled and refused here. Relative
    uncertainty: 1 % at k = 2 [IAPWS R12-08] (from memory), one shared normal component of
    u = 0.5 %. That is wide at 20 degC, where 0.17 % at k = 2 is known; and it has room for the
    0.1 % that the salts of tap water add.

    Examples
    --------
    >>> from flowunc import Temperature, limits, water
    >>> mu = water.viscosity(Temperature(20, "degC", limits(0.5)))
    >>> round(mu.to("mPa*s").value, 4)
    1.0016
    """
    found = _checked(temperature, "viscosity")
    exact = DynamicViscosity._from_node(elementwise(WATER_VISCOSITY, found._node))
    result = exact * one_within(_VISCOSITY_FORMULATION)
    return DynamicViscosity._from_node(result._node, label="water viscosity")


def kinematic_viscosity(
    temperature: Temperature, *, water: Literal["tap", "pure"] = "tap"
) -> KinematicViscosity:
    """Compute the kinematic viscosity of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature : Temperature, scalar or shape (n,)
        0 degC to 100 degC.
    water : {"tap", "pure"}
        As in `density`.

    Returns
    -------
    KinematicViscosity, shaped as ``temperature``
        In m^2/s.

    Raises
    ------
    DimensionError, RangeError
        As `density` and `viscosity`.

    Notes
    -----
    nu = mu/rho, both at the same temperature, whose error is shared.

    Examples
    --------
    >>> from flowunc import Temperature, water
    >>> round(water.kinematic_viscosity(Temperature(20, "degC")).to("mm^2/s").value, 4)
    1.0034
    """
    ratio = viscosity(temperature) / density(temperature, water=water)
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


# -- the two recorded operations -------------------------------------------------------------------
_A, _B = data.WATER_VOLUME_ALPHA, data.WATER_VOLUME_BETA
# d/dT of alpha^n is n alpha^(n+1)/T_R, of beta^m it is -m beta^(m+1)/T_R
_SLOPE_A = {n: n * a for n, a in _A.items()}
_SLOPE_B = {m: m * b for m, b in _B.items()}
_TR = data.WATER_REFERENCE_TEMPERATURE
_BLOCK = 8192  # readings: a dozen arrays of 64 kB stay in cache
_VOLUME = data.WATER_GAS_CONSTANT * _TR / data.WATER_REFERENCE_PRESSURE  # m3/kg


def _alpha(kelvin: Value) -> Value:
    gap = np.subtract(data.WATER_POLE_ABOVE, kelvin, out=np.empty_like(kelvin))
    return np.divide(_TR, gap, out=gap)


def _beta(kelvin: Value) -> Value:
    gap = np.subtract(kelvin, data.WATER_POLE_BELOW, out=np.empty_like(kelvin))
    return np.divide(_TR, gap, out=gap)


def _sum_of_powers(x: Value, coefficients: dict[int, float]) -> Value:
    """Return the sum of c x^n, by Horner's rule over the gaps between the exponents."""
    exponents = sorted(coefficients, reverse=True)
    total = np.full_like(x, coefficients[exponents[0]])
    for higher, lower in zip(exponents, [*exponents[1:], 0], strict=True):
        for _ in range(higher - lower):
            total *= x
        if lower:
            total += coefficients[lower]
    return total


def _density(kelvin: Value, out: Value | None = None) -> Value:
    return _density_of(_alpha(kelvin), _beta(kelvin), out)


def _density_of(alpha: Value, beta: Value, out: Value | None = None) -> Value:
    volume = _sum_of_powers(alpha, _A)
    volume += _sum_of_powers(beta, _B)
    volume += data.WATER_VOLUME_CONSTANT
    return np.asarray(np.divide(1.0 / _VOLUME, volume, out=out))


def _density_slope(alpha: Value, beta: Value, density: Value) -> Value:
    slope = _sum_of_powers(alpha, _SLOPE_A)
    slope *= alpha
    below = _sum_of_powers(beta, _SLOPE_B)
    below *= beta
    slope -= below
    slope *= density
    slope *= density
    slope *= -_VOLUME / _TR  # d(1/v) = -dv/v^2
    return slope


def _pull_density(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return (weight * _density_slope(_alpha(values[0]), _beta(values[0]), result),)


def _density_block(kelvin: Value, density: Value, slope: Value) -> None:
    alpha, beta = _alpha(kelvin), _beta(kelvin)
    _density_of(alpha, beta, density)
    slope[:] = _density_slope(alpha, beta, density)


_SLOPE_TERMS = tuple((a * b, b) for a, b in data.WATER_VISCOSITY_TERMS)


def _log_ratio(kelvin: Value) -> Value:
    ratio = np.divide(kelvin, data.WATER_VISCOSITY_TEMPERATURE, out=np.empty_like(kelvin))
    return np.log(ratio, out=ratio)


def _sum_of_exponentials(
    logarithm: Value, terms: Iterable[tuple[float, float]], out: Value
) -> Value:
    """Return the sum of a exp(b x): one logarithm serves all powers."""
    term = np.empty_like(logarithm)
    out[...] = 0.0
    for factor, exponent in terms:
        np.multiply(logarithm, exponent, out=term)
        np.exp(term, out=term)
        term *= factor
        out += term
    return out


def _viscosity(kelvin: Value, out: Value | None = None) -> Value:
    total = np.empty_like(kelvin) if out is None else out
    return _sum_of_exponentials(_log_ratio(kelvin), data.WATER_VISCOSITY_TERMS, total)


def _pull_viscosity(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    kelvin = values[0]
    slope = _sum_of_exponentials(_log_ratio(kelvin), _SLOPE_TERMS, np.empty_like(kelvin))
    slope /= kelvin
    return (weight * slope,)


def _viscosity_block(kelvin: Value, viscosity: Value, slope: Value) -> None:
    logarithm = _log_ratio(kelvin)
    viscosity[:] = 0.0
    slope[:] = 0.0
    term = np.empty_like(kelvin)
    for factor, exponent in data.WATER_VISCOSITY_TERMS:
        np.multiply(logarithm, exponent, out=term)
        np.exp(term, out=term)
        term *= factor
        viscosity += term
        term *= exponent
        slope += term
    slope /= kelvin


def _in_blocks(
    kernel: Callable[[Value, Value, Value], None],
) -> Callable[[Value], tuple[Value, Value]]:
    """Make value and slope of long arrays block by block, so that the steps stay in cache."""

    def both(kelvin: Value) -> tuple[Value, Value]:
        value, slope = memory.empty(kelvin.size), memory.empty(kelvin.size)
        for start in range(0, kelvin.size, _BLOCK):
            part = slice(start, start + _BLOCK)
            kernel(kelvin[part], value[part], slope[part])
        return value, slope

    return both


WATER_DENSITY = Elementwise(
    "WATER_DENSITY",
    "water density",
    _density,
    _pull_density,
    with_slope=_in_blocks(_density_block),
    module=__name__,
)
WATER_VISCOSITY = Elementwise(
    "WATER_VISCOSITY",
    "water viscosity",
    _viscosity,
    _pull_viscosity,
    with_slope=_in_blocks(_viscosity_block),
    module=__name__,
)
