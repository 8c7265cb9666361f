"""Propagation of distributions by drawing [JCGM 101].

`monte_carlo` evaluates the recorded model of one result, `monte_carlo_joint` several results
on the same draws, so that their covariance comes by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.core.arguments import check_level
from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError, warn_user
from flowunc.core.quantity import Quantity
from flowunc.propagation.adaptive import draw_until_stable, sequence_length
from flowunc.propagation.crew import Crew
from flowunc.propagation.drawn import JointResult, MonteCarloResult, Recipe
from flowunc.propagation.draws import check_seed, check_trials
from flowunc.propagation.low_discrepancy import SCRAMBLINGS, LowDiscrepancy, check_points
from flowunc.propagation.outcome import Outcome, draw_fixed, draw_points, draw_with_control
from flowunc.propagation.progress import Progress
from flowunc.propagation.simulation import Simulation
from flowunc.propagation.tolerance import check_digits

__all__ = ["JointResult", "MonteCarloResult", "Sampler", "monte_carlo", "monte_carlo_joint"]

MOST_TRIALS = 10_000_000

Sampler = Literal["random", "sobol"]


def monte_carlo(
    quantity: Quantity,
    trials: int = 200_000,
    *,
    seed: int | None = 0,
    sampler: Sampler = "random",
    digits: int | None = None,
    max_trials: int = MOST_TRIALS,
    level: float = 0.95,
    control: bool = False,
    workers: int = 1,
    executor: Executor | None = None,
    progress: bool = False,
    names: Sequence[str] = (),
) -> MonteCarloResult:
    """Propagate the distributions behind one result by drawing.

    Parameters
    ----------
    quantity : Quantity
    trials : int
        Number of draws, 2 or more. With ``sampler="sobol"`` rounded up to 8 times a power of
        two, 512 or more.
    seed : int, optional
        Same seed, same draws, whatever the number of workers. None takes a fresh one.
    sampler : {"random", "sobol"}
        Pseudo-random draws, or scrambled Sobol points, which need far fewer evaluations. They
        are evaluated in this thread and take neither ``workers`` nor an ``executor``.
    digits : int, optional
        Draw on, in place of a fixed number, until mean, u and both ends of the coverage
        interval are stable to this many significant digits of u [JCGM 101, 7.9].
    max_trials : int
        Ceiling for ``digits``; reaching it is a `FlowuncWarning` that states the tolerance
        reached.
    level : float
        Coverage probability whose interval must be stable.
    control : bool
        Use the linear model, which is known exactly, as control variate for mean and u;
        `MonteCarloResult.variance_reduction` says what it gained.
    workers : int
        Threads of this process that share the work.
    executor : concurrent.futures.Executor, optional
        Processes, or a cluster's client, in place of threads. Components, record and
        functions of your own travel by pickle.
    progress : bool
        Show how far the draws are, on standard error: one bar for the call.
    names : sequence of str
        What warnings call the readings, such as ("run 1", "run 2"); "reading 0" and so on
        unless given.

    Returns
    -------
    MonteCarloResult

    Raises
    ------
    StatementError
        Options that exclude each other.
    RangeError
        A number of trials, a seed, a level, digits or workers out of range.
    PropagationError
        A worker fails: the message names its block of trials; a partial result is not given.
        With ``control=True`` also where a reading has no linear model (no derivative at the
        estimates), or depends on a component with 2 degrees of freedom or fewer, which has no
        variance.

    Warns
    -----
    FlowuncWarning
        A denominator changes sign among the draws or comes down to zero at the end of stated
        limits, draws are not finite, there are too few repeats for a standard deviation, or the
        ceiling was reached.

    Notes
    -----
    Each component is drawn once per trial, so that correlations come by themselves. A
    component with finite degrees of freedom from repeats is drawn from the scaled t
    distribution, whose standard deviation exceeds the linear u.

    With Sobol points, mean, u and intervals of each reading come from the lowest dimensions of
    the sequence: readings share the coordinates of components that have a fresh value for each.
    `samples` and covariances set readings side by side and are therefore drawn anew, with
    dimensions of its own for every reading. The numerical standard errors come from the
    scatter over 8 independent scramblings of equal length.

    Up to 2**25 draws (256 MB; a third of it with ``control=True``) are kept. Of a larger result,
    `samples`, intervals and numerical errors draw again, with the same bits, on ``workers``
    threads of this process; the executor may be gone by then and is not asked.

    Examples
    --------
    >>> from flowunc import Length, limits, monte_carlo
    >>> side = Length(10, "mm", limits(0.1))
    >>> drawn = monte_carlo(side, 50_000, seed=1)
    >>> low, high = drawn.interval(0.95, kind="symmetric")
    >>> round(low, 3), round(high, 3)
    (9.905, 10.095)
    """
    joint = monte_carlo_joint(
        [quantity],
        trials,
        seed=seed,
        sampler=sampler,
        digits=digits,
        max_trials=max_trials,
        level=level,
        control=control,
        workers=workers,
        executor=executor,
        progress=progress,
        names=names,
    )
    drawn: MonteCarloResult = joint[0]
    return drawn


def monte_carlo_joint(
    quantities: Sequence[Quantity],
    trials: int = 200_000,
    *,
    seed: int | None = 0,
    sampler: Sampler = "random",
    digits: int | None = None,
    max_trials: int = MOST_TRIALS,
    level: float = 0.95,
    control: bool = False,
    workers: int = 1,
    executor: Executor | None = None,
    progress: bool = False,
    names: Sequence[str] = (),
) -> JointResult:
    """Propagate the distributions behind several results on the same draws.

    See `monte_carlo` for the options.

    Returns
    -------
    JointResult
        One `MonteCarloResult` per quantity, with `covariance` and `correlation`.

    Examples
    --------
    >>> from flowunc import Length, limits, monte_carlo_joint
    >>> side = Length(10, "mm", limits(0.1))
    >>> joint = monte_carlo_joint([side, side**2], 20_000, seed=1)
    >>> round(joint.correlation(), 3)
    1.0
    """
    chosen = tuple(quantities)
    if not chosen:
        raise RangeError("monte_carlo_joint([]): expected at least one quantity")
    for item in chosen:
        if not isinstance(item, Quantity):
            raise DimensionError(f"Monte Carlo of {type(item).__name__}: expected a quantity")
    called = tuple(map(str, names))  # of an array as well
    _check_names(called, chosen)
    alone = Crew(workers, executor)
    used_seed = check_seed(seed)
    count = check_trials(trials)
    checked_level, most = check_level(level), _check_most(max_trials)
    _check_options(sampler, digits, control)
    _check_crew(sampler, alone)
    nodes = [item._node for item in chosen]
    scramblings = 0
    if sampler == "sobol":
        scramblings = SCRAMBLINGS
        count = SCRAMBLINGS * check_points(count)
    elif digits is not None:
        check_digits(digits)
        count = 2 * sequence_length(checked_level)
    with Progress(count, shown=progress) as shown:
        crew = replace(alone, progress=shown)
        if sampler == "sobol":
            points = LowDiscrepancy(nodes, used_seed, count // SCRAMBLINGS)
            outcome = draw_points(points, shown)
        elif control:
            outcome = draw_with_control(nodes, used_seed, count, crew)
        elif digits is None:
            outcome = draw_fixed(Simulation(nodes, used_seed), count, crew)
        else:
            simulation = Simulation(nodes, used_seed)
            outcome = draw_until_stable(simulation, digits, checked_level, most, crew)
    _warn_about(outcome, chosen, called)
    recipe = Recipe(chosen, used_seed, outcome.moments.count, scramblings, workers)
    return JointResult(
        tuple(MonteCarloResult(recipe, which, outcome) for which in range(len(chosen)))
    )


def _check_options(sampler: str, digits: int | None, control: bool) -> None:
    if sampler not in ("random", "sobol"):
        raise StatementError(f"sampler={sampler!r}: expected 'random' or 'sobol'")
    given = [
        name
        for name, is_given in (
            ("sampler='sobol'", sampler == "sobol"),
            ("digits=", digits is not None),
            ("control=True", control),
        )
        if is_given
    ]
    if len(given) > 1:
        raise StatementError(f"{' and '.join(given)} exclude each other: give one of them")


def _check_crew(sampler: str, crew: Crew) -> None:
    given = (
        f"executor={crew.executor!r}" if crew.executor is not None else f"workers={crew.workers}"
    )
    if sampler == "sobol" and (crew.executor is not None or crew.workers > 1):
        raise StatementError(
            f"sampler='sobol' and {given} exclude each other: Sobol points are evaluated in this "
            "thread; leave it out, or use sampler='random'"
        )


def _check_most(max_trials: int) -> int:
    try:
        return check_trials(max_trials)
    except RangeError as error:
        raise RangeError(f"max_{error}") from None  # "max_trials=...": the option it is


def _check_names(names: tuple[str, ...], quantities: tuple[Quantity, ...]) -> None:
    for quantity in quantities if names else ():
        if len(names) != quantity.size:
            raise ShapeError(
                f"names: {len(names)} for the {quantity.size} readings of "
                f"{quantity.label or type(quantity).__name__}; expected one for each"
            )


def _warn_about(outcome: Outcome, quantities: tuple[Quantity, ...], names: tuple[str, ...]) -> None:
    bounds = np.cumsum([0] + [quantity.size for quantity in quantities])
    for which, quantity in enumerate(quantities):
        rows = slice(int(bounds[which]), int(bounds[which + 1]))
        name = quantity.label or type(quantity).__name__
        at_limits = outcome.at_limits[rows]
        ended = np.flatnonzero(at_limits)
        if ended.size:
            both = bool(outcome.poles[rows][at_limits].any())
            warn_user(
                f"{name}, {_listed(ended, names)}: a denominator comes down to zero at the end of "
                f"stated limits, so {'mean and' if both else 'the'} standard uncertainty "
                f"{'do' if both else 'does'} not exist; report the coverage interval, or measure "
                "farther from zero"
            )
        poles = np.flatnonzero(outcome.poles[rows] & ~at_limits)
        if poles.size:
            warn_user(
                f"{name}, {_listed(poles, names)}: a denominator changes sign among the draws, so "
                "mean and standard uncertainty do not exist; report the coverage interval, or "
                "measure farther from zero"
            )
        few = np.flatnonzero(outcome.no_variance[rows] & ~outcome.poles[rows] & ~at_limits)
        if few.size:
            warn_user(
                f"{name}, {_listed(few, names)}: two or three repeats (2 degrees of freedom or "
                "fewer) leave the distribution without a standard deviation; report the coverage "
                "interval, or repeat the reading"
            )
        lost = outcome.moments.not_finite[rows]
        bad = np.flatnonzero(lost)
        if bad.size:
            warn_user(
                f"{name}, {_listed(bad, names)}: {int(lost.max())} of "
                f"{outcome.moments.count} draws have no finite value (a root or logarithm of a "
                "negative draw, or a result too large), so neither mean, u nor interval is given"
            )
    if outcome.tolerance_text:
        warn_user(outcome.tolerance_text)


def _listed(rows: NDArray[np.intp], names: tuple[str, ...]) -> str:
    shown = ", ".join(names[row] if names else str(row) for row in rows[:5].tolist())
    more = f" and {rows.size - 5} more" if rows.size > 5 else ""
    return f"{'' if names else 'reading '}{shown}{more}"
