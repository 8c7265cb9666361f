"""Shares of draws below, between and above two thresholds: probabilities of three states."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import FlowuncWarning, PropagationError, RangeError
from flowunc.core.quantity import Numbers, Quantity
from flowunc.propagation.draws import check_trials

__all__ = ["Shares", "check_pair", "most_probable", "shares", "shares_of_draws"]

_MOST_DRAWS = 20_000_000  # held at a time: 160 MB
_FAR = 8.0  # standard uncertainties from a threshold, beyond which nothing need be drawn
_MOST_RELATIVE = 0.05  # u over the value; with more the formula may be far from straight
_LEAST_DOF = 30  # the tails of a t-distribution with fewer reach beyond _FAR
_PILOT = 256  # draws that must stay well inside; their largest is some 3 u from the mean


class Shares(NamedTuple):
    """Probabilities that add up to 1, each shaped as the value."""

    below: Numbers
    between: Numbers
    above: Numbers


def check_pair(low: Any, high: Any, names: tuple[str, str], what: str, usual: str) -> Any:
    """Return both thresholds as floats, refused unless 0 < low <= high.

    Parameters
    ----------
    low, high : float
    names : tuple of str
        What the arguments are called.
    what : str
        What each of them is, such as "a Reynolds number such as 2300".
    usual : str
        The usual pair.

    Returns
    -------
    tuple of float

    Raises
    ------
    RangeError
        No finite numbers, or not 0 < low <= high.
    """
    for name, value in zip(names, (low, high), strict=True):
        number = isinstance(value, (int, float, np.number)) and not isinstance(value, bool)
        if not (number and math.isfinite(value)):
            raise RangeError(f"{name}={value!r}: expected {what}")
    if not 0 < low <= high:
        raise RangeError(
            f"{names[0]}={low:g} and {names[1]}={high:g}: expected 0 < {names[0]} <= {names[1]}, "
            f"such as {usual}"
        )
    return float(low), float(high)


def shares(
    quantity: Quantity,
    low: float,
    high: float,
    *,
    trials: int,
    seed: int,
    function: str,
    name: str,
    screened: bool = False,
) -> Shares:
    """Find the shares of draws below, between and above two thresholds.

    Parameters
    ----------
    quantity : Quantity, scalar or shape (n,)
        What is drawn.
    low, high : float
        Thresholds in the unit of the quantity; both belong to what is between.
    trials, seed : int
        A share p comes out to within sqrt(p (1 - p)/trials).
    function, name : str
        Who asks, and what the quantity is called in messages.
    screened : bool
        Where the draws are more than are held at a time, draw only readings with a value
        within 8 u of a threshold, or of which that says too little; others have shares of
        exactly 0 or 1. For a quantity that is above 0.

    Returns
    -------
    Shares

    Raises
    ------
    PropagationError
        Draws without a value.
    """
    count = check_trials(trials)
    found = np.empty((3, quantity.size))
    if screened and quantity.size * count > _MOST_DRAWS and quantity.ndim:
        value = np.asarray(quantity.value)
        found[:] = value < low, (value >= low) & (value <= high), value > high
        rows = np.flatnonzero(_to_be_drawn(quantity, low, high, seed))
    else:
        rows = np.arange(quantity.size)
    # slices draw the same numbers as the whole does; they bound the memory
    step = max(1, _MOST_DRAWS // count)
    for start in range(0, rows.size, step):
        runs = rows[start : start + step]
        part = quantity if quantity.ndim == 0 else quantity[runs]
        draws = part.monte_carlo(trials, seed=seed).samples().reshape(-1, part.size)
        found[:, runs] = shares_of_draws(
            draws, low, high, runs=runs.tolist(), function=function, name=name
        )
    found.setflags(write=False)
    return Shares(*(float(share[0]) if quantity.ndim == 0 else share for share in found))


def _to_be_drawn(quantity: Quantity, low: float, high: float, seed: int) -> NDArray[np.bool_]:
    """Return the readings of which value and u do not say on which side all draws lie."""
    everything = np.ones(quantity.size, dtype=bool)
    if any(np.min(component.dof) < _LEAST_DOF for component in quantity.components):
        return everything
    try:
        u = np.asarray(quantity.u)
    except PropagationError:  # no derivative; draws need none
        return everything
    value = np.asarray(quantity.value)
    distance = np.minimum(np.abs(value - low), np.abs(value - high))
    drawn = (distance <= _FAR * u) | (u > _MOST_RELATIVE * value)
    # u is of the slope alone: at a minimum it is 0, however far a draw may reach
    far = np.flatnonzero(~drawn)
    for part in np.array_split(far, 1 + far.size * _PILOT // _MOST_DRAWS):
        if part.size:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", FlowuncWarning)  # said where all is drawn
                pilot = quantity[part].monte_carlo(_PILOT, seed=seed).samples()
            inside = np.abs(pilot - value[part]).max(axis=0) < distance[part] / 2
            drawn[part] = ~inside  # not finite is not inside
    return drawn


def shares_of_draws(
    draws: NDArray[np.float64],
    low: float,
    high: float,
    *,
    runs: Sequence[object],
    function: str,
    name: str,
) -> Shares:
    """Count what was drawn already, run by run; as `shares`, which draws.

    Parameters
    ----------
    draws : ndarray, shape (trials, n)
    low, high : float
        Thresholds; both belong to what is between.
    runs : sequence
        What messages call the runs.
    function, name : str
        As for `shares`.

    Returns
    -------
    Shares
        Arrays of shape (n,).

    Raises
    ------
    PropagationError
        Draws without a value.

    Examples
    --------
    >>> import numpy as np
    >>> draws = np.array([[1.0], [2.0], [3.0], [4.0]])
    >>> found = shares_of_draws(draws, 2.0, 3.5, runs=["7"], function="regimes", name="Re")
    >>> found.below.tolist(), found.between.tolist(), found.above.tolist()
    ([0.25], [0.5], [0.25])
    """
    trials = draws.shape[0]
    bad = np.count_nonzero(np.isnan(draws), axis=0)
    if bad.any():
        run = int(np.argmax(bad > 0))
        raise PropagationError(
            f"{function}: {bad[run]} of {trials} draws of {name} in run {runs[run]} have no value; "
            "expected a formula that holds for all draws: check the uncertainties behind "
            f"{name}, or leave out the run"
        )
    below = np.count_nonzero(draws < low, axis=0)
    above = np.count_nonzero(draws > high, axis=0)
    return Shares(below / trials, (trials - below - above) / trials, above / trials)


def most_probable(states: tuple[Numbers, Numbers, Numbers], names: tuple[str, str, str]) -> Any:
    """Return the name of the most probable state, a list of them for several runs.

    Of two equally probable ones the first is named.
    """
    most = np.argmax(np.stack(states), axis=0)
    return names[int(most)] if most.ndim == 0 else [names[int(i)] for i in most]
