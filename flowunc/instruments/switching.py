"""`switching_error`: what starting and stopping a collection add to its time."""

from __future__ import annotations

import numpy as np

from flowunc.core.errors import RangeError
from flowunc.core.kinds import Mass, Time, require_kind

__all__ = ["switching_error"]


def switching_error(
    *, mass: Mass, time: Time, burst_mass: Mass, burst_time: Time, bursts: int
) -> Time:
    """Find the time that one start and one stop add, from one long collection and many short.

    Parameters
    ----------
    mass, time : Mass, Time, scalar
        Collected in one go, and the time shown for it.
    burst_mass, burst_time : Mass, Time, scalar
        Collected in all the short bursts together at the same flow, and the sum of the times
        shown for them.
    bursts : int
        Number of bursts, at least 2.

    Returns
    -------
    Time, scalar
        What to add to each time shown: ``TimedCollection(switching=...)``. Negative where
        the clock runs longer than the liquid does.

    Raises
    ------
    DimensionError
        Quantities of another kind.
    RangeError
        Fewer than 2 bursts; masses or times that are not above 0; bursts as long as the
        single collection.

    Notes
    -----
    With a steady flow m / (t + d) = M / (T + n d), so

        d = (M t - m T) / (n m - M)

    for m, t of the single collection and M, T of n bursts. It is the method of
    [ISO 4185, annex A] for a diverter; of a bucket and a stopwatch it finds the mean
    reaction. The flow must be as steady as the answer is to be good: an error e of the ratio
    of both flows shifts d by about T e / n.

    Examples
    --------
    Invented: 20 bursts of 3 s against one collection of 60 s.

    >>> from flowunc import Mass, Time, switching_error
    >>> delay = switching_error(
    ...     mass=Mass(60.03, "kg"), time=Time(60, "s"),
    ...     burst_mass=Mass(60.6, "kg"), burst_time=Time(60, "s"), bursts=20,
    ... )
    >>> round(delay.value, 6)
    0.03
    """
    name = "switching_error"
    m = require_kind(mass, Mass, name, "mass")
    t = require_kind(time, Time, name, "time")
    M = require_kind(burst_mass, Mass, name, "burst_mass")
    T = require_kind(burst_time, Time, name, "burst_time")
    if np.asarray(bursts).dtype.kind not in "iu" or bursts < 2:
        raise RangeError(f"{name}(bursts={bursts!r}): expected a whole number, 2 or more")
    for argument, given in (("mass", m), ("time", t), ("burst_mass", M), ("burst_time", T)):
        if given.ndim or not given.si.value > 0:
            raise RangeError(f"{name}({argument}={given}): expected one value above 0")
    if not T.si.value / bursts < 0.5 * t.si.value:
        raise RangeError(
            f"{name}: bursts of {T.si.value / bursts:g} s on average against {t.si.value:g} s; "
            "expected bursts shorter than half the single collection, a tenth is better"
        )
    n = int(bursts)

    delay: Time = (M * t - m * T) / (n * m - M)

    return delay.labelled("switching time")
