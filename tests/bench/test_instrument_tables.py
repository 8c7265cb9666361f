"""What the sections of a bench file refuse, and the nearest valid key that they name.

Of the modules scale_table, meter_table, thermometer_table, manometer_table, pipe_table and
liquid_table; what their entries mean for the results is in test_pressure_reading.py.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import (
    BenchError,
    Length,
    Quantity,
    Temperature,
    Thermometer,
    gauge_liquids,
    limits,
    load_bench,
)
from flowunc.bench.description.flowing_liquid import Mixture

Write = Callable[..., Path]

BORE = 'bore = { value = "19.2 mm", limits = 0.06 }'
SMALL = "accuracy = { error_limit = 3.0, linearity_limit = 40 }"
THERMOMETER = "accuracy = { expanded = 0.24, k = 2 }"
MANOMETER = (
    'unit = "mm"\ndivision = 1\nspan = [0, 620]\nangle_accuracy = { limits = 0.3 }\n'
    'air_density = { value = "1.19 kg/m^3", limits = 0.03 }'
)
CELL = 'type = "transmitter"\nunit = "kPa"\ndivision = 0.01\nspan = [0, 10]\n'
FINE = "accuracy = { percent_of_full_scale = 0.25 }"
LINE = "readings = [1, 2, 3, 4], reference = [1.1, 2.1, 3.2, 4.1]"


def correction(text: str) -> tuple[str, str]:
    return THERMOMETER, f"{THERMOMETER}\ncorrection = {text}"


REFUSED = {
    # scale
    "vernier without its divisions": (
        (THERMOMETER, f'kind = "vernier"\n{THERMOMETER}'),
        "thermometer.vernier_divisions': missing; expected those of the vernier, such as",
    ),
    "divisions that are none": (
        (THERMOMETER, f'kind = "vernier"\nvernier_divisions = 2.5\n{THERMOMETER}'),
        "thermometer.vernier_divisions': got 2.5; expected a whole number",
    ),
    "divisions without a vernier": (
        (THERMOMETER, f"vernier_divisions = 20\n{THERMOMETER}"),
        "thermometer': Scale in 'degC': vernier_divisions 20 of a graduated scale",
    ),
    "parallax that grows": (
        (SMALL, f"{SMALL}\nparallax = {{ percent_of_reading = 1 }}"),
        "meters.small.parallax': Scale in 'L/min': parallax as percent of reading grows with",
    ),
    "zero error in mm": (
        (SMALL, f'{SMALL}\nzero_error = {{ limits = "1 mm" }}'),
        "meters.small.zero_error': limits in 'mm' on",
    ),
    "parralax": (
        (SMALL, f"{SMALL}\nparralax = {{ limits = 0.1 }}"),
        "meters.small.parralax': unknown key; did you mean 'parallax'?",
    ),
    # meters
    "orifice": (
        (SMALL, f'type = "orifice"\n{SMALL}'),
        "meters.small.type': got the text 'orifice': such a meter needs a second pressure reading",
    ),
    "another type": (
        (SMALL, f'type = "turbine"\n{SMALL}'),
        "meters.small.type': got the text 'turbine'; expected variable_area",
    ),
    "accuracy and calibration": (
        (SMALL, f'{SMALL}\ncalibration = {{ {LINE}, unit = "L/min", limits = 0.1 }}'),
        "meters.small.accuracy': accuracy and calibration together; the calibration replaces",
    ),
    "calibration by two points": (
        (
            SMALL,
            'calibration = { readings = [1, 2], reference = [1, 2], unit = "L/min", limits = 0.1 }',
        ),
        "meters.small.calibration': calibration of small meter: 2 points leave no scatter",
    ),
    "calibration in mm": (
        (SMALL, f'calibration = {{ {LINE}, unit = "mm", limits = 0.1 }}'),
        "meters.small.calibration': VolumeFlowRate in 'mm'",
    ),
    "calibration off the scale": (
        (
            SMALL,
            'calibration = { readings = [1, 2, 5], reference = [1, 2, 5], unit = "L/min", '
            "limits = 0.1 }",
        ),
        "meters.small.calibration': small meter, reading 2: 5 L/min lies off the scale",
    ),
    "no reference": (
        (SMALL, 'calibration = { readings = [1, 2, 3], unit = "L/min", limits = 0.1 }'),
        "meters.small.calibration.reference': missing; expected calibration = { readings",
    ),
    "misspelt in a calibration": (
        (SMALL, f'calibration = {{ {LINE}, unit = "L/min", limits = 0.1, drfit = 1 }}'),
        "meters.small.calibration.drfit': unknown key; did you mean 'drift'?",
    ),
    "density without use": (
        (SMALL, f'calibration = {{ {LINE}, unit = "L/min", limits = 1, density = "998 kg/m^3" }}'),
        "meters.small.calibration': small meter: a density for a meter that does not know its own",
    ),
    "scatter as a number": (
        (SMALL, f'calibration = {{ {LINE}, unit = "L/min", limits = 0.1, scatter = 0.1 }}'),
        "meters.small.calibration.scatter': got 0.1; expected true or false",
    ),
    # thermometer
    "correction of another kind": (
        correction('{ value = "-0.3 mm", limits = 0.1 }'),
        "thermometer.correction': Thermometer(correction=...): got Quantity in 'mm'; expected a",
    ),
    "misspelt correction": (
        correction('{ valeu = "-0.3 K", limits = 0.1 }'),
        "thermometer.correction.valeu': unknown key; did you mean 'value'?",
    ),
    "misspelt points": (
        correction("{ piont = [0, 20], limits = 0.1 }"),
        "thermometer.correction.piont': unknown key; did you mean 'points'?",
    ),
    "corrections without points": (
        correction('{ corrections = [0, 0.1], unit = "K", limits = 0.1 }'),
        "thermometer.correction.points': missing; expected readings at which it was calibrated",
    ),
    "one correction too few": (
        correction('{ points = [0, 20], corrections = [0.1], unit = "K", limits = 0.1 }'),
        "thermometer.correction': CorrectionTable: 1 corrections for 2 points",
    ),
    "falling points": (
        correction('{ points = [20, 0], corrections = [0.1, 0], unit = "K", limits = 0.1 }'),
        "thermometer.correction': CorrectionTable(points=...): 0 follows 20 degC",
    ),
    "corrections in degC": (
        correction('{ points = [0, 20], corrections = [0.1, 0], unit = "degC", limits = 0.1 }'),
        "thermometer.correction': ",
    ),
    "corrections and errors": (
        correction('{ points = [0, 9], corrections = [1, 0], errors = [1, 0], unit = "K" }'),
        "thermometer.correction.errors': corrections and errors together; expected either",
    ),
    "second of a list": (
        correction('[{ value = "1 K", limits = 0 }, { valu = "1 K", limits = 0 }]'),
        "thermometer.correction[1].valu': unknown key; did you mean 'value'?",
    ),
    "a number in a list": (
        correction('[{ value = "1 K", limits = 0 }, 3]'),
        "thermometer.correction[1]': got 3; expected a table",
    ),
    "stem without a column": (
        correction('{ stem_temperature = { value = "25 degC", limits = 3 } }'),
        "thermometer.correction': EmergentStem: got neither; expected emergent=",
    ),
    "filling": (
        correction(
            '{ stem_temperature = { value = "25 degC", limits = 3 }, surface = "15 degC", '
            'filling = "organc" }'
        ),
        "thermometer.correction.filling': got the text 'organc'; did you mean 'organic'?",
    ),
    "misspelt stem": (
        correction('{ stem_temperature = { value = "25 degC", limits = 3 }, emergnt = "15 degC" }'),
        "thermometer.correction.emergnt': unknown key; did you mean 'emergent'?",
    ),
    "class of a length": (
        (SMALL, 'accuracy = { iec_60751 = "A" }'),
        "meters.small.accuracy': class A [IEC 60751] on small meter in 'L/min'; expected a temper",
    ),
    # manometer
    "misspelt key": (
        (MANOMETER, MANOMETER.replace("angle_accuracy", "angel_accuracy")),
        "manometer.angel_accuracy': unknown key; did you mean 'angle_accuracy'?",
    ),
    "unknown type": (
        (MANOMETER, 'type = "utube"'),
        "manometer.type': got the text 'utube'; did you mean 'u_tube'? expected inclined, well, ",
    ),
    "key of another type": (
        (MANOMETER, MANOMETER + '\ngauge_density = "mercury"'),
        "manometer.gauge_density': has no use for an inclined manometer of two limbs; it goes with "
        "type = well or u_tube; expected angle_accuracy, air_density, capillarity, "
        "mirrored beside",
    ),
    "air above an inverted U-tube": (
        (MANOMETER, f'type = "inverted_u_tube"\n{MANOMETER.replace("angle_accuracy", "accuracy")}'),
        "manometer.air_density': has no use for an inverted U-tube; it goes with type = inclined "
        "or well; expected top_density, capillarity, mirrored beside",
    ),
    "U-tube without gauge liquid": (
        (MANOMETER, 'type = "u_tube"\nunit = "mm"\ndivision = 1'),
        "manometer.gauge_density': missing; expected gauge_density = {",
    ),
    "unknown gauge liquid": (
        (MANOMETER, 'type = "u_tube"\nunit = "mm"\ndivision = 1\ngauge_density = "mercry"'),
        "manometer.gauge_density': got the text 'mercry'; did you mean 'mercury'? expected merc",
    ),
    "gauge liquid too hot": (
        (
            MANOMETER,
            'type = "u_tube"\nunit = "mm"\ndivision = 1\ngauge_density = '
            '{ liquid = "ethanol", temperature = { value = "400 degC", limits = 1 } }',
        ),
        "manometer.gauge_density.temperature': gauge_liquids.ethanol.density(temperature=...): 400",
    ),
    "U-tube in kPa": (
        (MANOMETER, 'type = "u_tube"\nunit = "kPa"\ndivision = 1\ngauge_density = "mercury"'),
        "manometer': manometer: scale in 'kPa'; expected a unit of",
    ),
    "well without ratio": (
        (MANOMETER, 'type = "well"\nunit = "mm"\ndivision = 1'),
        "manometer.area_ratio': missing; expected cross-section of the tube over that of the well",
    ),
    "ratio too large": (
        (MANOMETER, 'type = "well"\nunit = "mm"\ndivision = 1\narea_ratio = 2'),
        "manometer.area_ratio': manometer: area ratio 2; expected tube over well",
    ),
    "two angles": (
        (MANOMETER, f'type = "well"\n{MANOMETER}\narea_ratio = 0\nangle = "30 deg"'),
        "manometer.angle': angle and angle_accuracy together; expected angle for a tube that",
    ),
    "angle too steep": (
        (
            MANOMETER,
            'type = "well"\nunit = "mm"\ndivision = 1\narea_ratio = 0\n'
            'angle = { value = "120 deg", limits = 1 }',
        ),
        "manometer.angle': manometer angle: 120 deg; expected the inclination to the horizontal",
    ),
    "transmitter in mm": (
        (MANOMETER, CELL.replace("kPa", "mm") + "accuracy = { limits = 1 }"),
        "manometer': pressure transmitter: scale in 'mm'; expected a unit of",
    ),
    "transmitter without accuracy": (
        (MANOMETER, CELL),
        "manometer.accuracy': missing; expected what is stated of the transmitter",
    ),
    "effect without temperature": (
        (MANOMETER, f"{CELL}{FINE}\ntemperature_effect = {{ percent_of_full_scale = 0.02 }}"),
        "manometer.temperature': missing; its temperature effect needs the temperature of",
    ),
    "effect in K": (
        (MANOMETER, f'{CELL}{FINE}\ntemperature_effect = {{ limits = "1 K" }}'),
        "manometer.temperature_effect': limits in 'K' on pressure transmitter",
    ),
    "reference without effect": (
        (MANOMETER, f'{CELL}{FINE}\nreference_temperature = "20 degC"'),
        "manometer.reference_temperature': has no use without temperature_effect",
    ),
    "capillarity of a transmitter": (
        (MANOMETER, f"{CELL}{FINE}\ncapillarity = {{ limits = 0.1 }}"),
        "manometer.capillarity': has no use for a pressure transmitter; it goes with",
    ),
    "wetting between one angle": (
        (
            MANOMETER,
            f'{MANOMETER}\ncapillarity = {{ bore = "8 mm", surface_tension = "72 mN/m", '
            'density = "998 kg/m^3", contact_angles = ["0 deg"] }',
        ),
        "manometer.capillarity.contact_angles': got a list of 1; expected two",
    ),
    "wetting in mm": (
        (
            MANOMETER,
            f'{MANOMETER}\ncapillarity = {{ bore = "8 mm", surface_tension = "72 mm", '
            'density = "998 kg/m^3", contact_angles = ["0 deg", "40 deg"] }',
        ),
        "manometer.capillarity': capillarity(surface_tension=...): got",
    ),
    "misspelt wetting": (
        (MANOMETER, f'{MANOMETER}\ncapillarity = {{ bore = "8 mm", surface_tensoin = "72 mN/m" }}'),
        "manometer.capillarity.surface_tensoin': unknown key; did you mean 'surface_tension'?",
    ),
    # pipe
    "diameters without a caliper": (
        (BORE, "bore = { diameters = [19.1, 19.2] }"),
        "pipe.bore.caliper': missing; expected caliper = {",
    ),
    "one diameter": (
        (
            BORE,
            'bore = { diameters = [19.1], caliper = { unit = "mm", division = 0.1, '
            "accuracy = { limits = 0.1 } } }",
        ),
        "pipe.bore.diameters': caliper, diameters: one reading cannot show scatter",
    ),
    "lists and numbers": (
        (BORE, 'bore = { diameters = [[19.1, 19.2], 19.2], caliper = { unit = "mm" } }'),
        "pipe.bore.diameters': lists and numbers together",
    ),
    "diameter as text": (
        (BORE, 'bore = { diameters = ["19.1 mm"], caliper = { unit = "mm" } }'),
        "pipe.bore.diameters': got the text '19.1 mm'; expected a number",
    ),
    "misspelt caliper": (
        (BORE, 'bore = { diameters = [19.1, 19.2], calliper = { unit = "mm" } }'),
        "pipe.bore.calliper': unknown key; did you mean 'caliper'?",
    ),
    "key of a caliper": (
        (BORE, 'bore = { diameters = [19.1, 19.2], caliper = { unit = "mm", acuracy = 1 } }'),
        "pipe.bore.caliper.acuracy': unknown key; did you mean 'accuracy'?",
    ),
    "water mass without length": (
        (BORE, 'bore = { water_mass = { value = "426 g", limits = 1 } }'),
        "pipe.bore.length': missing; expected bore = {",
    ),
    "water as a length": (
        (BORE, 'bore = { water_mass = { value = "426 mm", limits = 1 } }'),
        "pipe.bore.water_mass': Mass in 'mm'",
    ),
    "density and temperature": (
        (
            BORE,
            'bore = { water_mass = { value = "426 g", limits = 1 }, length = { value = "1 m", '
            'limits = 0 }, density = { value = "998 kg/m^3", limits = 1 }, temperature = "20 degC" '
            "}",
        ),
        "pipe.bore.temperature': density and temperature together; expected either",
    ),
    "unknown material": (
        (BORE, f'{BORE}\nroughness = "drawn tubbing"'),
        "pipe.roughness': roughness_of('drawn tubbing'): not in the table; did you mean 'drawn tub",
    ),
    "roughness without an uncertainty": (
        (BORE, f'{BORE}\nroughness = "0.01 mm"'),
        "pipe.roughness': got the text '0.01 mm' without an uncertainty; expected roughness = {",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_name_file_and_key(case: str, write_bench: Write) -> None:
    replacement, expected = REFUSED[case]
    path = write_bench(replacement)
    with pytest.raises(BenchError) as caught:
        load_bench(path)
    assert str(caught.value).startswith(f"{path}, key '{expected}")


TABLE = (
    'temperature = { values = [10, 20, 30], unit = "degC" }\n'
    'density = { values = [871, 864, 857], unit = "kg/m^3", limits = 2, shared = true }\n'
    'viscosity = { values = [61, 37, 24], unit = "mPa*s", percent_of_reading = 2 }\n'
)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('name = "sea_water"', "liquid.name': got the text 'sea_water'; did you mean 'seawater'?"),
        ('name = "seawater"', "liquid.salinity': missing; expected salinity = { value"),
        ('name = "seawater"\nsalinity = "35 g/kg"', "liquid.salinity': got the text '35 g/kg' wi"),
        (
            'name = "seawater"\nsalinity = { value = "35 %", limits = 1 }',
            "liquid.salinity': seawater.density(salinity=...): 350 g/kg; expected 0 to 42 g/kg",
        ),
        (
            'name = "seawater"\nsalinty = { value = "35 g/kg", limits = 1 }',
            "liquid.salinty': unknown key; did you mean 'salinity'?",
        ),
        (
            'salinity = { value = "35 g/kg", limits = 1 }',
            'liquid.salinity\': salinity of water; expected name = "seawater" beside it',
        ),
        ('name = "seawater"\nwater = "pure"', "liquid.water': unknown key; expected name and"),
        ('name = "table"', "liquid.temperature': missing; expected temperature = { values"),
        (
            'name = "table"\n' + TABLE.replace("[871, 864, 857]", "[871, 864]"),
            "liquid': TabulatedLiquid(density=...): 2 entries for 3 temperatures",
        ),
        (
            'name = "table"\n' + TABLE.replace("mPa*s", "K"),
            "liquid.viscosity': DynamicViscosity in 'K'",
        ),
        (
            'name = "table"\n' + TABLE.replace("density", "densty", 1),
            "liquid.densty': unknown key; did you mean 'density'?",
        ),
    ],
)
def test_refusals_of_a_liquid(text: str, expected: str, write_bench: Write) -> None:
    path = write_bench(more=f"\n[liquid]\n{text}\n")
    with pytest.raises(BenchError) as caught:
        load_bench(path)
    assert str(caught.value).startswith(f"{path}, key '{expected}")


def test_liquids(write_bench: Write) -> None:
    glycerol = 'name = "glycerol_water"\nglycerol = { value = "60 %", limits = 0.5 }'
    bench = load_bench(write_bench(more=f"\n[liquid]\n{glycerol}\n"))
    assert isinstance(bench.liquid, Mixture)
    # 10.8 mPa s at 20 degC and 60 % [Segur 1951], 5 % either way
    found = bench.viscosity(Temperature(20, "degC"))
    assert found.to("mPa*s").value == pytest.approx(10.8, rel=0.05)
    kinematic = TABLE.replace("mPa*s", "mm^2/s")
    bench = load_bench(write_bench(more=f'\n[liquid]\nname = "table"\n{kinematic}'))
    nu = bench.viscosity(Temperature(20, "degC")) / bench.density(Temperature(20, "degC"))
    assert nu.to("mm^2/s").value == pytest.approx(37, rel=1e-9)


def test_scale_of_a_bench_file_has_all_of_a_scale(write_bench: Write) -> None:
    more = "parallax = { limits = 0.02, shared = true }\nzero_error = { limits = 0.01 }"
    scale = load_bench(write_bench((SMALL, f"{SMALL}\n{more}"))).meters["small"].scale
    assert scale.parallax is not None
    assert not scale.parallax.per_reading
    assert scale.zero_error == limits(0.01)


def test_three_corrections_add_up(write_bench: Write) -> None:
    text = (
        '[{ value = "-0.1 K", limits = 0 }, { value = "0.5 K", limits = 0 }, '
        '{ points = [0, 40], errors = [0.2, 0.2], unit = "K", limits = 0 }]'
    )
    thermometer = load_bench(write_bench(correction(text))).thermometer
    assert thermometer.read(20.0).value == pytest.approx(20.0 - 0.1 + 0.5 - 0.2, rel=1e-12)


def test_stem_from_the_mark_at_the_surface(write_bench: Write) -> None:
    text = (
        '{ stem_temperature = { value = "20 degC", limits = 0 }, surface = "5 degC", '
        'coefficient = { value = "0.001 1/K", limits = 0 } }'
    )
    thermometer: Thermometer = load_bench(write_bench(correction(text))).thermometer
    assert thermometer.read(30.0).value == pytest.approx(30 + 0.001 * 25 * 10, rel=1e-12)


def test_gauge_liquid_at_its_temperature(write_bench: Write) -> None:
    keys = (
        'type = "u_tube"\nunit = "mm"\ndivision = 1\ngauge_density = '
        '{ liquid = "mercury", temperature = { value = "30 degC", limits = 1 } }'
    )
    found = load_bench(write_bench((MANOMETER, keys))).manometer.gauge_density  # type: ignore[union-attr]
    expected = gauge_liquids.mercury.density(Temperature(30, "degC", limits(1)))
    assert (found.value, found.u) == (expected.value, pytest.approx(expected.u, rel=1e-12))


def test_transmitter_by_its_calibration(write_bench: Write) -> None:
    line = (
        'calibration = { readings = [0, 4, 8], reference = [0.1, 4.18, 8.26], unit = "kPa", '
        "limits = 0.01, shared = true, scatter = false }"
    )
    bench = load_bench(write_bench((MANOMETER, CELL + line)))
    found = bench.manometer.pressure_drop(reading=5.0, zero=0.0)  # type: ignore[call-arg,union-attr]
    assert found.to("kPa").value == pytest.approx(1.02 * 5, rel=1e-9)


def test_bore_by_water_of_known_temperature(write_bench: Write) -> None:
    weighed = (
        'bore = { water_mass = { value = "724.0 g", limits = 0 }, length = { value = "2.5 m", '
        'limits = 0 }, temperature = { value = "20 degC", limits = 0 }, water = "pure" }'
    )
    bore = load_bench(write_bench((BORE, weighed))).bore
    # 0.7240 kg times 1.00105 for the air [ISO 4185]; water of 998.2067 kg/m^3 [IAPWS SR6-08]
    expected = Length(1e3 * (4 * 0.7240 * 1.001053 / (3.14159265 * 998.2067 * 2.5)) ** 0.5, "mm")
    assert bore.value == pytest.approx(expected.value, rel=1e-6)
    assert (bore.unit, bore.label) == ("mm", "bore")
    assert isinstance(bore, Quantity)
