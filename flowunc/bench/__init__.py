"""The bench as a whole: its description, its lab sheets, and the runs analysed.

=====================  ===========================================================
`bench`                `Bench`: pipe, instruments, place, laws
`toml_table`           a TOML file as tables that know their dotted keys
`statement_table`      statements and values with units, as a bench file writes them
`possible_values`      uncertainties that cannot be
`scale_table`          scale and accuracy of an instrument
`thermometer_table`    a thermometer with its corrections
`meter_table`          meters by data sheet or calibration
`manometer_table`      the manometer by its type
`pipe_table`           bore, taps, roughness
`liquid_table`         what flows
`manometer_kinds`      what each kind asks of bench and sheet
`flowing_liquid`       `FlowingLiquid`, `Mixture`
`sheet_form`           the columns of a bench's sheets
`pressure_reading`     manometer readings to a pressure drop
`corrected_temperature`  slope and inverse of corrections
`bench_file`           `load_bench`
`file_bytes`           a file that a user names, or why it cannot be read
`nearest_name`         the question that goes with a misspelt name
`sheet_text`           a CSV file as cells with their lines
`sheet_columns`        the header of a sheet, and the number in a cell
`sheet`                `Sheet`: rows, runs, and sets between zero rows
`sheet_rows`           one row: cells to readings in the units of the instruments
`run_sets`             which rows belong together
`sheet_file`           `read_sheet`
`repeats`              scatter of repeated readings, Type A
`repeat_checks`        whether the repeats of a run belong together
`mirrored_columns`     whether one column mirrors the other
`fine_readings`        readings finer than their scale is read to
`column_balance`       both columns of all runs, and their zero
`evaluation`           `analyse`: Re and f of every run
`run_results`          the results of all runs, and single ones asked for
`run_decisions`        what limits them, what they agree with, what to change
`runs`                 `Runs`: all of that, as a table and as text
`dye_notes`            what a note says of the dye, against the regime
`consistency`          readings of a sheet against each other
`planning`             a session before any reading is taken
`law_choice`           the law each run is held against
`conclusions`          one line of conclusions per run
`charts`               pictures of runs and plans (matplotlib)
`report`               an error-analysis section as HTML, Markdown or LaTeX
`json_runs`            results of a sheet as JSON
`templates`            blank files to fill in
`run_text`             the printed report
`command`              ``python -m flowunc``
=====================  ===========================================================

It may use every other package of flowunc. ``EXAMPLE` holds an invented bench and sheet.
"""

from flowunc.bench.bench import Bench
from flowunc.bench.bench_file import load_bench
from flowunc.bench.consistency import Consistency, consistency
from flowunc.bench.evaluation import analyse
from flowunc.bench.planning import Plan, plan
from flowunc.bench.run_text import EXAMPLE
from flowunc.bench.runs import Runs
from flowunc.bench.sheet import Sheet
from flowunc.bench.sheet_file import read_sheet

__all__ = [
    "EXAMPLE",
    "Bench",
    "Consistency",
    "Plan",
    "Runs",
    "Sheet",
    "analyse",
    "consistency",
    "load_bench",
    "plan",
    "read_sheet",
]
