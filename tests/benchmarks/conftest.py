"""The benchmark chain, its alternatives, and the table of ratios.

Every benchmark measures flowunc and an alternative in the same run and the same group; the
table at the end gives the ratio of their fastest rounds, per reading where the alternative is
too slow for the same number of readings. Nothing here fails on a time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

import flowunc as fu
from flowunc.fluids.water import WATER_DENSITY, WATER_VISCOSITY

ZERO = [(300.5, 300.0), (301.0, 300.5)]


@dataclass(frozen=True)
class Readings:
    """Plain numbers as read, invented: two meters, thermometer, both columns."""

    small: np.ndarray
    large: np.ndarray
    temperature: np.ndarray
    high: np.ndarray
    low: np.ndarray


def make_readings(count: int) -> Readings:
    draw = np.random.default_rng(20_240)
    high = draw.uniform(350, 500, count)
    return Readings(
        small=draw.uniform(0.6, 3.9, count - count // 2),
        large=draw.uniform(0.05, 0.39, count // 2),
        temperature=draw.uniform(18, 21, count),
        high=high,
        low=high - draw.uniform(10, 250, count),
    )


class Chain:
    """The full bench: two meters, thermometer, manometer with zeros, bore, spacing, gravity."""

    def __init__(self) -> None:
        self.thermometer = fu.Thermometer(fu.Scale(0.5, "degC"), accuracy=fu.expanded(0.3, k=2))
        error = fu.error_limit(2.5, linearity_limit=50)
        self.small = fu.VariableAreaMeter(
            fu.Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=error, label="small meter"
        )
        self.large = fu.VariableAreaMeter(
            fu.Scale(0.01, "L/s", span=(0.04, 0.40)), accuracy=error, label="large meter"
        )
        self.manometer = fu.InclinedManometer(
            fu.Scale(1, "mm"), angle=fu.Angle(10, "deg", fu.limits(0.25))
        )
        self.bore = fu.Length(19.05, "mm", fu.limits(0.05), label="bore")
        self.spacing = fu.Length(2.4, "m", fu.limits(1, "mm"), label="tap spacing")
        self.gravity = fu.Acceleration(9.8124, "m/s^2", fu.limits(0.0005), label="gravity")

    def record(self, readings: Readings) -> tuple[fu.ReynoldsNumber, fu.FrictionFactor]:
        temperature = self.thermometer.read(readings.temperature)
        parts = [self.small.read(readings.small)]
        if readings.large.size:
            parts.append(self.large.read(readings.large))
        flow = fu.concatenate(parts)
        density = fu.water.density(temperature)
        viscosity = fu.water.viscosity(temperature)
        velocity = fu.mean_velocity(flow, self.bore)
        reynolds = fu.reynolds_number(velocity, self.bore, density, viscosity)
        drop = self.manometer.pressure_drop(
            high=readings.high,
            low=readings.low,
            density=density,
            zero=ZERO,
            gravity=self.gravity,
        )
        friction = fu.darcy_friction_factor(drop, density, velocity, self.bore, self.spacing)
        return reynolds, friction


def nominal(readings: Readings) -> tuple[np.ndarray, np.ndarray]:
    """The same formulas on plain arrays: no uncertainty, no checks, no record."""
    kelvin = readings.temperature + 273.15
    flow = np.concatenate([readings.small / 60_000, readings.large / 1000])
    density, viscosity = WATER_DENSITY.evaluate(kelvin), WATER_VISCOSITY.evaluate(kelvin)
    bore = 0.01905
    velocity = flow / (math.pi / 4 * bore**2)
    reynolds = density * velocity * bore / viscosity
    head = (readings.high - readings.low - 0.5) / 1000 * math.sin(math.radians(10))
    drop = head * (density - 1.2) * 9.8124
    return reynolds, 2 * bore * drop / (density * 2.4 * velocity**2)


@pytest.fixture(scope="session")
def chain() -> Chain:
    return Chain()


@pytest.fixture(scope="session")
def readings_of() -> Any:
    return make_readings


@pytest.fixture(scope="session")
def nominal_values() -> Any:
    return nominal


def pytest_terminal_summary(terminalreporter: Any, config: Any) -> None:
    session = getattr(config, "_benchmarksession", None)
    if session is None or getattr(session, "disabled", True):
        return
    groups: dict[str, list[Any]] = {}
    for entry in session.benchmarks:
        if entry.group and not entry.has_error:
            groups.setdefault(entry.group, []).append(entry)
    lines = []
    for group, entries in groups.items():
        ours = next((e for e in entries if e.extra_info.get("ours")), None)
        for entry in entries:
            if ours is None or entry is ours:
                continue
            mine = ours.stats.min / ours.extra_info.get("readings", 1)
            other = entry.stats.min / entry.extra_info.get("readings", 1)
            lines.append(
                f"| {group} | {ours.stats.min * 1e3:.3g} ms | {entry.extra_info['name']} "
                f"| {mine / other:.3g} | {other / mine:.3g} |"
            )
    if lines:
        terminalreporter.section("ratios, fastest rounds")
        terminalreporter.write_line(
            "| what flowunc does | time | against | time relative to it | times faster |"
        )
        terminalreporter.write_line("|---|---|---|---|---|")
        for line in lines:
            terminalreporter.write_line(line)
