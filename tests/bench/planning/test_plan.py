"""The plan as a whole: its quantities, its tables, its text."""

from __future__ import annotations

import copy
import math
import pickle
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flowunc import (
    Angle,
    Bench,
    FrictionFactor,
    InclinedManometer,
    Length,
    RangeError,
    Ratio,
    Scale,
    Temperature,
    VolumeFlowRate,
    agreement,
    laws,
    load_bench,
)
from flowunc.analysis.improvement import improvements
from flowunc.bench.planning.plan import Plan, plan
from flowunc.fluids import water

FLOWS = VolumeFlowRate([0.5, 1.0, 1.5, 3.5, 12.0, 22.0], "L/min")


@pytest.fixture
def session(bench: Bench) -> Plan:
    return plan(bench, flows=FLOWS, inclinations=[5, 10, 30, 90])


def test_every_cell_is_in_the_table(session: Plan) -> None:
    table = session.table()
    assert len(table) == len(session) == 6 * 2 * 4
    assert table["flow"].tolist() == np.repeat(FLOWS.value, 8).tolist()
    assert table["meter"].tolist()[:8] == ["small"] * 4 + ["large"] * 4
    assert table["inclination"].tolist()[:4] == [5, 10, 30, 90]
    unread = table["U(f)/f"].isna()
    assert unread.any()
    assert (unread == table["high"].isna()).all()
    assert (unread == table["U(Re)/Re"].isna()).all()
    assert table.loc[unread, "note"].str.contains("off the scale|exceeds the board").all()
    assert not table.loc[~unread, "note"].str.contains("off the scale|exceeds the board").any()
    assert table["f"].notna().all()


def test_quantities_are_those_of_the_table(session: Plan) -> None:
    table = session.table()
    for meter, angle in (("small", 10.0), ("large", 30.0), ("large", 90.0)):
        mine = table[(table["meter"] == meter) & (table["inclination"] == angle)]
        mine = mine.dropna(subset=["U(f)/f"])
        friction, reynolds = session.friction(meter, angle), session.reynolds(meter, angle)
        assert isinstance(friction, FrictionFactor)
        np.testing.assert_allclose(session.flow(meter, angle).value, mine["flow"], rtol=1e-12)
        np.testing.assert_allclose(friction.value, mine["f"], rtol=1e-9)
        np.testing.assert_allclose(reynolds.value, mine["Re"], rtol=1e-9)
        np.testing.assert_allclose(
            friction.expanded(0.95).U / friction.value, mine["U(f)/f"], rtol=1e-12
        )
        # the share of the largest source, from the budget
        budget = friction.budget(0)
        budget["source"] = budget["component"].str.partition(",")[0]
        shares = budget.groupby("source")["share"].sum()
        assert shares.idxmax() == mine["limited by"].iloc[0]
        assert shares.max() / shares.sum() == pytest.approx(mine["share"].iloc[0], rel=1e-6)


def test_planned_laminar_flow_agrees_with_its_law(session: Plan) -> None:
    """f and 64/Re have flow, bore and temperature in common: their difference has less of them."""
    friction, reynolds = session.friction("small", 10)[:3], session.reynolds("small", 10)[:3]
    found = agreement(friction, laws.laminar(reynolds))
    assert np.max(np.abs(found.normalised_error)) < 1e-6
    assert (np.asarray(found.expanded) < 2 * np.asarray(friction.u)).all()


def test_improvements_can_be_asked(session: Plan) -> None:
    friction = session.friction("small", 10)
    target = 0.5 * float(friction.expanded(0.95).U[1] / friction.value[1])
    table = improvements(friction, relative_target=target, row=1)
    assert len(table)
    assert session.pressure_drop("small", 10).unit == "Pa"


def test_settings_that_are_left_out(bench: Bench, session: Plan) -> None:
    single = plan(bench, flows=FLOWS, inclinations=Angle(10, "deg"), meters="small")
    np.testing.assert_allclose(
        single.friction("small").value, session.friction("small", 10).value, rtol=1e-12
    )
    with pytest.raises(RangeError, match="more than one inclination: say which of 5, 10, 30, 90"):
        session.friction("small")
    with pytest.raises(RangeError, match=r"inclination 11\.0 is not in this plan"):
        session.friction("small", 11)
    with pytest.raises(RangeError, match="did you mean 'small'"):
        session.friction("smal", 10)
    with pytest.raises(RangeError, match="number of repeats 3 is not in this plan"):
        session.friction("small", 10, 3)


def test_best_is_the_smallest(session: Plan) -> None:
    best, table = session.best(), session.table()
    assert best["flow"].tolist() == FLOWS.value.tolist()
    for _, line in best.iterrows():
        mine = table[table["flow"] == line["flow"]]
        assert line["U(f)/f"] == mine["U(f)/f"].min()
        same = mine[(mine["meter"] == line["meter"]) & (mine["inclination"] == line["inclination"])]
        assert same["U(f)/f"].iloc[0] == line["U(f)/f"]


def test_more_flow_and_more_repeats_help(bench: Bench) -> None:
    flows = VolumeFlowRate(np.linspace(0.5, 1.9, 8), "L/min")  # laminar
    scatter = {"flow": Ratio(1, "%"), "deflection": Length(1, "mm")}
    session = plan(
        bench, flows=flows, inclinations=10, meters="small", repeats=(4, 8, 16), scatter=scatter
    )
    table = session.table().pivot(index="repeats", columns="flow", values="U(f)/f").to_numpy()
    assert (np.diff(table, axis=0) < 0).all()
    assert (np.diff(table, axis=1) < 0).all()


def test_finer_marks_and_warmer_water(bench: Bench) -> None:
    finer = replace(
        bench,
        manometer=InclinedManometer(Scale(0.1, "mm", span=(0, 620)), angle=Angle(90, "deg")),
    )
    flow = VolumeFlowRate(1.0, "L/min")
    coarse, fine = (
        plan(one, flows=flow, inclinations=30, meters="small").best()["U(f)/f"].iloc[0]
        for one in (bench, finer)
    )
    assert fine < coarse
    # viscosity falls with temperature, so Re grows and laminar f falls
    cold, warm = (
        plan(bench, flows=flow, temperature=Temperature(celsius, "degC"), inclinations=30).best()
        for celsius in (10, 30)
    )
    assert warm["Re"].iloc[0] > cold["Re"].iloc[0]
    assert warm["f"].iloc[0] < cold["f"].iloc[0]


def test_nothing_can_be_read(bench: Bench) -> None:
    session = plan(bench, flows=VolumeFlowRate([50, 60], "L/min"), inclinations=[10, 90])
    best = session.best()
    assert best["U(f)/f"].isna().all()
    assert best["meter"].tolist() == ["-", "-"]
    assert "off the scale of small" in best["note"].iloc[0]
    assert "off the scale of large" in best["note"].iloc[0]
    assert session.settings().empty
    text = str(session)
    assert "60 L/min cannot be read: 60 L/min is off the scale of small" in text.replace(
        "\n  ", " "
    )
    with pytest.raises(RangeError, match="nothing of this plan can be read"):
        session.friction("small", 10)


def test_no_flow_can_be_read_at_one_setting(bench: Bench) -> None:
    session = plan(bench, flows=VolumeFlowRate(20, "L/min"), inclinations=[1, 90])
    with pytest.raises(RangeError, match="no flow can be read on large at 1 deg: deflection of"):
        session.friction("large", 1)


def test_few_settings_serve_all_flows(bench: Bench) -> None:
    flows = VolumeFlowRate(np.geomspace(0.5, 20, 15), "L/min")
    session = plan(bench, flows=flows)
    found, table = session.settings(0.02), session.table()
    smallest = table.groupby(["flow", "inclination"])["U(f)/f"].min().unstack()
    served = 0
    excess = smallest.div(smallest.min(axis=1), axis=0) - 1
    for _, line in found.iterrows():
        mine = (excess.index >= line["from"]) & (excess.index <= line["to"])
        served += int(mine.sum())
        worst = excess.loc[mine, line["inclination"]].max()
        assert worst == pytest.approx(line["excess"], abs=1e-12)
        assert worst <= 0.02
    assert served == 15
    for (_, one), (_, other) in zip(found[:-1].iterrows(), found[1:].iterrows(), strict=True):
        # no inclination serves a stretch and the first flow of the next one
        mine = (excess.index >= one["from"]) & (excess.index <= other["from"])
        assert excess.loc[mine].max(skipna=False).min() > 0.02
    assert len(session.settings(0.9)) <= len(found)


def test_text(bench: Bench) -> None:
    session = plan(
        bench,
        flows=FLOWS,
        repeats=(1, 6),
        scatter={"flow": Ratio(1, "%"), "deflection": Length(2, "mm")},
        target=Ratio(15, "%"),
    )
    text = str(session)
    assert max(len(line) for line in text.splitlines()) <= 100
    flat = " ".join(text.split())
    for words in (
        "Water at 20 degC. Coverage 95 %, linear method.",
        "Expected scatter of a single reading: 1 % (flow), 2 mm (deflection).",
        "small (6x)",
        "all flows that can be read, with U(f)/f at most 5 % above that of the best one:",
        "Flows that both small and large show (0.04 L/s to 0.06667 L/s):",
        "Smallest flow with U(f)/f of 15 % or less:",
        "(6 repeats)",
        "follow local rules",
    ):
        assert words in flat
    assert "No scatter of readings expected" in str(plan(bench, flows=FLOWS, inclinations=10))
    assert "no law holds; prandtl_smooth is taken as a guide" in " ".join(
        str(plan(bench, flows=VolumeFlowRate(3, "L/min"), k=2)).split()
    )


@pytest.mark.parametrize("name", ["a", "a meter with a name that is far too long for a line" * 3])
def test_text_of_long_names_stays_narrow(bench: Bench, name: str) -> None:
    changed = replace(bench, meters={name: bench.meters["small"]})
    text = str(plan(changed, flows=VolumeFlowRate([1, 2, 9], "L/min"), inclinations=10))
    assert max(len(line) for line in text.splitlines()) <= 100


def test_html_and_repr(session: Plan) -> None:
    assert "<table" in session._repr_html_()
    assert repr(session).endswith("6 flows, 2 meters, 4 inclinations>")


def test_copies_are_the_same_plan(session: Plan) -> None:
    for other in (copy.deepcopy(session), pickle.loads(pickle.dumps(session))):
        difference: Any = other.friction("small", 10) - session.friction("small", 10)
        assert np.max(np.abs(difference.value)) == 0
        assert np.max(np.asarray(difference.u)) < 1e-12


def test_planned_angles_are_those_of_the_bench(bench: Bench) -> None:
    session = plan(bench, flows=VolumeFlowRate(1, "L/min"), inclinations=[10, 20], meters="small")
    error = next(iter(bench.angle(10).components))
    assert error in session.friction("small", 10).components
    assert math.isfinite(float(session.friction("small", 10).u[0]))


def test_chart_is_drawn_from_the_plan_itself(bench: Bench) -> None:
    import matplotlib as mpl

    with mpl.rc_context({"backend": "Agg"}):
        session = plan(bench, flows=VolumeFlowRate([1.0, 2.0], "L/min"))
        axes = session.chart("inclination")
        assert axes.get_xlabel() == "inclination in deg"
        assert session.chart("inclination", ax=axes) is axes


# -- where nothing is inclined ---------------------------------------------------------------------
DATA = Path(__file__).parents[1] / "data"


def test_one_reading_and_no_inclination() -> None:
    bench = load_bench(DATA / "transmitter.toml")
    session = plan(bench, flows=VolumeFlowRate([1, 3, 28], "L/min"))
    table = session.table()
    assert table["inclination"].tolist() == [90, 90, 90]
    assert not {"high", "low"} & set(table.columns)
    # laminar, so the drop goes with the flow [White 2003, ch. 6: Hagen-Poiseuille]
    assert table["manometer reading"][2] == pytest.approx(28 / 3 * table["deflection"][1], rel=1e-9)
    assert math.isnan(table["manometer reading"][0])
    assert session.best()["meter"].tolist() == ["-", "oil", "oil"]
    assert len(session.friction("oil")) == 2
    assert repr(session).endswith("3 flows, 1 meters>")
    text = str(session)
    assert "reading/kPa" in text
    assert "Oil at 20 degC." in text
    assert "1 L/min is off the scale of oil, 2 to 30 L/min" in text
    assert not re.search(r"\bdeg\b|angle|inclin|board|high-low|Water", text)


def test_off_the_span_of_a_transmitter_only() -> None:
    bench = load_bench(DATA / "transmitter.toml")
    narrow = replace(bench, bore=Length(12, "mm"))
    session = plan(narrow, flows=VolumeFlowRate([3, 20], "L/min"))
    assert session.readings.readable.tolist() == [True, False]
    assert session.readings.flow_readable.tolist() == [True, True]
    shown = session.readings.deflection[1]
    note = f"{shown:.4g} kPa is off the scale of the transmitter, 0 to 40 kPa"
    assert session.best()["note"].tolist() == ["", note]
    both = replace(bench, meters={**bench.meters, "B": bench.meters["oil"]}, bore=narrow.bore)
    read = plan(both, flows=VolumeFlowRate([3, 20], "L/min")).friction("B")
    assert len(read) == 1


def test_two_columns_and_no_inclination() -> None:
    session = plan(
        load_bench(DATA / "u_tube.toml"), flows=VolumeFlowRate([2.5, 7, 30, 60], "L/min"), k=2
    )
    text = " ".join(str(session).split())
    for words in (
        "Seawater at 20 degC. Coverage k = 2",
        "high-low/mm",
        "exceeds the scale's 700 mm",
        "Smallest flow with U(f)/f of 10 % or less: 5.",
        "58.87 L/min is outside the calibration of small, 2 to 11 L/min",
    ):
        assert words in text
    assert not re.search(r"\bdeg\b|angle|inclin|board", text)


@pytest.mark.parametrize(
    ("liquid", "name"),
    [
        ('water = "pure"', "Pure water"),
        ('water = "tap"', "Water"),
        ('name = "glycerol_water"\nglycerol = { value = "20 %", limits = 0.5 }', "Glycerol and w"),
    ],
)
def test_what_flows_is_named(write_bench: Any, liquid: str, name: str) -> None:
    bench = load_bench(write_bench(more=f"\n[liquid]\n{liquid}\n"))
    text = str(plan(bench, flows=VolumeFlowRate(1, "L/min"), inclinations=20))
    assert f". {name}" in " ".join(text.split())


def test_a_liquid_without_a_name(bench: Bench) -> None:
    class Plain:
        density = staticmethod(water.density)
        viscosity = staticmethod(water.viscosity)

    text = str(
        plan(replace(bench, liquid=Plain()), flows=VolumeFlowRate(1, "L/min"), inclinations=20)
    )
    assert ". Liquid at 20 degC." in text
