"""The front of a dye thread, timed over a distance: a second way to the mean velocity."""

from __future__ import annotations

from typing import Literal

from flowunc.core.kinds import FrictionFactor, Length, Time, Velocity
from flowunc.core.naming import named_argument
from flowunc.pipe.profile import centreline_ratio, require_regime
from flowunc.pipe.signs import require_not_negative, require_positive

__all__ = ["dye_front_velocity", "mean_velocity_from_centreline"]


def dye_front_velocity(distance: Length, time: Time) -> Velocity:
    """Compute the velocity of a dye front from the time it takes over a distance.

    Parameters
    ----------
    distance : Length, scalar or shape (n,)
        Between two marks on the pipe.
    time : Time, scalar or shape (n,)
        For the front to pass from one to the other, such as a reading of a `Stopwatch`.

    Returns
    -------
    Velocity
        In m/s; of the centreline, if the thread is on the axis.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A distance or a time not above 0.

    Notes
    -----
    u = l/t. The front keeps to the axis only in laminar flow, and only if the needle stands
    there: at a distance r from the axis it falls short by (2 r/D)^2, 1 % for a twentieth of the
    bore (`laminar_velocity`). Start timing when the front has left the entrance length: before,
    the axis is slower. In turbulent flow the front spreads at once, its tip follows the fastest
    fluid, and what is timed is a rough guide (common practice, no source).

    Examples
    --------
    >>> from flowunc import Length, Scale, Stopwatch, dye_front_velocity, limits
    >>> watch = Stopwatch(Scale(0.01, "s", kind="digital"), reaction=limits(0.2))
    >>> u = dye_front_velocity(Length(1.0, "m", limits(2, "mm")), watch.read(8.0))
    >>> print(u)
    dye front velocity: 0.1250 ± 0.0026 m/s
    """
    name = "dye_front_velocity"
    length = named_argument(distance, Length, name, "distance")
    t = named_argument(time, Time, name, "time")
    require_positive(length, name, "distance")
    require_positive(t, name, "time")

    u = length / t

    return Velocity._from_node(u._node, label="dye front velocity")


def mean_velocity_from_centreline(
    centreline: Velocity,
    friction: FrictionFactor | None = None,
    *,
    regime: Literal["laminar", "turbulent"],
) -> Velocity:
    """Find the mean velocity from the velocity on the axis.

    Parameters
    ----------
    centreline : Velocity, scalar or shape (n,)
        0 or more.
    friction : FrictionFactor, scalar or shape (n,), optional
        Darcy's; for turbulent flow only. Measured, or by a law at the Reynolds number of the
        meter: 10 % in f is 1 % in the mean velocity.
    regime : {"laminar", "turbulent"}
        Of developed flow, as the dye shows it.

    Returns
    -------
    Velocity
        In m/s. It shares nothing with the flow meter but what ``friction`` brings in, so that
        `agreement` of the two velocities is a check of the meter.

    Raises
    ------
    DimensionError
        Another kind of quantity; a friction factor missing, or given for laminar flow.
    RangeError
        Another regime; a velocity below 0, a friction factor not above 0.

    Notes
    -----
    v = u/2 in laminar flow, the parabola, exact [White 2003, ch. 6]. In turbulent flow
    v = u 2 n^2/((n + 1)(2 n + 1)) of the power law with n = 1/sqrt f, and its error
    (`centreline_ratio`).

    Examples
    --------
    >>> from flowunc import Length, Velocity, VolumeFlowRate, agreement, limits, mean_velocity
    >>> from flowunc import mean_velocity_from_centreline
    >>> by_dye = mean_velocity_from_centreline(
    ...     Velocity(0.125, "m/s", limits(0.004)), regime="laminar"
    ... )
    >>> by_meter = mean_velocity(VolumeFlowRate(1.2, "L/min", limits(0.03)), Length(20, "mm"))
    >>> agreement(by_dye, by_meter).satisfied
    True
    """
    name = "mean_velocity_from_centreline"
    u = named_argument(centreline, Velocity, name, "centreline")
    require_not_negative(u, name, "centreline")
    require_regime(regime, name)

    v = u / centreline_ratio(friction, regime=regime)

    return Velocity._from_node(v._node, label="mean velocity from dye")
