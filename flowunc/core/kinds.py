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
    """A length, such as a bore or a tap spacing.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Length, limits
    >>> print(Length(19.05, "mm", limits(0.05), label="bore"))
    bore: 19.050 ± 0.029 mm
    """

    __slots__ = ()
    dimension = dim.LENGTH


class Area(Quantity):
    """An area.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Area, limits
    >>> print(Area(2.85, "cm^2", limits(0.01), label="pipe section"))
    pipe section: 2.8500 ± 0.0058 cm^2
    """

    __slots__ = ()
    dimension = dim.AREA


class Volume(Quantity):
    """A volume.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Volume, limits
    >>> print(Volume(1.5, "L", limits(0.01), label="collected"))
    collected: 1.5000 ± 0.0058 L
    """

    __slots__ = ()
    dimension = dim.VOLUME


class Time(Quantity):
    """A time interval.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Time, limits
    >>> print(Time(60.0, "s", limits(0.2), label="collection time"))
    collection time: 60.00 ± 0.12 s
    """

    __slots__ = ()
    dimension = dim.TIME


class Mass(Quantity):
    """A mass.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Mass, limits
    >>> print(Mass(1.2, "kg", limits(0.002), label="vessel"))
    vessel: 1.2000 ± 0.0012 kg
    """

    __slots__ = ()
    dimension = dim.MASS


class Temperature(Quantity):
    """A thermodynamic temperature: a point on a scale, not a difference.

    Its uncertainty and covariance are differences and so never shifted by the zero of the
    Celsius or Fahrenheit scale. Temperature minus Temperature is a plain `Quantity` in K.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

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
    """A plane angle. In formulas it acts in radians.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Angle, limits
    >>> print(Angle(10.0, "deg", limits(0.25), label="inclination"))
    inclination: 10.00 ± 0.14 deg
    """

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


class Pressure(Quantity):
    """A pressure or a pressure difference.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Pressure, limits
    >>> print(Pressure([120.0, 480.0], "Pa", limits(5.0), label="pressure drop"))
    pressure drop (2 readings, Pa): 120.0 ± 2.9, 480.0 ± 2.9
    """

    __slots__ = ()
    dimension = dim.PRESSURE


class Density(Quantity):
    """A mass density.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Density, limits
    >>> print(Density(998.2, "kg/m^3", limits(0.2), label="water"))
    water: 998.20 ± 0.12 kg/m^3
    """

    __slots__ = ()
    dimension = dim.DENSITY


class DynamicViscosity(Quantity):
    """A dynamic viscosity.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import DynamicViscosity, limits
    >>> print(DynamicViscosity(1.002, "mPa*s", limits(0.01), label="water"))
    water: 1.0020 ± 0.0058 mPa*s
    """

    __slots__ = ()
    dimension = dim.DYNAMIC_VISCOSITY


class KinematicViscosity(Quantity):
    """A kinematic viscosity.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import KinematicViscosity, limits
    >>> print(KinematicViscosity(1.004, "mm^2/s", limits(0.01), label="water"))
    water: 1.0040 ± 0.0058 mm^2/s
    """

    __slots__ = ()
    dimension = dim.KINEMATIC_VISCOSITY


class Velocity(Quantity):
    """A velocity.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Velocity, limits
    >>> print(Velocity(0.35, "m/s", limits(0.01), label="mean velocity"))
    mean velocity: 0.3500 ± 0.0058 m/s
    """

    __slots__ = ()
    dimension = dim.VELOCITY


class VolumeFlowRate(Quantity):
    """A volume flow rate.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, limits
    >>> print(VolumeFlowRate([2.0, 4.0], "L/min", limits(0.1), label="flow"))
    flow (2 readings, L/min): 2.000 ± 0.058, 4.000 ± 0.058
    """

    __slots__ = ()
    dimension = dim.VOLUME_FLOW_RATE


class MassFlowRate(Quantity):
    """A mass flow rate.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import MassFlowRate, limits
    >>> print(MassFlowRate(0.05, "kg/s", limits(0.001), label="flow"))
    flow: 0.05000 ± 0.00058 kg/s
    """

    __slots__ = ()
    dimension = dim.MASS_FLOW_RATE


class Acceleration(Quantity):
    """An acceleration, such as that of free fall.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Acceleration, limits
    >>> print(Acceleration(9.81, "m/s^2", limits(0.01), label="gravity"))
    gravity: 9.8100 ± 0.0058 m/s^2
    """

    __slots__ = ()
    dimension = dim.ACCELERATION


class ReynoldsNumber(Quantity):
    """A Reynolds number, as the functions of `flowunc.pipe` compute it.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import ReynoldsNumber, limits
    >>> print(ReynoldsNumber(2250.0, "1", limits(80.0), label="Re"))
    Re: 2250 ± 46
    """

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


class FrictionFactor(Quantity):
    """A friction factor; which one (Darcy or Fanning) the function that made it says.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import FrictionFactor, limits
    >>> print(FrictionFactor(0.032, "1", limits(0.001), label="f"))
    f: 0.03200 ± 0.00058
    """

    __slots__ = ()
    dimension = dim.DIMENSIONLESS


class Ratio(Quantity):
    """A pure number: what arithmetic gives where all units cancel.

    Parameters: value, unit, ``*statements`` of uncertainty, ``label``, as for `Quantity`.

    Examples
    --------
    >>> from flowunc import Ratio, limits
    >>> print(Ratio(0.97, "1", limits(0.01), label="coefficient"))
    coefficient: 0.9700 ± 0.0058
    """

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
