"""From which flow on which of two meters gives the better Reynolds number."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import check_meters, check_repeats
from flowunc.bench.planning.conditions import Conditions
from flowunc.core.display.tables import mimebundle, paragraphs, wrapped
from flowunc.core.errors import RangeError
from flowunc.core.kinds import Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

__all__ = ["MeterCrossover", "find_crossover", "meter_crossover"]

Floats = NDArray[np.float64]

_GRID = 257  # flows over the common range: a change of sides between two of them is found
_EQUAL = 1e-9  # of U(Re)/Re: rounding
_CLOSE = 1e-9  # relative tolerance of a flow
_FUNCTION = "meter_crossover"


@dataclass(frozen=True, eq=False, kw_only=True)
class MeterCrossover:
    """Which of two meters gives the smaller U(Re)/Re, over the flows that both can show.

    Attributes
    ----------
    meters : tuple of str
        The two.
    common : VolumeFlowRate, shape (2,), or None
        Lowest and highest flow that both can show; None where there is none.
    flows : VolumeFlowRate, shape (c,), or None
        Where the two are equally good and change sides, ascending; None if they never do.
    better : tuple of str
        The better meter below the first such flow, between two, and above the last: one name
        more than there are flows; "" where the two are equal. Empty without a common range.
    sentence : str
    """

    meters: tuple[str, str]
    common: VolumeFlowRate | None
    flows: VolumeFlowRate | None
    better: tuple[str, ...]
    sentence: str

    def __str__(self) -> str:
        return wrapped(self.sentence)

    def _repr_html_(self) -> str:
        return paragraphs([self.sentence])

    _repr_mimebundle_ = mimebundle


def meter_crossover(
    bench: Bench,
    first: str | None = None,
    second: str | None = None,
    *,
    repeats: int = 1,
    temperature: Temperature | None = None,
    scatter: Mapping[str, Quantity] | None = None,
    level: float | None = None,
    k: float | None = None,
) -> MeterCrossover:
    """Find the flow above which one meter gives the smaller U(Re)/Re than another.

    Parameters
    ----------
    bench : Bench
    first, second : str, optional
        Names of two meters; may be left out for a bench that has two.
    repeats, temperature, scatter, level, k
        As for `best_inclination`.

    Returns
    -------
    MeterCrossover

    Raises
    ------
    RangeError
        Not two different meters of the bench.

    Notes
    -----
    Columns and inclination do not enter Re. The difference of the two U(Re)/Re is followed over
    their common range in steps of equal ratio; where it changes its sign, the flow is found by
    bracketing, which the kinks of an error limit do not disturb.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import load_bench, meter_crossover
    >>> bench = load_bench(Path(flowunc.bench.__file__).parent / "example" / "bench.toml")
    >>> meter_crossover(bench).better
    ('small',)
    """
    conditions = Conditions.checked(bench, temperature, scatter, level, k, _FUNCTION)
    named = [name for name in (first, second) if name is not None]
    names = check_meters(named or None, conditions.bench, _FUNCTION)
    if len(names) != 2 or len(named) == 1:
        raise RangeError(
            f"{_FUNCTION}: got {', '.join(map(repr, named)) or 'no names'} for a bench with "
            f"{', '.join(conditions.bench.meters)}; expected the names of two different meters"
        )
    number = check_repeats([repeats], _FUNCTION)[0]
    return find_crossover(conditions, (names[0], names[1]), number)


def find_crossover(
    conditions: Conditions, meters: tuple[str, str], repeats: int = 1
) -> MeterCrossover:
    """Compare two meters under given conditions."""
    spans = [conditions.flows_of(name) for name in meters]
    low, high = max(span[0] for span in spans), min(span[1] for span in spans)
    if low >= high:
        shown = [
            f"{name} {conditions.shown(span[0], name)} to {conditions.shown(span[1], name)}"
            for name, span in zip(meters, spans, strict=True)
        ]
        sentence = f"No flow can be read on both meters: {' and '.join(shown)}."
        return MeterCrossover(meters=meters, common=None, flows=None, better=(), sentence=sentence)

    def difference(flow: Floats) -> Floats:
        first, second = (
            conditions.of_reynolds(conditions.readings(name, flow, 90.0, repeats))
            for name in meters
        )
        ratio = np.asarray(first / second - 1)
        return np.where(np.abs(ratio) <= _EQUAL, 0.0, ratio)

    grid = np.geomspace(low, high, _GRID)
    grid[[0, -1]] = low, high  # as rounding might put them off a scale
    sides = np.sign(difference(grid))
    alone = np.flatnonzero((sides[1:-1] == 0) & (sides[:-2] != 0) & (sides[2:] != 0)) + 1
    sides[alone] = sides[alone + 1]  # a grid point that happens to be the crossing
    changes = np.flatnonzero(np.diff(sides)).tolist()
    flows = [
        _crossing(difference, grid[place], grid[place + 1], sides[place], sides[place + 1])
        for place in changes
    ]
    better = [_better(sides[place], meters) for place in (0, *(place + 1 for place in changes))]
    unit = conditions.bench.meters[meters[1]].scale.unit
    return MeterCrossover(
        meters=meters,
        common=VolumeFlowRate([low, high], "m^3/s").to(unit),
        flows=VolumeFlowRate(flows, "m^3/s").to(unit) if flows else None,
        better=tuple(better),
        sentence=_sentence(conditions, meters, low, high, flows, better),
    )


def _crossing(
    difference: Callable[[Floats], Floats], low: float, high: float, below: float, above: float
) -> float:
    """Return where one of two sides gives way to the other; a side of 0 is equality."""

    def at(flow: float) -> float:
        return float(difference(np.array([flow]))[0])

    if below * above < 0:
        return float(scipy.optimize.brentq(at, low, high, xtol=_CLOSE * high, rtol=_CLOSE))
    while high - low > _CLOSE * high:
        middle = (low + high) / 2
        low, high = (middle, high) if np.sign(at(middle)) == below else (low, middle)
    return float(high)


def _better(side: float, meters: tuple[str, str]) -> str:
    return "" if side == 0 else meters[0] if side < 0 else meters[1]


def _sentence(
    conditions: Conditions,
    meters: tuple[str, str],
    low: float,
    high: float,
    flows: list[float],
    better: list[str],
) -> str:
    unit_of = meters[1]
    common = f"{conditions.shown(low, unit_of)} to {conditions.shown(high, unit_of)}"
    start = f"Flows that both {meters[0]} and {meters[1]} show ({common}):"
    if not flows:
        if not better[0]:
            return f"{start} U(Re)/Re is the same on both."
        return f"{start} {better[0]} gives the smaller U(Re)/Re throughout."
    ends = [f"below {conditions.shown(flows[0], unit_of)}"]
    ends += [f"from {conditions.shown(flow, unit_of)}" for flow in flows]
    parts = [
        f"{end} {name or 'either, they are equal'}" for end, name in zip(ends, better, strict=True)
    ]
    return f"{start} the smaller U(Re)/Re comes {', '.join(parts)}."
