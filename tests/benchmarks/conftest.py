"""The benchmark chain, its alternatives, and the table of ratios.

Every benchmark measures flowunc and an alternative in the same run and the same group. The
table at the end has a row for each target: the fastest round of both, per reading where the
alternative is too slow for the same number of readings, their ratio, and the ratio aimed at.
What is not a time (the variance of a result) is handed to the table as a `figure`. Nothing
here fails on a time.

A benchmark says of itself, in ``extra_info``: ``ours=True`` or the ``name`` of the alternative,
with the ``aim`` for the ratio against it, and ``readings`` if they differ in number.
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


def figure(target: str, ours: float, name: str, theirs: float, aim: float | None = None) -> Any:
    """Return a row of the table for two numbers that are no times."""
    return {"target": target, "ours": ours, "name": name, "theirs": theirs, "aim": aim}


@pytest.fixture(scope="session")
def figure_of() -> Any:
    return figure


def in_words(seconds: float) -> str:
    if seconds >= 1:
        return f"{seconds:.3g} s"
    return f"{seconds * 1e3:.3g} ms" if seconds >= 1e-3 else f"{seconds * 1e6:.3g} µs"


def row(target: str, ours: str, name: str, theirs: str, ratio: float, aim: float | None) -> str:
    shown = "" if aim is None else f"<= {aim:g}"
    met = "" if aim is None else "yes" if ratio <= aim else "no"
    return f"| {target} | {ours} | {name} | {theirs} | {ratio:.3g} | {shown} | {met} |"


def rows_of(group: str, entries: list[Any]) -> list[str]:
    rows = []
    for mine in (entry for entry in entries if entry.extra_info.get("ours")):
        for other in (entry for entry in entries if not entry.extra_info.get("ours")):
            counts = [entry.extra_info.get("readings", 1) for entry in (mine, other)]
            times = [entry.stats.min for entry in (mine, other)]
            target = ", ".join([group, *filter(None, [mine.extra_info.get("name")])])
            if counts[0] != counts[1]:
                times = [time / count for time, count in zip(times, counts, strict=True)]
                target += ", a reading"
            shown = [in_words(time) for time in times]
            name, aim = other.extra_info["name"], other.extra_info.get("aim")
            rows.append(row(target, shown[0], name, shown[1], times[0] / times[1], aim))
    for entry in entries:
        for found in entry.extra_info.get("figures", []):
            shown = [f"{found[key]:.3g}" for key in ("ours", "theirs")]
            ratio = found["ours"] / found["theirs"]
            rows.append(
                row(found["target"], shown[0], found["name"], shown[1], ratio, found["aim"])
            )
    return rows


@pytest.hookimpl(trylast=True)  # after the tables with every round
def pytest_terminal_summary(terminalreporter: Any, config: Any) -> None:
    session = getattr(config, "_benchmarksession", None)
    if session is None or getattr(session, "disabled", True):
        return
    groups: dict[str, list[Any]] = {}
    for entry in session.benchmarks:
        if entry.group and not entry.has_error:
            groups.setdefault(entry.group, []).append(entry)
    rows = [line for group, entries in groups.items() for line in rows_of(group, entries)]
    if rows:
        terminalreporter.section("flowunc against alternatives, fastest rounds")
        terminalreporter.write_line(
            "| target | flowunc | alternative | its figure | flowunc/alternative | aim | met |"
        )
        terminalreporter.write_line("|---|---|---|---|---|---|---|")
        for line in rows:
            terminalreporter.write_line(line)
