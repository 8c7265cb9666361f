"""At which inclination a flow is read best, between the flattest that fits and upright."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.bench.conclusions import source_variances
from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import (
    check_flows,
    check_meters,
    check_repeats,
    refuse_fixed,
    single,
)
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.indications import largest_deflection, reads_one
from flowunc.core.display.tables import mimebundle, paragraphs, wrapped
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Angle, Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

__all__ = [
    "BestInclination",
    "best_in",
    "best_inclination",
    "find_inclination",
    "flattest_that_fits",
]

Floats = NDArray[np.float64]
Position = Literal["interior", "flattest", "upright", "indifferent"]

_FLATTEST = 0.1  # deg; where no board ends the search, its floor: no board stands flatter
_GRID = 33
_TOLERANCE = 1e-5  # of ln sin(inclination)
_AT_EDGE = 1e-5
_INDIFFERENT = 1e-6
_ROOM = 1e-9  # the flattest inclination is stepped inside by so much, against rounding
_NEARLY = 1.05  # times the smallest U: as good in practice
_FUNCTION = "best_inclination"


@dataclass(frozen=True, eq=False, kw_only=True)
class BestInclination:
    """Where U(f)/f is smallest for one flow.

    Attributes
    ----------
    meter : str
    flow : VolumeFlowRate, scalar
    inclination : Angle, scalar
        The best one.
    expanded : float
        U(f)/f there, as a fraction.
    deflection : float
        There, in the unit of the manometer's scale.
    position : {"interior", "flattest", "upright", "indifferent"}
        Between the two ends; at the flattest that fits the board; at 90 deg; or the inclination
        makes no difference.
    flattest : Angle, scalar
        The flattest that fits the board.
    nearly_from, nearly_to : Angle, scalar
        Between these U(f)/f is at most 5 % larger than at the best.
    limited_by : str
        What contributes most to f there.
    flatter_limited_by, steeper_limited_by : str
        What grows most on that side, "" where the side does not exist or nothing grows.
    sentence : str
    """

    meter: str
    flow: VolumeFlowRate
    inclination: Angle
    expanded: float
    deflection: float
    position: Position
    flattest: Angle
    nearly_from: Angle
    nearly_to: Angle
    limited_by: str
    flatter_limited_by: str
    steeper_limited_by: str
    sentence: str

    def __str__(self) -> str:
        return wrapped(self.sentence)

    def _repr_html_(self) -> str:
        return paragraphs([self.sentence])

    _repr_mimebundle_ = mimebundle


def best_inclination(
    bench: Bench,
    flow: VolumeFlowRate,
    meter: str | None = None,
    *,
    repeats: int = 1,
    temperature: Temperature | None = None,
    scatter: Mapping[str, Quantity] | None = None,
    level: float | None = None,
    k: float | None = None,
) -> BestInclination:
    """Find the inclination at which the friction factor of one flow is known best.

    Parameters
    ----------
    bench : Bench
    flow : VolumeFlowRate, scalar
    meter : str, optional
        The one with the smaller U(f)/f if left out.
    repeats : int
        Readings per run; they count where ``scatter`` is given.
    temperature, scatter, level, k
        As for `plan`.

    Returns
    -------
    BestInclination

    Raises
    ------
    BenchError
        A manometer that is not set to inclinations.
    RangeError
        A flow that no meter can show, or whose head does not fit the board even upright.

    Notes
    -----
    For a head h the deflection is d = h/sin(theta), and h = d sin(theta). An error u_d of the
    deflection and u_theta of the angle give

        (u/h)^2 = (u_d sin(theta)/h)^2 + (u_theta cot(theta))^2.

    With s = sin(theta)^2 this is a s + b (1/s - 1), a = (u_d/h)^2, b = u_theta^2. Its derivative
    a - b/s^2 is 0 at s = u_theta h/u_d, and the second derivative 2 b/s^3 is positive. So

        sin(theta)^2 = u_theta h/u_d

    is the best inclination, upright where that is above 1; the flattest that fits, where the
    deflection would not fit the board there. (In a well manometer sin(theta) + area_ratio stands
    in the place of sin(theta) in d and h.) All else that stands behind f is the same at every
    inclination. What is searched here is the smallest U(f)/f of the whole record.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import VolumeFlowRate, best_inclination, load_bench
    >>> bench = load_bench(Path(flowunc.bench.__file__).parent / "example" / "bench.toml")
    >>> best_inclination(bench, VolumeFlowRate(90, "L/h")).position
    'interior'
    """
    conditions = Conditions.checked(bench, temperature, scatter, level, k, _FUNCTION)
    refuse_fixed(
        conditions.bench, _FUNCTION, "is no best one; plan(bench, flows=...) gives its U(f)/f"
    )
    given = check_flows(flow, _FUNCTION, "flow")
    number = check_repeats([repeats], _FUNCTION)[0]
    names = check_meters(meter, conditions.bench, _FUNCTION)
    return best_in(conditions, _FUNCTION, given, names, number)


def best_in(
    conditions: Conditions,
    function: str,
    flow: VolumeFlowRate,
    meters: tuple[str, ...],
    repeats: int,
) -> BestInclination:
    """Find the best inclination on the best of some meters, on behalf of a public function."""
    value = single(flow, function)
    upright = [conditions.readings(name, value, 90.0) for name in meters]
    shown = [name for name, one in zip(meters, upright, strict=True) if one.flow_readable[0]]
    if not shown:
        raise RangeError(f"{function}: {'; '.join(one.note[0] for one in upright)}")
    found = [(find_inclination(conditions, name, value, repeats), name) for name in shown]
    (inclination, _), name = min(found, key=lambda item: item[0][1])
    return _described(conditions, name, flow, value, repeats, inclination)


def flattest_that_fits(conditions: Conditions, meter: str, flow: float) -> float:
    """Return the flattest inclination in deg whose deflection fits the board.

    Raises
    ------
    RangeError
        Not even the upright board is high enough.
    """
    room = largest_deflection(conditions.bench)
    if not math.isfinite(room):
        return _FLATTEST
    tilts = np.array([30.0, 90.0])
    tilted, upright = (float(d) for d in conditions.readings(meter, flow, tilts).deflection)
    if upright > room:
        unit = conditions.bench.manometer.scale.unit
        what = "rise" if reads_one(conditions.bench) else "column difference"
        raise RangeError(
            f"{conditions.shown(flow, meter)} needs a {what} of {upright:.4g} {unit} "
            f"even upright; expected at most {room:g} {unit}, the span of the board: "
            "take a smaller flow"
        )
    # 1/deflection is linear in the sine, from 1/2 at 30 deg to 1; of a well it is not 0 at 0
    per_sine = 2 * (1 / upright - 1 / tilted)
    sine = 1 - (1 / upright - 1 / room) / per_sine
    return max(_FLATTEST, math.degrees(math.asin(max(sine, 0.0))))


def find_inclination(
    conditions: Conditions, meter: str, flow: float, repeats: int = 1
) -> tuple[float, float]:
    """Return the best inclination in deg for a flow in m^3/s, and U(f)/f there."""
    low = math.log(math.sin(math.radians(flattest_that_fits(conditions, meter, flow))))
    if low >= -_AT_EDGE:
        return 90.0, float(_at(conditions, meter, flow, repeats, np.array([90.0]))[0])
    grid = np.linspace(low, 0.0, _GRID)
    values = _at(conditions, meter, flow, repeats, _degrees(grid))
    best = int(np.argmin(values))

    def of(position: float) -> float:
        return float(_at(conditions, meter, flow, repeats, _degrees(np.array([position])))[0])

    found = scipy.optimize.minimize_scalar(
        of,
        bounds=(grid[max(best - 1, 0)], grid[min(best + 1, _GRID - 1)]),
        method="bounded",
        options={"xatol": _TOLERANCE},
    )
    if found.fun < values[best]:
        return float(_degrees(np.array([found.x]))[0]), float(found.fun)
    return float(_degrees(grid)[best]), float(values[best])


def _degrees(log_sine: Floats) -> Floats:
    return np.asarray(np.degrees(np.arcsin(np.minimum(np.exp(log_sine), 1.0))))


def _at(
    conditions: Conditions, meter: str, flow: float, repeats: int, inclination: Floats
) -> Floats:
    """Return U(f)/f at inclinations; one that rounding puts off the board counts as infinite."""
    found = conditions.of_friction(conditions.readings(meter, flow, inclination, repeats))
    return np.where(np.isnan(found), np.inf, found)


def _described(
    conditions: Conditions,
    meter: str,
    given: VolumeFlowRate,
    flow: float,
    repeats: int,
    inclination: float,
) -> BestInclination:
    flattest = flattest_that_fits(conditions, meter, flow)
    inside = min(flattest * (1 + _ROOM), 90.0)
    readings = conditions.readings(meter, flow, np.array([inside, inclination, 90.0]), repeats)
    values = conditions.of_friction(readings)
    position = _position(inclination, flattest, values)
    here, flatter, steeper = (
        _sources(conditions, meter, flow, repeats, angle) for angle in (inclination, inside, 90.0)
    )
    limited_by = max(here, key=lambda source: here[source], default="-")
    left = "" if position in ("flattest", "indifferent") else _growing(here, flatter)
    right = "" if position in ("upright", "indifferent") else _growing(here, steeper)
    best = float(values[1])
    near = _nearly(conditions, meter, flow, repeats, inclination, flattest, best)
    deflection = float(readings.deflection[1])
    return BestInclination(
        meter=meter,
        flow=given if given.ndim == 0 else given[0],
        inclination=Angle(inclination, "deg"),
        expanded=best,
        deflection=deflection,
        position=position,
        flattest=Angle(flattest, "deg"),
        nearly_from=Angle(near[0], "deg"),
        nearly_to=Angle(near[1], "deg"),
        limited_by=limited_by,
        flatter_limited_by=left,
        steeper_limited_by=right,
        sentence=_sentence(
            conditions, meter, flow, inclination, best, position, flattest, near, left, right
        ),
    )


def _position(inclination: float, flattest: float, values: Floats) -> Position:
    if np.ptp(values[np.isfinite(values)]) <= _INDIFFERENT * values[1]:
        return "indifferent"
    sine = math.sin(math.radians(inclination))
    if sine <= math.sin(math.radians(flattest)) * (1 + _AT_EDGE):
        return "flattest"
    return "upright" if sine >= 1 - _AT_EDGE else "interior"


def _sources(
    conditions: Conditions, meter: str, flow: float, repeats: int, inclination: float
) -> dict[str, float]:
    """Return relative variances of f by source, named as in the table of runs."""
    results = conditions.results(conditions.readings(meter, flow, inclination, repeats))
    if results is None:
        return {}
    square = float(results.friction._node.value[0]) ** 2
    found = source_variances(results.friction)
    return {source: float(variance[0]) / square for source, variance in found.items()}


def _growing(here: dict[str, float], there: dict[str, float]) -> str:
    growth = {source: size - here.get(source, 0.0) for source, size in there.items()}
    most = max(growth, key=lambda source: growth[source], default="")
    return most if most and growth[most] > 0 else ""


def _nearly(
    conditions: Conditions,
    meter: str,
    flow: float,
    repeats: int,
    inclination: float,
    flattest: float,
    best: float,
) -> tuple[float, float]:
    """Return the inclinations between which U is nearly that of the best."""
    place = math.log(math.sin(math.radians(inclination)))
    end = math.log(math.sin(math.radians(min(flattest * (1 + _ROOM), 90.0))))

    def excess(position: float) -> float:
        angle = _degrees(np.array([position]))
        return float(_at(conditions, meter, flow, repeats, angle)[0]) - _NEARLY * best

    found = []
    for edge in (min(end, place), 0.0):
        if edge != place and excess(edge) > 0:
            edge = float(scipy.optimize.brentq(excess, place, edge, xtol=1e-4))
        found.append(float(_degrees(np.array([edge]))[0]))
    return found[0], found[1]


def _sentence(
    conditions: Conditions,
    meter: str,
    flow: float,
    inclination: float,
    best: float,
    position: Position,
    flattest: float,
    near: tuple[float, float],
    left: str,
    right: str,
) -> str:
    start = f"{conditions.shown(flow, meter)} on {meter}: "
    if position == "indifferent":
        return f"{start}the inclination makes no difference to U(f)/f = {100 * best:.3g} %."
    text = f"{start}best at {inclination:.3g} deg, U(f)/f = {100 * best:.3g} %"
    if position == "flattest":
        tried = "is tried" if flattest <= _FLATTEST else "fits the board"
        text += f", the flattest that {tried}"
    elif position == "upright":
        text += ", upright"
    sides = [
        f"{side} the {source} counts more"
        for side, source in (("flatter", left), ("steeper", right))
        if source
    ]
    if sides:
        text += f"; {', '.join(sides)}"
    return f"{text}; within 5 % of that from {near[0]:.3g} to {near[1]:.3g} deg."
