"""The bench as a whole: its description, its lab sheets, and the runs analysed.

=====================  ===========================================================
`description`          the bench file as a `Bench`
`sheets`               `read_sheet`: lab sheets as rows, runs and sets
`checks`               readings, repeats and notes held against each other
`pressure_reading`     manometer readings to a pressure drop
`corrected_temperature`  slope and inverse of corrections
`file_bytes`           a file that a user names, or why it cannot be read
`nearest_name`         the question that goes with a misspelt name
`repeats`              scatter of repeated readings, Type A
`measurement_model`    readings and their scatter to Re and f
`evaluation`           `analyse`: Re and f of every run
`run_results`          the results of all runs, and single ones asked for
`run_decisions`        what limits them, what they agree with, what to change
`runs`                 `Runs`: all of that, as a table and as text
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

from flowunc.bench.checks.consistency import Consistency, consistency
from flowunc.bench.description.bench import Bench
from flowunc.bench.description.bench_file import load_bench
from flowunc.bench.evaluation import analyse
from flowunc.bench.planning import Plan, plan
from flowunc.bench.run_text import EXAMPLE
from flowunc.bench.runs import Runs
from flowunc.bench.sheets.file import read_sheet
from flowunc.bench.sheets.sheet import Sheet

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
