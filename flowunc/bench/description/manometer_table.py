"""The manometer in a bench file: ``type`` says which kind, and so which other keys there are.

================= ================================================================
inclined          two limbs on a board; ``angle_accuracy``, ``air_density``
well              one tube; ``area_ratio``, and ``angle`` where it stands fixed or
                  ``angle_accuracy`` where the sheet says the angle; ``gauge_density``
u_tube            ``gauge_density``
inverted_u_tube   ``top_density``
transmitter       ``temperature_effect``, ``reference_temperature``, ``temperature``,
                  ``calibration``
================= ================================================================

Where nothing is said it is ``inclined``. ``capillarity`` goes with all that have two columns, and
so does ``mirrored = true``: one column falls exactly as far as the other rises, so that both are
rounded together (`flowunc.instruments.columns`). `flowunc.consistency` sees it in a sheet.

``gauge_density = "mercury"``: mercury is toxic, follow your local rules and ask qualified staff.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from flowunc.bench.description.manometer_kinds import KINDS, Manometer
from flowunc.bench.description.meter_table import DENSITY, accuracy_or_calibration, with_calibration
from flowunc.bench.description.scale_table import INSTRUMENT_KEYS, made, read_accuracy, read_scale
from flowunc.bench.description.statement_table import (
    is_name,
    read_quantity,
    read_statement,
    read_statements,
)
from flowunc.bench.description.toml_table import TomlTable, described
from flowunc.core.kinds import Acceleration, Angle, Density, Length, Pressure, Ratio, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement, shared
from flowunc.fluids import gauge_liquids
from flowunc.instruments.capillarity import capillarity
from flowunc.instruments.gauge_liquid import UTubeManometer, WellManometer
from flowunc.instruments.inverted import InvertedUTubeManometer
from flowunc.instruments.manometer import InclinedManometer
from flowunc.instruments.transmitter import PressureTransmitter

__all__ = ["MANOMETER", "ManometerSection", "read_manometer"]

MANOMETER = '[manometer] with unit = "mm", division = 1 and angle_accuracy'
# beside those of any instrument
_KEYS = {
    "inclined": ("angle_accuracy", "air_density", "capillarity", "mirrored"),
    "well": ("area_ratio", "angle", "angle_accuracy", "air_density", "gauge_density"),
    "u_tube": ("gauge_density", "capillarity", "mirrored"),
    "inverted_u_tube": ("top_density", "capillarity", "mirrored"),
    "transmitter": ("temperature_effect", "reference_temperature", "temperature", "calibration"),
}
_GAUGE = 'gauge_density = { value = "1590 kg/m^3", limits = 5 }, or "mercury"'
_ANGLE = 'angle = { value = "30 deg", limits = 0.2 }'
_AREA = 'area_ratio = 0.02, or { value = "2 %", limits = 0.1 }'
_WARMTH = 'temperature = { value = "23 degC", limits = 3 }'
_WETTING = (
    'capillarity = { bore = "8 mm", surface_tension = "72.7 mN/m", density = "998.2 kg/m^3", '
    'contact_angles = ["0 deg", "40 deg"] }'
)
_WETTING_KEYS = ("bore", "surface_tension", "density", "contact_angles")


class ManometerSection(NamedTuple):
    """What a bench knows of its manometer."""

    manometer: Manometer
    angle_accuracy: tuple[Statement, ...] = ()
    air_density: Density | None = None
    gauge_density: Density | None = None
    transmitter_temperature: Temperature | None = None


def read_manometer(table: TomlTable, gravity: Acceleration | None = None) -> ManometerSection:
    """Read the section of the manometer; ``gravity`` is that of a capillary rise."""
    kind = table.choice("type", tuple(KINDS), "inclined")
    _allow_only(table, kind)
    if kind == "transmitter":
        return _transmitter(table)
    if kind == "well":
        return _well(table)
    if kind == "u_tube":
        return _u_tube(table, gravity)
    if kind == "inverted_u_tube":
        return _inverted(table, gravity)
    # the sheet says at which angle the board stood: Bench.angle
    manometer = made(
        table,
        InclinedManometer,
        read_scale(table, "mm"),
        Angle(90, "deg"),
        accuracy=read_accuracy(table, "manometer scale", needed=False),
        **_of_columns(table, gravity),
    )
    return ManometerSection(
        manometer,
        angle_accuracy=read_statements(table, "angle_accuracy", "inclination"),
        air_density=_density(table, "air_density", "air density"),
    )


def _allow_only(table: TomlTable, kind: str) -> None:
    """Refuse unknown keys; of those that go with another type say which."""
    own = ("type", *INSTRUMENT_KEYS, *_KEYS[kind])
    for name in table.names():
        others = [word for word, keys in _KEYS.items() if name in keys]
        if name not in own and others:
            raise table.error(
                f"has no use for {KINDS[kind].title}; it goes with type = {' or '.join(others)}; "
                f"expected {', '.join(_KEYS[kind])} beside what any instrument has",
                name,
            )
    table.allow_only(own)


def _well(table: TomlTable) -> ManometerSection:
    if "angle" in table and "angle_accuracy" in table:
        raise table.error(
            "angle and angle_accuracy together; expected angle for a tube that stands fixed, or "
            "angle_accuracy where the sheet says the angle",
            "angle",
        )
    angle = None
    if "angle" in table:
        angle = read_quantity(table, "angle", Angle, "manometer angle", _ANGLE)
    stated: tuple[Statement, ...] = ()
    if "angle_accuracy" in table:
        stated = read_statements(table, "angle_accuracy", "inclination")
    given = table.require("area_ratio", f"cross-section of the tube over that of the well: {_AREA}")
    ratio: float | Ratio
    if isinstance(given, dict):
        ratio = read_quantity(table, "area_ratio", Ratio, "manometer area ratio", _AREA)
    else:
        ratio = table.number("area_ratio", _AREA)
    scale = read_scale(table, "mm")
    accuracy = read_accuracy(table, "manometer scale", needed=False)
    made(table, WellManometer, scale, accuracy=accuracy, area_ratio=0.0)  # scale and accuracy fit
    manometer = table.attempt(
        lambda: WellManometer(scale, angle, accuracy, area_ratio=ratio),
        "area_ratio" if angle is None or 0 < angle.si.value < 1.6 else "angle",
    )
    return ManometerSection(
        manometer,
        angle_accuracy=stated,
        air_density=_density(table, "air_density", "air density"),
        gauge_density=_gauge_density(table) if "gauge_density" in table else None,
    )


def _u_tube(table: TomlTable, gravity: Acceleration | None) -> ManometerSection:
    manometer = made(
        table,
        UTubeManometer,
        read_scale(table, "mm"),
        _gauge_density(table),
        accuracy=read_accuracy(table, "manometer scale", needed=False),
        **_of_columns(table, gravity),
    )
    return ManometerSection(manometer)


def _inverted(table: TomlTable, gravity: Acceleration | None) -> ManometerSection:
    manometer = made(
        table,
        InvertedUTubeManometer,
        read_scale(table, "mm"),
        _density(table, "top_density", "manometer top density"),
        accuracy=read_accuracy(table, "manometer scale", needed=False),
        **_of_columns(table, gravity),
    )
    return ManometerSection(manometer)


def _transmitter(table: TomlTable) -> ManometerSection:
    scale = read_scale(table, "kPa")
    accuracy = accuracy_or_calibration(table, "transmitter")
    plain = made(table, PressureTransmitter, scale, accuracy=accuracy)
    warmth = {
        name: read_quantity(table, name, Temperature, label, _WARMTH, needs_statement=False)
        for name, label in (
            ("reference_temperature", "transmitter reference temperature"),
            ("temperature", "transmitter temperature"),
        )
        if name in table
    }
    if "temperature_effect" in table:
        effect = read_statements(table, "temperature_effect", "change per kelvin")
        plain = table.attempt(
            lambda: PressureTransmitter(
                scale,
                accuracy,
                temperature_effect=effect,
                reference_temperature=warmth.get("reference_temperature"),
            ),
            "temperature_effect",
        )
    elif "reference_temperature" in warmth:
        raise table.error("has no use without temperature_effect", "reference_temperature")
    return ManometerSection(
        with_calibration(table, plain, Pressure),
        transmitter_temperature=warmth.get("temperature"),
    )


def _density(table: TomlTable, name: str, label: str) -> Density | None:
    if name not in table:
        return None
    return read_quantity(table, name, Density, label, f"{name} = {DENSITY}")


def _gauge_density(table: TomlTable) -> Density:
    """Read the density of a gauge liquid, or look it up by its name."""
    given = table.require("gauge_density", _GAUGE)
    inner = table
    warmth = None
    if isinstance(given, dict) and "liquid" in given:
        inner = table.table("gauge_density", _GAUGE)
        inner.allow_only(("liquid", "temperature"))
        inner.require("liquid", _GAUGE)
        if "temperature" in inner:
            warmth = read_quantity(
                inner, "temperature", Temperature, "gauge liquid temperature", _WARMTH
            )
    elif not is_name(given):
        return read_quantity(table, "gauge_density", Density, "manometer gauge density", _GAUGE)
    key = "gauge_density" if inner is table else "liquid"
    liquid = gauge_liquids.table[inner.choice(key, tuple(gauge_liquids.table), "")]
    return inner.attempt(lambda: liquid.density(warmth), key if warmth is None else "temperature")


def _is_wetting(table: TomlTable) -> bool:
    given = table.get("capillarity")
    return isinstance(given, dict) and any(name in given for name in _WETTING_KEYS)


def _of_columns(table: TomlTable, gravity: Acceleration | None) -> dict[str, Any]:
    """Read what goes with any manometer of two columns."""
    options: dict[str, Any] = {**_capillarity(table, gravity)}
    if "mirrored" in table:
        how = "mirrored = true where one column falls as far as the other rises"
        options["mirrored"] = table.flag("mirrored", False, how)
    return options


def _capillarity(table: TomlTable, gravity: Acceleration | None) -> dict[str, Statement]:
    """Read what a meniscus may stand wrong: a statement, or what the wetting makes of it."""
    if not _is_wetting(table):
        stated = read_statement(table, "capillarity")
        return {} if stated is None else {"capillarity": stated}
    inner = table.table("capillarity", _WETTING)
    inner.allow_only((*_WETTING_KEYS, "shared"))
    angles = inner.require("contact_angles", _WETTING)
    if not isinstance(angles, list) or len(angles) != 2:
        raise inner.error(f"{described(angles)}; expected two: {_WETTING}", "contact_angles")
    between = [
        read_quantity(
            TomlTable({"contact_angles": angle}, inner.file, inner.path),
            "contact_angles",
            Angle,
            "contact angle",
            _WETTING,
            needs_statement=False,
        )
        for angle in angles
    ]
    values: dict[str, Any] = {
        name: read_quantity(
            inner, name, kind, name.replace("_", " "), _WETTING, needs_statement=False
        )
        for name, kind in (("bore", Length), ("surface_tension", Quantity), ("density", Density))
    }
    bore = values.pop("bore")
    made_of = inner.attempt(
        lambda: capillarity(bore, contact_angles=between, gravity=gravity, **values)
    )
    one = inner.flag("shared", False, "shared = true for one error behind all readings")
    return {"capillarity": shared(made_of) if one else made_of}
