"""Measured runs beside their plan."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import flowunc.bench
from flowunc import Bench, DimensionError, Ratio, VolumeFlowRate, analyse, load_bench, read_sheet
from flowunc.bench.planning.comparison import compare_with_plan
from flowunc.bench.planning.plan import plan

Write = Callable[..., Path]
EXAMPLE = Path(flowunc.bench.__file__).parent / "example"


@pytest.fixture(scope="module")
def runs() -> flowunc.Runs:
    bench = load_bench(EXAMPLE / "bench.toml")
    return analyse(read_sheet(EXAMPLE / "sheet.csv", bench), bench)


def test_measured_columns_are_those_of_the_runs(runs: flowunc.Runs) -> None:
    table = compare_with_plan(runs)
    report = runs.table()
    assert table["run"].tolist() == list(runs.labels)
    np.testing.assert_allclose(table["E_n"], report["E_n"], rtol=1e-12)
    assert table["law"].tolist() == report["law"].tolist()
    np.testing.assert_allclose(table["f measured"], runs.friction.value)
    for name, quantity in (("Re", runs.reynolds), ("f", runs.friction)):
        U = quantity.expanded(0.95).U
        np.testing.assert_allclose(table[f"U({name})/{name} measured"], U / quantity.value)
    # by hand from the sheet: high - low - mean of the zeros before and after
    by_run = table.set_index("run")["deflection measured"]
    assert by_run["1"] == pytest.approx(357.0 - 349.0 - (0.5 + 1.0) / 2)
    assert by_run["7"] == pytest.approx(392.0 - 312.0 - (-0.5 - 0.5) / 2)


def test_unplanned_scatter_shows(runs: flowunc.Runs) -> None:
    """Run 9 was read four times; without scatter= its plan knows nothing of that."""
    quiet = compare_with_plan(runs).set_index("run").loc["9"]
    assert quiet["repeats"] == 4
    assert quiet["U(Re)/Re planned"] < quiet["U(Re)/Re measured"]
    # its four flows 14, 14.25, 14, 14 have s = 0.125 L/min, so s/sqrt(4) of 14.0625 L/min
    loud = compare_with_plan(runs, scatter={"flow": VolumeFlowRate(0.125, "L/min")})
    loud = loud.set_index("run").loc["9"]
    assert loud["U(Re)/Re planned"] == pytest.approx(loud["U(Re)/Re measured"], rel=1e-6)


def test_a_session_that_goes_as_planned(bench: Bench, write_sheet: Write) -> None:
    session = plan(bench, flows=VolumeFlowRate([0.8, 1.5, 12.0], "L/min"), inclinations=20)
    cells = session.table().dropna(subset=["U(f)/f"])
    rows = [
        f"{number},{cell['meter']},{cell['reading']!r},20,20,{cell['high']!r},{cell['low']!r},"
        for number, (_, cell) in enumerate(cells.iterrows(), 1)
    ]
    zero = "zero,,,20,20,310,310,"
    sheet = read_sheet(write_sheet(zero, *rows, zero), bench)
    table = compare_with_plan(analyse(sheet, bench), k=2)
    for name in ("deflection", "f", "U(Re)/Re", "U(f)/f"):
        np.testing.assert_allclose(table[f"{name} planned"], table[f"{name} measured"], rtol=1e-9)
    np.testing.assert_allclose(table["E_n"], 0, atol=1e-6)


def test_a_run_that_its_plan_calls_unreadable(bench: Bench, write_sheet: Write) -> None:
    """20 L/min goes off the board by its law; a sheet that says otherwise is compared."""
    zero = "zero,,,20,10,310,310,"
    sheet = read_sheet(write_sheet(zero, "1,large,0.33,20,10,610,10,", zero), bench)
    table = compare_with_plan(analyse(sheet, bench))
    assert "exceeds the board's" in table["note"].iloc[0]
    assert np.isnan(table["U(f)/f planned"].iloc[0])
    assert table["deflection measured"].iloc[0] == pytest.approx(600)
    assert table["deflection planned"].iloc[0] > 620


def test_mistakes(bench: Bench, runs: flowunc.Runs) -> None:
    with pytest.raises(DimensionError, match="got Bench; expected Runs, as analyse gives them"):
        compare_with_plan(bench)  # type: ignore[arg-type]
    with pytest.raises(flowunc.StatementError, match="did you mean 'flow'"):
        compare_with_plan(runs, scatter={"flows": Ratio(1, "%")})
