"""How units are written: symbols of coherent SI units, spellings that are read as others.

All that a product of coherent units needs. Everything with a factor stands in
`flowunc.core.unit_table`, which is loaded for the first unit that has one.
"""

from __future__ import annotations

from fractions import Fraction

from flowunc.core import dimensions as dim
from flowunc.core.dimensions import Dimension

__all__ = ["COHERENT", "OFFSET_SYMBOLS", "ONE", "SAME_LETTER", "SAME_SYMBOL"]

ONE = Fraction(1)
# Base units and the derived ones without a factor [SI Brochure 2019, tables 2 and 4].
COHERENT: dict[str, Dimension] = {
    "m": dim.LENGTH,
    "kg": dim.MASS,
    "s": dim.TIME,
    "K": dim.TEMPERATURE,
    "A": dim.CURRENT,
    "mol": dim.AMOUNT,
    "cd": dim.LUMINOUS_INTENSITY,
    "rad": dim.DIMENSIONLESS,
    "N": dim.FORCE,
    "J": dim.ENERGY,
    "W": dim.POWER,
    "Hz": dim.DIMENSIONLESS / dim.TIME,
    "V": dim.POWER / dim.CURRENT,
    "Ohm": dim.POWER / dim.CURRENT**2,
    "Pa": dim.PRESSURE,
}
# Scales with a zero of their own.
OFFSET_SYMBOLS = ("degC", "degF")
SAME_SYMBOL = {"°": "deg", "°C": "degC", "°F": "degF"}
SAME_LETTER = str.maketrans({"\u00b5": "u", "\u03bc": "u", "\u03a9": "Ohm", "\u2126": "Ohm"})
