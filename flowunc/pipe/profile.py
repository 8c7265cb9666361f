"""Velocity across the pipe: the parabola of laminar flow, the power law of turbulent flow."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from flowunc.core.component import Component
from flowunc.core.distributions import Rectangular
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import FrictionFactor, Length, Ratio, Velocity
from flowunc.core.naming import named_argument
from flowunc.core.quantity import Quantity
from flowunc.core.record import common_size
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.pipe.signs import require_not_negative, require_positive

__all__ = [
    "centreline_ratio",
    "laminar_velocity",
    "power_law_exponent",
    "turbulent_velocity",
]

# Over Re 4e3 to 1e8 the ratio lies 1.5 % to 4.4 % above that of the logarithmic law, 1 + 1.326
# sqrt f [White 2003, ch. 6], and 1.4 % below to 4.5 % above that of the exponents measured by
# Nikuradse [Schlichting 1979, table 20.1] (both computed, from memory).
_POWER_LAW = Component(
    label="power-law profile",
    distribution=Rectangular(0.05),
    unit=PERCENT,
    source="velocity profile",
    key="flowunc.profile.power_law",
)


def power_law_exponent(friction: FrictionFactor) -> Ratio:
    """Find the exponent of the power law from the friction factor.

    Parameters
    ----------
    friction : FrictionFactor, scalar or shape (n,)
        Darcy's, above 0, of turbulent flow.

    Returns
    -------
    Ratio
        n in u = u_max (1 - r/R)^(1/n); about 5 at Re 4000 and 10 at 3e6.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A friction factor not above 0.

    Notes
    -----
    n = 1/sqrt f [Nunner 1956].

    Examples
    --------
    >>> from flowunc import FrictionFactor, power_law_exponent
    >>> power_law_exponent(FrictionFactor(0.02, "1")).value
    7.0710678
    """
    f = named_argument(friction, FrictionFactor, "power_law_exponent", "friction")
    require_positive(f, "power_law_exponent", "friction")

    n = f**-0.5

    return Ratio._from_node(n._node, label="power-law exponent")


def centreline_ratio(
    friction: FrictionFactor | None = None, *, regime: Literal["laminar", "turbulent"]
) -> Ratio:
    """Find the ratio of the velocity on the axis to the mean velocity.

    Parameters
    ----------
    friction : FrictionFactor, scalar or shape (n,), optional
        Darcy's; for turbulent flow only.
    regime : {"laminar", "turbulent"}
        Of developed flow. In transitional flow the ratio swings between the two.

    Returns
    -------
    Ratio
        2 in laminar flow, exact; near 1.2 in turbulent flow, with the error of the power law.

    Raises
    ------
    DimensionError
        Another kind of quantity; a friction factor missing, or given for laminar flow.
    RangeError
        Another regime; a friction factor not above 0.

    Notes
    -----
    Laminar: 2, of the parabola [White 2003, ch. 6]. Turbulent: (n + 1)(2 n + 1)/(2 n^2), the
    integral of the power law, with n = 1/sqrt f [Nunner 1956]. Limits of 5 % either way, one
    shared component, cover the logarithmic law and the exponents measured by Nikuradse
    [Schlichting 1979, table 20.1].

    Examples
    --------
    >>> from flowunc import FrictionFactor, centreline_ratio
    >>> centreline_ratio(regime="laminar").value
    2.0
    >>> round(centreline_ratio(FrictionFactor(0.02, "1"), regime="turbulent").value, 4)
    1.2221
    """
    name = "centreline_ratio"
    if require_regime(regime, name) == "laminar":
        if friction is not None:
            raise DimensionError(
                f"{name}: got a friction factor for laminar flow, where the ratio is always 2; "
                "leave it out"
            )
        return Ratio(2.0, "1", label="centreline to mean velocity")
    if friction is None:
        raise DimensionError(
            f"{name}: no friction factor; expected Darcy's of the run, such as "
            "laws.prandtl_smooth(re), for the exponent of the turbulent profile"
        )
    n = power_law_exponent(friction)
    ratio = (n + 1) * (2 * n + 1) / (2 * n**2) * one_within(_POWER_LAW)
    return Ratio._from_node(ratio._node, label="centreline to mean velocity")


def require_regime(regime: Any, function: str) -> str:
    """Return the regime, refused unless it is one that has a profile."""
    if regime not in ("laminar", "turbulent"):
        raise RangeError(
            f"{function}(regime={regime!r}): expected 'laminar' or 'turbulent'; transitional flow "
            "has no profile of its own"
        )
    return str(regime)


def laminar_velocity(velocity: Velocity, bore: Length, radius: Length) -> Velocity:
    """Find the velocity at a distance from the axis in laminar flow.

    Parameters
    ----------
    velocity : Velocity, scalar or shape (n,)
        Mean velocity.
    bore : Length, scalar or shape (n,)
        Inside diameter.
    radius : Length, scalar or shape (n,)
        Distance from the axis, 0 to half the bore.

    Returns
    -------
    Velocity
        In m/s.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A bore not above 0; a radius below 0 or beyond the wall.

    Notes
    -----
    u = 2 v (1 - (2 r/D)^2), Hagen-Poiseuille, exact for developed flow [White 2003, ch. 6].

    Examples
    --------
    >>> from flowunc import Length, Velocity, laminar_velocity
    >>> u = laminar_velocity(Velocity(0.1, "m/s"), Length(20, "mm"), Length([0, 5, 10], "mm"))
    >>> u.value.round(4)
    array([0.2 , 0.15, 0.  ])
    """
    v, D, r = _checked(velocity, bore, radius, "laminar_velocity")

    u = 2 * v * (1 - (2 * r / D) ** 2)

    return Velocity._from_node(u._node, label="local velocity")


def turbulent_velocity(
    velocity: Velocity, bore: Length, radius: Length, friction: FrictionFactor
) -> Velocity:
    """Estimate the velocity at a distance from the axis in turbulent flow.

    Parameters
    ----------
    velocity : Velocity, scalar or shape (n,)
        Mean velocity.
    bore : Length, scalar or shape (n,)
        Inside diameter.
    radius : Length, scalar or shape (n,)
        Distance from the axis, 0 to half the bore, the wall itself left out.
    friction : FrictionFactor, scalar or shape (n,)
        Darcy's, above 0.

    Returns
    -------
    Velocity
        In m/s.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Bore or friction factor not above 0; a radius below 0, at the wall or beyond it.

    Notes
    -----
    u = u_max (1 - 2 r/D)^(1/n), n and u_max as in `centreline_ratio`, whose error is carried as
    one factor of the whole profile. The power law has neither the right slope on the axis nor,
    within a few per cent of the radius, at the wall [Schlichting 1979, ch. 20]. On the axis it
    has a peak, so that an uncertain radius of 0 has no linear uncertainty: use ``.monte_carlo()``.

    Examples
    --------
    >>> from flowunc import FrictionFactor, Length, Velocity, turbulent_velocity
    >>> u = turbulent_velocity(
    ...     Velocity(1.0, "m/s"), Length(20, "mm"), Length([0, 5], "mm"), FrictionFactor(0.02, "1")
    ... )
    >>> u.value.round(4)
    array([1.2221, 1.108 ])
    """
    name = "turbulent_velocity"
    v, D, r = _checked(velocity, bore, radius, name)
    f = named_argument(friction, FrictionFactor, name, "friction")
    require_positive(f, name, "friction")
    at_wall = np.atleast_1d(2 * r._node.value == D._node.value)
    if at_wall.any():
        run = int(np.argmax(at_wall))
        raise RangeError(
            f"{name}(radius=...): at the wall{_place(at_wall, run)}, where the power law has no "
            "slope; expected a radius below half the bore: the velocity at the wall is 0"
        )
    n = power_law_exponent(f)
    depth = 1 - 2 * abs(r) / D  # draws on the other side of the axis are as far from it

    u = v * centreline_ratio(f, regime="turbulent") * depth ** (1 / n)

    return Velocity._from_node(u._node, label="local velocity")


def _checked(
    velocity: Velocity, bore: Length, radius: Length, name: str
) -> tuple[Velocity, Length, Length]:
    v = named_argument(velocity, Velocity, name, "velocity")
    D = named_argument(bore, Length, name, "bore")
    r = named_argument(radius, Length, name, "radius")
    require_positive(D, name, "bore")
    require_not_negative(r, name, "radius")
    common_size((v._node, D._node, r._node))
    beyond = np.atleast_1d(2 * r._node.value > D._node.value)
    if beyond.any():
        run = int(np.argmax(beyond))
        found = _at(r, run)
        raise RangeError(
            f"{name}(radius=...): {found:.6g} {r.unit}{_place(beyond, run)} lies beyond the wall; "
            f"expected at most half the bore, {_at(D.to(r.unit), run) / 2:.6g} {r.unit}"
        )
    return v, D, r


def _at(quantity: Quantity, run: int) -> float:
    return float(np.resize(quantity.value, run + 1)[run])


def _place(bad: np.ndarray[Any, Any], run: int) -> str:
    return "" if bad.size == 1 else f" at reading {run}"
