"""`Conditions`: what all questions of a plan share, and the two numbers that they compare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import (
    ExpectedScatter,
    check_bench,
    check_coverage,
    check_scatter,
    check_temperature,
)
from flowunc.bench.planning.indications import flows_shown, span_of_meter
from flowunc.bench.planning.readings import PlannedReadings, predict
from flowunc.bench.planning.record import PlannedResults, planned_results, planned_reynolds
from flowunc.core.errors import BenchError
from flowunc.core.kinds import Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

__all__ = ["Conditions"]

Floats = NDArray[np.float64]

# of the full scale, or a division if larger: where a scale starts at 0, less is not looked at
_LEAST_OF_SPAN = 1e-3


@dataclass(frozen=True, eq=False, kw_only=True)
class Conditions:
    """A bench with the temperature, the scatter and the coverage that a plan is made for.

    Attributes
    ----------
    bench : Bench
    temperature : Temperature, scalar
        Of the liquid.
    scatter : ExpectedScatter
    level, k : float or None
        Coverage; one of the two.
    """

    bench: Bench
    temperature: Temperature
    scatter: ExpectedScatter
    level: float | None
    k: float | None

    @classmethod
    def checked(
        cls, bench: Any, temperature: Any, scatter: Any, level: Any, k: Any, function: str
    ) -> Self:
        """Make conditions from what a user gave."""
        level, k = check_coverage(level, k, function)
        checked = check_bench(bench, function)
        return cls(
            bench=checked,
            temperature=check_temperature(temperature, function),
            scatter=check_scatter(scatter, function, checked),
            level=level,
            k=k,
        )

    @property
    def coverage(self) -> str:
        """Coverage in words: "95 %" or "k = 2"."""
        return f"k = {self.k:g}" if self.level is None else f"{100 * self.level:g} %"

    def readings(
        self,
        meter: str | Sequence[str],
        flow: ArrayLike,
        inclination: ArrayLike,
        repeats: ArrayLike = 1,
    ) -> PlannedReadings:
        """Predict the readings of cells; flows in m^3/s, inclinations in deg, broadcast.

        Inclinations do not count for a manometer that is not set to one.
        """
        flows, angles, numbers = np.broadcast_arrays(
            np.atleast_1d(flow), np.atleast_1d(inclination), np.atleast_1d(repeats)
        )
        names = [meter] * flows.size if isinstance(meter, str) else meter
        return predict(
            self.bench,
            names,
            flows.astype(np.float64),
            self.temperature,
            angles.astype(np.float64),
            numbers.astype(np.intp),
        )

    def results(self, readings: PlannedReadings) -> PlannedResults | None:
        """Return the results of the readable cells, None if there is none."""
        rows = np.flatnonzero(readings.readable)
        return planned_results(self.bench, readings, rows, self.scatter) if rows.size else None

    def relative(self, quantity: Quantity) -> Floats:
        """Return U over the value."""
        expanded = np.atleast_1d(quantity.expanded(self.level, k=self.k).U)
        return np.asarray(expanded / np.abs(np.atleast_1d(quantity.value)))

    def of_friction(self, readings: PlannedReadings) -> Floats:
        """Return U(f)/f of all cells, NaN where a cell cannot be read."""
        found = np.full(len(readings), np.nan)
        results = self.results(readings)
        if results is not None:
            found[readings.readable] = self.relative(results.friction)
        return found

    def of_reynolds(self, readings: PlannedReadings) -> Floats:
        """Return U(Re)/Re of all cells, NaN where the meter cannot show the flow."""
        found = np.full(len(readings), np.nan)
        rows = np.flatnonzero(readings.flow_readable)
        if rows.size:
            reynolds = planned_reynolds(self.bench, readings, rows, self.scatter)
            found[rows] = self.relative(reynolds)
        return found

    def flows_of(self, meter: str) -> tuple[float, float]:
        """Return the lowest and the highest flow in m^3/s that a meter can show."""
        low, high = span_of_meter(self.bench, meter)
        scale = self.bench.meters[meter].scale
        least = low if low > 0 else max(scale.division, _LEAST_OF_SPAN * high)
        density = self.bench.density(self.temperature)
        ends = flows_shown(self.bench, meter, np.array([least, high]), density)
        lowest, highest = (float(flow) for flow in ends)
        if highest <= 0:
            raise BenchError(
                f"its calibration line gives no flow above 0 up to {high:g} {scale.unit}; check "
                "intercept and slope",
                self.bench.file,
                f"meters.{meter}.calibration",
            )
        # a line may pass through 0 somewhere on the scale
        return (lowest if lowest > 0 else _LEAST_OF_SPAN * highest), highest

    def shown(self, flow: float, meter: str) -> str:
        """Write a flow in the unit of a meter."""
        unit = self.bench.meters[meter].scale.unit
        return f"{VolumeFlowRate(flow, 'm^3/s').to(unit).value:.4g} {unit}"
