"""`analyse`: from a lab sheet to Re and f of every run, correlations kept."""

from __future__ import annotations

from flowunc.bench.description.bench import Bench
from flowunc.bench.measurement_model import measured
from flowunc.bench.nearest_name import nearest
from flowunc.bench.repeats import scatter_of
from flowunc.bench.runs import Runs
from flowunc.bench.sheets.form import form_of
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.errors import BenchError, DimensionError

__all__ = ["analyse"]


def analyse(sheet: Sheet, bench: Bench) -> Runs:
    """Compute Reynolds number and friction factor of every run of a lab sheet.

    Parameters
    ----------
    sheet : Sheet
        What `read_sheet` gave.
    bench : Bench
        Where it was filled in.

    Returns
    -------
    Runs
        With one quantity per result, shape (runs,), in the order of the sheet.

    Raises
    ------
    SheetError, BenchError, RangeError
        A sheet that was read for a bench with other meters or units, or that does not fit.

    Notes
    -----
    One instrument has one calibration error behind all of its readings; two meters have two.
    Each inclination setting has one error of the angle; each set of runs has one zero, with the
    drift over it.

    A run with repeats stands for the means of its rows. Their scatter is Type A: the covariance
    matrix of the four means, with n - 1 degrees of freedom, so that columns that swing together
    do so in the result too [JCGM 100, 4.2.3 and H.2]. The resolution of a mean stays that of one
    reading, in full: rows that are rounded to the same mark have the same rounding error, and
    no number of them averages it out.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> len(runs.friction) == len(runs.labels)
    True
    """
    _check(sheet, bench)
    found = measured(sheet, scatter_of(sheet), bench)
    labels = tuple(run.label for run in sheet.runs)
    return Runs(labels=labels, bench=bench, sheet=sheet, **found.by_name())


def _check(sheet: Sheet, bench: Bench) -> None:
    for value, kind in ((sheet, Sheet), (bench, Bench)):
        if not isinstance(value, kind):
            raise DimensionError(
                f"analyse(sheet, bench): got {type(value).__name__}; expected {kind.__name__}, as "
                "read_sheet and load_bench give them"
            )
    if sheet.columns != form_of(bench).columns:
        raise BenchError(
            f"{bench.manometer_kind.title}, but {sheet.file} was read for a bench whose sheets "
            f"have the columns {', '.join(sheet.columns)}; read it again with read_sheet and this "
            "bench",
            bench.file,
            "manometer",
        )
    used = {run.meter for run in sheet.runs}
    wanted = {"thermometer": bench.thermometer.scale.unit, "manometer": bench.manometer.scale.unit}
    for name in used:
        if name not in bench.meters:
            raise BenchError(
                f"no meter {name!r}, which {sheet.file} names; {nearest(name, bench.meters)}"
                f"expected it among {', '.join(bench.meters)}",
                bench.file,
                "meters",
            )
        wanted[f"meters.{name}"] = bench.meters[name].scale.unit
    for key, unit in wanted.items():
        if sheet.units.get(key) != unit:
            raise BenchError(
                f"unit '{unit}', but {sheet.file} was read for a bench with "
                f"'{sheet.units.get(key)}'; read it again with read_sheet and this bench",
                bench.file,
                f"{key}.unit",
            )
