"""Explanations by one error in common: closed forms, NumPy least squares, simulated benches."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from flowunc.analysis.agreement import agreement
from flowunc.analysis.common_bias import CommonBias, Explanation, common_bias
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.errors import DimensionError, PropagationError
from flowunc.core.kinds import FrictionFactor, Length, Pressure, Ratio, ReynoldsNumber, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.statements import (
    arcsine,
    exponential,
    limits,
    shared,
    standard,
    triangular,
)
from flowunc.core.units import parse_unit


def by_label(found: CommonBias) -> dict[str, Explanation]:
    return {each.label: each for each in found.explanations}


def lengths(values: list[float], own: float, *common: Quantity) -> Quantity:
    d: Quantity = Length(values, "mm", standard(own), label="reading")
    for each in common:
        d = d + each
    return d


def test_mean_of_equal_readings() -> None:
    # s the same for all, V_0 = u^2 I: the offset is minus the mean, its u is u/sqrt n [C]
    zero = Length(0.0, "mm", standard(0.1), label="zero")
    found = common_bias(lengths([0.9, 1.1, 1.3, 1.1], 0.2, zero))
    (only,) = found.explanations
    assert only.label == "zero"
    assert only.offset.unit == "mm"
    assert only.offset.value == pytest.approx(-1.1, rel=1e-12)
    assert only.offset.u == pytest.approx(0.2 / 2, rel=1e-12)
    # what is left scatters about the mean: sum (d - mean)^2/u^2 on n - 1 = 3
    assert only.after.value == pytest.approx((0.04 + 0.04) / 0.04, rel=1e-9)
    assert only.after.dof == 3
    # Sherman-Morrison: chi^2 before, with V = u^2 I + s^2 1 1^T
    d = np.array([0.9, 1.1, 1.3, 1.1])
    before = (np.sum(d**2) - 0.01 * np.sum(d) ** 2 / (0.04 + 4 * 0.01)) / 0.04
    assert found.before.value == pytest.approx(before, rel=1e-9)
    assert found.before.p_value == pytest.approx(stats.chi2.sf(before, 4), rel=1e-9)
    # normal: 1.1 against 2 sqrt(0.1^2 + 0.1^2)
    assert only.ratio == pytest.approx(1.1 / (2 * math.hypot(0.1, 0.1)), rel=1e-9)
    assert not only.plausible
    assert "zero smaller by 1.10 ± 0.10 mm; stated were u = 0.1 mm: not plausible" in found.sentence


def test_generalised_least_squares_with_one_unknown() -> None:
    rng = np.random.default_rng(12)
    n, own = 6, np.array([0.2, 0.3, 0.1, 0.2, 0.4, 0.2])
    gains = rng.normal(size=(3, n))
    sizes = (0.5, 1.5, 0.7)
    d: Quantity = Ratio(rng.normal(size=n) + 2 * gains[1], "1", standard(own))
    for name, gain, u in zip("abc", gains, sizes, strict=True):
        d = d + gain * Ratio(0.0, "1", standard(u), label=name)
    found = by_label(common_bias(d))
    values = np.asarray(d.value)
    for i, name in enumerate("abc"):
        others = np.delete(gains * np.array(sizes)[:, np.newaxis], i, axis=0)
        W = np.linalg.inv(np.diag(own**2) + others.T @ others)
        g = gains[i]
        offset = -(g @ W @ values) / (g @ W @ g)
        left = values + g * offset
        assert found[name].offset.value == pytest.approx(offset, rel=1e-9)
        assert found[name].offset.u == pytest.approx((g @ W @ g) ** -0.5, rel=1e-9)
        assert found[name].after.value == pytest.approx(left @ W @ left, rel=1e-8)
        assert found[name].after.dof == n - 1


# An invented bench: f D-dependence and Re-dependence of laminar runs; errors by hand in NumPy.
DIAMETER, RUNS = 20.0, 6
U_DP = np.array([0.012, 0.010, 0.008, 0.005, 0.005, 0.005])
U_D, U_Q, U_MU = 0.025, 0.0025, 0.00125  # mm; relative


def bench(factors: np.ndarray) -> CommonBias:
    """Hold f Re/64 of runs against 1, with bore, flow and viscosity behind them."""
    bore = Length(DIAMETER, "mm", standard(U_D), label="bore")
    flow = Ratio(1, "1", standard(U_Q), label="flow meter calibration")
    viscosity = Ratio(1, "1", standard(U_MU), label="viscosity")
    drop = Ratio(np.ones(RUNS), "1", standard(U_DP), label="pressure drop")
    # f Re = (pi D^4/2) dp/(mu Q L): Hagen-Poiseuille [White 2003, ch. 6]
    ratio = factors * drop * (bore / Length(DIAMETER, "mm")) ** 4 / (flow * viscosity)
    return common_bias(agreement(ratio, Ratio(1, "1")))


def test_true_bias_of_the_bore_is_found_at_the_stated_rate() -> None:
    # 300 benches with a bore that is 0.15 mm smaller than taken: D^4 of the taken bore is larger
    # by 3.06 %. All other errors drawn as stated.
    rng = np.random.default_rng(77)
    trials, true = 300, -0.15
    covered = left = 0
    for _ in range(trials):
        own = U_DP * rng.normal(size=RUNS)
        common = U_Q * rng.normal() + U_MU * rng.normal()
        taken_over_true = (DIAMETER / (DIAMETER + true)) ** 4
        found = by_label(bench(taken_over_true * (1 + own) / (1 + common)))["bore"]
        covered += abs(float(found.offset.value) - true) <= 1.96 * float(found.offset.u)
        left += found.after.p_value < 0.05
        assert not found.plausible
    assert abs(covered / trials - 0.95) < 3 * math.sqrt(0.95 * 0.05 / trials)
    assert abs(left / trials - 0.05) < 3 * math.sqrt(0.95 * 0.05 / trials)


def by_least_squares(factors: np.ndarray, unknown: str) -> tuple[float, float, float]:
    """Return the unknown, its u and what is left, by scipy with every error a parameter.

    Of the errors e_i of the pressure drops each reading has one, so the model gives it: with
    g = (1 + flow)(1 + viscosity)/(1 + bore/D)^4, the reading is 1 if factor (1 + u_i e_i) = g.
    """
    sizes = {"bore": U_D, "flow meter calibration": U_Q, "viscosity": U_MU}
    names = list(sizes)
    free = names.index(unknown)

    def errors(parameters: np.ndarray) -> np.ndarray:
        bore, flow, viscosity = parameters * np.array(list(sizes.values()))
        g = (1 + flow) * (1 + viscosity) / (1 + bore / DIAMETER) ** 4
        own = (g / factors - 1) / U_DP
        return np.concatenate([own, np.delete(parameters, free)])  # the unknown is not held back

    fitted = optimize.least_squares(errors, np.zeros(3), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    u = np.sqrt(np.linalg.inv(fitted.jac.T @ fitted.jac)[free, free])
    size = sizes[unknown]
    return fitted.x[free] * size, u * size, 2 * fitted.cost


@pytest.mark.parametrize("unknown", ["bore", "flow meter calibration", "viscosity"])
@pytest.mark.parametrize("disagreement", [0.7, 0.85, 1.03, 1.15, 1.4])
def test_offset_is_that_of_nonlinear_least_squares(disagreement: float, unknown: str) -> None:
    rng = np.random.default_rng(7)
    factors = disagreement * (1 + U_DP * rng.normal(size=RUNS))
    found = by_label(bench(factors))[unknown]
    offset, u, left = by_least_squares(factors, unknown)
    # What is linear here are the other errors, of 1 % at most: their squares are 1e-4 of the
    # result. Linearised at the stated bore, the offset is off by 1 % at 3 % and by 15 % at -30 % of
    # f, that of a meter by 3 and 43 %, and what is left by 5 and 105 %.
    assert found.offset.value == pytest.approx(offset, abs=0.05 * u, rel=2e-4)
    assert found.offset.u == pytest.approx(u, rel=0.02)
    assert found.after.value == pytest.approx(left, rel=0.05)
    stated = {"bore": U_D, "flow meter calibration": U_Q, "viscosity": U_MU}[unknown]
    assert found.multiple == pytest.approx(abs(offset) / stated, rel=0.01)


def test_an_offset_without_a_value_there_is_that_of_the_first_step() -> None:
    # 1/(length + 1) of -1.5: the first step goes to where the logarithm ends
    length = Ratio(1.0, "1", standard(0.1), label="length")
    own = Ratio(np.ones(3), "1", standard(0.001))
    found = common_bias(own * np.log(length) - 3.0).explanations[0]
    # d = -3, s = 0.1: z = 30 to first order, length 4; exp(3) = 20.1 is where d is 0
    assert found.offset.value == pytest.approx(math.exp(3) - 1, rel=1e-3)
    down = common_bias(own * np.log(length) + 3.0).explanations[0]
    # the first step leads to 1 - 3 = -2, of which there is no logarithm: it stands
    assert down.offset.value == pytest.approx(-3.0, rel=1e-3)


def test_no_disagreement() -> None:
    found = bench(1 + 0.5 * U_DP)
    assert not found.disagree
    assert found.sentence.startswith("no disagreement to explain: chi-square")


def test_errors_that_act_alike_cannot_be_told_apart() -> None:
    found = bench(np.full(RUNS, 1.15))
    alike = by_label(found)
    assert alike["viscosity"].after.value == pytest.approx(alike["bore"].after.value, abs=1e-6)
    # the least unlikely first: each needs 13 % of f Re; stated are 0.5, 0.25 and 0.125 % of it
    order = [each.label for each in found.explanations]
    assert order == ["bore", "flow meter calibration", "viscosity"]
    assert "so would, as little plausible, flow meter calibration, viscosity" in found.sentence


def test_what_only_some_readings_share_explains_only_those() -> None:
    # two meters, the second one wrong: the bore fits worse
    first = Ratio(1, "1", standard(0.01), label="first meter")
    second = Ratio(1, "1", standard(0.01), label="second meter")
    bore = Ratio(1, "1", standard(0.01), label="bore")
    own = Ratio(np.ones(6), "1", standard(0.002))
    d = own * bore * concatenate([first] * 3 + [second] * 3)
    values = np.array([1.0, 1.001, 0.999, 1.10, 1.101, 1.099])
    found = common_bias(d * values - 1)
    assert found.explanations[0].label == "second meter"
    assert found.explanations[0].removes
    assert not by_label(found)["bore"].removes
    assert by_label(found)["second meter"].offset.value == pytest.approx(-0.1 / 1.1, abs=0.005)


def test_nothing_single_explains_two_faults() -> None:
    first = Ratio(0, "1", standard(0.01), label="first meter")
    second = Ratio(0, "1", standard(0.01), label="second meter")
    own = Ratio([0.1, 0.1, 0.1, -0.1, -0.1, -0.1], "1", standard(0.01))
    found = common_bias(own + concatenate([first] * 3 + [second] * 3))
    assert "no single component removes it" in found.sentence


def test_zero_of_a_set_is_taken_by_itself() -> None:
    zeros = Length([0.0, 0.0], "mm", standard(0.2), label="zero")
    d = Length([0.0, 0.1, 1.0, 1.1], "mm", standard(0.1), label="reading")
    found = common_bias(d - concatenate([zeros[0], zeros[0], zeros[1], zeros[1]]))
    best = found.explanations[0]
    assert best.label == "zero, reading 1"
    # d - zero: the zero would have to be larger by the mean of the second set
    assert best.offset.value == pytest.approx(1.05, rel=1e-9)
    assert best.offset.u == pytest.approx(0.1 / math.sqrt(2), rel=1e-9)
    assert found.left_out == ("reading (an error of single readings)",)
    assert "left out: reading" in str(found)


@pytest.mark.parametrize(
    ("statement", "allowed", "stated"),
    [
        # limits within half-width + 2 u(offset); u(offset) = 0.1
        (limits(0.3), 0.3 + 0.2, "±0.3 mm"),
        (triangular(0.3), 0.3 + 0.2, "±0.3 mm"),
        (arcsine(0.3), 0.3 + 0.2, "±0.3 mm"),
        (limits(0.3, inexact=0.1), 0.4 + 0.2, "±0.3 mm"),
        (standard(0.3), 2 * math.hypot(0.3, 0.1), "u = 0.3 mm"),
        # Student's t: quantile for the probability of +-2 standard deviations, 95.45 %
        (
            standard(0.3, dof=3),
            math.hypot(0.3 * stats.t.ppf(stats.norm.cdf(2), 3), 0.2),
            "u = 0.3 mm",
        ),
        # exponential of mean 0.3, less that mean: its upper quantile
        (
            exponential(0.3),
            math.hypot(stats.expon.ppf(stats.norm.cdf(2), scale=0.3) - 0.3, 0.2),
            "u = 0.3 mm",
        ),
    ],
)
def test_what_is_plausible_against_a_statement(
    statement: object, allowed: float, stated: str
) -> None:
    zero = Length(0.0, "mm", statement, label="zero")  # type: ignore[arg-type]  # object: any case of the table
    for size, plausible in ((0.999, True), (1.001, False)):
        found = common_bias(lengths([-size * allowed] * 4, 0.2, zero)).explanations[0]
        assert found.offset.value == pytest.approx(size * allowed, rel=1e-9)
        assert found.plausible is plausible
        assert found.ratio == pytest.approx(size, rel=1e-9)
        assert found.stated == stated


def test_one_sided_error_on_its_short_side() -> None:
    # an exponential error of mean m cannot lie below -m; at k = 2 it may be down to -0.977 m
    zero = Length(0.0, "mm", exponential(0.3), label="zero")
    found = common_bias(lengths([1.0] * 4, 0.2, zero)).explanations[0]
    low = stats.expon.ppf(stats.norm.cdf(-2), scale=0.3) - 0.3
    assert found.ratio == pytest.approx(1.0 / math.hypot(low, 0.2), rel=1e-9)


def test_offset_is_recorded_without_the_error_of_its_own() -> None:
    zero = Length(0.0, "mm", standard(0.1), label="zero")
    other = Length(0.0, "mm", standard(0.05), label="other")
    gain = np.array([1.0, -1.0, 1.0, -1.0])
    d = lengths([1.0, 1.1, 0.9, 1.0], 0.2, zero) + gain * other
    found = by_label(common_bias(d))["zero"]
    assert float(found.offset.covariance(zero)) == pytest.approx(0, abs=1e-15)
    # the mean of d + or - the other: that one cancels, the readings are left
    assert found.offset.u == pytest.approx(0.1, rel=1e-9)
    assert float((found.offset + d.mean() - zero).u) == pytest.approx(0, abs=1e-15)


def test_units_of_a_component() -> None:
    t = Temperature(20.0, "degC", limits(0.5), label="thermometer")
    warm = (t - Temperature(20.0, "degC")) / Quantity(1, "K")
    found = common_bias(Ratio([3.0, 3.0], "1", standard(0.1)) + warm).explanations[0]
    assert found.offset.unit == "K"
    assert found.offset.value == pytest.approx(-3.0)
    assert found.stated == "±0.5 K"
    percent = Component("calibration", Normal(0.01), parse_unit("%"))
    meter = Ratio._from_terms(np.array(1.0), [Term(percent)], parse_unit("%"))
    found = common_bias(Ratio([1.05, 1.05], "1", standard(0.001)) * meter - 1).explanations[0]
    assert found.offset.unit == "%"
    assert found.offset.value == pytest.approx(-100 * 0.05 / 1.05, rel=1e-6)
    assert found.stated == "u = 1 %"


def test_one_reading_is_explained_by_anything() -> None:
    zero = Length(0.0, "mm", standard(0.1), label="zero")
    span = Length(0.0, "mm", standard(0.4), label="span")
    d = Length(1.0, "mm", standard(0.05), label="reading") + zero + span
    found = common_bias(d)
    # a single quantity: its own error is shared by all of its one reading
    assert {each.label for each in found.explanations} == {"reading", "zero", "span"}
    assert all(each.after.dof == 0 and each.removes for each in found.explanations)
    assert found.explanations[0].label == "span", "the one for which it takes least"
    assert by_label(found)["span"].offset.u == pytest.approx(math.hypot(0.05, 0.1), rel=1e-9)


def test_errors_all_in_common() -> None:
    zero = Length(0.0, "mm", standard(0.1), label="zero")
    span = Ratio(1.0, "1", standard(0.01), label="span")
    marks = Length([10.0, 20.0, 30.0], "mm")
    found = common_bias(marks * span + zero - Length([9.0, 18.0, 27.0], "mm"))
    assert found.before.dof == 2
    best = found.explanations[0]
    # d = 1, 2, 3 mm is a span larger by 10 %, to be taken off
    assert best.label == "span"
    assert best.offset.value == pytest.approx(-0.1, rel=1e-6)
    assert best.offset.u == pytest.approx(0, abs=1e-6)
    assert best.after.value == pytest.approx(0, abs=1e-6)
    crooked = common_bias(marks * span + zero - Length([9.0, 19.0, 27.0], "mm"))
    assert crooked.before.reason
    assert crooked.disagree
    assert "contradict the statements" in crooked.sentence
    assert not any(each.removes for each in crooked.explanations)


def test_components_estimated_together_are_left_out() -> None:
    pool = Pool(dof=4.0, label="repeats")
    unit = parse_unit("m")
    errors = [Component(f"part {i}", Normal(1e-4), unit, pool=pool, dof=4.0) for i in range(2)]
    zero = Length._from_terms(np.array(0.0), [Term(each) for each in errors], unit)
    found = common_bias(lengths([1.0, 1.0], 0.1, zero))
    assert found.explanations == ()
    assert found.left_out[-1] == "repeats (errors estimated together from one sample)"
    assert "no component is shared" in found.sentence
    # their error counts all the same
    alone = common_bias(lengths([1.0, 1.0], 0.1))
    assert found.before.value < alone.before.value


def test_reading_without_uncertainty() -> None:
    with pytest.raises(PropagationError, match="at reading 1 has no uncertainty at all"):
        common_bias(Length([1.0, 2.0], "mm", standard([0.1, 0.0])))
    kept = common_bias(Length([1.0, 0.0], "mm", standard([0.1, 0.0])))
    assert kept.before.dof == 1


def test_refusals() -> None:
    with pytest.raises(DimensionError, match="agreement or a quantity"):
        common_bias(3.0)  # type: ignore[arg-type]  # that is what is tested
    with pytest.raises(DimensionError, match="difference"):
        common_bias(Temperature([20, 21], "degC", shared(limits(0.1))))


def test_agreement_with_a_law_of_its_own_error() -> None:
    # what the law leaves open is a component like any other
    from flowunc.pipe import laws

    re = ReynoldsNumber([1e4, 3e4, 9e4], "1")
    exact = np.asarray(laws.blasius(re).value)
    f = FrictionFactor(1.02 * exact, "1", standard(0.001 * exact), label="f")
    found = common_bias(agreement(f, laws.blasius(re)))
    (law,) = found.explanations
    assert law.label == "Blasius law"
    assert law.offset.unit == "%"
    assert law.offset.value == pytest.approx(2.0, rel=1e-6)
    assert law.plausible
    assert law.stated == "±3.5 %"


def test_text_and_table() -> None:
    found = bench(np.full(RUNS, 1.15))
    assert max(map(len, str(found).splitlines())) <= 100
    assert list(found.table()["component"]) == [each.label for each in found.explanations]
    assert "<table" in found._repr_html_()
    long = Length(
        0.0, "mm", standard(0.1), label="a name that is far too long for any column, tail"
    )
    many = common_bias(lengths([1.0, 1.0], 0.1, long))
    assert "tail" in str(many).splitlines()[-2]
    assert max(map(len, str(many).splitlines())) <= 100
    pressure = common_bias(Pressure([1.0, 1.0], "Pa", shared(limits(0.1))))
    assert pressure.explanations[0].offset.unit == "Pa"
