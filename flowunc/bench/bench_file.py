"""`load_bench`: the description of a bench from a TOML file.

Sections: ``[pipe]``, ``[meters.NAME]`` for each meter, ``[thermometer]``, ``[manometer]``,
and, if wanted, ``[gravity]``, ``[liquid]``, ``[laws]``. The example in
``flowunc/bench/example/bench.toml`` shows all of it.
"""

from __future__ import annotations

from os import PathLike
from typing import Any, TypeVar

from flowunc.bench.bench import LAWS, Bench
from flowunc.bench.statement_table import quantity_of, read_quantity, read_statements
from flowunc.bench.toml_table import TomlTable, described, read_toml
from flowunc.core.errors import FlowuncError, StatementError
from flowunc.core.kinds import Acceleration, Angle, Density, Length
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.core.units import parse_unit
from flowunc.fluids.local_gravity import gravity
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.manometer import InclinedManometer
from flowunc.instruments.scale import Scale
from flowunc.instruments.thermometer import Thermometer

__all__ = ["load_bench"]

I = TypeVar("I", bound=Instrument[Any])  # noqa: E741 - an instrument

_SECTIONS = ("pipe", "meters", "thermometer", "manometer", "gravity", "liquid", "laws")
_SCALE_KEYS = ("unit", "division", "span", "kind", "read_to", "accuracy")
_DENSITIES = ("calibration_density", "float_density")
_BORE = 'bore = { value = "19.05 mm", limits = 0.05 }'
_TAPS = 'tap_spacing = { value = "2.400 m", limits = "1 mm" }'
_ROUGHNESS = 'roughness = { value = "0.0015 mm", limits = 0.001 }'
_DENSITY = 'a density such as "998.2 kg/m^3", or { value = "998.2 kg/m^3", limits = 0.5 }'
_CORRECTION = 'correction = { value = "-0.3 K", expanded = 0.1, k = 2 }'
_GRAVITY = 'value = "9.8124 m/s^2" with limits = 0.0005, or latitude = "52 deg"'
_LATITUDE = 'latitude = "52 deg"'
_HEIGHT = 'height = "100 m"'
_METER = '[meters.small] with unit = "L/min", division = 0.1, span = [0.4, 4.0] and accuracy'


def load_bench(path: str | PathLike[str]) -> Bench:
    """Read the description of a bench.

    Parameters
    ----------
    path : str or path
        TOML file, UTF-8.

    Returns
    -------
    Bench

    Raises
    ------
    BenchError
        A file that cannot be read (names the line), or an entry that cannot be used (names
        the dotted key): unknown, missing, of the wrong type or unit, or a statement that
        does not fit.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import load_bench
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> list(load_bench(folder / "bench.toml").meters)
    ['small', 'large']
    """
    root = read_toml(path)
    root.allow_only(_SECTIONS)
    pipe = root.table("pipe", f"[pipe] with {_BORE} and {_TAPS}")
    pipe.allow_only(("bore", "tap_spacing", "roughness"))
    laws = root.table_if_given("laws", '[laws] with turbulent = "prandtl_smooth"')
    manometer = root.table(
        "manometer", '[manometer] with unit = "mm", division = 1 and angle_accuracy'
    )
    roughness = None
    if "roughness" in pipe:
        roughness = read_quantity(pipe, "roughness", Length, "roughness", _ROUGHNESS)
    air = None
    if "air_density" in manometer:
        air = read_quantity(manometer, "air_density", Density, "air density", _DENSITY)
    water = _water(root)
    options: dict[str, Any] = {} if laws is None else _laws(laws)
    bench = Bench(
        bore=read_quantity(pipe, "bore", Length, "bore", _BORE),
        tap_spacing=read_quantity(pipe, "tap_spacing", Length, "tap spacing", _TAPS),
        meters=_meters(root.table("meters", _METER)),
        thermometer=_thermometer(
            root.table("thermometer", '[thermometer] with unit = "degC", division and accuracy')
        ),
        manometer=_manometer(manometer),
        angle_accuracy=read_statements(manometer, "angle_accuracy", "inclination"),
        gravity=_gravity(root.table_if_given("gravity", f"[gravity] with {_GRAVITY}")),
        air_density=air,
        water="pure" if water == "pure" else "tap",
        roughness=roughness,
        file=root.file,
        **options,
    )
    return bench


def _scale(table: TomlTable, unit_example: str, *, needs_span: bool = False) -> Scale:
    unit = table.text("unit", f'unit = "{unit_example}"')
    division = table.number("division", "the distance of two marks, such as division = 0.1")
    span: tuple[float, float] | None = None
    how = "span = [0.4, 4.0], lowest and highest reading"
    if needs_span or "span" in table:
        given = table.require("span", how)
        if not isinstance(given, list) or len(given) != 2:
            raise table.error(f"{described(given)}; expected {how}", "span")
        low, high = (table.checked_number(end, "span", how) for end in given)
        span = (low, high)
    kind = table.choice("kind", ("graduated", "digital"), "graduated")
    read_to = None
    if "read_to" in table:
        read_to = table.number("read_to", "the fraction of a division that is read, such as 0.5")
    try:
        parse_unit(unit)
    except FlowuncError as error:
        raise table.error(str(error), "unit") from None
    try:
        if kind == "digital":
            return Scale(division, unit, span, kind="digital", read_to=read_to)
        return Scale(division, unit, span, read_to=read_to)
    except FlowuncError as error:
        raise table.error(str(error)) from None


def _made(table: TomlTable, kind: type[I], scale: Scale, /, **options: Any) -> I:
    """Make an instrument; what it complains about is about its section."""
    try:
        return kind(scale, **options)
    except StatementError as error:
        raise table.error(str(error), "accuracy") from None
    except FlowuncError as error:
        raise table.error(str(error)) from None


def _meters(table: TomlTable) -> dict[str, VariableAreaMeter]:
    if not table.names():
        raise table.error(f"no meter; expected {_METER}")
    found = {}
    for name in table.names():
        section = table.table(name, _METER)
        section.allow_only((*_SCALE_KEYS, *_DENSITIES))
        for key, other in (_DENSITIES, _DENSITIES[::-1]):
            if key in section:
                section.require(other, f"both {key} and {other}, or neither")
        densities = {
            key: read_quantity(
                section,
                key,
                Density,
                f"{name} meter {key.replace('_', ' ')}",
                f"{key} = {_DENSITY}",
                needs_statement=False,
            )
            for key in _DENSITIES
            if key in section
        }
        found[name] = _made(
            section,
            VariableAreaMeter,
            _scale(section, "L/min", needs_span=True),
            accuracy=read_statements(section, "accuracy", "meter"),
            label=name if "meter" in name.casefold() else f"{name} meter",
            **densities,
        )
    return found


def _thermometer(table: TomlTable) -> Thermometer:
    table.allow_only((*_SCALE_KEYS, "correction"))
    correction: Quantity | None = None
    if "correction" in table:
        correction = read_quantity(
            table, "correction", Quantity, "thermometer correction", _CORRECTION
        )
    return _made(
        table,
        Thermometer,
        _scale(table, "degC"),
        accuracy=read_statements(table, "accuracy", "thermometer"),
        correction=correction,
    )


def _manometer(table: TomlTable) -> InclinedManometer:
    table.allow_only((*_SCALE_KEYS, "angle_accuracy", "air_density"))
    accuracy: tuple[Statement, ...] = ()
    if "accuracy" in table:
        accuracy = read_statements(table, "accuracy", "manometer scale")
    # the sheet says at which angle the board stood: Bench.angle
    upright = Angle(90, "deg")
    return _made(table, InclinedManometer, _scale(table, "mm"), angle=upright, accuracy=accuracy)


def _gravity(table: TomlTable | None) -> Acceleration | None:
    if table is None:
        return None
    if "value" in table:
        for name in ("latitude", "height"):
            if name in table:
                raise table.error(f"value and {name} together; expected either: {_GRAVITY}", name)
        return quantity_of(table, Acceleration, "gravity", _GRAVITY)
    table.allow_only(("latitude", "height", "value"))
    table.require("latitude", _GRAVITY)
    latitude = read_quantity(table, "latitude", Angle, "latitude", _LATITUDE, needs_statement=False)
    height = None
    if "height" in table:
        height = read_quantity(
            table, "height", Length, "height above sea level", _HEIGHT, needs_statement=False
        )
    try:
        return gravity(latitude, height)
    except FlowuncError as error:
        raise table.error(str(error)) from None


def _water(root: TomlTable) -> str:
    table = root.table_if_given("liquid", '[liquid] with water = "tap"')
    if table is None:
        return "tap"
    table.allow_only(("name", "water"))
    table.choice("name", ("water",), "water")
    return table.choice("water", ("tap", "pure"), "tap")


def _laws(table: TomlTable) -> dict[str, Any]:
    table.allow_only(("turbulent", "laminar_below", "turbulent_above"))
    options: dict[str, Any] = {}
    if "turbulent" in table:
        options["turbulent_law"] = table.choice("turbulent", tuple(LAWS), "prandtl_smooth")
    for name in ("laminar_below", "turbulent_above"):
        if name in table:
            options[name] = table.number(name, "a Reynolds number such as 2300")
    return options
