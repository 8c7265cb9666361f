"""Type A of repeated rows against the published example of correlated means, and by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from flowunc import Length, Quantity, VolumeFlowRate
from flowunc.bench.repeats import FLOW, HIGH, LOW, TEMPERATURE, scatter_of
from flowunc.bench.sheets.sheet import Run, RunSet, Sheet, SheetRow
from flowunc.core.units import parse_unit

# [JCGM 100, H.2, table H.2]: five simultaneous readings of V in volt, I in mA, phi in rad.
VOLT = [5.007, 4.994, 5.005, 4.990, 4.999]
MILLIAMPERE = [19.663, 19.639, 19.640, 19.685, 19.678]
RADIAN = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def sheet_of(*runs: Sequence[tuple[float, float, float, float]]) -> Sheet:
    found = tuple(
        Run(tuple(SheetRow(2, f"r{n}", "m", q, t, 10, h, low, "") for q, t, h, low in rows))
        for n, rows in enumerate(runs)
    )
    zero = SheetRow(1, "zero", "", 0, 20, 10, 0, 0, "")
    return Sheet("s.csv", (), (RunSet(10, found, (zero,), (zero,)),), {})


def quantities(sheet: Sheet) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    scatter = scatter_of(sheet)
    si = parse_unit("m^3/s")
    found = (
        scatter.of(FLOW, VolumeFlowRate, si),
        scatter.of(TEMPERATURE, Quantity, parse_unit("degC")),
        scatter.of(HIGH, Length, parse_unit("mm")),
        scatter.of(LOW, Length, parse_unit("mm")),
    )
    assert all(item is not None for item in found)
    return found  # type: ignore[return-value]


def test_published_example_of_correlated_means() -> None:
    flow, temperature, high, _ = quantities(
        sheet_of(list(zip(VOLT, MILLIAMPERE, RADIAN, [7.0] * 5, strict=True)))
    )
    # table H.2: s of the means 0.0032 V, 0.0095 mA, 0.00075 rad (four digits: computed from it)
    assert flow[0].u == pytest.approx(0.0032, abs=0.00005)
    assert temperature[0].u == pytest.approx(0.0095, abs=0.00005)
    assert high[0].to("mm").u == pytest.approx(0.00075, abs=0.000005)
    # r(V, I) = -0.36, r(V, phi) = 0.86, r(I, phi) = -0.65
    assert flow[0].correlation(temperature[0]) == pytest.approx(-0.36, abs=0.005)
    assert flow[0].correlation(high[0]) == pytest.approx(0.86, abs=0.005)
    assert temperature[0].correlation(high[0]) == pytest.approx(-0.65, abs=0.005)
    assert flow[0].dof == pytest.approx(4)


def test_the_sample_covariance_matrix_comes_back() -> None:
    rows = np.random.default_rng(5).normal(size=(6, 4)) @ np.array(
        [[1e-6, 0, 2, -2], [0, 0.1, 0.5, 0], [0, 0, 1, -0.5], [0, 0, 0, 0.3]]
    )
    found = quantities(sheet_of([tuple(row) for row in rows]))
    matrix = np.array([[float(a[0].covariance(b[0])) for b in found] for a in found])
    # numpy's estimate of the covariance matrix, over n for the means [JCGM 100, 5.2.3, eq. 17]
    expected = np.cov(rows, rowvar=False) / 6
    assert matrix == pytest.approx(expected, rel=1e-10, abs=0)


@pytest.mark.parametrize("count", [2, 3])
def test_few_repeats_have_a_singular_covariance(count: int) -> None:
    rows = [(1e-4, 20.0, 310.0, 290.0), (1.2e-4, 20.5, 312.0, 287.5), (1.1e-4, 20.0, 311.0, 290.5)]
    flow, _, high, low = quantities(sheet_of(rows[:count]))
    swing = [row[2] - row[3] for row in rows[:count]]
    assert (high - low)[0].to("mm").u == pytest.approx(
        np.std(swing, ddof=1) / math.sqrt(count), rel=1e-12
    )
    assert flow[0].dof == pytest.approx(count - 1)
    assert (high - low)[0].dof == pytest.approx(count - 1)


def test_runs_without_repeats_have_no_scatter_and_no_line_in_their_budget() -> None:
    sheet = sheet_of(
        [(1, 20, 310, 290)],
        [(1, 20, 310, 290), (2, 20, 312, 290), (1, 20, 311, 290)],
        [(1, 20, 310, 290)],
        [(1, 20, 310, 290), (1, 20, 314, 290)],
    )
    _, _, high, _ = quantities(sheet)
    s = np.std([310, 312, 311], ddof=1) / math.sqrt(3)
    assert high.to("mm").u == pytest.approx([0, s, 0, 2], rel=1e-12)
    assert len(high.budget(0)) == 0
    assert list(high.budget(1)["component"]) == ["repeats"]
    assert list(np.asarray(high.dof)[[1, 3]]) == [2, 1]
    assert high[1].correlation(high[3]) == 0.0


def test_no_repeats_at_all() -> None:
    scatter = scatter_of(sheet_of([(1, 20, 310, 290)]))
    assert scatter.of(HIGH, Length, parse_unit("mm")) is None
    assert scatter.means.tolist() == [[1, 20, 310, 290]]


def test_equal_repeats_have_no_scatter() -> None:
    flow, *_ = quantities(sheet_of([(1, 20, 310, 290)] * 3))
    assert flow.u == pytest.approx([0.0])
