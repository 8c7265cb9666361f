"""Pressure loss and head: fittings, the height of a column, the fall along the pipe.

Why the pipe need not be level. A manometer filled with the flowing liquid shows the difference of
the *piezometric* pressure p + rho g z between the taps: the liquid in its tubes weighs as much
per metre of height as that in the pipe. If one tap stands higher, its static pressure is lower by
rho g times that height, and the column that leads down from it adds just as much again. So a
pipe that slopes or sags within its supports needs no correction: only friction remains. (The bore
is alike at both taps, so the velocity head cancels too.) What has to be levelled is the scale on
which the columns are read. A gauge *at* each tap would see the static pressure, and the slope.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from flowunc.core.arguments import read_values
from flowunc.core.kinds import Acceleration, Density, Length, Pressure, Ratio, Velocity
from flowunc.core.naming import named_argument
from flowunc.instruments.surroundings import gravity_or_default
from flowunc.pipe.signs import require_not_negative, require_positive

__all__ = ["head_loss", "hydraulic_gradient", "minor_loss", "pressure_from_head"]


def minor_loss(
    loss_coefficient: Ratio | ArrayLike, density: Density, velocity: Velocity
) -> Pressure:
    """Compute the pressure loss of a fitting: an inlet, a bend, a valve.

    Parameters
    ----------
    loss_coefficient : Ratio or float, scalar or shape (n,)
        K of the fitting, 0 or more, referred to the velocity given.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    velocity : Velocity, scalar or shape (n,)
        Mean velocity, 0 or more.

    Returns
    -------
    Pressure
        In Pa.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A loss coefficient or velocity below 0; a density not above 0.

    Notes
    -----
    dp = K rho v^2/2, the definition of K [White 2003, ch. 6].

    Examples
    --------
    >>> from flowunc import Density, Velocity, minor_loss
    >>> minor_loss(0.5, Density(1000, "kg/m^3"), Velocity(0.2, "m/s")).value
    10.0
    """
    name = "minor_loss"
    if isinstance(loss_coefficient, (int, float, list, tuple, np.ndarray, np.number)):
        loss_coefficient = Ratio(
            read_values(loss_coefficient, f"{name}(loss_coefficient=...)"), "1"
        )
    K = named_argument(loss_coefficient, Ratio, name, "loss_coefficient")
    rho = named_argument(density, Density, name, "density")
    v = named_argument(velocity, Velocity, name, "velocity")
    require_not_negative(K, name, "loss_coefficient")
    require_positive(rho, name, "density")
    require_not_negative(v, name, "velocity")

    dp = K * rho * v**2 / 2

    return Pressure._from_node(dp._node, label="minor loss")


def head_loss(
    pressure_drop: Pressure, density: Density, *, gravity: Acceleration | None = None
) -> Length:
    """Express a pressure drop as the height of a column of the liquid.

    Parameters
    ----------
    pressure_drop : Pressure, scalar or shape (n,)
    density : Density, scalar or shape (n,)
        Of the liquid in the column.
    gravity : Acceleration, optional
        9.81 m/s^2 with limits of 0.03 m/s^2 unless given, the same component as in manometers.

    Returns
    -------
    Length
        In m.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Density or gravity not above 0.

    Notes
    -----
    h = dp/(rho g), the definition. Against air the column of a manometer stands higher than that
    by rho_air/rho, 0.12 % with water; the manometers of flowunc take that into account.

    Examples
    --------
    >>> from flowunc import Acceleration, Density, Pressure, head_loss
    >>> h = head_loss(
    ...     Pressure(98, "Pa"), Density(1000, "kg/m^3"), gravity=Acceleration(9.8, "m/s^2")
    ... )
    >>> round(h.to("mm").value, 6)
    10.0
    """
    name = "head_loss"
    dp = named_argument(pressure_drop, Pressure, name, "pressure_drop")
    rho = named_argument(density, Density, name, "density")
    require_positive(rho, name, "density")
    g = gravity_or_default(gravity, name)

    h = dp / (rho * g)

    return Length._from_node(h._node, label="head loss")


def pressure_from_head(
    head: Length, density: Density, *, gravity: Acceleration | None = None
) -> Pressure:
    """Express the height of a column of liquid as a pressure.

    Parameters
    ----------
    head : Length, scalar or shape (n,)
        Height of the column, along the vertical.
    density : Density, scalar or shape (n,)
        Of the liquid in the column.
    gravity : Acceleration, optional
        9.81 m/s^2 with limits of 0.03 m/s^2 unless given, the same component as in manometers.

    Returns
    -------
    Pressure
        In Pa.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Density or gravity not above 0.

    Notes
    -----
    dp = rho g h, the definition.

    Examples
    --------
    >>> from flowunc import Acceleration, Density, Length, pressure_from_head
    >>> dp = pressure_from_head(
    ...     Length(10, "mm"), Density(1000, "kg/m^3"), gravity=Acceleration(9.8, "m/s^2")
    ... )
    >>> round(dp.value, 6)
    98.0
    """
    name = "pressure_from_head"
    h = named_argument(head, Length, name, "head")
    rho = named_argument(density, Density, name, "density")
    require_positive(rho, name, "density")
    g = gravity_or_default(gravity, name)

    dp = rho * g * h

    return Pressure._from_node(dp._node, label="pressure of head")


def hydraulic_gradient(
    pressure_drop: Pressure,
    density: Density,
    tap_spacing: Length,
    *,
    gravity: Acceleration | None = None,
) -> Ratio:
    """Compute the fall of the head along the pipe.

    Parameters
    ----------
    pressure_drop : Pressure, scalar or shape (n,)
        Piezometric pressure upstream minus downstream.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    tap_spacing : Length, scalar or shape (n,)
        Distance between the taps along the pipe.
    gravity : Acceleration, optional
        9.81 m/s^2 with limits of 0.03 m/s^2 unless given, the same component as in manometers.

    Returns
    -------
    Ratio
        Head lost per length of pipe.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Density, tap spacing or gravity not above 0.

    Notes
    -----
    i = dp/(rho g L), the definition. With piezometric taps it is the slope of the line to which
    liquid would rise in tubes at the taps, and does not depend on how level the pipe lies: what
    a higher tap lacks in static pressure, the longer column of the same liquid gives back. The
    tap spacing is along the pipe; a tilt by the angle a shortens its horizontal projection by
    1 - cos a, 0.015 % at 1 degree, which does not enter.

    Examples
    --------
    >>> from flowunc import Acceleration, Density, Length, Pressure, hydraulic_gradient
    >>> i = hydraulic_gradient(
    ...     Pressure(98, "Pa"), Density(1000, "kg/m^3"), Length(2.0, "m"),
    ...     gravity=Acceleration(9.8, "m/s^2"),
    ... )
    >>> round(i.value, 6)
    0.005
    """
    name = "hydraulic_gradient"
    dp = named_argument(pressure_drop, Pressure, name, "pressure_drop")
    rho = named_argument(density, Density, name, "density")
    L = named_argument(tap_spacing, Length, name, "tap_spacing")
    require_positive(rho, name, "density")
    require_positive(L, name, "tap_spacing")
    g = gravity_or_default(gravity, name)

    i = dp / (rho * g * L)

    return Ratio._from_node(i._node, label="hydraulic gradient")
