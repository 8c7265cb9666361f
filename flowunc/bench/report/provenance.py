"""The section on how a report was computed, so that it can be computed again."""

from __future__ import annotations

import hashlib
import platform
import sys
import warnings
from importlib import metadata
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.description.bench_file import load_bench
from flowunc.bench.measurement_model import measured
from flowunc.bench.repeats import scatter_of
from flowunc.bench.report.asked import Asked, file_name
from flowunc.bench.report.content import Block, Listing, Section, table
from flowunc.bench.run_results import RESULTS, RunResults
from flowunc.bench.sheets.file import read_sheet
from flowunc.core.errors import FlowuncError

__all__ = ["provenance_section"]

_NOT_A_FILE = "no such file at hand any more, so its checksum is not known"
_CHANGED = (
    "The two files as they are now do not give these results: one of them was changed after it was "
    "read, or the bench in Python. The checksums are those of the files as they are now."
)


def provenance_section(asked: Asked) -> Section:
    """State versions, draws and the checksums of the files."""
    import scipy

    sheet, bench = asked.runs.sheet, asked.runs.bench
    rows = [
        ["flowunc", _version()],
        ["numpy", np.__version__],
        ["scipy", scipy.__version__],
        ["Python", platform.python_version()],
        ["coverage probability", f"{100 * asked.level:g} %"],
        ["draws", str(asked.trials)],
        ["seed of the draws", str(asked.seed)],
        ["coverage factor of comparisons", "2"],
        [f"SHA-256 of the sheet, {file_name(sheet.file)}", _checksum(sheet.file)],
        [f"SHA-256 of the bench, {file_name(bench.file)}", _checksum(bench.file)],
    ]
    blocks: list[Block] = [table("How this report was computed", ["what", "value"], rows, "lw")]
    items = [
        "The same files, versions, draws and seed give the same numbers, digit by digit.",
        *_changes(asked),
    ]
    blocks.append(Listing(tuple(items)))
    return Section("How it was computed", tuple(blocks))


def _version() -> str:
    try:
        return metadata.version("flowunc")
    except metadata.PackageNotFoundError:
        # the top package is a later layer, so it is asked for, not imported
        own = getattr(sys.modules.get("flowunc"), "__version__", None)
        return f"{own}, run from its source" if own else "not installed, run from its source"


def _checksum(file: str) -> str:
    data = _bytes(file)
    return _NOT_A_FILE if data is None else hashlib.sha256(data).hexdigest()


def _bytes(file: str) -> bytes | None:
    path = Path(file)
    try:
        return path.read_bytes() if path.is_file() else None
    except (OSError, ValueError):  # ValueError: a path with a zero byte
        return None


def _changes(asked: Asked) -> list[str]:
    """Say so if the files do not give these results any more."""
    sheet, bench = asked.runs.sheet, asked.runs.bench
    if _bytes(sheet.file) is None:
        return []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it has been said when the files were read first
        try:
            described = bench if _bytes(bench.file) is None else load_bench(bench.file)
            read = read_sheet(sheet.file, described)
            found = measured(read, scatter_of(read), described)
        except FlowuncError:
            return [_CHANGED]
    again = RunResults(labels=asked.runs.labels, bench=described, sheet=read, **found.by_name())
    same = read.rows == sheet.rows and all(
        np.array_equal(_numbers(again, of), _numbers(asked.runs, of)) for of in RESULTS
    )
    return [] if same else [_CHANGED]


def _numbers(runs: RunResults, of: str) -> NDArray[np.float64]:
    """Return values and standard uncertainties of one result."""
    quantity = runs.result(of)
    return np.stack([np.asarray(quantity.si.value), np.asarray(quantity.si.u)])
