"""The lines of the budgets of all readings as arrays, and U after a change of some of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.quantity import Quantity
from flowunc.propagation.budget import distinct_labels
from flowunc.propagation.contributions import Contribution, contributions
from flowunc.propagation.coverage import t_factor
from flowunc.propagation.pieces import rows_of

__all__ = [
    "BudgetLines",
    "Grouping",
    "budget_lines",
    "check_grouping",
    "relative_expanded",
    "require_quantity",
]

Floats = NDArray[np.float64]
Grouping: TypeAlias = Literal["component", "source", "scope", "evaluation"]

GROUPINGS = ("component", "source", "scope", "evaluation")


@dataclass(frozen=True, eq=False)
class BudgetLines:
    """The lines of the budgets of all readings; arrays have the shape (lines, readings).

    Attributes
    ----------
    quantity : Quantity
    parts : list of Contribution
        What each line is about; for what was estimated together, the first part of it.
    signed : ndarray
        Contribution in the unit of the quantity, with its sign where it has one.
    u : ndarray
        In the unit of the line.
    dof : ndarray
    share : ndarray
        Of the variance.
    loss : ndarray
        Terms of 1/dof_eff: share^2/dof [JCGM 100, eq. G.2b].
    acts : ndarray of bool
        Whether the line is one of the budget of the reading.
    """

    quantity: Quantity
    parts: list[Contribution]
    signed: Floats
    u: Floats
    dof: Floats
    share: Floats
    loss: Floats
    acts: NDArray[np.bool_]

    @property
    def components(self) -> list[Component]:
        """The component of each line; the first one of a pool."""
        return [part.component for part in self.parts]

    def groups(self, by: Grouping) -> dict[str, NDArray[np.intp]]:
        """Return which lines belong to which group, groups in the order of the record."""
        found: dict[str, list[int]] = {}
        if by == "component":
            labels = [c.label if c.pool is None else c.pool.label for c in self.components]
            found = {name: [line] for line, name in enumerate(distinct_labels(labels))}
        else:
            for line, component in enumerate(self.components):
                name = getattr(component, by) or component.label
                found.setdefault(name, []).append(line)
        return {name: np.array(lines) for name, lines in found.items()}

    def texts(self) -> dict[str, list[str]]:
        """Return what is said of each line in words."""
        return {
            "source": [c.source or c.label for c in self.components],
            "scope": [c.scope for c in self.components],
            "evaluation": [c.evaluation for c in self.components],
            "distribution": [
                c.distribution.name if c.pool is None else "multivariate t" for c in self.components
            ],
            "unit": [
                str(c.unit) if c.pool is None else self.quantity.unit for c in self.components
            ],
        }

    def combined(self, members: list[NDArray[np.intp]]) -> Floats:
        """Return the contribution of groups of lines, shape (groups, readings)."""
        sizes = [np.hypot.reduce(self.signed[own], axis=0) for own in members]
        result: Floats = np.abs(np.array(sizes).reshape(len(members), self.signed.shape[1]))
        return result

    def sensitivity(self) -> Floats:
        """Return the change of the result per unit of the line."""
        known = np.where(self.u > 0, self.u, 1.0)
        result = np.where(self.u > 0, self.signed / known, 0.0)
        pooled = [c.pool is not None for c in self.components]
        result[pooled] = 1.0  # stated as it reaches the result
        return result

    def gain_if_halved(self, members: NDArray[np.intp], level: float) -> Floats:
        """Return by which part U would be smaller if these lines had half their u."""
        own, own_loss = self.share[members].sum(axis=0), self.loss[members].sum(axis=0)
        total = self.loss.sum(axis=0)
        rest, rest_loss = 1.0 - own, np.maximum(total - own_loss, 0.0)
        halved, whole = (
            relative_expanded(rest, rest_loss, own, own_loss, factor, level)
            for factor in (0.5, 1.0)
        )
        return 1.0 - halved / whole


def relative_expanded(
    rest: Any, rest_loss: Any, own: Any, own_loss: Any, factor: Any, level: float
) -> Floats:
    """Return U, in units of the present u, after multiplying a part by a factor.

    Parameters
    ----------
    rest, own : float or ndarray
        Shares of the variance.
    rest_loss, own_loss : float or ndarray
        Their terms share^2/dof of the Welch-Satterthwaite formula.
    factor : float or ndarray
        What the standard uncertainty of the part is multiplied with.
    level : float
    """
    square = np.square(factor)
    variance = np.maximum(np.asarray(rest + square * own, dtype=np.float64), 0.0)
    known = np.where(variance > 0, variance, 1.0)
    loss = (rest_loss + np.square(square) * own_loss) / np.square(known)
    with np.errstate(divide="ignore"):
        dof = np.where(loss > 0, 1.0 / np.asarray(loss), np.inf)
    return np.asarray(t_factor(dof, level) * np.sqrt(variance))


def budget_lines(quantity: Quantity) -> BudgetLines:
    """Return the lines of the budgets of all readings of a result.

    Notes
    -----
    Pools count as one line, as they count as one term of the effective degrees of freedom.
    """
    parts = contributions(quantity._node)
    count = rows_of(quantity._node)
    pools: dict[str, list[Contribution]] = {}
    for part in parts:
        pool = part.component.pool
        pools.setdefault(part.component.key if pool is None else pool.key, []).append(part)
    together = list(pools.values())
    shape = (len(together), count)
    signed, u, dof, fewest = (np.zeros(shape) for _ in range(4))
    to_unit = quantity._unit.scale_from_si
    for line, found in enumerate(together):
        component = found[0].component
        dof[line] = found[0].dof_per_row()
        fewest[line] = np.min([part.dof_per_row() for part in found], axis=0)
        if component.pool is None:
            signed[line] = to_unit(found[0].per_row())
            u[line] = component.unit.scale_from_si(found[0].standard_uncertainty_per_row())
        else:
            signed[line] = to_unit(np.hypot.reduce([np.abs(p.per_row()) for p in found], axis=0))
            u[line] = signed[line]
    largest = np.max(np.abs(signed), axis=0, initial=0.0)
    # of the largest first: squares of tiny uncertainties would leave float64
    squares = np.square(signed / np.where(largest > 0, largest, 1.0))
    share = squares / np.where(largest > 0, squares.sum(axis=0), 1.0)
    acts = signed != 0
    acts[~acts.any(axis=1)] = True  # zero everywhere: it cancels, which is worth a line
    first = [found[0] for found in together]
    return BudgetLines(quantity, first, signed, u, dof, share, np.square(share) / fewest, acts)


def require_quantity(value: Any, function: str) -> None:
    """Refuse what is no quantity."""
    if not isinstance(value, Quantity):
        raise DimensionError(
            f"{function}(): got {type(value).__name__} {value!r}; expected a quantity, such as a "
            "friction factor or the slope of a fit"
        )


def check_grouping(by: Any, function: str) -> None:
    """Refuse an unknown grouping."""
    if by not in GROUPINGS:
        raise RangeError(f"{function}(by={by!r}): expected one of {', '.join(GROUPINGS)}")
