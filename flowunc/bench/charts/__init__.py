"""Charts of runs and plans, drawn with matplotlib.

====================  ================================================================
`canvas`              the axes drawn on: white, readable at column width, legend above
`palette`             colours, markers, lines and hatches that survive grey print
`scales`              ticks and limits of logarithmic axes
`run_labels`          where the names of runs stand beside their markers
`coverage_ellipse`    covariance of two results as ellipses on logarithmic axes
`law_curves`          a friction law inside its range, with its own uncertainty
`friction_points`     what is drawn of each run: Re, f, their intervals
`friction`            `friction_chart`: f against Re, with the laws
`budget`              `budget_chart`: what contributes to the variance of each run
`distribution`        `distribution_chart`: the draws of one result
`agreement`           `agreement_chart`: E_n of each run
`zero`                `zero_chart`: the balance of the columns over the sheet
`inclination_curves`  U(f)/f over the inclination of the board
`meter_curves`        U(Re)/Re over the flow, meter by meter
`plan`                `plan_chart`: one of these two
====================  ================================================================

matplotlib is an optional extra, ``pip install "flowunc[plot]"``, imported by the functions that
draw. Each takes its data and optionally the axes to draw on, and returns the axes. None shows or
saves anything or changes a setting of matplotlib; there are no titles: captions belong to the
report. Without axes a figure is made by pyplot, so that a notebook shows it.
"""

from flowunc.bench.charts.agreement import agreement_chart
from flowunc.bench.charts.budget import budget_chart
from flowunc.bench.charts.distribution import distribution_chart
from flowunc.bench.charts.friction import friction_chart
from flowunc.bench.charts.plan import plan_chart
from flowunc.bench.charts.zero import zero_chart

__all__ = [
    "agreement_chart",
    "budget_chart",
    "distribution_chart",
    "friction_chart",
    "plan_chart",
    "zero_chart",
]
