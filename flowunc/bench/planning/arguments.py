"""What a plan is asked: flows, meters, inclinations, repeats and scatter, all checked here."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.nearest_name import nearest
from flowunc.core.arguments import check_coverage_factor, check_level, read_values
from flowunc.core.dimensions import TEMPERATURE
from flowunc.core.errors import BenchError, DimensionError, RangeError, StatementError
from flowunc.core.kinds import Angle, Pressure, Ratio, Temperature, VolumeFlowRate, require_kind
from flowunc.core.quantity import Quantity

__all__ = [
    "SETTINGS",
    "ExpectedScatter",
    "check_bench",
    "check_coverage",
    "check_flows",
    "check_fraction",
    "check_inclinations",
    "check_meters",
    "check_repeats",
    "check_scatter",
    "check_temperature",
    "refuse_fixed",
    "single",
]

Floats = NDArray[np.float64]

# deg; denser where a board lies flat, as the sine changes most there
SETTINGS = (5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 90)
_MOST_REPEATS = 1000
_EXAMPLES = {
    "flow": "Ratio(1, '%') of the reading, or VolumeFlowRate(0.02, 'L/min')",
    "temperature": "Quantity(0.1, 'K')",
    "deflection": "Length(2, 'mm') along the scale, or Ratio(1, '%') of the deflection",
}
_OF_PRESSURE = "Pressure(5, 'Pa') as shown, or Ratio(1, '%') of the pressure"


class ExpectedScatter(NamedTuple):
    """Standard deviation of a single reading, by what is read; None where none is expected.

    A `Ratio` is relative to what is read; any other quantity is absolute.
    """

    flow: Quantity | None = None
    temperature: Quantity | None = None
    deflection: Quantity | None = None

    def of(self, name: str, readings: Floats) -> Floats:
        """Return the standard deviations for readings of one name, both in coherent SI."""
        given: Quantity | None = getattr(self, name)
        if given is None:
            return np.zeros(readings.shape)
        size = float(given._node.value)
        return size * np.abs(readings) if isinstance(given, Ratio) else np.full_like(readings, size)


def check_bench(bench: Any, function: str) -> Bench:
    """Return the bench, refused if it is something else."""
    if not isinstance(bench, Bench):
        raise DimensionError(
            f"{function}(bench, ...): got {type(bench).__name__}; expected a Bench, as load_bench "
            "gives it"
        )
    return bench


def check_flows(flows: Any, function: str, argument: str = "flows") -> VolumeFlowRate:
    """Return volume flow rates above 0."""
    given = require_kind(flows, VolumeFlowRate, function, argument)
    values = np.atleast_1d(np.asarray(given.value))
    bad = values <= 0
    if bad.any():
        place = f", flow {int(np.argmax(bad))}" if given.ndim else ""
        raise RangeError(
            f"{function}({argument}=...){place}: {float(values[bad][0]):g} {given.unit}; expected "
            "a flow above 0"
        )
    return given


def single(given: VolumeFlowRate, function: str) -> float:
    """Return one flow in coherent SI, refused if there are several."""
    if given.size != 1:
        raise RangeError(
            f"{function}(flow=...): got {given.size} flows; expected one, such as "
            "VolumeFlowRate(2, 'L/min')"
        )
    return float(np.ravel(given._node.value)[0])


def check_meters(meters: Any, bench: Bench, function: str) -> tuple[str, ...]:
    """Return the names of meters, all of the bench for None."""
    if meters is None:
        return tuple(bench.meters)
    names = [meters] if isinstance(meters, str) else meters
    if not isinstance(names, Iterable):
        raise RangeError(
            f"{function}(meters={meters!r}): expected names among {', '.join(bench.meters)}"
        )
    found = tuple(dict.fromkeys(names))
    if not found:
        raise RangeError(
            f"{function}: no meter given; expected one or more of {', '.join(bench.meters)}"
        )
    for name in found:
        if name not in bench.meters:
            asked = nearest(name, bench.meters) if isinstance(name, str) else ""
            raise RangeError(
                f"{function}: no meter {name!r} on the bench; {asked}expected one of "
                f"{', '.join(bench.meters)}"
            )
    return found


def refuse_fixed(bench: Bench, function: str, what: str) -> None:
    """Refuse a question of inclinations to a bench whose manometer is not set to any."""
    if bench.inclines:
        return
    text = f"{function}: {bench.manometer_kind.title} is not set to inclinations, so there {what}"
    if bench.manometer_kind.inclination == "may be set":
        text += "; if yours is, state angle_accuracy"
    raise BenchError(text, bench.file, "manometer")


def check_inclinations(
    inclinations: Angle | ArrayLike | None, function: str, bench: Bench
) -> tuple[float, ...]:
    """Return settings in deg, above 0 and up to 90, ascending; `SETTINGS` for None.

    A manometer that is not set to inclinations has its own, and no other.
    """
    if inclinations is None:
        if not bench.inclines:
            return (bench.fixed_angle,)
        return tuple(float(setting) for setting in SETTINGS)
    if isinstance(inclinations, Quantity):
        angle = require_kind(inclinations, Angle, function, "inclinations")
        values = np.asarray(angle.to("deg").value, dtype=np.float64)
    else:
        values = read_values(inclinations, f"{function}(inclinations=...), in deg")
    # as Bench.angle does, so that a right angle given in rad is one
    degrees = np.round(np.atleast_1d(values), 9)
    bad = ~((degrees > 0) & (degrees <= 90))
    if bad.any():
        raise RangeError(
            f"{function}: inclination {float(degrees[bad][0]):g} deg; expected the inclination to "
            "the horizontal, above 0 and up to 90 deg"
        )
    if not bench.inclines and (degrees != bench.fixed_angle).any():
        refuse_fixed(bench, function, "is none to choose; leave inclinations out")
    return tuple(sorted({float(setting) for setting in degrees}))


def check_repeats(repeats: Any, function: str) -> tuple[int, ...]:
    """Return numbers of readings per run, 1 or more, ascending."""
    given = [repeats] if isinstance(repeats, (int, float, np.number)) else repeats
    if isinstance(given, str) or not isinstance(given, Iterable):
        raise RangeError(f"{function}(repeats={repeats!r}): expected whole numbers such as (1, 4)")
    found = list(given)
    if not found:
        raise RangeError(f"{function}: no number of repeats; expected one or more such as (1, 4)")
    for number in found:
        whole = isinstance(number, (int, np.integer)) and not isinstance(number, bool)
        if not whole or not 1 <= number <= _MOST_REPEATS:
            raise RangeError(
                f"{function}: {number!r} repeats; expected a whole number from 1 (a single "
                f"reading) to {_MOST_REPEATS}"
            )
    return tuple(sorted({int(number) for number in found}))


def check_temperature(temperature: Any, function: str) -> Temperature:
    """Return one temperature of the liquid, 20 degC for None."""
    if temperature is None:
        return Temperature(20.0, "degC")
    given = require_kind(temperature, Temperature, function, "temperature")
    if given.ndim:
        raise RangeError(
            f"{function}(temperature=...): got {given.size} temperatures; expected one, such as "
            "Temperature(20, 'degC')"
        )
    return given


def check_scatter(scatter: Any, function: str, bench: Bench) -> ExpectedScatter:
    """Return the expected scatter by what is read."""
    if scatter is None:
        return ExpectedScatter()
    if isinstance(scatter, ExpectedScatter):
        return scatter
    if not isinstance(scatter, Mapping):
        raise StatementError(
            f"{function}(scatter={scatter!r}): expected standard deviations of a single reading "
            f"by what is read, such as {{'flow': Ratio(1, '%')}}, of {', '.join(_EXAMPLES)}"
        )
    for name, given in scatter.items():
        if name not in _EXAMPLES:
            asked = nearest(name, _EXAMPLES) if isinstance(name, str) else ""
            raise StatementError(
                f"{function}: scatter of {name!r}; {asked}expected one of {', '.join(_EXAMPLES)}"
            )
        _check_deviation(given, name, function, bench)
    return ExpectedScatter(**scatter)


def _check_deviation(given: Any, name: str, function: str, bench: Bench) -> None:
    dimension, example = TEMPERATURE, _EXAMPLES[name]
    if name == "flow":
        dimension = VolumeFlowRate.dimension
    elif name == "deflection":
        dimension = bench.manometer.scale.parsed_unit.dimension
        example = _OF_PRESSURE if dimension is Pressure.dimension else example
    expected = f"expected the standard deviation of a single reading, such as {example}"
    if not isinstance(given, Quantity):
        raise StatementError(f"{function}: scatter of {name}: got {given!r}; {expected}")
    relative = isinstance(given, Ratio) and name != "temperature"
    absolute = given._unit.dimension is dimension and not given._absolute
    if not (relative or absolute) or given.ndim or given._node.value < 0:
        raise StatementError(
            f"{function}: scatter of {name}: got {type(given).__name__} {given.value!r} "
            f"'{given.unit}'; {expected}, 0 or more"
        )


def check_fraction(value: Any, function: str, argument: str) -> float:
    """Return a fraction between 0 and 1, given as a `Ratio` or a number."""
    given = value
    if isinstance(value, Quantity):
        ratio = require_kind(value, Ratio, function, argument)
        given = ratio._node.value.item() if ratio.ndim == 0 else math.nan
    if isinstance(given, bool) or not isinstance(given, (int, float, np.number)):
        raise RangeError(f"{function}({argument}={value!r}): expected a Ratio such as 5 %")
    if not 0 < given < 1:
        meant = f"; did you mean Ratio({given:g}, '%')?" if 1 <= given < 100 else ""
        raise RangeError(
            f"{function}({argument}=...): got {given:g}; expected a fraction between 0 and 1, such "
            f"as Ratio(5, '%') or 0.05{meant}"
        )
    return float(given)


def check_coverage(level: Any, k: Any, function: str) -> tuple[float | None, float | None]:
    """Return level and k, of which one at most may be given: 0.95 if none is."""
    if k is not None:
        if level is not None:
            raise StatementError(f"{function}: level={level} and k={k}: give one of the two")
        return None, check_coverage_factor(k, function)
    return check_level(0.95 if level is None else level), None
