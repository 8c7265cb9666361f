"""Friction factor and wall shear stress from a measured pressure drop."""

from __future__ import annotations

import numpy as np

from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Density,
    FrictionFactor,
    Length,
    Pressure,
    Velocity,
)
from flowunc.core.naming import named_argument
from flowunc.pipe.signs import require_positive

__all__ = ["darcy_friction_factor", "fanning", "wall_shear_stress"]


def darcy_friction_factor(
    pressure_drop: Pressure,
    density: Density,
    velocity: Velocity,
    bore: Length,
    tap_spacing: Length,
) -> FrictionFactor:
    """Compute the Darcy friction factor of fully developed flow between two taps.

    Parameters
    ----------
    pressure_drop : Pressure, scalar or shape (n,)
        Piezometric pressure upstream minus downstream; it may come out below 0 by chance.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    velocity : Velocity, scalar or shape (n,)
        Mean velocity, above 0.
    bore : Length, scalar or shape (n,)
        Inside diameter, smaller than the tap spacing.
    tap_spacing : Length, scalar or shape (n,)
        Distance between the taps along the pipe.

    Returns
    -------
    FrictionFactor
        Darcy's, four times Fanning's (`fanning`).

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Density, velocity, bore or tap spacing not above 0; a bore that is not smaller than the
        tap spacing, as where the two are swapped.

    Notes
    -----
    f = 2 D dp/(rho L v^2), the definition. With v = 4 Q/(pi D^2) the bore enters as D^5:
    1 % in the bore is 5 % in f.

    Examples
    --------
    >>> from flowunc import Density, Length, Pressure, Velocity, darcy_friction_factor
    >>> f = darcy_friction_factor(
    ...     Pressure(22.0, "Pa"), Density(998.2, "kg/m^3"), Velocity(0.1053, "m/s"),
    ...     bore=Length(19.05, "mm"), tap_spacing=Length(2.4, "m"),
    ... )
    >>> round(f.value, 5)
    0.03155
    """
    name = "darcy_friction_factor"
    dp = named_argument(pressure_drop, Pressure, name, "pressure_drop")
    rho = named_argument(density, Density, name, "density")
    v = named_argument(velocity, Velocity, name, "velocity")
    D = named_argument(bore, Length, name, "bore")
    L = named_argument(tap_spacing, Length, name, "tap_spacing")
    require_positive(rho, name, "density")
    require_positive(v, name, "velocity")
    require_positive(D, name, "bore")
    require_positive(L, name, "tap_spacing")

    f = (2 * D / L) * dp / (rho * v**2)

    _require_long_section(D, L, name)
    return FrictionFactor._from_node(f._node, label="Darcy friction factor")


def _require_long_section(bore: Length, tap_spacing: Length, function: str) -> None:
    """Refuse a bore that is not smaller than the tap spacing: both are lengths, easily swapped."""
    bores, spacings = np.broadcast_arrays(bore._node.value, tap_spacing._node.value)
    swapped = np.flatnonzero(bores >= spacings)
    if swapped.size:
        row = int(swapped[0])
        place = f" at reading {row}" if bores.ndim else ""
        more = "" if swapped.size == 1 else f" (and {swapped.size - 1} more)"
        raise RangeError(
            f"{function}: bore {bores.flat[row] * 1e3:.6g} mm and tap_spacing "
            f"{spacings.flat[row] * 1e3:.6g} mm{place}{more}; expected a bore smaller than the "
            "tap spacing: are the two swapped?"
        )


def fanning(friction_factor: FrictionFactor) -> FrictionFactor:
    """Convert a Darcy friction factor to a Fanning friction factor, a quarter of it.

    Parameters
    ----------
    friction_factor : FrictionFactor, scalar or shape (n,)
        Darcy's.

    Returns
    -------
    FrictionFactor
        Fanning's. The laws of `flowunc.pipe.laws` are for Darcy's.

    Raises
    ------
    DimensionError
        Another kind of quantity.

    Notes
    -----
    f_F = f/4, by definition.

    Examples
    --------
    >>> from flowunc import FrictionFactor, fanning
    >>> fanning(FrictionFactor(0.032, "1")).value
    0.008
    """
    f = named_argument(friction_factor, FrictionFactor, "fanning", "friction_factor")
    return FrictionFactor._from_node((f / 4)._node, label="Fanning friction factor")


def wall_shear_stress(pressure_drop: Pressure, bore: Length, tap_spacing: Length) -> Pressure:
    """Compute the shear stress at the wall of fully developed flow.

    Parameters
    ----------
    pressure_drop : Pressure, scalar or shape (n,)
        Piezometric pressure upstream minus downstream.
    bore : Length, scalar or shape (n,)
        Inside diameter, smaller than the tap spacing.
    tap_spacing : Length, scalar or shape (n,)
        Distance between the taps along the pipe.

    Returns
    -------
    Pressure
        In Pa, positive for flow towards the lower pressure.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Bore or tap spacing not above 0; a bore that is not smaller than the tap spacing, as
        where the two are swapped.

    Notes
    -----
    tau = D dp/(4 L), the balance of forces on the liquid between the taps.

    Examples
    --------
    >>> from flowunc import Length, Pressure, wall_shear_stress
    >>> stress = wall_shear_stress(
    ...     Pressure(24.0, "Pa"), bore=Length(20, "mm"), tap_spacing=Length(2.4, "m")
    ... )
    >>> round(stress.value, 6)
    0.05
    """
    name = "wall_shear_stress"
    dp = named_argument(pressure_drop, Pressure, name, "pressure_drop")
    D = named_argument(bore, Length, name, "bore")
    L = named_argument(tap_spacing, Length, name, "tap_spacing")
    require_positive(D, name, "bore")
    require_positive(L, name, "tap_spacing")

    tau = D * dp / (4 * L)

    _require_long_section(D, L, name)
    return Pressure._from_node(tau._node, label="wall shear stress")
