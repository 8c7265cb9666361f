"""Flow meters in a bench file: their data sheets, their densities, or a calibration.

A section ``[meters.NAME.calibration]`` has the points of a calibration, ``readings`` of the meter
and values of a ``reference`` with their uncertainty. The line through them takes the place of
``accuracy``.
"""

from __future__ import annotations

from typing import Any, TypeVar

from flowunc.analysis.meter_calibration import fit_calibration
from flowunc.bench.description.scale_table import INSTRUMENT_KEYS, made, read_accuracy, read_scale
from flowunc.bench.description.statement_table import read_quantity, read_statement, series_of
from flowunc.bench.description.toml_table import TomlTable, described
from flowunc.bench.nearest_name import nearest
from flowunc.core.kinds import Density, VolumeFlowRate
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement, limits
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.meter_calibration import CalibratedByLine

__all__ = ["DENSITY", "METER", "accuracy_or_calibration", "read_meters", "with_calibration"]

M = TypeVar("M", bound=CalibratedByLine[Any])

METER = '[meters.small] with unit = "L/min", division = 0.1, span = [0.4, 4.0] and accuracy'
DENSITY = 'a density such as "998.2 kg/m^3", or { value = "998.2 kg/m^3", limits = 0.5 }'
_DENSITIES = ("calibration_density", "float_density")
_TYPES = ("variable_area",)
_SECOND_PRESSURE = ("orifice", "orifice_plate", "venturi", "venturi_tube", "nozzle")
_CALIBRATION_KEYS = ("scatter", "drift", "density")
_CALIBRATION = (
    "calibration = { readings = [0.8, 2.0, 3.2], reference = [0.87, 2.05, 3.24], "
    'unit = "L/min", percent_of_reading = 0.3, shared = true }'
)


def read_meters(table: TomlTable) -> dict[str, VariableAreaMeter]:
    """Read the sections of all meters, by name."""
    if not table.names():
        raise table.error(f"no meter; expected {METER}")
    return {name: _meter(table.table(name, METER), name) for name in table.names()}


def _meter(section: TomlTable, name: str) -> VariableAreaMeter:
    _check_type(section)
    section.allow_only((*INSTRUMENT_KEYS, *_DENSITIES, "calibration", "type"))
    label = name if "meter" in name.casefold() else f"{name} meter"
    for key, other in (_DENSITIES, _DENSITIES[::-1]):
        if key in section:
            section.require(other, f"both {key} and {other}, or neither")
    densities = {
        key: read_quantity(
            section,
            key,
            Density,
            f"{name} meter {key.replace('_', ' ')}",
            f"{key} = {DENSITY}",
            needs_statement=False,
        )
        for key in _DENSITIES
        if key in section
    }
    meter = made(
        section,
        VariableAreaMeter,
        read_scale(section, "L/min", needs_span=True),
        accuracy=accuracy_or_calibration(section, "meter"),
        label=label,
        **densities,
    )
    return with_calibration(section, meter, VolumeFlowRate)


def _check_type(section: TomlTable) -> None:
    if "type" not in section:
        return
    given = section["type"]
    if isinstance(given, str) and nearest(given, _SECOND_PRESSURE):
        raise section.error(
            f"{described(given)}: such a meter needs a second pressure reading, for which a lab "
            "sheet has no column; expected variable_area, or a reading in a unit of volume flow",
            "type",
        )
    section.choice("type", _TYPES, "")


def accuracy_or_calibration(section: TomlTable, role: str) -> tuple[Statement, ...]:
    """Read the accuracy of the data sheet, which a calibration takes the place of."""
    if "calibration" not in section:
        return read_accuracy(section, role)
    if "accuracy" in section:
        raise section.error(
            f"accuracy and calibration together; the calibration replaces what the data sheet "
            f"says of the {role}: leave out accuracy",
            "accuracy",
        )
    return (limits(0),)


def with_calibration(section: TomlTable, meter: M, kind: type[Quantity]) -> M:
    """Return the meter going by the line through its calibration points, if it has any."""
    table = section.table_if_given("calibration", _CALIBRATION)
    if table is None:
        return meter
    readings = table.numbers("readings", f"what the meter showed: {_CALIBRATION}")
    reference = series_of(
        table,
        "reference",
        kind,
        f"{meter.label} calibration reference",
        _CALIBRATION,
        beside=("readings", *_CALIBRATION_KEYS),
    )
    options: dict[str, Any] = {
        "scatter": table.flag("scatter", True, "scatter = false weights by the stated errors"),
        "drift": read_statement(table, "drift"),
    }
    if "density" in table:
        options["density"] = read_quantity(
            table,
            "density",
            Density,
            f"{meter.label} density at its calibration",
            f"density = {DENSITY}",
            needs_statement=False,
        )
    return table.attempt(lambda: fit_calibration(meter, readings, reference, **options).meter)
