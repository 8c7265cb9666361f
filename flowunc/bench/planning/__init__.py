"""Planning a session: what the uncertainty will be, before any reading is taken.

===============  ===================================================================
`arguments`      what a plan may be asked
`indications`    what meter and manometer show: the inverse of reading them
`readings`       what will be read at a flow
`record`         predicted readings through the model of `analyse`
`conditions`     bench, temperature, scatter, coverage; U(f)/f and U(Re)/Re
`inclination`    `best_inclination`
`meters`         `meter_crossover`
`smallest_flow`  `smallest_flow`
`repeats`        `worthwhile_repeats`
`table`          a plan as tables
`text`           the printed plan
`cells`          what a planned session consists of
`session`        `Plan`: what can be asked of it
`plan`           `plan`
`comparison`     `compare_with_plan`
===============  ===================================================================

Predicted readings go through the very code that evaluates a lab sheet.
"""

from flowunc.bench.planning.comparison import compare_with_plan
from flowunc.bench.planning.inclination import BestInclination, best_inclination
from flowunc.bench.planning.meters import MeterCrossover, meter_crossover
from flowunc.bench.planning.plan import plan
from flowunc.bench.planning.repeats import WorthwhileRepeats, worthwhile_repeats
from flowunc.bench.planning.session import Plan
from flowunc.bench.planning.smallest_flow import SmallestFlow, smallest_flow

__all__ = [
    "BestInclination",
    "MeterCrossover",
    "Plan",
    "SmallestFlow",
    "WorthwhileRepeats",
    "best_inclination",
    "compare_with_plan",
    "meter_crossover",
    "plan",
    "smallest_flow",
    "worthwhile_repeats",
]
