"""`TimedCollection`: flow rate from what is collected in a time, weighed or by volume."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from flowunc.core.component import Component, Term
from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import (
    Density,
    Mass,
    MassFlowRate,
    Time,
    Volume,
    VolumeFlowRate,
    require_kind,
)
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.instruments.balance import Balance, buoyancy_factor
from flowunc.instruments.instrument import Instrument, first_at
from flowunc.instruments.reading_errors import ReadingError
from flowunc.instruments.stopwatch import Stopwatch
from flowunc.instruments.vessel import Vessel

__all__ = ["TimedCollection"]

_DRIP = "drip and splash"


class _Words(NamedTuple):
    """What the two readings of a collection are called: as arguments, and in budgets."""

    after: str
    before: str
    full: str
    empty: str
    collected: str


_WORDS: dict[type[Quantity], _Words] = {
    Mass: _Words("mass", "tare", "full", "tare", "net mass"),
    Volume: _Words("volume", "volume_before", "after", "before", "volume"),
}


class TimedCollection:
    """Measure flow by collecting it for a time, with a balance or with a vessel.

    Parameters
    ----------
    stopwatch : Stopwatch
        Times the collection; knows the reaction at start and stop.
    balance : Balance
        Weighs it; or
    vessel : Vessel
        shows its volume.
    drip : Statement, optional
        What drips, splashes or stays behind as a film: an error of the amount, new at each
        collection, in the unit of balance or vessel, such as ``limits(2)``. A collection is
        known by its last reading: the same Mass or Volume, given again, has the same error.
        ``shared(...)`` makes it one error behind all collections.
    switching : Time, scalar, optional
        What starting and stopping add to every time, as `switching_error` finds it for a
        diverter; one error behind all collections.

    Raises
    ------
    StatementError
        Neither or both of balance and vessel; a drip that is no statement.
    DimensionError
        Instruments of another kind; a switching time that is no Time.
    ShapeError
        More than one switching time.

    Notes
    -----
    Several collections at one flow become one result, scatter included, by `mean_of_repeats`.

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
        drip: Statement | None = None,
        switching: Time | None = None,
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
        self._switching = None if switching is None else _checked_switching(switching)
        self._drip = drip
        self._habit: Component | None = None
        self._drips: ReadingError | None = None
        if drip is not None:
            if not isinstance(drip, Statement):
                raise StatementError(
                    f"TimedCollection(drip={drip!r}): expected a statement such as limits(2, 'g')"
                )
            reference = self._collector._reference
            if drip.per_reading:
                self._drips = ReadingError(drip, reference)
            else:
                self._habit = drip.component(reference, _DRIP)

    @property
    def _collector(self) -> Instrument[Any]:
        return next(item for item in (self._balance, self._vessel) if item is not None)

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

    @property
    def drip(self) -> Statement | None:
        """What drips, splashes or stays behind."""
        return self._drip

    @property
    def switching(self) -> Time | None:
        """What starting and stopping add to every time."""
        return self._switching

    def read(
        self,
        *,
        time: ArrayLike | Time,
        mass: ArrayLike | Mass | None = None,
        volume: ArrayLike | Volume | None = None,
        tare: ArrayLike | Mass | None = None,
        volume_before: ArrayLike | Volume | None = None,
        lost: Mass | Volume | None = None,
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
        volume_before : float or array_like, shape (n,), or Volume, optional
            What the vessel showed before the collection; left out, it was empty and dry.
        lost : Mass or Volume, scalar or shape (n,), optional
            What evaporated or ran off between collecting and reading, 0 or more; added to
            what was collected. A Mass by weighing, a Volume with a vessel.
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
            Readings off a scale; nothing collected; a negative loss; a liquid not denser
            than air.
        ShapeError
            Different numbers of readings.

        Notes
        -----
        By weighing q = m (1 - rho_a / rho_w) / ((1 - rho_a / rho) rho t), by volume
        q = V / t, with m or V what was read, less what was there before, plus what was lost,
        and t what was timed plus the switching time. Source: [ISO 4185].
        """
        weighing = {"mass": mass, "tare": tare, "density": density, "air_density": air_density}
        if self._vessel is not None:
            self._refuse("vessel", "volume", volume, weighing)
            collected = self._amount(self._vessel, Volume, volume, volume_before, lost)
        else:
            self._refuse(
                "balance", "mass", mass, {"volume": volume, "volume_before": volume_before}
            )
            liquid = _liquid(density)
            collected = self._mass(mass, tare, lost, liquid, air_density) / liquid
        flow: VolumeFlowRate = collected / self._duration(time)
        return flow.labelled(label)

    def mass_flow(
        self,
        *,
        time: ArrayLike | Time,
        mass: ArrayLike | Mass,
        tare: ArrayLike | Mass | None = None,
        lost: Mass | None = None,
        density: Density,
        air_density: Density | None = None,
        label: str = "mass flow",
    ) -> MassFlowRate:
        """Turn what was weighed, and the time, into mass flow rates.

        Parameters
        ----------
        time, mass, tare, lost, density, air_density, label
            As for `read`. The density enters through the buoyancy alone, some 1e-6 of the
            mass for each kg/m^3.

        Returns
        -------
        MassFlowRate, scalar or shape (n,)
            In kg/s.

        Raises
        ------
        StatementError, RangeError, ShapeError, DimensionError
            As for `read`; a collection without balance.

        Examples
        --------
        >>> from flowunc import Balance, Density, Scale, Stopwatch, TimedCollection, limits
        >>> bucket = TimedCollection(
        ...     stopwatch=Stopwatch(Scale(0.01, "s", kind="digital"), reaction=limits(0.2)),
        ...     balance=Balance(Scale(1, "g", kind="digital"), accuracy=limits(3)),
        ...     drip=limits(2),
        ... )
        >>> print(bucket.mass_flow(mass=4090.0, time=60.0, density=Density(998.2, "kg/m^3")))
        mass flow: 0.06824 ± 0.00019 kg/s
        """
        if self._balance is None:
            raise StatementError(
                "collection with a vessel: a mass flow needs a balance; multiply the flow by the "
                "density of the liquid"
            )
        self._refuse("balance", "mass", mass, {})
        weighed = self._mass(mass, tare, lost, _liquid(density), air_density)
        flow: MassFlowRate = weighed / self._duration(time)
        return flow.labelled(label)

    def _mass(self, mass: Any, tare: Any, lost: Any, liquid: Density, air_density: Any) -> Mass:
        """Return the mass of a weighed liquid, the buoyancy of the air allowed for."""
        net = self._amount(self._collector, Mass, mass, tare, lost)
        weighed: Mass = net * buoyancy_factor(liquid, air_density)
        return weighed

    def _amount(
        self, collector: Instrument[Any], kind: type[Any], after: Any, before: Any, lost: Any
    ) -> Any:
        """Return what came in by itself: read after, less before, plus lost, with its drip."""
        words = _WORDS[kind]
        last = collector._taken(
            after, "read", words.after, words.full if before is not None else ""
        )
        amount = last
        if before is not None:
            amount = amount - collector._taken(before, "read", words.before, words.empty)
        _refuse_nothing(amount, words)
        if self._drips is not None:
            amount = amount + self._drips.of(amount, _DRIP, behind=last)
        elif self._drip is not None and self._habit is not None:
            amount = amount + self._dripped(self._drip, self._habit, amount)
        if lost is not None:
            gone = named_by_role(require_kind(lost, kind, "read", "lost"), "lost in collecting")
            bad = np.asarray(gone.si.value) < 0
            if bad.any():
                worst = float(np.asarray(gone.value)[bad].flat[0])
                raise RangeError(
                    f"collection{first_at(bad)}: lost {worst:g} {gone.unit}; expected 0 or more, "
                    "it is added to what was collected"
                )
            amount = amount + gone
        return amount

    def _dripped(self, drip: Statement, habit: Component, amount: Quantity) -> Quantity:
        """Return the error that is the same in all collections, 0 in value."""
        values = np.asarray(amount.si.value, dtype=np.float64)
        reference = self._collector._reference
        term = Term(habit, drip.gain_for(values, reference))
        return type(amount)._from_terms(np.zeros(values.shape), (term,), reference.unit)

    def _duration(self, time: Any) -> Time:
        seconds = self._stopwatch._taken(time, "read", "time")
        if self._switching is None:
            return seconds
        longer: Time = seconds + self._switching
        bad = np.asarray(longer.si.value) <= 0
        if bad.any():
            raise RangeError(
                f"collection{first_at(bad)}: the switching time of {self._switching} leaves no "
                "time; expected it to be short against the collection"
            )
        return longer

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


def _liquid(density: Any) -> Density:
    if density is None:
        raise StatementError(
            "collection by weighing: density= of the liquid is missing; give for example "
            "Density(998.2, 'kg/m^3', limits(0.5))"
        )
    return require_kind(density, Density, "read", "density")


def _checked_switching(switching: Any) -> Time:
    given = require_kind(switching, Time, "TimedCollection", "switching")
    if given.ndim:
        raise ShapeError(f"TimedCollection: {given.size} switching times; expected one")
    return named_by_role(given, "switching time")


def _refuse_nothing(collected: Mass | Volume, words: _Words) -> None:
    values = np.asarray(collected.si.value)
    bad = values <= 0
    if bad.any():
        unit = collected.si.unit
        raise RangeError(
            f"collection{first_at(bad)}: {words.collected} {float(values[bad].flat[0]):g} {unit}; "
            f"expected above 0: {words.after} and {words.before} exchanged?"
        )
