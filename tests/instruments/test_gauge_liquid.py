"""Manometers with a liquid of their own: U-tube and well."""

import math

import pytest

from flowunc.core.errors import DimensionError, FlowuncWarning, RangeError, ShapeError, UnitError
from flowunc.core.kinds import Acceleration, Angle, Density, Length, Pressure, Ratio
from flowunc.core.statements import limits, standard
from flowunc.instruments import Scale, UTubeManometer, WellManometer, percent_of_reading

G_N = Acceleration(9.80665, "m/s^2")
MERCURY = Density(13595.1, "kg/m^3")  # conventional density at 0 degC of mmHg [NIST SP 811, B.8]
WATER = Density(1000, "kg/m^3")
VACUUM = Density(0, "kg/m^3")
MMHG, MMH2O = 133.3224, 9.80665  # Pa [NIST SP 811, B.8]
NO_OFFSET = Length(0, "mm")


# -- U-tube --------------------------------------------------------------------------------------
# A column of 760 mm is an atmosphere of 101 325 Pa; under water each millimetre of mercury
# counts one of water less.
@pytest.mark.parametrize(
    ("density", "millimetres", "pascal"),
    [(VACUUM, 760.0, 101325.0), (WATER, 100.0, 100 * (MMHG - MMH2O))],
)
def test_u_tube_shows_the_difference_of_two_liquids(density, millimetres, pascal):
    gauge = UTubeManometer(Scale(1, "mm"), MERCURY)
    drop = gauge.pressure_drop(
        high=millimetres, low=0.0, density=density, zero=NO_OFFSET, gravity=G_N
    )
    assert isinstance(drop, Pressure)
    assert drop.value == pytest.approx(pascal, rel=1e-6)
    assert drop.label == "pressure drop"


def test_u_tube_uncertainty_comes_from_both_levels_and_both_densities():
    gauge = UTubeManometer(Scale(1, "mm"), Density(1600, "kg/m^3", standard(6)), label="u-tube")
    drop = gauge.pressure_drop(
        high=[350.0],
        low=[250.0],
        density=Density(1000, "kg/m^3", standard(3)),
        zero=(300.0, 300.0),
        gravity=G_N,
    )
    # relative: four readings of 1/sqrt(12) mm in 100 mm; 6 and 3 in 600 kg/m^3
    expected = math.sqrt(4 / 12 / 1e4 + 0.01**2 + 0.005**2)
    assert drop.u[0] / drop.value[0] == pytest.approx(expected, rel=1e-12)
    assert "u-tube gauge density" in [c.label for c in drop.components]
    assert gauge.gauge_density.value == 1600


def test_u_tube_refuses_a_gauge_liquid_that_would_float_up():
    with pytest.raises(RangeError, match=r"gauge liquid 900 kg/m\^3 is not above.*1000 kg/m\^3"):
        UTubeManometer(Scale(1, "mm"), Density(900, "kg/m^3")).pressure_drop(
            high=320.0, low=280.0, density=WATER, zero=NO_OFFSET
        )


def test_u_tube_refuses_exchanged_levels_and_warns_without_zero():
    gauge = UTubeManometer(Scale(1, "mm"), MERCURY)
    with pytest.raises(RangeError, match="exchanged"):
        gauge.pressure_drop(high=280.0, low=320.0, density=WATER, zero=NO_OFFSET)
    with pytest.warns(FlowuncWarning, match="no zero reading"):
        gauge.pressure_drop(high=320.0, low=280.0, density=WATER)


@pytest.mark.parametrize(
    ("make", "error", "match"),
    [
        (lambda: UTubeManometer(Scale(1, "mm"), 1590), DimensionError, "gauge_density=.*int 1590"),
        (lambda: UTubeManometer(Scale(1, "g"), MERCURY), UnitError, "'g'"),
    ],
)
def test_what_is_no_u_tube_is_refused(make, error, match):
    with pytest.raises(error, match=match):
        make()


# -- well ----------------------------------------------------------------------------------------
def well(angle=None, area_ratio=0.02, **options):
    return WellManometer(Scale(1, "mm"), angle, area_ratio=area_ratio, **options)


EXACT = {"density": WATER, "zero": NO_OFFSET, "gravity": G_N, "air_density": VACUUM}


# The volume that rises in the tube leaves the well: a rise of 50 mm in a tube of 2 % of the
# well's area lowers the well by 1 mm, whatever the inclination.
@pytest.mark.parametrize(
    ("angle", "area_ratio", "head"),
    [
        (None, 0.02, 51.0),
        (Angle(30, "deg"), 0.02, 26.0),
        (Angle(30, "deg"), 0, 25.0),
        (Angle(90, "deg"), Ratio(10, "%"), 55.0),
    ],
)
def test_the_level_in_the_well_falls(angle, area_ratio, head):
    drop = well(angle, area_ratio).pressure_drop(reading=50.0, **EXACT)
    assert isinstance(drop, Pressure)
    assert drop.value == pytest.approx(head * MMH2O, rel=1e-13)


def test_a_well_reads_one_level_only():
    drop = well().pressure_drop(reading=50.0, **EXACT)
    assert [c.label for c in drop.components] == ["manometer resolution"]
    assert drop.u == pytest.approx(1.02 / math.sqrt(12) * MMH2O, rel=1e-12)


def test_uncertainties_of_angle_and_area_ratio():
    instrument = WellManometer(
        Scale(1, "mm", read_to=1e-9),
        Angle(30, "deg", standard(0.5)),
        area_ratio=Ratio(0.02, "1", standard(0.004)),
    )
    drop = instrument.pressure_drop(reading=50.0, **EXACT)
    # d head = reading (cos(30 deg) d angle + d ratio); head = 0.52 reading
    angle_part = math.sqrt(0.75) * math.radians(0.5)
    assert drop.u / drop.value == pytest.approx(math.hypot(angle_part, 0.004) / 0.52, rel=1e-9)
    assert [c.label for c in drop.components][1:] == ["manometer angle", "manometer area ratio"]


def test_one_zero_level_and_two():
    one = well(area_ratio=0).pressure_drop(reading=[50.0, 60.0], **EXACT | {"zero": 2.0})
    assert one.value == pytest.approx([48 * MMH2O, 58 * MMH2O], rel=1e-13)
    assert one.u == pytest.approx([math.sqrt(2 / 12) * MMH2O] * 2, rel=1e-12)
    two = well(area_ratio=0).pressure_drop(reading=[50.0, 60.0], **EXACT | {"zero": (1.0, 4.0)})
    assert two.value == pytest.approx([47.5 * MMH2O, 57.5 * MMH2O], rel=1e-13)
    # variance in mm^2: the reading 1/12, the mean of two levels 1/24, the drift 1.5^2 / 3
    assert two.u == pytest.approx([math.sqrt(1 / 12 + 1 / 24 + 0.75) * MMH2O] * 2, rel=1e-12)
    assert (two[1] - two[0]).u == pytest.approx(math.sqrt(2 / 12) * MMH2O, rel=1e-12)
    assert "manometer zero drift" in [c.label for c in two.components]
    single = well(area_ratio=0).pressure_drop(reading=50.0, **EXACT | {"zero": [2.0]})
    assert single.value == pytest.approx(48 * MMH2O, rel=1e-13)


def test_the_same_well_at_another_inclination():
    upright = well(accuracy=percent_of_reading(3, k=1), area_ratio=0)
    flat = upright.at(Angle(30, "deg", limits(0.25)))
    a, b = (m.pressure_drop(reading=200.0, **EXACT) for m in (upright, flat))
    assert b.value == pytest.approx(a.value / 2)
    assert a.covariance(b) == pytest.approx(0.03**2 * a.value * b.value, rel=1e-12)
    assert upright.angle.to("deg").value == pytest.approx(90)


def test_a_level_read_before():
    instrument = well()
    drop = instrument.pressure_drop(reading=instrument.read(50.0), **EXACT)
    assert drop.value == pytest.approx(51 * MMH2O, rel=1e-13)


def test_well_warns_without_zero_and_refuses_a_negative_rise():
    with pytest.warns(FlowuncWarning, match=r"zero=\(before, after\)"):
        well().pressure_drop(reading=50.0, **EXACT | {"zero": None})
    with pytest.raises(RangeError, match=r"manometer, reading 1: .*-5 mm.*lower pressure"):
        well().pressure_drop(reading=[50.0, -5.0], **EXACT)
    with pytest.raises(ShapeError, match="3 zero readings"):
        well().pressure_drop(reading=50.0, **EXACT | {"zero": [1.0, 2.0, 3.0]})
    with pytest.raises(RangeError, match="liquid 1 kg"):
        well().pressure_drop(
            reading=50.0, zero=NO_OFFSET, density=Density(1, "kg/m^3"), air_density=None
        )


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"area_ratio": 1.0}, RangeError, "area ratio 1; expected tube over well"),
        ({"area_ratio": -0.1}, RangeError, r"area ratio -0\.1"),
        ({"area_ratio": Ratio([0.1, 0.2], "1")}, ShapeError, "2 area ratios"),
        ({"area_ratio": Length(1, "mm")}, DimensionError, "area_ratio=.*got Length"),
        ({"area_ratio": "0.1"}, RangeError, r"'0\.1'"),
    ],
)
def test_what_is_no_well_is_refused(options, error, match):
    with pytest.raises(error, match=match):
        well(**options)
