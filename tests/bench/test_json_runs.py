"""The results of a sheet as JSON: the same results, and which runs they are."""

from __future__ import annotations

import csv
import json
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from flowunc import DimensionError, Length, Runs, analyse, load_bench, read_sheet
from flowunc.bench.command import EXAMPLE
from flowunc.bench.json_runs import readings_digest, runs_to_json
from flowunc.bench.run_results import RESULTS
from flowunc.bench.sheets.sheet import Sheet, SheetRow
from flowunc.core.exchange.json_text import from_json


@pytest.fixture(scope="module")
def runs() -> Runs:
    bench = load_bench(EXAMPLE / "bench.toml")
    return analyse(read_sheet(EXAMPLE / "sheet.csv", bench), bench)


def test_all_results_come_back_with_their_correlations(runs: Runs) -> None:
    back = from_json(runs_to_json(runs))
    assert tuple(back) == RESULTS
    for of in RESULTS:
        old, new = runs.result(of), back[of]
        assert (type(new), new.unit, new.label) == (type(old), old.unit, old.label)
        assert new.value.tobytes() == old.value.tobytes()
        assert new.u.tobytes() == old.u.tobytes()
        assert np.all((new - old).u <= 1e-12 * old.u)
        assert new.budget(4).equals(old.budget(4))
    before = runs.friction.covariance(runs.reynolds)
    assert back["friction"].covariance(back["reynolds"]).tobytes() == before.tobytes()
    drawn = [each.monte_carlo(400, seed=9).samples() for each in (runs.friction, back["friction"])]
    assert drawn[0].tobytes() == drawn[1].tobytes()


def test_runs_and_readings_are_named(runs: Runs) -> None:
    about = json.loads(runs_to_json(runs))["about"]
    assert about["runs"] == list(runs.labels)
    assert (about["sheet"], about["bench"]) == ("sheet.csv", "bench.toml")  # no folders of ours
    assert about["readings_sha256"] == readings_digest(runs.sheet)


def test_the_digest_is_that_of_the_readings(runs: Runs, tmp_path: Path) -> None:
    row = SheetRow(2, "1", "small", 1.5, 20.0, 8.0, 3.0, 1e-07, "\u00e4")
    written = r'[[2,"1","small",1.5,20.0,8.0,3.0,1e-07,"\u00e4"]]'
    assert readings_digest(Sheet("own.csv", (row,), (), {})) == sha256(written.encode()).hexdigest()
    source = (EXAMPLE / "sheet.csv").read_text(encoding="utf-8")
    same, other = tmp_path / "same.csv", tmp_path / "other.csv"
    with open(same, "w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=";").writerows(csv.reader(source.splitlines()))
    number = f"{runs.sheet.rows[-1].high:g}"
    lines = source.splitlines()
    assert number in lines[-1]
    lines[-1] = lines[-1].replace(number, f"{runs.sheet.rows[-1].high + 0.5:g}", 1)
    other.write_text("\n".join(lines) + "\n", encoding="utf-8")
    found = [readings_digest(read_sheet(path, runs.bench)) for path in (same, other)]
    assert found[0] == readings_digest(runs.sheet)
    assert found[1] != found[0]


def test_files_and_indent(runs: Runs, tmp_path: Path) -> None:
    path = tmp_path / "results.json"
    text = runs_to_json(runs, path, indent=2)
    assert path.read_text(encoding="ascii") == text
    assert json.loads(text) == json.loads(runs_to_json(runs))
    assert from_json(path)["flow"].value.tolist() == runs.flow.value.tolist()


def test_other_things_are_refused(runs: Runs) -> None:
    for wrong in (runs.sheet, Length(1.0, "m"), None):
        with pytest.raises(DimensionError, match="expected runs, as"):
            runs_to_json(wrong)  # type: ignore[arg-type]
