"""`TimedCollection`: flow rate from what is collected in a time, weighed or by volume."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Density, Mass, Time, Volume, VolumeFlowRate, require_kind
from flowunc.instruments.balance import Balance, buoyancy_factor
from flowunc.instruments.instrument import first_at
from flowunc.instruments.stopwatch import Stopwatch
from flowunc.instruments.vessel import Vessel

__all__ = ["TimedCollection"]


class TimedCollection:
    """Measure flow by collecting it for a time, with a balance or with a vessel.

    Parameters
    ----------
    stopwatch : Stopwatch
        Times the collection.
    balance : Balance
        Weighs it; or
    vessel : Vessel
        shows its volume.

    Raises
    ------
    StatementError
        Neither or both of balance and vessel.
    DimensionError
        Instruments of another kind.

    Examples
    --------
    >>> from flowunc import Balance, Density, Scale, Stopwatch, TimedCollection, limits
    >>> bucket = TimedCollection(
    ...     stopwatch=Stopwatch(Scale(0.01, "s", kind="digital"), reaction=limits(0.2)),
    ...     balance=Balance(Scale(1, "g", kind="digital"), accuracy=limits(3)),
    ... )
    >>> flow = bucket.read(mass=5230.0, tare=1140.0, time=60.0, density=Density(998.2, "kg/m^3"))
    >>> round(flow.to("L/min").value, 4), round(flow.to("L/min").u, 4)
    (4.1017, 0.0112)
    """

    def __init__(
        self,
        *,
        stopwatch: Stopwatch,
        balance: Balance | None = None,
        vessel: Vessel | None = None,
    ) -> None:
        if (balance is None) == (vessel is None):
            given = "both a balance and a vessel" if balance is not None else "neither"
            raise StatementError(
                f"TimedCollection: got {given}; expected balance= or vessel=, whichever was used"
            )
        for name, kind, item in (
            ("stopwatch", Stopwatch, stopwatch),
            ("balance", Balance, balance),
            ("vessel", Vessel, vessel),
        ):
            if not isinstance(item, kind) and (item is not None or kind is Stopwatch):
                raise DimensionError(
                    f"TimedCollection({name}=...): got {type(item).__name__} {item!r}; expected "
                    f"a {kind.__name__}"
                )
        self._stopwatch, self._balance, self._vessel = stopwatch, balance, vessel

    @property
    def stopwatch(self) -> Stopwatch:
        """Times the collection."""
        return self._stopwatch

    @property
    def balance(self) -> Balance | None:
        """Weighs what was collected, if one does."""
        return self._balance

    @property
    def vessel(self) -> Vessel | None:
        """Shows the volume collected, if one does."""
        return self._vessel

    def read(
        self,
        *,
        time: ArrayLike | Time,
        mass: ArrayLike | Mass | None = None,
        volume: ArrayLike | Volume | None = None,
        tare: ArrayLike | Mass | None = None,
        density: Density | None = None,
        air_density: Density | None = None,
        label: str = "flow",
    ) -> VolumeFlowRate:
        """Turn what was collected, and the time, into volume flow rates.

        Parameters
        ----------
        time : float or array_like, shape (n,), or Time
            In the unit of the stopwatch.
        mass : float or array_like, shape (n,), or Mass
            As indicated, in the unit of the balance: for a collection by weighing.
        volume : float or array_like, shape (n,), or Volume
            In the unit of the vessel: for a collection by volume.
        tare : float or array_like, shape (n,), or Mass, optional
            Indication before the collection. Left out, the balance was set to zero and that
            zero counts as exact.
        density : Density, scalar or shape (n,)
            Of the liquid: for a collection by weighing.
        air_density : Density, optional
            1.20 kg/m^3 ± 0.10 kg/m^3, usual indoor air up to some 400 m, if left out.
        label : str
            Name of the flow.

        Returns
        -------
        VolumeFlowRate, scalar or shape (n,)
            In m^3/s. Plain numbers are read anew, so their resolution is independent of
            other calls; quantities from ``read`` of the instruments keep their errors.

        Raises
        ------
        StatementError
            A mass for a vessel, a volume for a balance, or something missing.
        RangeError
            Readings off a scale; nothing collected; a liquid not denser than air.
        ShapeError
            Different numbers of readings.

        Notes
        -----
        By weighing q = m_net (1 - rho_a / rho_w) / ((1 - rho_a / rho) rho t), by volume
        q = V / t. Source: [ISO 4185].
        """
        extra = {"tare": tare, "density": density, "air_density": air_density}
        if self._vessel is not None:
            self._refuse("vessel", "volume", volume, {"mass": mass, **extra})
            collected = self._vessel._taken(volume, "read", "volume")
            _refuse_nothing(collected, "volume")
        else:
            self._refuse("balance", "mass", mass, {"volume": volume})
            collected = self._volume(mass, tare, density, air_density)
        seconds = self._stopwatch._taken(time, "read", "time")
        flow: VolumeFlowRate = collected / seconds
        return flow.labelled(label)

    def _volume(self, mass: Any, tare: Any, density: Any, air_density: Any) -> Volume:
        """Return the volume of a weighed liquid, the buoyancy of the air allowed for."""
        if self._balance is None or density is None:
            raise StatementError(
                "collection by weighing: density= of the liquid is missing; give for example "
                "Density(998.2, 'kg/m^3', limits(0.5))"
            )
        liquid = require_kind(density, Density, "read", "density")
        if tare is None:
            net = self._balance._taken(mass, "read", "mass")
        else:
            full = self._balance._taken(mass, "read", "mass", "full")
            net = full - self._balance._taken(tare, "read", "tare", "tare")
        _refuse_nothing(net, "net mass")
        volume: Volume = net * buoyancy_factor(liquid, air_density) / liquid
        return volume

    @staticmethod
    def _refuse(by: str, needed: str, value: Any, unused: dict[str, Any]) -> None:
        if value is None:
            raise StatementError(f"collection with a {by}: {needed}= is missing")
        for name, given in unused.items():
            if given is not None:
                raise StatementError(
                    f"collection with a {by}: {name}= has no use there; expected {needed}= and "
                    "time="
                )


def _refuse_nothing(collected: Mass | Volume, what: str) -> None:
    values = np.asarray(collected.si.value)
    bad = values <= 0
    if bad.any():
        unit = collected.si.unit
        raise RangeError(
            f"collection{first_at(bad)}: {what} {float(values[bad].flat[0]):g} {unit}; expected "
            "above 0: mass and tare exchanged?"
        )
