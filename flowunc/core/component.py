"""The elementary source of uncertainty: one named, independent `Component`.

A component is known by its *key*, never by its numbers or its address: two results are
correlated exactly when they depend on a component of the same key. Copying and pickling
keep the key.
"""

from __future__ import annotations

import math
import uuid
import weakref
from dataclasses import dataclass, field, fields
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.core import engine
from flowunc.core.distributions import Distribution
from flowunc.core.errors import StatementError
from flowunc.core.law_parameters import LEAST_DOF
from flowunc.core.units import Unit

__all__ = ["Component", "Pool", "Term"]


# Components that exist, by key: what comes out of a pickle is the very component if it still lives.
_alive: weakref.WeakValueDictionary[str, Component] = weakref.WeakValueDictionary()


def new_key() -> str:
    """Return a key that no other component has."""
    return uuid.uuid4().hex


@dataclass(frozen=True, eq=False, slots=True)
class Pool:
    """Components whose size was estimated together from one sample (one common dof).

    Their joint distribution is the multivariate t [JCGM 102, 5.3.2]: normal
    components divided by one common chi factor. In the Welch-Satterthwaite formula a pool
    counts as one term, which is exact: any linear combination of the pooled estimates has
    the degrees of freedom of the sample. ``dof`` is one number, or one per reading for
    components that have a fresh value for each. Single components of a pool mean nothing, so
    budgets show the pool as one line under its ``label``.
    """

    dof: float | NDArray[np.float64]
    label: str = "estimated together"
    key: str = field(default_factory=new_key)


@dataclass(frozen=True, eq=False, slots=True, weakref_slot=True)
class Component:
    """One elementary, independent source of uncertainty.

    Parameters
    ----------
    label : str
        Name shown in budgets, such as "bore" or "small meter calibration".
    distribution : Distribution
        Distribution of the error, zero mean, in coherent SI.
    unit : Unit
        Unit in which budgets show the component.
    scope : {"shared", "each"}
        ``"shared"``: one unknown value behind every reading. ``"each"``: a fresh one for
        every reading.
    evaluation : {"A", "B"}
        Type of evaluation [JCGM 100, 4.2 and 4.3].
    dof : float or ndarray, shape (n,)
        Degrees of freedom, infinite unless stated; an array gives one per reading.
    source : str
        The instrument or certificate it comes from; budgets can be grouped by it.
    pool : Pool, optional
        The sample from which several correlated components were estimated together.
    key : str
        Identity. Made fresh unless given.
    role : str
        Part that it plays in an instrument: "resolution" or "calibration", "" for all others.

    Examples
    --------
    >>> from flowunc import Component, Length, limits
    >>> (Component,) = {type(c) for c in Length(19.05, "mm", limits(0.05)).components}
    """

    label: str
    distribution: Distribution
    unit: Unit
    scope: Literal["shared", "each"] = "shared"
    evaluation: Literal["A", "B"] = "B"
    dof: float | NDArray[np.float64] = math.inf
    source: str = ""
    pool: Pool | None = None
    key: str = field(default_factory=new_key)
    role: str = ""

    def __post_init__(self) -> None:
        dof = np.asarray(self.dof, dtype=float)
        if not bool(np.all(dof >= LEAST_DOF)):
            raise StatementError(
                f"degrees of freedom {self.dof!r} of component '{self.label}': expected numbers "
                f"above 0, {LEAST_DOF:g} at least (infinite where the uncertainty is certain)"
            )
        _alive.setdefault(self.key, self)

    def __reduce__(self) -> tuple[Any, ...]:
        return _restored, tuple(getattr(self, field.name) for field in fields(self))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Component) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


_KEY = [part.name for part in fields(Component)].index("key")


def _restored(*parts: Any) -> Component:
    if str(parts[_KEY]).startswith("flowunc."):
        engine.load_layers()  # a built-in one: that of the module which states it comes first
    component = Component(*parts)
    return _alive.get(component.key, component)


class Term:
    """How a component enters an input: input = estimate + gain * error.

    Attributes
    ----------
    component : Component
    gain : float or ndarray, shape (n,)
        Sensitivity of the input to the component: 1 where the component is stated in the
        input's own dimension, the reading itself where it is a fraction of the reading.
    width : float or ndarray, shape (n,)
        Standard uncertainty that it gives the input, with the sign of the gain.
    """

    __slots__ = ("component", "gain", "width")

    def __init__(self, component: Component, gain: float | NDArray[np.float64] = 1.0) -> None:
        self.component = component
        self.gain = gain
        self.width = gain * component.distribution.standard_uncertainty
