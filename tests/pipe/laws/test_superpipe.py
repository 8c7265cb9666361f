"""The McKeon law against arithmetic of 40 digits, a table and measured friction factors."""

from __future__ import annotations

import pickle

import fluids.friction
import numpy as np
import pytest
from mpmath import mp

from flowunc import ReynoldsNumber, second_order, standard
from flowunc.pipe import laws
from flowunc.pipe.laws.superpipe import MCKEON

# [McKeon 2005], extended form, constants from memory; by root finding (computed)
TABLE = [
    (10000, 0.031364810),
    (20000, 0.026170862),
    (50000, 0.021094075),
    (100000, 0.018180200),
    (1000000, 0.011855871),
    (10000000, 0.008318052),
]


def root(reynolds: object) -> object:
    """Friction factor by bracketing in x = 1/sqrt f, with 40 digits."""

    def gap(x: object) -> object:
        ratio = reynolds / x
        return (
            x
            - mp.mpf("1.92") * mp.log10(ratio)
            + mp.mpf("0.475")
            + mp.mpf("7.04") / ratio ** (mp.mpf("0.55"))
        )

    return mp.findroot(gap, (3, 25), solver="anderson") ** -2


@pytest.mark.parametrize(("re", "expected"), TABLE)
def test_table(re: float, expected: float) -> None:
    assert laws.mckeon(ReynoldsNumber(re, "1")).value == pytest.approx(expected, abs=6e-10)


# the first two: where draws may stray to
@pytest.mark.parametrize("re", [600, 4e3, 1e4, 3e5, 3.5e7])
def test_value_and_derivative_of_forty_digits(re: float) -> None:
    with mp.workdps(40):
        value, slope = float(root(mp.mpf(re))), float(mp.diff(root, mp.mpf(re)))
    at = np.array(re)
    found = MCKEON.evaluate(at)
    assert float(found) == pytest.approx(value, rel=4e-15)
    assert float(MCKEON.pull(1.0, (at,), found, (True,))[0]) == pytest.approx(slope, rel=4e-15)


def test_result_goes_where_it_is_asked_for() -> None:
    # the simulation hands over blocks (readings, trials) and the place for the result
    re = np.geomspace(1e4, 3e7, 6).reshape(2, 3)
    place = np.empty((2, 3))
    assert MCKEON.evaluate(re, out=place) is place
    np.testing.assert_allclose(place, np.reshape([MCKEON.evaluate(r) for r in re.flat], (2, 3)))


def test_second_derivative_of_forty_digits() -> None:
    re = ReynoldsNumber(2e4, "1", standard(800))
    found = second_order(laws.mckeon(re))
    with mp.workdps(40):
        curvature = float(mp.diff(root, mp.mpf(20000), 2))
    # the mean moves by f'' u^2/2 [JCGM 100, 5.1.2 note]
    assert found.shift == pytest.approx(curvature * 800**2 / 2, rel=1e-9)


def test_measured_friction_factors() -> None:
    # measured in smooth pipes from Re 1.1e4 to 1.1e6, a table of the fluids package; single points
    # scatter by up to 5 %
    measured = np.array(fluids.friction.oregon_smooth_data)
    re, f = measured[:, measured[0] > 1e4]
    for law in (laws.mckeon, laws.filonenko, laws.prandtl_smooth):
        deviation = f / law(ReynoldsNumber(re, "1")).value - 1
        assert abs(np.median(deviation)) < 0.02
        assert np.sqrt(np.mean(deviation**2)) < 0.03


def test_claim_is_the_limit() -> None:
    found = laws.mckeon(ReynoldsNumber(1e5, "1"))
    # 1.4 % from Re 1e4 on (from memory)
    assert found.u / found.value == pytest.approx(0.014 / np.sqrt(3), rel=1e-12)


def test_operation_pickles_by_name() -> None:
    assert pickle.loads(pickle.dumps(MCKEON)) is MCKEON
