"""Questions about a sheet answer what the same questions about its bare quantities answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import flowunc as fu
from flowunc.bench import Runs
from flowunc.bench.run_text import EXAMPLE
from flowunc.core.errors import RangeError

TRIALS = 20_000
ZERO = "zero,,,19.0,10,300.0,300.0,"


@pytest.fixture(scope="module")
def runs() -> Runs:
    bench = fu.load_bench(EXAMPLE / "bench.toml")
    return fu.analyse(fu.read_sheet(EXAMPLE / "sheet.csv", bench), bench)


def in_regime(runs: Runs, low: float, high: float) -> np.ndarray:
    re = np.asarray(runs.reynolds.value)
    return np.flatnonzero((re > low) & (re < high))


def test_budgets_name_the_runs(runs: Runs) -> None:
    table = runs.budgets("friction")
    assert list(dict.fromkeys(table["run"])) == list(runs.labels)
    shares = table.groupby("run", sort=False)["share"].sum()
    np.testing.assert_allclose(shares, 1.0, rtol=1e-12)
    single = runs.budget("9", "friction").set_index("component")["contribution"]
    mine = table[table["run"] == "9"].set_index("component")["contribution"]
    for name, contribution in mine.items():
        assert single[name] == pytest.approx(contribution, rel=1e-12)


def test_improvements_are_those_of_the_run(runs: Runs) -> None:
    found = runs.improvements("3", relative_target=0.08)
    expected = fu.improvements(runs.friction[2], relative_target=0.08)
    assert found["source"].tolist() == expected["source"].tolist()
    np.testing.assert_allclose(found["factor"], expected["factor"], rtol=1e-9)


def test_shortcut_with_velocity_loses_the_fifth_power_of_the_bore(runs: Runs) -> None:
    # f = pi^2 D^5 dp / (8 rho L Q^2): relative sensitivity 5 to the bore. With the velocity apart
    # it is 1 and, through v^2 = (4 Q / (pi D^2))^2, another 4: 17 D^2 in place of 25 D^2.
    table = runs.shortcuts("10").set_index("shortcut")
    f, u = float(runs.friction.value[9]), float(runs.friction.u[9])
    relative_bore = 0.04 / np.sqrt(3) / 16.00
    expected = np.sqrt(u**2 - (25 - 17) * (f * relative_bore) ** 2)
    assert table.loc["mean velocity independent", "u"] == pytest.approx(expected, rel=1e-6)
    assert table.loc["correct", "u"] == pytest.approx(u, rel=1e-14)
    assert set(table["run"]) == {"10"}


def test_shortcuts_of_all_runs_and_of_a_result_without_intermediates(runs: Runs) -> None:
    assert set(runs.shortcuts(of="reynolds")["run"]) == set(runs.labels)
    assert "viscosity independent" not in " ".join(runs.shortcuts("1", "flow")["shortcut"])


def test_fits_take_the_runs_of_their_regime(runs: Runs) -> None:
    laminar, turbulent = in_regime(runs, 0, 2300), in_regime(runs, 4000, 1e9)
    constant = runs.laminar_constant(trials=TRIALS)
    expected = fu.fit_laminar_constant(runs.reynolds[laminar], runs.friction[laminar])
    assert constant.constant.value == expected.constant.value
    law = runs.power_law("turbulent", trials=TRIALS)
    direct = fu.fit_power_law(runs.reynolds[turbulent], runs.friction[turbulent])
    assert law.exponent.value == direct.exponent.value
    rough = runs.roughness(trials=TRIALS)
    assert rough.dof == turbulent.size - 1
    assert runs.compare_laws(trials=TRIALS).best is not None


def test_agreement_by_draws_and_by_the_linear_method_see_the_same_runs(runs: Runs) -> None:
    drawn = runs.drawn_agreement(trials=TRIALS)
    linear = runs.agreement(trials=TRIALS)
    assert len(drawn.verdicts) == len(linear.measured)
    bias = runs.common_bias(trials=TRIALS)
    assert bias.before.value == pytest.approx(linear.chi_square, rel=1e-9)
    assert runs.residual_pattern(trials=TRIALS).whitened.size == len(linear.measured)


def test_consistency_is_asked_of_the_runs(runs: Runs) -> None:
    found = runs.consistency(same_flow=[("5", "6")], trials=TRIALS)
    assert (("5", "6"), "flow") in found.means


def test_regime_without_runs_is_refused_with_what_there_is(runs: Runs) -> None:
    turbulent_only = fu.analyse(runs.sheet, runs.bench)
    with pytest.raises(RangeError, match=r"expected 'laminar' or 'turbulent'"):
        turbulent_only.power_law("transitional", trials=TRIALS)  # type: ignore[arg-type]


def test_regime_missing_from_a_sheet_is_refused(tmp_path) -> None:
    bench = fu.load_bench(EXAMPLE / "bench.toml")
    lines = (EXAMPLE / "sheet.csv").read_text(encoding="utf-8").splitlines()
    laminar = [line for line in lines if line.split(",")[0] in ("run", "zero", "1", "2", "3")]
    path = tmp_path / "sheet.csv"
    path.write_text("\n".join(laminar[:6] + laminar[6:7]) + "\n", encoding="utf-8")
    few = fu.analyse(fu.read_sheet(path, bench), bench)
    with pytest.raises(RangeError, match=r"no turbulent run in .*: 1 laminar, 2 laminar"):
        few.roughness(trials=TRIALS)


def test_runs_keep_their_labels_in_what_is_found(
    write_sheet: Callable[..., Path], bench: fu.Bench
) -> None:
    rows = [f"{label},small,1.8,19.0,10,309.5,295.5," for label in ("cold", "B7")]
    runs = fu.analyse(fu.read_sheet(write_sheet(ZERO, *rows, ZERO), bench), bench)
    for found in (
        runs.cross_check(trials=2000),
        runs.agreement(trials=2000),
        runs.drawn_agreement(trials=2000),
        runs.regimes(trials=2000),
    ):
        assert found.names == ("cold", "B7")
        assert list(found.table().index) == ["cold", "B7"]
        lines = str(found).splitlines()
        starts = [line.split()[0] for line in lines if line.strip()]
        assert {"cold", "B7"} <= set(starts)
        assert "0" not in starts
        assert max(map(len, lines)) <= 100
        assert "cold" in found._repr_html_()
