"""Shares of draws below, between and above two thresholds: probabilities of three states."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import PropagationError, RangeError
from flowunc.core.quantity import Numbers, Quantity

__all__ = ["Shares", "check_pair", "most_probable", "shares", "shares_of_draws"]

_MOST_DRAWS = 20_000_000  # held at a time: 160 MB


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
    quantity: Quantity, low: float, high: float, *, trials: int, seed: int, function: str, name: str
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

    Returns
    -------
    Shares

    Raises
    ------
    PropagationError
        Draws without a value.
    """
    found = np.empty((3, quantity.size))
    # slices draw the same numbers as the whole does; they bound the memory
    step = max(1, _MOST_DRAWS // max(1, int(trials)))
    for start in range(0, quantity.size, step):
        part = quantity if quantity.ndim == 0 else quantity[start : start + step]
        draws = part.monte_carlo(trials, seed=seed).samples().reshape(-1, part.size)
        runs = range(start, start + part.size)
        found[:, start : start + step] = shares_of_draws(
            draws, low, high, runs=runs, function=function, name=name
        )
    found.setflags(write=False)
    return Shares(*(float(share[0]) if quantity.ndim == 0 else share for share in found))


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
