"""Repeats worth making, against Student's t of `scipy.stats`.

Where scatter is all there is, U(n) = t(n - 1) s/sqrt(n) [JCGM 100, 4.2.3 and G.3.2]; f goes with
1/flow^2, so a scatter of 1 % of the flow is 2 % of f.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    Acceleration,
    Angle,
    Bench,
    Density,
    InclinedManometer,
    Length,
    RangeError,
    Ratio,
    Scale,
    StatementError,
    Thermometer,
    VariableAreaMeter,
    VolumeFlowRate,
    limits,
    load_bench,
    plan,
)
from flowunc.bench.planning.repeats import worthwhile_repeats

FLOW = VolumeFlowRate(1.0, "L/min")
SCATTER = {"flow": Ratio(1, "%")}


@pytest.fixture
def exact() -> Bench:
    """Nothing but scatter counts: what is left is below 1e-5."""
    return Bench(
        bore=Length(20, "mm", limits(0)),
        tap_spacing=Length(2.5, "m", limits(0)),
        meters={"tube": VariableAreaMeter(Scale(1e-7, "L/min", span=(0.1, 4)), limits(0))},
        thermometer=Thermometer(Scale(1e-7, "degC"), limits(0)),
        manometer=InclinedManometer(Scale(1e-7, "mm", span=(0, 500)), Angle(90, "deg")),
        angle_accuracy=limits(0),
        gravity=Acceleration(9.81, "m/s^2", limits(0)),
        air_density=Density(1.2, "kg/m^3", limits(0)),
    )


def factor(n: int) -> float:
    return float(stats.t.ppf(0.975, n - 1)) / math.sqrt(n)


def test_table_against_student(exact: Bench) -> None:
    found = worthwhile_repeats(exact, FLOW, scatter=SCATTER, inclination=30, most=12)
    table = found.table().set_index("repeats")
    assert table.loc[1, "U(f)/f"] == pytest.approx(stats.norm.ppf(0.975) * 0.02, rel=1e-4)
    for n in range(2, 13):
        assert table.loc[n, "U(f)/f"] == pytest.approx(factor(n) * 0.02, rel=1e-3)
        assert table.loc[n, "k"] == pytest.approx(stats.t.ppf(0.975, n - 1), rel=1e-3)
    for n in range(2, 12):
        assert table.loc[n, "gain"] == pytest.approx(1 - factor(n + 1) / factor(n), abs=1e-4)
    assert table.loc[1, "gain"] < 0  # two readings know their scatter badly


@pytest.mark.parametrize("gain", [0.2, 0.1, 0.05])
def test_number_against_student(exact: Bench, gain: float) -> None:
    found = worthwhile_repeats(exact, FLOW, scatter=SCATTER, gain=gain, inclination=30)
    expected = next(n for n in range(2, 100) if 1 - factor(n + 1) / factor(n) < gain)
    assert found.repeats == expected
    assert found.sentence.startswith(f"1 L/min on tube: {expected} repeats bring U(f)/f from")


def test_a_known_k_makes_it_the_root_of_n(exact: Bench) -> None:
    found = worthwhile_repeats(exact, FLOW, scatter=SCATTER, gain=0.1, k=2, inclination=30)
    np.testing.assert_allclose(
        found.table()["U(f)/f"], 0.04 / np.sqrt(found.table()["repeats"]), rtol=1e-4
    )
    # 1 - sqrt(n/(n + 1)) < 0.1 from n = 5 on
    assert found.repeats == 5


def test_repeats_that_do_not_pay(exact: Bench) -> None:
    # gains of half of U end at n = 3, where U is still above that of one reading
    assert factor(3) > stats.norm.ppf(0.975) > factor(4)
    found = worthwhile_repeats(exact, FLOW, scatter=SCATTER, gain=0.5, inclination=30)
    assert found.repeats == 1
    assert "repeats do not pay" in found.sentence


def test_resolution_and_calibration_are_not_averaged_out(bench: Bench) -> None:
    few, many = (
        worthwhile_repeats(bench, FLOW, scatter=SCATTER, most=most, meter="small").table()
        for most in (2, 1000)
    )
    alone = worthwhile_repeats(
        bench, FLOW, scatter={"flow": Ratio(1e-6, "%")}, most=2, meter="small"
    ).table()
    assert few.loc[0, "U(f)/f"] > alone.loc[0, "U(f)/f"]
    assert many["U(f)/f"].iloc[-1] == pytest.approx(alone.loc[0, "U(f)/f"], rel=1e-3)


def test_not_enough_looked_at(exact: Bench) -> None:
    found = worthwhile_repeats(
        exact, FLOW, scatter=SCATTER, gain=0.01, most=10, inclination=Angle(30, "deg")
    )
    assert found.repeats == 10
    assert "look at more with most=" in found.sentence


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"scatter": None}, StatementError, "without it no repeat gains anything"),
        ({"scatter": {}}, StatementError, "without it no repeat gains anything"),
        ({"gain": 5}, RangeError, "did you mean"),
        ({"most": 1}, RangeError, "expected 2 repeats or more"),
        ({"inclination": [10, 20]}, RangeError, "got 2 settings"),
        ({"inclination": 0.05}, RangeError, "exceeds the board's"),
        ({"meter": "tub"}, RangeError, "did you mean 'tube'"),
    ],
)
def test_mistakes(
    exact: Bench, options: dict[str, Any], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        worthwhile_repeats(exact, FLOW, **{"scatter": SCATTER, **options})


def test_where_nothing_is_inclined() -> None:
    bench = load_bench(Path(__file__).parents[1] / "data" / "u_tube.toml")
    flow = VolumeFlowRate(7, "L/min")
    found = worthwhile_repeats(bench, flow, scatter=SCATTER, most=3)
    table = plan(bench, flows=flow, scatter=SCATTER, repeats=(1, 2, 3)).table()
    mine = table[table["meter"] == found.meter]
    assert found.meter == "small"
    np.testing.assert_allclose(found.table()["U(f)/f"], mine["U(f)/f"], rtol=1e-9)
    assert found.table()["U(f)/f"][0] < table.loc[table["meter"] == "large", "U(f)/f"].min()
    assert "deg" not in found.sentence
