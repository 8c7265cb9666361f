"""One unknown error behind deviations, estimated where it comes out and not where it was stated.

Deviations d, their sensitivity s to the error and their covariance V_0 from all others change with
the error: a bore that is 3 % smaller makes 14 % of f, and a smaller bore counts more. So the
estimate is made again with the error moved to where the last one put it (Gauss and Newton's
method, as for any least squares that is not linear).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.moved_errors import with_moved_error
from flowunc.analysis.shared_errors import Estimate, SharedError, Sources, estimate, sources_of
from flowunc.core.distributions import Distribution
from flowunc.core.errors import FlowuncError, PropagationError
from flowunc.core.record import Node
from flowunc.propagation.contributions import contributions

__all__ = ["Point", "Step", "law_of", "settled"]

Floats = NDArray[np.float64]

_MOST_STEPS = 10
_SETTLED = 0.03  # of u of the error; what is left after such a step is the square of it
_RELATIVE = 1e-9  # of an error that would have no u


class Point(NamedTuple):
    """Deviations and what stands behind them, with one error away from 0.

    Attributes
    ----------
    node : Node
        Record of all deviations.
    z : float
        Size of the error, in its standard uncertainties.
    deviation : ndarray, shape (n,)
        Of the readings that count.
    sources : Sources
        Behind these.
    """

    node: Node
    z: float
    deviation: Floats
    sources: Sources


class Step(NamedTuple):
    """The estimate of one error from a point.

    Attributes
    ----------
    one : SharedError
        As it acts at that point.
    point : Point
    estimate : Estimate
    """

    one: SharedError
    point: Point
    estimate: Estimate

    @property
    def size(self) -> float:
        """How much further the error would have to move."""
        return float(self.estimate.weights @ self.point.deviation)

    @property
    def z(self) -> float:
        """Where the error would have to be, in its standard uncertainties."""
        return self.point.z + self.size


def settled(one: SharedError, start: Point, rows: NDArray[np.intp]) -> Step:
    """Estimate an error, linearised where it comes out.

    Parameters
    ----------
    one : SharedError
    start : Point
        With all errors at 0.
    rows : ndarray of int, shape (n,)
        Readings of the record that count.

    Returns
    -------
    Step
        The last one, which moves the error by less than 3 % of its u; the first one where
        the formulas have no value on the way, or ten steps do not settle it.
    """
    first = step = _step_from(one, start)
    for _ in range(_MOST_STEPS):
        if abs(step.size) <= max(_SETTLED * step.estimate.u, _RELATIVE * abs(step.z)):
            return step
        try:
            step = _step_from(one, _moved_to(step.z, one, start, rows))
        except FlowuncError:  # a bore of less than nothing
            return first
    return first


def law_of(one: SharedError) -> Distribution:
    """Return what is stated of an error, of its own reading where each has one."""
    law = one.component.distribution
    return law if one.column is None or law.size is None else law.at(one.column)


def _moved_to(z: float, one: SharedError, start: Point, rows: NDArray[np.intp]) -> Point:
    error = z * float(law_of(one).standard_uncertainty)
    node = with_moved_error(start.node, one.component, one.column, error)
    sources = sources_of(contributions(node), rows, np.zeros(rows.size))
    return Point(node, z, np.atleast_1d(node.value)[rows], sources)


def _step_from(one: SharedError, point: Point) -> Step:
    for place, other in enumerate(point.sources.shared):
        if (other.component, other.column) == (one.component, one.column):
            if not np.square(other.values).any():
                break
            others = point.sources.covariance(without=place)
            return Step(other, point, estimate(others, other.values))
    raise PropagationError(f"{one.label} has no part in the deviations where it would have to be")
