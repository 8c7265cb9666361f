"""A planned point is what `analyse` gives for a sheet with exactly those readings.

The sheet is written, read and analysed: nothing of the plan is in it but the readings. Scatter is
written as four rows whose deviations have exactly the planned standard deviations and are
uncorrelated, so that their sample covariance is the planned one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flowunc import (
    Bench,
    Length,
    Pressure,
    PressureTransmitter,
    Quantity,
    Ratio,
    Runs,
    Scale,
    VolumeFlowRate,
    analyse,
    compare_with_plan,
    load_bench,
    percent_of_full_scale,
    percent_of_reading,
    read_sheet,
    standard,
)
from flowunc.bench.planning.indications import zero_levels
from flowunc.bench.planning.plan import Plan, plan
from flowunc.bench.sheets.form import form_of

Write = Callable[..., Path]

FLOWS = VolumeFlowRate([0.8, 1.6, 3.0, 3.9, 12.0, 20.0], "L/min")
SETTINGS = (8.0, 25.0, 90.0)


def sheet_of(table: Any, write_sheet: Write, bench: Bench, rows_of: Callable[..., Any]) -> Runs:
    """Write all readable lines of a plan as a lab sheet, and analyse it."""
    lines, number = [], 0
    for angle, cells in table.groupby("inclination"):
        zero = f"zero,,,20,{angle!r},310,310,"
        lines.append(zero)
        for _, cell in cells.iterrows():
            number += 1
            for flow, celsius, high, low in rows_of(cell):
                lines.append(
                    f"{number},{cell['meter']},{flow!r},{celsius!r},{angle!r},{high!r},{low!r},"
                )
        lines.append(zero)
    return analyse(read_sheet(write_sheet(*lines), bench), bench)


def test_planned_points_are_what_analyse_gives(bench: Bench, write_sheet: Write) -> None:
    session = plan(bench, flows=FLOWS, inclinations=SETTINGS)
    table = session.table().dropna(subset=["U(f)/f"])
    assert len(table) > 12
    assert set(table["meter"]) == {"small", "large"}
    runs = sheet_of(
        table,
        write_sheet,
        bench,
        lambda cell: [(float(cell["reading"]), 20.0, float(cell["high"]), float(cell["low"]))],
    )
    table = table.sort_values("inclination", kind="stable")
    for quantity, value, relative in (
        (runs.reynolds, "Re", "U(Re)/Re"),
        (runs.friction, "f", "U(f)/f"),
    ):
        np.testing.assert_allclose(quantity.value, table[value], rtol=1e-9)
        U = quantity.expanded(0.95).U
        np.testing.assert_allclose(U / quantity.value, table[relative], rtol=1e-9)
    limits = [runs.budget(label)["component"].iloc[0] for label in runs.labels]
    # the table joins components of one source, so only the largest of unlike ones is compared
    for label, source in zip(limits, table["limited by"], strict=True):
        if "calibration" in source:
            assert label == source


def test_planned_quantities_share_the_errors_of_the_bench(bench: Bench, write_sheet: Write) -> None:
    """Measured minus planned leaves resolution only: calibration, bore and angle cancel."""
    session = plan(bench, flows=FLOWS, meters="small", inclinations=25.0)
    table = session.table().dropna(subset=["U(f)/f"])
    runs = sheet_of(
        table,
        write_sheet,
        bench,
        lambda cell: [(float(cell["reading"]), 20.0, float(cell["high"]), float(cell["low"]))],
    )
    difference = runs.friction - session.friction("small")
    left = {component.label for component in difference.components}
    budget = difference.budget(2)
    rest = budget[budget["contribution"].abs() > 1e-12 * np.asarray(difference.u)[2]]
    assert "bore" in left
    assert all("resolution" in name for name in rest["component"])


def test_repeats_are_what_analyse_gives_for_such_rows(bench: Bench, write_sheet: Write) -> None:
    scatter = {
        "flow": Ratio(2, "%"),
        "temperature": Quantity(0.2, "K"),
        "deflection": Length(3, "mm"),
    }
    session = plan(bench, flows=FLOWS, inclinations=SETTINGS, repeats=(1, 4), scatter=scatter)
    table = session.table().dropna(subset=["U(f)/f"])
    table = table[table["repeats"] == 4]
    # rows of +-a with a = s sqrt(3)/2 have the sample variance 4 a^2/3 = s^2
    one = math.sqrt(3) / 2
    signs = [(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]

    def rows(cell: Any) -> list[tuple[float, float, float, float]]:
        reading, high, low = (float(cell[name]) for name in ("reading", "high", "low"))
        return [
            (
                reading * (1 + 0.02 * one * a),
                20.0 + 0.2 * one * b,
                high + 3 * one * c / 2,
                low - 3 * one * c / 2,
            )
            for a, b, c in signs
        ]

    room = table[(table["meter"] != "small") | (table["flow"] < 3.8)]
    room = room[(room["low"] > 3) & (room["low"] < 308)]  # where such rows stay on both scales
    assert len(room) > 8
    runs = sheet_of(room, write_sheet, bench, rows)
    room = room.sort_values("inclination", kind="stable")
    for quantity, relative in ((runs.reynolds, "U(Re)/Re"), (runs.friction, "U(f)/f")):
        U = quantity.expanded(0.95).U
        np.testing.assert_allclose(U / quantity.value, room[relative], rtol=1e-9)
    planned = [
        session.friction(name, angle, 4)
        for name, angle in zip(room["meter"], room["inclination"], strict=True)
    ]
    assert min(float(np.min(quantity.dof)) for quantity in planned) < 1000


def test_a_single_reading_has_the_scatter_as_expected(bench: Bench) -> None:
    """u^2 with scatter minus u^2 without is (2 s)^2 for the flow: f goes with 1/flow^2."""
    flows = VolumeFlowRate([1.0, 3.0], "L/min")
    quiet = plan(bench, flows=flows, meters="small", inclinations=10.0).friction("small")
    noisy = plan(
        bench, flows=flows, meters="small", inclinations=10.0, scatter={"flow": Ratio(2, "%")}
    ).friction("small")
    added = (noisy.u / noisy.value) ** 2 - (quiet.u / quiet.value) ** 2
    np.testing.assert_allclose(added, (2 * 0.02) ** 2, rtol=1e-9)
    assert np.isinf(noisy.dof).all()


# -- other manometers, calibrated meters -----------------------------------------------------------
DATA = Path(__file__).parents[1] / "data"
INCLINED = (
    'angle_accuracy = { limits = 0.3 }\nair_density = { value = "1.19 kg/m^3", limits = 0.03 }'
)
KINDS = {
    "well": 'type = "well"\narea_ratio = { value = "2 %", limits = 0.1 }',
    "well at 30 deg": (
        'type = "well"\narea_ratio = 0.02\nangle = { value = "30 deg", limits = 0.2 }'
    ),
    "well that is set": 'type = "well"\narea_ratio = 0.02\nangle_accuracy = { limits = 0.3 }',
    "inverted": 'type = "inverted_u_tube"',
}


def calibrated_cell(bench: Bench) -> Bench:
    """A transmitter and a meter that both go by a line with an offset."""
    cell = PressureTransmitter(Scale(0.001, "kPa", span=(0, 10)), percent_of_full_scale(0.25))
    line = cell.calibrated(
        intercept=Pressure(-0.03, "kPa", standard(0.01)),
        slope=Ratio(1.02, "1", standard(0.002)),
        span=(0.05, 9.0),
        scatter=standard(0.003),
    )
    small = bench.meters["small"].calibrated(
        intercept=VolumeFlowRate(0.05, "L/min", standard(0.01)),
        slope=Ratio(0.97, "1", standard(0.004)),
        span=(0.5, 3.9),
        drift=percent_of_reading(0.5),
    )
    meters = {"small": small, "large": bench.meters["large"]}
    return replace(bench, manometer=line, meters=meters, angle_accuracy=None, air_density=None)


def written(session: Plan, bench: Bench, write_sheet: Write) -> Runs:
    """Write the readable readings of a plan as a sheet of the bench's own form."""
    found, form = session.readings, form_of(bench)
    units = {"temperature": bench.thermometer.scale.unit, "angle": "deg"}
    units |= dict.fromkeys(bench.manometer_kind.columns, bench.manometer.scale.unit)
    header = [f"{name} [{units[name]}]" if name in units else name for name in form.columns]
    zero = dict(zip(("high", "low"), zero_levels(bench), strict=True))
    rows = []

    def add(**cells: Any) -> None:
        cells["reading"] = cells["high"]
        shown = [cells.get(name, "") for name in form.columns]
        rows.append(",".join(x if isinstance(x, str) else repr(float(x)) for x in shown))

    for angle in session.inclinations:
        mine = np.flatnonzero(found.readable & (found.inclination == angle))
        warm = found.temperature_reading[mine[0]]
        add(run="zero", temperature=warm, angle=angle, **zero)
        for row in mine.tolist():
            add(
                run=f"r{row}",
                meter=found.meter[row],
                flow=found.flow_reading[row],
                temperature=found.temperature_reading[row],
                angle=angle,
                high=found.high[row],
                low=found.low[row],
            )
        add(run="zero", temperature=warm, angle=angle, **zero)
    return analyse(read_sheet(write_sheet(*rows, header=",".join(header)), bench), bench)


def check_round_trip(session: Plan, bench: Bench, write_sheet: Write, least: int) -> Runs:
    runs = written(session, bench, write_sheet)
    found, results = session.readings, session.results
    assert results is not None
    assert len(runs) == int(found.readable.sum()) >= least
    cells = session.conditions
    np.testing.assert_allclose(runs.flow._node.value, found.flow[found.readable], rtol=1e-9)
    for measured, planned, law in (
        (runs.reynolds, results.reynolds, found.reynolds),
        (runs.friction, results.friction, found.friction),
    ):
        np.testing.assert_allclose(measured.value, law[found.readable], rtol=1e-9)
        np.testing.assert_allclose(cells.relative(measured), cells.relative(planned), rtol=1e-9)
        # bore and calibration are behind both: without them it would be sqrt(2) u
        apart = np.asarray((measured - planned).u) / np.asarray(measured.u)
        assert (apart < 0.995 * math.sqrt(2)).all()
    return runs


@pytest.mark.parametrize("kind", KINDS)
def test_round_trip_of_other_manometers(kind: str, write_bench: Write, write_sheet: Write) -> None:
    bench = load_bench(write_bench((INCLINED, KINDS[kind])))
    settings = [12.0, 40.0] if bench.inclines else None
    session = plan(bench, flows=FLOWS, inclinations=settings)
    assert session.inclinations == (tuple(settings) if settings else (bench.fixed_angle,))
    runs = check_round_trip(session, bench, write_sheet, 5)
    table = compare_with_plan(runs)
    for name in ("deflection", "f", "U(Re)/Re", "U(f)/f"):
        np.testing.assert_allclose(table[f"{name} planned"], table[f"{name} measured"], rtol=1e-9)


def test_round_trip_of_seawater_over_a_gauge_liquid(write_sheet: Write) -> None:
    """The small meter goes by a line, the large one by its densities; corrected thermometer."""
    bench = load_bench(DATA / "u_tube.toml")
    session = plan(bench, flows=VolumeFlowRate([2.5, 7.0, 10.9, 24.0, 33.0], "L/min"))
    assert set(session.table().dropna()["meter"]) == {"small", "large"}
    check_round_trip(session, bench, write_sheet, 5)


def test_round_trip_of_oil_and_a_transmitter(write_sheet: Write) -> None:
    bench = load_bench(DATA / "transmitter.toml")
    session = plan(bench, flows=VolumeFlowRate([3.0, 10.0, 28.0], "L/min"))
    check_round_trip(session, bench, write_sheet, 3)


def test_round_trip_of_a_calibrated_transmitter(bench: Bench, write_sheet: Write) -> None:
    changed = calibrated_cell(bench)
    session = plan(changed, flows=FLOWS)
    runs = check_round_trip(session, changed, write_sheet, 5)
    table = compare_with_plan(runs)
    # what was shown, not what the line makes of it
    expected = np.asarray(runs.pressure_drop.to("kPa").value) / 1.02
    np.testing.assert_allclose(table["deflection measured"], expected, rtol=1e-9)
    np.testing.assert_allclose(table["deflection planned"], expected, rtol=1e-9)


def test_scatter_of_a_calibrated_transmitter_goes_along_its_line(bench: Bench) -> None:
    """u^2 with scatter minus u^2 without: the slope times it, or of the pressure as much."""
    changed = calibrated_cell(bench)
    flows = VolumeFlowRate([1.5, 3.5], "L/min")

    def drop(scatter: dict[str, Quantity] | None) -> Pressure:
        return plan(changed, flows=flows, meters="small", scatter=scatter).pressure_drop("small")

    quiet, fixed = drop(None), drop({"deflection": Pressure(20, "Pa")})
    np.testing.assert_allclose(fixed.u**2 - quiet.u**2, (1.02 * 20) ** 2, rtol=1e-6)
    share = drop({"deflection": Ratio(2, "%")})
    np.testing.assert_allclose(share.u**2 - quiet.u**2, (0.02 * quiet.value) ** 2, rtol=1e-6)
