"""Numbers, units and names as they stand in a report."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from flowunc.bench.conclusions import Outcome
from flowunc.core.display.rounding import Rounded, round_pair
from flowunc.core.quantity import Quantity
from flowunc.instruments.scale import Scale

__all__ = [
    "IN_PARENTHESES",
    "NONE",
    "concise",
    "counted",
    "estimate",
    "formula_text",
    "interval",
    "named",
    "number",
    "outcome",
    "pair",
    "percent",
    "probability",
    "reading",
    "unit_text",
    "with_unit",
]

IN_PARENTHESES = "in parentheses the standard uncertainty, in units of the last digit"
NONE = "–"  # an empty cell says less than one that is meant to be empty
_MOST_NAMED = 12
_LARGEST_POWER = 7
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_EXPONENT = re.compile(r"e([+-])0*(\d+)$")


def number(value: float, digits: int = 4) -> str:
    """Write a number with significant digits; a dash where there is none.

    Examples
    --------
    >>> number(24041.2, 3), number(3.2e-08, 2), number(float("nan"))
    ('24000', '3.2×10⁻⁸', '–')
    """
    if math.isnan(value):
        return NONE
    if math.isinf(value):
        return "∞" if value > 0 else "-∞"
    text = f"{value + 0.0:.{digits}g}"
    if "e+" in text and abs(value) < 10.0**_LARGEST_POWER:
        return f"{Decimal(text):f}"
    return _EXPONENT.sub(lambda found: _power(found[1], found[2]), text)


def _power(sign: str, digits: str) -> str:
    exponent = f"-{digits}" if sign == "-" else digits
    return f"×10{exponent.translate(_RAISED)}"


def pair(value: float, u: float) -> str:
    """Write a value and its expanded uncertainty, rounded together.

    Examples
    --------
    >>> pair(2823.4, 112.0), pair(1.2341e-6, 5.4e-8), pair(0.03751, 0.00151)
    ('2820 ± 110', '(1.234 ± 0.054)×10⁻⁶', '0.0375 ± 0.0015')
    """
    if math.isnan(value) or math.isnan(u):
        return number(value)
    rounded, power = _with_power(value, u)
    text = rounded.text
    return f"({text}){power}" if power and rounded.uncertainty else f"{text}{power}"


def concise(value: float, u: float) -> str:
    """Write a value and its standard uncertainty, this in parentheses [JCGM 100, 7.2.2].

    The sign ± is left to limits and to expanded uncertainties.

    Examples
    --------
    >>> concise(2823.4, 112.0), concise(1.2341e-6, 5.4e-8), concise(0.03751, 0.00151)
    ('2820(110)', '1.234(54)×10⁻⁶', '0.0375(15)')
    """
    if math.isnan(value) or math.isnan(u):
        return number(value)
    rounded, power = _with_power(value, u)
    return f"{rounded.short}{power}"


def _with_power(value: float, u: float) -> tuple[Rounded, str]:
    """Round together; a power of ten too large to be written out stands by itself."""
    rounded = round_pair(value, u)
    if not rounded.exponent or 0 < rounded.exponent < _LARGEST_POWER:
        return Rounded(_shifted(rounded.value, rounded), _shifted(rounded.uncertainty, rounded)), ""
    sign = "-" if rounded.exponent < 0 else "+"
    return replace(rounded, exponent=0), _power(sign, str(abs(rounded.exponent)))


def _shifted(digits: str, rounded: Rounded) -> str:
    """Write 2.82 of (2.82 ± 0.11)e+03 as 2820."""
    if not digits or not rounded.exponent or not digits.lstrip("+-")[:1].isdigit():
        return digits
    return f"{Decimal(digits).scaleb(rounded.exponent):f}"


def interval(low: float, high: float) -> str:
    """Write an interval with two digits of a quarter of its width.

    Examples
    --------
    >>> interval(0.0681, 0.1312)
    '0.068 to 0.131'
    """
    if not (math.isfinite(low) and math.isfinite(high)):
        return "none"
    width = (high - low) / 4
    ends = []
    for end in (low, high):
        rounded = replace(round_pair(end, width), uncertainty="")
        shifted = 0 < rounded.exponent < _LARGEST_POWER
        ends.append(_shifted(rounded.value, rounded) if shifted else _alone(rounded))
    return " to ".join(ends)


def _alone(rounded: Rounded) -> str:
    if not rounded.exponent:
        return rounded.value
    sign = "-" if rounded.exponent < 0 else "+"
    return f"{rounded.value}{_power(sign, str(abs(rounded.exponent)))}"


def outcome(found: Outcome) -> str:
    """Write value ± U, or the drawn interval with a star where the linear method does not hold."""
    if not math.isnan(found.expanded):
        return pair(found.value, found.expanded)
    if not (math.isfinite(found.low) and math.isfinite(found.high)):
        return f"{number(found.value)}, no interval*"
    return f"{interval(found.low, found.high)}*"


def percent(share: float) -> str:
    """Write a part of a whole as per cent.

    Examples
    --------
    >>> percent(0.634), percent(0.0432), percent(0.0004), percent(0.0)
    ('63 %', '4.3 %', '<0.1 %', '0 %')
    """
    if math.isnan(share):
        return NONE
    size = 100 * share
    if size == 0:
        return "0 %"
    if abs(size) < 0.1:
        return "<0.1 %"
    return f"{size:.1f} %" if abs(size) < 9.95 else f"{size:.0f} %"


def probability(p: float) -> str:
    """Write a probability as per cent, without claiming certainty.

    Examples
    --------
    >>> probability(0.9996), probability(0.5), probability(1.0)
    ('>99.9 %', '50 %', '100 %')
    """
    size = 100 * p
    if 99.9 < size < 100:
        return ">99.9 %"
    return f"{size:.1f} %" if size > 99 and size < 100 else f"{size:.0f} %"


def reading(value: float, scale: Scale) -> str:
    """Write a reading with the digits to which its scale is read, or with all that it has."""
    _, _, decimals = f"{2 * scale.half_width:.6f}".rstrip("0").partition(".")
    text = f"{value:.{len(decimals)}f}"
    return text if math.isclose(float(text), value, rel_tol=1e-12) else f"{value:.12g}"


def unit_text(unit: str) -> str:
    """Write a unit as in print.

    Examples
    --------
    >>> unit_text("kg/m^3"), unit_text("mPa*s"), unit_text("degC"), unit_text("1")
    ('kg/m³', 'mPa·s', '°C', '')
    """
    if unit == "1":
        return ""
    text = re.sub(r"\^(-?\d+)", lambda found: found[1].translate(_RAISED), unit)
    text = re.sub(r"\bdeg(?=[CF]\b)|\bdeg\b", "°", text.replace("*", "·"))
    return re.sub(r"\bu(?=(?:m|Pa|L|s|g)\b)", "µ", text)


def with_unit(text: str, unit: str) -> str:
    """Put a unit behind a number or a pair."""
    sign = unit_text(unit)
    if not sign:
        return text
    if " ± " in text and not text.startswith("("):
        text = f"({text})"
    return f"{text}{'' if sign == '°' else ' '}{sign}"


def estimate(quantity: Quantity) -> str:
    """Write a single quantity with its standard uncertainty and its unit.

    Examples
    --------
    >>> from flowunc import Length, limits
    >>> estimate(Length(16.0, "mm", limits(0.04)))
    '16.000(23) mm'
    """
    return with_unit(concise(float(quantity.value), float(quantity.u)), quantity.unit)


def formula_text(formula: str) -> str:
    """Write the formula of a law, which is stated in ASCII, with the usual signs.

    Examples
    --------
    >>> formula_text("1/sqrt f = 2 log10(Re sqrt f) - 0.8")
    '1/√f = 2 log₁₀(Re √f) − 0.8'
    """
    signs = formula.replace("sqrt ", "√").replace("log10", "log₁₀").replace(" - ", " − ")
    return re.sub(r"\^(-?\d+)(?![\d.])", lambda found: found[1].translate(_RAISED), signs).replace(
        "-log", "−log"
    )


def counted(count: int, what: str) -> str:
    """Write how many there are.

    Examples
    --------
    >>> counted(1, "run"), counted(3, "run")
    ('1 run', '3 runs')
    """
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def named(labels: Sequence[str]) -> str:
    """Name runs in a sentence.

    Examples
    --------
    >>> named(["3"]), named(["1", "2", "5"])
    ('Run 3', 'Runs 1, 2 and 5')
    """
    if len(labels) == 1:
        return f"Run {labels[0]}"
    if len(labels) > _MOST_NAMED:
        shown = ", ".join(labels[:_MOST_NAMED])
        return f"Runs {shown} and {len(labels) - _MOST_NAMED} more"
    return f"Runs {', '.join(labels[:-1])} and {labels[-1]}"
