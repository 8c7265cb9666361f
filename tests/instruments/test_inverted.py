"""The inverted U-tube: air or a lighter liquid on top."""

import math

import pytest

from flowunc.core.errors import DimensionError, FlowuncWarning, RangeError
from flowunc.core.kinds import Acceleration, Angle, Density, Length, Pressure
from flowunc.core.statements import limits, standard
from flowunc.instruments import InclinedManometer, Scale, UTubeManometer
from flowunc.instruments.inverted import InvertedUTubeManometer

G_N = Acceleration(9.80665, "m/s^2")
WATER = Density(1000, "kg/m^3")
MMH2O = 9.80665  # Pa [NIST SP 811, B.8]
NO_OFFSET = Length(0, "mm")


def drop_under(top, **options):
    gauge = InvertedUTubeManometer(Scale(1, "mm"), top, **options)
    return gauge.pressure_drop(high=320.0, low=280.0, density=WATER, zero=NO_OFFSET, gravity=G_N)


# Under nothing each millimetre of water is a conventional mmH2O; under a liquid of 0.9 times its
# density a tenth of that.
@pytest.mark.parametrize(("top", "share"), [(0, 1.0), (900, 0.1)])
def test_the_fluid_on_top_takes_its_weight_off(top, share):
    drop = drop_under(Density(top, "kg/m^3"))
    assert isinstance(drop, Pressure)
    assert drop.label == "pressure drop"
    assert drop.value == pytest.approx(40 * MMH2O * share, rel=1e-12)


def test_left_out_it_is_the_air_of_the_room_as_for_other_manometers():
    upright = InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg"))
    other = upright.pressure_drop(high=320.0, low=280.0, density=WATER, zero=NO_OFFSET, gravity=G_N)
    drop = drop_under(None)
    assert drop.value == pytest.approx(other.value, rel=1e-13)
    # the unknown air is one and the same
    air = 0.1 / math.sqrt(3) * 0.04 * 9.80665
    assert drop.covariance(other) == pytest.approx(air**2, rel=1e-9)


def test_a_light_liquid_makes_its_density_count():
    drop = drop_under(Density(900, "kg/m^3", standard(2)))
    # 2 of 100 kg/m^3, and sqrt(1/6) mm of 40 mm
    expected = math.hypot(0.02, math.sqrt(1 / 6) / 40)
    assert drop.u / drop.value == pytest.approx(expected, rel=1e-12)
    assert "manometer top density" in [c.label for c in drop.components]


def test_the_same_two_liquids_in_an_ordinary_u_tube():
    # water over mercury or mercury under water: one column, one contrast
    under = UTubeManometer(Scale(1, "mm"), WATER)
    other = under.pressure_drop(
        high=320.0, low=280.0, density=Density(900, "kg/m^3"), zero=NO_OFFSET, gravity=G_N
    )
    assert drop_under(Density(900, "kg/m^3")).value == pytest.approx(other.value, rel=1e-13)


def test_zero_drift_is_one_error_of_the_set():
    gauge = InvertedUTubeManometer(Scale(1, "mm"), Density(900, "kg/m^3"), capillarity=limits(0))
    drop = gauge.pressure_drop(
        high=[320.0, 330.0],
        low=[280.0, 270.0],
        density=WATER,
        zero=[(300.0, 300.0), (303.0, 300.0)],
        gravity=G_N,
    )
    # two columns of 1/12 mm^2, half of four readings of the zero, drift of 1.5 mm
    assert drop.u == pytest.approx([math.sqrt(3 / 12 + 0.75) * 0.1 * MMH2O] * 2, rel=1e-12)
    assert "manometer zero drift" in [c.label for c in drop.components]
    assert gauge.top_density.value == 900


def test_misuse_is_named():
    with pytest.raises(RangeError, match=r"density of the liquid 1000.*not above.*fluid above it"):
        drop_under(Density(1100, "kg/m^3"))
    with pytest.raises(RangeError, match="top density"):
        drop_under(Density(-1, "kg/m^3"))
    with pytest.raises(DimensionError, match=r"top_density=.*float"):
        drop_under(870.0)
    gauge = InvertedUTubeManometer(Scale(1, "mm"))
    with pytest.raises(RangeError, match="exchanged"):
        gauge.pressure_drop(high=280.0, low=320.0, density=WATER, zero=NO_OFFSET)
    with pytest.warns(FlowuncWarning, match="no zero reading"):
        gauge.pressure_drop(high=320.0, low=280.0, density=WATER)
