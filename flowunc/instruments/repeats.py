"""`mean_of_repeats`: several results at one and the same state, with the scatter they show."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np

from flowunc.core.component import Component, Term
from flowunc.core.distributions import ScaledT
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.quantity import Quantity
from flowunc.core.units import coherent_unit

__all__ = ["mean_of_repeats"]

Q = TypeVar("Q", bound=Quantity)


def mean_of_repeats(results: Q, *, label: str | None = None) -> Q:
    """Average repeated results of one state, so that their scatter counts once.

    Parameters
    ----------
    results : Quantity, shape (n,)
        At least two, such as flows that `TimedCollection.read` found at one setting.
    label : str, optional
        Name of the mean; that of the results if left out.

    Returns
    -------
    Quantity, scalar
        Of the same kind, in the same unit. Errors that the results share stay in full, their
        own average out, and what they scatter beyond those is added as Type A with n - 1
        degrees of freedom.

    Raises
    ------
    DimensionError
        Something else than a quantity.
    RangeError
        Fewer than two results.

    Notes
    -----
    The sample variance s^2 [JCGM 100, 4.2.2] holds the own errors of the results already.
    Stated covariances V make it (tr V - sum V / n) / (n - 1) on average; only the excess
    over that is added, so the mean has s^2 / n [JCGM 100, 4.2.3], or what is stated where
    that is more. Shared errors drop out of both.

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, mean_of_repeats, percent_of_reading, shared
    >>> flows = VolumeFlowRate([2.02, 2.05, 1.99, 2.06], "L/min", shared(percent_of_reading(0.5)))
    >>> print(mean_of_repeats(flows, label="flow"))
    flow: 2.030 ± 0.017 L/min
    """
    if not isinstance(results, Quantity):
        raise DimensionError(
            f"mean_of_repeats: got {type(results).__name__} {results!r}; expected a quantity with "
            "readings"
        )
    n = 1 if results.ndim == 0 else len(results)
    if n < 2:
        raise RangeError("mean_of_repeats: one result cannot show scatter; expected two or more")
    name = label or results.label or results._word()
    si = results.si
    values, average = np.asarray(si.value), results.mean()
    # tr V and sum V / n^2, without V itself, which has n^2 numbers
    each, together = np.square(results._u_si()), np.square(average._u_si())
    expected = (float(np.sum(each)) - n * float(together)) / (n - 1)
    excess = max(float(np.var(values, ddof=1)) - expected, 0.0)
    scatter = Component(
        f"{name} scatter of repeats",
        ScaledT(math.sqrt(excess / n), n - 1.0),
        coherent_unit(results._unit.dimension) if results._unit.is_offset else results._unit,
        evaluation="A",
        dof=n - 1.0,
        source=name,
    )
    error = Quantity._from_terms(0.0, (Term(scatter),), coherent_unit(results._unit.dimension))
    mean = average + error
    return results._with(mean._node, label=name)
