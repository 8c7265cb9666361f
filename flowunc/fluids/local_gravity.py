"""Free-fall acceleration where the bench stands, from latitude and height."""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Normal, Rectangular
from flowunc.core.errors import StatementError
from flowunc.core.kinds import Acceleration, Angle, Length, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Reference, Statement, shared
from flowunc.core.units import parse_unit
from flowunc.fluids import formulations as data
from flowunc.fluids.ranges import require_within

__all__ = ["gravity"]

_UNIT = parse_unit("m/s^2")
_METRE = parse_unit("m")
_ANOMALY = Component(
    label="gravity anomaly",
    distribution=Normal(data.GRAVITY_ANOMALY_STANDARD),
    unit=_UNIT,
    source="gravity formula",
    key="flowunc.gravity.anomaly",
)
_HEIGHT = Component(
    label="height above sea level, not given",
    distribution=Rectangular(data.GRAVITY_HEIGHT_LIMITS),
    unit=_METRE,
    source="gravity formula",
    key="flowunc.gravity.height",
)


def gravity(
    latitude: Angle, height: Length | None = None, *, anomaly: Statement | None = None
) -> Acceleration:
    """Compute the local free-fall acceleration from latitude and height.

    Parameters
    ----------
    latitude : Angle, scalar or shape (n,)
        Geodetic latitude as on a map, -90 deg to 90 deg.
    height : Length, scalar or shape (n,), optional
        Above sea level, -500 m to 9000 m. If left out: 0 m +- 500 m (rectangular).
    anomaly : Statement, optional
        What is known of the local departure from the formula, in m/s^2 unless the statement
        has a unit; u = 2e-4 m/s^2 if left out. ``limits(0)`` gives the formula alone.

    Returns
    -------
    Acceleration, shaped as the arguments
        In m/s^2.

    Raises
    ------
    DimensionError
        Another kind of quantity, a plain number included.
    RangeError
        Latitude or height outside the ranges.
    StatementError
        An anomaly that is no statement, or in another dimension.

    Notes
    -----
    g = g_e (1 + k s)/sqrt(1 - e^2 s) - 3.086e-6 s^-2 H, s = sin(latitude)^2. Source: normal
    gravity of the ellipsoid [WGS 84]; free-air gradient and default anomaly from memory. One
    anomaly is shared by all results of the formula, as for one bench at one place; sites with
    different ground need one ``anomaly=`` each.

    Examples
    --------
    >>> from flowunc import Angle, Length, gravity
    >>> g = gravity(Angle(52, "deg"), Length(100, "m"))
    >>> round(g.value, 4), round(g.u, 4)
    (9.8122, 0.0002)
    """
    where = require_kind(latitude, Angle, "gravity", "latitude")
    require_within(
        where, -90, 90, "deg", argument="gravity(latitude=...)", source="latitudes on earth"
    )
    if height is None:
        level = Length._from_terms(0.0, [Term(_HEIGHT)], _METRE)
    else:
        level = require_kind(height, Length, "gravity", "height")
        require_within(
            level, -500, 9000, "m", argument="gravity(height=...)", source="the free-air gradient"
        )
    s = np.sin(where) ** 2
    shape = (1 + data.GRAVITY_SOMIGLIANA * s) / np.sqrt(1 - data.GRAVITY_ECCENTRICITY_SQUARED * s)
    normal = Acceleration(data.GRAVITY_EQUATOR, "m/s^2") * shape
    free_air = Quantity(data.GRAVITY_GRADIENT, "s^-2") * level
    departure = Acceleration._from_terms(0.0, [Term(_anomaly(anomaly))], _UNIT)
    result = normal + free_air + departure
    return Acceleration._from_node(result._node, label="gravity")


def _anomaly(statement: Statement | None) -> Component:
    if statement is None:
        return _ANOMALY
    if not isinstance(statement, Statement):
        raise StatementError(
            f"gravity(anomaly={statement!r}): expected a statement such as standard(2e-4)"
        )
    return shared(statement).component(Reference("gravity anomaly", _UNIT), "gravity anomaly")
