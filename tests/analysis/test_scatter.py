"""Lines whose uncertainty comes from their scatter: NIST StRD Norris and JCGM 100, H.3."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc.analysis import fit_line
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.kinds import Ratio, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.statements import shared, standard

# [JCGM 100, H.3, table H.6], from memory [M]; results computed [C], printed with fewer digits.
THERMOMETER = np.array(
    [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
)
CORRECTION = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)

# [NIST SRD 140, Norris], read in a test that quotes it [T].
NORRIS_X = np.fromstring(
    "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5"
    " 11.6 556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2"
    " 669.1 448.9 0.5",
    sep=" ",
)
NORRIS_Y = np.fromstring(
    "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9"
    " 10.8 557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9"
    " 668.4 449.2 0.2",
    sep=" ",
)


def test_norris() -> None:
    fit = fit_line(Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1"), scatter=True)
    # certified values
    assert fit.intercept.value == pytest.approx(-0.262323073774029, rel=1e-12)
    assert fit.intercept.u == pytest.approx(0.232818234301152, rel=1e-12)
    assert fit.slope.value == pytest.approx(1.00211681802045, rel=1e-14)
    assert fit.slope.u == pytest.approx(0.429796848199937e-03, rel=1e-12)
    assert fit.residual_standard_deviation == pytest.approx(0.884796396144373, rel=1e-12)
    # [C]: -mean(x)/root(mean(x^2)), from the normal equations
    assert fit.correlation == pytest.approx(-0.7738280821, rel=1e-9)
    assert fit.dof == 34
    assert fit.slope.dof == pytest.approx(34)


def test_thermometer_calibration_line_of_the_gum() -> None:
    t = Temperature(THERMOMETER, "degC")
    fit = fit_line(t - Temperature(20, "degC"), Quantity(CORRECTION, "K"), scatter=True)
    assert fit.intercept.value == pytest.approx(-0.17120379, abs=5e-9)
    assert fit.intercept.u == pytest.approx(0.00287760, abs=5e-9)
    assert fit.slope.value == pytest.approx(0.00218270, abs=5e-9)
    assert fit.slope.u == pytest.approx(0.00066794, abs=5e-9)
    assert fit.correlation == pytest.approx(-0.93042960, abs=5e-9)
    assert fit.residual_standard_deviation == pytest.approx(0.003497564, abs=5e-10)

    at_30 = fit.predict(Temperature(30, "degC") - Temperature(20, "degC"))
    assert at_30.unit == "K"
    assert at_30.value == pytest.approx(-0.14937681, abs=5e-9)
    assert at_30.u == pytest.approx(0.00413860, abs=5e-9)
    assert at_30.dof == pytest.approx(9)
    # 95 % with Student's t for 9 degrees of freedom
    assert at_30.expanded(0.95).k == pytest.approx(stats.t.ppf(0.975, 9))


def test_origin_of_x_does_not_change_a_prediction() -> None:
    reference = Temperature([0.0, 20.0, 24.0], "degC")
    found = []
    for origin in reference:
        fit = fit_line(
            Temperature(THERMOMETER, "degC") - origin, Quantity(CORRECTION, "K"), scatter=True
        )
        found.append(fit.predict(Temperature(30, "degC") - origin))
    assert [q.u for q in found] == pytest.approx([0.00413860] * 3, abs=5e-9)
    assert [q.dof for q in found] == pytest.approx([9] * 3)


def test_draws_follow_one_t_distribution() -> None:
    fit = fit_line(Quantity(THERMOMETER - 20, "K"), Quantity(CORRECTION, "K"), scatter=True)
    drawn = fit.predict(Quantity(10, "K")).monte_carlo(50_000, seed=4)
    low, high = drawn.interval(0.95, kind="symmetric")
    half = stats.t.ppf(0.975, 9) * 0.00413860
    # standard error of a 2.5 % quantile: sqrt(p (1 - p)/trials)/density
    density = stats.t.pdf(stats.t.ppf(0.975, 9), 9) / 0.00413860
    error = 4 * math.sqrt(0.025 * 0.975 / 50_000) / density
    assert (high - low) / 2 == pytest.approx(half, abs=error)
    # the normal factor 1.96 would be off by more than that
    assert abs(1.96 * 0.00413860 - half) > 2 * error


def test_one_line_in_the_budget() -> None:
    fit = fit_line(Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1"), scatter=True)
    budget = fit.predict(Ratio(500.0, "1")).budget()
    assert budget["share"].sum() == pytest.approx(1.0)
    assert set(budget["evaluation"]) == {"A"}
    assert budget["component"].str.contains("scatter about the line").all()


def test_shared_errors_are_carried_through() -> None:
    plain = fit_line(Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1"), scatter=True)
    offset = fit_line(
        Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1", shared(standard(0.5))), scatter=True
    )
    assert offset.slope.u == pytest.approx(plain.slope.u, rel=1e-9)
    assert offset.intercept.u == pytest.approx(math.hypot(plain.intercept.u, 0.5), rel=1e-12)
    gain = Ratio(1, "1", standard(0.01))
    scaled = fit_line(Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1") * gain, scatter=True)
    assert scaled.slope.u == pytest.approx(math.hypot(plain.slope.u, 0.01 * plain.slope.value))
    # Welch-Satterthwaite: the shared part is certain, so the degrees of freedom grow
    expected = 34 * (offset.intercept.u / plain.intercept.u) ** 4
    assert offset.intercept.dof == pytest.approx(expected)


def test_errors_of_single_readings_would_count_twice() -> None:
    with pytest.raises(StatementError, match="already contains"):
        fit_line(Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1", standard(0.5)), scatter=True)
    with pytest.raises(StatementError, match="x has 'ratio'"):
        fit_line(Ratio(NORRIS_X, "1", standard(0.5)), Ratio(NORRIS_Y, "1"), scatter=True)
    joined = concatenate([Ratio(value, "1", standard(0.5)) for value in (1.0, 2.1, 2.9)])
    with pytest.raises(StatementError, match="single readings"):
        fit_line(Ratio([1, 2, 3], "1"), joined, scatter=True)


def test_two_points_do_not_scatter() -> None:
    with pytest.raises(RangeError, match="2 points leave no scatter"):
        fit_line(Ratio([1, 2], "1"), Ratio([1, 2], "1"), scatter=True)


def test_points_exactly_on_a_line_have_no_scatter() -> None:
    fit = fit_line(Ratio([1, 2, 3], "1"), Ratio([2, 4, 6], "1"), scatter=True)
    assert fit.slope.u < 1e-15
    assert fit.slope.value == pytest.approx(2)


def test_no_chi_square_from_the_points_own_scatter() -> None:
    fit = fit_line(Ratio(NORRIS_X, "1"), Ratio(NORRIS_Y, "1"), scatter=True)
    assert math.isnan(fit.chi_square)
    assert math.isnan(fit.p_value)
    assert "residual standard deviation 0.885 on 34 degrees of freedom" in str(fit)
    np.testing.assert_allclose(fit.table()["residual_u"], 0.884796396144373)


@pytest.mark.parametrize("scale", [1e-300, 1e-170, 1e160, 1e296])
def test_sizes_whose_squares_leave_float64(scale: float) -> None:
    x, y = THERMOMETER * scale, CORRECTION * scale
    fit = fit_line(Quantity(x, "m"), Quantity(y, "s"), scatter=True)
    expected = stats.linregress(THERMOMETER, CORRECTION)
    assert fit.slope.value == pytest.approx(expected.slope, rel=1e-9)
    assert fit.slope.u == pytest.approx(expected.stderr, rel=1e-9)
    assert fit.intercept.value / scale == pytest.approx(expected.intercept, rel=1e-9)
    assert fit.intercept.u / scale == pytest.approx(expected.intercept_stderr, rel=1e-9)
    assert fit.slope.dof == pytest.approx(9.0)
    residuals = CORRECTION - expected.intercept - expected.slope * THERMOMETER
    assert fit.residual_standard_deviation / scale == pytest.approx(
        math.sqrt(residuals @ residuals / 9), rel=1e-9
    )
