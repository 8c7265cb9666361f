"""A planned point is what `analyse` gives for a sheet with exactly those readings.

The sheet is written, read and analysed: nothing of the plan is in it but the readings. Scatter is
written as four rows whose deviations have exactly the planned standard deviations and are
uncorrelated, so that their sample covariance is the planned one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from flowunc import (
    Bench,
    Length,
    Quantity,
    Ratio,
    Runs,
    VolumeFlowRate,
    analyse,
    read_sheet,
)
from flowunc.bench.planning.plan import plan

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
