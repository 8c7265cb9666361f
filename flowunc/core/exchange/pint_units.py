"""Quantities of the `pint` package, in and out, from and to any of its registries.

A unit passes only if the registry gives it the same factor and the same zero as flowunc does;
the names alone do not count (an inch of water is one thing here and another there). pint holds
no components, so what leaves is a value and its standard uncertainty, and correlations are lost.

pint is an optional extra, ``pip install "flowunc[pint]"``.
"""

from __future__ import annotations

import importlib
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, NamedTuple, TypeVar

import numpy as np

from flowunc.core.dimensions import Dimension
from flowunc.core.errors import DimensionError, MissingPackageError, UnitError
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.core.unit_notation import SAME_LETTER, SAME_SYMBOL
from flowunc.core.units import Unit, coherent_unit, parse_unit

__all__ = ["PintPair", "from_pint", "to_pint"]

Q = TypeVar("Q", bound=Quantity)

_SAME = 1e-12  # relative: the factors of both sides are exact numbers, rounded a few times
_FAR = 1e4  # degrees: far enough that the zero of a scale costs the factor no digits
_BASE_UNITS = ("meter", "kilogram", "second", "kelvin", "ampere", "mole", "candela")
# Where the symbol of one side means nothing, or something else, on the other.
_FROM_PINT = {
    "degree_Celsius": "degC",
    "degree_Fahrenheit": "degF",
    "delta_degree_Celsius": "K",
    "gallon": "US_gal",
    "imperial_gallon": "imp_gal",
    "torr": "Torr",
    "meter_H2O": "mH2O",
}
_TO_PINT = {
    "degC": "degree_Celsius",
    "degF": "degree_Fahrenheit",
    "US_gal": "gallon",
    "imp_gal": "imperial_gallon",
    "Torr": "torr",
}
_WORD = re.compile(r"°[CF]?|[A-Za-z_][A-Za-z0-9_]*")


class PintPair(NamedTuple):
    """What pint can hold of a quantity: ``value`` and standard uncertainty ``u``."""

    value: Any
    u: Any


def to_pint(quantity: Quantity, registry: Any = None) -> PintPair:
    """Return value and standard uncertainty as quantities of pint.

    Parameters
    ----------
    quantity : Quantity
    registry : pint.UnitRegistry, optional
        pint's application registry unless given.

    Returns
    -------
    PintPair
        (value, u), each shaped as the value, in the unit of the quantity if the registry has
        one of the same size, else in SI base units. The uncertainty of a temperature in degC is
        a difference, in delta_degree_Celsius.

    Raises
    ------
    MissingPackageError
        pint is not installed.

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, standard, to_pint
    >>> value, u = to_pint(VolumeFlowRate(90, "L/h", standard(2)))
    >>> print(value, "and", u.to("L/min"))
    90.0 liter / hour and 0.03333333333333333 liter / minute
    """
    pint = _pint()
    if not isinstance(quantity, Quantity):
        raise DimensionError(f"to_pint of {type(quantity).__name__}: expected a quantity")
    if registry is None:
        registry = pint.get_application_registry()
    unit = quantity._unit
    shown = _pint_unit(pint, registry, unit)
    difference = shown
    if unit.is_offset:
        delta = Unit(unit.symbol, unit.numerator, unit.denominator, 0.0, unit.dimension)
        difference = shown and _checked(pint, registry, f"delta_{_pint_text(unit)}", delta)
    if shown is None or difference is None:
        unit = coherent_unit(unit.dimension)
        shown = difference = registry.parse_units(_base_units(unit.dimension))
    made = [
        registry.Quantity(float(array) if array.ndim == 0 else np.array(array), units)
        for array, units in (
            (np.asarray(unit.from_si(quantity._node.value)), shown),
            (np.asarray(unit.scale_from_si(quantity._u_si())), difference),
        )
    ]
    return PintPair(*made)


def from_pint(
    kind: type[Q], quantity: Any, statements: Sequence[Statement] = (), label: str = ""
) -> Q:
    """Make a quantity from one of pint and statements of its uncertainty.

    Parameters
    ----------
    kind : type of quantity
    quantity : pint.Quantity
        A number or one axis of readings, of any registry.
    statements : sequence of Statement
        A statement without unit is in the unit of ``quantity``.
    label : str

    Returns
    -------
    Quantity
        Of that kind, in that unit.

    Raises
    ------
    MissingPackageError
        pint is not installed.
    UnitError
        A unit that flowunc does not have, or one of another dimension than the kind.
    DimensionError
        No quantity of pint; a temperature difference for a temperature.
    RangeError
        NaN, infinity, or a magnitude that is no number.

    Examples
    --------
    >>> import pint
    >>> from flowunc import Length, from_pint, limits
    >>> registry = pint.UnitRegistry()
    >>> print(from_pint(Length, 19.05 * registry.millimeter, [limits(0.05)], "bore"))
    bore: 19.050 ± 0.029 mm
    """
    pint = _pint()
    if not isinstance(quantity, pint.Quantity):
        raise DimensionError(
            f"from_pint({kind.__name__}, ...) of {type(quantity).__name__} {quantity!r}: expected "
            "a quantity of pint, such as 2.0 * registry.meter"
        )
    names = dict(quantity.unit_items())
    if kind._absolute and any(name.startswith("delta_") for name in names):
        raise DimensionError(
            f"from_pint({kind.__name__}, ...): {quantity} is a temperature difference; expected "
            "a point on a scale, such as registry.Quantity(20, 'degC')"
        )
    unit = _flowunc_unit(pint, quantity._REGISTRY, names, quantity)
    return kind(quantity.magnitude, unit, *statements, label=label)


def _pint() -> Any:
    try:
        return importlib.import_module("pint")
    except ImportError as error:
        raise MissingPackageError(
            'the package pint is not installed; pip install "flowunc[pint]"'
        ) from error


# -- to pint -------------------------------------------------------------------------------------
def _pint_unit(pint: Any, registry: Any, unit: Unit) -> Any:
    """Return the unit of the registry that is this unit, None if it has none."""
    return _checked(pint, registry, _pint_text(unit), unit)


def _pint_text(unit: Unit) -> str:
    if unit.symbol == "1":
        return "dimensionless"

    def name(word: re.Match[str]) -> str:
        symbol = SAME_SYMBOL.get(word.group(), word.group())
        return _TO_PINT.get(symbol, re.sub("Ohm$", "ohm", symbol))

    return _WORD.sub(name, unit.symbol)


def _checked(pint: Any, registry: Any, text: str, unit: Unit) -> Any:
    """Return the unit that a registry reads from a text, None unless it is this unit."""
    try:
        units = registry.parse_units(text)
    except (pint.PintError, ValueError, TypeError):
        return None
    return units if _is_same(pint, registry, units, unit) else None


def _is_same(pint: Any, registry: Any, units: Any, unit: Unit) -> bool:
    """Tell whether a unit of a registry has the factor and the zero of one of flowunc."""
    base = _base_units(unit.dimension)
    try:
        zero, far = (float(registry.Quantity(at, units).to(base).magnitude) for at in (0.0, _FAR))
    except (pint.PintError, ArithmeticError, ValueError, TypeError):
        return False
    return bool(
        abs((far - zero) / _FAR - unit.factor) <= _SAME * unit.factor
        and abs(zero - unit.offset) <= _SAME * abs(unit.offset)
    )


def _base_units(dimension: Dimension) -> str:
    exponents = dimension.exponents
    # length, mass, time, temperature, current, amount, luminous intensity
    powers = [
        f"{name}**({exponent})"
        for name, exponent in zip(_BASE_UNITS, exponents, strict=True)
        if exponent
    ]
    return " * ".join(powers) or "dimensionless"


# -- from pint -----------------------------------------------------------------------------------
def _flowunc_unit(pint: Any, registry: Any, names: dict[str, Any], quantity: Any) -> str:
    above: list[str] = []
    below: list[str] = []
    for name, exponent in names.items():
        symbol = _symbol(pint, registry, name)
        if symbol is None:
            raise UnitError(
                f"{quantity}: flowunc has no unit of the name and size of {name!r} in its "
                "registry; convert it first, for example with .to_base_units()"
            )
        exact = Fraction(exponent).limit_denominator(1000)
        size = abs(exact)
        power = "" if size == 1 else f"^({size})" if size.denominator > 1 else f"^{size}"
        (above if exact > 0 else below).append(symbol + power)
    text = "*".join(above) or "1"
    if below:
        text += f"/{below[0]}" if len(below) == 1 else f"/({'*'.join(below)})"
    unit = parse_unit(text)
    if not _is_same(pint, registry, quantity.units, unit):
        raise UnitError(
            f"{quantity}: its registry gives '{quantity.units}' another size than flowunc gives "
            f"'{text}'; convert it first, for example with .to_base_units()"
        )
    return text


def _symbol(pint: Any, registry: Any, name: str) -> str | None:
    """Return the symbol in flowunc of a unit of a registry, None if there is none."""
    # Versions of pint write micro and ohm with different characters; here they are u and Ohm.
    own = str(registry.get_symbol(name)).translate(SAME_LETTER)
    capital = f"{own[:-1]}L" if name.endswith("liter") else own  # l and 1 look alike
    for symbol in (_FROM_PINT.get(name, capital), own, name):
        try:
            unit = parse_unit(symbol)
        except UnitError:
            continue
        if _is_same(pint, registry, registry.parse_units(name), unit):
            return symbol
    return None
