"""Coherent units have the factor 1 and the dimension that the SI gives them."""

from __future__ import annotations

import pint
import pytest

from flowunc.core import unit_table
from flowunc.core.unit_notation import COHERENT, OFFSET_SYMBOLS, ONE, SAME_SYMBOL
from flowunc.core.units import parse_unit

# In base units [SI Brochure 2019, tables 2 and 4, M].
IN_BASE_UNITS = {
    "m": "m",
    "kg": "kg",
    "s": "s",
    "K": "K",
    "A": "A",
    "mol": "mol",
    "cd": "cd",
    "rad": "1",
    "N": "kg*m/s^2",
    "J": "kg*m^2/s^2",
    "W": "kg*m^2/s^3",
    "Hz": "1/s",
    "V": "kg*m^2*s^-3*A^-1",
    "Ohm": "kg*m^2*s^-3*A^-2",
    "Pa": "kg*m^-1*s^-2",
}


@pytest.mark.parametrize("symbol", COHERENT)
def test_symbol_has_the_dimension_of_the_brochure(symbol: str) -> None:
    unit = parse_unit(symbol)
    assert unit.is_coherent
    assert unit.dimension is parse_unit(IN_BASE_UNITS[symbol]).dimension


@pytest.mark.parametrize("symbol", COHERENT)
def test_symbol_is_coherent_in_an_independent_table(symbol: str) -> None:
    registry = pint.UnitRegistry()
    base = registry.Quantity(1.0, "ohm" if symbol == "Ohm" else symbol).to_base_units()
    assert base.magnitude == 1.0
    written = IN_BASE_UNITS[symbol].replace("^", "**")
    assert (
        base.dimensionality == registry.Quantity(1.0, registry.parse_units(written)).dimensionality
    )


@pytest.mark.parametrize("symbol", COHERENT)
def test_the_full_table_says_the_same(symbol: str) -> None:
    # what is read without the table must not depend on whether it has been loaded
    assert unit_table.UNITS[symbol] == (ONE, COHERENT[symbol])


def test_every_unit_with_a_zero_of_its_own_is_in_the_table() -> None:
    assert tuple(unit_table.OFFSET_UNITS) == OFFSET_SYMBOLS
    assert set(SAME_SYMBOL.values()) <= {*unit_table.UNITS, *OFFSET_SYMBOLS}
