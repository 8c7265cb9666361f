"""The pipe in a bench file: bore, distance of the taps, roughness.

A bore is stated, or measured: by diameters in several sections and directions with a caliper,
or by the mass of water that fills a length of it. A roughness is stated, or looked up by material.
"""

from __future__ import annotations

from functools import partial
from typing import Any, NamedTuple

from flowunc.bench.description.meter_table import DENSITY
from flowunc.bench.description.scale_table import INSTRUMENT_KEYS, made, read_accuracy, read_scale
from flowunc.bench.description.statement_table import is_name, read_quantity
from flowunc.bench.description.toml_table import TomlTable, described
from flowunc.core.kinds import Density, Length, Mass, Temperature
from flowunc.fluids import water
from flowunc.instruments.bore import bore_from_diameters, bore_from_water_mass
from flowunc.instruments.length_instruments import Caliper
from flowunc.instruments.roughness_table import roughness_of

__all__ = ["PIPE", "Pipe", "read_pipe"]

_BORE = 'bore = { value = "19.05 mm", limits = 0.05 }'
_TAPS = 'tap_spacing = { value = "2.400 m", limits = "1 mm" }'
_ROUGHNESS = 'roughness = { value = "0.0015 mm", limits = 0.001 }, or a material: "drawn tubing"'
_DIAMETERS = "diameters = [[19.00, 19.10], [19.05, 19.15]], a list for each section"
_CALIPER = (
    'caliper = { unit = "mm", division = 1, kind = "vernier", vernier_divisions = 20, '
    "accuracy = { limits = 0.05 } }"
)
_WATER = (
    'bore = { water_mass = { value = "426.6 g", limits = 1 }, length = { value = "1.5 m", '
    'limits = "2 mm" }, temperature = { value = "20 degC", limits = 0.5 } }'
)
_WATER_KEYS = ("water_mass", "length", "temperature", "water", "density", "air_density")
PIPE = f"[pipe] with {_BORE} and {_TAPS}"


class Pipe(NamedTuple):
    """What a bench knows of its pipe."""

    bore: Length
    tap_spacing: Length
    roughness: Length | None


def read_pipe(table: TomlTable) -> Pipe:
    """Read the section of the pipe."""
    table.allow_only(("bore", "tap_spacing", "roughness"))
    roughness = _roughness(table) if "roughness" in table else None
    spacing = partial(read_quantity, table, "tap_spacing", Length, "tap spacing", _TAPS)
    return Pipe(_bore(table), spacing(), roughness)


def _roughness(table: TomlTable) -> Length:
    given = table["roughness"]
    if is_name(given):
        return table.attempt(lambda: roughness_of(given), "roughness")
    return read_quantity(table, "roughness", Length, "roughness", _ROUGHNESS, floor="from 0")


def _bore(table: TomlTable) -> Length:
    given = table.require("bore", _BORE)
    if isinstance(given, dict):
        inner = table.table("bore", _BORE)
        if "diameters" in inner or "caliper" in inner:
            return _measured(inner)
        if any(name in inner for name in _WATER_KEYS):
            return _weighed(inner)
    return read_quantity(table, "bore", Length, "bore", _BORE)


def _measured(table: TomlTable) -> Length:
    table.allow_only(("diameters", "caliper"))
    given = table.require("diameters", _DIAMETERS)
    if not isinstance(given, list) or not given:
        raise table.error(f"{described(given)}; expected {_DIAMETERS}", "diameters")
    nested = isinstance(given[0], list)
    rows: list[Any] = []
    for row in given:
        if isinstance(row, list) != nested:
            raise table.error(
                f"lists and numbers together; expected {_DIAMETERS}, or numbers alone", "diameters"
            )
        numbers = row if nested else [row]
        found = [table.checked_number(item, "diameters", _DIAMETERS) for item in numbers]
        rows.append(found if nested else found[0])
    section = table.table("caliper", _CALIPER)
    section.allow_only((*INSTRUMENT_KEYS, "label"))
    label = (
        section.text("label", "the name of the caliper in budgets")
        if "label" in section
        else ("caliper")
    )
    caliper = made(
        section,
        Caliper,
        read_scale(section, "mm"),
        accuracy=read_accuracy(section, "caliper"),
        label=label,
    )
    return table.attempt(lambda: bore_from_diameters(rows, caliper).bore, "diameters")


def _weighed(table: TomlTable) -> Length:
    table.allow_only(_WATER_KEYS)
    mass = read_quantity(table, "water_mass", Mass, "water mass", _WATER)
    length = read_quantity(table, "length", Length, "filled length", _WATER)
    if "density" in table:
        for name in ("temperature", "water"):
            if name in table:
                raise table.error(f"density and {name} together; expected either", name)
        density = read_quantity(
            table, "density", Density, "water density at the bore", f"density = {DENSITY}"
        )
    else:
        warmth = read_quantity(
            table, "temperature", Temperature, "water temperature at the bore", _WATER
        )
        pure = table.choice("water", ("tap", "pure"), "tap") == "pure"
        density = table.attempt(
            lambda: water.density(warmth, water="pure" if pure else "tap"), "temperature"
        )
    air = None
    if "air_density" in table:
        air = read_quantity(
            table, "air_density", Density, "air density at the bore", f"air_density = {DENSITY}"
        )
    # in mm as rules and calipers give it: what is shown of a bore in m has few digits
    return table.attempt(
        lambda: (
            bore_from_water_mass(mass, length=length, density=density, air_density=air)
            .to("mm")
            .labelled("bore")
        )
    )
