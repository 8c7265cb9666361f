"""The results of a lab sheet as JSON: all quantities with their common record.

A document of runs is a document of quantities: `flowunc.from_json` reads it, and what comes back
is a dict of the results by name, correlated as they were. Which runs they are, and which readings
they rest on, stands beside them under ``about``. Bench and sheet are not in it: they are files of
their own, and the results need neither.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import astuple
from os import PathLike
from pathlib import Path

from flowunc.bench.run_results import RESULTS, RunResults
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.errors import DimensionError
from flowunc.core.exchange.json_text import document_text

__all__ = ["readings_digest", "runs_to_json"]


def runs_to_json(
    runs: RunResults, path: str | PathLike[str] | None = None, *, indent: int | None = None
) -> str:
    """Write the results of all runs as JSON.

    Parameters
    ----------
    runs : Runs
    path : str or path, optional
        File to write as well.
    indent : int, optional
        As in `flowunc.to_json`.

    Returns
    -------
    str
        What `flowunc.from_json` reads as a dict of ``flow``, ``temperature``, ``density``,
        ``viscosity``, ``velocity``, ``reynolds``, ``pressure_drop`` and ``friction``, each of
        shape (n,) in the order of the sheet.

    Raises
    ------
    PropagationError
        A function of your own in the record.

    Notes
    -----
    ``about`` holds the ``runs`` (labels, in the order of the values), the names of ``sheet`` and
    ``bench``, and ``readings_sha256``, see `readings_digest`. Nothing that was drawn is written:
    the same seed gives the same draws after reading.

    Examples
    --------
    >>> import json
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, from_json, load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> text = runs_to_json(runs)
    >>> back = from_json(text)
    >>> bool((back["friction"].u == runs.friction.u).all())
    True
    >>> json.loads(text)["about"]["runs"][:3]
    ['1', '2', '3']
    """
    if not isinstance(runs, RunResults):
        raise DimensionError(
            f"runs_to_json of {type(runs).__name__}: expected runs, as flowunc.analyse gives them"
        )
    about = {
        "runs": list(runs.labels),
        "sheet": Path(runs.sheet.file).name,
        "bench": Path(runs.bench.file).name,
        "readings_sha256": readings_digest(runs.sheet),
    }
    text = document_text({name: runs.result(name) for name in RESULTS}, about, indent)
    if path is not None:
        Path(path).write_text(text, encoding="ascii", newline="\n")
    return text


def readings_digest(sheet: Sheet) -> str:
    """Return the SHA-256 of the readings of a sheet.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    str
        64 hexadecimal digits: of the rows as JSON, ASCII, without white space, each a list of
        line, label, meter, flow, temperature, angle, high, low and note.

    Notes
    -----
    Of what was read and not of the file: the file may have changed since, and a sheet saved with
    other separators holds the same readings.

    Examples
    --------
    >>> readings_digest(Sheet("empty.csv", (), (), {}))[:8]
    '4f53cda1'
    """
    rows = json.dumps([astuple(row) for row in sheet.rows], separators=(",", ":"))
    return hashlib.sha256(rows.encode("ascii")).hexdigest()
