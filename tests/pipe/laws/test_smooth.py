"""Laws for smooth walls against the `fluids` package, tables and each other."""

from __future__ import annotations

import itertools

import fluids.friction
import numpy as np
import pytest
from scipy.optimize import brentq

from flowunc import ReynoldsNumber, standard
from flowunc.pipe import laws

# Computed by root finding from the published equations. [McKeon 2005], extended form,
# constants from memory; it claims 1.4 % from Re 1e4 on (from memory).
# Re, Blasius, Prandtl smooth, McKeon extended
TABLE = [
    (4e3, 0.039785194, 0.039915882, 0.041089549),
    (1e4, 0.031640000, 0.030889096, 0.031364810),
    (2e4, 0.026605963, 0.025887848, 0.026170862),
    (5e4, 0.021158943, 0.020894945, 0.021094075),
    (1e5, 0.017792480, 0.017992594, 0.018180200),
]
PRANDTL = [(re, prandtl) for re, _, prandtl, _ in TABLE] + [(1e6, 0.011646541)]


SMOOTH = [laws.blasius, laws.prandtl_smooth, laws.filonenko, laws.mckeon]


def mckeon(re: float) -> float:
    """Friction factor of the extended McKeon equation, by bracketing."""

    def gap(x: float) -> float:
        return x - 1.920 * np.log10(re / x) + 0.475 + 7.04 / (re / x) ** 0.55

    root: float = brentq(gap, 1.0, 20.0, xtol=1e-13)
    return root**-2


@pytest.mark.parametrize(("re", "expected"), [(500, 0.128), (1000, 0.064), (2000, 0.032)])
def test_laminar(re: float, expected: float) -> None:
    # Hagen-Poiseuille, exact
    assert laws.laminar(ReynoldsNumber(re, "1")).value == pytest.approx(expected, rel=1e-15)


def test_laminar_has_no_error_of_its_own() -> None:
    assert laws.laminar(ReynoldsNumber(1000, "1")).components == ()
    re = ReynoldsNumber(1000, "1", standard(20))
    found = laws.laminar(re)
    assert found.u / found.value == pytest.approx(0.02, rel=1e-12)
    assert found.correlation(re) == pytest.approx(-1)


def test_laminar_is_that_of_the_fluids_package() -> None:
    re = np.geomspace(1e2, 2039, 20)  # the package switches at 2040
    expected = [fluids.friction.friction_factor(Re=r, eD=0) for r in re]
    np.testing.assert_allclose(laws.laminar(ReynoldsNumber(re, "1")).value, expected, rtol=1e-14)


@pytest.mark.parametrize(("re", "expected"), [(re, blasius) for re, blasius, _, _ in TABLE])
def test_blasius(re: float, expected: float) -> None:
    assert laws.blasius(ReynoldsNumber(re, "1")).value == pytest.approx(expected, abs=6e-10)


def test_blasius_is_that_of_the_fluids_package() -> None:
    re = np.geomspace(4e3, 1e5, 20)
    expected = [fluids.friction.Blasius(r) for r in re]
    # the package carries Blasius' 0.3164 and exponent as they are
    np.testing.assert_allclose(laws.blasius(ReynoldsNumber(re, "1")).value, expected, rtol=1e-14)


@pytest.mark.parametrize(("re", "expected"), PRANDTL)
def test_prandtl(re: float, expected: float) -> None:
    assert laws.prandtl_smooth(ReynoldsNumber(re, "1")).value == pytest.approx(expected, abs=6e-10)


def test_prandtl_is_the_root_of_its_equation() -> None:
    re = np.geomspace(4e3, 3.4e6, 40)

    def gap(x: float, r: float) -> float:
        return x - 2.0 * np.log10(r / x) + 0.8

    expected = [brentq(gap, 1.0, 30.0, args=(r,), xtol=1e-15, rtol=1e-15) ** -2 for r in re]
    found = laws.prandtl_smooth(ReynoldsNumber(re, "1")).value
    np.testing.assert_allclose(found, expected, rtol=1e-12)


def test_prandtl_is_that_of_the_fluids_package() -> None:
    re = np.geomspace(4e3, 3.4e6, 20)
    expected = [fluids.friction.Prandtl_von_Karman_Nikuradse(r) for r in re]
    found = laws.prandtl_smooth(ReynoldsNumber(re, "1")).value
    # there 0.8 stands as 2 log10(2.51) = 0.79935
    np.testing.assert_allclose(found, expected, rtol=3e-4)


@pytest.mark.parametrize("law", [laws.blasius, laws.prandtl_smooth])
def test_derivative(law: laws.FrictionLaw) -> None:
    # d ln f/d ln Re by differences of the fluids package
    independent = {
        "blasius": fluids.friction.Blasius,
        "prandtl_smooth": fluids.friction.Prandtl_von_Karman_Nikuradse,
    }[law.name]
    for value in (5e3, 3e4, 9e4):
        re = ReynoldsNumber(value, "1", standard(0.01 * value))
        step = 1e-4
        low, high = (np.log(independent(value * (1 + s * step))) for s in (-1, 1))
        expected = (high - low) / (2 * step)
        found = law(re).covariance(re) / re.u**2 * value / law(re).value
        assert found == pytest.approx(expected, rel=1e-4)


# f = (1.82 log10 Re - 1.64)^-2 where log10 Re is a whole number, by hand: 1/sqrt f = 5.64, ...
@pytest.mark.parametrize(("re", "root"), [(1e4, 5.64), (1e5, 7.46), (1e6, 9.28)])
def test_filonenko(re: float, root: float) -> None:
    found = laws.filonenko(ReynoldsNumber(re, "1", standard(0.01 * re)))
    assert found.value == pytest.approx(root**-2, rel=1e-13)


def test_filonenko_is_what_petukhov_rounds() -> None:
    # f = (0.790 ln Re - 1.64)^-2 [Petukhov 1970], from memory; 1.82/ln 10 = 0.79042
    re = np.geomspace(1e4, 5e6, 30)
    found = laws.filonenko(ReynoldsNumber(re, "1")).value
    np.testing.assert_allclose(found, (0.790 * np.log(re) - 1.64) ** -2, rtol=1.5e-3)


def test_filonenko_derivative() -> None:
    # by the chain rule, y = 1/sqrt f = 7.46 at Re 1e5: df/d ln Re = -2 y^-3 1.82/ln 10
    re = ReynoldsNumber(1e5, "1", standard(1e3))
    expected = -2 * 7.46**-3 * 1.82 / np.log(10)
    assert laws.filonenko(re).covariance(re) / re.u**2 * 1e5 == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("law", [laws.blasius, laws.prandtl_smooth, laws.filonenko])
def test_stated_limits_cover_mckeon_and_the_other_law(law: laws.FrictionLaw) -> None:
    low, high = law.reynolds_range
    re = np.geomspace(low, high, 60)
    found = law(ReynoldsNumber(re, "1"))
    half_width = found.u * np.sqrt(3)
    distance = np.abs([mckeon(r) for r in re] - found.value)
    assert np.all(distance < half_width)
    # and are not idly wide: the worst disagreement uses most of them
    assert np.max(distance / half_width) > 0.85
    for other in (laws.blasius, laws.prandtl_smooth):
        both = re[np.asarray(other.covers(ReynoldsNumber(re, "1")))]
        values = law(ReynoldsNumber(both, "1"))
        distance = np.abs(other(ReynoldsNumber(both, "1")).value - values.value)
        assert np.all(distance < values.u * np.sqrt(3))


def test_mckeon_here_is_the_tabulated_one() -> None:
    for re, _, _, expected in TABLE:
        assert mckeon(re) == pytest.approx(expected, abs=6e-10)


@pytest.mark.parametrize("law", SMOOTH)
def test_error_of_the_law_is_shared(law: laws.FrictionLaw) -> None:
    found = law(ReynoldsNumber([1.5e4, 5e4], "1"))
    assert (found[0] / found[1]).u == pytest.approx(0, abs=1e-16)
    again = law(ReynoldsNumber(1.5e4, "1"))
    assert (found[0] - again).u == 0.0
    assert [c.key for c in found.components] == [f"flowunc.law.{law.name}"]


def test_laws_have_errors_of_their_own() -> None:
    re = ReynoldsNumber(5e4, "1")
    for one, other in itertools.combinations(SMOOTH, 2):
        assert one(re).correlation(other(re)) == 0.0
