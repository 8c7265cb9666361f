"""What flows, as a bench file says it.

- ``water = "tap"`` or ``"pure"``, the default;
- ``name = "seawater"`` with ``salinity``, ``name = "glycerol_water"`` with ``glycerol``;
- ``name = "table"`` with ``temperature``, ``density`` and ``viscosity`` from a data sheet.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from flowunc.bench.description.flowing_liquid import FlowingLiquid, Mixture
from flowunc.bench.description.statement_table import read_quantity, series_of
from flowunc.bench.description.toml_table import TomlTable
from flowunc.core.kinds import Density, DynamicViscosity, KinematicViscosity, Ratio, Temperature
from flowunc.core.units import parse_unit
from flowunc.fluids.tabulated_liquid import TabulatedLiquid

__all__ = ["Liquid", "read_liquid"]

_LIQUID = '[liquid] with water = "tap"'
_CONTENTS = {
    "seawater": ("salinity", 'salinity = { value = "35 g/kg", limits = 0.5 }'),
    "glycerol_water": ("glycerol", 'glycerol = { value = "60 %", limits = 0.5 }'),
}
_NAMES = ("water", *_CONTENTS, "table")
_TEMPERATURE = 'temperature = { values = [10, 20, 30], unit = "degC" }'
_DENSITY = 'density = { values = [871, 864, 857], unit = "kg/m^3", limits = 2, shared = true }'
_VISCOSITY = (
    'viscosity = { values = [61, 37, 24], unit = "mPa*s", percent_of_reading = 2, shared = true }'
)


class Liquid(NamedTuple):
    """Kind of water, or another liquid."""

    water: Literal["tap", "pure"] = "tap"
    liquid: FlowingLiquid | None = None


def read_liquid(root: TomlTable) -> Liquid:
    """Read the section of the liquid; tap water if there is none."""
    table = root.table_if_given("liquid", _LIQUID)
    if table is None:
        return Liquid()
    name = table.choice("name", _NAMES, "water")
    if name == "table":
        return Liquid(liquid=_tabulated(table))
    if name == "seawater":
        return Liquid(liquid=_mixture(table, "seawater"))
    if name == "glycerol_water":
        return Liquid(liquid=_mixture(table, "glycerol_water"))
    for word, (content, _) in _CONTENTS.items():
        if content in table:
            raise table.error(f'{content} of water; expected name = "{word}" beside it', content)
    table.allow_only(("name", "water"))
    pure = table.choice("water", ("tap", "pure"), "tap") == "pure"
    return Liquid(water="pure" if pure else "tap")


def _mixture(table: TomlTable, name: Literal["seawater", "glycerol_water"]) -> Mixture:
    content, example = _CONTENTS[name]
    table.allow_only(("name", content))
    share = read_quantity(table, content, Ratio, content, example)
    made = table.attempt(lambda: Mixture(name, share), content)
    # a content out of range is refused here, not at the first sheet
    table.attempt(lambda: made.density(Temperature(20, "degC")), content)
    return made


def _tabulated(table: TomlTable) -> TabulatedLiquid:
    table.allow_only(("name", "label", "temperature", "density", "viscosity"))
    label = "liquid"
    if "label" in table:
        label = table.text("label", 'label = "test oil", the name in budgets')
    temperature = series_of(
        table.table("temperature", _TEMPERATURE),
        "values",
        Temperature,
        "",
        _TEMPERATURE,
        needs_statement=False,
    )
    density = series_of(
        table.table("density", _DENSITY), "values", Density, f"{label} density", _DENSITY
    )
    inner = table.table("viscosity", _VISCOSITY)
    unit = inner.text("unit", _VISCOSITY)
    of_unit = inner.attempt(lambda: parse_unit(unit), "unit")
    name = f"{label} viscosity"
    viscosity: DynamicViscosity | KinematicViscosity
    if of_unit.dimension is KinematicViscosity.dimension:
        viscosity = series_of(inner, "values", KinematicViscosity, name, _VISCOSITY)
    else:
        viscosity = series_of(inner, "values", DynamicViscosity, name, _VISCOSITY)
    return table.attempt(lambda: TabulatedLiquid(temperature, density, viscosity, label=label))
