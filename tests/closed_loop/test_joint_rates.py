"""E_n, chi-square and fits of whole sheets: numbers against NumPy, rates against the truth."""

from __future__ import annotations

import numpy as np
import pytest
import reference_analysis as reference
from closed_loop import EACH, analysed, in_parallel, one_by_one
from joint_rates import (
    NAMES,
    TRIALS,
    agreement_of,
    bias_of,
    expected_agreement,
    expected_fits,
    fits_of,
)
from scenarios import BENCH, BLASIUS, MAIN, PLANTED
from scipy.special import chdtrc
from simulated_bench import Floats, sheet_text, simulate

COMPARED = [0, 1, 2, 4, 5, 6, 7]  # the transitional run has no law


def within(rate: float, expected: float, count: int) -> bool:
    return abs(rate - expected) <= 3 * (expected * (1 - expected) / count) ** 0.5


def test_agreement_is_that_of_the_analysis_in_numpy() -> None:
    sessions = simulate(BENCH, MAIN.plan, 5, np.random.default_rng(51), MAIN.world)
    runs = reference.runs_of(BENCH, sessions)
    found = reference.joint([runs[i] for i in COMPARED], against_law=True)
    name = reference.DEVIATION
    deviation, V = found.value[name], found.covariance[name, name]
    errors = deviation / (2 * np.sqrt(np.diagonal(V, axis1=1, axis2=2)))
    p = chdtrc(len(COMPARED), reference.chi_square(deviation, V))
    for session in range(5):
        by_flowunc = agreement_of(analysed(BENCH, sheet_text(sessions, [session])), sessions, 0)
        assert np.flatnonzero(~np.isnan(by_flowunc[0])).tolist() == COMPARED
        # other formulas of the water: 0.05 % of f, some 1 % of U
        assert by_flowunc[0][COMPARED] == pytest.approx(errors[session], abs=0.02)
        assert by_flowunc[1] == pytest.approx(p[session], abs=0.02)


def test_fits_are_those_of_the_analysis_in_numpy() -> None:
    sessions = simulate(BENCH, MAIN.plan, 3, np.random.default_rng(52), BLASIUS.world)
    runs = reference.runs_of(BENCH, sessions)
    laminar, turbulent = (
        reference.joint([runs[i] for i in rows]) for rows in (COMPARED[:3], COMPARED[3:])
    )
    C, u_C = reference.laminar_constant(laminar)
    slow, u_slow = reference.exponent(laminar, -1.0)
    fast, u_fast = reference.exponent(turbulent, -0.25)
    for session in range(3):
        found = analysed(BENCH, sheet_text(sessions, [session]))
        constant = found.laminar_constant(trials=TRIALS).constant
        # ln(f Re) in place of f Re: the square of a relative u of 4 %
        assert constant.value == pytest.approx(C[session], abs=0.1 * u_C[session])
        assert constant.u == pytest.approx(u_C[session], rel=0.02)
        for regime, value, u in (
            ("laminar", slow[session], u_slow[session]),
            ("turbulent", fast[session], u_fast[session]),
        ):
            exponent = found.power_law(regime, trials=TRIALS).exponent  # type: ignore[arg-type]
            # weights here are those of the true slope, there those of the fitted one
            assert exponent.value == pytest.approx(value, abs=0.1 * u)
            assert exponent.u == pytest.approx(u, rel=0.05)


@pytest.mark.slow
def test_a_planted_bore_error_is_found() -> None:
    found = one_by_one(PLANTED, bias_of, 20, 53)
    assert all(one["E_n"] and one["p"] for one in found)
    # 12 times the stated limits: never called plausible
    assert not any(one["plausible"] for one in found)
    offsets = np.array([one["offset"] for one in found])
    # 3 % of 16 mm; each known to 0.06 mm, so the mean of 20 to 0.014 mm
    assert offsets.mean() == pytest.approx(0.48, abs=3 * 0.014)


# -- slow ------------------------------------------------------------------------------------------
def errors_by_numpy(count: int, seed: int) -> Floats:
    sessions = simulate(BENCH, MAIN.plan, count, np.random.default_rng(seed), MAIN.world)
    runs = reference.runs_of(BENCH, sessions)
    found = reference.joint([runs[i] for i in COMPARED], against_law=True)
    V = found.covariance[reference.DEVIATION, reference.DEVIATION]
    u = np.sqrt(np.diagonal(V, axis1=1, axis2=2))
    return np.asarray(found.value[reference.DEVIATION] / (2 * u))


@pytest.mark.slow
def test_rates_of_agreement() -> None:
    count, seed = 500, 54
    found = one_by_one(MAIN, agreement_of, count, seed, workers=2)
    errors = np.array([one for one, _ in found])[:, COMPARED]
    # The same sessions by NumPy: the same E_n, so what is left to chance is the sessions.
    same = np.concatenate(in_parallel(errors_by_numpy, count, seed, workers=1, chunk=EACH))
    assert np.abs(errors - same).max() < 0.01
    rates, alarms = expected_agreement(MAIN, 50_000, 55)
    p = rates[COMPARED]
    distances = ((np.abs(errors) <= 1).mean(axis=0) - p) / (p * (1 - p) / count) ** 0.5
    # 3 standard deviations for one run are 3.6 for the worst of seven. With this seed one run is at
    # 3.4, in NumPy as well; 1000 sessions from the same seed are all within 3.
    assert np.abs(distances).max() < 3.6
    # rectangular errors have no tails: fewer false alarms than 5 %
    assert within(float(np.mean([p < 0.05 for _, p in found])), alarms, count)
    assert alarms < 0.05


@pytest.mark.slow
def test_coverage_of_fits() -> None:
    count = 200
    rates = np.array(one_by_one(BLASIUS, fits_of, count, 56, workers=2)).mean(axis=0)
    for name, rate, expected in zip(NAMES, rates, expected_fits(BLASIUS, 50_000, 57), strict=True):
        assert within(float(rate), expected, count), name


@pytest.mark.slow
def test_the_planted_error_is_named_first() -> None:
    # Gravity, air density and tap spacing move f of all runs alike, nearly as the bore does, but
    # would have to be wrong by hundreds of times what was stated. Sorted by chi-square alone, one
    # of them came first in nearly every second session.
    found = one_by_one(PLANTED, bias_of, 120, 58, workers=2)
    first, smallest, removes = (
        np.mean([one[key] for one in found]) for key in ("first", "smallest", "removes")
    )
    assert first > 0.8
    assert smallest > removes - 0.05 > 0.7
