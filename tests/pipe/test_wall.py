"""Friction velocity, sublayer and wall regimes against relations of pipe flow."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import fluids.core
import numpy as np
import pytest
from scipy import stats

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    Length,
    Pressure,
    RangeError,
    Ratio,
    ReynoldsNumber,
    Velocity,
    VolumeFlowRate,
    limits,
    standard,
)
from flowunc.pipe import (
    WallRegimes,
    darcy_friction_factor,
    friction_velocity,
    laws,
    mean_velocity,
    reynolds_number,
    roughness_reynolds_number,
    viscous_sublayer_thickness,
    wall_regime,
    wall_shear_stress,
)

RHO, MU = Density(998.2, "kg/m^3", limits(1)), DynamicViscosity(1.0016, "mPa*s", limits(0.01))
BORE, SPACING = Length(20, "mm", limits(0.05)), Length(2.4, "m")
DROP = Pressure([120, 900], "Pa", limits(2))
FLOW = VolumeFlowRate([4.5, 14], "L/min", limits(0.1))
VELOCITY = mean_velocity(FLOW, BORE)
FRICTION = darcy_friction_factor(DROP, RHO, VELOCITY, BORE, SPACING)
REYNOLDS = reynolds_number(VELOCITY, BORE, RHO, MU)
U_STAR = friction_velocity(wall_shear_stress(DROP, BORE, SPACING), RHO)


def test_friction_velocity_by_the_friction_factor() -> None:
    # v sqrt(f/8): the same quantity, uncertainty included
    assert type(U_STAR) is Velocity
    difference = U_STAR - VELOCITY * np.sqrt(FRICTION / 8)
    np.testing.assert_allclose(difference.value, 0, atol=1e-16)
    np.testing.assert_allclose(difference.u, 0, atol=1e-16)


def test_sublayer_by_the_friction_factor() -> None:
    # 5 nu/u* over D is 14.14/(Re sqrt f), of the definitions
    found = viscous_sublayer_thickness(U_STAR, RHO, MU)
    assert type(found) is Length
    expected = 5 * math.sqrt(8) / (REYNOLDS * np.sqrt(FRICTION))
    np.testing.assert_allclose((found / BORE).value, expected.value, rtol=1e-13)
    np.testing.assert_allclose((found / BORE - expected).u, 0, atol=1e-17)
    # of the wall Reynolds number y u*/nu by the fluids package
    for run in range(2):
        y_plus = fluids.core.Reynolds(
            V=U_STAR.value[run], D=found.value[run], rho=998.2, mu=1.0016e-3
        )
        assert y_plus == pytest.approx(5, rel=1e-12)


def test_roughness_reynolds_number_by_the_friction_factor() -> None:
    # (eps/D) Re sqrt(f/8), of the definitions
    eps = Length(0.3, "mm", limits(0.05))
    found = roughness_reynolds_number(eps, U_STAR, RHO, MU)
    assert type(found) is Ratio
    difference = found - (eps / BORE) * REYNOLDS * np.sqrt(FRICTION / 8)
    np.testing.assert_allclose(difference.value, 0, atol=1e-13)
    np.testing.assert_allclose(difference.u, 0, atol=1e-13)
    assert roughness_reynolds_number(Length(0, "mm"), U_STAR, RHO, MU).value.tolist() == [0, 0]


def test_fully_rough_here_is_where_the_fully_rough_law_begins() -> None:
    e, re = 0.01, ReynoldsNumber([8.2e4, 1.4e5], "1")
    f = laws.nikuradse_rough.equation(re, laws.colebrook_white(re, e) * 0 + e)
    wall = wall_regime(e * re * np.sqrt(f / 8), trials=100)
    assert laws.nikuradse_rough.covers(re, e).tolist() == [n == "fully rough" for n in wall.name]
    assert wall.name == ["transitionally rough", "fully rough"]


@pytest.mark.parametrize("value", [3.0, 4.9, 5.0, 20.0, 69.0, 71.0, 90.0])
def test_probabilities_are_those_of_the_distribution(value: float) -> None:
    trials = 40_000
    found = wall_regime(Ratio(value, "1", standard(1)), trials=trials, seed=7)
    assert isinstance(found, WallRegimes)
    for share, p in (
        (found.smooth, stats.norm.cdf(5 - value)),
        (found.rough, stats.norm.sf(70 - value)),
    ):
        assert share == pytest.approx(p, abs=4 * math.sqrt(p * (1 - p) / trials) + 1e-12)
    assert found.smooth + found.transitional + found.rough == pytest.approx(1, rel=1e-15)


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (4.99, "hydraulically smooth"),
        (5, "transitionally rough"),
        (70, "transitionally rough"),
        (70.1, "fully rough"),
    ],
)
def test_certain_values(value: float, name: str) -> None:
    # limits by [Schlichting 1979, ch. 20], from memory
    assert wall_regime(Ratio(value, "1"), trials=10).name == name


def test_reynolds_numbers_of_pipe_and_roughness_are_not_taken_for_each_other() -> None:
    # the regime of Re 20 000 was "fully rough", and a friction factor took the roughness's for Re
    with pytest.raises(DimensionError, match=r"of the pipe.*roughness_reynolds_number\("):
        wall_regime(REYNOLDS)
    acting = roughness_reynolds_number(Length(0.3, "mm"), U_STAR, RHO, MU)
    assert not isinstance(acting, ReynoldsNumber)
    with pytest.raises(DimensionError, match=r"roughness_reynolds=.*Length"):
        wall_regime(BORE)


def test_table_and_text() -> None:
    found = wall_regime(Ratio([1, 300], "1", standard(0.1)), trials=100)
    assert found.table()["wall"].tolist() == ["hydraulically smooth", "fully rough"]
    head, _, first, second = str(found).splitlines()
    assert head.startswith("hydraulically smooth below 5, fully rough above 70; probabilities")
    assert "100.0 %" in first
    assert second.endswith("fully rough")
    many = wall_regime(Ratio(np.full(100, 9.0), "1"), trials=10)
    assert len(str(many).splitlines()) < 50


def test_notebook_table_has_what_the_text_has() -> None:
    found = wall_regime(Ratio([1, 300], "1", standard(0.1)), trials=100)
    table = ElementTree.fromstring(found._repr_html_())
    assert "fully rough above 70; probabilities from 100 draws" in table.findtext("caption")
    rows = [[cell.text for cell in row] for row in table.iter("tr")]
    assert rows == [
        ["run", "roughness Reynolds number", "u", "smooth", "transitional", "rough", "wall"],
        ["0", "1.00", "0.10", "100.0%", "0.0%", "0.0%", "hydraulically smooth"],
        ["1", "300.00", "0.10", "0.0%", "0.0%", "100.0%", "fully rough"],
    ]


def test_refusals() -> None:
    with pytest.raises(RangeError, match=r"wall_shear_stress=.*0 Pa; expected a value above 0"):
        friction_velocity(Pressure(0, "Pa"), RHO)
    with pytest.raises(RangeError, match=r"viscosity=.*above 0"):
        viscous_sublayer_thickness(U_STAR, RHO, DynamicViscosity(0, "Pa*s"))
    with pytest.raises(RangeError, match=r"friction_velocity=.*0 m/s"):
        roughness_reynolds_number(Length(1, "mm"), Velocity(0, "m/s"), RHO, MU)
    with pytest.raises(RangeError, match=r"roughness=.*-1 mm; expected a value 0 or more"):
        roughness_reynolds_number(Length(-1, "mm"), U_STAR, RHO, MU)
    with pytest.raises(RangeError, match=r"0 < smooth_below <= rough_above, such as 5 and 70"):
        wall_regime(Ratio(9, "1"), smooth_below=80)
    with pytest.raises(RangeError, match=r"rough_above='70': expected a number such as 5"):
        wall_regime(Ratio(9, "1"), rough_above="70")
    with pytest.raises(DimensionError, match=r"wall_shear_stress=.*Velocity.*Pressure"):
        friction_velocity(U_STAR, RHO)
