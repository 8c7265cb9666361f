"""A pipe-friction bench that exists only in NumPy: true values, readings, lab sheets.

Nothing of flowunc is used here. A session has true values of everything that the description of
the bench states an uncertainty of, drawn from the distribution stated: the truth is the stated
value plus an error. What an instrument shows is solved from ``truth = reading + gain * error``,
and what a person writes down is that, rounded to the step to which the scale is read.

The water has formulas of its own: density by [Tanaka 2001], viscosity by Hardy and Cottington
1949 as handbooks print it (coefficients from memory), scaled to 1.0016 mPa s at 20 degC. Both
are held against the iapws package in test_simulated_bench.py.

All numbers of the bench are invented.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HEADER = "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note"
AIR, AIR_LIMIT = 1.20, 0.10  # kg/m^3: what the README states where nothing is given
VISCOSITY_U = 5e-3  # relative, normal, as documented of water.viscosity
TAP_LIMIT = 5e-4  # relative, rectangular, as documented of water.density
PRANDTL_LIMIT = 0.03  # relative, rectangular, as documented of laws.prandtl_smooth
MIDDLE = 350.0  # mm, where both columns stand without flow


@dataclass(frozen=True)
class Meter:
    """A flow meter, whose error lies within ``relative`` of the reading and ``offset``."""

    unit: str
    factor: float  # m^3/s of one unit
    division: float
    read_to: float
    span: tuple[float, float]
    relative: float  # half-width as a fraction of the reading
    knee: float = 0.0  # reading below which the absolute error stays the same
    offset: float = 0.0  # half-width in the unit

    @property
    def step(self) -> float:
        return self.division * self.read_to

    def gain(self, reading: Floats) -> Floats:
        return np.maximum(reading, self.knee)

    def shown(self, flow: Floats, relative: Floats, offset: Floats) -> Floats:
        """Solve flow = reading + gain(reading) relative + offset for the reading."""
        above = (flow - offset) / (1.0 + relative)
        return np.where(above >= self.knee, above, flow - offset - self.knee * relative)

    def toml(self, name: str) -> str:
        if self.knee:
            limit = 100 * self.knee / self.span[1]
            stated = f"{{ error_limit = {100 * self.relative}, linearity_limit = {limit} }}"
        else:
            stated = f"{{ percent_of_reading = {100 * self.relative} }}"
        return (
            f'[meters.{name}]\nunit = "{self.unit}"\ndivision = {self.division}\n'
            f"read_to = {self.read_to}\nspan = [{self.span[0]}, {self.span[1]}]\n"
            f'accuracy = [{stated}, {{ limits = {self.offset}, label = "{name} meter offset" }}]\n'
        )


SMALL = Meter("L/h", 1e-3 / 3600, 5.0, 0.5, (10, 300), relative=0.015, knee=150.0)
LARGE = Meter("L/min", 1e-3 / 60, 0.5, 0.5, (2, 25), relative=0.01, offset=0.05)


@dataclass(frozen=True)
class Description:
    """What the bench file says; lengths in mm, angles in deg."""

    bore: float = 16.00
    bore_limit: float = 0.04
    taps: float = 2000.0
    taps_limit: float = 2.0
    thermometer_step: float = 0.2
    thermometer_u: float = 0.1
    column_division: float = 1.0
    column_read_to: float = 0.5
    mirrored: bool = False  # stated: one column is the mirror image of the other
    angle_limit: float = 0.2
    gravity: float = 9.8081
    gravity_limit: float = 5e-4
    meters: dict[str, Meter] = field(default_factory=lambda: {"small": SMALL, "large": LARGE})

    @property
    def column_step(self) -> float:
        return self.column_division * self.column_read_to

    def toml(self) -> str:
        meters = "\n".join(meter.toml(name) for name, meter in self.meters.items())
        return f"""# invented
[pipe]
bore = {{ value = "{self.bore} mm", limits = {self.bore_limit} }}
tap_spacing = {{ value = "{self.taps} mm", limits = {self.taps_limit} }}

{meters}
[thermometer]
unit = "degC"
division = {self.thermometer_step}
accuracy = {{ expanded = {2 * self.thermometer_u}, k = 2 }}

[manometer]
unit = "mm"
division = {self.column_division}
read_to = {self.column_read_to}
span = [0, 700]
angle_accuracy = {{ limits = {self.angle_limit} }}
mirrored = {str(self.mirrored).lower()}

[gravity]
value = "{self.gravity} m/s^2"
limits = {self.gravity_limit}
"""


@dataclass(frozen=True)
class PlannedRun:
    """One setting of the valve: nominal flow in the unit of the meter, and repeats of it."""

    name: str
    meter: str
    flow: float
    repeats: int = 1
    swing: float = 0.0  # relative standard deviation of the flow from repeat to repeat


@dataclass(frozen=True)
class PlannedSet:
    """Runs at one inclination, with a zero row before and after."""

    angle: float
    runs: tuple[PlannedRun, ...]


@dataclass(frozen=True)
class World:
    """How the bench behaves where its description leaves it open, and what is wrong with it.

    Attributes
    ----------
    rounding
        Whether readings are rounded to the scale; if not, they have the error that stands for
        rounding in the description: uniform, independent, of half a step.
    drift
        The zero changes over each set by up to this much either way, in mm.
    zero
        "anywhere": one zero for the set, anywhere between those before and after it, which is
        what a rectangular error of half the change says; "in time": it moves on from run to run.
    middle
        "wanders": the mean of both columns differs from reading to reading; "steady": it is the
        same all through a session, anywhere between two marks; "at a mark": it stands at a mark,
        as when a board is levelled until it does. In the last two one column is the mirror image
        of the other.
    flow_spread
        Relative; each true flow lies anywhere within that of the nominal one.
    turbulent
        "prandtl" within the limits of that law, or "blasius": exactly 0.3164 Re^-0.25.
    bore_factor
        The true bore is this many times what the description allows for.
    """

    rounding: bool = True
    drift: float = 2.0
    zero: str = "anywhere"
    middle: str = "wanders"
    flow_spread: float = 0.08
    turbulent: str = "prandtl"
    bore_factor: float = 1.0


@dataclass(frozen=True)
class Sessions:
    """True values, shape (sessions, runs), and readings.

    ``readings[r]`` has shape (sessions, repeats, 4): flow, temperature, high, low. ``zeros[s]`` has
    shape (sessions, 2, 2): before and after, high and low.
    """

    plan: tuple[PlannedSet, ...]
    velocity: Floats
    reynolds: Floats
    friction: Floats
    readings: tuple[Floats, ...]
    zeros: tuple[Floats, ...]

    @property
    def runs(self) -> tuple[PlannedRun, ...]:
        return tuple(run for found in self.plan for run in found.runs)

    @property
    def count(self) -> int:
        return len(self.velocity)

    def truth(self, quantity: str) -> Floats:
        found: Floats = getattr(self, quantity)
        return found


def density(celsius: Floats) -> Floats:
    """Return the density of water in kg/m^3 [Tanaka 2001, eq. 1]."""
    t = celsius
    shape = (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))
    return 999.974950 * (1.0 - shape)


def viscosity(celsius: Floats) -> Floats:
    """Return the viscosity of water in Pa s, 20 degC and above."""
    t = celsius - 20.0
    return 1.0016e-3 * 10.0 ** ((-1.3272 * t - 0.001053 * t**2) / (t + 125.0))


def prandtl(reynolds: Floats) -> Floats:
    """Return f of a smooth pipe: 1/sqrt f = 2 log10(Re sqrt f) - 0.8, by iteration."""
    x = np.full(np.shape(reynolds), 6.0)  # 1/sqrt f; the step contracts by 0.87/x
    for _ in range(14):
        x = 2.0 * np.log10(reynolds / x) - 0.8
    return x**-2


def law(reynolds: Floats) -> Floats:
    """Return the true f: 64/Re, Prandtl's, and something between where there is no law."""
    share = np.clip(np.log(reynolds / 2300.0) / np.log(4000.0 / 2300.0), 0.0, 1.0)
    low, high = 64.0 / np.minimum(reynolds, 2300.0), prandtl(np.maximum(reynolds, 4000.0))
    return low ** (1.0 - share) * high**share


def simulate(
    description: Description,
    plan: Sequence[PlannedSet],
    count: int,
    rng: np.random.Generator,
    world: World | None = None,
) -> Sessions:
    """Run so many sessions, each at a bench of its own that fits the description."""
    world = World() if world is None else world

    def within(limit: float) -> Floats:
        return rng.uniform(-limit, limit, (count, 1)) if limit else np.zeros((count, 1))

    bore = (description.bore + within(description.bore_limit)) * 1e-3 * world.bore_factor
    taps = (description.taps + within(description.taps_limit)) * 1e-3
    gravity = description.gravity + within(description.gravity_limit)
    air = AIR + within(AIR_LIMIT)
    tap_water = 1.0 + within(TAP_LIMIT)
    formulation = 1.0 + VISCOSITY_U * rng.standard_normal((count, 1))
    of_law = within(PRANDTL_LIMIT)
    thermometer = description.thermometer_u * rng.standard_normal((count, 1))
    meters = {
        name: (within(meter.relative), within(meter.offset))
        for name, meter in description.meters.items()
    }
    room = rng.uniform(20.5, 23.0, (count, 1))
    rest = MIDDLE + (within(1.0) if world.middle == "steady" else np.zeros((count, 1)))

    def column(true: Floats) -> Floats:
        return _written(true, description.column_step, world, rng)

    def columns(difference: Floats) -> Floats:
        middle = np.broadcast_to(rest, difference.shape)
        if world.middle == "wanders":
            middle = middle + rng.uniform(-3.0, 3.0, difference.shape)
        if description.mirrored and not world.rounding:
            limit = description.column_step / 2
            error = rng.uniform(-limit, limit, difference.shape)
            return np.stack(
                [middle + difference / 2 - error, middle - difference / 2 + error], axis=-1
            )
        return np.stack([column(middle + difference / 2), column(middle - difference / 2)], axis=-1)

    truths: list[tuple[Floats, Floats, Floats]] = []
    readings: list[Floats] = []
    zeros: list[Floats] = []
    for planned in plan:
        sine = np.sin(np.radians(planned.angle + within(description.angle_limit)))
        before = rng.uniform(-2.0, 2.0, (count, 1))
        after = before + within(world.drift)
        zeros.append(columns(np.concatenate([before, after], axis=1)))
        share = rng.uniform(0.0, 1.0, (count, 1))
        for place, run in enumerate(planned.runs):
            if world.zero == "in time":
                share = np.full((count, 1), (place + 1.0) / (len(planned.runs) + 1.0))
            zero = before + share * (after - before)
            meter = description.meters[run.meter]
            flow = run.flow * (1.0 + within(world.flow_spread))
            celsius = room + 0.05 * len(readings)
            rho, mu = density(celsius) * tap_water, viscosity(celsius) * formulation
            velocity = flow * meter.factor / (np.pi / 4 * bore**2)
            reynolds = rho * velocity * bore / mu
            friction = law(reynolds) * np.where(reynolds >= 4000.0, 1.0 + of_law, 1.0)
            if world.turbulent == "blasius":
                friction = np.where(reynolds >= 4000.0, 0.3164 * reynolds**-0.25, friction)
            drop = friction * taps / bore * rho * velocity**2 / 2
            difference = 1e3 * drop / (sine * (rho - air) * gravity)
            truths.append((velocity, reynolds, friction))
            # The pressure follows the flow, and has a swing of its own besides.
            common = run.swing * rng.standard_normal((count, run.repeats))
            own = run.swing * rng.standard_normal((count, run.repeats))
            shown = meter.shown(flow * (1.0 + common), *meters[run.meter])
            both = columns(difference * (1.0 + 1.75 * common + own) + zero)
            warm = np.broadcast_to(celsius - thermometer, common.shape)
            readings.append(
                np.stack(
                    [
                        _written(shown, meter.step, world, rng),
                        _written(warm, description.thermometer_step, world, rng),
                        both[..., 0],
                        both[..., 1],
                    ],
                    axis=-1,
                )
            )
    velocity, reynolds, friction = (
        np.concatenate(found, axis=1) for found in zip(*truths, strict=True)
    )
    return Sessions(tuple(plan), velocity, reynolds, friction, tuple(readings), tuple(zeros))


def _written(true: Floats, step: float, world: World, rng: np.random.Generator) -> Floats:
    """Return what is written down: rounded, or with the error stated for rounding."""
    if world.rounding:
        return step * np.round(true / step)
    return true - rng.uniform(-step / 2, step / 2, true.shape)


def sheet_text(sessions: Sessions, chosen: Iterable[int]) -> str:
    """Write sessions one after the other into one sheet; labels are ``session-place``.

    Several sessions need plans whose first and last angle differ: zero rows at one angle that
    follow each other would count as one zero.
    """
    lines = [HEADER]
    for session in chosen:
        place = 0
        for found, planned in enumerate(sessions.plan):
            first = sessions.readings[place][session, 0, 1]
            zero = sessions.zeros[found][session]
            lines.append(_line("zero", "", "", first, planned.angle, *zero[0]))
            for run in planned.runs:
                for q, t, high, low in sessions.readings[place][session]:
                    label = f"{session}-{place + 1}"
                    lines.append(_line(label, run.meter, f"{q:.9g}", t, planned.angle, high, low))
                place += 1
            lines.append(_line("zero", "", "", first, planned.angle, *zero[1]))
    return "\n".join([*lines, ""])


def _line(
    label: str, meter: str, flow: str, celsius: float, angle: float, high: float, low: float
) -> str:
    return f"{label},{meter},{flow},{celsius:.9g},{angle:g},{high:.9g},{low:.9g},"
