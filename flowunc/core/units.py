"""Units: from the text a user writes to an exact factor and a dimension.

Factors stay exact fractions until the end, so that mm is x/1000 and L/min is x/60000 and not
a product of rounded numbers. Defining values come from :mod:`scipy.constants`; definitions
are those of [SI Brochure 2019, tables 2 to 8] and [NIST SP 811, appendix B].

Two conventions to know: a water column (mmH2O, inH2O) is the *conventional* one, of density
1000 kg/m^3 under g_n = 9.80665 m/s^2, whatever the temperature of the water; mmHg is taken
equal to the Torr (atm/760), 1.4e-7 of its value below the conventional mercury column.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any, NoReturn, TypeVar

import numpy as np
from numpy.typing import NDArray

from flowunc.core import dimensions as dim
from flowunc.core import memory
from flowunc.core.dimensions import Dimension
from flowunc.core.errors import RangeError, UnitError
from flowunc.core.unit_notation import (
    COHERENT,
    OFFSET_SYMBOLS,
    ONE,
    SAME_LETTER,
    SAME_SYMBOL,
)

__all__ = ["Unit", "coherent_unit", "parse_unit"]

_Values = TypeVar("_Values", float, NDArray[np.float64])

# Bounds that keep hostile text from costing time: no unit in use comes near them.
_LONGEST_TEXT = 200
_DEEPEST_BRACKETS = 8
_LARGEST_EXPONENT = 20
_LARGEST_BITS = 16_384
_LARGEST_SCALE = 1000
_LARGEST_PARTS = 1000


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
    SI value = value * numerator / denominator + offset [NIST SP 811, B.8 and 4.2.1.1].

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
    def is_coherent(self) -> bool:
        """Tell whether numbers in it are those in coherent SI."""
        return self.numerator == self.denominator == 1.0 and not self.offset

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
        if self.offset:
            scaled += self.offset  # in place for arrays, which scaling has just made
        return scaled

    def from_si(self, value: _Values) -> _Values:
        """Convert values from coherent SI to this unit."""
        return self.scale_from_si(value - self.offset if self.offset else value)

    def scale_to_si(self, value: _Values) -> _Values:
        """Convert differences and uncertainties to coherent SI, without the offset."""
        scaled: _Values = _scaled(value, self.numerator, self.denominator)
        return scaled

    def scale_from_si(self, value: _Values) -> _Values:
        """Convert differences and uncertainties from coherent SI, without the offset.

        Raises
        ------
        RangeError
            A finite number that is too large in this unit.
        """
        try:
            with np.errstate(over="raise"):
                scaled: _Values = _scaled(value, self.denominator, self.numerator)
            if np.ndim(scaled) == 0 and math.isinf(scaled) > math.isinf(value):
                raise OverflowError  # numbers of Python become infinite without a word
        except (FloatingPointError, OverflowError):
            raise RangeError(
                f"a number is too large to be given in {self.symbol!r}; use a larger unit"
            ) from None
        return scaled

    def __str__(self) -> str:
        return self.symbol


def _scaled(value: Any, times: float, over: float) -> Any:
    """Return value * times / over in new memory, each step only where it changes something."""
    if np.ndim(value) == 1:
        scaled = memory.empty(np.size(value))
        if times == 1.0 and over != 1.0:
            return np.divide(value, over, out=scaled)
        np.multiply(value, times, out=scaled)
        return scaled if over == 1.0 else np.divide(scaled, over, out=scaled)
    if times == 1.0 and over != 1.0:
        return value / over
    result = value * times
    return result if over == 1.0 else result / over


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
    name = SAME_SYMBOL.get(symbol, symbol)
    if name in OFFSET_SYMBOLS:
        from flowunc.core.unit_table import OFFSET_UNITS

        factor, offset = OFFSET_UNITS[name]
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
        found = _TOKEN.finditer(text.translate(SAME_LETTER))
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
            # [SI Brochure 2019, 5.2]: after a solidus only brackets say what is divided by.
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
            factor, dimension = ONE, dim.DIMENSIONLESS
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

    def _check_size(self, factor: Fraction, power: Fraction = ONE) -> None:
        """Refuse what no float could hold, or what would take long to compute."""
        bits = factor.numerator.bit_length(), factor.denominator.bit_length()
        if max(bits) * power > _LARGEST_BITS or abs(bits[0] - bits[1]) * power > _LARGEST_SCALE:
            self._refuse("the product is too large or too small for a unit")

    def _unit(self, name: str) -> _Part:
        """Look up one unit, and say what may have been meant if it is unknown."""
        name = SAME_SYMBOL.get(name, name)
        if name in COHERENT:
            return ONE, COHERENT[name]
        import difflib

        from flowunc.core.unit_table import ADVICE, SUGGESTED, UNITS

        if name in UNITS:
            return UNITS[name]
        if name in OFFSET_SYMBOLS:
            self._refuse(
                f"{name} has a zero of its own and cannot stand in a product or power; "
                f"use 'K' for temperature differences (1 degF is 5/9 K there)"
            )
        word = name if name in ADVICE else name.rstrip("s").lower()
        split = re.fullmatch(r"([A-Za-z]+)([0-9]+)", name)
        alike = [known for known in SUGGESTED if known.casefold() == name.casefold()]
        if word in ADVICE:
            advice = ADVICE[word]
        elif split and split[1] in UNITS:
            advice = f"write a power as '{split[1]}^{split[2]}'"
        elif alike := alike or difflib.get_close_matches(name[:20], SUGGESTED, n=1):
            advice = f"did you mean {' or '.join(map(repr, alike))}? (case matters)"
        else:
            advice = "give a product of powers of known units, such as 'kg*m^2/s^3'"
        self._refuse(f"{name!r} is not a known unit; {advice}")
