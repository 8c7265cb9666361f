"""The simulator and the analysis in NumPy, held against things outside both of them."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
import reference_analysis as reference
from closed_loop import analysed, intervals
from iapws._iapws import _Liquid
from reference_analysis import QUANTITIES
from scenarios import BENCH, FEW_REPEATS, LARGE, MAIN, NEAR_ZERO, SMALL
from simulated_bench import World, density, law, prandtl, sheet_text, simulate, viscosity

import flowunc as fu


@pytest.mark.parametrize("celsius", [20.0, 21.5, 23.5])
def test_water_of_the_simulator_is_that_of_the_iapws_package(celsius: float) -> None:
    package = _Liquid(celsius + 273.15, 0.1)
    assert density(np.array(celsius)) == pytest.approx(package["rho"], rel=1e-6)
    # a fifth of the 0.5 % that is stated of the viscosity
    assert viscosity(np.array(celsius)) == pytest.approx(package["mu"], rel=1e-3)


@pytest.mark.parametrize("reynolds", [4e3, 2e4, 1e5])
def test_prandtl_of_the_simulator_is_that_of_the_fluids_package(reynolds: float) -> None:
    expected = fluids.friction.Prandtl_von_Karman_Nikuradse(reynolds)
    # the package writes the constants as 2.51 and 2; rounding of 0.8 and 2.51 differs by 0.02 %
    assert prandtl(np.array([reynolds]))[0] == pytest.approx(expected, rel=1e-3)


def test_law_is_that_of_hagen_and_poiseuille_up_to_2300() -> None:
    assert law(np.array([640.0, 1600.0])).tolist() == pytest.approx([0.1, 0.04], rel=1e-12)
    assert law(np.array([4000.0])) == pytest.approx(prandtl(np.array([4000.0])), rel=1e-12)


@pytest.mark.parametrize("meter", [SMALL, LARGE], ids=["error limit", "percent of reading"])
def test_what_a_meter_shows_has_the_error_that_was_drawn(meter: object) -> None:
    assert isinstance(meter, type(SMALL))
    rng = np.random.default_rng(1)
    flow = rng.uniform(2.5, meter.span[1], 1000)
    relative = rng.uniform(-meter.relative, meter.relative, 1000)
    offset = rng.uniform(-meter.offset, meter.offset, 1000)
    shown = meter.shown(flow, relative, offset)
    assert flow == pytest.approx(shown + meter.gain(shown) * relative + offset, rel=1e-12)


def test_readings_lie_on_the_scale_and_errors_within_half_a_step() -> None:
    rounded = simulate(BENCH, MAIN.plan, 200, np.random.default_rng(2), World())
    for planned, rows in zip(rounded.runs, rounded.readings, strict=True):
        steps = (BENCH.meters[planned.meter].step, BENCH.thermometer_step, *2 * (0.5,))
        places = rows / np.array(steps)
        assert np.abs(places - np.round(places)).max() < 1e-9
    runs = reference.runs_of(BENCH, rounded)
    # with f known, what is left of a reading of the flow is calibration and rounding
    area = np.pi / 4 * 0.016**2
    fast = runs[-1].flow[:, 0] * LARGE.factor / area / rounded.velocity[:, -1]
    limit = 0.01 + (0.05 + 0.125) / 15.0 + 2 * 0.04 / 16.0
    assert 0.5 * limit < np.abs(fast - 1).max() < limit + 1e-3


@pytest.mark.parametrize("scenario", [MAIN, FEW_REPEATS, NEAR_ZERO], ids=lambda s: s.name)
def test_intervals_of_flowunc_are_those_of_the_analysis_in_numpy(scenario: object) -> None:
    assert isinstance(scenario, type(MAIN))
    rng = np.random.default_rng(3)
    sessions = simulate(scenario.description, scenario.plan, 40, rng, scenario.world)
    found = intervals(scenario.description, sessions)
    for place, run in enumerate(reference.runs_of(scenario.description, sessions)):
        expected = reference.linear(run)
        for name in QUANTITIES:
            low, high = found[name].linear_low[:, place], found[name].linear_high[:, place]
            # other formulas of the water: 0.05 % in the value, and in the slope of the viscosity
            assert (low + high) / 2 == pytest.approx(expected[name].value, rel=1e-3)
            assert (high - low) / 2 == pytest.approx(expected[name].half_width(), rel=2e-3)


def test_sessions_in_one_sheet_give_what_they_give_one_by_one() -> None:
    sessions = simulate(BENCH, MAIN.plan, 3, np.random.default_rng(4), World())
    together = intervals(BENCH, sessions)
    for session in range(3):
        runs = analysed(BENCH, sheet_text(sessions, [session]))
        for name in QUANTITIES:
            low, high = runs.result(name).interval(0.95)
            assert low == pytest.approx(together[name].linear_low[session], rel=1e-12)
            assert high == pytest.approx(together[name].linear_high[session], rel=1e-12)


def test_what_counts_as_reported_is_what_the_table_of_runs_shows() -> None:
    sessions = simulate(BENCH, MAIN.plan, 1, np.random.default_rng(5), World())
    found = intervals(BENCH, sessions, trials=5000, seed=7)
    table = analysed(BENCH, sheet_text(sessions, [0])).table(trials=5000, seed=7)
    for name, short in (("reynolds", "Re"), ("friction", "f")):
        one = found[name]
        assert one.holds is not None
        assert one.drawn_low is not None
        assert one.drawn_high is not None
        low = np.where(one.holds, one.linear_low, one.drawn_low)[0]
        high = np.where(one.holds, one.linear_high, one.drawn_high)[0]
        assert table[f"{short} low"].to_numpy() == pytest.approx(low, rel=1e-12)
        assert table[f"{short} high"].to_numpy() == pytest.approx(high, rel=1e-12)
        assert list(table[f"U({short})"].isna()) == list(~one.holds[0])


def test_a_planted_bore_is_that_of_the_simulator() -> None:
    # V goes with bore^-2: the same flow through 3 % more bore
    plain, planted = (
        simulate(BENCH, MAIN.plan, 5, np.random.default_rng(6), World(bore_factor=factor))
        for factor in (1.0, 1.03)
    )
    assert planted.velocity * 1.03**2 == pytest.approx(plain.velocity, rel=1e-12)


def test_several_sessions_in_a_sheet_keep_their_own_zeros() -> None:
    sessions = simulate(BENCH, MAIN.plan, 2, np.random.default_rng(7), World())
    runs = analysed(BENCH, sheet_text(sessions, [0, 1]))
    assert isinstance(runs, fu.Runs)
    assert len(runs.sheet.sets) == 4
    assert all(len(found.before) == len(found.after) == 1 for found in runs.sheet.sets)
