"""Gravity and air density where nothing was stated: wide limits that are honest at most places.

Both are one unknown value behind everything measured at a bench, so their components have
fixed keys: results of two instruments, or of two processes, are correlated through them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from flowunc.core.component import Component, Term
from flowunc.core.dimensions import ACCELERATION, DENSITY
from flowunc.core.distributions import Rectangular
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Acceleration, Density, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.units import coherent_unit
from flowunc.instruments.instrument import first_at

__all__ = [
    "AIR_DENSITY",
    "GRAVITY",
    "air_density_or_default",
    "density_contrast",
    "gravity_or_default",
]

# m/s^2. Sea level anywhere on Earth: 9.7803 at the equator, 9.8322 at the poles [WGS 84].
GRAVITY, GRAVITY_LIMITS = 9.81, 0.03
# kg/m^3. 1.199 at 20 degC, 101.325 kPa, 50 % relative humidity [CIPM-2007]; the limits hold
# from 10 to 27 degC and from 965 to 1045 hPa, that is up to some 400 m above the sea.
AIR_DENSITY, AIR_DENSITY_LIMITS = 1.20, 0.10

_GRAVITY_COMPONENT = Component(
    label="gravity",
    distribution=Rectangular(GRAVITY_LIMITS),
    unit=coherent_unit(ACCELERATION),
    source="not stated: sea level anywhere",
    key="flowunc.instruments.gravity",
)
_AIR_COMPONENT = Component(
    label="air density",
    distribution=Rectangular(AIR_DENSITY_LIMITS),
    unit=coherent_unit(DENSITY),
    source="not stated: usual indoor air",
    key="flowunc.instruments.air_density",
)


def gravity_or_default(gravity: Any, function: str) -> Acceleration:
    """Return the gravity given, or 9.81 m/s^2 with limits that hold at any sea level."""
    if gravity is None:
        return Acceleration._from_terms(
            GRAVITY, (Term(_GRAVITY_COMPONENT),), coherent_unit(ACCELERATION), "gravity"
        )
    given = require_kind(gravity, Acceleration, function, "gravity")
    bad = np.asarray(given.si.value) <= 0
    if bad.any():
        raise RangeError(
            f"{function}(gravity=...){first_at(bad)}: expected an acceleration above 0, such as "
            "Acceleration(9.81, 'm/s^2', limits(0.03))"
        )
    return named_by_role(given, "gravity")


def air_density_or_default(air_density: Any, function: str) -> Density:
    """Return the air density given, or that of usual indoor air with wide limits."""
    if air_density is None:
        return Density._from_terms(
            AIR_DENSITY, (Term(_AIR_COMPONENT),), coherent_unit(DENSITY), "air density"
        )
    given = require_kind(air_density, Density, function, "air_density")
    bad = np.asarray(given.si.value) < 0
    if bad.any():
        raise RangeError(
            f"{function}(air_density=...){first_at(bad)}: expected 0 or more, such as "
            "Density(1.20, 'kg/m^3', limits(0.02))"
        )
    return named_by_role(given, "air density")


def density_contrast(
    heavy: Density, light: Density, function: str, names: tuple[str, str]
) -> Density:
    """Return heavy - light, refused unless it is above 0 for every reading."""
    contrast: Density = heavy - light
    bad = np.asarray(contrast.si.value) <= 0
    if bad.any():
        first = int(np.argmax(bad))
        below, above = (float(np.resize(d.si.value, first + 1)[first]) for d in (heavy, light))
        raise RangeError(
            f"{function}{first_at(bad)}: {names[0]} {below:g} kg/m^3 is not above {names[1]} "
            f"{above:g} kg/m^3; check number and unit"
        )
    return contrast
