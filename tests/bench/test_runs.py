"""What can be asked about analysed runs."""

from __future__ import annotations

import dataclasses
import math
import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import uncertainties

from flowunc import (
    FlowuncWarning,
    PropagationError,
    RangeError,
    Ratio,
    ReynoldsNumber,
    Runs,
    StatementError,
    analyse,
    cross_check,
    limits,
    load_bench,
    read_sheet,
    regime,
)
from flowunc.bench.command import EXAMPLE
from flowunc.bench.run_results import RESULTS

Write = Callable[..., Path]


@pytest.fixture(scope="module")
def runs() -> Runs:
    bench = load_bench(EXAMPLE / "bench.toml")
    return analyse(read_sheet(EXAMPLE / "sheet.csv", bench), bench)


def test_one_quantity_per_result_in_the_order_of_the_sheet(runs: Runs) -> None:
    assert runs.labels == tuple(["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"])
    for of in RESULTS:
        assert len(runs.result(of)) == len(runs) == 10
    with pytest.raises(RangeError, match="no result 're'; expected one of flow, temperature"):
        runs.result("re")


@pytest.mark.parametrize(("run", "place"), [("10", 9), (1, 0), ("9", 8)])
def test_runs_are_found_by_label(runs: Runs, run: str | int, place: int) -> None:
    assert runs.position(run) == place
    assert runs.budget(run, of="reynolds").equals(runs.reynolds.budget(place))


def test_unknown_run_is_named(runs: Runs) -> None:
    with pytest.raises(RangeError, match="no run '11'; did you mean '1"):
        runs.budget("11")


def test_draws_are_kept_but_not_pickled(runs: Runs) -> None:
    check = runs.cross_check(trials=2000)
    assert runs.cross_check(trials=2000) is check
    assert runs.cross_check(trials=2000, seed=1) is not check
    copy = pickle.loads(pickle.dumps(runs))
    assert copy._kept == {}
    assert (copy.friction - runs.friction).u == pytest.approx([0.0] * 10, abs=1e-12)
    assert copy.cross_check(trials=2000).table().equals(check.table())


def test_cross_check_of_any_result(runs: Runs) -> None:
    found = runs.cross_check("velocity", trials=5000, seed=3)
    alone = cross_check(runs.velocity, trials=5000, seed=3, sampler="random")
    assert found.table().reset_index(drop=True).equals(alone.table())
    assert tuple(found.table().index) == found.names == runs.labels
    with pytest.raises(StatementError, match="level=2"):
        runs.cross_check(level=2)


def test_regimes_are_those_of_the_same_draws_asked_for_alone(runs: Runs) -> None:
    found, alone = runs.regimes(trials=5000, seed=2), regime(runs.reynolds, trials=5000, seed=2)
    for name in ("laminar", "transitional", "turbulent"):
        assert getattr(found, name) == pytest.approx(getattr(alone, name), abs=1e-12)
    assert found.name == alone.name
    assert (found.laminar_below, found.turbulent_above, found.trials) == (2300, 4000, 5000)


def test_draws_of_re_without_a_value_have_no_regime(runs: Runs) -> None:
    squares = Ratio([4.0e6] * 2 + [1.0] * 8, "1", limits(2))
    lost = ReynoldsNumber._from_node(np.sqrt(squares)._node)
    broken = dataclasses.replace(runs, reynolds=lost)
    with (
        pytest.warns(FlowuncWarning, match="run 3, run 4.* no finite value"),
        pytest.raises(PropagationError, match=r"\d+ of 2000 draws of Re in run 3 have no value"),
    ):
        broken.regimes(trials=2000)


def test_agreement_cancels_what_f_and_law_have_in_common(runs: Runs) -> None:
    found = runs.agreement(trials=2000)
    compared = runs.laws(trials=2000).compared
    assert runs.labels[3] == "4"
    assert 3 not in compared  # transitional
    # laminar runs by the uncertainties package: f - 64/Re of the same run, k = 2
    for row in range(3):
        f, re = _together(runs, row)
        difference = f - 64 / re
        expected = difference.n / (2 * difference.s)
        assert np.asarray(found.normalised_error)[row] == pytest.approx(expected, rel=1e-7)
    table = runs.table(trials=2000)
    shown = table.loc[list(compared), "E_n"]
    assert shown.to_list() == pytest.approx(np.asarray(found.normalised_error).tolist(), rel=1e-9)


def _together(runs: Runs, row: int) -> tuple[object, object]:
    """Return f and Re of one run as correlated numbers, from values and covariance alone."""
    pair = (runs.friction[row], runs.reynolds[row])
    matrix = [[float(a.covariance(b)) for b in pair] for a in pair]
    return uncertainties.correlated_values([q.value for q in pair], matrix)  # type: ignore[no-any-return]


def test_no_law_no_agreement(write_bench: Write, write_sheet: Write) -> None:
    bench = load_bench(write_bench(more="[laws]\nlaminar_below = 100\nturbulent_above = 90000\n"))
    zero = "zero,,,19.0,10,300.0,300.0,"
    sheet = read_sheet(write_sheet(zero, "1,small,1.8,19.0,10,309.5,295.5,", zero), bench)
    runs = analyse(sheet, bench)
    with pytest.raises(RangeError, match="no run has a law to be held against: transitional"):
        runs.agreement(trials=2000)
    table = runs.table(trials=2000)
    assert table["law"].to_list() == ["-"]
    assert table["E_n"].isna().all()


def test_table_is_tidy(runs: Runs) -> None:
    table = runs.table(seed=2, trials=50_000)
    assert len(table) == 10
    assert table["run"].to_list() == list(runs.labels)
    assert table["flow unit"].to_list() == ["L/h"] * 5 + ["L/min"] * 5
    assert table["Re"].to_list() == pytest.approx(list(np.asarray(runs.reynolds.value)))
    assert ((table["f low"] < table["f"]) & (table["f"] < table["f high"])).all()
    fails = table["linear method"] != "holds"
    assert table.loc[fails, "U(f)"].isna().all()
    holds = table[~fails]
    assert (holds["f high"] - holds["f low"]).to_list() == pytest.approx(
        (2 * holds["U(f)"]).to_list()
    )
    # mean of 14, 14.25, 14 and 14 L/min
    assert table.loc[8, "flow"] == pytest.approx(14.0625)
    assert table["probability"].between(1 / 3, 1).all()
    again = runs.table(seed=2, trials=50_000)
    assert again.equals(table)


def test_a_few_repeats_widen_the_interval(runs: Runs) -> None:
    # four rows: 3 degrees of freedom for the scatter [JCGM 100, G.4.1], infinite for the rest
    dof = np.asarray(runs.friction.dof)
    assert math.isfinite(dof[8])
    assert dof[8] >= 3
    assert np.isinf(np.delete(dof, 8)).all()


def test_text_and_html(runs: Runs) -> None:
    assert str(runs) == runs.text()
    assert repr(runs).endswith("10 runs in 2 sets>")
    assert "<td>large</td>" in runs._repr_html_()
