"""`analyse` against a computation written out by hand with the `uncertainties` package.

Density and viscosity come from the `iapws` package, the law of propagation from `uncertainties`.
Only what a data sheet would say is taken from the bench file of these tests.
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
    Bench,
    BenchError,
    Density,
    DimensionError,
    FlowuncWarning,
    InclinedManometer,
    Length,
    Runs,
    Scale,
    Thermometer,
    VariableAreaMeter,
    analyse,
    limits,
    load_bench,
    percent_of_reading,
    read_sheet,
)

Write = Callable[..., Path]

ROWS = (
    "zero,,,19.0,10,301.5,300.0,",
    "a,small,1.2,19.0,10,305.5,296.0,",
    "b,small,3.2,19.5,10,330.0,271.0,",
    "c,large,0.05,19.5,10,328.5,272.5,",
    "zero,,,19.5,10,302.0,301.0,",
    "zero,,,19.5,30,300.0,300.5,",
    "d,large,0.26,20.0,30,450.5,150.0,",
    "e,small,3.2,20.0,30,310.5,290.5,",
    "zero,,,20.0,30,300.0,300.0,",
)
ROOT3 = math.sqrt(3.0)


def runs_of(write_sheet: Write, bench: Bench, *rows: str) -> Runs:
    return analyse(read_sheet(write_sheet(*rows), bench), bench)


def rectangular(value: float, half_width: float) -> Any:
    return ufloat(value, half_width / ROOT3)


density = uncertainties.wrap(lambda kelvin: float(_Liquid(kelvin, 0.1)["rho"]))
viscosity = uncertainties.wrap(lambda kelvin: float(_Liquid(kelvin, 0.1)["mu"]))


class ByHand:
    """Runs b and d of `ROWS` by hand; errors in common are the same variable."""

    def __init__(self) -> None:
        bore = rectangular(19.2e-3, 0.06e-3)
        taps = rectangular(2.350, 1.5e-3)
        g = rectangular(9.807, 0.001)
        air = rectangular(1.19, 0.03)
        thermometer = ufloat(0, 0.24 / 2)
        # formulation of the density (1e-6), tap water (limits 0.05 %), viscosity (1 % at k = 2)
        rho_model, tap, mu_model = ufloat(1, 1e-6), rectangular(1, 5e-4), ufloat(1, 5e-3)
        self.results = []
        for kelvin, flow, high, low, zeros, degrees in (
            (292.65, self.small(3.2), 330.0, 271.0, [(301.5, 300.0), (302.0, 301.0)], 10),
            (293.15, self.large(0.26), 450.5, 150.0, [(300.0, 300.5), (300.0, 300.0)], 30),
        ):
            T = rectangular(kelvin, 0.25) + thermometer
            rho = density(T) * (rho_model + tap - 1)
            mu = viscosity(T) * mu_model
            v = flow / (math.pi / 4 * bore**2)
            before, after = [rectangular(h, 0.5) - rectangular(lower, 0.5) for h, lower in zeros]
            drift = abs(zeros[1][0] - zeros[1][1] - zeros[0][0] + zeros[0][1]) / 2
            zero = (before + after) / 2 + rectangular(0, drift)
            length = (rectangular(high, 0.5) - rectangular(low, 0.5) - zero) * 1e-3
            angle = rectangular(math.radians(degrees), math.radians(0.3))
            dp = length * umath.sin(angle) * (rho - air) * g
            re = rho * v * bore / mu
            f = 2 * bore * dp / (rho * taps * v**2)
            self.results.append({"reynolds": re, "friction": f, "pressure_drop": dp, "velocity": v})

    def small(self, reading: float) -> Any:
        # error limit 3 % of the reading above 40 % of 4 L/min, division 0.1 L/min
        return (rectangular(reading, 0.05) + reading * rectangular(0, 0.03)) / 60e3

    def large(self, reading: float) -> Any:
        # 1.5 % of 0.40 L/s, division 0.01 L/s
        return (rectangular(reading, 0.005) + rectangular(0, 0.015 * 0.40)) / 1e3


@pytest.mark.parametrize("of", ["velocity", "pressure_drop", "reynolds", "friction"])
def test_two_runs_by_hand(of: str, bench: Bench, write_sheet: Write) -> None:
    runs = runs_of(write_sheet, bench, *ROWS)
    assert runs.labels == ("a", "b", "c", "d", "e")
    b, d = (result[of] for result in ByHand().results)
    found = runs.result(of)
    for row, expected in ((1, b), (3, d)):
        assert found[row].value == pytest.approx(expected.n, rel=1e-12)
        assert found[row].u == pytest.approx(expected.s, rel=1e-9)
    expected = uncertainties.covariance_matrix([b, d])[0][1]
    assert found.covariance(found)[1, 3] == pytest.approx(expected, rel=1e-8)  # type: ignore[index]


def test_results_of_one_run_share_their_errors(bench: Bench, write_sheet: Write) -> None:
    runs = runs_of(write_sheet, bench, *ROWS)
    b = ByHand().results[0]
    expected = uncertainties.correlation_matrix([b["reynolds"], b["friction"]])[0, 1]
    assert runs.reynolds[1].correlation(runs.friction[1]) == pytest.approx(expected, rel=1e-8)
    assert expected < -0.5  # the flow is behind both, with opposite signs


def test_order_and_units_of_mixed_meters(bench: Bench, write_sheet: Write) -> None:
    runs = runs_of(write_sheet, bench, *ROWS)
    assert runs.flow.unit == "m^3/s"
    assert np.asarray(runs.flow.value) * 60e3 == pytest.approx([1.2, 3.2, 3.0, 15.6, 3.2])
    assert runs.temperature.unit == "degC"
    assert runs.temperature.value == pytest.approx([19.0, 19.5, 19.5, 20.0, 20.0])
    only = runs_of(write_sheet, bench, *ROWS[:3], ROWS[4])
    assert only.flow.unit == "L/min"
    assert only.flow.value == pytest.approx([1.2, 3.2])


def test_one_meter_has_one_calibration_and_two_have_two(bench: Bench, write_sheet: Write) -> None:
    zero = "zero,,,20.0,30,300.0,300.0,"
    runs = runs_of(
        write_sheet,
        bench,
        zero,
        "a,small,3.0,20,30,320,290,",
        "b,small,3.0,20,30,320,290,",
        "c,large,0.05,20,30,320,290,",
        zero,
    )
    flow = runs.flow.to("L/min")
    resolution, calibration = 0.05 / ROOT3, 0.03 * 3.0 / ROOT3
    other = math.hypot(0.3, 0.015 * 0.40 * 60) / ROOT3
    assert (flow[0] - flow[1]).to("L/min").u == pytest.approx(math.sqrt(2) * resolution, rel=1e-12)
    expected = math.sqrt(resolution**2 + calibration**2 + other**2)
    assert (flow[0] - flow[2]).to("L/min").u == pytest.approx(expected, rel=1e-12)


def fine_bench() -> Bench:
    """Make a bench where nothing but the angle and the zero is uncertain."""
    fine = 1e-9
    return Bench(
        bore=Length(19.2, "mm"),
        tap_spacing=Length(2.35, "m"),
        meters={
            name: VariableAreaMeter(
                Scale(fine, "L/min", span=(0.4, 4.0)),
                limits(0),
                calibration_density=Density(998.2, "kg/m^3"),
                float_density=Density(7900, "kg/m^3"),
            )
            for name in ("small", "other")
        },
        thermometer=Thermometer(Scale(fine, "degC"), limits(0)),
        manometer=InclinedManometer(Scale(fine, "mm"), angle=Angle(90, "deg")),
        angle_accuracy=limits(0.3),
    )


def test_each_setting_of_the_board_has_one_error(write_sheet: Write) -> None:
    rows = ["zero,,,20,{0},300,300,", "{1},small,2,20,{0},320,290,", "{2},small,3,20,{0},330,280,"]
    sets = [(10, "a", "b"), (30, "c", "d"), (10, "e", "f")]
    lines = [row.format(*names) for names in sets for row in [*rows, rows[0]]]
    runs = runs_of(write_sheet, fine_bench(), *lines)
    head = runs.pressure_drop / (runs.density - Density(1.2, "kg/m^3"))  # gravity is left as it is
    matrix = np.asarray(head.covariance(head))
    u = np.sqrt(np.diag(matrix))
    correlation = matrix / np.outer(u, u)
    # behind all of them: gravity (limits 0.03 of 9.81) and air (limits 0.10 of 997 kg/m^3); the
    # angle dominates at both settings
    same = [(0, 1), (0, 4), (1, 5), (2, 3)]
    other = [(0, 2), (1, 3), (3, 4)]
    assert [correlation[pair] for pair in same] == pytest.approx([1.0] * 4, abs=1e-5)
    relative = {
        10: math.radians(0.3) / math.tan(math.radians(10)),
        30: math.radians(0.3) / math.tan(math.radians(30)),
    }
    common = math.hypot(0.03 / 9.81, 0.10 / 997)
    expected = common**2 / math.hypot(common, relative[10]) / math.hypot(common, relative[30])
    assert [correlation[pair] for pair in other] == pytest.approx([expected] * 3, rel=1e-4)


def test_the_reading_of_a_meter_is_corrected_for_the_density(write_sheet: Write) -> None:
    zero = "zero,,,40,10,300,300,"
    rows = [f"a,small,{flow},40,10,320,290," for flow in (2.0, 2.2)]
    runs = runs_of(write_sheet, fine_bench(), zero, "b,other,2.0,5,10,320,290,", *rows, zero)
    flow, u = (np.asarray(x) for x in (runs.flow.to("L/min").value, runs.flow.to("L/min").u))
    for row, celsius, reading in ((0, 5, 2.0), (1, 40, 2.1)):
        rho = float(_Liquid(celsius + 273.15, 0.1)["rho"])
        # [VDI/VDE 3513-1], as the docstring of the meter quotes it
        factor = math.sqrt((7900 - rho) / (7900 - 998.2) * 998.2 / rho)
        assert flow[row] == pytest.approx(reading * factor, rel=1e-9)
    # the scatter goes through the correction like the reading: s/sqrt(2) of 2.0 and 2.2 is 0.1;
    # the rest is the density of tap water, 0.05 % either way, of which the factor keeps half
    assert u[1] == pytest.approx(0.1 * factor, rel=1e-4)
    assert factor > 1.003  # or the tolerance would hide it


def test_repeats_by_hand(bench: Bench, write_sheet: Write) -> None:
    """[JCGM 100, 4.2]: mean, s/sqrt(n), n - 1; columns that swing together do so in the result."""
    readings = [
        (0.25, 20.0, 450.0, 150.5),
        (0.26, 20.0, 454.0, 146.0),
        (0.26, 20.5, 447.5, 153.0),
        (0.25, 20.0, 451.0, 149.0),
        (0.27, 20.0, 456.5, 144.5),
    ]
    zero = "zero,,,20.0,30,300.0,300.0,"
    rows = [f"r,large,{q},{t},30,{h},{low}," for q, t, h, low in readings]
    runs = runs_of(write_sheet, bench, zero, *rows, zero)
    array = np.array(readings)
    mean = array.mean(axis=0)
    assert runs.temperature.value == pytest.approx([mean[1]])
    head = (array[:, 2] - array[:, 3]) * 1e-3
    water = _Liquid(mean[1] + 273.15, 0.1)
    rho, expansion = float(water["rho"]), float(water["alfav"])
    drop = head.mean() * math.sin(math.radians(30)) * (rho - 1.19) * 9.807
    assert runs.pressure_drop.value == pytest.approx([drop], rel=1e-12)

    # covariance of the means over n [JCGM 100, 5.2.3], relative gradient of the pressure
    covariance = np.cov(np.column_stack([array[:, 0] / 1e3, array[:, 1], head]), rowvar=False) / 5
    warmer = -expansion * rho / (rho - 1.19)
    gradient = np.array([0.0, warmer, 1 / head.mean()])
    budget = runs.budget("r", "pressure_drop").set_index("component")
    expected = drop * math.sqrt(gradient @ covariance @ gradient)
    assert budget.loc["repeats", "contribution"] == pytest.approx(expected, rel=1e-8)
    assert budget.loc["repeats", "dof"] == pytest.approx(4)
    assert budget.loc["repeats", "evaluation"] == "A"
    # five repeats or not, the resolution is that of one reading: 0.5 mm / sqrt(3)
    column = budget.loc["manometer resolution, high column", "contribution"]
    assert column == pytest.approx(0.5e-3 / ROOT3 * drop / head.mean(), rel=1e-9)

    # f = const dp/(rho flow^2): what the flow and the columns have in common counts
    gradient += [-2 / (mean[0] / 1e3), expansion, 0.0]
    relative = math.sqrt(gradient @ covariance @ gradient)
    budget = runs.budget("r").set_index("component")
    assert budget.loc["repeats", "contribution"] == pytest.approx(
        relative * float(runs.friction[0].value), rel=1e-8
    )
    independent = math.sqrt(gradient**2 @ np.diag(covariance))
    assert abs(relative / independent - 1) > 0.1  # or this would not see the correlation


def test_a_sheet_for_another_bench_is_refused(
    bench: Bench, write_sheet: Write, write_bench: Write
) -> None:
    sheet = read_sheet(write_sheet(*ROWS), bench)
    other = load_bench(write_bench(("[meters.large]", "[meters.big]")))
    with pytest.raises(BenchError, match=r"key 'meters': no meter 'large', which .* names; "):
        analyse(sheet, other)
    inches = (
        'unit = "mm"\ndivision = 1\nspan = [0, 620]',
        'unit = "in"\ndivision = 0.1\nspan = [0, 25]',
    )
    with pytest.raises(BenchError, match=r"key 'manometer.unit': unit 'in', but .* with 'mm'"):
        analyse(sheet, load_bench(write_bench(inches)))
    with pytest.raises(DimensionError, match=r"got str; expected Sheet, as read_sheet and"):
        analyse("sheet.csv", bench)  # type: ignore[arg-type]


def test_a_better_bench_for_the_same_sheet(
    bench: Bench, write_sheet: Write, write_bench: Write
) -> None:
    sheet = read_sheet(write_sheet(*ROWS), bench)
    better = load_bench(write_bench(("limits = 0.06", "limits = 0.01")))
    assert np.all(np.asarray(analyse(sheet, better).friction.u) < analyse(sheet, bench).friction.u)


def test_drift_unknown_counts_as_none(bench: Bench, write_sheet: Write) -> None:
    with pytest.warns(FlowuncWarning, match="no zero row at 10 deg after this run"):
        runs = runs_of(write_sheet, bench, *ROWS[:3])
    assert "manometer zero drift" not in set(runs.budget("a")["component"])


def test_a_meter_without_densities_takes_none(bench: Bench, write_sheet: Write) -> None:
    meter = VariableAreaMeter(Scale(0.1, "L/min", span=(0.4, 4)), percent_of_reading(2))
    assert meter.read([1.0]).value == pytest.approx([1.0])
    runs = runs_of(write_sheet, bench, *ROWS[:3], ROWS[4])
    assert runs.flow[0].value == pytest.approx(1.2, rel=1e-14)
