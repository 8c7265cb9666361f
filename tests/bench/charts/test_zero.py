"""The balance over a sheet, against the sheet read with the csv module and means by hand."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.container import ErrorbarContainer

from flowunc import (
    Bench,
    DimensionError,
    FlowuncWarning,
    Runs,
    StatementError,
    analyse,
    load_bench,
    read_sheet,
)
from flowunc.bench.charts.zero import zero_chart, zero_sets
from flowunc.bench.run_text import EXAMPLE

DATA = Path(__file__).parents[1] / "data"
Write = Callable[..., Path]


def bars(ax: Axes) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places, balances and half-lengths of the bars."""
    (found,) = [item for item in ax.containers if isinstance(item, ErrorbarContainer)]
    points, _, (lines,) = found.lines
    ends = np.array(lines.get_segments())
    return points.get_xdata(), points.get_ydata(), (ends[:, 1, 1] - ends[:, 0, 1]) / 2


def test_zero_rows_of_the_sheet_in_their_order(runs: Runs, ax: Axes) -> None:
    zero_chart(runs, ax=ax)
    with (EXAMPLE / "sheet.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    zeros = [place for place, row in enumerate(rows) if row["run"] == "zero"]
    places, balances, halves = bars(ax)
    assert places.tolist() == zeros
    assert balances == pytest.approx(
        [float(rows[x]["high [mm]"]) - float(rows[x]["low [mm]"]) for x in zeros]
    )
    # read to half of 1 mm: each column within ±0.25 mm
    assert halves == pytest.approx(np.full(len(zeros), 0.5))
    assert ax.get_ylabel() == "balance high − low in mm"
    names = [text.get_text() for text in ax.get_xticklabels()]
    assert names == ["zero", "zero", *"123456", "zero", "zero", *"789", "10", "zero"]
    # run 9 was read four times, in rows 13 to 16 of the sheet counted from 0
    assert ax.get_xticks()[names.index("9")] == pytest.approx(np.mean([12, 13, 14, 15]))


def test_sets_and_the_zero_of_their_runs(runs: Runs, ax: Axes) -> None:
    first, second = zero_sets(runs, 2.0)
    # by hand: 0.5 and 0.5 before, 1.0 after; -0.5 before and after
    assert (first.offset, first.drift, first.angle) == pytest.approx((0.75, 0.25, 8.0))
    assert (second.offset, second.drift, second.angle) == pytest.approx((-0.5, 0.0, 40.0))
    assert (first.first, first.last, second.first, second.last) == (0, 8, 9, 17)
    zero_chart(runs, ax=ax)
    assert [text.get_text() for text in ax.texts] == ["8°\nno drift found", "40°\nno drift found"]
    assert len(ax.patches) == 2
    low, high = ax.get_ylim()
    assert low < -1.0
    assert high > 1.5


def test_drift_and_a_set_without_an_end(bench: Bench, write_sheet: Write, ax: Axes) -> None:
    path = write_sheet(
        "zero,,,20.0,30,300,300,",
        "1,small,1.0,20.0,30,310,295,",
        "zero,,,20.0,30,304,300,",
        "zero,,,20.0,60,301,300,",
        "2,small,1.0,20.0,60,310,295,",
    )
    with pytest.warns(FlowuncWarning, match="no zero row at 60 deg after"):
        runs = analyse(read_sheet(path, bench), bench)
    zero_chart(runs, ax=ax)
    first, second = zero_sets(runs, 2.0)
    assert (first.offset, first.drift, first.verdict) == (2.0, 2.0, "drift found")
    assert (second.offset, second.drift, second.verdict) == (1.0, 0.0, "not checked")
    assert ax.texts[0].get_text() == "30°\ndrift found"
    assert zero_sets(runs, 1000.0)[0].verdict == "no drift found"


def test_mistakes(runs: Runs, ax: Axes) -> None:
    with pytest.raises(DimensionError, match="got Sheet; expected the runs"):
        zero_chart(runs.sheet, ax=ax)
    with pytest.raises(StatementError, match="k=0"):
        zero_chart(runs, ax=ax, k=0)


# -- one reading -----------------------------------------------------------------------------------
def test_what_a_transmitter_shows_without_flow(ax: Axes) -> None:
    bench = load_bench(DATA / "transmitter.toml")
    runs = analyse(read_sheet(DATA / "transmitter.csv", bench), bench)
    zero_chart(runs, ax=ax)
    with (DATA / "transmitter.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    zeros = [place for place, row in enumerate(rows) if row["run"] == "zero"]
    places, readings, halves = bars(ax)
    assert places.tolist() == zeros == [0, 5]
    # in kPa, though the sheet is in Pa; one display of 0.01 kPa, not two columns
    assert readings == pytest.approx([float(rows[x]["reading [Pa]"]) / 1e3 for x in zeros])
    assert halves == pytest.approx([0.005, 0.005])
    assert ax.get_ylabel() == "reading without flow in kPa"
    (one,) = zero_sets(runs, 2.0)
    assert (one.offset, one.drift) == pytest.approx((-0.01, 0.01))
    # 0.02 kPa between two readings with limits of 0.005 kPa: U = 2 sqrt(2/3) 0.005 = 0.008 kPa
    assert one.verdict == "drift found"
    assert [text.get_text() for text in ax.texts] == ["drift found"]
    names = [text.get_text() for text in ax.get_legend().get_texts()]
    assert names == ["zero row, ±0.005 kPa by rounding", "zero of the set", "± half of its change"]
    low, high = ax.get_ylim()
    assert low < -0.025
    assert high > 0.005


def test_level_of_a_well_at_the_angle_of_the_sheet(
    write_bench: Write, write_sheet: Write, ax: Axes
) -> None:
    inclined = (
        'angle_accuracy = { limits = 0.3 }\nair_density = { value = "1.19 kg/m^3", limits = 0.03 }'
    )
    keys = 'type = "well"\narea_ratio = 0.02\nangle_accuracy = { limits = 0.3 }'
    bench = load_bench(write_bench((inclined, keys)))
    path = write_sheet(
        "zero,,,20,30,12",
        "a,small,2,20,30,50",
        "zero,,,20,30,13",
        "zero,,,20,60,10",
        "b,small,2,20,60,30",
        "zero,,,20,60,10",
        header="run,meter,flow,temperature [degC],angle [deg],reading [mm]",
    )
    zero_chart(analyse(read_sheet(path, bench), bench), ax=ax)
    _, levels, halves = bars(ax)
    assert levels.tolist() == [12, 13, 10, 10]
    assert halves == pytest.approx(np.full(4, 0.5))
    # 1 mm between two readings with limits of 0.5 mm: U = 0.82 mm
    assert [text.get_text() for text in ax.texts] == ["30°\ndrift found", "60°\nno drift found"]
