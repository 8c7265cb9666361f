"""What comes out of the draws before it is shown: moments, marks, and the draws themselves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flowunc.core.record import Node
from flowunc.propagation.control import linear_control
from flowunc.propagation.crew import Crew
from flowunc.propagation.evaluation import Signs
from flowunc.propagation.low_discrepancy import LowDiscrepancy
from flowunc.propagation.marks import rows_with_few_dof, rows_with_poles
from flowunc.propagation.simulation import Moments, Simulation

__all__ = ["KEPT_VALUES", "Outcome", "draw_fixed", "draw_points", "draw_with_control", "marked"]

Values = NDArray[np.float64]

KEPT_VALUES = 1 << 25  # up to 256 MB of draws stay in memory; beyond, rows are drawn again


@dataclass
class Outcome:
    """Draws of several rows.

    Attributes
    ----------
    moments : Moments
    poles, no_mean, no_variance : ndarray of bool, shape (rows,)
    draws : ndarray, shape (rows, trials), or None
    tolerance_text : str
        What to warn of where an adaptive run ended at its ceiling.
    reduction : ndarray, shape (rows,), or None
        Variance of the plain mean over that of the controlled one.
    """

    moments: Moments
    poles: NDArray[np.bool_]
    no_mean: NDArray[np.bool_]
    no_variance: NDArray[np.bool_]
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
    poles = rows_with_poles(order, outputs, signs)
    few = [rows_with_few_dof(order, outputs, fewest) for fewest in (1.0, 2.0)]
    return Outcome(moments, poles, poles | few[0], poles | few[1], draws, text)


def draw_fixed(simulation: Simulation, trials: int, crew: Crew) -> Outcome:
    """Draw a fixed number of trials."""
    fits = simulation.rows * trials <= KEPT_VALUES
    keep = np.empty((simulation.rows, trials)) if fits else None
    moments, signs = simulation.moments(trials, keep, crew=crew)
    return marked(simulation.order, simulation.outputs, moments, signs, keep)


def draw_points(points: LowDiscrepancy) -> Outcome:
    """Evaluate low-discrepancy points, each row by itself."""
    rows = points.rows
    fits = rows * points.trials <= KEPT_VALUES
    moments = Moments.empty(rows, points.trials)
    draws = points.draw_rows(list(range(rows))) if fits else None
    for row in range(rows):
        own = points.draw_rows([row]) if draws is None else draws[row : row + 1].copy()
        moments.fill(np.array([row]), own)
    return marked(points.order, points.outputs, moments, points.signs, draws)


def draw_with_control(outputs: list[Node], seed: int, trials: int, crew: Crew) -> Outcome:
    """Draw a fixed number of trials with the linear model as control variate."""
    controls = [linear_control(node) for node in outputs]
    variance = np.concatenate([exact for _, exact in controls])
    value = np.concatenate([np.atleast_1d(node.value) for node in outputs])
    both = Simulation([*outputs, *(control for control, _ in controls)], seed)
    rows = both.rows // 2
    fits = both.rows * trials <= KEPT_VALUES
    keep = np.empty((both.rows, trials)) if fits else None
    moments, signs = both.moments(trials, keep, crew=crew)
    of_result, of_control = slice(0, rows), slice(rows, 2 * rows)
    gain = np.empty(rows)
    for row in range(rows):
        pair = (
            both.draw_rows([row, rows + row], trials, crew)
            if keep is None
            else keep[[row, rows + row]]
        )
        left = float(np.var(pair[0] - pair[1], ddof=1))
        gain[row] = moments.squares[row] / (trials - 1) / left if left > 0 else np.inf
    squares = moments.squares[of_result] - moments.squares[of_control]
    controlled = Moments(
        trials,
        value + (moments.mean[of_result] - moments.mean[of_control]),
        np.maximum(squares + variance * (trials - 1), 0.0),
        moments.not_finite[of_result],
    )
    draws = None if keep is None else keep[of_result]
    outcome = marked(both.order, outputs, controlled, signs, draws)
    outcome.reduction = gain
    return outcome
