"""How many draws: a fixed number, or until the result is stable [JCGM 101, 7.9].

The adaptive procedure draws sequences of equal length. From the scatter of mean, u and both
interval ends over the sequences it knows the numerical standard error of each; it stops when
their 95 % range lies within the numerical tolerance that goes with the asked digits of u.
"""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.core.errors import RangeError
from flowunc.core.magnitude import times_power_of_two
from flowunc.propagation.crew import Crew
from flowunc.propagation.draws import BLOCK
from flowunc.propagation.evaluation import Signs
from flowunc.propagation.intervals import interval_of_draws
from flowunc.propagation.limit_poles import strengths_at_limits
from flowunc.propagation.marks import rows_with_few_dof, rows_with_poles
from flowunc.propagation.moments import Moments
from flowunc.propagation.outcome import KEPT_VALUES, NO_VARIANCE, Outcome, marked
from flowunc.propagation.simulation import Simulation
from flowunc.propagation.tolerance import check_digits, numerical_tolerance

__all__ = ["draw_until_stable", "sequence_length"]

Values = NDArray[np.float64]


def sequence_length(level: float) -> int:
    """Return the trials of one sequence: whole blocks, at least 100 / (1 - level) and 10**4."""
    return max(1, math.ceil(100 / (1 - level) / BLOCK)) * BLOCK


def draw_until_stable(
    simulation: Simulation, digits: int, level: float, max_trials: int, crew: Crew
) -> Outcome:
    """Draw sequences until mean, u and interval are stable to the asked digits of u.

    Source: [JCGM 101, 7.9.4]; a sequence has at least 100 / (1 - level) and 10**4 trials.
    """
    check_digits(digits)
    length = sequence_length(level)
    blocks = length // BLOCK
    if max_trials < 2 * length:
        raise RangeError(
            f"max_trials={max_trials}: expected at least two sequences, {2 * length} trials"
        )
    rows = simulation.rows
    fits = rows * max_trials <= KEPT_VALUES
    kept: list[Values] = []
    seen: list[Values] = []
    whole: Moments | None = None
    signs = Signs()
    few = rows_with_few_dof(simulation.order, simulation.outputs, 2.0)
    few |= strengths_at_limits(simulation.order, simulation.outputs) >= NO_VARIANCE
    reached = np.full(rows, np.inf)
    tolerance = np.zeros(rows)
    while (len(seen) + 1) * length <= max_trials:
        first = len(seen) * blocks
        draws = np.empty((rows, length))
        moments, passing = simulation.moments((first + blocks) * BLOCK, draws, first, crew)
        signs.merge(passing)
        whole = moments if whole is None else whole.merge(moments)
        if fits:
            kept.append(draws.copy())
        seen.append(_summary(moments, draws, level))
        if len(seen) < 2:
            continue
        scatter = _scatter(np.array(seen)) / math.sqrt(len(seen))
        u = whole.deviation()
        # few sequences know their scatter badly, so t in place of the factor 2 of the standard
        factor = float(scipy.special.stdtrit(len(seen) - 1, 0.975))
        reached = factor * scatter.max(axis=0)
        # u itself is uncertain: just below a power of ten its digits must not be taken for more
        least = np.maximum(u - factor * scatter[1], 0.0)
        tolerance = np.array([numerical_tolerance(value, digits) for value in least])
        lost = rows_with_poles(simulation.order, simulation.outputs, signs) | few
        lost |= whole.not_finite > 0
        if bool(np.all((reached <= tolerance) | lost)):
            crew.expect(whole.count)
            return marked(simulation.order, simulation.outputs, whole, signs, _joined(kept))
        needed = _sequences_needed(len(seen), np.where(lost, 0.0, scatter.max(axis=0)), u, digits)
        crew.expect(min(max(needed, len(seen) + 1), max_trials // length) * length)
    if whole is None:
        raise RangeError("no sequence of draws was made")
    with np.errstate(all="ignore"):
        excess = np.where(lost | ~(tolerance > 0), 0.0, reached / tolerance)
    worst = int(np.nanargmax(excess))
    asked = numerical_tolerance(u[worst], digits)
    text = (
        f"{whole.count} trials reached a numerical tolerance of {reached[worst]:.2g} (SI) at row "
        f"{worst} where {asked:.2g} was asked for; raise max_trials or ask for fewer digits"
    )
    return marked(simulation.order, simulation.outputs, whole, signs, _joined(kept), text)


def _scatter(seen: Values) -> Values:
    """Return the standard deviation over sequences, shape (4, rows), of (sequences, 4, rows)."""
    exponents = np.frexp(np.abs(seen).max(axis=(0, 1)))[1]
    with np.errstate(all="ignore"):
        scaled = np.std(times_power_of_two(seen, -exponents), axis=0, ddof=1)
        return times_power_of_two(scaled, exponents)


def _sequences_needed(seen: int, scatter: Values, u: Values, digits: int) -> int:
    """Guess, for the progress only, how many sequences make every row stable."""
    tolerance = np.array([numerical_tolerance(value, digits) for value in u])
    share = 2.0 * scatter[tolerance > 0] / tolerance[tolerance > 0]
    worst = float(share[np.isfinite(share)].max(initial=0.0))
    return math.ceil(seen * worst**2)  # the error of a mean falls with the root of their number


def _joined(kept: list[Values]) -> Values | None:
    return np.concatenate(kept, axis=1) if kept else None


def _summary(moments: Moments, draws: Values, level: float) -> Values:
    """Return mean, u, low and high of one sequence, shape (4, rows)."""
    u = moments.deviation()
    low, high = np.full(u.size, np.nan), np.full(u.size, np.nan)
    for row in range(u.size):
        if not moments.not_finite[row]:
            low[row], high[row] = interval_of_draws(draws[row], level, "symmetric")
    return np.array([moments.mean, u, low, high])
