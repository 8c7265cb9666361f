"""Where a search begins: sound inputs of each target, and the words of its grammar."""

from __future__ import annotations

import json

import numpy as np
from fuzz_targets import EXAMPLE, TESTS

from flowunc import (
    Length,
    Quantity,
    Ratio,
    Temperature,
    analyse,
    arcsine,
    concatenate,
    expanded,
    exponential,
    limits,
    load_bench,
    read_sheet,
    repeated,
    shared,
    standard,
    to_json,
    trapezoidal,
    triangular,
    water,
)
from flowunc.bench.description.statement_table import STATEMENT_KEYS
from flowunc.core.distributions import Distribution
from flowunc.core.exchange.known_operations import known_operations
from flowunc.core.unit_table import OFFSET_UNITS, UNITS

NUMBERS = [
    "0", "-0.0", "1", "-1", "2", "7", "0.5", "1.5", "1e5", "1e-5", "1e308", "-1e308", "1e309",
    "5e-324", "1e-308", "1e400", "9" * 25, "9" * 420, "0x10", "1_0", "1,5", "16,00", "1.5.2", "+",
    ".", "nan", "inf", "-inf", "NaN", "Infinity", "\uff11", "٣", "−1", "4294967296", "65536",
    "18446744073709551616", "20.4", "352.5", "90", "91", "2300",
]  # fmt: skip
_HOSTILE = [
    "", " ", "\0", "\t", "\r", "\n", "\r\n", "\x0b", "\x0c", "\x1b[31m", "\x1c", "\x7f", "\x85",
    "\u00a0", "\u0130", "\u017f", "\u2028", "\u202e", "\ufeff", "\ud800", "\U0001f600", "é",
    "e\u0301",
    "x" * 70, "x" * 1_001, "%s", "{0}", "\\", "'", '"', '""', '"""', "=cmd()", "<b>",
]  # fmt: skip
_SHEET = [
    "run", "meter", "flow", "temperature", "angle", "high", "low", "reading", "note", "zero",
    "small", "large", "oil", "a", "b", " [degC]", " [degF]", " [K]", " [mm]", " [in]", " [deg]",
    " [rad]", " [Pa]", " [kPa]", " [L/min]", " [m^3/s]", "[", "]", ",", ";", ",,", ",,,,",
    "\nzero,,,20.4,8,352.5,352.0,\n", "dye thread steady", "dye mixed",
]  # fmt: skip
_TOML = [
    "[", "]", "[[", "]]", "{", "}", "=", ".", ",", "#", "true", "false", "[]", "{}", "1979-05-27",
    "[pipe]", "[pipe.bore]", "[meters.small]", "[thermometer]", "[manometer]", "[gravity]",
    "[liquid]", "[laws]", "value", "values", "unit", "uncertainty", "division", "span", "read_to",
    "kind", "type", '"digital"', '"vernier"', '"u_tube"', '"inclined"', '"transmitter"', '"well"',
    '"inverted"', '"variable_area"', '"5 %"', '"5 mm"', '"16,00 mm"', '"5"', '"degF"', '"mm"',
    '"kPa"', '"L/min"', '"table"', '"tap"', '"pure"', "{ limits = 0.05 }", "{ limits = 0 }",
    '{ value = "1 mm", limits = 2 }', "{ repeated = [1, 2, 3] }", "shared = true", "a.b = 1\n",
    "{ expanded = 0.2, k = 2 }", *(f"{key} = " for key in STATEMENT_KEYS),
]  # fmt: skip
_JSON = [
    "{", "}", "[", "]", ":", ",", "null", "true", "false", "[]", "{}", '"inf"', '"A"', '"B"',
    '"shared"', '"each"', '"take"', '"total"', '"input"', '"concatenate"', '"piecewise_cubic"',
    '"terms"', '"slope"', '"value"', '"inputs"', '"index"', '{"start": 0, "stop": 2}',
    '"quantity"', '"list"', '"mapping"', '"Temperature"', '"Ratio"', '"degC"', '"1/2"', '"1/0"',
    '{"dimension": ["1", "0", "0", "0", "0", "0", "1/3"]}', "\\u0000", "\\ud800",
    '"pool"', "[0, 0]", "[1, 1]",
]  # fmt: skip
_UNIT = [
    "/", "*", "^", "**", "(", ")", "·", "⋅", "²", "⁻¹", "⁰", "1", "^2", "^-1", "^(1/2)", "^0.5",
    "^20", "^(1/1000)", "°C", "°F", "°", "µ", "μ", "Ω", "US gal", "imp gal", "_", "s^-1",
]  # fmt: skip


def words(target: str) -> list[str]:
    """Return what is put into the inputs of a target."""
    units = [*UNITS, *OFFSET_UNITS]
    own = {
        "sheet": _SHEET,
        "report": _SHEET,
        "bench": [*_TOML, *(f'"1 {name}"' for name in units[::9])],
        "amount": [*_UNIT, *units, " ", "\t", ",", "."],
        "unit": [*_UNIT, *units],
        "document": [
            *_JSON,
            *(f'"{name}"' for name in known_operations()),
            *(f'"{law.__name__}"' for law in Distribution.__subclasses__()),
        ],
    }[target]
    return [*own, *NUMBERS, *_HOSTILE]


def seeds(target: str) -> list[bytes]:
    """Return sound inputs of a target."""
    data = TESTS / "bench" / "data"
    if target == "report":
        return [(EXAMPLE / "sheet.csv").read_bytes()]
    if target == "sheet":
        return [path.read_bytes() for path in (EXAMPLE / "sheet.csv", *sorted(data.glob("*.csv")))]
    if target == "bench":
        files = [EXAMPLE / "bench.toml", *sorted(data.glob("*.toml"))]
        return [path.read_bytes() for path in files]
    if target == "amount":
        return [
            text.encode() for text in ("19.05 mm", "-2.5e-3 kg/(m*s)", ".5 %", "20 °C", "1 1/s")
        ]
    if target == "unit":
        return [
            text.encode() for text in ("kg/(m*s)", "m²", "US gal/min", "m^(1/2)", "°C", "1", "µm")
        ]
    return [text.encode("ascii") for text in _documents()]


def _documents() -> list[str]:
    x = Length([1.0, 1.5, 2.0], "mm", standard(0.1, dof=4), shared(limits(0.2)), label="x")
    y = Ratio(3.0, "1", triangular(0.5), arcsine(0.1), exponential(0.1), trapezoidal(0.2, 0.5))
    z = Length([2.0, 3.0], "m", limits([0.1, 0.2]), repeated([2.0, 2.1, 1.9]))
    inexact = Length(1.0, "m", limits(0.1, inexact=0.02), expanded(0.1, level=0.95, dof=7))
    warm = Temperature([20.0, 21.0], "degC", standard(0.1))
    data = TESTS / "bench" / "data"
    corrected, oil = load_bench(data / "u_tube.toml"), load_bench(data / "transmitter.toml")
    example = load_bench(EXAMPLE / "bench.toml")
    runs = analyse(read_sheet(EXAMPLE / "sheet.csv", example), example)
    found: list[Quantity | list[Quantity] | dict[str, Quantity]] = [
        x,
        [x, x[1], x[[0, 0, 2]], x[1:], x.mean(), concatenate(x, z)],
        {"a": np.sqrt(x * x) / (y * x.mean()), "b": np.exp(-y) ** 2, "y": y},
        [z, inexact, water.density(warm), water.viscosity(warm) * 2.0],
        [corrected.meters["small"].read([3.0, 5.0]), corrected.thermometer.read([19.5, 20.1])],
        [corrected.bore, oil.density(warm), oil.viscosity(warm)],
        runs.friction[[7, 8]],
    ]
    return [_with_plain_keys(to_json(each)) for each in found]


def _with_plain_keys(text: str) -> str:
    """Put numbers in place of random keys, so that a search begins the same every time."""
    whole = json.loads(text)
    for name in ("components", "pools"):
        for place, entry in enumerate(whole[name]):
            if not entry["key"].startswith("flowunc."):
                entry["key"] = f"{name} {place}"
    return json.dumps(whole, separators=(",", ":"))
