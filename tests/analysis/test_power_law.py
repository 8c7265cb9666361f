"""Power laws through friction factors that share flow, bore and temperature with Re."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize

from flowunc.analysis import PowerLawFit, agreement, fit_power_law
from flowunc.core.errors import DimensionError, PropagationError, RangeError, ShapeError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    FrictionFactor,
    Length,
    Pressure,
    Ratio,
    ReynoldsNumber,
    VolumeFlowRate,
)
from flowunc.core.statements import shared, standard

Floats = NDArray[np.float64]

# Invented runs: relative standard uncertainties, of each run and in common.
U_D, U_L, U_MU, U_RHO = 0.002, 0.0005, 0.01, 0.0002
FLOW = np.array([1.4e-5, 2.0e-5, 2.8e-5, 3.6e-5])
U_FLOW_EACH = np.array([0.025, 0.018, 0.012, 0.009])
U_FLOW_SHARED = 0.015
NOISE = np.array([0.02, -0.015, 0.01, -0.008])
U_DROP = np.array([0.06, 0.045, 0.03, 0.025])


def bench() -> tuple[ReynoldsNumber, FrictionFactor]:
    """Return Re and f of four laminar runs by plain arithmetic."""
    D = Length(0.02, "m", standard(0.02 * U_D))
    L = Length(2.4, "m", standard(2.4 * U_L))
    mu = DynamicViscosity(1e-3, "Pa*s", standard(1e-3 * U_MU))
    rho = Density(998.0, "kg/m^3", standard(998.0 * U_RHO))
    Q = VolumeFlowRate(FLOW, "m^3/s", standard(FLOW * U_FLOW_EACH)) * Ratio(
        1, "1", standard(U_FLOW_SHARED)
    )
    drop = 128 * 1e-3 * 2.4 * FLOW / (math.pi * 0.02**4) * (1 + NOISE)
    dp = Pressure(drop, "Pa", standard(drop * U_DROP))
    v = 4 * Q / (math.pi * D**2)
    re = rho * v * D / mu
    f = 2 * D * dp / (rho * L * v**2)
    return (
        ReynoldsNumber._from_node(re._node, label="Re"),
        FrictionFactor._from_node(f._node, label="f"),
    )


def log_covariance() -> Floats:
    """Covariance of (ln Re, ln f) of the runs, from the exponents of the formulas.

    ln Re = rho + Q - D - mu and ln f = 5 D + dp - rho - L - 2 Q.
    """
    n = FLOW.size
    re = {"rho": 1.0, "Q": 1.0, "D": -1.0, "mu": -1.0, "L": 0.0}
    f = {"rho": -1.0, "Q": -2.0, "D": 5.0, "mu": 0.0, "L": -1.0}
    u = {"rho": U_RHO, "Q": U_FLOW_SHARED, "D": U_D, "mu": U_MU, "L": U_L}
    C = np.zeros((2 * n, 2 * n))
    for name, size in u.items():
        column = np.concatenate([np.full(n, re[name]), np.full(n, f[name])]) * size
        C += np.outer(column, column)
    each = np.concatenate([np.diag(U_FLOW_EACH), -2 * np.diag(U_FLOW_EACH)])
    C += each @ each.T
    C[n:, n:] += np.diag(U_DROP**2)
    return C


def full_adjustment(re: Floats, f: Floats, joint: Floats) -> tuple[Floats, Floats, float]:
    """Fit by least squares over the law and all true Re; parameters (ln c, exponent)."""
    x, y = np.log(re), np.log(f)
    root = np.linalg.inv(np.linalg.cholesky(joint))

    def misfit(p: Floats) -> Floats:
        return root @ np.concatenate([x - p[2:], y - p[0] - p[1] * p[2:]])

    found = optimize.least_squares(
        misfit, np.concatenate([[4.0, -0.9], x]), jac="3-point", xtol=1e-15, ftol=1e-15, gtol=1e-14
    )
    return found.x[:2], np.linalg.inv(found.jac.T @ found.jac)[:2, :2], 2 * found.cost


def test_shared_flow_and_bore_against_a_full_adjustment() -> None:
    re, f = bench()
    fit = fit_power_law(re, f)
    line, covariance, sum_of_squares = full_adjustment(
        np.asarray(re.value), np.asarray(f.value), log_covariance()
    )
    assert fit.exponent.value == pytest.approx(line[1], rel=1e-6)
    assert fit.coefficient.value == pytest.approx(math.exp(line[0]), rel=1e-5)
    assert fit.exponent.u == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-5)
    assert fit.coefficient.u == pytest.approx(
        fit.coefficient.value * math.sqrt(covariance[0, 0]), rel=1e-5
    )
    assert fit.correlation == pytest.approx(
        covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1]), rel=1e-7
    )
    assert fit.chi_square == pytest.approx(sum_of_squares, rel=1e-9)
    assert fit.dof == 2


def test_correlation_of_the_axes_matters_here() -> None:
    # without the covariance of ln Re with ln f the exponent would be stated differently
    re, f = bench()
    C = log_covariance()
    n = FLOW.size
    C[:n, n:] = C[n:, :n] = 0
    _, covariance, _ = full_adjustment(np.asarray(re.value), np.asarray(f.value), C)
    assert abs(math.sqrt(covariance[1, 1]) / fit_power_law(re, f).exponent.u - 1) > 0.01


def test_exact_laminar_law_is_found() -> None:
    # f = 64/Re (Hagen-Poiseuille)
    re = np.array([500.0, 900.0, 1700.0])
    fit = fit_power_law(
        ReynoldsNumber(re, "1", standard(0.01 * re)),
        FrictionFactor(64 / re, "1", standard(0.02 * 64 / re)),
    )
    assert fit.exponent.value == pytest.approx(-1, abs=1e-10)
    assert fit.coefficient.value == pytest.approx(64, rel=1e-9)
    assert fit.chi_square == pytest.approx(0, abs=1e-12)
    assert isinstance(fit.exponent, Ratio)
    assert isinstance(fit.coefficient, Ratio)
    # equal relative errors: u(exponent) = sqrt(u_f^2 + u_Re^2)/sqrt(S_xx) with unit slope
    S_xx = np.sum((np.log(re) - np.log(re).mean()) ** 2)
    assert fit.exponent.u == pytest.approx(math.hypot(0.01, 0.02) / math.sqrt(S_xx), rel=1e-9)
    assert agreement(fit.exponent, Ratio(-1, "1")).satisfied


def test_errors_of_f_alone_against_polyfit() -> None:
    re = np.array([5e3, 1e4, 2e4, 4e4])
    f = 0.3164 * re**-0.25 * np.array([1.01, 0.99, 1.005, 1.0])
    relative = np.array([0.01, 0.008, 0.012, 0.01])
    fit = fit_power_law(ReynoldsNumber(re, "1"), FrictionFactor(f, "1", standard(relative * f)))
    (b, a), C = np.polyfit(np.log(re), np.log(f), 1, w=1 / relative, cov="unscaled")
    assert fit.exponent.value == pytest.approx(b, rel=1e-10)
    assert fit.exponent.u == pytest.approx(math.sqrt(C[0, 0]), rel=1e-9)
    assert fit.coefficient.value == pytest.approx(math.exp(a), rel=1e-9)
    np.testing.assert_allclose(
        fit.covariance,
        [[C[1, 1] * math.exp(2 * a), C[0, 1] * math.exp(a)], [C[0, 1] * math.exp(a), C[0, 0]]],
        rtol=1e-8,
    )
    np.testing.assert_allclose(fit.residuals, np.log(f) - a - b * np.log(re), atol=1e-12)
    # the prediction, where coefficient and exponent nearly cancel
    at = np.log(np.array([7e3, 3e4]))
    found = fit.predict(ReynoldsNumber([7e3, 3e4], "1"))
    assert isinstance(found, FrictionFactor)
    np.testing.assert_allclose(found.value, np.exp(a + b * at), rtol=1e-10)
    np.testing.assert_allclose(
        found.u / found.value, np.sqrt(C[1, 1] + 2 * at * C[0, 1] + at**2 * C[0, 0]), rtol=1e-8
    )


def test_shared_relative_error_of_f_leaves_the_exponent_alone() -> None:
    re = ReynoldsNumber([500, 900, 1700], "1")
    f = FrictionFactor([0.128, 0.0711, 0.0376], "1", standard([0.002, 0.001, 0.0006]))
    common = f * Ratio(1, "1", standard(0.05))
    alone, shifted = fit_power_law(re, f), fit_power_law(re, common)  # type: ignore[arg-type]
    assert shifted.exponent.u == pytest.approx(alone.exponent.u, rel=1e-9)
    relative = [fit.coefficient.u / fit.coefficient.value for fit in (alone, shifted)]
    assert relative[1] == pytest.approx(math.hypot(relative[0], 0.05), rel=1e-9)


def test_exponent_correlates_with_the_data_behind_it() -> None:
    re, f = bench()
    fit = fit_power_law(re, f)
    again = fit_power_law(re, f)
    assert (fit.exponent - again.exponent).u < 1e-12
    at = fit.predict(re[1:2])
    # the law at a run agrees with the run far better than their separate u suggest
    assert (at - f[1:2]).u[0] < 0.9 * math.hypot(at.u[0], f.u[1])


def test_two_runs_are_allowed_but_judged_by_nothing() -> None:
    re, f = bench()
    fit = fit_power_law(re[:2], f[:2])
    exponent = np.log(f.value[1] / f.value[0]) / np.log(re.value[1] / re.value[0])
    assert fit.exponent.value == pytest.approx(exponent)
    assert fit.dof == 0
    assert math.isnan(fit.p_value)
    assert "no chi-square" in str(fit)


@pytest.mark.parametrize(
    ("relative", "words"),
    [
        (0.002, "an uncertainty is underestimated, or they do not follow one power law"),
        (0.02, "the scatter fits the stated uncertainties"),
        (0.2, "they are overestimated, or errors stated for each reading are in fact shared"),
    ],
)
def test_sentence_gives_advice(relative: float, words: str) -> None:
    re = np.array([500.0, 900.0, 1700.0, 2100.0])
    f = 64 / re * np.array([1.02, 0.98, 1.015, 0.99])
    fit = fit_power_law(ReynoldsNumber(re, "1"), FrictionFactor(f, "1", standard(relative * f)))
    assert words in fit.sentence
    assert max(map(len, str(fit).splitlines())) <= 100


def test_scatter_of_the_runs_as_uncertainty() -> None:
    re = np.array([5e3, 1e4, 2e4, 4e4])
    f = 0.3164 * re**-0.25 * np.array([1.01, 0.99, 1.005, 1.0])
    fit = fit_power_law(ReynoldsNumber(re, "1"), FrictionFactor(f, "1"), scatter=True)
    (b, _), C = np.polyfit(np.log(re), np.log(f), 1, cov=True)  # scaled by the residuals
    assert fit.exponent.value == pytest.approx(b)
    assert fit.exponent.u == pytest.approx(math.sqrt(C[0, 0]), rel=1e-9)
    assert fit.exponent.dof == pytest.approx(2)
    assert math.isnan(fit.chi_square)


def test_order_of_the_runs_does_not_matter() -> None:
    re, f = bench()
    one, other = fit_power_law(re, f), fit_power_law(re[[2, 0, 3, 1]], f[[2, 0, 3, 1]])
    assert one.exponent.value == pytest.approx(other.exponent.value, rel=1e-10)
    assert (one.exponent - other.exponent).u < 1e-9 * one.exponent.u


RE = ReynoldsNumber([500, 900, 1700], "1", standard(5))
F = FrictionFactor([0.13, 0.07, 0.04], "1", standard(0.002))


@pytest.mark.parametrize(
    ("reynolds", "friction", "error", "message"),
    [
        (F, F, DimensionError, r"reynolds=...\): got FrictionFactor"),
        (RE, RE, DimensionError, r"friction=...\): got ReynoldsNumber"),
        (RE[0], F[0], ShapeError, "a single value"),
        (RE[:2], F, ShapeError, "2 readings of x and 3 of y"),
        (RE[:1], F[:1], RangeError, "1 point"),
        (
            RE,
            FrictionFactor([0.1, -0.01, 0.1], "1"),
            RangeError,
            r"friction=...\): -0.01.* at reading 1.*above 0",
        ),
        (ReynoldsNumber([0, 1, 2], "1"), F, RangeError, "at reading 0"),
        (ReynoldsNumber([5, 5, 5], "1"), F, RangeError, "all 3 points at x"),
        (
            ReynoldsNumber([500, 900, 1700], "1"),
            FrictionFactor([0.13, 0.07, 0.04], "1", shared(standard(0.002))),
            PropagationError,
            "no independent information",
        ),
    ],
)
def test_unusable_runs(
    reynolds: ReynoldsNumber, friction: FrictionFactor, error: type[Exception], message: str
) -> None:
    with pytest.raises(error, match=message):
        fit_power_law(reynolds, friction)


def test_prediction_is_for_reynolds_numbers_above_zero() -> None:
    fit = fit_power_law(RE, F)
    with pytest.raises(DimensionError, match="ReynoldsNumber"):
        fit.predict(F)  # type: ignore[arg-type]  # that is what is tested
    with pytest.raises(RangeError, match="above 0"):
        fit.predict(ReynoldsNumber(0, "1"))


def test_text_table_and_html() -> None:
    fit: PowerLawFit = fit_power_law(RE, F)
    text = str(fit)
    assert str(fit.exponent) in text
    assert "f at Re 914.6" in text  # geometric mean of 500, 900, 1700
    table = fit.table()
    np.testing.assert_allclose(table["fitted"], np.asarray(fit.predict(RE).value), rtol=1e-10)
    assert list(table["Reynolds number"]) == [500, 900, 1700]
    assert "<ul>" in fit._repr_html_()
