"""LaTeX of a quantity: a formula for notebooks, and siunitx source for a text."""

from __future__ import annotations

import re
from decimal import Decimal

import numpy as np

from flowunc.core.display.rounding import Rounded, round_pair
from flowunc.core.display.rows import (
    HEAD,
    NOT_DEFINED,
    Row,
    Showable,
    both_ends,
    label_of,
    unit_of,
)

__all__ = ["as_latex", "siunitx_source"]

_THIN_SPACE = r"\,"

# Mathematics mode knows these in LaTeX and in what draws formulas in notebooks. A "<" must not
# stand next to a letter: some exporters put the source into a page as it is.
_SIGNS = str.maketrans(
    {
        "\\": r"\backslash ",
        "^": r"\wedge ",
        "~": r"\sim ",
        "<": "<{}",
        "-": r"\text{-}",
        " ": r"\ ",
    }
    | {sign: f"\\{sign}" for sign in "{}$&#%_"}
)
_SUPERSCRIPTS = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")
_UNIT_TOKEN = re.compile(
    r"""(?:\^|\*\*)(?P<power>\([^)]*\)|[+−-]?[0-9.]+)
    | (?P<superscript>[⁺⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)
    | (?P<product>[*·⋅ ](?!gal))
    | (?:US|imp)[ ]gal | °[CF]? | [A-Za-z_\u00b5\u03bc\u03a9\u2126][0-9A-Za-z_]* | .""",
    re.VERBOSE,
)
_NAMES = {
    "degC": r"{}^{\circ}C",
    "°C": r"{}^{\circ}C",
    "degF": r"{}^{\circ}F",
    "°F": r"{}^{\circ}F",
    "deg": r"{}^{\circ}",
    "°": r"{}^{\circ}",
}
# siunitx has commands for these; it takes a unit as text or as commands, never as a mixture.
_SIUNITX = {
    "degC": r"\degreeCelsius",
    "°C": r"\degreeCelsius",
    "deg": r"\degree",
    "°": r"\degree",
    "arcmin": r"\arcminute",
    "arcsec": r"\arcsecond",
    "%": r"\percent",
}


def as_latex(quantity: Showable, digits: int = 2) -> str:
    r"""Write a quantity as a LaTeX formula between dollar signs.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings.
    digits : int
        Significant digits of the uncertainty.

    Returns
    -------
    str
        Readings stand in an ``array``; of more than 20 both ends are shown, with their number.

    Examples
    --------
    >>> from flowunc import Length, standard
    >>> print(as_latex(Length(19.05, "mm", standard(0.029), label="bore")))
    $\mathrm{bore} = 19.050 \pm 0.029\ \mathrm{mm}$
    """
    label, count = label_of(quantity), quantity.size
    shown = both_ends(quantity, digits)
    lines = [_formula(row) for row in shown]
    body = lines[0]
    if quantity.ndim == 1:
        if count > len(shown):
            lines.insert(HEAD, r"\vdots")
        body = r" \\ ".join(lines)
        body = rf"\begin{{array}}{{r}}{body}\end{{array}}"
    if unit := unit_of(quantity):
        body += rf"\ \mathrm{{{_unit(unit, _THIN_SPACE)}}}"
    if count > len(shown):
        body += rf"\quad \mathrm{{({count}\ readings)}}"
    name = rf"\mathrm{{{label.translate(_SIGNS)}}} = " if label else ""
    return f"${name}{body}$"


def siunitx_source(quantity: Showable, digits: int) -> str:
    r"""Write a quantity with the commands of siunitx (version 3): ``\qty``, ``\num``, lists.

    Every reading is there, and a missing uncertainty is an error: this goes into a text.
    """
    pairs = zip(np.atleast_1d(quantity.value), np.atleast_1d(quantity.u), strict=True)
    numbers = "; ".join(_siunitx_number(round_pair(value, u, digits)) for value, u in pairs)
    unit = unit_of(quantity)
    command = (r"\qty" if unit else r"\num") + ("list" if quantity.ndim == 1 else "")
    argument = f"{{{_SIUNITX.get(unit) or _unit(unit, '.')}}}" if unit else ""
    return f"{command}{{{numbers}}}{argument}"


def _formula(row: Row) -> str:
    rounded = row.rounded
    power = rf" \times 10^{{{rounded.exponent}}}" if rounded.exponent else ""
    note = rf"\ \mathrm{{({NOT_DEFINED.translate(_SIGNS)})}}" if row.k is None else ""
    value = _number(rounded.value)
    if not rounded.uncertainty:
        return f"{value}{power}{note}"
    pair = rf"{value} \pm {_number(rounded.uncertainty)}"
    return rf"\left({pair}\right){power}" if power else pair


def _number(digits: str) -> str:
    sign = "-" if digits.startswith("-") else ""
    if digits.endswith("inf"):
        return rf"{sign}\infty"
    if digits == "nan":
        return r"\mathrm{nan}"
    mantissa, _, own = digits.partition("e")
    return rf"{mantissa} \times 10^{{{int(own)}}}" if own else digits


def _siunitx_number(rounded: Rounded) -> str:
    power = f" e{rounded.exponent}" if rounded.exponent else ""
    if not rounded.uncertainty:
        return f"{rounded.value}{power}"
    # siunitx reads a power of ten as common to both numbers: u must not have one of its own
    return rf"{rounded.value} \pm {Decimal(rounded.uncertainty):f}{power}"


def _unit(text: str, product: str) -> str:
    r"""Write a unit for the inside of ``\mathrm`` or of a siunitx command."""
    written = []
    for token in _UNIT_TOKEN.finditer(text):
        if (power := token["power"]) is not None:
            written.append(f"^{{{power.strip('()').replace('−', '-')}}}")
        elif token["superscript"]:
            written.append(f"^{{{token['superscript'].translate(_SUPERSCRIPTS)}}}")
        elif token["product"]:
            written.append(product)
        else:
            written.append(_unit_name(token.group()))
    return "".join(written)


def _unit_name(name: str) -> str:
    if name in _NAMES:
        return _NAMES[name]
    # every name with a "u" in front is a micro-unit: no unit of its own begins with that letter
    micro = len(name) > 1 and name[0] in "u\u00b5\u03bc"
    base = (name[1:] if micro else name).translate(_SIGNS)
    base = re.sub(r"Ohm$|[\u03a9\u2126]$", lambda _: r"\Omega ", base)
    return rf"\mu {base}" if micro else base
