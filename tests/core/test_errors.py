"""Errors and warnings: one tree, built-in types, parts kept through pickling."""

from __future__ import annotations

import pickle
import re
import warnings
from pathlib import Path

import pytest

from flowunc import BenchError, FlowuncError, FlowuncWarning, SheetError
from flowunc.core import errors
from flowunc.core.errors import DocumentError, warn_user

CLASSES = [
    item
    for item in vars(errors).values()
    if isinstance(item, type) and issubclass(item, FlowuncError) and item is not FlowuncError
]


@pytest.mark.parametrize("error", CLASSES, ids=lambda e: e.__name__)
def test_every_error_is_also_a_built_in_one(error):
    assert issubclass(error, (ValueError, TypeError))


@pytest.mark.parametrize("error", CLASSES, ids=lambda e: e.__name__)
def test_every_error_survives_pickling(error):
    made = error("what was found", "runs.csv") if error in (SheetError, BenchError) else error("x")
    back = pickle.loads(pickle.dumps(made))
    assert type(back) is error
    assert str(back) == str(made)
    assert back.args == made.args


def test_sheet_error_names_the_place_and_keeps_its_parts():
    error = SheetError("expected a number", "runs.csv", line=7, column="high")
    assert str(error) == "runs.csv, line 7, column 'high': expected a number"
    back = pickle.loads(pickle.dumps(error))
    assert (back.reason, back.file, back.line, back.column) == (
        "expected a number",
        "runs.csv",
        7,
        "high",
    )


def test_bench_error_names_the_key_and_keeps_its_parts():
    error = BenchError("expected a unit", "bench.toml", key="meters.small.unit")
    assert str(error) == "bench.toml, key 'meters.small.unit': expected a unit"
    back = pickle.loads(pickle.dumps(error))
    assert (back.reason, back.file, back.key) == (error.reason, error.file, error.key)


def test_document_error_names_the_place_and_keeps_its_parts():
    assert str(DocumentError("expected text")) == "<text>: expected text"
    error = DocumentError("expected text", "/steps/3", "runs.json")
    assert str(error) == "runs.json, at /steps/3: expected text"
    back = pickle.loads(pickle.dumps(error))
    assert (back.reason, back.pointer, back.file) == ("expected text", "/steps/3", "runs.json")


def test_all_errors_of_the_package_stand_in_one_file():
    # DocumentError and BlockError were made elsewhere
    for path in Path(errors.__file__).parents[1].rglob("*.py"):
        if path.name != "errors.py":
            made = re.findall(
                r"^class (\w+)\([^)]*(?:Error|Warning)\b", path.read_text("utf-8"), re.M
            )
            assert made == [], path


def test_warning_points_at_the_line_of_the_caller():
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        warn_user("look here")
    assert [item.category for item in caught] == [FlowuncWarning]
    assert caught[0].filename == __file__


def test_warning_skips_frames_of_the_package_only():
    # called from inside a made-up module of the package, the line outside it is named
    inside = {"__name__": "flowunc.invented", "warn_user": warn_user}
    exec("def warn():\n    warn_user('x')", inside)
    outside = {"__name__": "flowunc_scripts.run", "warn": inside["warn"]}
    exec(compile("def go():\n    warn()", "run.py", "exec"), outside)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        outside["go"]()
    assert caught[0].filename == "run.py"
