"""Dimensions: products of powers of the seven SI base quantities.

Every dimension exists once (it is interned), so comparing two is comparing addresses, and
products, quotients and powers are looked up rather than computed: they run on every
arithmetic operation between quantities.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache
from numbers import Real
from typing import ClassVar, NoReturn, final

from flowunc.core.errors import UnitError

__all__ = [
    "ACCELERATION",
    "AMOUNT",
    "AREA",
    "CURRENT",
    "DENSITY",
    "DIMENSIONLESS",
    "DYNAMIC_VISCOSITY",
    "ENERGY",
    "FORCE",
    "KINEMATIC_VISCOSITY",
    "LENGTH",
    "LUMINOUS_INTENSITY",
    "MASS",
    "MASS_FLOW_RATE",
    "POWER",
    "PRESSURE",
    "TEMPERATURE",
    "TIME",
    "VELOCITY",
    "VOLUME",
    "VOLUME_FLOW_RATE",
    "Dimension",
    "exact_exponent",
]

_NAMES = ("length", "mass", "time", "temperature", "current", "amount", "luminous_intensity")
# Order in which the base units are written, with the place of each in _NAMES.
_WRITTEN = (("kg", 1), ("m", 0), ("s", 2), ("K", 3), ("A", 4), ("mol", 5), ("cd", 6))
# Empirical formulae carry exponents of up to three decimals (1.852); thirds must pass as well.
_LARGEST_DENOMINATOR = 1000
_EXPONENT_TOLERANCE = 1e-12


def exact_exponent(exponent: float | Fraction) -> int | Fraction:
    """Turn an exponent into an exact whole number or fraction.

    Parameters
    ----------
    exponent : int, float or Fraction
        A float is taken for the fraction with a denominator up to 1000 that it rounds.

    Returns
    -------
    int or Fraction
        An int wherever the exponent is whole.

    Raises
    ------
    UnitError
        If a float is not finite or not close to such a fraction.

    Examples
    --------
    >>> exact_exponent(0.5)
    Fraction(1, 2)
    """
    if isinstance(exponent, int | Fraction):
        return exponent.numerator if exponent.denominator == 1 else exponent
    number = float(exponent)
    if not math.isfinite(number):
        raise UnitError(f"an exponent must be a finite number, got {number!r}")
    nearest = Fraction(number).limit_denominator(_LARGEST_DENOMINATOR)
    if abs(number - float(nearest)) > _EXPONENT_TOLERANCE * max(1.0, abs(number)):
        raise UnitError(
            f"the exponent {number!r} of a dimension is not a simple fraction (denominator up to "
            f"{_LARGEST_DENOMINATOR}); the nearest one is {nearest}: pass fractions.Fraction for "
            f"an exact exponent, or make the quantity dimensionless before raising it"
        )
    return nearest.numerator if nearest.denominator == 1 else nearest


@final
class Dimension:
    """Hold the exponents of the seven SI base quantities.

    Equal dimensions are one object, also after copying and pickling: ``is`` and ``==`` agree.

    Parameters
    ----------
    length, mass, time, temperature, current, amount, luminous_intensity : int, float or Fraction
        Exponents; a float must be close to a fraction with a denominator up to 1000.

    Attributes
    ----------
    exponents : tuple of int or Fraction
        The seven exponents in the order of the parameters.

    Raises
    ------
    UnitError
        If an exponent is not close to a fraction.

    Notes
    -----
    Base quantities as in [SI Brochure 2019, 2.3.3]. ``str`` gives the coherent unit as a product
    of powers of base units, "1" for dimension one.

    Examples
    --------
    >>> Dimension(length=1) / Dimension(time=1) is VELOCITY
    True
    >>> str(PRESSURE)
    'kg/(m*s^2)'
    """

    __slots__ = ("_text", "exponents")

    exponents: tuple[int | Fraction, ...]
    _text: str
    _known: ClassVar[dict[tuple[int | Fraction, ...], Dimension]] = {}

    def __new__(
        cls,
        length: float | Fraction = 0,
        mass: float | Fraction = 0,
        time: float | Fraction = 0,
        temperature: float | Fraction = 0,
        current: float | Fraction = 0,
        amount: float | Fraction = 0,
        luminous_intensity: float | Fraction = 0,
    ) -> Dimension:
        """Give the one dimension with these exponents."""
        given = (length, mass, time, temperature, current, amount, luminous_intensity)
        exponents = tuple(exact_exponent(exponent) for exponent in given)
        known = cls._known.get(exponents)
        if known is not None:
            return known
        new = super().__new__(cls)
        object.__setattr__(new, "exponents", exponents)
        object.__setattr__(new, "_text", _written(exponents))
        # setdefault is atomic: two threads that arrive together still get one object.
        return cls._known.setdefault(exponents, new)

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"a Dimension cannot be changed: {name!r} was to be set to {value!r}")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"a Dimension cannot be changed: {name!r} was to be deleted")

    # Equality and hash stay those of object, by address: that is right for interned objects,
    # and it makes every look-up in the caches below cheap.

    def __mul__(self, other: Dimension) -> Dimension:
        if not isinstance(other, Dimension):
            return NotImplemented
        return _product(self, other)

    def __truediv__(self, other: Dimension) -> Dimension:
        if not isinstance(other, Dimension):
            return NotImplemented
        return _quotient(self, other)

    def __pow__(self, exponent: float | Fraction) -> Dimension:
        # Concrete types first: asking the abstract Real (NumPy scalars are) is slow.
        if not isinstance(exponent, (int, float, Fraction, Real)):
            return NotImplemented
        return _power(self, exponent)

    def __reduce__(self) -> tuple[type[Dimension], tuple[int | Fraction, ...]]:
        return Dimension, self.exponents

    def __str__(self) -> str:
        return self._text

    def __repr__(self) -> str:
        parts = (f"{n}={e!r}" for n, e in zip(_NAMES, self.exponents, strict=True) if e)
        return f"Dimension({', '.join(parts)})"


def _written(exponents: tuple[int | Fraction, ...]) -> str:
    """Write exponents as a quotient of products of base units."""
    above: list[str] = []
    below: list[str] = []
    for symbol, place in _WRITTEN:
        exponent = exponents[place]
        if exponent == 0:
            continue
        size = abs(exponent)
        power = f"^({size})" if isinstance(size, Fraction) else f"^{size}"
        (above if exponent > 0 else below).append(symbol + ("" if size == 1 else power))
    text = "*".join(above) or "1"
    if not below:
        return text
    return f"{text}/{below[0]}" if len(below) == 1 else f"{text}/({'*'.join(below)})"


@lru_cache(maxsize=4096)
def _product(left: Dimension, right: Dimension) -> Dimension:
    """Multiply two dimensions."""
    return Dimension(*(a + b for a, b in zip(left.exponents, right.exponents, strict=True)))


@lru_cache(maxsize=4096)
def _quotient(left: Dimension, right: Dimension) -> Dimension:
    """Divide one dimension by another."""
    return Dimension(*(a - b for a, b in zip(left.exponents, right.exponents, strict=True)))


# typed: else 0.5 may meet a key Fraction(1, 2), and comparing those two costs microseconds.
@lru_cache(maxsize=4096, typed=True)
def _power(base: Dimension, exponent: float | Fraction) -> Dimension:
    """Raise a dimension to a power."""
    if base is DIMENSIONLESS and math.isfinite(exponent):
        # A pure number may be raised to any power, 1/e or pi included.
        return DIMENSIONLESS
    exact = exact_exponent(exponent)
    return Dimension(*(each * exact for each in base.exponents))


DIMENSIONLESS = Dimension()
LENGTH = Dimension(length=1)
MASS = Dimension(mass=1)
TIME = Dimension(time=1)
TEMPERATURE = Dimension(temperature=1)
CURRENT = Dimension(current=1)
AMOUNT = Dimension(amount=1)
LUMINOUS_INTENSITY = Dimension(luminous_intensity=1)

AREA = LENGTH**2
VOLUME = LENGTH**3
VELOCITY = LENGTH / TIME
ACCELERATION = VELOCITY / TIME
FORCE = MASS * ACCELERATION
ENERGY = FORCE * LENGTH
POWER = ENERGY / TIME
PRESSURE = FORCE / AREA
DENSITY = MASS / VOLUME
DYNAMIC_VISCOSITY = PRESSURE * TIME
KINEMATIC_VISCOSITY = AREA / TIME
VOLUME_FLOW_RATE = VOLUME / TIME
MASS_FLOW_RATE = MASS / TIME
