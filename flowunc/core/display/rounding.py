"""Rounding of a value to its uncertainty: one result, from which every form of text is made.

The uncertainty keeps two significant digits and the value is rounded to the same last digit
[JCGM 100, 7.2.6]. The digits come from the formatter of the `uncertainties` package; this
module prepares numbers that it prints wrongly or not at all.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from numbers import Real

from flowunc.core.errors import RangeError

__all__ = ["Rounded", "round_cells", "round_number", "round_pair", "text_pair"]

_DIGITS_WITHOUT_U = 6
_MOST_DIGITS = 9
_DIGITS_OF_FLOAT = 17  # a float64 holds no more: printing further ones would invent them
_DIGITS_THAT_IDENTIFY = 18  # so that a float just below a power of ten is not rounded up to it
_WRITTEN_OUT = 7  # powers of ten below which a table writes 2820 and not 2.82e+03
_LARGEST_POWER = 280  # powers of ten beyond which the formatter leaves the range of float64
# What stands between the numbers may be changed by a user of that package, so it is not read.
_NUMBERS = re.compile(r"[+-]?(?:\d[\d.]*|nan|inf)")


@dataclass(frozen=True, slots=True)
class Rounded:
    """Hold a value and its uncertainty as they are to be printed.

    Attributes
    ----------
    value : str
        Digits of the value.
    uncertainty : str
        Digits of the uncertainty, "" where it is zero. It has a power of ten of its own
        ("1.2e-17") where it lies below the last digit that a float64 holds.
    exponent : int
        Common power of ten of both, 0 if there is none.

    Examples
    --------
    >>> Rounded("1.234", "0.056", -6).text
    '(1.234 ± 0.056)e-06'
    >>> Rounded("1.234", "0.056", -6).short
    '1.234(56)e-06'
    """

    value: str
    uncertainty: str
    exponent: int = 0

    @property
    def text(self) -> str:
        """Give the form with ±; the value alone where the uncertainty is zero."""
        if not self.uncertainty:
            return f"{self.value}{self._power}"
        pair = f"{self.value} ± {self.uncertainty}"
        return f"({pair}){self._power}" if self.exponent else pair

    @property
    def short(self) -> str:
        """Give the form with u in parentheses.

        The digits in parentheses count in units of the last digit of the value. They have a
        decimal point, and count in the unit of the value, where u reaches over the decimal
        point of the value: 12.3(4.5) [JCGM 100, 7.2.2, forms 2 and 3].
        """
        if not self.uncertainty:
            return self.text
        digits = self.uncertainty
        if digits.startswith("0.") and "." in self.value:
            digits = digits.replace(".", "").lstrip("0")
        return f"{self.value}({digits}){self._power}"

    @property
    def cells(self) -> tuple[str, str]:
        """Give both numbers for cells of a table, each with its own power of ten.

        Powers of ten from 1 to 6 are written out, zeros and all, as a column of numbers is
        compared by length; not those of a value without uncertainty, of which nothing would tell
        which zeros count.
        """
        if not self.uncertainty:
            return self.text, "0"
        return _in_cell(self.value, self.exponent), _in_cell(self.uncertainty, self.exponent)

    @property
    def _power(self) -> str:
        return f"e{self.exponent:+03d}" if self.exponent else ""


def round_pair(value: float, u: float, digits: int = 2) -> Rounded:
    """Round an uncertainty to significant digits, and the value to the same last digit.

    Parameters
    ----------
    value : float
        Any number; NaN and infinity are shown as such.
    u : float
        Its uncertainty, standard or expanded, in the same unit.
    digits : int
        Significant digits of the uncertainty, 1 to 9.

    Returns
    -------
    Rounded

    Raises
    ------
    RangeError
        A negative uncertainty, something that is no number, or another number of digits.

    Notes
    -----
    Source: [JCGM 100, 7.2.6], to the nearest digit. A zero uncertainty says nothing of the
    digits of the value: it is given with up to six. A common power of ten is split off where
    the larger of the two lies below 0.0001, or where digits before the decimal point would
    have to be filled up with zeros that are not significant. Ties are decided by the exact
    value of the float: 9.95 is stored as 9.9499999... and becomes 9.9.

    Examples
    --------
    >>> round_pair(10.05762, 0.027)
    Rounded(value='10.058', uncertainty='0.027', exponent=0)
    """
    number, spread = _checked(value, "value"), _checked(u, "uncertainty")
    if spread < 0:
        raise RangeError(f"uncertainty {spread:g}: expected zero or a positive number")
    _check_digits(digits)
    if spread == 0 or not math.isfinite(spread):
        digits_of_value, exponent = _split(f"{number:.{_DIGITS_WITHOUT_U}g}")
        return Rounded(digits_of_value, "" if spread == 0 else f"{spread}", exponent)
    if _below_resolution(number, spread, digits):
        digits_of_value, exponent = _split(repr(number))
        mantissa, own = _scientific(spread, digits)
        return Rounded(digits_of_value, f"{mantissa}e{own - exponent}", exponent)
    power = max(_scientific(x)[1] for x in (number, spread) if x != 0 and math.isfinite(x))
    if abs(power) <= _LARGEST_POWER:
        return _round_finite(number, spread, digits)
    rounded = _round_finite(_scaled(number, -power), _scaled(spread, -power), digits)
    return Rounded(rounded.value, rounded.uncertainty, rounded.exponent + power)


def text_pair(value: float, u: float) -> str:
    """Write a value and its uncertainty in one text, u with two significant digits.

    Parameters
    ----------
    value, u : float
        As for `round_pair`.

    Returns
    -------
    str

    Raises
    ------
    RangeError
        As for `round_pair`.

    Examples
    --------
    >>> text_pair(1234.4, 55.7)
    '1234 ± 56'
    """
    return round_pair(value, u).text


def round_cells(value: float, u: float, digits: int = 2) -> tuple[str, str]:
    """Round a value and its uncertainty for two cells of a table, each with its own power of ten.

    Parameters
    ----------
    value, u : float
        As for `round_pair`.
    digits : int
        Significant digits of the uncertainty, 1 to 9.

    Returns
    -------
    tuple of str
        Both rounded as by `round_pair`, `Rounded.cells`; "0" for a zero uncertainty.

    Raises
    ------
    RangeError
        As for `round_pair`.

    Examples
    --------
    >>> round_cells(8085.7, 162.0)
    ('8090', '160')
    >>> round_cells(1.2344e-6, 5.6e-8)
    ('1.234e-06', '0.056e-06')
    """
    return round_pair(value, u, digits).cells


def round_number(number: float, digits: int = 2) -> str:
    """Round a number that stands alone, such as a sensitivity, to significant digits.

    Parameters
    ----------
    number : float
        NaN and infinity are shown as such.
    digits : int
        1 to 9.

    Returns
    -------
    str
        With the digits and powers of ten that `round_cells` gives an uncertainty.

    Raises
    ------
    RangeError
        Something that is no number, or another number of digits.

    Examples
    --------
    >>> round_number(-0.01998, 3), round_number(130.2), round_number(3.1e-12)
    ('-0.0200', '130', '3.1e-12')
    """
    checked = _checked(number, "number")
    if not math.isfinite(checked) or checked == 0:
        _check_digits(digits)
        return f"{checked + 0.0:g}"
    sign = "-" if checked < 0 else ""
    return f"{sign}{round_cells(0.0, abs(checked), digits)[1]}"


def _in_cell(digits: str, exponent: int) -> str:
    mantissa, _, own = digits.partition("e")
    power = exponent + int(own or 0)
    if not power or not mantissa[-1].isdigit():
        return mantissa
    if 0 < power < _WRITTEN_OUT:
        return f"{Decimal(mantissa).scaleb(power):f}"
    return f"{mantissa}e{power:+03d}"


def _check_digits(digits: object) -> None:
    if isinstance(digits, bool) or not isinstance(digits, int) or not 1 <= digits <= _MOST_DIGITS:
        raise RangeError(
            f"digits={digits!r}: expected a whole number from 1 to {_MOST_DIGITS}, "
            "the significant digits of the uncertainty"
        )


def _checked(number: object, what: str) -> float:
    if isinstance(number, bool) or not isinstance(number, Real):
        raise RangeError(f"{what}: got {number!r}; expected one number")
    return float(number)


def _scientific(number: float, digits: int = _DIGITS_THAT_IDENTIFY) -> tuple[str, int]:
    """Round a number to significant digits, split into its mantissa and power of ten."""
    mantissa, _, exponent = f"{number:.{digits - 1}e}".partition("e")
    return mantissa, int(exponent or 0)


def _scaled(number: float, power: int) -> float:
    """Shift the decimal point as text: in float64 10**power could overflow."""
    if number == 0 or not math.isfinite(number):
        return number
    mantissa, exponent = _scientific(number)
    return float(f"{mantissa}e{exponent + power}")


def _below_resolution(number: float, spread: float, digits: int) -> bool:
    """Tell whether the value would need more digits than a float64 holds."""
    if number == 0 or not math.isfinite(number):
        return False
    return _scientific(number)[1] - _scientific(spread, digits)[1] + digits > _DIGITS_OF_FLOAT


def _split(text: str) -> tuple[str, int]:
    """Split the text of a float into its digits and its power of ten."""
    digits, _, exponent = text.partition("e")
    digits = digits.removesuffix(".0")
    return ("0" if digits == "-0" else digits), int(exponent or 0)


def _round_finite(number: float, spread: float, digits: int) -> Rounded:
    from uncertainties import ufloat

    # Rounded before it is scaled: the formatter scales to the common power of ten first, and
    # so prints three digits of 9.95e-10 beside 3.4714e-07 instead of two.
    spread_rounded = float(f"{spread:.{digits - 1}e}")
    printed = format(ufloat(number, spread_rounded), f".{digits}u")
    value, u, *exponent = _NUMBERS.findall(printed)
    if value.startswith("-") and not value.strip("-0."):
        value = value[1:]  # a minus that has lost its digits says nothing
    return Rounded(value, u.lstrip("+-"), int(exponent[0]) if exponent else 0)
