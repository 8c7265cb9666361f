"""The analysis of a sheet once more, in NumPy alone: what coverage is to be expected.

Uncertainty by the law of propagation with sensitivities from central differences, effective
degrees of freedom by Welch and Satterthwaite [JCGM 100, 5.1.2 and G.4.1], and intervals from
nested draws with the multivariate t distribution of repeats [JCGM 101, 6; JCGM 102, 5.3.2].
Nothing of flowunc is used. Applied to sessions without rounding (`World.rounding`) it says how
often such intervals contain the truth if every error is distributed as stated: for the linear
method with rectangular errors that is not 95 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import scipy.special
from simulated_bench import (
    AIR,
    AIR_LIMIT,
    PRANDTL_LIMIT,
    TAP_LIMIT,
    VISCOSITY_U,
    Description,
    Floats,
    Sessions,
    density,
    prandtl,
    viscosity,
)

QUANTITIES = ("velocity", "reynolds", "friction")
DEVIATION = "deviation"  # of f from the law at the same Re
_NORMAL = ("thermometer", "viscosity")
_OWN = ("flow", "celsius", "high", "low")  # resolutions of one run, in the order of its readings


@dataclass(frozen=True)
class Run:
    """Means of the readings of one run in many sessions, shape (sessions, 1) each.

    Resolution is left out of a mean where its repeats scatter by ``drop_from`` steps or more,
    which flowunc never does: what that would do is in test_resolution_of_repeats.py.
    """

    description: Description
    meter: str
    angle: float
    flow: Floats
    celsius: Floats
    high: Floats
    low: Floats
    zero: Floats  # mean of the differences before and after
    half_change: Floats
    deviations: Floats  # (sessions, repeats, 4), from the mean
    drop_from: float = np.inf

    @property
    def repeats(self) -> int:
        return int(self.deviations.shape[1])


def runs_of(description: Description, sessions: Sessions) -> list[Run]:
    """Collect what the analysis knows of each run."""
    found = []
    place = 0
    for planned, zeros in zip(sessions.plan, sessions.zeros, strict=True):
        balance = zeros[:, :, 0] - zeros[:, :, 1]
        for run in planned.runs:
            rows = sessions.readings[place]
            mean = rows.mean(axis=1)
            found.append(
                Run(
                    description,
                    run.meter,
                    planned.angle,
                    *(mean[:, [column]] for column in range(4)),
                    balance.mean(axis=1, keepdims=True),
                    np.abs(balance[:, [1]] - balance[:, [0]]) / 2,
                    rows - mean[:, np.newaxis],
                )
            )
            place += 1
    return found


def errors_of(run: Run) -> dict[str, float | Floats]:
    """Return the half-width (standard deviation of normal ones) of every error of a run."""
    of = run.description
    meter = of.meters[run.meter]
    column = of.column_step / 2
    lows = {} if of.mirrored else dict.fromkeys(("low", "low before", "low after"), column)
    found: dict[str, float | Floats] = {
        **lows,
        "bore": of.bore_limit,
        "taps": of.taps_limit,
        "calibration": meter.relative,
        "offset": meter.offset,
        "flow": meter.step / 2,
        "thermometer": of.thermometer_u,
        "celsius": of.thermometer_step / 2,
        "tap water": TAP_LIMIT,
        "viscosity": VISCOSITY_U,
        "angle": of.angle_limit,
        "gravity": of.gravity_limit,
        "air": AIR_LIMIT,
        "high": column,
        "high before": column,
        "high after": column,
        "drift": run.half_change,
        "law": PRANDTL_LIMIT,
    }
    if run.repeats > 1 and np.isfinite(run.drop_from):
        scatter = np.sqrt((run.deviations**2).sum(axis=1) / (run.repeats - 1))
        for place, name in enumerate(_OWN):
            half = np.asarray(found[name])
            seldom = scatter[:, [place]] < run.drop_from * 2 * half * (1 - 1e-9)
            found[name] = np.where(seldom, half, 0.0)
    return found


def evaluate(
    run: Run,
    errors: dict[str, Floats],
    shift: tuple[Floats | float, ...] = (0.0,) * 4,
    against_law: bool = False,
) -> dict[str, Floats]:
    """Compute all results of a run with the given errors added to what was stated or read."""

    def e(name: str) -> Floats | float:
        return errors.get(name, 0.0)

    def low(when: str = "") -> Floats | float:
        # a mirror image is rounded down where the other column is rounded up
        return -e(f"high{when}") if of.mirrored else e(f"low{when}")

    of = run.description
    meter = of.meters[run.meter]
    reading = run.flow + shift[0]
    flow = reading + meter.gain(run.flow) * e("calibration") + e("offset") + e("flow")
    celsius = run.celsius + shift[1] + e("thermometer") + e("celsius")
    rho = density(celsius) * (1.0 + e("tap water"))
    mu = viscosity(celsius) * (1.0 + e("viscosity"))
    bore = (of.bore + e("bore")) * 1e-3
    velocity = flow * meter.factor / (np.pi / 4 * bore**2)
    reynolds = rho * velocity * bore / mu
    zero = (e("high before") - low(" before") + e("high after") - low(" after")) / 2 + e("drift")
    columns = (run.high + shift[2] + e("high")) - (run.low + shift[3] + low())
    difference = (columns - run.zero - zero) * 1e-3
    drop = difference * np.sin(np.radians(run.angle + e("angle")))
    drop = drop * (rho - AIR - e("air")) * (of.gravity + e("gravity"))
    friction = 2 * bore * drop / (rho * (of.taps + e("taps")) * 1e-3 * velocity**2)
    found = {"velocity": velocity, "reynolds": reynolds, "friction": friction}
    if against_law:
        turbulent = prandtl(np.maximum(reynolds, 3000.0)) * (1.0 + e("law"))
        found[DEVIATION] = friction - np.where(reynolds < 3000.0, 64.0 / reynolds, turbulent)
    return found


@dataclass(frozen=True)
class Linear:
    """Value, standard uncertainty and effective degrees of freedom, shape (sessions,) each."""

    value: Floats
    u: Floats
    dof: Floats

    def half_width(self, level: float = 0.95) -> Floats:
        k = np.full(self.dof.shape, scipy.special.ndtri(0.5 + level / 2))
        finite = np.isfinite(self.dof)
        k[finite] = scipy.special.stdtrit(self.dof[finite], 0.5 + level / 2)
        found: Floats = k * self.u
        return found


def contributions(
    run: Run, against_law: bool = False
) -> tuple[dict[str, Floats], dict[str, dict[str, Floats]]]:
    """Return values, and what one standard uncertainty of each error does, by central differences.

    Returns
    -------
    values : by result, shape (sessions, 1)
    effects : by error and result, shape (sessions, 1); by "repeats" shape (sessions, repeats)
    """

    def moved(errors: dict[str, Floats], shift: tuple[Floats | float, ...]) -> dict[str, Floats]:
        return evaluate(run, errors, shift, against_law)

    still = (0.0,) * 4
    values = moved({}, still)
    effects: dict[str, dict[str, Floats]] = {}
    for name, size in errors_of(run).items():
        u = np.asarray(size) / (1.0 if name in _NORMAL else np.sqrt(3.0))
        above, below = (moved({name: sign * 1e-2 * u}, still) for sign in (1.0, -1.0))
        effects[name] = {of: (above[of] - below[of]) / 2e-2 for of in values}
    n = run.repeats
    if n > 1:
        size = (1e-3 * run.flow, 1e-3, 1e-3, 1e-3)
        effects["repeats"] = {of: np.zeros(run.deviations.shape[:2]) for of in values}
        for column in range(4):
            above, below = (
                moved({}, tuple(sign * d * (i == column) for i, d in enumerate(size)))
                for sign in (1.0, -1.0)
            )
            for of in values:
                slope = (above[of] - below[of]) / (2 * size[column])
                moves = slope * run.deviations[:, :, column] / np.sqrt(n * (n - 1.0))
                effects["repeats"][of] += moves
    return values, effects


def linear(run: Run, against_law: bool = False) -> dict[str, Linear]:
    """Propagate to first order."""
    values, effects = contributions(run, against_law)
    found = {}
    for of, value in values.items():
        parts = {name: (moves[of] ** 2).sum(axis=1) for name, moves in effects.items()}
        total = np.sum(list(parts.values()), axis=0)
        dof = np.full(total.shape, np.inf)
        if run.repeats > 1:
            with np.errstate(divide="ignore"):
                dof = (run.repeats - 1) * (total / parts["repeats"]) ** 2
        found[of] = Linear(value[:, 0], np.sqrt(total), dof)
    return found


def drawn(
    run: Run, trials: int, rng: np.random.Generator, level: float = 0.95
) -> dict[str, tuple[Floats, Floats]]:
    """Draw probabilistically symmetric intervals, shape (sessions,) each end."""
    count = len(run.flow)
    shape = (count, trials)
    errors: dict[str, Floats] = {}
    for name, size in errors_of(run).items():
        unit = rng.standard_normal(shape) if name in _NORMAL else rng.uniform(-1.0, 1.0, shape)
        errors[name] = unit * size
    shift: tuple[Floats | float, ...] = (0.0,) * 4
    n = run.repeats
    if n > 1:
        # sum of w_i (x_i - mean)/sqrt(n (n - 1)) has the covariance of the means for normal w
        w = rng.standard_normal((count, trials, n)) / np.sqrt(n * (n - 1.0))
        w *= np.sqrt((n - 1) / rng.chisquare(n - 1, (count, trials, 1)))
        shift = tuple(np.moveaxis(w @ run.deviations, -1, 0))
    tail = (1.0 - level) / 2
    return {
        of: tuple(np.quantile(values, (tail, 1.0 - tail), axis=1))  # type: ignore[misc]
        for of, values in evaluate(run, errors, shift).items()
    }


# -- several runs together -------------------------------------------------------------------------
_OF_SET = ("angle", "high before", "low before", "high after", "low after", "drift")
_OF_METER = ("calibration", "offset")


class Joint(NamedTuple):
    """Results of several runs, shape (sessions, runs), and covariances (sessions, runs, runs)."""

    value: dict[str, Floats]
    covariance: dict[tuple[str, str], Floats]


def joint(runs: Sequence[Run], against_law: bool = False) -> Joint:
    """Propagate to first order with what runs have in common: one error, one column of effects."""
    found = [contributions(run, against_law) for run in runs]
    names = list(found[0][0])
    values = {of: np.concatenate([value[of] for value, _ in found], axis=1) for of in names}
    columns: dict[tuple[object, ...], dict[str, Floats]] = {}
    shape = values[names[0]].shape
    for place, (run, (_, effects)) in enumerate(zip(runs, found, strict=True)):
        for name, moves in effects.items():
            key: tuple[object, ...] = (name,)
            if name in _OWN:
                key += (place,)
            elif name in _OF_SET:
                key += (run.angle,)
            elif name in _OF_METER:
                key += (run.meter,)
            column = columns.setdefault(key, {of: np.zeros(shape) for of in names})
            for of in names:
                column[of][:, place] = moves[of][:, 0]
    covariance = {
        (a, b): np.sum(
            [column[a][:, :, np.newaxis] * column[b][:, np.newaxis] for column in columns.values()],
            axis=0,
        )
        for a in names
        for b in names
    }
    return Joint(values, covariance)


def chi_square(deviation: Floats, covariance: Floats) -> Floats:
    """Return d^T V^-1 d of every session."""
    solved = np.linalg.solve(covariance, deviation[..., np.newaxis])[..., 0]
    return np.asarray((deviation * solved).sum(axis=-1))


def generalised_fit(design: Floats, y: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Return parameters and their u by generalised least squares, shape (sessions, parameters)."""
    weighted = np.linalg.solve(covariance, design)
    normal = np.swapaxes(design, 1, 2) @ weighted
    right = np.swapaxes(weighted, 1, 2) @ y[..., np.newaxis]
    inverse = np.linalg.inv(normal)
    return (inverse @ right)[..., 0], np.sqrt(np.diagonal(inverse, axis1=1, axis2=2))


def laminar_constant(found: Joint) -> tuple[Floats, Floats]:
    """Return C of f = C/Re and its u: ln(f Re) = ln C for all runs."""
    relative = _relative(found)
    V = relative["ff"] + relative["rr"] + relative["fr"] + np.swapaxes(relative["fr"], 1, 2)
    y = np.log(found.value["friction"] * found.value["reynolds"])
    fitted, u = generalised_fit(np.ones((*y.shape, 1)), y, V)
    C = np.exp(fitted[:, 0])
    return C, C * u[:, 0]


def exponent(found: Joint, slope: float) -> tuple[Floats, Floats]:
    """Return the exponent of f = c Re^b and its u; errors of Re count by the slope given."""
    relative = _relative(found)
    cross = relative["fr"] + np.swapaxes(relative["fr"], 1, 2)
    V = relative["ff"] + slope**2 * relative["rr"] - slope * cross
    x, y = np.log(found.value["reynolds"]), np.log(found.value["friction"])
    fitted, u = generalised_fit(np.stack([np.ones_like(x), x], axis=-1), y, V)
    return fitted[:, 1], u[:, 1]


def _relative(found: Joint) -> dict[str, Floats]:
    f, re = found.value["friction"], found.value["reynolds"]
    sizes = {"f": f, "r": re}
    names = {"f": "friction", "r": "reynolds"}
    return {
        a + b: found.covariance[names[a], names[b]]
        / (sizes[a][:, :, np.newaxis] * sizes[b][:, np.newaxis])
        for a, b in ("ff", "rr", "fr")
    }
