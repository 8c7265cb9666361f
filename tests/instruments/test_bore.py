"""The bore from diameters and from water: areas of ovals, nested scatter, buoyancy."""

import math

import numpy as np
import pytest

from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    RangeError,
    ShapeError,
)
from flowunc.core.kinds import Density, Length, Mass
from flowunc.core.statements import limits, standard
from flowunc.instruments import Balance, Scale
from flowunc.instruments.bore import bore_from_diameters, bore_from_water_mass
from flowunc.instruments.length_instruments import Caliper

FINE = Scale(1e-6, "mm", kind="digital")
NO_AIR = Density(0, "kg/m^3")


def test_an_ellipse_has_the_bore_of_its_area():
    # area pi a b, so D = 2 sqrt(a b); diameters through the centre in polar form, evenly spread
    a, b = 10.0, 9.8
    angle = np.pi * np.arange(12) / 12
    diameters = 2 * a * b / np.hypot(b * np.cos(angle), a * np.sin(angle))
    survey = bore_from_diameters(diameters, Caliper(FINE))
    assert survey.bore.value == pytest.approx(2 * math.sqrt(a * b), rel=1e-9)
    # the plain mean misses it by more than that
    assert abs(survey.mean_diameter.value / survey.bore.value - 1) > 1e-5
    assert survey.ovality == pytest.approx(0.4 / 19.8, rel=1e-3)
    assert survey.mean_diameter.correlation(survey.bore) == pytest.approx(1.0)


def test_an_oval_is_no_scatter_between_sections():
    # three sections alike but for their size: 19.0, 19.1, 19.2 with an oval of 0.2 either way
    rows = np.array([19.0, 19.1, 19.2])[:, None] + np.array([-0.2, 0.2])
    survey = bore_from_diameters(rows, Caliper(FINE))
    # [JCGM 100, 4.2.3]: s = 0.1, s / sqrt(3), dof 2
    assert survey.bore.u == pytest.approx(0.1 / math.sqrt(3), rel=1e-3)
    assert survey.bore.dof == pytest.approx(2.0, rel=1e-6)
    assert survey.sections == pytest.approx([19.001, 19.101, 19.201], abs=1e-4)


@pytest.mark.parametrize(
    "readings", [[19.0, 19.1, 19.2], [[19.0], [19.1], [19.2]], [[19.0, 19.1, 19.2]]]
)
def test_one_section_or_one_direction_scatters_as_a_whole(readings):
    bore = bore_from_diameters(readings, Caliper(FINE)).bore
    assert bore.u == pytest.approx(0.1 / math.sqrt(3), rel=1e-6)
    assert bore.dof == pytest.approx(2.0, rel=1e-6)


def test_calibration_and_resolution_do_not_average_out():
    caliper = Caliper(Scale(1, "mm", kind="vernier", vernier_divisions=20), accuracy=limits(0.05))
    survey = bore_from_diameters([[19.05, 19.05], [19.05, 19.05]], caliper)
    assert survey.bore.u == pytest.approx(math.hypot(0.025, 0.05) / math.sqrt(3), rel=1e-12)
    assert survey.ovality == 0.0
    # another length of the same caliper: only its resolutions are left
    other = caliper.read(19.05)
    assert (survey.bore - other).to("mm").u == pytest.approx(0.025 * math.sqrt(2 / 3), rel=1e-9)
    assert [c.label for c in survey.bore.components] == [
        "caliper resolution, bore",
        "caliper calibration",
    ]


def test_drawn_and_linear_agree():
    caliper = Caliper(FINE, accuracy=limits(0.05))
    bore = bore_from_diameters(19.05 + 0.02 * np.sin(np.arange(30)), caliper).bore
    # 29 degrees of freedom widen the drawn scatter by sqrt(29/27) [JCGM 101, 6.4.9]
    drawn = (np.pi / 4 * bore**2).monte_carlo(40_000, seed=8)
    assert drawn.u == pytest.approx((np.pi / 4 * bore**2).u, rel=0.02)


def test_an_odd_reading_is_pointed_out():
    with pytest.warns(FlowuncWarning, match=r"directions of section 1 differ by 1\d % "):
        bore_from_diameters([[19.0, 19.1], [19.0, 22.0]], Caliper(FINE))


@pytest.mark.parametrize(
    ("readings", "error", "match"),
    [
        ([19.0], ShapeError, "one reading cannot show scatter"),
        ([[19.0, 19.1], [19.0]], ShapeError, "1 to 2 directions"),
        ([[19.0, 19.1], [19.0, -1.0]], RangeError, "-1 mm"),
        ([[19.0, 19.1], [19.0, 190.0]], RangeError, "section 1, reading 1: 190 mm lies off"),
        ([19.0, math.nan], RangeError, "NaN"),
        (19.0, DimensionError, "expected a list"),
        (Length([19, 20], "mm"), DimensionError, "plain numbers"),
        ("19", DimensionError, "plain numbers"),
    ],
)
def test_what_are_no_diameters_is_refused(readings, error, match):
    with pytest.raises(error, match=match):
        bore_from_diameters(readings, Caliper(Scale(0.01, "mm", span=(0, 150))))


def test_the_caliper_must_be_one():
    with pytest.raises(DimensionError, match="expected the Caliper"):
        bore_from_diameters([19.0, 19.1], 0.05)


# 2 / sqrt(pi), the diameter of a circle of area 1: M_2_SQRTPI of the C library <math.h>
def test_a_tonne_of_water_over_a_cross_section_of_one():
    bore = bore_from_water_mass(
        Mass(10, "Mg"),
        length=Length(10, "m"),
        density=Density(1000, "kg/m^3"),
        air_density=NO_AIR,
    )
    assert isinstance(bore, Length)
    assert bore.value == pytest.approx(1.12837916709551257390, rel=1e-14)


def test_buoyancy_makes_the_bore_half_a_permille_larger():
    # m / m_indicated = 1.0010534224 for water of 998.2065 and air of 1.2 kg/m^3, computed from
    # [ISO 4185]; the bore goes with its root
    options = {"length": Length(1.5, "m"), "density": Density(998.2065, "kg/m^3")}
    mass = Mass(426.6, "g")
    ratio = (
        bore_from_water_mass(mass, air_density=Density(1.2, "kg/m^3"), **options).value
        / bore_from_water_mass(mass, air_density=NO_AIR, **options).value
    )
    assert ratio == pytest.approx(math.sqrt(1.0010534224), abs=1e-10)


def test_half_the_relative_uncertainty_of_mass_length_and_density():
    bore = bore_from_water_mass(
        Mass(426.6, "g", standard(4.266)),
        length=Length(1.5, "m", standard(0.03)),
        density=Density(998.2, "kg/m^3", standard(29.946)),
        air_density=NO_AIR,
    )
    # 1 %, 2 % and 3 %, half of each
    assert bore.u / bore.value == pytest.approx(0.5 * math.sqrt(14) / 100, rel=1e-10)
    drawn = bore.monte_carlo(40_000, seed=9)
    assert drawn.u == pytest.approx(bore.u, rel=5 / math.sqrt(80_000))


def test_a_balance_read_full_and_empty():
    balance = Balance(Scale(0.1, "g", kind="digital"), accuracy=limits(5))
    bore = bore_from_water_mass(
        balance.read(826.6, label="full") - balance.read(400.0, label="empty"),
        length=Length(1.5, "m"),
        density=Density(998.2, "kg/m^3"),
        air_density=Density(1.2, "kg/m^3"),
    )
    # the calibration of the balance cancels: two resolutions of 0.05 g on 426.6 g
    expected = 0.5 * 0.05 * math.sqrt(2 / 3) / 426.6
    assert bore.u / bore.value == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"mass": Mass(-1, "g")}, RangeError, "full and empty exchanged"),
        ({"length": Length([1, 0], "m")}, RangeError, "length=...\\) at reading 1"),
        ({"mass": Mass(426600, "kg")}, RangeError, "exceeds the length"),
        ({"mass": 426.6}, DimensionError, "expected Mass"),
        ({"density": Mass(1, "kg")}, DimensionError, "expected Density"),
        ({"density": Density(1, "kg/m^3")}, RangeError, "not above"),
    ],
)
def test_water_mass_refuses(options, error, match):
    given = {
        "mass": Mass(426.6, "g"),
        "length": Length(1.5, "m"),
        "density": Density(998.2, "kg/m^3"),
    }
    with pytest.raises(error, match=match):
        bore_from_water_mass(**{**given, **options})
