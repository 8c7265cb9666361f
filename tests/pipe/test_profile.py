"""Velocity profiles: their integral is the mean velocity, and printed ratios of the power law."""

from __future__ import annotations

import math

import fluids.friction
import numpy as np
import pytest
from mpmath import mp
from scipy.integrate import quad

from flowunc import (
    DimensionError,
    FrictionFactor,
    Length,
    RangeError,
    ReynoldsNumber,
    ShapeError,
    Velocity,
    limits,
    standard,
)
from flowunc.pipe import (
    centreline_ratio,
    laminar_velocity,
    laws,
    power_law_exponent,
    turbulent_velocity,
)

BORE = Length(20, "mm")

# [Schlichting 1979, table 20.1] mean over maximum velocity by exponent, printed (from memory)
PRINTED = [(6, 0.791), (7, 0.817), (8, 0.837), (9, 0.852), (10, 0.865)]
# exponents that Nikuradse measured, by Reynolds number, same source (from memory)
MEASURED = [(4e3, 6), (2.3e4, 6.6), (1.1e5, 7), (1.1e6, 8.8), (2e6, 10), (3.2e6, 10)]


@pytest.mark.parametrize(("n", "printed"), PRINTED)
def test_ratio_by_exponent(n: float, printed: float) -> None:
    f = FrictionFactor(n**-2, "1")
    assert power_law_exponent(f).value == pytest.approx(n, rel=1e-14)
    # printed to three decimals, the last one rounded down in places
    assert 1 / centreline_ratio(f, regime="turbulent").value == pytest.approx(printed, abs=1e-3)


def test_laminar_ratio_is_two_and_exact() -> None:
    found = centreline_ratio(regime="laminar")
    assert (found.value, found.u) == (2.0, 0.0)
    assert found.label == "centreline to mean velocity"


def test_error_of_the_power_law_is_one_known_component_and_a_factor() -> None:
    found = centreline_ratio(FrictionFactor([0.02, 0.03], "1"), regime="turbulent")
    assert [c.key for c in found.components] == ["flowunc.profile.power_law"]
    # limits of 5 %: u/value is 0.05/sqrt 3 [JCGM 100, 4.3.7]; all of it in common
    np.testing.assert_allclose(found.u / found.value, 0.05 / math.sqrt(3), rtol=1e-12)
    assert found[0].correlation(found[1]) == pytest.approx(1, abs=1e-12)
    # value (1 + e) has the mean value; value/(1 + e) would lie (u/value)^2 = 8e-4 above it
    drawn = found[0].monte_carlo(200_000, seed=5)
    assert drawn.mean == pytest.approx(found[0].value, rel=4 * 0.05 / math.sqrt(3 * 200_000))


def test_mean_of_the_laminar_profile_is_the_mean_velocity() -> None:
    def local(r: float) -> float:
        at = laminar_velocity(Velocity(0.1, "m/s"), BORE, Length(r, "m"))
        return 2 * math.pi * r * at.value

    assert quad(local, 0, 0.01)[0] / (math.pi * 0.01**2) == pytest.approx(0.1, rel=1e-12)


@pytest.mark.parametrize("friction", [0.04, 0.0123])
def test_mean_of_the_turbulent_profile_is_the_mean_velocity(friction: float) -> None:
    def local(r: float) -> float:
        at = turbulent_velocity(
            Velocity(0.1, "m/s"), BORE, Length(r, "m"), FrictionFactor(friction, "1")
        )
        return 2 * math.pi * r * at.value

    mean = quad(local, 0, 0.01, limit=200)[0] / (math.pi * 0.01**2)
    assert mean == pytest.approx(0.1, rel=1e-6)


def test_axis_and_wall() -> None:
    v, f = Velocity(0.3, "m/s"), FrictionFactor(0.03, "1")
    assert laminar_velocity(v, BORE, Length([0, 10], "mm")).value.tolist() == [0.6, 0.0]
    on_axis = turbulent_velocity(v, BORE, Length(0, "mm"), f)
    assert (on_axis - v * centreline_ratio(f, regime="turbulent")).u == pytest.approx(0, abs=1e-17)
    assert on_axis.value == pytest.approx(0.3 * centreline_ratio(f, regime="turbulent").value)


def test_limits_cover_other_accounts_of_the_ratio() -> None:
    re = np.geomspace(4e3, 1e8, 40)
    f = FrictionFactor([fluids.friction.Prandtl_von_Karman_Nikuradse(r) for r in re], "1")
    found = centreline_ratio(f, regime="turbulent")
    half_width = found.u * np.sqrt(3)
    # logarithmic law [White 2003, ch. 6]: u_max/v = 1 + 1.326 sqrt f, from memory
    distance = np.abs(1 + 1.326 * np.sqrt(f.value) - found.value)
    assert np.all(distance < half_width)
    assert np.max(distance / half_width) > 0.8
    for reynolds, n in MEASURED:
        law = FrictionFactor(fluids.friction.Prandtl_von_Karman_Nikuradse(reynolds), "1")
        ratio = centreline_ratio(law, regime="turbulent")
        assert abs((n + 1) * (2 * n + 1) / (2 * n**2) - ratio.value) < ratio.u * np.sqrt(3)


def test_error_of_the_power_law_is_one_error() -> None:
    f = FrictionFactor([0.04, 0.02], "1")
    ratio = centreline_ratio(f, regime="turbulent")
    assert (ratio[0] / ratio[1]).u == pytest.approx(0, abs=1e-16)
    local = turbulent_velocity(Velocity(1, "m/s"), BORE, Length(5, "mm"), f[0])
    assert local.correlation(ratio[1]) == pytest.approx(1)


def test_derivatives_of_the_turbulent_profile_with_forty_digits() -> None:
    def profile(v: object, bore: object, r: object, f: object) -> object:
        n = 1 / mp.sqrt(f)
        return v * (n + 1) * (2 * n + 1) / (2 * n * n) * (1 - 2 * r / bore) ** (1 / n)

    at = (0.3, 0.02, 0.004, 0.03)
    given = (
        Velocity(0.3, "m/s", standard(1e-3)),
        Length(0.02, "m", standard(1e-5)),
        Length(0.004, "m", standard(1e-5)),
        FrictionFactor(0.03, "1", standard(1e-4)),
    )
    found = turbulent_velocity(*given)
    for place, quantity in enumerate(given):
        order = tuple(int(place == k) for k in range(4))
        with mp.workdps(40):
            expected = float(mp.diff(profile, tuple(mp.mpf(x) for x in at), order))
        assert found.covariance(quantity) / quantity.u**2 == pytest.approx(expected, rel=1e-9)


def test_laminar_sensitivity_to_the_radius() -> None:
    # du/dr = -16 v r/D^2
    radius = Length(5, "mm", standard(0.1))
    found = laminar_velocity(Velocity(0.1, "m/s"), BORE, radius)
    assert found.u == pytest.approx(16 * 0.1 * 0.005 / 0.02**2 * 1e-4, rel=1e-12)


def test_uncertain_radius_on_the_axis_is_drawn_on_both_sides() -> None:
    # sqrt f = 1/5: u/u_max = (1 - x)^(1/5), x uniform on 0..a; mean 5 (1 - (1 - a)^1.2)/(6 a)
    v, f = Velocity(1, "m/s"), FrictionFactor(0.04, "1")
    found = turbulent_velocity(v, BORE, Length(0, "mm", limits(5)), f)
    expected = 5 * (1 - 0.5**1.2) / (6 * 0.5) * found.value
    drawn = found.monte_carlo(40_000, seed=3)
    assert drawn.mean == pytest.approx(expected, abs=5 * drawn.u / 200)


def test_exponent_of_a_law_is_correlated_with_it() -> None:
    f = laws.prandtl_smooth(ReynoldsNumber(1e5, "1", standard(1e3)))
    assert power_law_exponent(f).correlation(f) == pytest.approx(-1)


@pytest.mark.parametrize(
    ("radius", "message"),
    [
        (
            Length([9, 11], "mm"),
            r"11 mm at reading 1 lies beyond the wall; .* half the bore, 10 mm",
        ),
        (Length(-1, "mm"), r"radius=.*-1 mm; expected a value 0 or more"),
    ],
)
def test_radius_outside_the_pipe_is_refused(radius: Length, message: str) -> None:
    velocity = Velocity(0.1, "m/s")
    with pytest.raises(RangeError, match=r"laminar_velocity\(" + ".*" + message):
        laminar_velocity(velocity, BORE, radius)
    with pytest.raises(RangeError, match=r"turbulent_velocity\(" + ".*" + message):
        turbulent_velocity(velocity, BORE, radius, FrictionFactor(0.03, "1"))


def test_refusals() -> None:
    velocity, f = Velocity(0.1, "m/s"), FrictionFactor(0.03, "1")
    with pytest.raises(RangeError, match=r"at the wall at reading 1, where the power law"):
        turbulent_velocity(velocity, BORE, Length([5, 10], "mm"), f)
    with pytest.raises(RangeError, match=r"friction=.*0; expected a value above 0"):
        turbulent_velocity(velocity, BORE, Length(5, "mm"), FrictionFactor(0, "1"))
    with pytest.raises(RangeError, match=r"regime='transitional'.*'laminar' or 'turbulent'"):
        centreline_ratio(f, regime="transitional")
    with pytest.raises(DimensionError, match="friction factor for laminar flow"):
        centreline_ratio(f, regime="laminar")
    with pytest.raises(DimensionError, match=r"no friction factor; expected Darcy's"):
        centreline_ratio(regime="turbulent")
    with pytest.raises(DimensionError, match=r"friction=.*ReynoldsNumber.*FrictionFactor"):
        power_law_exponent(ReynoldsNumber(1e4, "1"))
    with pytest.raises(ShapeError):
        laminar_velocity(Velocity([1, 2], "m/s"), BORE, Length([1, 2, 3], "mm"))
