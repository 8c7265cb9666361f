"""The smallest flow at which the friction factor is known as well as it is asked to be."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import (
    SETTINGS,
    check_fraction,
    check_inclinations,
    check_meters,
    check_repeats,
)
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.inclination import find_inclination
from flowunc.core.display.tables import mimebundle, paragraphs, wrapped
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Angle, Ratio, Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

__all__ = ["SmallestFlow", "find_smallest_flow", "smallest_flow"]

Floats = NDArray[np.float64]

_FLOWS = 121  # over the span of a meter, in steps of equal ratio
# deg; besides the settings of a plan, so that U at the best of them is near that of the optimum
_FLATTER = (0.5, 1, 2, 3, 4)
_CLOSE = 1e-6  # relative step of the flow at which the search ends
_ROOT = 1e-8  # relative tolerance of the flow for one inclination
_MOST_ROUNDS = 50
_FUNCTION = "smallest_flow"


@dataclass(frozen=True, eq=False, kw_only=True)
class SmallestFlow:
    """The smallest flow that meets a target for U(f)/f.

    Attributes
    ----------
    target : float
        Asked of U(f)/f, as a fraction.
    found : bool
        Whether any flow meets it.
    meter : str
        That shows the flow; where nothing meets the target, that of the closest approach.
    flow : VolumeFlowRate, scalar
        In the unit of that meter: the smallest that meets the target, or else the one with the
        smallest U(f)/f.
    inclination : Angle, scalar
        The best one for it, or the one given; that of the manometer where it is not set.
    expanded : float
        U(f)/f there.
    regime : str
        Of the flow there; "transitional" says that f, and so U(f)/f, is only a guide.
    always_above : bool
        Whether larger flows that can be read meet the target too, on one meter or another.
    sentence : str
    """

    target: float
    found: bool
    meter: str
    flow: VolumeFlowRate
    inclination: Angle
    expanded: float
    regime: str
    always_above: bool
    sentence: str

    def __str__(self) -> str:
        return wrapped(self.sentence)

    def _repr_html_(self) -> str:
        return paragraphs([self.sentence])

    _repr_mimebundle_ = mimebundle


def smallest_flow(
    bench: Bench,
    target: Ratio | float,
    *,
    meters: str | tuple[str, ...] | None = None,
    inclination: Angle | float | None = None,
    repeats: int = 1,
    temperature: Temperature | None = None,
    scatter: Mapping[str, Quantity] | None = None,
    level: float | None = None,
    k: float | None = None,
) -> SmallestFlow:
    """Find the smallest flow at which U(f)/f meets a target.

    Parameters
    ----------
    bench : Bench
    target : Ratio or float
        Of U(f)/f, such as ``Ratio(5, "%")`` or 0.05.
    meters : str or tuple of str, optional
        All of the bench if left out.
    inclination : Angle or float in deg, optional
        One setting; the best one for each flow if left out. None to choose where the manometer
        is not set to any.
    repeats, temperature, scatter, level, k
        As for `best_inclination`.

    Returns
    -------
    SmallestFlow

    Raises
    ------
    RangeError
        A target that is no fraction between 0 and 1; no flow that can be read at all.
    BenchError
        An inclination for a manometer that is not set to any.

    Notes
    -----
    U(f)/f falls with the flow, but not everywhere: it may jump where the regime or the meter
    changes. So 121 flows over the span of each meter are looked at first, and the smallest one
    that meets the target is refined against its neighbour that does not. Where the inclination is
    free, flow and inclination are refined in turn until neither moves.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import Ratio, load_bench, smallest_flow
    >>> bench = load_bench(Path(flowunc.bench.__file__).parent / "example" / "bench.toml")
    >>> smallest_flow(bench, Ratio(10, "%")).meter
    'small'
    """
    conditions = Conditions.checked(bench, temperature, scatter, level, k, _FUNCTION)
    wanted = check_fraction(target, _FUNCTION, "target")
    names = check_meters(meters, conditions.bench, _FUNCTION)
    number = check_repeats([repeats], _FUNCTION)[0]
    setting = None
    if inclination is not None:
        settings = check_inclinations(inclination, _FUNCTION, conditions.bench)
        if len(settings) != 1:
            raise RangeError(
                f"{_FUNCTION}(inclination=...): got {len(settings)} settings; expected one, or "
                "leave it out for the best one"
            )
        setting = settings[0]
    return find_smallest_flow(conditions, wanted, names, number, setting)


def find_smallest_flow(
    conditions: Conditions,
    target: float,
    meters: tuple[str, ...],
    repeats: int = 1,
    setting: float | None = None,
) -> SmallestFlow:
    """Search under given conditions; ``setting`` is an inclination in deg or None."""
    inclines = conditions.bench.inclines
    if not inclines:
        setting = conditions.bench.fixed_angle
    angles = np.array([*_FLATTER, *SETTINGS] if setting is None else [setting], dtype=np.float64)
    flows = [_grid(*conditions.flows_of(name)) for name in meters]
    names = [name for name in meters for _ in range(_FLOWS * angles.size)]
    readings = conditions.readings(
        names,
        np.repeat(np.concatenate(flows), angles.size),
        np.tile(angles, _FLOWS * len(meters)),
        repeats,
    )
    scanned = conditions.of_friction(readings).reshape(len(meters), _FLOWS, angles.size)
    if np.isnan(scanned).all():
        where = "" if setting is None or not inclines else f" at {setting:g} deg"
        wanted = "the columns fit the board: take another inclination"
        raise RangeError(
            f"{_FUNCTION}: no flow can be read{where}: {readings.note[0]}; expected flows for "
            f"which {wanted if inclines else 'both instruments reach far enough'}"
        )
    values = np.where(np.isnan(scanned), np.inf, scanned)
    smallest = values.min(axis=2)
    found: tuple[float, float, float, str] | None = None
    for number, name in enumerate(meters):
        beaten = math.inf if found is None else found[0]
        better = _on_meter(
            conditions, name, flows[number], smallest[number], target, repeats, setting, beaten
        )
        if better is not None and better[0] < beaten:
            found = better
    if found is not None:
        flow, inclination, expanded, name = found
        above = _always_above(flows, smallest, target, flow)
    else:
        number, place = divmod(int(smallest.argmin()), _FLOWS)
        flow, name, above = float(flows[number][place]), meters[number], False
        inclination, expanded = (
            find_inclination(conditions, name, flow, repeats)
            if setting is None
            else (setting, float(smallest[number, place]))
        )
    unit = conditions.bench.meters[name].scale.unit
    regime = conditions.readings(name, flow, inclination).regime[0]
    made = SmallestFlow(
        target=target,
        found=found is not None,
        meter=name,
        flow=VolumeFlowRate(flow, "m^3/s").to(unit),
        inclination=Angle(inclination, "deg"),
        expanded=expanded,
        regime=regime,
        always_above=above,
        sentence="",
    )
    at = f" at {inclination:.3g} deg" if inclines else ""
    return replace(made, sentence=_sentence(made, f"{conditions.shown(flow, name)} on {name}{at}"))


def _grid(low: float, high: float) -> Floats:
    grid = np.geomspace(low, high, _FLOWS)
    grid[[0, -1]] = low, high  # as rounding might put them off the scale
    return grid


def _on_meter(
    conditions: Conditions,
    meter: str,
    flows: Floats,
    smallest: Floats,
    target: float,
    repeats: int,
    setting: float | None,
    beaten: float,
) -> tuple[float, float, float, str] | None:
    """Return the smallest flow on one meter with inclination, U(f)/f and name.

    None where there is none, or none below the flow ``beaten`` of another meter.
    """

    def at(inclination: float, flow: float) -> float:
        found = conditions.of_friction(conditions.readings(meter, flow, inclination, repeats))
        return math.inf if math.isnan(found[0]) else float(found[0])

    def best(flow: float) -> tuple[float, float]:
        if setting is not None:
            return setting, at(setting, flow)
        return find_inclination(conditions, meter, flow, repeats)

    meets = np.flatnonzero(smallest <= target)
    # the optimum may do what no setting that was looked at does
    place = int(meets[0]) if meets.size else int(smallest.argmin())
    if not math.isfinite(smallest[place]) or flows[place] >= beaten:
        return None
    flow = float(flows[place])
    inclination, expanded = best(flow)
    if expanded > target:
        return None
    for _ in range(_MOST_ROUNDS):
        if place == 0 or not math.isfinite(smallest[place - 1]):
            break
        lowest, before = float(flows[place - 1]), flow
        flow = _refined(partial(at, inclination), lowest, before, target)
        if flow == before:
            break
        inclination, expanded = best(flow)
        if flow == lowest:
            place -= 1
        elif before - flow <= _CLOSE * flow:
            break
    return flow, inclination, expanded, meter


def _refined(value: Callable[[float], float], low: float, high: float, target: float) -> float:
    """Return the smallest flow from ``low`` to ``high`` that meets the target, as ``high`` does."""
    if value(low) <= target:
        return low
    if value(high) >= target:  # met to the last digit, or just missed by rounding
        return high
    found = float(
        scipy.optimize.brentq(lambda q: value(q) - target, low, high, xtol=_ROOT * high, rtol=_ROOT)
    )
    # the root, or the jump, may lie on the other side by its tolerance
    return found if value(found) <= target else min(found * (1 + 4 * _ROOT), high)


def _always_above(flows: list[Floats], smallest: Floats, target: float, flow: float) -> bool:
    """Tell whether every larger flow that was looked at meets the target on some meter."""
    for mine, own in zip(flows, smallest, strict=True):
        for q, value in zip(mine, own, strict=True):
            if q <= flow or value <= target or not math.isfinite(value):
                continue
            others = [
                np.interp(q, theirs, values, left=np.inf, right=np.inf)
                for theirs, values in zip(flows, smallest, strict=True)
            ]
            if min(others) > target:
                return False
    return True


def _sentence(found: SmallestFlow, place: str) -> str:
    wanted = f"{100 * found.target:.3g} %"
    if not found.found:
        return (
            f"No flow that can be read gives U(f)/f of {wanted} or less; the closest is {place} "
            f"with {100 * found.expanded:.3g} %."
        )
    text = f"Smallest flow with U(f)/f of {wanted} or less: {place}"
    if found.regime == "transitional":
        text += ", in transitional flow where f is only a guide"
    return f"{text}{'' if found.always_above else '; not all larger flows do'}."
