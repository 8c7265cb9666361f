"""Mean velocity and Reynolds number of the flow in a round pipe."""

from __future__ import annotations

import math

from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    Length,
    ReynoldsNumber,
    Velocity,
    VolumeFlowRate,
)
from flowunc.core.naming import named_argument
from flowunc.pipe.signs import require_not_negative, require_positive

__all__ = ["mean_velocity", "reynolds_number"]


def mean_velocity(flow: VolumeFlowRate, bore: Length) -> Velocity:
    """Compute the velocity averaged over the cross-section.

    Parameters
    ----------
    flow : VolumeFlowRate, scalar or shape (n,)
        Volume flow rate; its sign is the direction.
    bore : Length, scalar or shape (n,)
        Inside diameter.

    Returns
    -------
    Velocity
        In m/s.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A bore that is not above 0.

    Notes
    -----
    v = Q/(pi D^2/4), the definition. The bore stays the same component in the velocity and in
    whatever is computed from both.

    Examples
    --------
    >>> from flowunc import Length, VolumeFlowRate, mean_velocity
    >>> v = mean_velocity(VolumeFlowRate(1.8, "L/min"), Length(19.05, "mm"))
    >>> round(v.value, 5)
    0.10525
    """
    Q = named_argument(flow, VolumeFlowRate, "mean_velocity", "flow")
    D = named_argument(bore, Length, "mean_velocity", "bore")
    require_positive(D, "mean_velocity", "bore")

    v = Q / (math.pi / 4 * D**2)

    return Velocity._from_node(v._node, label="mean velocity")


def reynolds_number(
    velocity: Velocity, bore: Length, density: Density, viscosity: DynamicViscosity
) -> ReynoldsNumber:
    """Compute the Reynolds number of the mean velocity and the bore.

    Parameters
    ----------
    velocity : Velocity, scalar or shape (n,)
        Mean velocity, 0 or more.
    bore : Length, scalar or shape (n,)
        Inside diameter.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    viscosity : DynamicViscosity, scalar or shape (n,)
        Of the flowing liquid.

    Returns
    -------
    ReynoldsNumber
        Dimension one.

    Raises
    ------
    DimensionError
        Another kind of quantity, such as a kinematic viscosity: multiply that by the density.
    RangeError
        Bore, density or viscosity not above 0, or a velocity below 0.

    Notes
    -----
    Re = rho v D/mu, the definition. With v = 4 Q/(pi D^2) the bore enters as D^-1, not as D.

    Examples
    --------
    >>> from flowunc import Density, DynamicViscosity, Length, Velocity, reynolds_number
    >>> re = reynolds_number(
    ...     Velocity(0.1, "m/s"), Length(20, "mm"), Density(998.2, "kg/m^3"),
    ...     DynamicViscosity(1.0016, "mPa*s"),
    ... )
    >>> round(re.value, 1)
    1993.2
    """
    name = "reynolds_number"
    v = named_argument(velocity, Velocity, name, "velocity")
    D = named_argument(bore, Length, name, "bore")
    rho = named_argument(density, Density, name, "density")
    mu = named_argument(viscosity, DynamicViscosity, name, "viscosity")
    require_not_negative(v, name, "velocity")
    require_positive(D, name, "bore")
    require_positive(rho, name, "density")
    require_positive(mu, name, "viscosity")

    re = rho * v * D / mu

    return ReynoldsNumber._from_node(re._node, label="Reynolds number")
