"""The balance, and the buoyancy of the air around a weighed liquid."""

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import Density, Mass
from flowunc.core.statements import limits, standard
from flowunc.instruments import Balance, Scale, buoyancy_factor

AIR = Density(1.2, "kg/m^3")


def test_the_calibration_cancels_between_full_and_empty():
    # the resolution of both stays: half a gram either way each [JCGM 100, 4.3.7]
    full, empty = Balance(Scale(1, "g", kind="digital"), accuracy=limits(50)).read([5140, 1140])
    net = full - empty
    assert isinstance(net, Mass)
    assert net.value == pytest.approx(4.0, rel=1e-13)
    assert net.to("g").u == pytest.approx(0.5 * math.sqrt(2 / 3), rel=1e-9)


# m / m_indicated = (1 - rho_a/8000) / (1 - rho_a/rho) [ISO 4185], values computed [C].
@pytest.mark.parametrize(("density", "factor"), [(998.2065, 1.0010534224), (1000.0, 1.0010512615)])
def test_buoyancy_factor(density, factor):
    result = buoyancy_factor(Density(density, "kg/m^3"), AIR)
    assert result.value == pytest.approx(factor, abs=5e-11)
    assert result.label == "buoyancy factor"


def test_buoyancy_factor_is_near_the_printed_correction_of_the_standard():
    # [ISO 4185] prints epsilon = 1.06e-3 [M]; with air 1.21 and liquid 1000 it is 1.05875e-3 [C]
    # in the approximate form, which leaves out terms of epsilon squared.
    factor = buoyancy_factor(Density(1000, "kg/m^3"), Density(1.21, "kg/m^3"))
    assert factor.value - 1 == pytest.approx(1.05875e-3, abs=2e-6)


def test_uncertainty_of_the_air_in_the_buoyancy():
    # d ln F / d rho_a = 1/(rho - rho_a) - 1/(8000 - rho_a)
    factor = buoyancy_factor(Density(1000, "kg/m^3"), Density(1.2, "kg/m^3", standard(0.06)))
    expected = 0.06 * (1 / 998.8 - 1 / 7998.8)
    assert factor.u / factor.value == pytest.approx(expected, rel=1e-12)
    default = buoyancy_factor(Density(1000, "kg/m^3"))
    assert [component.label for component in default.components] == ["air density"]


def test_a_liquid_lighter_than_air_is_refused():
    with pytest.raises(RangeError, match=r"buoyancy_factor: density of the liquid 1 kg/m\^3"):
        buoyancy_factor(Density(1, "kg/m^3"))
    with pytest.raises(DimensionError, match=r"density=.*got float"):
        buoyancy_factor(998.2)
