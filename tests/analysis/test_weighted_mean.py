"""Weighted means against numpy, scipy, the uncertainties package and a published puzzle."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest
import uncertainties
from scipy import stats
from scipy.optimize import curve_fit

from flowunc import (
    DimensionError,
    FrictionFactor,
    Length,
    Pressure,
    PropagationError,
    Quantity,
    Ratio,
    ReynoldsNumber,
    ShapeError,
    Temperature,
    VolumeFlowRate,
    percent_of_reading,
    shared,
    standard,
)
from flowunc.analysis.weighted_mean import weighted_mean

VALUES = np.array([10.3, 9.8, 10.9, 10.1, 10.6])
U = np.array([0.3, 0.2, 0.5, 0.25, 0.4])


def constant_model(x: np.ndarray, m: float) -> np.ndarray:
    return np.full(len(x), m)


def shared_estimates(common: float = 0.35) -> Length:
    return Length(VALUES, "mm", standard(U), shared(standard(common)))


def test_independent_estimates_against_polyfit() -> None:
    found = weighted_mean(Length(VALUES, "mm", standard(U)))
    # numpy's weighted polynomial of degree 0; its "scaled" covariance is that times chi^2/dof
    (mean,), unscaled = np.polyfit(np.zeros(5), VALUES, 0, w=1 / U, cov="unscaled")
    _, scaled = np.polyfit(np.zeros(5), VALUES, 0, w=1 / U, cov=True)
    assert found.mean.unit == "mm"
    assert found.mean.value == pytest.approx(mean, rel=1e-12)
    assert found.mean.u == found.u == pytest.approx(math.sqrt(unscaled[0, 0]), rel=1e-10)
    assert found.birge_ratio * found.u == pytest.approx(math.sqrt(scaled[0, 0]), rel=1e-10)


def test_shared_error_counts_once() -> None:
    # scipy's curve_fit with a full covariance matrix as sigma is generalised least squares
    covariance = np.diag(U**2) + 0.35**2
    arguments = (constant_model, np.zeros(5), VALUES, [10.0], covariance)
    (mean,), absolute = curve_fit(*arguments, absolute_sigma=True, ftol=1e-14, xtol=1e-14)
    found = weighted_mean(shared_estimates())
    assert found.mean.value == pytest.approx(mean, rel=1e-7)
    assert found.u == pytest.approx(math.sqrt(absolute[0, 0]), rel=1e-7)
    # a shared error of one size leaves the weights alone and adds to the variance once
    apart = weighted_mean(Length(VALUES, "mm", standard(U)))
    assert found.weights == pytest.approx(apart.weights, rel=1e-9)
    assert found.u == pytest.approx(math.hypot(apart.u, 0.35), rel=1e-10)
    assert found.chi_square == pytest.approx(apart.chi_square, rel=1e-9)
    assert found.u > 1.5 * math.sqrt(1 / np.sum(1 / (U**2 + 0.35**2))), "as if independent"


def test_any_covariance_against_the_formula_in_numpy_and_the_uncertainties_package() -> None:
    rng = np.random.default_rng(3)
    roots = rng.normal(size=(4, 3))
    parts = [Pressure(0.0, "Pa", standard(1.0)) for _ in range(3)]
    values = np.array([101.0, 98.5, 100.4, 99.6])
    estimates = [
        Pressure(value, "Pa", standard(0.5))
        + sum((gain * part for gain, part in zip(row, parts, strict=True)), Pressure(0, "Pa"))
        for value, row in zip(values, roots, strict=True)
    ]
    found = weighted_mean(estimates)
    # the covariance matrix as the uncertainties package finds it from numbers of its own
    numbers = [uncertainties.ufloat(0, 1) for _ in range(3)]
    own = [
        uncertainties.ufloat(value, 0.5) + sum(g * n for g, n in zip(row, numbers, strict=True))
        for value, row in zip(values, roots, strict=True)
    ]
    V = np.array(uncertainties.covariance_matrix(own))
    inverse, one = np.linalg.inv(V), np.ones(4)
    weights = inverse @ one / (one @ inverse @ one)  # generalised least squares
    assert found.weights == pytest.approx(weights, rel=1e-9)
    mean = sum(w * x for w, x in zip(weights, own, strict=True))
    assert found.mean.value == pytest.approx(mean.nominal_value, rel=1e-12)
    assert found.u == pytest.approx(mean.std_dev, rel=1e-9)
    residuals = values - mean.nominal_value
    assert found.chi_square == pytest.approx(residuals @ inverse @ residuals, rel=1e-9)
    assert found.p_value == pytest.approx(stats.chi2.sf(found.chi_square, 3), rel=1e-9)
    for number, x in enumerate(own):
        deviation = x - mean
        assert found.residual_u[number] == pytest.approx(deviation.std_dev, rel=1e-8)
        expected = deviation.nominal_value / (2 * deviation.std_dev)
        assert found.normalised_error[number] == pytest.approx(expected, rel=1e-8)


def test_peelles_puzzle_is_solved_as_printed_and_remarked_on() -> None:
    # [Peelle 1987] (from memory): 1.5 and 1.0, each with 10 % of its own and 20 % in common, give
    # 0.88 +- 0.22 by least squares, below both.
    scale = Ratio(1.0, "1", standard(0.2))
    one = (Ratio(1.5, "1", standard(0.15)) * scale).labelled("one")
    other = (Ratio(1.0, "1", standard(0.10)) * scale).labelled("other")
    found = weighted_mean([one, other])
    assert found.mean.value == pytest.approx(0.88, abs=0.005)
    assert found.u == pytest.approx(0.22, abs=0.005)
    assert found.weights[0] < 0 < found.weights[1]
    assert "negative weight for one (-0.24)" in found.sentence
    assert "the mean lies outside of all estimates" in found.sentence
    calm = weighted_mean(Length(VALUES, "mm", standard(U))).sentence
    assert "negative" not in calm
    assert "outside" not in calm


def test_the_mean_is_recorded() -> None:
    estimates = shared_estimates()
    found = weighted_mean(estimates)
    again = (found.weights * estimates).sum()
    assert (found.mean - again).u == pytest.approx(0.0, abs=1e-15)
    # cov(x_i, m) = u^2(m) for every estimate, as m is the best [Rao 1973, 4a]
    assert estimates.covariance(found.mean)[:, 0] == pytest.approx([found.u**2] * 5, rel=1e-9)
    copy = pickle.loads(pickle.dumps(found))
    assert (copy.mean - found.mean).u == pytest.approx(0.0, abs=1e-15)


def test_inconsistent_estimates_are_called_so_and_u_stays() -> None:
    # two of [Birge 1932]'s kind: chi^2 = d^2/(u1^2 + u2^2), here 25/2, with one degree of freedom
    found = weighted_mean(
        [
            VolumeFlowRate(10.0, "L/min", standard(0.1), label="small meter"),
            VolumeFlowRate(10.5, "L/min", standard(0.1), label="large meter"),
        ]
    )
    assert found.chi_square == pytest.approx(12.5, rel=1e-9)
    assert found.birge_ratio == pytest.approx(math.sqrt(12.5), rel=1e-9)
    assert found.p_value == pytest.approx(stats.chi2.sf(12.5, 1), rel=1e-9)
    assert not found.consistent
    assert found.mean.u == pytest.approx(0.1 / math.sqrt(2), rel=1e-9), "never enlarged silently"
    assert found.enlarged_u == pytest.approx(0.25, rel=1e-9)
    assert "do not agree" in found.sentence
    assert "0.25 L/min in place of 0.071" in found.sentence


@pytest.mark.parametrize(("apart", "consistent"), [(1.9, True), (2.0, False)])
def test_the_limit_is_five_percent(apart: float, consistent: bool) -> None:
    # a normal deviation of 1.96 standard uncertainties has p = 0.05
    d = apart * math.sqrt(2)
    found = weighted_mean(Length([5.0, 5.0 + d], "mm", standard(1.0)))
    assert found.consistent is consistent
    assert math.isnan(found.enlarged_u) is consistent


def test_the_farthest_is_named() -> None:
    parts = [Length(x, "mm", standard(0.1), label=f"rule {x:g}") for x in (10, 10.1, 11)]
    assert "beginning with rule 11" in weighted_mean(parts).sentence


def test_an_estimate_given_twice_counts_once() -> None:
    a, b = Length(1.0, "m", standard(0.1)), Length(1.12, "m", standard(0.1))
    found, plain = weighted_mean([a, b, a]), weighted_mean([a, b])
    assert (found.mean - plain.mean).u == pytest.approx(0.0, abs=1e-12)
    assert found.mean.value == pytest.approx(plain.mean.value, rel=1e-12)
    assert (found.chi_square, found.dof) == pytest.approx((plain.chi_square, 1))
    assert "1 of the 3 estimates repeats what others say" in found.sentence
    alone = weighted_mean([a, a])
    assert (alone.mean.value, alone.u, alone.dof) == pytest.approx((1.0, 0.1, 0))
    assert math.isnan(alone.birge_ratio)
    assert alone.consistent
    assert "one and the same" in alone.sentence


def test_singular_covariances_are_refused_with_the_reason() -> None:
    with pytest.raises(PropagationError, match=r"only 1 independent error.* make them differ"):
        weighted_mean(Length([1.0, 2.0], "m", shared(standard(0.1))))
    with pytest.raises(PropagationError, match=r"fewer independent errors \(1\).*unequal size"):
        weighted_mean(Length([1.5, 1.0], "m", shared(percent_of_reading(3))))
    with pytest.raises(PropagationError, match="estimate b has no uncertainty"):
        weighted_mean([Length(1, "m", standard(0.1), label="a"), Length(1, "m", label="b")])


def test_wholly_shared_errors_of_equal_estimates_are_one_estimate() -> None:
    found = weighted_mean(Length([2.0, 2.0, 2.0], "m", shared(standard(0.1))))
    assert (found.mean.value, found.u, found.dof) == pytest.approx((2.0, 0.1, 0))


def test_temperatures_keep_their_zero_point() -> None:
    # 20 degC and 68.9 degF = 20.5 degC; weights 0.8 and 0.2 for u in the ratio 1 to 2 [C]
    found = weighted_mean(
        [Temperature(20.0, "degC", standard(0.1)), Temperature(68.9, "degF", standard(0.36))]
    )
    assert found.weights == pytest.approx([0.8, 0.2], rel=1e-9)
    assert type(found.mean) is Temperature
    assert (found.mean.value, found.mean.unit) == (pytest.approx(20.1, abs=1e-9), "degC")
    assert found.residuals == pytest.approx([-0.1, 0.4], abs=1e-9)


def test_kind_and_unit_stay() -> None:
    found = weighted_mean(ReynoldsNumber([2000, 2100], "1", standard(60)))
    assert type(found.mean) is ReynoldsNumber
    mixed = weighted_mean(
        [VolumeFlowRate(6.0, "L/min", standard(0.1)), VolumeFlowRate(1e-4, "m^3/s", standard(1e-6))]
    )
    assert (mixed.mean.unit, mixed.mean.value) == ("L/min", pytest.approx(6.0, rel=1e-12))


@pytest.mark.parametrize("factor", [1e-30, 1.0, 1e30])
def test_weights_do_not_depend_on_the_unit(factor: float) -> None:
    scaled = Quantity(VALUES * factor, "kg*m^2/s^3", standard(U * factor))
    plain = weighted_mean(Length(VALUES, "mm", standard(U)))
    found = weighted_mean(scaled)
    assert found.weights == pytest.approx(plain.weights, rel=1e-10)
    assert found.chi_square == pytest.approx(plain.chi_square, rel=1e-9)


def test_long_names_and_lists_are_cut_in_the_text() -> None:
    many = Length(np.linspace(9.9, 10.1, 50), "mm", standard(0.1))
    text = str(weighted_mean(many))
    assert "and 10 more: see .table()" in text
    assert max(map(len, text.splitlines())) <= 100
    table = weighted_mean(many).table()
    assert len(table) == 50
    assert table.weight.sum() == pytest.approx(1.0)
    assert "<table" in weighted_mean(many)._repr_html_()


@pytest.mark.parametrize(
    ("given", "error", "text"),
    [
        ([Length(1, "m", standard(0.1))], ShapeError, "got 1 estimates in a list"),
        (Length(1, "m", standard(0.1)), ShapeError, "got one estimate"),
        ([Length([1, 2], "m", standard(0.1))] * 2, ShapeError, "estimate 1 has 2 readings"),
        ([1.0, 2.0], DimensionError, "estimate 1 is float 1.0"),
        ("ab", DimensionError, "expected quantities"),
        (
            [Length(1, "m", standard(0.1)), Pressure(1, "Pa", standard(0.1))],
            DimensionError,
            "estimate 2 Pressure in 'Pa'",
        ),
        (
            [ReynoldsNumber(1, "1", standard(0.1)), FrictionFactor(1, "1", standard(0.1))],
            DimensionError,
            "estimate 2 FrictionFactor",
        ),
    ],
)
def test_what_cannot_be_averaged_is_refused(
    given: object, error: type[Exception], text: str
) -> None:
    with pytest.raises(error, match=text):
        weighted_mean(given)  # type: ignore[arg-type]
