"""Scatter of repeated readings: Type A, with what the readings of one row have in common.

The columns of a manometer swing together, and with the flow; the four readings of a row are
therefore one sample of four variables. What enters is the covariance matrix of their means,
s_ij / n, with n - 1 degrees of freedom [JCGM 100, 4.2.3 and H.2; JCGM 102, 5.3.2].

X, the deviations from the mean divided by sqrt(n (n - 1)), gives that matrix as X'X. With
X = QR it is R'R: the errors of the four means are combinations, by the columns of R, of four
independent errors of size 1. QR needs no covariance matrix of full rank, which two or three
repeats do not give.

Resolution is not part of this: a mean keeps that of one reading, in full. Where repeats agree that
is what is left of the rounding error, as they are all rounded alike [JCGM 100, F.2.2.1]. Where they
scatter by a step of the scale or more it counts twice, since the scatter has it in it [JCGM 100,
4.3.10], and intervals cover 97 to 99 % in place of 95 %. It stays all the same. Left out from one
step on, f of 2, 3, 5 and 10 repeats would be covered at 88, 93, 94.5 and 95 % by the linear method:
effective degrees of freedom [JCGM 100, G.4] fall short for few repeats beside rectangular errors,
with or without rounding, and the surplus makes up for some of that. None of the rules tried kept
95 % for 2 to 10 repeats with less: left out from 0.5 to 1.5 steps on, or the larger of both
variances in place of their sum (simulated by tests/closed_loop). Two repeats are too few in any
case: 88 to 93 % where they scatter by a step or more.
"""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.units import Unit, coherent_unit, parse_unit

__all__ = ["FLOW", "HIGH", "LOW", "TEMPERATURE", "Scatter", "scatter_of"]

Q = TypeVar("Q", bound=Quantity)

FLOW, TEMPERATURE, HIGH, LOW = range(4)  # columns of `Run.readings`
_ONE = parse_unit("1")


class Scatter(NamedTuple):
    """Means of the readings, and the independent errors behind the scatter of the repeats.

    Attributes
    ----------
    means : ndarray, shape (runs, 4)
        Flow, temperature, high and low, in the units of the instruments.
    repeated : ndarray of int, shape (r,)
        The runs that have repeats.
    gains : ndarray, shape (4, r, 4)
        Of each independent error (first axis) in each mean of each run with repeats.
    components : tuple of Component
        The four independent errors.
    """

    means: NDArray[np.float64]
    repeated: NDArray[np.intp]
    gains: NDArray[np.float64]
    components: tuple[Component, ...]

    def of(
        self, column: int, kind: type[Q], unit: Unit, factor: NDArray[np.float64] | None = None
    ) -> Q | None:
        """Return the scatter of one mean over all runs as an error of value 0.

        Parameters
        ----------
        column : int
            `FLOW`, `TEMPERATURE`, `HIGH` or `LOW`.
        kind, unit
            Of the readings; a difference, for temperatures.
        factor : ndarray, shape (runs,), optional
            What each reading is multiplied with before it counts.

        Returns
        -------
        Quantity, shape (runs,), or None
            None where no run has repeats.
        """
        if not self.repeated.size:
            return None
        gains = unit.scale_to_si(self.gains[:, :, column])
        if factor is not None:
            gains = gains * factor[self.repeated]
        shown = coherent_unit(unit.dimension) if unit.is_offset else unit
        terms = [
            Term(component, gain)
            for component, gain in zip(self.components, gains, strict=True)
            if gain.any()
        ]
        count, size = len(self.means), self.repeated.size
        scattered = kind._from_terms(np.zeros(size), terms, shown)
        if size == count:
            return scattered
        # runs without repeats get a plain 0, so that no empty line stands in their budgets
        order = np.full(count, size)
        order[self.repeated] = np.arange(size)
        joined: Q = concatenate(scattered, kind._from_terms(np.zeros(1), [], shown))[order]
        return joined


def scatter_of(sheet: Sheet) -> Scatter:
    """Return means and scatter of the readings of all runs."""
    runs = sheet.runs
    readings = [run.readings() for run in runs]
    means = np.array([rows.mean(axis=0) for rows in readings])
    repeated = np.flatnonzero([len(rows) > 1 for rows in readings])
    gains = np.zeros((4, repeated.size, 4))
    dof = np.ones(repeated.size)
    for place, run in enumerate(repeated):
        rows = readings[run]
        count = len(rows)
        deviations = (rows - means[run]) / math.sqrt(count * (count - 1))
        factor = np.linalg.qr(deviations, mode="r")
        gains[: len(factor), place, :] = factor
        dof[place] = count - 1
    dof.setflags(write=False)
    pool = Pool(dof=dof, label="repeats")
    components = tuple(
        Component(
            label=f"repeats, part {part} of 4",
            distribution=Normal(1.0),
            unit=_ONE,
            scope="each",
            evaluation="A",
            dof=dof,
            source="repeats",
            pool=pool,
        )
        for part in (1, 2, 3, 4)
    )
    return Scatter(means, repeated, gains, components)
