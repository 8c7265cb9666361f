"""Units: from the text a user writes to an exact factor and a dimension.

Factors stay exact fractions until the end, so that mm is x/1000 and L/min is x/60000 and not
a product of rounded numbers. Defining values come from :mod:`scipy.constants`; definitions
are those of [SIBrochure2019, tables 2 to 8] and [SP811, appendix B].

Two conventions to know: a water column (mmH2O, inH2O) is the *conventional* one, of density
1000 kg/m^3 under g_n = 9.80665 m/s^2, whatever the temperature of the water; mmHg is taken
equal to the Torr (atm/760), 1.4e-7 of its value below the conventional mercury column.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import NoReturn, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import constants

from flowunc.core import dimensions as dim
from flowunc.core.dimensions import Dimension
from flowunc.core.errors import UnitError

__all__ = ["Unit", "coherent_unit", "parse_unit"]

_Values = TypeVar("_Values", float, NDArray[np.float64])

# Bounds that keep hostile text from costing time: no unit in use comes near them.
_LONGEST_TEXT = 200
_DEEPEST_BRACKETS = 8
_LARGEST_EXPONENT = 20
_LARGEST_BITS = 16_384
_LARGEST_SCALE = 1000
_LARGEST_PARTS = 1000


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
_ONE = Fraction(1)
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
    (dim.LENGTH, _EVERY, {"m": _ONE}),
    (dim.LENGTH, (), {"in": _INCH, "ft": 12 * _INCH, "yd": 36 * _INCH}),
    (dim.MASS, _EVERY, {"g": _exact(constants.gram)}),
    (dim.MASS, (), {"lb": _POUND, "oz": _POUND / 16}),
    (dim.TIME, _EVERY, {"s": _ONE}),
    (dim.TIME, (), {"min": _MINUTE, "h": 60 * _MINUTE, "d": 1440 * _MINUTE}),
    (dim.TEMPERATURE, _EVERY, {"K": _ONE}),
    (dim.CURRENT, _EVERY, {"A": _ONE}),
    (dim.AMOUNT, _EVERY, {"mol": _ONE}),
    (dim.LUMINOUS_INTENSITY, _EVERY, {"cd": _ONE}),
    (dim.DIMENSIONLESS, _EVERY, {"rad": _ONE}),
    (dim.DIMENSIONLESS, (), {"deg": _DEGREE, "arcmin": _DEGREE / 60, "arcsec": _DEGREE / 3600}),
    (dim.DIMENSIONLESS, (), {"%": _ONE / 100, "ppm": _ONE / 1_000_000}),
    (dim.FORCE, _EVERY, {"N": _ONE}),
    (dim.ENERGY, _EVERY, {"J": _ONE}),
    (dim.POWER, _EVERY, {"W": _ONE}),
    (dim.DIMENSIONLESS / dim.TIME, _EVERY, {"Hz": _ONE}),
    (dim.POWER / dim.CURRENT, _EVERY, {"V": _ONE}),
    (dim.POWER / dim.CURRENT**2, _EVERY, {"Ohm": _ONE}),
    (dim.VOLUME, _EVERY, {"L": _LITRE, "l": _LITRE}),
    (dim.VOLUME, (), {"US_gal": 231 * _INCH**3, "imp_gal": _exact(constants.gallon_imp)}),
    (dim.PRESSURE, _EVERY, {"Pa": _ONE}),
    (dim.PRESSURE, ("m",), {"bar": _exact(constants.bar)}),
    (dim.PRESSURE, (), {"atm": _ATM, "Torr": _ATM / 760, "mmHg": _ATM / 760}),
    (dim.PRESSURE, (), {"psi": _POUND * _G_N / _INCH**2, "inH2O": _WATER_COLUMN * _INCH}),
    (dim.PRESSURE, ("m", "c"), {"mH2O": _WATER_COLUMN}),
    (dim.DYNAMIC_VISCOSITY, ("c", "m"), {"P": Fraction(1, 10)}),
    (dim.KINEMATIC_VISCOSITY, ("c", "m"), {"St": Fraction(1, 10_000)}),
)
_UNITS = {
    prefix + symbol: (_PREFIXES.get(prefix, _ONE) * factor, dimension)
    for dimension, prefixes, units in _TABLE
    for symbol, factor in units.items()
    for prefix in ("", *prefixes)
}
# Scales with a zero of their own: factor, and where their zero lies in kelvin.
_OFFSET_UNITS = {
    "degC": (_ONE, _exact(constants.zero_Celsius)),
    "degF": (Fraction(5, 9), Fraction("459.67") * Fraction(5, 9)),
}
# Rare prefixes stay out of suggestions: a slip of the pen is not a yoctometre.
_SUGGESTED = [*_OFFSET_UNITS] + [
    prefix + symbol
    for _, prefixes, units in _TABLE
    for symbol in units
    for prefix in ("", *prefixes)
    if prefix in ("", "M", "k", "h", "c", "m", "u")
]
_SAME_SYMBOL = {"°": "deg", "°C": "degC", "°F": "degF"}
_SAME_LETTER = str.maketrans({"\u00b5": "u", "\u03bc": "u", "\u03a9": "Ohm", "\u2126": "Ohm"})
_GALLON = "write 'US_gal' or 'imp_gal': the US and the imperial gallon differ by a fifth"
_WORDS = (
    "metre=m meter=m litre=L liter=L sec=s second=s minute=min hr=h hour=h day=d gram=g lbs=lb "
    "pound=lb inch=in foot=ft feet=ft degree=deg C=degC celsius=degC F=degF fahrenheit=degF "
    "kelvin=K pascal=Pa percent=% lpm=L/min cc=cm^3 ccm=cm^3 Pas=Pa*s mPas=mPa*s Nm=N*m"
)
_ADVICE = {word: f"write {symbol!r}" for word, symbol in (p.split("=") for p in _WORDS.split())}
_ADVICE |= {"gal": _GALLON, "gpm": f"{_GALLON}, as in 'US_gal/min'"}


@dataclass(frozen=True, slots=True)
class Unit:
    """Hold a unit of measurement: its symbol and its relation to coherent SI.

    Attributes
    ----------
    symbol : str
        As the user wrote it, with normalised white space.
    numerator, denominator : float
        Their ratio is the factor; kept apart because x/1000 is exact where x*0.001 is not.
    offset : float
        Place of the unit's zero in kelvin: not 0 for degC and degF only.
    dimension : Dimension

    Notes
    -----
    SI value = value * numerator / denominator + offset [SP811, B.8 and 4.2.1.1].

    Examples
    --------
    >>> parse_unit("L/min").to_si(6.0)
    0.0001
    """

    symbol: str
    numerator: float
    denominator: float
    offset: float
    dimension: Dimension

    def __post_init__(self) -> None:
        if not (0 < self.numerator < math.inf and 0 < self.denominator < math.inf):
            ratio = f"{self.numerator}/{self.denominator}"
            raise UnitError(f"unit {self.symbol!r}: the factor must be positive, got {ratio}")

    @property
    def factor(self) -> float:
        """Give the size of the unit in coherent SI, as for differences."""
        return self.numerator / self.denominator

    @property
    def is_offset(self) -> bool:
        """Tell whether the unit has a zero of its own, as degC."""
        return self.offset != 0.0

    def to_si(self, value: _Values) -> _Values:
        """Convert values from this unit to coherent SI."""
        scaled = self.scale_to_si(value)
        return scaled + self.offset if self.offset else scaled

    def from_si(self, value: _Values) -> _Values:
        """Convert values from coherent SI to this unit."""
        return self.scale_from_si(value - self.offset if self.offset else value)

    def scale_to_si(self, value: _Values) -> _Values:
        """Convert differences and uncertainties to coherent SI, without the offset."""
        scaled = value * self.numerator
        return scaled if self.denominator == 1.0 else scaled / self.denominator

    def scale_from_si(self, value: _Values) -> _Values:
        """Convert differences and uncertainties from coherent SI, without the offset."""
        scaled = value * self.denominator
        return scaled if self.numerator == 1.0 else scaled / self.numerator

    def __str__(self) -> str:
        return self.symbol


def parse_unit(text: str) -> Unit:
    """Read a unit, or a product of powers of units.

    Parameters
    ----------
    text : str
        Such as "L/min", "kg/(m*s)", "mPa s", "m²", "m^(1/2)", "s**-1", "degC" or "1".
        A product is written ``*``, ``·`` or a space; a/b/c is a/(b*c).

    Returns
    -------
    Unit

    Raises
    ------
    UnitError
        If the text is not a string, not a known unit, malformed, ambiguous (a space or ``·``
        after a ``/``), or has degC or degF inside a product or power.

    Notes
    -----
    Case matters (mPa, MPa). ``u``, U+00B5 and U+03BC all mean micro.

    Examples
    --------
    >>> parse_unit("mm").to_si(3.0)
    0.003
    """
    if not isinstance(text, str):
        raise UnitError(f"a unit must be given as text such as 'mm' or 'L/min', got {text!r}")
    return _parsed(text)


@lru_cache(maxsize=1024)
def coherent_unit(dimension: Dimension) -> Unit:
    """Give the coherent SI unit of a dimension.

    Pressures are in Pa and dynamic viscosities in Pa*s; all others are products of base units.

    Examples
    --------
    >>> str(coherent_unit(dim.MASS_FLOW_RATE)), str(coherent_unit(dim.PRESSURE))
    ('kg/s', 'Pa')
    """
    customary = {dim.PRESSURE: "Pa", dim.DYNAMIC_VISCOSITY: "Pa*s"}
    return Unit(customary.get(dimension, str(dimension)), 1.0, 1.0, 0.0, dimension)


@lru_cache(maxsize=1024)
def _parsed(text: str) -> Unit:
    """Parse a text that is known to be a string."""
    if len(text) > _LONGEST_TEXT:
        size = f"has {len(text)} characters, at most {_LONGEST_TEXT} are read"
        raise UnitError(f"unit {text[:20]!r}... {size}: give a short product of units")
    symbol = re.sub(r" ?(\*\*|[*/^·⋅]) ?", r"\1", " ".join(text.split()))
    symbol = symbol.replace("( ", "(").replace(" )", ")")
    name = _SAME_SYMBOL.get(symbol, symbol)
    if name in _OFFSET_UNITS:
        factor, offset = _OFFSET_UNITS[name]
        return Unit(symbol, *_ratio(factor), float(offset), dim.TEMPERATURE)
    factor, dimension = _Parser(symbol).whole()
    return Unit(symbol, *_ratio(factor), 0.0, dimension)


def _ratio(factor: Fraction) -> tuple[float, float]:
    """Split a factor into two floats: exactly if both fit, else rounded once over 1."""
    if max(factor.numerator, factor.denominator) <= 2**_LARGEST_SCALE:
        above, below = float(factor.numerator), float(factor.denominator)
        if above == factor.numerator and below == factor.denominator:
            return above, below
    return float(factor), 1.0


_TOKEN = re.compile(
    r"""(?P<name>(?:US|imp)[ _]gal(?![A-Za-z0-9_]) | °[CF]? | % | [A-Za-z_][A-Za-z0-9_]*)
    | (?P<number>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)
    | (?P<superscript>[⁺⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)
    | (?P<power>\^|\*\*) | (?P<operator>[*·⋅/ ]) | (?P<bracket>[()]) | (?P<sign>[+−-])
    | (?P<unknown>.)""",
    re.VERBOSE,
)
_SUPERSCRIPTS = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")
_Part = tuple[Fraction, Dimension]


class _Parser:
    """Read a product of powers of units by recursive descent."""

    def __init__(self, text: str) -> None:
        self._text = text
        found = _TOKEN.finditer(text.translate(_SAME_LETTER))
        self._tokens = [(str(token.lastgroup), token.group()) for token in found]
        self._tokens.append(("end", ""))
        self._at = 0

    def whole(self) -> _Part:
        """Read all of the text."""
        if len(self._tokens) == 1:
            self._refuse("the text is empty; write '1' for a pure number")
        part = self._product(0)
        if self._tokens[self._at][0] != "end":
            found = self._tokens[self._at][1]
            self._refuse(f"{found!r} was not expected there; write it as in 'kg*m^2*s^-3'")
        return part

    def _refuse(self, reason: str) -> NoReturn:
        raise UnitError(f"unit {self._text!r}: {reason}")

    def _take(self, kind: str, texts: str = "") -> str | None:
        """Step over the next token if it is of this kind (and one of these characters)."""
        found, text = self._tokens[self._at]
        if found != kind or (texts and text not in texts):
            return None
        self._at += 1
        return text

    def _product(self, depth: int) -> _Part:
        """Read factors joined by * / · or a space, left to right."""
        factor, dimension = self._factor(depth)
        divided = False
        while operator := self._take("operator"):
            # [SIBrochure2019, 5.2]: after a solidus only brackets say what is divided by.
            if divided and operator not in "*/":
                self._refuse("a product after '/' is ambiguous; use brackets, as in 'J/(kg K)'")
            other, its_dimension = self._factor(depth)
            if operator == "/":
                divided, other, its_dimension = True, 1 / other, its_dimension**-1
            factor, dimension = factor * other, dimension * its_dimension
            self._check_size(factor)
        return factor, dimension

    def _factor(self, depth: int) -> _Part:
        """Read a unit, the number 1 or a bracket, with its power."""
        if self._take("bracket", "("):
            if depth == _DEEPEST_BRACKETS:
                self._refuse(f"brackets are nested more than {_DEEPEST_BRACKETS} deep")
            factor, dimension = self._product(depth + 1)
            if not self._take("bracket", ")"):
                self._refuse("a ')' is missing")
        elif number := self._take("number"):
            if number != "1":
                self._refuse(f"a unit holds no number but 1, got {number!r}")
            factor, dimension = _ONE, dim.DIMENSIONLESS
        elif name := self._take("name"):
            factor, dimension = self._unit(name.replace(" ", "_"))
        else:
            found = self._tokens[self._at][1]
            self._refuse("a unit is missing " + (f"before {found!r}" if found else "at the end"))
        if superscript := self._take("superscript"):
            return self._powered(factor, dimension, superscript.translate(_SUPERSCRIPTS))
        if self._take("power"):
            bracket = self._take("bracket", "(")
            written = (self._take("sign") or "").replace("−", "-") + (self._take("number") or "")
            if bracket and self._take("operator", "/"):
                written += "/" + (self._take("number") or "")
            if bracket and not self._take("bracket", ")"):
                self._refuse("an exponent is a number or a fraction such as (1/2)")
            return self._powered(factor, dimension, written)
        return factor, dimension

    def _powered(self, factor: Fraction, dimension: Dimension, written: str) -> _Part:
        """Raise a unit to a power as written."""
        # Checked as text first: "1e999999999" must not become an integer of that many digits.
        plain = re.fullmatch(r"([+-]?[0-9.]+)(?:/([0-9]*[1-9][0-9]*))?", written)
        exact = Fraction(plain[1]) / int(plain[2] or 1) if plain else None
        if exact is None or abs(exact) > _LARGEST_EXPONENT or exact.denominator > _LARGEST_PARTS:
            self._refuse(
                f"the exponent {written!r} must be a plain number up to {_LARGEST_EXPONENT}, "
                f"such as 2, -1, 0.5 or (1/2)"
            )
        self._check_size(factor, abs(exact))
        if exact.denominator == 1:
            return factor**exact.numerator, dimension**exact.numerator
        return Fraction(float(factor) ** float(exact)), dimension**exact

    def _check_size(self, factor: Fraction, power: Fraction = _ONE) -> None:
        """Refuse what no float could hold, or what would take long to compute."""
        bits = factor.numerator.bit_length(), factor.denominator.bit_length()
        if max(bits) * power > _LARGEST_BITS or abs(bits[0] - bits[1]) * power > _LARGEST_SCALE:
            self._refuse("the product is too large or too small for a unit")

    def _unit(self, name: str) -> _Part:
        """Look up one unit, and say what may have been meant if it is unknown."""
        name = _SAME_SYMBOL.get(name, name)
        if name in _UNITS:
            return _UNITS[name]
        if name in _OFFSET_UNITS:
            self._refuse(
                f"{name} has a zero of its own and cannot stand in a product or power; "
                f"use 'K' for temperature differences (1 degF is 5/9 K there)"
            )
        word = name if name in _ADVICE else name.rstrip("s").lower()
        split = re.fullmatch(r"([A-Za-z]+)([0-9]+)", name)
        alike = [known for known in _SUGGESTED if known.casefold() == name.casefold()]
        if word in _ADVICE:
            advice = _ADVICE[word]
        elif split and split[1] in _UNITS:
            advice = f"write a power as '{split[1]}^{split[2]}'"
        elif alike := alike or difflib.get_close_matches(name[:20], _SUGGESTED, n=1):
            advice = f"did you mean {' or '.join(map(repr, alike))}? (case matters)"
        else:
            advice = "give a product of powers of known units, such as 'kg*m^2/s^3'"
        self._refuse(f"{name!r} is not a known unit; {advice}")
