"""The table of units: exact factors to coherent SI, and names that people write by mistake.

Factors are exact fractions; defining values come from :mod:`scipy.constants`, which is slow to
load: `flowunc.core.units` loads this module for the first unit that is not coherent.
"""

from __future__ import annotations

from fractions import Fraction

from scipy import constants

from flowunc.core import dimensions as dim
from flowunc.core.dimensions import Dimension
from flowunc.core.unit_notation import COHERENT, OFFSET_SYMBOLS, ONE

__all__ = ["ADVICE", "OFFSET_UNITS", "SUGGESTED", "UNITS"]


def _exact(value: float) -> Fraction:
    """Read a constant as the decimal it was defined by."""
    return Fraction(repr(float(value)))


_PREFIX_WORDS = (
    "Q=quetta R=ronna Y=yotta Z=zetta E=exa P=peta T=tera G=giga M=mega k=kilo h=hecto da=deka "
    "d=deci c=centi m=milli u=micro n=nano p=pico f=femto a=atto z=zepto y=yocto r=ronto q=quecto"
)
_PREFIXES = {
    symbol: _exact(getattr(constants, word))
    for symbol, word in (pair.split("=") for pair in _PREFIX_WORDS.split())
}
_EVERY = tuple(_PREFIXES)
_INCH = _exact(constants.inch)
_POUND = 7000 * _exact(constants.grain)
_G_N = _exact(constants.g)
_ATM = _exact(constants.atm)
_MINUTE = _exact(constants.minute)
_LITRE = _exact(constants.litre)
# pi is the one irrational factor: as a fraction it is the float exactly.
_DEGREE = Fraction(constants.pi) / 180
_WATER_COLUMN = 1000 * _G_N

# Dimension, prefixes its units take, and the units with their factors to coherent SI.
_TABLE: tuple[tuple[Dimension, tuple[str, ...], dict[str, Fraction]], ...] = (
    # kg has a prefix already: it comes with the gram.
    *((dimension, _EVERY, {unit: ONE}) for unit, dimension in COHERENT.items() if unit != "kg"),
    (dim.LENGTH, (), {"in": _INCH, "ft": 12 * _INCH, "yd": 36 * _INCH}),
    (dim.MASS, _EVERY, {"g": _exact(constants.gram)}),
    (dim.MASS, (), {"lb": _POUND, "oz": _POUND / 16}),
    (dim.TIME, (), {"min": _MINUTE, "h": 60 * _MINUTE, "d": 1440 * _MINUTE}),
    (dim.DIMENSIONLESS, (), {"deg": _DEGREE, "arcmin": _DEGREE / 60, "arcsec": _DEGREE / 3600}),
    (dim.DIMENSIONLESS, (), {"%": ONE / 100, "ppm": ONE / 1_000_000}),
    (dim.VOLUME, _EVERY, {"L": _LITRE, "l": _LITRE}),
    (dim.VOLUME, (), {"US_gal": 231 * _INCH**3, "imp_gal": _exact(constants.gallon_imp)}),
    (dim.PRESSURE, ("m",), {"bar": _exact(constants.bar)}),
    (dim.PRESSURE, (), {"atm": _ATM, "Torr": _ATM / 760, "mmHg": _ATM / 760}),
    (dim.PRESSURE, (), {"psi": _POUND * _G_N / _INCH**2, "inH2O": _WATER_COLUMN * _INCH}),
    (dim.PRESSURE, ("m", "c"), {"mH2O": _WATER_COLUMN}),
    (dim.DYNAMIC_VISCOSITY, ("c", "m"), {"P": Fraction(1, 10)}),
    (dim.KINEMATIC_VISCOSITY, ("c", "m"), {"St": Fraction(1, 10_000)}),
)
UNITS = {
    prefix + symbol: (_PREFIXES.get(prefix, ONE) * factor, dimension)
    for dimension, prefixes, units in _TABLE
    for symbol, factor in units.items()
    for prefix in ("", *prefixes)
}
# Factor, and where their zero lies in kelvin.
_ZEROS = (
    (ONE, _exact(constants.zero_Celsius)),
    (Fraction(5, 9), Fraction("459.67") * Fraction(5, 9)),
)
OFFSET_UNITS = dict(zip(OFFSET_SYMBOLS, _ZEROS, strict=True))
# Rare prefixes stay out of suggestions: a slip of the pen is not a yoctometre.
SUGGESTED = [*OFFSET_UNITS] + [
    prefix + symbol
    for _, prefixes, units in _TABLE
    for symbol in units
    for prefix in ("", *prefixes)
    if prefix in ("", "M", "k", "h", "c", "m", "u")
]
_GALLON = "write 'US_gal' or 'imp_gal': the US and the imperial gallon differ by a fifth"
_WORDS = (
    "metre=m meter=m litre=L liter=L sec=s second=s minute=min hr=h hour=h day=d gram=g lbs=lb "
    "pound=lb inch=in foot=ft feet=ft degree=deg C=degC celsius=degC F=degF fahrenheit=degF "
    "kelvin=K pascal=Pa percent=% lpm=L/min cc=cm^3 ccm=cm^3 Pas=Pa*s mPas=mPa*s Nm=N*m"
)
ADVICE = {word: f"write {symbol!r}" for word, symbol in (p.split("=") for p in _WORDS.split())}
ADVICE |= {"gal": _GALLON, "gpm": f"{_GALLON}, as in 'US_gal/min'"}
