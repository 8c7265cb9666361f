"""What comes out of the draws before it is shown: moments, marks, and the draws themselves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.magnitude import times_power_of_two
from flowunc.core.record import Node, elementwise
from flowunc.propagation.control import linear_control
from flowunc.propagation.crew import Crew
from flowunc.propagation.evaluation import Signs
from flowunc.propagation.limit_poles import strengths_at_limits
from flowunc.propagation.low_discrepancy import LowDiscrepancy
from flowunc.propagation.marks import rows_with_few_dof, rows_with_poles
from flowunc.propagation.moments import Moments
from flowunc.propagation.progress import Progress
from flowunc.propagation.simulation import Simulation

__all__ = [
    "KEPT_VALUES",
    "NO_VARIANCE",
    "Outcome",
    "draw_fixed",
    "draw_points",
    "draw_with_control",
    "marked",
]

Values = NDArray[np.float64]

NO_MEAN, NO_VARIANCE = 1 - 1e-9, 0.5 - 1e-9  # strengths of poles, less rounding
KEPT_VALUES = 1 << 25  # up to 256 MB of draws stay in memory; beyond, rows are drawn again


@dataclass
class Outcome:
    """Draws of several rows.

    Attributes
    ----------
    moments : Moments
    poles, no_mean, no_variance : ndarray of bool, shape (rows,)
    at_limits : ndarray of bool, shape (rows,)
        Whether a denominator comes down to zero at the end of stated limits, so that there is no
        variance; with a pole there is no mean either.
    draws : ndarray, shape (rows, trials), or None
    tolerance_text : str
        What to warn of where an adaptive run ended at its ceiling.
    reduction : ndarray, shape (rows,), or None
        Variance of the plain mean over that of the controlled one; NaN without a mean.
    """

    moments: Moments
    poles: NDArray[np.bool_]
    no_mean: NDArray[np.bool_]
    no_variance: NDArray[np.bool_]
    at_limits: NDArray[np.bool_]
    draws: Values | None
    tolerance_text: str = ""
    reduction: Values | None = None


def marked(
    order: list[Node],
    outputs: list[Node],
    moments: Moments,
    signs: Signs,
    draws: Values | None,
    text: str = "",
) -> Outcome:
    """Return an outcome with the rows marked whose mean or variance does not exist."""
    strengths = strengths_at_limits(order, outputs)
    at_limits = strengths >= NO_VARIANCE
    poles = rows_with_poles(order, outputs, signs) | (strengths >= NO_MEAN)
    few = [rows_with_few_dof(order, outputs, fewest) for fewest in (1.0, 2.0)]
    no_variance = poles | at_limits | few[1]
    return Outcome(moments, poles, poles | few[0], no_variance, at_limits, draws, text)


def draw_fixed(simulation: Simulation, trials: int, crew: Crew) -> Outcome:
    """Draw a fixed number of trials."""
    fits = simulation.rows * trials <= KEPT_VALUES
    keep = np.empty((simulation.rows, trials)) if fits else None
    moments, signs = simulation.moments(trials, keep, crew=crew)
    return marked(simulation.order, simulation.outputs, moments, signs, keep)


def draw_points(points: LowDiscrepancy, progress: Progress) -> Outcome:
    """Evaluate low-discrepancy points, each row by itself."""
    rows = points.rows
    fits = rows * points.trials <= KEPT_VALUES
    moments = Moments.empty(rows, points.trials)
    draws = points.draw_rows(list(range(rows))) if fits else None
    for row in range(rows):
        own = points.draw_rows([row]) if draws is None else draws[row : row + 1].copy()
        moments.fill(np.array([row]), own)
        # the same points serve all rows: each row is its share of them
        done, before = points.trials * (row + 1) // rows, points.trials * row // rows
        progress.advance(done - before)
    return marked(points.order, points.outputs, moments, points.signs, draws)


def draw_with_control(outputs: list[Node], seed: int, trials: int, crew: Crew) -> Outcome:
    """Draw a fixed number of trials with the linear model as control variate."""
    controls, deviations = linear_control(outputs)
    left = [elementwise(op.SUBTRACT, *pair) for pair in zip(outputs, controls, strict=True)]
    together = Simulation([*outputs, *controls, *left], seed)
    rows = together.rows // 3
    of_result = slice(rows)
    fits = together.rows * trials <= KEPT_VALUES
    keep = np.empty((together.rows, trials)) if fits else None
    moments, signs = together.moments(trials, keep, crew=crew)
    draws = None if keep is None else keep[of_result].copy()  # frees what stood beside it
    value = np.concatenate([np.atleast_1d(node.value) for node in outputs])
    parts = [moments.of(slice(i * rows, (i + 1) * rows)) for i in range(3)]
    exponents = parts[0].exponents
    of_results, of_controls, of_rest = (part.squares_in(exponents) for part in parts)
    with np.errstate(all="ignore"):  # of rows with draws that are not finite nothing is said
        squares = of_results - of_controls
        squares += np.square(times_power_of_two(deviations, -exponents)) * (trials - 1)
        gain = of_results / of_rest
    controlled = Moments(
        trials,
        value + parts[2].mean,
        np.maximum(squares, 0.0),
        exponents,
        parts[0].not_finite,
    )
    outcome = marked(together.order, outputs, controlled, signs, draws)
    gain[of_rest == 0] = np.inf
    gain[outcome.no_mean | (controlled.not_finite > 0)] = np.nan
    outcome.reduction = gain
    return outcome
