"""What is read from strangers, each with the question that any input has to answer rightly.

A target takes bytes as they may come and reads them with flowunc. It returns True where they were
read, False where they were refused with an error of flowunc that names its place and reason.
Anything else raises: another exception, a warning of a library, a message without a place, a
result that changes when it is written and read again, seconds or memory without end.
"""

from __future__ import annotations

import csv
import io
import math
import re
import resource
import signal
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import numpy as np

import flowunc.bench
from flowunc import (
    Bench,
    BenchError,
    FlowuncError,
    FlowuncWarning,
    Quantity,
    SheetError,
    UnitError,
    analyse,
    from_json,
    load_bench,
    read_sheet,
    to_json,
)
from flowunc.bench.description.statement_table import read_amount
from flowunc.bench.description.toml_table import TomlTable
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.errors import DocumentError
from flowunc.core.units import parse_unit

T = TypeVar("T")

MOST_SECONDS = 2.0  # of processor time
MOST_GROWTH = 200_000_000  # bytes
LONGEST_MESSAGE = 1_500  # characters: nobody reads more
TESTS = Path(__file__).parents[1]
EXAMPLE = Path(flowunc.bench.__file__).parent / "example"


# -- what all ask --------------------------------------------------------------------------------
def attempt(make: Callable[[], T]) -> tuple[T | None, FlowuncError | None]:
    """Return what was made, or why not; any other error or warning goes through."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", FlowuncWarning)
        try:
            return make(), None
        except FlowuncError as error:
            found = error
    message = str(found)
    assert 0 < len(message.strip()) <= LONGEST_MESSAGE, f"{len(message)} characters of message"
    assert message.isprintable(), f"a message that moves the cursor: {message!r}"
    return None, found


def judge(name: str, data: bytes) -> bool:
    """Ask a target, and hold it to the limits of time and memory."""
    before = _most_memory()
    usual = signal.signal(signal.SIGVTALRM, _too_long)
    # of the process's own time: it may have to wait for others
    signal.setitimer(signal.ITIMER_VIRTUAL, MOST_SECONDS)
    try:
        answer = TARGETS[name](data)
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, usual)
    grown = _most_memory() - before
    assert grown <= MOST_GROWTH, f"took {grown / 1e6:.0f} MB"
    return answer


def _too_long(*_: object) -> NoReturn:
    raise AssertionError(f"takes more than {MOST_SECONDS} s")


def _most_memory() -> int:
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


@cache
def _folder() -> Path:
    # kept as long as the process: its finaliser removes the folder
    _folder.kept = tempfile.TemporaryDirectory(prefix="flowunc-fuzz-")  # type: ignore[attr-defined]
    return Path(_folder.kept.name)  # type: ignore[attr-defined]


def _file(name: str, data: bytes) -> Path:
    path = _folder() / name
    path.write_bytes(data)
    return path


# -- lab sheets ----------------------------------------------------------------------------------
@cache
def benches() -> tuple[Bench, ...]:
    data = TESTS / "bench" / "data"
    paths = [EXAMPLE / "bench.toml", data / "u_tube.toml", data / "transmitter.toml"]
    return tuple(load_bench(path) for path in paths)


def sheet(data: bytes) -> bool:
    """Read a lab sheet with benches of three kinds of manometer."""
    path = _file("sheet.csv", data)
    read = False
    for bench in benches():
        found, error = attempt(lambda bench=bench: read_sheet(path, bench))  # type: ignore[misc]
        if error is None:
            assert found is not None
            read = True
            _check_again(found, bench)
        else:
            _check_place(error, path, data)
    return read


def _check_place(error: FlowuncError, path: Path, data: bytes) -> None:
    assert isinstance(error, SheetError)
    assert error.file == str(path)
    lines = 1 + len(data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n"))
    assert error.line is not None
    assert 1 <= error.line <= lines
    assert error.column is None or len(error.column) <= 60
    assert error.reason.strip()


def _check_again(found: Sheet, bench: Bench) -> None:
    """Write the readings anew, with points and with commas: the sheet is the same."""
    for separator in ",;":
        path = _folder() / "again.csv"
        path.write_text(_written(found, separator), encoding="utf-8", newline="")
        again, error = attempt(lambda path=path: read_sheet(path, bench))  # type: ignore[misc]
        assert again is not None, f"read, but not when written again: {error}"
        assert _bare(again) == _bare(found)


def _bare(found: Sheet) -> Any:
    rows = [replace(row, line=0) for row in found.rows]
    return rows, [(each.angle, [run.label for run in each.runs]) for each in found.sets]


def _written(found: Sheet, separator: str) -> str:
    units = {
        "temperature": found.units["thermometer"],
        "angle": "deg",
        **dict.fromkeys(("high", "low", "reading"), found.units["manometer"]),
    }

    def number(value: float) -> str:
        return repr(value).replace(".", "," if separator == ";" else ".")

    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    writer.writerow(f"{name} [{units[name]}]" if name in units else name for name in found.columns)
    for row in found.rows:
        cells = {
            "run": row.label,
            "meter": row.meter,
            "flow": "" if row.is_zero else number(row.flow),
            "reading": number(row.high),
            "note": row.note,
        }
        writer.writerow(
            cells[name] if name in cells else number(getattr(row, name)) for name in found.columns
        )
    return out.getvalue()


def report(data: bytes) -> bool:
    """Analyse a lab sheet and print the report of its runs."""
    path = _file("sheet.csv", data)
    bench = benches()[0]
    found, error = attempt(lambda: read_sheet(path, bench))
    if found is None:
        assert isinstance(error, SheetError)
        return False
    if len(found.rows) > 40:  # seconds for each are no defect of a report of hundreds of runs
        return True
    runs, error = attempt(lambda: analyse(found, bench))
    if runs is None:
        assert error is not None
        return False
    text, error = attempt(lambda: runs.text(trials=500))
    if text is None:
        return False
    assert all(line.isprintable() for line in text.split("\n"))
    for run in found.runs:
        assert run.label in text
    document, error = attempt(lambda: to_json(list(runs.friction)))
    assert document is not None, error
    for one, other in zip(from_json(document), runs.friction, strict=True):
        assert (one.value, one.u) == (other.value, other.u)
    return True


# -- bench files ---------------------------------------------------------------------------------
def bench(data: bytes) -> bool:
    """Read the description of a bench; with other line ends it is the same bench."""
    path = _file("bench.toml", data)
    made, error = attempt(lambda: load_bench(path))
    if made is None:
        assert isinstance(error, BenchError)
        assert error.file == str(path)
        place = re.search(r"line \d+|end of document|nested", error.reason)
        assert error.key is not None or place, f"no place: {error}"
        return False
    told = _told(made)
    if b"\r" not in data:
        path.write_bytes(data.replace(b"\n", b"\r\n"))
        again, error = attempt(lambda: load_bench(path))
        assert again is not None, error
        assert _told(again) == told
    return True


def _told(made: Bench) -> list[Any]:
    lengths = (made.bore, made.tap_spacing, made.gravity)
    quantities: list[Quantity] = [quantity for quantity in lengths if quantity is not None]
    for instrument in (*made.meters.values(), made.thermometer, made.manometer):
        low, high = instrument.scale.span or (10.0, 20.0)
        read, _ = attempt(lambda i=instrument, at=(low + high) / 2: i.read(at))  # type: ignore[misc]
        if read is not None:
            quantities.append(read)
            names, _ = attempt(lambda q=read: list(q.budget()["component"]))  # type: ignore[misc]
            assert names is None or "".join(names).isprintable()
    found: list[Any] = [list(made.meters)]
    for quantity in quantities:
        numbers, _ = attempt(lambda q=quantity: (q.value, q.u))  # type: ignore[misc]
        if numbers is not None:
            assert math.isfinite(numbers[0])
            assert math.isfinite(numbers[1])
            assert numbers[1] >= 0
        found.append((numbers, quantity.unit))
    return found


def amount(data: bytes) -> bool:
    """Read a number with its unit, as bench files have them."""
    text = data.decode("utf-8", "surrogateescape")
    table = TomlTable({"value": text}, "bench.toml", "pipe.bore")
    found, error = attempt(lambda: read_amount(table, "value", text, 'value = "19.05 mm"'))
    if found is None:
        assert isinstance(error, BenchError)
        assert (error.file, error.key) == ("bench.toml", "pipe.bore.value")
        if re.match(r"\s*[+-]?[0-9]+,[0-9]", text):  # what is wrong is the comma, not the unit
            assert error.reason.startswith("got the text")
        return False
    number, unit = found
    # the longest beginning that Python takes for a number
    digits = re.match(r"[0-9+.eE-]*", text.strip())
    assert digits is not None
    assert number == next(_floats(digits.group()))
    assert read_amount(table, "value", f"{number!r} {unit}", "") == found
    return True


def _floats(text: str) -> Iterator[float]:
    for end in range(len(text), 0, -1):
        try:
            yield float(text[:end])
        except ValueError:
            continue


# -- units ---------------------------------------------------------------------------------------
def unit(data: bytes) -> bool:
    """Read a unit; what it is shown as is read as the same unit."""
    text = data.decode("utf-8", "surrogateescape")
    found, error = attempt(lambda: parse_unit(text))
    if found is None:
        assert isinstance(error, UnitError)
        return False
    assert 0.0 < found.factor < math.inf
    assert parse_unit(str(found)) == found
    powers = [abs(power) for power in found.dimension.exponents]
    if max(powers) <= 20 and max(power.denominator for power in powers) <= 1_000:
        assert parse_unit(str(found.dimension)).dimension is found.dimension
    again = found.from_si(found.to_si(300.0))
    assert math.isclose(again, 300.0, rel_tol=1e-12) or not 1e-290 < found.factor < 1e290
    return True


# -- documents -----------------------------------------------------------------------------------
def document(data: bytes) -> bool:
    """Read quantities from JSON; written again, they are the same."""
    path = _file("document.json", data)
    found, error = attempt(lambda: from_json(path))
    if found is None:
        assert isinstance(error, DocumentError)
        assert error.file == str(path)
        assert error.pointer == "" or error.pointer.startswith("/")
        return False
    text, error = attempt(lambda: to_json(found))
    assert text is not None, f"read, but not written again: {error}"
    again = from_json(text)
    assert to_json(again) == text
    for one, other in zip(_listed(found), _listed(again), strict=True):
        assert (type(one), one.unit, one.label) == (type(other), other.unit, other.label)
        assert np.array_equal(one.value, other.value)
        for ask in (lambda q: q.u, lambda q: q.dof, str):
            first, why = attempt(lambda q=one, ask=ask: ask(q))  # type: ignore[misc]
            second, _ = attempt(lambda q=other, ask=ask: ask(q))  # type: ignore[misc]
            assert why is not None or np.array_equal(first, second)
    return True


def _listed(found: Any) -> list[Quantity]:
    if isinstance(found, Quantity):
        return [found]
    return list(found.values() if isinstance(found, dict) else found)


TARGETS: dict[str, Callable[[bytes], bool]] = {
    "sheet": sheet,
    "report": report,
    "bench": bench,
    "amount": amount,
    "unit": unit,
    "document": document,
}
