"""What a report asks: reasons without paths, the run that is shown in full."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from flowunc.bench.command import EXAMPLE
from flowunc.bench.report.asked import Asked, file_name, is_invented
from flowunc.bench.runs import Runs
from flowunc.core.errors import RangeError, SheetError


@pytest.fixture
def asked(runs: Runs) -> Asked:
    return Asked(runs=runs, level=0.95, trials=2_000, seed=0)


def test_a_reason_names_the_file_without_its_folder(asked: Asked) -> None:
    def fail() -> str:
        raise SheetError("no such run", asked.runs.sheet.file, 3)

    text = asked.attempt(fail)
    assert text == "This could not be computed: sheet.csv, line 3: no such run."


def test_an_error_that_is_none_of_ours_is_not_hidden(asked: Asked) -> None:
    with pytest.raises(ZeroDivisionError):
        asked.attempt(lambda: 1 / 0)


def test_the_run_in_full_is_known_worst_of_those_where_the_linear_method_holds(
    asked: Asked,
) -> None:
    holds = np.flatnonzero(asked.check("friction").holds)
    relative = np.asarray(asked.runs.friction.u) / np.asarray(asked.runs.friction.value)
    assert asked.place in holds
    assert relative[asked.place] == relative[holds].max()


def test_a_run_can_be_asked_for(runs: Runs) -> None:
    assert Asked(runs=runs, level=0.95, trials=2_000, seed=0, run="9").place == 8
    with pytest.raises(RangeError, match="no run '99'"):
        _ = Asked(runs=runs, level=0.95, trials=2_000, seed=0, run="99").place


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("/home/someone/lab/sheet.csv", "sheet.csv"),
        (r"C:\lab\sheet.csv", "sheet.csv"),
        ("sheet.csv", "sheet.csv"),
        ("<bench>", "described in Python"),
    ],
)
def test_file_names(file: str, name: str) -> None:
    assert file_name(file) == name


def test_only_the_example_is_invented(tmp_path: Path) -> None:
    own = tmp_path / "sheet.csv"
    own.write_text("run,meter\n", encoding="utf-8")
    assert is_invented(str(EXAMPLE / "sheet.csv"))
    assert not is_invented(str(own))
    assert not is_invented(str(tmp_path / "none.csv"))
    assert not is_invented("a\0b")
