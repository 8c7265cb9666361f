"""Defects that are known and reported: each test says what should happen instead.

A repair makes its test pass, which pytest reports as a failure (strict): then take the mark away.
"""

from __future__ import annotations

import contextlib
import gc
import itertools
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

from flowunc import (
    FlowuncError,
    Length,
    Quantity,
    RangeError,
    Ratio,
    apply,
    cross_check,
    expanded,
    fit_line,
    limits,
    monte_carlo,
    outliers,
    percent_of_reading,
    repeated,
    second_order,
    standard,
)
from flowunc.propagation import crew
from flowunc.propagation.draws import check_trials


def known(reason: str, raises: Any = None) -> Any:
    return pytest.mark.xfail(strict=True, reason=reason, raises=raises)


def sized(scale: float, **options: Any) -> Quantity:
    return Quantity(scale, "m", standard(0.01 * scale, **options))


# -- squares that leave float64 ----------------------------------------------------------------
@known("simulation.Moments squares deviations: 0 below 1e-162, inf above 1e154, said to nobody")
@pytest.mark.parametrize("scale", [1e-170, 1e160])
@pytest.mark.parametrize("options", [{}, {"control": True}, {"sampler": "sobol"}])
def test_drawn_u_at_any_size(scale, options):
    drawn = sized(scale).monte_carlo(4000, **options)
    assert drawn.u / scale == pytest.approx(0.01, rel=0.05)
    assert drawn.u_error > 0


@known("coverage.combine_dof squares contributions: infinite dof in place of 35/3, silently below")
@pytest.mark.parametrize("scale", [1e-170, 1e160])
def test_effective_dof_at_any_size(scale):
    # [JCGM 100, G.4.1]
    assert (sized(scale, dof=5) + sized(scale, dof=7)).dof == pytest.approx(35 / 3, rel=1e-9)


@known("second_order gives NaN without a word")
def test_second_order_at_any_size():
    x = sized(1e200) * Ratio(1.0, "1", standard(0.1))
    assert second_order(x).u / 1e200 == pytest.approx(np.hypot(0.1, 0.01), rel=0.01)


@known("outliers: variances become 0 or inf: 'all readings are equal' though they are not")
@pytest.mark.parametrize("scale", [1e-200, 1e200])
def test_outliers_at_any_size(scale):
    values = np.array([1.0, 1.1, 0.9, 1.05, 0.95, 1.02, 9.0])
    assert (
        outliers(Quantity(values * scale, "m")).flagged == outliers(Quantity(values, "m")).flagged
    )


@known("fit_line: IndexError in point_errors where variances underflow or overflow")
@pytest.mark.parametrize("scale", [1e-300, 1e200])
def test_fit_at_any_size(scale, answer):
    x = Quantity(np.array([1.0, 2.0, 3.0, 4.1]) * scale, "m", standard(0.01 * scale))
    y = Quantity(np.array([2.0, 4.0, 6.0, 8.0]) * scale, "s", standard(0.01 * scale))
    fit, _ = answer(lambda: fit_line(x, y))
    assert fit is None or fit.slope.value == pytest.approx(1.9415, rel=1e-3)


@known("RuntimeWarnings of NumPy: spread over scramblings, covariances, control of infinite draws")
@pytest.mark.parametrize("way", ["sobol", "control", "cross_check"])
@pytest.mark.filterwarnings("ignore::flowunc.FlowuncWarning", "error::RuntimeWarning")
def test_infinite_draws_give_no_warning_of_numpy(way):
    q = np.exp(Ratio(700.0, "1", standard(10.0)))
    if way == "sobol":
        _ = monte_carlo(q, 5000, sampler="sobol").mean_error
    elif way == "control":
        monte_carlo(q, 5000, control=True)
    else:
        cross_check(q)


# -- fits --------------------------------------------------------------------------------------
@known("fit_line(y, y): slope (0 +- 5e13), chi-square 500; y - 1 x has no error at all")
@pytest.mark.filterwarnings("ignore::flowunc.FlowuncWarning")
def test_a_line_through_a_quantity_against_itself(answer):
    y = Length([1.0, 2.0, 3.0, 4.0], "m", standard(0.1))
    fit, error = answer(lambda: fit_line(y, y))
    assert isinstance(error, FlowuncError) or fit.slope.value == pytest.approx(1.0, rel=1e-6)


@known("a table of 1e12 numbers: NumPy's MemoryError in place of a reason", MemoryError)
@pytest.mark.parametrize("what", ["covariance", "fit"])
def test_tables_beyond_memory_are_refused(what):
    x = Length(np.linspace(1.0, 2.0, 1_000_000), "m", standard(0.01), limits(0.02))
    with pytest.raises(FlowuncError):
        x.covariance(x) if what == "covariance" else fit_line(x, 2 * x)


# -- arguments ---------------------------------------------------------------------------------
HUGE = 10**400


@pytest.mark.parametrize(
    "make",
    [
        lambda: standard(1, dof=HUGE),
        lambda: expanded(1, k=HUGE),
        lambda: percent_of_reading(HUGE),
    ],
)
def test_whole_numbers_beyond_float64_are_refused(make):
    with pytest.raises(FlowuncError):
        make()


def test_a_level_without_a_factor_is_refused():
    with pytest.raises(FlowuncError):
        expanded(1.0, level=1e-300)


@known("NumPy's warnings reach the user", (RuntimeWarning, UserWarning))
@pytest.mark.parametrize(
    "make",
    [
        lambda: repeated([1e308, -1e308]),
        lambda: repeated(np.ma.array([1.0, 2.0], mask=[False, True])),
        lambda: Length(1.0, "m", standard(1.0, dof=5e-324)).dof,
        lambda: Length([1.0, 2.0], "mm", standard(1.7e308, "km")),
    ],
    ids=["repeated", "masked", "dof", "unit"],
)
@pytest.mark.filterwarnings("error")
def test_arguments_at_the_ends_of_float64_give_no_warning_of_numpy(make):
    with contextlib.suppress(FlowuncError):
        make()


# -- threads and executors ---------------------------------------------------------------------
@known("a thread finishes its block, however many readings it has, before Ctrl-C goes through")
def test_threads_stop_inside_a_block():
    calls = itertools.count(1)
    stop = 6

    def slow(x):
        if x.size < 10_000:
            return x
        if next(calls) == stop:
            raise KeyboardInterrupt
        time.sleep(0.01)
        return x

    # 200 readings are 50 groups of 4; two blocks are 100 calls
    q = apply(slow, Ratio(np.linspace(1.0, 2.0, 200), "1", standard(0.1)))
    with pytest.raises(KeyboardInterrupt):
        monte_carlo(q, 40 * 16_384, workers=2)
    assert next(calls) < 2 * stop + 10


def test_an_executor_of_threads_keeps_no_record():
    crew._simulation.cache_clear()
    with ThreadPoolExecutor(1) as pool:
        monte_carlo(Ratio([1.0, 2.0], "1", standard(0.1)), 40_000, executor=pool)
    gc.collect()
    assert crew._simulation.cache_info().currsize == 0


def test_number_of_trials_has_an_upper_end():
    with pytest.raises(RangeError):
        check_trials(10**30)


def test_the_reason_for_lost_draws_is_the_right_one():
    with pytest.warns(UserWarning, match="too large"):
        np.exp(Ratio(700.0, "1", standard(10.0))).monte_carlo(5000)


@known("1/x for limits that reach zero has no mean, but one is given: no draw is below zero")
def test_a_pole_at_the_end_of_the_limits_is_seen():
    # the density of x at 0 is 1/2: the integral of 1/x diverges
    drawn = (1 / Ratio(1.0, "1", limits(1.0))).monte_carlo(20_000)
    assert np.isnan(drawn.u) or drawn.has_pole
