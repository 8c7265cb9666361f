"""Capillarity of the columns of a manometer: how far a meniscus climbs, and how surely.

What to use when: two limbs of one bore and one cleanliness climb alike, and a zero reading
takes off what they do not; what stays is the change of wetting from reading to reading,
`capillarity`. A single tube that rises out of a wide well without zero reading stands higher by
`capillary_rise`, which can be subtracted.

Mercury in glass is toxic once the glass breaks: follow your local rules, ask qualified staff.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Acceleration, Angle, Density, Length, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement, limits
from flowunc.core.units import parse_unit
from flowunc.instruments.instrument import first_at
from flowunc.instruments.surroundings import gravity_or_default

__all__ = ["capillarity", "capillary_rise"]

_TENSION = parse_unit("N/m")


def capillary_rise(
    bore: Length,
    *,
    surface_tension: Quantity,
    density: Density,
    contact_angle: Angle | None = None,
    gravity: Acceleration | None = None,
) -> Length:
    """Compute how far a liquid climbs in a narrow tube, or is pressed down in it.

    Parameters
    ----------
    bore : Length, scalar or shape (n,)
        Inside diameter of the tube.
    surface_tension : Quantity, scalar or shape (n,)
        In a unit such as "mN/m": 72.7 mN/m for clean water at 20 degC [IAPWS R1-76].
    density : Density, scalar or shape (n,)
        Of the liquid, less that of what stands above it where that counts.
    contact_angle : Angle, scalar, optional
        Between liquid and wall, 0 to 180 deg; 0 (clean glass, water) if left out, about
        140 deg for mercury in glass (common practice, no source). Mercury is toxic: follow
        your local rules and ask qualified staff.
    gravity : Acceleration, optional
        9.81 m/s^2 ± 0.03 m/s^2 if left out.

    Returns
    -------
    Length
        Positive upwards, negative where the liquid does not wet the tube.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A value out of range; a bore above twice the capillary length
        sqrt(sigma / (rho g)), that is 5.5 mm with water.

    Notes
    -----
    h = 4 sigma cos(theta) / (rho g d), Jurin's law for a narrow tube [Batchelor 1967]. The
    lowest point of a wetting meniscus stands lower: by 2 % at 2 mm bore with water, by 17 % of
    its own height at the limit of the range (computed from the Young-Laplace equation).

    Examples
    --------
    >>> from flowunc import Density, Length, Quantity, capillary_rise
    >>> rise = capillary_rise(
    ...     Length(4, "mm"), surface_tension=Quantity(72.7, "mN/m"),
    ...     density=Density(998.2, "kg/m^3"),
    ... )
    >>> round(rise.to("mm").value, 2)
    7.42
    """
    name = "capillary_rise"
    sigma, rho, g = _properties(name, surface_tension, density, gravity)
    d = named_by_role(require_kind(bore, Length, name, "bore"), "tube bore")
    length = np.sqrt(sigma.si.value / (rho.si.value * np.asarray(g.si.value)))
    ratio = np.asarray(d.si.value) / length
    bad = ~((ratio > 0) & (ratio <= 2))
    if bad.any():
        bores = np.broadcast_to(np.asarray(d.value), bad.shape)
        widest = 2e3 * float(np.broadcast_to(length, bad.shape)[bad].flat[0])
        raise RangeError(
            f"{name}(bore=...){first_at(bad)}: {float(bores[bad].flat[0]):g} {d.unit}; expected "
            f"above 0 and up to {widest:.3g} mm, beyond which a meniscus is no longer round; use "
            "capillarity(...) as limits, or take a zero reading"
        )
    return _jurin(d, sigma, rho, g, _angle(name, contact_angle))


def capillarity(
    bore: Length,
    *,
    surface_tension: Quantity,
    density: Density,
    contact_angles: Sequence[Angle],
    gravity: Acceleration | None = None,
    label: str | None = None,
) -> Statement:
    """State how far a column may stand wrong because the tube is not wetted alike everywhere.

    Parameters
    ----------
    bore : Length, scalar
        Inside diameter of the tube.
    surface_tension, density, gravity
        As for `capillary_rise`; their values only.
    contact_angles : (Angle, Angle)
        Between which the wetting changes, such as 0 deg for a clean and 40 deg for a greasy
        tube.
    label : str, optional
        Name of the component in budgets.

    Returns
    -------
    Statement
        For ``capillarity=`` of a manometer: limits of half the difference of both rises, new
        at every reading of each column.

    Raises
    ------
    DimensionError, RangeError
        As for `capillary_rise`, but of any bore.
    StatementError
        Not two angles.

    Notes
    -----
    ±(2 sigma / (rho g d)) abs(cos(theta_1) - cos(theta_2)). Jurin's law gives too much for
    wide tubes, so the limits are wide there, never too narrow [Batchelor 1967]. Which angles to
    take is a judgement: look at the menisci while the columns rise and fall.

    Examples
    --------
    >>> from flowunc import Angle, Density, Length, Quantity, capillarity
    >>> wetting = capillarity(
    ...     Length(8, "mm"), surface_tension=Quantity(72.7, "mN/m"),
    ...     density=Density(998.2, "kg/m^3"),
    ...     contact_angles=(Angle(0, "deg"), Angle(40, "deg")),
    ... )
    >>> print(Length(300.0, "mm", wetting))
    300.00 ± 0.25 mm
    """
    name = "capillarity"
    sigma, rho, g = _properties(name, surface_tension, density, gravity)
    d = require_kind(bore, Length, name, "bore")
    if not isinstance(contact_angles, (tuple, list)) or len(contact_angles) != 2:
        raise StatementError(
            f"{name}(contact_angles={contact_angles!r}): expected two, such as (Angle(0, 'deg'), "
            "Angle(40, 'deg'))"
        )
    if any(item.ndim for item in (d, sigma, rho, g)) or not d.si.value > 0:
        raise RangeError(f"{name}(bore=...): got {d}; expected one bore above 0, and one liquid")
    high, low = (
        float(_jurin(d, sigma, rho, g, _angle(name, item)).to("mm").value)
        for item in contact_angles
    )
    return limits(abs(high - low) / 2, "mm", label=label)


def _jurin(
    bore: Length, tension: Quantity, density: Density, gravity: Acceleration, angle: Angle
) -> Length:
    rise: Length = 4 * tension * np.cos(angle) / (density * gravity * bore)
    return rise.labelled("capillary rise")


def _angle(name: str, angle: Any) -> Angle:
    if angle is None:
        return Angle(0, "deg")
    given = named_by_role(require_kind(angle, Angle, name, "contact_angle"), "contact angle")
    if given.ndim or not 0 <= given.si.value <= math.pi * (1 + 1e-12):
        raise RangeError(f"{name}: contact angle {given}; expected one from 0 to 180 deg")
    return given


def _properties(
    name: str, tension: Any, density: Any, gravity: Any
) -> tuple[Quantity, Density, Acceleration]:
    if not isinstance(tension, Quantity) or tension._unit.dimension is not _TENSION.dimension:
        raise DimensionError(
            f"{name}(surface_tension=...): got {tension!r}; expected a quantity such as "
            "Quantity(72.7, 'mN/m')"
        )
    rho = named_by_role(require_kind(density, Density, name, "density"), "density")
    for argument, given in (("surface_tension", tension), ("density", rho)):
        bad = ~(np.asarray(given.si.value) > 0)
        if bad.any():
            raise RangeError(f"{name}({argument}=...){first_at(bad)}: expected above 0")
    return named_by_role(tension, "surface tension"), rho, gravity_or_default(gravity, name)
