"""`read_sheet`: a lab sheet, checked cell by cell against the bench it was filled in at."""

from __future__ import annotations

from os import PathLike

from flowunc.bench.checks.column_balance import column_balance
from flowunc.bench.checks.mirrored_columns import warn_of_mirrored_columns
from flowunc.bench.checks.repeat_checks import warn_of_unlike_repeats
from flowunc.bench.description.bench import Bench
from flowunc.bench.sheets.columns import SheetCells
from flowunc.bench.sheets.form import form_of
from flowunc.bench.sheets.rows import RowReader
from flowunc.bench.sheets.run_sets import find_sets
from flowunc.bench.sheets.sheet import Sheet
from flowunc.bench.sheets.text import read_sheet_text
from flowunc.core.errors import DimensionError

__all__ = ["read_sheet"]


def read_sheet(path: str | PathLike[str], bench: Bench) -> Sheet:
    """Read and check a lab sheet.

    Parameters
    ----------
    path : str or path
        CSV file, UTF-8, with a header such as
        ``run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note``, in order of
        time. Separated by semicolons, if the header line has semicolons and no comma; then a
        comma in a number is a decimal comma.
    bench : Bench
        Where it was filled in.

    Returns
    -------
    Sheet

    Raises
    ------
    SheetError
        A row that cannot be used: names file, line and column, what was found and what was
        expected. No row is passed over.

    Warns
    -----
    FlowuncWarning
        Runs without a zero row after them, whose drift is not known; zero rows beside no run;
        rows of one label that are too far apart to be repeats; columns that mirror each other,
        so that their rounding errors are not independent.

    Notes
    -----
    The columns go with the manometer of the bench: ``angle`` only where it can be set; in place of
    ``high`` and ``low`` one ``reading`` of a well manometer or a pressure transmitter, as in
    ``reading [kPa]``.

    ``flow`` is in the unit of the meter of its row, unless its header has a unit. Rows of one
    label that follow each other are repeats of one run. ``zero`` rows at one angle that follow
    each other are averaged; those before and after the runs at that angle bracket them, and one
    block of zero rows may close one set and open the next.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> sheet = read_sheet(folder / "sheet.csv", load_bench(folder / "bench.toml"))
    >>> [found.angle for found in sheet.sets]
    [8.0, 40.0]
    """
    if not isinstance(bench, Bench):
        raise DimensionError(
            f"read_sheet(path, bench): got {type(bench).__name__}; expected a Bench, as load_bench "
            "gives it"
        )
    form = form_of(bench)
    reader = RowReader(SheetCells(read_sheet_text(path), form), bench)
    rows = tuple(reader.row(record) for record in reader.cells.rows)
    reader.check_water(rows)
    units = {f"meters.{name}": meter.scale.unit for name, meter in bench.meters.items()}
    units |= {"thermometer": bench.thermometer.scale.unit, "manometer": bench.manometer.scale.unit}
    header_units = {
        name: str(column.unit)
        for name, column in reader.cells.columns.items()
        if column.unit is not None
    }
    sets = find_sets(rows, reader.cells)
    sheet = Sheet(reader.cells.file, rows, sets, units, form.columns, header_units)
    column_balance(sheet, bench)  # refuses columns that were exchanged
    warn_of_unlike_repeats(sheet, bench)
    warn_of_mirrored_columns(sheet, bench)
    return sheet
