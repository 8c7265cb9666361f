"""The typed quantities: kinds with a fixed dimension.

`Kind(value, unit, *statements, label="...")`. A result of arithmetic comes out as the kind
listed here for its dimension. Kinds of dimension one (Angle, ReynoldsNumber,
FrictionFactor) are only given by the functions that compute them; arithmetic gives `Ratio`.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from flowunc.core import dimensions as dim
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.quantity import Quantity
from flowunc.core.units import Unit, coherent_unit

__all__ = [
    "Acceleration",
    "Angle",
    "Area",
    "Density",
    "DynamicViscosity",
    "FrictionFactor",
    "KinematicViscosity",
    "Length",
    "Mass",
    "MassFlowRate",
    "Pressure",
    "Ratio",
    "ReynoldsNumber",
    "Temperature",
    "Time",
    "Velocity",
    "Volume",
    "VolumeFlowRate",
    "require_kind",
]


class Length(Quantity):
    """A length, such as a bore or a tap spacing."""

    __slots__ = ()
    dimension = dim.LENGTH


class Area(Quantity):
    """An area."""

    __slots__ = ()
    dimension = dim.AREA


class Volume(Quantity):
    """A volume."""

    __slots__ = ()
    dimension = dim.VOLUME


class Time(Quantity):
    """A time interval."""

    __slots__ = ()
    dimension = dim.TIME


class Mass(Quantity):
    """A mass."""

    __slots__ = ()
    dimension = dim.MASS


class Temperature(Quantity):
    """A thermodynamic temperature: a point on a scale, not a difference.

    Its uncertainty and covariance are differences and so never shifted by the zero of the
    Celsius or Fahrenheit scale. Temperature minus Temperature is a plain `Quantity` in K.

    Examples
    --------
    >>> from flowunc import Quantity, Temperature, limits
    >>> reading = Temperature(19.0, "degC", limits(0.25))
    >>> corrected = reading + Quantity(-0.3, "K")
    >>> round(corrected.to("degC").value, 6)
    18.7
    """

    __slots__ = ()
    dimension = dim.TEMPERATURE
    _absolute = True

    @classmethod
    def _check_values(cls, values: NDArray[np.float64], unit: Unit) -> None:
        if bool(np.any(values < 0)):
            worst = float(np.min(unit.from_si(values)))
            raise RangeError(
                f"temperature {worst:g} {unit} lies below absolute zero: check number and unit"
            )


class Angle(Quantity):
    """A plane angle. In formulas it acts in radians."""

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


class Pressure(Quantity):
    """A pressure or a pressure difference."""

    __slots__ = ()
    dimension = dim.PRESSURE


class Density(Quantity):
    """A mass density."""

    __slots__ = ()
    dimension = dim.DENSITY


class DynamicViscosity(Quantity):
    """A dynamic viscosity."""

    __slots__ = ()
    dimension = dim.DYNAMIC_VISCOSITY


class KinematicViscosity(Quantity):
    """A kinematic viscosity."""

    __slots__ = ()
    dimension = dim.KINEMATIC_VISCOSITY


class Velocity(Quantity):
    """A velocity."""

    __slots__ = ()
    dimension = dim.VELOCITY


class VolumeFlowRate(Quantity):
    """A volume flow rate."""

    __slots__ = ()
    dimension = dim.VOLUME_FLOW_RATE


class MassFlowRate(Quantity):
    """A mass flow rate."""

    __slots__ = ()
    dimension = dim.MASS_FLOW_RATE


class Acceleration(Quantity):
    """An acceleration, such as that of free fall."""

    __slots__ = ()
    dimension = dim.ACCELERATION


class ReynoldsNumber(Quantity):
    """A Reynolds number, as the functions of `flowunc.pipe` compute it."""

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


class FrictionFactor(Quantity):
    """A friction factor; which one (Darcy or Fanning) the function that made it says."""

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


class Ratio(Quantity):
    """A pure number: what arithmetic gives where all units cancel."""

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


_KINDS: tuple[type[Quantity], ...] = (
    Length,
    Area,
    Volume,
    Time,
    Mass,
    Temperature,
    Pressure,
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Velocity,
    VolumeFlowRate,
    MassFlowRate,
    Acceleration,
    Ratio,
)
Quantity._by_dimension.update({kind.dimension: kind for kind in _KINDS if kind.dimension})

K = TypeVar("K", bound=Quantity)


def require_kind(value: Any, kind: type[K], function: str, argument: str) -> K:
    """Return ``value`` if it can stand for ``kind``, else raise a `DimensionError` naming both.

    A plain `Quantity` of the right dimension and a `Ratio` for a kind of dimension one are
    accepted; another kind of dimension one is not, nor a temperature difference for a
    temperature.
    """
    if isinstance(value, kind):
        return value
    expected = f"{kind.__name__} (a quantity in a unit like '{_example_unit(kind)}')"
    if not isinstance(value, Quantity):
        raise DimensionError(
            f"{function}({argument}=...): got {type(value).__name__} {value!r}; expected {expected}"
        )
    fits = value._unit.dimension is kind.dimension and not kind._absolute
    if fits and type(value) in (Quantity, Ratio):
        return kind._from_node(value._node, value._unit, value._label)
    raise DimensionError(
        f"{function}({argument}=...): got {type(value).__name__} in '{value.unit}'; "
        f"expected {expected}"
    )


def _example_unit(kind: type[Quantity]) -> str:
    if kind is Temperature:
        return "degC"
    if kind is Angle:
        return "deg"
    return str(coherent_unit(kind.dimension)) if kind.dimension is not None else "1"
