"""Laws with roughness against a table, the `fluids` package and root finding."""

from __future__ import annotations

import fluids.friction
import numpy as np
import pytest
from scipy.optimize import brentq

from flowunc import Length, RangeError, Ratio, ReynoldsNumber, limits, standard
from flowunc.pipe import laws

# Computed from the published equations by root finding and checked with the fluids package:
# Re, eps/D, [Colebrook 1939], [Haaland 1983], [Swamee-Jain 1976] with 5.74, [Churchill 1977].
TABLE = [
    (4000, 0, 0.0399070141, 0.04042285, 0.04055149, 0.04058973),
    (4000, 1e-05, 0.0399171669, 0.04042771, 0.04056315, 0.04060133),
    (4000, 0.0001, 0.0400084312, 0.04048536, 0.04066784, 0.04070552),
    (4000, 0.001, 0.0409103899, 0.04121615, 0.04169544, 0.04172803),
    (4000, 0.01, 0.0490822694, 0.04923577, 0.05061449, 0.05057835),
    (10000, 0, 0.0308829504, 0.03088620, 0.03097210, 0.03100213),
    (10000, 1e-05, 0.0308984231, 0.03089431, 0.03098984, 0.03101981),
    (10000, 0.0001, 0.0310372122, 0.03099034, 0.03114870, 0.03117816),
    (10000, 0.001, 0.0323818064, 0.03217489, 0.03266535, 0.03269020),
    (10000, 0.01, 0.0431265847, 0.04304490, 0.04404179, 0.04404362),
    (100000, 0, 0.0179897731, 0.01782494, 0.01786258, 0.01787482),
    (100000, 1e-05, 0.0180438029, 0.01786039, 0.01792403, 0.01793605),
    (100000, 0.0001, 0.0185138661, 0.01826505, 0.01845245, 0.01846262),
    (100000, 0.001, 0.0221745359, 0.02196621, 0.02234241, 0.02234324),
    (100000, 0.01, 0.0385035435, 0.03853851, 0.03875093, 0.03873356),
    (1000000, 0, 0.0116450410, 0.01158676, 0.01160648, 0.01161241),
    (1000000, 1e-05, 0.0118695448, 0.01176686, 0.01185316, 0.01185816),
    (1000000, 0.0001, 0.0134414377, 0.01332616, 0.01350770, 0.01350820),
    (1000000, 0.001, 0.0199434658, 0.01994120, 0.02002924, 0.02002196),
    (1000000, 0.01, 0.0379647419, 0.03803618, 0.03801188, 0.03799150),
    (10000000, 0, 0.0081026694, 0.00813076, 0.00814235, 0.00814556),
    (10000000, 1e-05, 0.0089957117, 0.00895798, 0.00905855, 0.00905889),
    (10000000, 0.0001, 0.0121660810, 0.01216595, 0.01221356, 0.01220974),
    (10000000, 0.001, 0.0196670524, 0.01970193, 0.01968617, 0.01967746),
    (10000000, 0.01, 0.0379098258, 0.03798529, 0.03791735, 0.03789659),
]
REYNOLDS = np.array([row[0] for row in TABLE], dtype=float)
ROUGHNESS = np.array([row[1] for row in TABLE], dtype=float)
EXPLICIT = [laws.haaland, laws.swamee_jain, laws.churchill_1977]
GRID = [
    (float(re), float(e))
    for re in np.geomspace(4e3, 9.99e7, 15)
    for e in (0.0, 1e-6, 1e-4, 3e-3, 0.05)
]
GRID_REYNOLDS, GRID_ROUGHNESS = np.array(GRID).T


def gap(x: float, re: float, e: float) -> float:
    """Colebrook-White in x = 1/sqrt f."""
    return x + 2.0 * np.log10(e / 3.7 + 2.51 * x / re)


@pytest.mark.parametrize(
    ("law", "column", "digits"),
    [
        (laws.colebrook_white, 2, 6e-11),
        (laws.haaland, 3, 6e-9),
        (laws.swamee_jain, 4, 6e-9),
        (laws.churchill_1977, 5, 6e-9),
    ],
)
def test_table(law: laws.FrictionLaw, column: int, digits: float) -> None:
    found = law(ReynoldsNumber(REYNOLDS, "1"), ROUGHNESS)
    np.testing.assert_allclose(found.value, [row[column] for row in TABLE], rtol=0, atol=digits)


def test_colebrook_is_the_root_of_its_equation() -> None:
    expected = [brentq(gap, 1.0, 30.0, args=at, xtol=1e-15, rtol=1e-15) ** -2 for at in GRID]
    found = laws.colebrook_white(ReynoldsNumber(GRID_REYNOLDS, "1"), GRID_ROUGHNESS)
    np.testing.assert_allclose(found.value, expected, rtol=1e-12)


@pytest.mark.parametrize(
    ("law", "independent", "tolerance"),
    [
        (laws.colebrook_white, fluids.friction.Colebrook, 1e-12),
        (laws.haaland, fluids.friction.Haaland, 1e-13),
        # that package has (6.97/Re)^0.9 for 5.74/Re^0.9
        (laws.swamee_jain, fluids.friction.Swamee_Jain_1976, 3e-6),
        (laws.churchill_1977, fluids.friction.Churchill_1977, 1e-12),
    ],
)
@pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")  # inside that package
def test_fluids_package(law: laws.FrictionLaw, independent: object, tolerance: float) -> None:
    expected = [independent(Re=re, eD=e) for re, e in GRID]
    found = law(ReynoldsNumber(GRID_REYNOLDS, "1"), GRID_ROUGHNESS)
    np.testing.assert_allclose(found.value, expected, rtol=tolerance)


@pytest.mark.parametrize(
    ("re", "expected"),
    [(1000, 0.0640000), (2000, 0.0320433), (2300, 0.0308401), (3000, 0.0429747)],
)
def test_churchill_in_laminar_and_transitional_flow(re: float, expected: float) -> None:
    # smooth pipe, computed and equal to the fluids package
    found = laws.churchill_1977(ReynoldsNumber(re, "1"), 0)
    assert found.value == pytest.approx(expected, abs=6e-8)


def test_churchill_down_to_creeping_flow() -> None:
    found = laws.churchill_1977(ReynoldsNumber([1.0, 7.0, 100.0], "1", standard(0.01)), 1e-3)
    # laminar: 64/Re, exact
    np.testing.assert_allclose(found.value, [64.0, 64 / 7, 0.64], rtol=1e-12)
    assert np.isfinite(found.u).all()


@pytest.mark.parametrize("roughness", [0.0, 1e-3, 0.05])
@pytest.mark.parametrize("re", [5e3, 2e5, 9e7])
def test_colebrook_derivatives_by_implicit_differentiation(re: float, roughness: float) -> None:
    # x(Re, e) solves F = x + 2 log10(e/3.7 + 2.51 x/Re) = 0, so dx/dp = -(dF/dp)/(dF/dx)
    x = brentq(gap, 1.0, 30.0, args=(re, roughness), xtol=1e-15, rtol=1e-15)
    inside = roughness / 3.7 + 2.51 * x / re
    factor = 2 / np.log(10) / inside
    to_x = 1 + factor * 2.51 / re
    by_re = factor * 2.51 * x / re**2 / to_x
    by_roughness = -factor / 3.7 / to_x
    reynolds = ReynoldsNumber(re, "1", standard(0.01 * re))
    relative = Ratio(roughness, "1", standard(1e-5))
    found = laws.colebrook_white(reynolds, relative)
    # f = x^-2
    assert found.covariance(reynolds) / reynolds.u**2 == pytest.approx(-2 * x**-3 * by_re, rel=1e-9)
    expected = -2 * x**-3 * by_roughness
    assert found.covariance(relative) / relative.u**2 == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("law", EXPLICIT)
def test_explicit_derivatives_by_differences_of_the_fluids_package(law: laws.FrictionLaw) -> None:
    independent = {
        "haaland": fluids.friction.Haaland,
        "swamee_jain": fluids.friction.Swamee_Jain_1976,
        "churchill_1977": fluids.friction.Churchill_1977,
    }[law.name]
    re, e, step = 6e4, 2e-3, 1e-4
    reynolds, relative = (
        ReynoldsNumber(re, "1", standard(600)),
        Ratio(e, "1", standard(1e-5)),
    )
    found = law(reynolds, relative)
    by_re = (independent(re * (1 + step), e) - independent(re * (1 - step), e)) / (2 * step * re)
    by_e = (independent(re, e * (1 + step)) - independent(re, e * (1 - step))) / (2 * step * e)
    assert found.covariance(reynolds) / reynolds.u**2 == pytest.approx(by_re, rel=2e-5)
    assert found.covariance(relative) / relative.u**2 == pytest.approx(by_e, rel=2e-5)


@pytest.mark.parametrize("law", [laws.colebrook_white, *EXPLICIT])
def test_both_engines(law: laws.FrictionLaw) -> None:
    roughness = Length(20, "um", limits(4)) / Length(20, "mm", limits(0.05))
    found = law(ReynoldsNumber([8e3, 5e4], "1", standard(200)), roughness)
    drawn = found.monte_carlo(40_000, seed=6)
    np.testing.assert_allclose(drawn.u, found.u, rtol=0.02)


def test_moody_limits() -> None:
    # [Moody 1944]: 5 % smooth, 10 % rough (from memory); e Re sqrt(f/8) is 0 and 100 or more
    found = laws.colebrook_white(ReynoldsNumber([1e4, 1e6], "1"), [0, 2e-3])
    np.testing.assert_allclose(found.u / found.value * np.sqrt(3), [0.05, 0.10], rtol=1e-12)
    # one error behind both
    assert found.correlation(found)[0, 1] == pytest.approx(1.0)


@pytest.mark.parametrize("law", [laws.colebrook_white, laws.haaland, laws.churchill_1977])
def test_error_has_no_step_where_the_wall_is_next_to_smooth(law: laws.FrictionLaw) -> None:
    # it doubled at e = 1e-9: u/f 0.0289 at 0, 0.0577 at any e above
    e = np.concatenate([[0.0], np.geomspace(1e-12, 0.05, 400)])
    found = law(ReynoldsNumber(np.full(401, 2e5), "1"), e)
    relative = found.u / found.value
    assert np.all(np.diff(relative) >= -1e-15)
    assert np.max(np.diff(relative)) < 0.04 * relative[0]
    assert relative[e * 2e5 * np.sqrt(found.value / 8) < 4.9].max() == pytest.approx(relative[0])


def test_error_between_smooth_and_fully_rough() -> None:
    # f by the fluids package; smooth up to a roughness Reynolds number of 5, fully rough from 70
    # [Schlichting 1979, ch. 20], from memory; half of the way in its logarithm is sqrt(5 * 70)
    re = 1e5

    def at(acting: float) -> float:
        return brentq(
            lambda e: e * re * np.sqrt(fluids.friction.Colebrook(re, e) / 8) - acting, 1e-5, 0.05
        )

    e = [at(acting) for acting in (4.99, 5 * 14**0.25, np.sqrt(5 * 70), 70.01)]
    found = laws.colebrook_white(ReynoldsNumber(np.full(4, re), "1"), e)
    half_width = found.u / found.value * np.sqrt(3)
    np.testing.assert_allclose(half_width, [0.05, 0.0625, 0.075, 0.1], rtol=1e-6)


@pytest.mark.parametrize("law", EXPLICIT)
def test_approximations_share_the_error_of_what_they_approximate(law: laws.FrictionLaw) -> None:
    re = np.repeat(np.geomspace(4e3, 1e8, 60), 40)
    e = np.tile(np.concatenate([[0.0], np.geomspace(1e-6, 0.05, 39)]), 60)
    reynolds = ReynoldsNumber(re, "1")
    ratio = law(reynolds, e) / laws.colebrook_white(reynolds, e)
    # so the ratio keeps only the distance between the two, and its limits cover that
    distance = np.abs(ratio.value - 1)
    half_width = ratio.u / ratio.value * np.sqrt(3)
    assert np.all(half_width < 0.036)
    assert np.all(distance < half_width)
    assert np.max(distance) > 0.85 * np.max(half_width)


def test_churchill_is_honest_about_transition() -> None:
    re = np.array([500.0, 1999.0, 2300.0, 3000.0, 3999.0])
    found = laws.churchill_1977(ReynoldsNumber(re, "1"), 0)
    half_width = found.u * np.sqrt(3)
    # laminar flow may persist to 4000: 64/Re must lie inside, and so must a smooth turbulent
    # pipe from 2300 on (Blasius by the fluids package)
    assert np.all(np.abs(64 / re - found.value) < half_width)
    turbulent = np.array([fluids.friction.Blasius(r) for r in re[2:]])
    assert np.all(np.abs(turbulent - found.value[2:]) < half_width[2:])
    # up to 2000 it is a law
    assert np.all(half_width[:2] < 0.0021 * found.value[:2])
    assert [c.key for c in found[:2].components] == ["flowunc.law.churchill_1977"]


def test_one_reynolds_number_for_several_roughnesses() -> None:
    found = laws.churchill_1977(ReynoldsNumber([1e5], "1"), [0, 1e-3, 1e-2])
    single = [laws.churchill_1977(ReynoldsNumber(1e5, "1"), e) for e in (0, 1e-3, 1e-2)]
    np.testing.assert_allclose(found.value, [s.value for s in single], rtol=1e-15)
    np.testing.assert_allclose(found.u, [s.u for s in single], rtol=1e-12)


# [Nikuradse 1933] in sand grains: 1/sqrt f = 1.74 + 2 log10(R/k), from memory; 3.7 for 1.74
# makes 0.002 of 1/sqrt f. Textbooks round it to 1.14 - 2 log10(k/D), from memory.
@pytest.mark.parametrize("e", [1 / 30, 1 / 61.2, 1 / 252, 1 / 1014])
def test_fully_rough_by_nikuradse(e: float) -> None:
    found = laws.nikuradse_rough(ReynoldsNumber(9e7, "1"), e).value ** -0.5
    assert found == pytest.approx(1.74 + 2 * np.log10(0.5 / e), abs=0.003)
    assert found == pytest.approx(1.14 - 2 * np.log10(e), abs=0.005)


def test_fully_rough_is_that_of_the_fluids_package_and_does_not_know_the_reynolds_number() -> None:
    e = np.geomspace(1e-4, 0.05, 9)
    re = ReynoldsNumber(np.full(9, 9e7), "1", standard(1e6))
    found = laws.nikuradse_rough(re, e)
    expected = [fluids.friction.von_Karman(roughness) for roughness in e]
    np.testing.assert_allclose(found.value, expected, rtol=1e-13)
    assert np.all(found.correlation(re) == 0)
    several = laws.nikuradse_rough(ReynoldsNumber([8e7, 9e7, 1e8], "1"), 1e-3)
    assert several.value.shape == several.u.shape == (3,)
    assert laws.nikuradse_rough(re[:1], [1e-3, 1e-2]).value.shape == (2,)


def test_fully_rough_derivative_by_differences_of_the_fluids_package() -> None:
    relative = Ratio(0.01, "1", standard(1e-4))
    found = laws.nikuradse_rough(ReynoldsNumber(1e7, "1"), relative)
    low, high = (fluids.friction.von_Karman(0.01 + step) for step in (-1e-6, 1e-6))
    slope = found.covariance(relative) / relative.u**2
    assert slope == pytest.approx((high - low) / 2e-6, rel=1e-7)


def test_fully_rough_begins_at_a_roughness_reynolds_number_of_70() -> None:
    # e Re sqrt(f/8) with f from the fluids package
    e = np.array([1e-4, 1e-3, 0.05])
    edge = 70 / (e * np.sqrt([fluids.friction.von_Karman(each) / 8 for each in e]))
    law = laws.nikuradse_rough
    assert law.covers(ReynoldsNumber(1.02 * edge, "1"), e).tolist() == [True] * 3
    assert law.covers(ReynoldsNumber(0.99 * edge, "1"), e).tolist() == [False] * 3
    assert law.covers(ReynoldsNumber(1.02 * edge, "1")).tolist() == [True] * 3  # asks for Re alone
    assert law.covers(ReynoldsNumber(1e8, "1"), 0) is False
    with pytest.raises(
        RangeError,
        match=r"rough: Reynolds number .* with relative roughness 0\.001 at reading 1; expected "
        r"e Re sqrt\(f/8\) of 70 or more",
    ):
        law(ReynoldsNumber(edge * [1.02, 0.99, 1.02], "1"), e)
    with pytest.raises(RangeError, match=r"relative roughness 0; expected .*70 or more"):
        law(ReynoldsNumber(1e8, "1"), 0)


@pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")  # inside that package
def test_fully_rough_lies_within_its_distance_from_colebrook() -> None:
    # from where it begins on, by the fluids package; and they share the error of Colebrook-White
    e = np.repeat(np.geomspace(1e-5, 0.05, 30), 20)
    edge = 70 / (e * np.sqrt([fluids.friction.von_Karman(each) / 8 for each in e]))
    re = np.minimum(edge * np.tile(np.geomspace(1.000001, 1e3, 20), 30), 1e8)
    inside = (re >= 1.5e4) & (re > edge)
    re, e = re[inside], e[inside]
    distance = [
        abs(fluids.friction.von_Karman(each) / fluids.friction.Colebrook(r, each) - 1)
        for r, each in zip(re, e, strict=True)
    ]
    reynolds = ReynoldsNumber(re, "1")
    ratio = laws.nikuradse_rough(reynolds, e) / laws.colebrook_white(reynolds, e)
    half_width = ratio.u / ratio.value * np.sqrt(3)
    assert np.all(half_width < 0.0221)
    assert np.all(distance < half_width)
    assert np.max(distance) > 0.85 * np.max(half_width)


def test_churchill_errors_change_where_its_text_says() -> None:
    # "+-0.2 % up to Re 2000; +-80 % in transition, ...; from Re 4000": u is that over sqrt 3
    assert "0.2 % up to Re 2000; +-80 % in transition" in laws.churchill_1977.uncertainty
    re = ReynoldsNumber([1999.999, 2000.0, 2000.001, 3999.999], "1")
    found = laws.churchill_1977(re, 1e-3)
    expected = np.array([0.002, 0.002, 0.8, 0.8]) / np.sqrt(3)
    np.testing.assert_allclose(found.u / found.value, expected, rtol=1e-12)
    beyond = laws.churchill_1977(ReynoldsNumber(4000.0, "1"), 1e-3)
    assert beyond.u / beyond.value < 0.1 / np.sqrt(3)
