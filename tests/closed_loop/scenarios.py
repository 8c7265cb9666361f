"""The sessions that are simulated. All numbers are invented."""

from __future__ import annotations

from dataclasses import replace

from closed_loop import Scenario
from simulated_bench import LARGE, SMALL, Description, PlannedRun, PlannedSet, World

BENCH = Description()

REGIMES = (
    PlannedSet(
        8.0,
        (
            PlannedRun("laminar, slow", "small", 30),
            PlannedRun("laminar", "small", 55),
            PlannedRun("laminar, fast", "small", 85),
            PlannedRun("transitional", "small", 130),
            PlannedRun("turbulent, small", "small", 220),
        ),
    ),
    PlannedSet(
        35.0,
        (
            PlannedRun("turbulent, slow", "large", 5),
            PlannedRun("turbulent", "large", 10),
            PlannedRun("turbulent, fast", "large", 17),
        ),
    ),
)

REPEATS = (
    PlannedSet(
        10.0,
        (
            PlannedRun("laminar, 3 repeats", "small", 85, repeats=3, swing=0.03),
            PlannedRun("turbulent, 5 repeats", "small", 200, repeats=5, swing=0.03),
        ),
    ),
    PlannedSet(
        35.0,
        (
            PlannedRun("3 repeats", "large", 10, repeats=3, swing=0.03),
            PlannedRun("4 repeats", "large", 10, repeats=4, swing=0.03),
            PlannedRun("5 repeats", "large", 10, repeats=5, swing=0.03),
            PlannedRun("10 repeats", "large", 10, repeats=10, swing=0.03),
        ),
    ),
)

# A scale of 2 mm read to its marks, and a deflection of some two marks.
COARSE = replace(
    BENCH,
    column_division=2.0,
    column_read_to=1.0,
    meters={"small": replace(SMALL, division=5.0, read_to=0.5, span=(5, 300)), "large": LARGE},
)
SMALL_DEFLECTION = (
    PlannedSet(
        25.0,
        (
            PlannedRun("1 mark", "small", 35),
            PlannedRun("2 marks", "small", 55),
            PlannedRun("3 marks", "small", 80),
        ),
    ),
    PlannedSet(
        8.0,
        (
            PlannedRun("2 marks, lowest flow", "small", 15),
            PlannedRun("4 marks", "small", 35),
            PlannedRun("10 marks", "small", 85),
        ),
    ),
)

MAIN = Scenario("all regimes", BENCH, REGIMES, World())
FEW_REPEATS = Scenario("repeats", BENCH, REPEATS, World())
NEAR_ZERO = Scenario("coarse scale, small deflection", COARSE, SMALL_DEFLECTION, World(drift=3.0))

# What the description says nothing of: both columns as mirror images of each other.
MIRRORED = tuple(
    Scenario(
        f"{NEAR_ZERO.name}, middle {middle}",
        COARSE,
        SMALL_DEFLECTION,
        World(drift=3.0, middle=middle),
    )
    for middle in ("steady", "at a mark")
)
# The same, but the description says so; and deflections of any part of a step, as coverage at one
# deflection goes with the rounding there.
MIRRORED_AS_STATED = tuple(
    Scenario(
        f"{scenario.name}, as stated",
        replace(COARSE, mirrored=True),
        SMALL_DEFLECTION,
        replace(scenario.world, flow_spread=0.3),
    )
    for scenario in MIRRORED
)
BLASIUS = MAIN._replace(name="turbulent runs by Blasius", world=World(turbulent="blasius"))
PLANTED = MAIN._replace(name="bore 3 % larger than stated", world=World(bore_factor=1.03))
