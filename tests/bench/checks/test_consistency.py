"""Readings of a sheet against each other, with the uncertainties worked out by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from flowunc import (
    Bench,
    DimensionError,
    FlowuncWarning,
    RangeError,
    Runs,
    StatementError,
    analyse,
    load_bench,
    read_sheet,
)
from flowunc.bench.checks.consistency import Consistency, ConsistencyCheck, consistency
from flowunc.bench.command import EXAMPLE

DATA = Path(__file__).parents[1] / "data"
Write = Callable[..., Path]
ROOT3 = math.sqrt(3.0)


def zero(high: float, low: float = 300.0, angle: float = 10) -> str:
    return f"zero,,,19.0,{angle},{high},{low},"


def row(
    label: str,
    flow: float,
    high: float = 320,
    low: float = 290,
    *,
    meter: str = "small",
    angle: float = 10,
    temperature: float = 19.0,
    note: str = "",
) -> str:
    return f"{label},{meter},{flow},{temperature},{angle},{high},{low},{note}"


@pytest.fixture
def runs_of(bench: Bench, write_sheet: Write) -> Callable[..., Runs]:
    def made(*rows: str, on: Bench = bench) -> Runs:
        return analyse(read_sheet(write_sheet(*rows), on), on)

    return made


def only(found: Consistency, check: str) -> ConsistencyCheck:
    (one,) = [item for item in found.checks if item.check == check]
    return one


# -- zero ------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("after", "verdict"), [(300, "no drift found"), (301, "no drift found"), (302, "drift found")]
)
def test_change_of_the_balance(runs_of: Callable[..., Runs], after: int, verdict: str) -> None:
    found = consistency(runs_of(zero(300), row("a", 1.8), row("b", 2.8), zero(after)))
    check = only(found, "zero")
    # four readings of 1 mm division, each with limits of 0.5 mm: U = 2 sqrt(4/3) 0.5 mm
    assert (check.unit, check.expanded) == ("mm", pytest.approx(2 / ROOT3, rel=1e-9))
    assert check.difference == pytest.approx(after - 300, abs=1e-9)
    assert check.normalised_error == pytest.approx((after - 300) / (2 / ROOT3), abs=1e-9)
    assert (check.runs, check.verdict) == (("a", "b"), verdict)
    assert "from line 2 to line 5" in check.sentence
    assert (check in found.alarms) is (verdict == "drift found")


def test_zero_rows_that_disagree_make_the_change_less_certain(
    runs_of: Callable[..., Runs],
) -> None:
    check = only(consistency(runs_of(zero(300), zero(303), row("a", 1.8), zero(303))), "zero")
    # mean 301.5 before, as uncertain as one row and by limits of 1.5 mm, half of the range
    assert check.difference == pytest.approx(1.5, abs=1e-9)
    assert check.expanded == pytest.approx(2 * math.sqrt(4 * 0.5**2 + 1.5**2) / ROOT3, rel=1e-9)


def test_calibration_of_the_scale_cancels_in_the_change(
    runs_of: Callable[..., Runs], write_bench: Write
) -> None:
    path = write_bench(("span = [0, 620]", "span = [0, 620]\naccuracy = { limits = 5 }"))
    check = only(
        consistency(runs_of(zero(300), row("a", 1.8), zero(302), on=load_bench(path))), "zero"
    )
    assert check.expanded == pytest.approx(2 / ROOT3, rel=1e-9)


def test_a_set_without_a_zero_after_it_is_not_checked(
    runs_of: Callable[..., Runs],
) -> None:
    with pytest.warns(FlowuncWarning, match="no zero row"):
        runs = runs_of(zero(300), row("a", 1.8))
    check = only(consistency(runs), "zero")
    assert check.verdict == "not checked"
    assert math.isnan(check.difference)
    assert not consistency(runs).alarms


# -- one valve setting -----------------------------------------------------------------------------
# small: 3 % of 3 L/min; large: 1.5 % of 0.40 L/s; and half a division each; all rectangular
U_SMALL = math.hypot(0.03 * 3.0, 0.05) / ROOT3
U_LARGE = math.hypot(0.015 * 0.40, 0.005) * 60 / ROOT3


@pytest.mark.parametrize(("large", "verdict"), [(0.05, "agrees"), (0.06, "disagrees")])
def test_one_flow_on_two_meters(runs_of: Callable[..., Runs], large: float, verdict: str) -> None:
    runs = runs_of(zero(300), row("5", 3.0), row("6", large, meter="large"), zero(300))
    found = consistency(runs, same_flow=[("5", "6")])
    check = only(found, "same flow: flow")
    U = 2 * math.hypot(U_SMALL, U_LARGE)  # two meters have nothing in common
    assert check.unit == "L/min"
    assert check.difference == pytest.approx(60 * large - 3.0, abs=1e-9)
    assert check.expanded == pytest.approx(U, rel=1e-9)
    assert check.normalised_error == pytest.approx((60 * large - 3.0) / U, abs=1e-9)
    assert (check.runs, check.verdict) == (("5", "6"), verdict)
    assert "meters small and large" in check.sentence


def test_f_of_one_flow_on_two_meters_has_bore_and_zero_in_common(
    runs_of: Callable[..., Runs],
) -> None:
    runs = runs_of(zero(300), row("5", 3.0), row("6", 0.05, meter="large"), zero(300))
    check = only(consistency(runs, same_flow=[["5", 6]]), "same flow: f")
    # equal f = K dp/Q^2: what is left is twice both flows, and two columns for each run; bore (five
    # times 0.18 %), tap spacing, zero, angle and gravity cancel
    flows = 2 * math.hypot(U_SMALL, U_LARGE) / 3.0
    columns = math.sqrt(4 * 0.5**2 / 3) / 30
    f = runs.friction[0].value
    assert check.difference == pytest.approx(0.0, abs=1e-9)
    assert check.expanded == pytest.approx(2 * f * math.hypot(flows, columns), rel=2e-4)


def test_one_flow_at_two_inclinations(runs_of: Callable[..., Runs]) -> None:
    d, D = 150.0, 52.0
    runs = runs_of(
        zero(300),
        row("a", 3.0, 300 + d / 2, 300 - d / 2),
        zero(300),
        zero(300, angle=30),
        row("b", 3.0, 300 + D / 2, 300 - D / 2, angle=30),
        zero(300, angle=30),
    )
    found = consistency(runs, same_flow=[("a", "b")])
    check = only(found, "same flow: pressure drop")
    # along the scale: two columns, and the zero as the mean of two pairs; angle: cot(a) u(a)
    u_d = math.sqrt(2 * 0.5**2 / 3 + 0.5**2 / 3)
    heights, variances = [], []
    for length, degrees in ((d, 10), (D, 30)):
        a = math.radians(degrees)
        height = length * math.sin(a)
        heights.append(height)
        relative = math.hypot(u_d / length, math.radians(0.3) / ROOT3 / math.tan(a))
        variances.append((height * relative) ** 2)
    # water less air at 19 degC: 998.4 - 1.19 kg/m^3 (computed [IAPWS SR6-08]); g 9.807 m/s^2
    pascal = (998.4 - 1.19) * 9.807e-3
    assert check.difference == pytest.approx(pascal * (heights[1] - heights[0]), rel=1e-3)
    assert check.expanded == pytest.approx(2 * pascal * math.sqrt(sum(variances)), rel=1e-3)
    assert check.verdict == "agrees"
    assert "inclinations 10 and 30 deg" in check.sentence
    flow = only(found, "same flow: flow")
    # one meter: its calibration cancels, two resolutions stay
    assert flow.expanded == pytest.approx(2 * math.sqrt(2) * 0.05 / ROOT3, rel=1e-9)


def test_weighted_mean_of_what_agrees(runs_of: Callable[..., Runs]) -> None:
    runs = runs_of(zero(300), row("5", 3.0), row("6", 0.06, meter="large"), zero(300))
    # at k = 2.4 E_n is below 1; chi-square at p = 0.05 still decides on the mean
    found = consistency(runs, same_flow=[("5", "6")], k=2.4)
    assert only(found, "same flow: flow").verdict == "agrees"
    mean = only(found, "same flow: mean flow")
    assert mean.verdict == "inconsistent"
    assert math.isnan(mean.expanded)
    assert (("5", "6"), "flow") not in found.means

    runs = runs_of(zero(300), row("5", 3.1), row("6", 0.05, meter="large"), zero(300))
    found = consistency(runs, same_flow=[("5", "6")])
    u_small = math.hypot(0.03 * 3.1, 0.05) / ROOT3
    # numpy's weighted polynomial of degree 0
    (value,), covariance = np.polyfit(
        [0, 0], [3.1, 3.0], 0, w=[1 / u_small, 1 / U_LARGE], cov="unscaled"
    )
    mean = found.means[("5", "6"), "flow"].mean
    assert mean.value == pytest.approx(value, rel=1e-9)
    assert mean.u == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-9)
    assert only(found, "same flow: mean flow").expanded == pytest.approx(2 * mean.u, rel=1e-12)
    assert mean.correlation(runs.flow[0]) > 0.9, "recorded"


def test_three_runs_make_three_pairs(runs_of: Callable[..., Runs]) -> None:
    rows = [row("a", 3.0), row("b", 0.05, meter="large"), row("c", 3.0)]
    found = consistency(runs_of(zero(300), *rows, zero(300)), same_flow=[("a", "b", "c")])
    pairs = [check.runs for check in found.checks if check.check == "same flow: f"]
    assert pairs == [("a", "b"), ("a", "c"), ("b", "c")]
    assert set(found.means) == {
        (("a", "b", "c"), of) for of in ("flow", "pressure_drop", "friction")
    }
    assert found.candidates == ()


def test_warmer_water_is_mentioned_where_runs_disagree(runs_of: Callable[..., Runs]) -> None:
    rows = [row("a", 2.0, 350, 260), row("b", 2.0, 320, 290, temperature=24.0)]
    runs = runs_of(zero(300), *rows, zero(300))
    check = only(consistency(runs, same_flow=[("a", "b")]), "same flow: pressure drop")
    assert check.verdict == "disagrees"
    assert "The water differs by 5 K" in check.sentence


def test_candidates_are_mentioned_and_not_assumed(runs_of: Callable[..., Runs]) -> None:
    rows = [
        row("a", 3.0),
        row("b", 0.05, meter="large"),
        row("c", 0.20, meter="large"),
        row("d", 1.0),
    ]
    found = consistency(runs_of(zero(300), *rows, zero(300)))
    assert found.candidates == (("a", "b"),)
    assert not any(check.check.startswith("same flow") for check in found.checks)
    assert "same_flow=[('a', 'b')]" in found.sentences[-1]


# -- repeats and dye -------------------------------------------------------------------------------
def test_a_misread_repeat_is_flagged_with_its_line(runs_of: Callable[..., Runs]) -> None:
    highs = [320, 322, 319, 321, 230, 320]
    runs = runs_of(zero(300), row("a", 2.0), *(row("b", 2.8, high) for high in highs), zero(300))
    check = only(consistency(runs), "repeats")
    assert (check.runs, check.verdict) == (("b",), "outlier")
    # line 1 is the header; G of the fifth reading, worked out with numpy
    G = (np.mean(highs) - 230) / np.std(highs, ddof=1)
    assert f"high 230 mm in line 8 (outlier, G = {G:.3f}" in check.sentence
    assert "low" not in check.sentence
    # nothing is removed: the mean of all six stands behind the run
    again = [row("b", 2.8, float(np.mean(highs)))]
    plain = runs_of(zero(300), row("a", 2.0), *again, zero(300))
    assert runs.pressure_drop[1].value == pytest.approx(plain.pressure_drop[1].value, rel=1e-9)


def test_a_straggler_is_no_outlier(runs_of: Callable[..., Runs]) -> None:
    # G = 1.93 of six: between 1.887 and 1.973 [ISO 5725-2, table 5]
    highs = [318.0, 322.0, 319.0, 321.0, 320.0, 329.0]
    G = (329 - np.mean(highs)) / np.std(highs, ddof=1)
    assert 1.89 < G < 1.97
    runs = runs_of(zero(300), *(row("b", 2.8, high) for high in highs), zero(300))
    check = only(consistency(runs), "repeats")
    assert check.verdict == "straggler"


def test_one_division_apart_is_no_outlier(runs_of: Callable[..., Runs]) -> None:
    runs = runs_of(zero(300), *(row("b", q) for q in (2.8, 2.8, 2.9, 2.8, 2.8)), zero(300))
    assert only(consistency(runs), "repeats").verdict == "no outlier"


def test_two_repeats_cannot_be_tested(runs_of: Callable[..., Runs]) -> None:
    runs = runs_of(zero(300), row("b", 2.8), row("b", 2.9), zero(300))
    assert only(consistency(runs), "repeats").verdict == "not checked"


def test_dye_notes(runs_of: Callable[..., Runs]) -> None:
    # Re = 4 Q/(pi D nu), nu = 1.03e-6 m^2/s at 19 degC: 1930 at 1.8 L/min, 19300 at 0.30 L/s
    runs = runs_of(
        zero(300),
        row("a", 1.7, note="dye mixed"),
        row("b", 0.30, meter="large", note="dye mixed"),
        row("c", 1.6, note="dye blue"),
        row("d", 1.6, note="float trembles"),
        zero(300),
    )
    found = consistency(runs, trials=5000)
    dye = {check.runs[0]: check.verdict for check in found.checks if check.check == "dye"}
    assert dye == {"a": "contradicts", "b": "agrees", "c": "no statement"}
    assert [check.runs for check in found.alarms] == [("a",)]


# -- the whole -------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def example() -> Runs:
    bench = load_bench(EXAMPLE / "bench.toml")
    return analyse(read_sheet(EXAMPLE / "sheet.csv", bench), bench)


def test_the_example_is_consistent(example: Runs) -> None:
    found = consistency(example, same_flow=[("5", "6")], trials=20_000)
    assert found.alarms == ()
    table = found.table()
    assert table.columns.tolist() == list(ConsistencyCheck._fields)
    assert len(table) == len(found.checks)
    assert table.runs[0] == "1, 2, 3, 4, 5, 6"
    text = str(found)
    assert "none of them asks for a look" in text
    assert max(map(len, text.splitlines())) <= 100
    assert text.count("\n- ") == len(found.sentences)
    assert "<table" in found._repr_html_()
    assert consistency(example, trials=20_000).candidates == (("5", "6"),)


@pytest.mark.parametrize(
    ("same_flow", "error", "text"),
    [
        (("5", "6"), DimensionError, "expected groups of labels"),
        ("56", DimensionError, "expected groups of labels"),
        ({"5": "6"}, DimensionError, "expected groups of labels"),
        ([("5",)], RangeError, "expected two or more different runs"),
        ([("5", 5)], RangeError, "expected two or more different runs"),
        ([("5", "99")], RangeError, "no run '99'"),
    ],
)
def test_wrong_groups_are_refused(
    example: Runs, same_flow: object, error: type[Exception], text: str
) -> None:
    with pytest.raises(error, match=text):
        consistency(example, same_flow=same_flow)  # type: ignore[arg-type]


def test_other_arguments_are_checked(example: Runs) -> None:
    with pytest.raises(DimensionError, match="got str"):
        consistency("sheet.csv")  # type: ignore[arg-type]
    with pytest.raises(StatementError, match="k=0"):
        consistency(example, k=0)


# -- other manometers ------------------------------------------------------------------------------
READING = "run,meter,flow,temperature [degC],reading [Pa],note"


def transmitter(write_sheet: Write, *rows: str) -> Runs:
    bench = load_bench(DATA / "transmitter.toml")
    return analyse(read_sheet(write_sheet(*rows, header=READING), bench), bench)


def test_zero_of_a_transmitter(write_sheet: Write) -> None:
    rows = ["1,oil,10,30,3230,", "2,oil,20,30,6270,"]
    found = consistency(transmitter(write_sheet, "zero,,,29,-20,", *rows, "zero,,,30,0,"))
    check = only(found, "zero")
    # two readings of a display of 0.01 kPa: U = 2 sqrt(2/3) 0.005 kPa
    assert (check.unit, check.expanded) == ("kPa", pytest.approx(0.01 * math.sqrt(2 / 3), rel=1e-9))
    assert check.difference == pytest.approx(0.02)
    assert check.sentence.startswith(
        "Runs 1 and 2: the zero reading changed by 0.0200 ± 0.0082 kPa"
    )
    assert "more than its resolution explains" in check.sentence
    assert check.sentence.endswith("or a transmitter that warmed up.")
    with pytest.warns(FlowuncWarning, match="no zero row after this run"):
        runs = transmitter(write_sheet, "zero,,,29,-20,", *rows)
    check = only(consistency(runs), "zero")
    assert check.sentence.startswith("Runs 1 and 2: no zero after this set")


def test_a_misread_single_reading_is_called_reading(write_sheet: Write) -> None:
    read = [6270, 6280, 6260, 6270, 2670, 6270]
    rows = [f"2,oil,20,30,{pascal}," for pascal in read]
    found = consistency(transmitter(write_sheet, "zero,,,29,0,", *rows, "zero,,,30,0,"))
    check = only(found, "repeats")
    G = (np.mean(read) - 2670) / np.std(read, ddof=1)
    assert check.verdict == "outlier"
    assert f": reading 2.67 kPa in line 7 (outlier, G = {G:.3f} beyond" in check.sentence
    assert "high" not in check.sentence
    assert "low " not in check.sentence


def test_one_valve_setting_without_inclinations(write_sheet: Write) -> None:
    rows = ["1,oil,10,30,3230,", "2,oil,10,36,6270,"]
    runs = transmitter(write_sheet, "zero,,,29,0,", *rows, "zero,,,30,0,")
    check = only(consistency(runs, same_flow=[("1", "2")]), "same flow: pressure drop")
    assert "one valve setting, same meter: pressure drop" in check.sentence
    assert "The liquid differs by 6.1 K" in check.sentence  # by the correction for the stem


def test_zero_of_an_upright_u_tube(write_sheet: Write) -> None:
    bench = load_bench(DATA / "u_tube.toml")
    path = write_sheet(
        "zero,,,19,350,350",
        "a,small,9,19.4,378.5,322",
        "zero,,,19,360,350",
        header="run,meter,flow,temperature [degC],high [mm],low [mm]",
    )
    check = only(consistency(analyse(read_sheet(path, bench), bench)), "zero")
    assert check.sentence.startswith("Run a: the balance changed by")
    assert check.sentence.endswith("or a scale that moved.")
