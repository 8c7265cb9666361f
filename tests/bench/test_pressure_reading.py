"""Benches with other manometers, from their files to f, against the same by hand.

The law of propagation comes from `uncertainties`, the arithmetic from NumPy; all that a data sheet
would say is typed again from the bench files of these tests. Properties of the liquids are taken
as plain numbers from `flowunc.fluids`, where they are tested.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import uncertainties
from iapws._iapws import _Liquid
from uncertainties import ufloat, umath

from flowunc import (
    Angle,
    BenchError,
    Length,
    Ratio,
    Runs,
    SheetError,
    Temperature,
    analyse,
    load_bench,
    read_sheet,
)
from flowunc import gravity as local_gravity
from flowunc.fluids import seawater

Write = Callable[..., Path]

DATA = Path(__file__).parent / "data"
ROOT3 = math.sqrt(3.0)


def rectangular(value: float, half_width: float) -> Any:
    return ufloat(value, half_width / ROOT3)


def analysed(name: str) -> Runs:
    bench = load_bench(DATA / f"{name}.toml")
    return analyse(read_sheet(DATA / f"{name}.csv", bench), bench)


# -- U-tube ----------------------------------------------------------------------------------------
sea_density = uncertainties.wrap(
    lambda kelvin, salt: float(seawater.density(Temperature(kelvin, "K"), Ratio(salt, "1")).value)
)
sea_viscosity = uncertainties.wrap(
    lambda kelvin, salt: float(seawater.viscosity(Temperature(kelvin, "K"), Ratio(salt, "1")).value)
)


def u_tube_by_hand() -> list[dict[str, Any]]:
    sections = np.sqrt(np.mean(np.square([[20.00, 20.10], [20.05, 20.15], [19.95, 20.05]]), axis=1))
    bore = 1e-3 * (
        rectangular(math.sqrt(np.mean(sections**2)), 1 / 20 / 2)
        + rectangular(0, 0.05)
        + rectangular(0, 0.02)
        + ufloat(0, float(np.std(sections, ddof=1)) / ROOT3)
    )
    taps, g = rectangular(1.600, 1.5e-3), rectangular(9.8110, 0.0005)
    salt = rectangular(0.035, 0.0005)
    gauge = rectangular(1590, 3)
    # correlations of seawater: 0.005 % and 1.5 % either way; of water 1e-6 and 1 % (k = 2)
    rho_factor = ufloat(1, 1e-6) + rectangular(0, 5e-5)
    mu_factor = ufloat(1, 5e-3) * rectangular(1, 0.015)
    class_a, constant, common = rectangular(0, 1), ufloat(0, 0.02), ufloat(0, 0.06 / 2)
    own = [rectangular(0, 0.02) for _ in range(4)]
    between = rectangular(0, 0.01)

    def temperature(reading: float, below: int) -> Any:
        points, corrections = [0, 10, 20, 30], [0.02, 0.05, -0.05, -0.08]
        tolerance = 0.15 + 0.002 * reading  # [IEC 60751]
        read = rectangular(reading, 0.05) + tolerance * class_a
        share = (read - points[below]) / 10
        left, right = (corrections[i] + own[i] for i in (below, below + 1))
        return read - 0.10 + constant + (1 - share) * left + share * right + common + between

    def columns() -> Any:
        # read to half a millimetre, parallax 0.3 mm, and a meniscus between 20 and 60 deg
        spread = 2 * 0.040 / (565 * 9.811 * 8e-3) * (math.cos(math.pi / 9) - math.cos(math.pi / 3))
        return rectangular(0, 0.25) + rectangular(0, 0.3) + rectangular(0, 1e3 * spread)

    scale = rectangular(0, 0.001)  # 0.1 % of a reading
    zero = sum(columns() - columns() for _ in range(2)) / 2 + rectangular(0.75, 0.25)
    zero += scale * 0.75
    results = []
    for reading, below, flow, high, low in (
        (19.4, 1, small_flow(9.0), 378.5, 322.0),
        (19.8, 1, None, 494.0, 205.5),
    ):
        kelvin = temperature(reading, below) + 273.15
        rho, mu = sea_density(kelvin, salt) * rho_factor, sea_viscosity(kelvin, salt) * mu_factor
        q = large_flow(24.0, rho) if flow is None else flow
        v = q / 60e3 / (math.pi / 4 * bore**2)
        length = high - low + columns() - columns() + scale * (high - low) - zero
        dp = 1e-3 * length * (gauge - rho) * g
        results.append(
            {
                "temperature": kelvin - 273.15,
                "flow": q,
                "pressure_drop": dp,
                "reynolds": rho * v * bore / mu,
                "friction": 2 * bore * dp / (rho * taps * v**2),
            }
        )
    return results


def small_flow(reading: float) -> Any:
    """Least squares as in [JCGM 100, H.3], with the scatter of one more reading."""
    x = np.array([2.0, 4.0, 6.0, 8.0, 10.0, 11.0])
    y = np.array([2.18, 4.12, 6.20, 8.31, 10.22, 11.33])
    slope, intercept = np.polyfit(x, y, 1)
    s = math.sqrt(np.sum((y - intercept - slope * x) ** 2) / (len(x) - 2))
    away = (reading - x.mean()) ** 2 / np.sum((x - x.mean()) ** 2)
    flow = intercept + slope * reading
    fitted = ufloat(flow, s * math.sqrt(1 / len(x) + away))
    # the scatter contains the resolution, 0.1 L/min at most, which is not counted twice
    single = max(s, slope * 0.1 / ROOT3)
    drift = slope * rectangular(0, 0.05)  # of the reading
    return fitted + ufloat(0, single) + rectangular(0, 0.003 * flow) + drift


def large_flow(reading: float, rho: Any) -> Any:
    # error limit 2.5 % of 25 L/min below half of 50 L/min, division 1 L/min
    shown = rectangular(reading, 0.5) + rectangular(0, 0.025 * 25)
    steel = rectangular(7900, 50)
    return shown * umath.sqrt((steel - rho) / (steel - 998.2) * 998.2 / rho)  # [VDI/VDE 3513-1]


@pytest.fixture(scope="module")
def u_tube() -> Runs:
    return analysed("u_tube")


@pytest.mark.parametrize("of", ["temperature", "flow", "pressure_drop", "reynolds", "friction"])
def test_u_tube_by_hand(of: str, u_tube: Runs) -> None:
    expected = [run[of] for run in u_tube_by_hand()]
    found = u_tube.result(of)
    assert found.value == pytest.approx([item.n for item in expected], rel=1e-9)
    assert found.u == pytest.approx([item.s for item in expected], rel=1e-6)
    shared = uncertainties.covariance_matrix(expected)[0][1]
    matrix = np.asarray(found.covariance(found))
    tolerance = 1e-6 * math.sqrt(matrix[0, 0] * matrix[1, 1])
    assert matrix[0, 1] == pytest.approx(shared, abs=tolerance)


def test_u_tube_is_held_against_the_law_of_its_wall(u_tube: Runs) -> None:
    ratio = u_tube.bench.relative_roughness
    assert ratio is not None
    # 0.0015 mm +- 60 % for drawn tubing [White 2003, table 6.1]
    mean = math.sqrt(np.mean(np.square([20.00, 20.10, 20.05, 20.15, 19.95, 20.05])))
    assert ratio.value == pytest.approx(0.0015 / mean, rel=1e-9)
    assert ratio.u / ratio.value == pytest.approx(0.6 / ROOT3, rel=1e-4)
    assert u_tube.sheet.columns[-3:] == ("high", "low", "note")
    assert u_tube.labels == ("a", "b")


# -- transmitter -----------------------------------------------------------------------------------
def test_transmitter_by_hand() -> None:
    runs = analysed("transmitter")
    temperature = rectangular(30.0, 0.25) + ufloat(0, 0.10) + rectangular(0, 0.1)
    k, column, stem = rectangular(0.0010, 0.0003), rectangular(20, 1), rectangular(22, 2)
    t = temperature + k * column * (temperature - stem)  # [NBS Monograph 150]
    assert runs.temperature[0].value == pytest.approx(t.n, rel=1e-12)
    assert runs.temperature[0].u == pytest.approx(t.s, rel=1e-9)

    # bore: [ISO 4185] for the air that the water displaces
    rho, air = rectangular(998.2, 0.3), rectangular(1.19, 0.02)
    mass = rectangular(0.6200, 0.8e-3) * (1 - air / 8000) / (1 - air / rho)
    bore = umath.sqrt(4 * mass / (math.pi * rho * rectangular(2.5, 2e-3)))
    assert runs.bench.bore.value == pytest.approx(1e3 * bore.n, rel=1e-12)
    assert runs.bench.bore.u == pytest.approx(1e3 * bore.s, rel=1e-9)

    # zero -20 Pa before, 0 Pa after; 0.25 % of 40 kPa; the zero effect cancels with the zero rows,
    # 0.03 % of the drop per kelvin, 6 K above the reference
    zero = (rectangular(-20, 5) + rectangular(0, 5)) / 2 + rectangular(0, 10)
    accuracy, span = rectangular(0, 100), rectangular(0, 0.0003)
    warm = rectangular(26, 2) - 20
    drop = rectangular(3230, 5) + accuracy - zero
    drop += span * drop.n * warm
    assert runs.pressure_drop.unit == "Pa"
    assert runs.pressure_drop[0].value == pytest.approx(3240, rel=1e-12)
    assert runs.pressure_drop[0].u == pytest.approx(drop.s, rel=1e-9)

    # f of run 1: 10 L/min, 1.5 % of 30 L/min, 0.5 L/min division, zero of the scale 0.1 L/min
    flow = rectangular(10, 0.25) + rectangular(0, 0.45) + rectangular(0, 0.1)
    v = flow / 60e3 / (math.pi / 4 * bore**2)
    # the table falls by 0.7 kg/m^3 in each K, so that its curve is a straight line
    oil = 864 - 0.7 * (t - 20) + rectangular(0, 2)
    f = 2 * bore * drop / (oil * rectangular(2.0, 2e-3) * v**2)
    assert runs.friction[0].value == pytest.approx(f.n, rel=1e-9)
    assert runs.friction[0].u == pytest.approx(f.s, rel=1e-6)


def test_repeats_of_one_reading() -> None:
    """[JCGM 100, 4.2]: the scatter of a mean of three, through the correction of the stem."""
    runs = analysed("transmitter")
    read = np.array([6270, 6420, 6310.0])
    budget = runs.budget("2", "pressure_drop").set_index("component")
    expected = np.std(read, ddof=1) / ROOT3
    assert budget.loc["repeats", "contribution"] == pytest.approx(expected, rel=1e-9)
    warmth = np.std([30.5, 30.5, 31.0], ddof=1) / ROOT3
    budget = runs.budget("2", "temperature").set_index("component")
    # t + k n (t - t_stem): 2 % more than the scatter of the reading
    assert budget.loc["repeats", "contribution"] == pytest.approx(1.02 * warmth, rel=1e-6)


def test_scatter_goes_along_the_calibration_line(write_bench: Write, write_sheet: Write) -> None:
    line = (
        "calibration = { readings = [1, 2, 3, 4], reference = [2.3, 3.5, 4.7, 5.9], "
        'unit = "L/min", limits = 0, scatter = true }'
    )
    old = "accuracy = { error_limit = 3.0, linearity_limit = 40 }"
    bench = load_bench(write_bench((old, line)))
    rows = [f"a,small,{flow},20,10,320,290," for flow in (2.0, 2.4)]
    zero = "zero,,,20,10,300,300,"
    runs = analyse(read_sheet(write_sheet(zero, *rows, zero), bench), bench)
    assert runs.flow.to("L/min").value == pytest.approx([1.1 + 1.2 * 2.2])
    budget = runs.budget("a", "flow").set_index("component")
    # s/sqrt(2) of 2.0 and 2.4 is 0.2, times the slope; flow over reading, 1.7, would make it 0.34
    assert budget.loc["repeats", "contribution"] == pytest.approx(1.2 * 0.2, rel=1e-9)


# -- well, inverted U-tube -------------------------------------------------------------------------
INCLINED = (
    'angle_accuracy = { limits = 0.3 }\nair_density = { value = "1.19 kg/m^3", limits = 0.03 }'
)
WATER = float(_Liquid(293.15, 0.1)["rho"])


@pytest.mark.parametrize(
    ("keys", "header", "readings", "factor", "contrast"),
    [
        ('type = "well"\narea_ratio = 0.02', "reading [mm]", "50,10", 1.02, WATER - 1.20),
        (
            'type = "well"\narea_ratio = { value = "2 %", limits = 0.1 }\n'
            'angle = { value = "30 deg", limits = 0.2 }\n'
            'air_density = { value = "1.19 kg/m^3", limits = 0.03 }',
            "reading [cm]",
            "5.0,1.0",
            0.52,
            WATER - 1.19,
        ),
        (
            'type = "well"\narea_ratio = 0\nangle_accuracy = { limits = 0.3 }\n'
            'gauge_density = { value = "1590 kg/m^3", limits = 3 }',
            "angle [deg],reading [mm]",
            "30,50;30,10",
            0.5,
            1590 - WATER,
        ),
        (
            'type = "inverted_u_tube"',
            "high [mm],low [mm]",
            "320,280;300,300",
            1.0,
            WATER - 1.20,
        ),
        (
            'type = "inverted_u_tube"\ntop_density = { value = "870 kg/m^3", limits = 2 }',
            "high [mm],low [mm]",
            "320,280;300,300",
            1.0,
            WATER - 870,
        ),
        (
            'type = "u_tube"\ngauge_density = "mercury"',
            "high [mm],low [mm]",
            "320,280;300,300",
            1.0,
            13545.8 - WATER,  # 13595.1 at 0 degC [NIST SP 811], 1.818e-4 /K more volume: [M]
        ),
    ],
)
def test_kinds_by_their_formulas(
    keys: str,
    header: str,
    readings: str,
    factor: float,
    contrast: float,
    write_bench: Write,
    write_sheet: Write,
) -> None:
    """40 mm of difference in each of them."""
    bench = load_bench(write_bench((INCLINED, keys)))
    run, zero = readings.split(";" if ";" in readings else ",")
    path = write_sheet(
        f"zero,,,20,{zero},",
        f"a,small,2,20,{run},",
        f"zero,,,20,{zero},",
        header=f"run,meter,flow,temperature [degC],{header},note",
    )
    runs = analyse(read_sheet(path, bench), bench)
    expected = 0.040 * factor * contrast * 9.807
    assert runs.pressure_drop.value == pytest.approx([expected], rel=2e-4)


def test_each_setting_of_a_well_has_one_error(write_bench: Write, write_sheet: Write) -> None:
    keys = 'type = "well"\narea_ratio = 0\nangle_accuracy = { limits = 0.3 }'
    bench = load_bench(write_bench((INCLINED, keys)))
    assert bench.inclines
    assert (bench.angle(30) - bench.angle(30)).u == 0.0
    header = "run,meter,flow,temperature [degC],angle [deg],reading [mm]"
    path = write_sheet("zero,,,20,30,10", "a,small,2,20,30,300", "zero,,,20,30,10", header=header)
    runs = analyse(read_sheet(path, bench), bench)
    budget = runs.budget("a", "pressure_drop").set_index("component")
    # cot(30 deg) times 0.3 deg
    expected = float(runs.pressure_drop[0].value) * math.radians(0.3) / math.tan(math.pi / 6)
    found = budget.loc["manometer angle, 30 deg", "contribution"]
    assert found == pytest.approx(expected / ROOT3, rel=1e-9)


def test_a_shared_meniscus_is_taken_off_by_the_zero(write_bench: Write, write_sheet: Write) -> None:
    rows = ["zero,,,20,30,300,300,", "a,small,2,20,30,320,290,", "zero,,,20,30,300,300,"]
    u = {}
    for keys in ("", "{ limits = 5, shared = true }", "{ limits = 5 }"):
        more = f"{INCLINED}\ncapillarity = {keys}" if keys else INCLINED
        bench = load_bench(write_bench((INCLINED, more)))
        u[keys] = analyse(read_sheet(write_sheet(*rows), bench), bench).pressure_drop.u[0]
    assert u["{ limits = 5, shared = true }"] == pytest.approx(u[""], rel=1e-12)
    # columns of the run, and of two zeros of which the mean has half: 5 mm sqrt(2 + 2 * 2/4)
    per_mm = math.sin(math.pi / 6) * (WATER - 1.19) * 9.807 * 1e-3
    own = per_mm * 5 * math.sqrt(3) / ROOT3
    assert u["{ limits = 5 }"] == pytest.approx(math.hypot(own, u[""]), rel=1e-4)


# -- refusals --------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "header", "expected"),
    [
        (
            "u_tube",
            "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm]",
            "column 'angle [deg]': has no place here, as the bench has an upright U-tube; expected "
            "run, meter, flow, temperature [degC], high [mm], low [mm], note",
        ),
        (
            "u_tube",
            "run,meter,flow,temperature [degC],reading [mm]",
            "column 'reading [mm]': has no place here",
        ),
        ("u_tube", "run,meter,flow,temperature [degC],high [mm]", "no column low; expected run"),
        (
            "transmitter",
            "run,meter,flow,temperature [degC],high [mm],low [mm]",
            "column 'high [mm]': has no place here, as the bench has a pressure transmitter; "
            "expected run, meter, flow, temperature [degC], reading [kPa], note",
        ),
        ("transmitter", "run,meter,flow,temperature [degC]", "no column reading; expected run"),
        (
            "transmitter",
            "run,meter,flow,temperature [degC],reading [mm]",
            "column 'reading [mm]': unit 'mm' does not measure the reading; expected one such as",
        ),
        (
            "transmitter",
            "run,meter,flow,temperature [degC],raeding [Pa]",
            "column 'raeding [Pa]': unknown column; did you mean 'reading'?",
        ),
    ],
)
def test_sheets_with_columns_of_another_manometer(
    name: str, header: str, expected: str, write_sheet: Write
) -> None:
    with pytest.raises(SheetError) as caught:
        read_sheet(write_sheet(header=header), load_bench(DATA / f"{name}.toml"))
    assert expected in str(caught.value)


@pytest.mark.parametrize(
    ("zero", "row", "column", "expected"),
    [
        (-20, "1,oil,10,30,41000,", "reading [Pa]", "pressure transmitter: 41 kPa lies off the sc"),
        (-20, "1,oil,10,30,-30,", "reading [Pa]", "pressure transmitter: -0.03 kPa lies off the s"),
        (500, "1,oil,10,30,80,", "reading", "pressure transmitter: the difference is -0.42 kPa"),
        (-20, "1,oil,10,9,5000,", "temperature [degC]", "TabulatedLiquid.density(temperature=...)"),
        # 10.2 degC is corrected to 9.96 degC for the stem of 22 degC
        (0, "1,oil,10,10.2,5000,", "temperature [degC]", "TabulatedLiquid.density(temperature=."),
    ],
)
def test_cells_that_do_not_fit_the_bench(
    zero: int, row: str, column: str, expected: str, write_sheet: Write
) -> None:
    header = "run,meter,flow,temperature [degC],reading [Pa],note"
    path = write_sheet(f"zero,,,29,{zero},", row, f"zero,,,29,{zero},", header=header)
    with pytest.raises(SheetError) as caught:
        read_sheet(path, load_bench(DATA / "transmitter.toml"))
    assert (caught.value.line, caught.value.column) == (3, column)
    assert caught.value.reason.startswith(expected)


def test_a_reading_beyond_the_calibration_names_its_cell(write_sheet: Write) -> None:
    header = "run,meter,flow,temperature [degC],high [mm],low [mm]"
    path = write_sheet("zero,,,19,350,350", "a,small,1.4,19,360,340", header=header)
    with pytest.raises(SheetError, match=r"line 3, column 'flow': small meter: 1.4 L/min lies out"):
        read_sheet(path, load_bench(DATA / "u_tube.toml"))


def test_a_sheet_of_another_manometer_is_not_analysed(
    write_bench: Write, write_sheet: Write
) -> None:
    well = load_bench(write_bench((INCLINED, 'type = "well"\narea_ratio = 0')))
    header = "run,meter,flow,temperature [degC],reading [mm]"
    sheet = read_sheet(
        write_sheet("zero,,,20,10", "a,small,2,20,50", "zero,,,20,10", header=header), well
    )
    inclined = load_bench(write_bench())
    with pytest.raises(BenchError, match=r"key 'manometer': an inclined manometer of two limbs, b"):
        analyse(sheet, inclined)


def test_gravity_of_the_place_is_that_of_the_wetting(write_bench: Write) -> None:
    place = ('value = "9.807 m/s^2"\nlimits = 0.001', 'latitude = "0 deg"\nheight = "0 m"')
    wetting = (
        f'{INCLINED}\ncapillarity = {{ bore = "4 mm", surface_tension = "72 mN/m", '
        'density = "1000 kg/m^3", contact_angles = ["0 deg", "90 deg"], shared = true }'
    )
    bench = load_bench(write_bench(place, (INCLINED, wetting)))
    statement = bench.manometer.capillarity  # type: ignore[union-attr]
    g = float(local_gravity(Angle(0, "deg")).value)
    assert statement is not None
    assert not statement.per_reading
    # 2 sigma/(rho g d) (cos 0 - cos 90) [Batchelor 1967]
    expected = 2 * 0.072 / (1000 * g * 4e-3) * 1e3
    assert Length(300, "mm", statement).u == pytest.approx(expected / ROOT3, rel=1e-9)
