"""Which columns go with which manometer."""

from __future__ import annotations

from pathlib import Path

import pytest

from flowunc import Bench, load_bench
from flowunc.bench.description.manometer_kinds import KINDS, kind_of
from flowunc.bench.sheets.form import ANY_COLUMN, INCLINED, form_of

DATA = Path(__file__).parents[1] / "data"
ALWAYS = ("run", "meter", "flow", "temperature")


@pytest.mark.parametrize(
    ("name", "read", "shown"),
    [
        ("two_meters", ("angle", "high", "low"), ["angle [deg]", "high [mm]", "low [mm]"]),
        ("u_tube", ("high", "low"), ["high [mm]", "low [mm]"]),
        ("transmitter", ("reading",), ["reading [kPa]"]),
    ],
)
def test_columns_of_a_bench(name: str, read: tuple[str, ...], shown: list[str]) -> None:
    form = form_of(load_bench(DATA / f"{name}.toml"))
    assert form.columns == (*ALWAYS, *read, "note")
    assert [form.shown(column) for column in read] == shown
    assert set(form.columns) <= set(ANY_COLUMN)


def test_the_form_of_an_inclined_manometer_is_the_usual_one(bench: Bench) -> None:
    assert form_of(bench) == INCLINED
    assert form_of(bench).shown("flow") == "flow"


def test_every_kind_is_told_by_its_instrument() -> None:
    assert {kind.instrument for kind in KINDS.values()} == {
        type(load_bench(DATA / "two_meters.toml").manometer),
        *(kind.instrument for kind in KINDS.values() if kind.word != "inclined"),
    }
    assert kind_of(load_bench(DATA / "u_tube.toml").manometer) is KINDS["u_tube"]
    assert kind_of(3) is None
