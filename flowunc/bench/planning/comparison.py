"""What was measured beside what a plan would have said of the very same runs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from flowunc.bench.checks.column_balance import column_balance
from flowunc.bench.law_choice import normalised_errors
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.indications import slope_of
from flowunc.bench.planning.readings import predict
from flowunc.bench.run_decisions import RunDecisions
from flowunc.core.errors import DimensionError
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["compare_with_plan"]

_FUNCTION = "compare_with_plan"


def compare_with_plan(
    runs: RunDecisions,
    *,
    scatter: Mapping[str, Quantity] | None = None,
    level: float | None = None,
    k: float | None = None,
    seed: int = 0,
) -> pd.DataFrame:
    """Hold analysed runs against a plan of the same runs.

    Parameters
    ----------
    runs : Runs
        What `analyse` gave.
    scatter, level, k
        As for `plan`.
    seed : int
        Of the draws that decide which law a run is held against, as in `Runs.table`.

    Returns
    -------
    pandas.DataFrame
        One line per run. ``planned`` columns are what `plan` says for its meter, flow,
        temperature, inclination and number of repeats; ``measured`` ones what the sheet gave.
        Deflections are along the scale, counted from the zero, in ``scale unit`` (what a
        transmitter showed, before its calibration line); U over value
        are fractions. ``E_n`` holds the measured f against the law at the measured Re, errors in
        common cancelled, as in `Runs.table`; NaN where no law holds.

    Raises
    ------
    DimensionError
        Something else than analysed runs.
    StatementError
        As for `plan`.

    Notes
    -----
    A measured U(f)/f far above the planned one comes from scatter that was not expected, from a
    zero that drifted, or from an f below the law. A deflection far from the planned one with a
    small abs(E_n) is within what the errors allow.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import analyse, compare_with_plan, load_bench, read_sheet
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> bench = load_bench(folder / "bench.toml")
    >>> runs = analyse(read_sheet(folder / "sheet.csv", bench), bench)
    >>> table = compare_with_plan(runs)
    >>> table.loc[0, ["deflection planned", "deflection measured"]].round(2).tolist()
    [7.55, 7.25]
    """
    import pandas as pd

    if not isinstance(runs, RunDecisions):
        raise DimensionError(
            f"{_FUNCTION}(runs, ...): got {type(runs).__name__}; expected Runs, as analyse gives "
            "them"
        )
    bench, sheet = runs.bench, runs.sheet
    conditions = Conditions.checked(bench, None, scatter, level, k, _FUNCTION)
    angles = np.repeat([s.angle for s in sheet.sets], [len(s.runs) for s in sheet.sets])
    readings = predict(
        bench,
        [run.meter for run in sheet.runs],
        np.asarray(runs.flow._node.value),
        runs.temperature,
        angles.astype(np.float64),
        np.array([len(run.rows) for run in sheet.runs]),
    )
    planned = _planned(conditions, readings)
    balance = column_balance(sheet, bench)
    unit = bench.manometer.scale.unit
    counted = (balance.high - balance.low - balance.zero).to(unit).value
    choice = runs.laws(seed=seed)
    return pd.DataFrame(
        {
            "run": runs.labels,
            "meter": readings.meter,
            "flow": readings.flow_reading,
            "flow unit": [bench.meters[name].scale.unit for name in readings.meter],
            "inclination": readings.inclination,
            "repeats": readings.repeats,
            "Re": readings.reynolds,
            "regime": readings.regime,
            "deflection planned": readings.deflection,
            "deflection measured": np.asarray(counted) / slope_of(bench.manometer),
            "scale unit": unit,
            "U(Re)/Re planned": planned[0],
            "U(Re)/Re measured": conditions.relative(runs.reynolds),
            "f planned": readings.friction,
            "f measured": runs.friction.value,
            "U(f)/f planned": planned[1],
            "U(f)/f measured": conditions.relative(runs.friction),
            "law": choice.names,
            "E_n": normalised_errors(runs.friction, choice),
            "note": readings.note,
        }
    )


def _planned(conditions: Conditions, readings: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return U(Re)/Re and U(f)/f of the plan, shape (2, runs), NaN where it cannot be read."""
    found = np.full((2, len(readings)), np.nan)
    results = conditions.results(readings)
    if results is not None:
        found[0, readings.readable] = conditions.relative(results.reynolds)
        found[1, readings.readable] = conditions.relative(results.friction)
    return found
