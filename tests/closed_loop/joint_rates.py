"""How often conclusions from several runs are right: E_n, chi-square, fits, a planted error."""

from __future__ import annotations

from typing import Any

import numpy as np
import reference_analysis as reference
from closed_loop import Scenario, one_by_one
from scipy.special import chdtrc
from simulated_bench import Floats, Sessions, simulate

import flowunc as fu

TRIALS = 1000  # of regimes, which are clear in these runs
NAMES = ("constant", "laminar exponent", "turbulent exponent")


def agreement_of(runs: fu.Runs, sessions: Sessions, place: int) -> tuple[Floats, float]:
    """Return E_n of every run, NaN without a law, and the joint p."""
    found = runs.agreement(trials=TRIALS)
    errors = np.full(len(runs), np.nan)
    errors[runs.laws(trials=TRIALS).compared] = found.normalised_error
    return errors, found.p_value


def fits_of(runs: fu.Runs, sessions: Sessions, place: int) -> tuple[bool, ...]:
    """Return whether the 95 % intervals contain 64, -1 and -0.25."""
    fitted = (
        (runs.laminar_constant(trials=TRIALS).constant, 64.0),
        (runs.power_law("laminar", trials=TRIALS).exponent, -1.0),
        (runs.power_law("turbulent", trials=TRIALS).exponent, -0.25),
    )
    return tuple(
        bool(low <= true <= high)
        for quantity, true in fitted
        for low, high in [quantity.interval(0.95)]
    )


def bias_of(runs: fu.Runs, sessions: Sessions, place: int) -> dict[str, Any]:
    """Return what is said of a bore that was stated too small."""
    errors, p = agreement_of(runs, sessions, place)
    found = runs.common_bias(trials=TRIALS)
    labels = [one.label for one in found.explanations]
    bore = found.explanations[labels.index("bore")]
    able = [one for one in found.explanations if one.removes]
    offset = float(bore.offset.to("mm").value)
    return {
        "E_n": bool((np.abs(errors[~np.isnan(errors)]) > 1).any()),
        "p": p < 0.05,
        "first": labels[0] == "bore",
        "removes": bore.removes,
        "plausible": bore.plausible,
        "smallest": bool(able) and min(able, key=lambda one: one.multiple).label == "bore",
        "offset": offset,
        "u": float(bore.offset.to("mm").u),
    }


def expected_agreement(scenario: Scenario, count: int, seed: int) -> tuple[Floats, float]:
    """Return the rate of abs(E_n) <= 1 of every run and of p < 0.05, by the analysis in NumPy."""
    _, runs, chosen = _compared(scenario, count, seed)
    found = reference.joint([runs[i] for i in chosen], against_law=True)
    name = reference.DEVIATION
    deviation, covariance = found.value[name], found.covariance[name, name]
    u = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    rates = np.full(len(runs), np.nan)
    rates[chosen] = (np.abs(deviation) <= 2 * u).mean(axis=0)
    p = chdtrc(len(chosen), reference.chi_square(deviation, covariance))
    return rates, float((p < 0.05).mean())


def expected_fits(scenario: Scenario, count: int, seed: int) -> tuple[float, ...]:
    """Return the coverage of the three fits, by the analysis in NumPy."""
    sessions, runs, chosen = _compared(scenario, count, seed)
    slow = [i for i in chosen if sessions.reynolds[:, i].max() < 2300]
    fast = [i for i in chosen if i not in slow]
    laminar, turbulent = (reference.joint([runs[i] for i in rows]) for rows in (slow, fast))
    fitted = (
        (*reference.laminar_constant(laminar), 64.0),
        (*reference.exponent(laminar, -1.0), -1.0),
        (*reference.exponent(turbulent, -0.25), -0.25),
    )
    return tuple(float((np.abs(b - true) <= 1.959964 * u).mean()) for b, u, true in fitted)


def _compared(scenario: Scenario, count: int, seed: int) -> Any:
    rng = np.random.default_rng(seed)
    sessions = simulate(scenario.description, scenario.plan, count, rng, scenario.world)
    runs = reference.runs_of(scenario.description, sessions)
    inside = (sessions.reynolds.max(axis=0) < 2300) | (sessions.reynolds.min(axis=0) > 4000)
    return sessions, runs, np.flatnonzero(inside)


__all__ = [
    "NAMES",
    "agreement_of",
    "bias_of",
    "expected_agreement",
    "expected_fits",
    "fits_of",
    "one_by_one",
]
