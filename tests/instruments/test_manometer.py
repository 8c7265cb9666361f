"""The inclined manometer: two columns, an angle, a zero that drifts."""

import copy
import math
import pickle

import numpy as np
import pytest

from flowunc.core.errors import DimensionError, FlowuncWarning, RangeError, ShapeError, UnitError
from flowunc.core.kinds import Acceleration, Angle, Density, Length, Pressure
from flowunc.core.readings import concatenate
from flowunc.core.statements import limits, standard
from flowunc.instruments import (
    InclinedManometer,
    InvertedUTubeManometer,
    Scale,
    UTubeManometer,
    percent_of_reading,
)

READING = 0.5e-3 / math.sqrt(3)  # u of one reading of a millimetre scale [JCGM 100, 4.3.7]
WATER = Density(1000, "kg/m^3")
VACUUM = Density(0, "kg/m^3")
STANDARD_GRAVITY = Acceleration(9.80665, "m/s^2")
NO_OFFSET = Length(0, "mm")
# With these, a millimetre of head is a conventional mmH2O: 9.80665 Pa [NIST SP 811, B.8].
EXACT = {
    "density": WATER,
    "zero": NO_OFFSET,
    "gravity": STANDARD_GRAVITY,
    "air_density": VACUUM,
}
MMH2O = 9.80665
HIGH = [306.0, 303.5, 309.5, 317.0, 333.0]
LOW = [299.5, 294.5, 295.5, 287.5, 267.0]


def manometer(degrees=90.0, *statements, **options):
    return InclinedManometer(Scale(1, "mm"), angle=Angle(degrees, "deg", *statements), **options)


def labels(quantity):
    return [component.label for component in quantity.components]


# -- the value -----------------------------------------------------------------------------------
# [NIST SP 811, B.8]: 1 mmH2O = 9.80665 Pa; sin 30 deg = 1/2, sin 45 deg = 1/sqrt 2, sin 15 deg
# = (sqrt 6 - sqrt 2) / 4.
@pytest.mark.parametrize(
    ("degrees", "sine"),
    [(90, 1.0), (30, 0.5), (45, math.sqrt(0.5)), (15, (math.sqrt(6) - math.sqrt(2)) / 4)],
)
def test_head_is_the_upright_part_of_the_difference(degrees, sine):
    drop = manometer(degrees).pressure_drop(high=320.0, low=280.0, **EXACT)
    assert isinstance(drop, Pressure)
    assert (drop.unit, drop.label) == ("Pa", "pressure drop")
    assert drop.value == pytest.approx(40 * MMH2O * sine, rel=1e-13)


def test_the_zero_is_taken_off():
    given = EXACT | {"zero": [(300.5, 300.0), (301.0, 300.0)]}
    drop = manometer().pressure_drop(high=[320.0, 300.0], low=[280.0, 290.0], **given)
    assert drop.value == pytest.approx([39.25 * MMH2O, 9.25 * MMH2O], rel=1e-13)


def test_air_stands_above_the_water():
    # 2 kg/m^3 of air above 1000 kg/m^3 of water takes 0.2 % off
    drop = manometer().pressure_drop(
        high=320.0, low=280.0, **EXACT | {"air_density": Density(2, "kg/m^3")}
    )
    assert drop.value == pytest.approx(0.998 * 40 * MMH2O, rel=1e-13)


def test_defaults_for_gravity_and_air():
    drop = manometer().pressure_drop(high=320.0, low=280.0, density=WATER, zero=NO_OFFSET)
    # 9.81 m/s^2 and 1.20 kg/m^3, within the 1 kg/m^3 by which air is known at most
    assert drop.value == pytest.approx(0.04 * 998.8 * 9.81, rel=1e-13)
    assert {"gravity", "air density"} <= set(labels(drop))


# -- the uncertainty -----------------------------------------------------------------------------
def test_a_difference_has_two_resolution_errors():
    drop = manometer().pressure_drop(high=320.0, low=280.0, **EXACT)
    assert labels(drop) == ["manometer resolution, high column", "manometer resolution, low column"]
    # sqrt(2) * division / (2 sqrt 3)
    assert drop.u == pytest.approx(1 / math.sqrt(6) * MMH2O, rel=1e-12)


def test_the_columns_of_different_readings_are_independent():
    drop = manometer().pressure_drop(high=[320.0, 320.0], low=[280.0, 280.0], **EXACT)
    assert (drop[0] - drop[1]).u == pytest.approx(math.sqrt(2) * drop[0].u, rel=1e-12)


# Closed form cot(angle) u(angle) with u = 0.25 deg [C].
@pytest.mark.parametrize(("degrees", "percent"), [(10, 2.4746), (30, 0.7557)])
def test_sensitivity_to_the_angle_is_its_cotangent(degrees, percent):
    exact_reading = InclinedManometer(
        Scale(1, "mm", read_to=1e-9), angle=Angle(degrees, "deg", standard(0.25))
    )
    drop = exact_reading.pressure_drop(high=320.0, low=280.0, **EXACT)
    assert drop.u / drop.value * 100 == pytest.approx(percent, abs=5e-5)


def test_all_contributions_of_one_row_add_as_squares():
    drop = manometer(10, limits(0.25)).pressure_drop(
        high=HIGH,
        low=LOW,
        density=Density(998.4, "kg/m^3", standard(0.1)),
        zero=[(300.5, 300.0), (301.0, 300.5)],
        gravity=Acceleration(9.8124, "m/s^2", limits(0.0005)),
        air_density=Density(1.2, "kg/m^3", limits(0.1)),
    )
    # row 4: 333 - 267 - 0.5 = 65.5 mm; relative parts, all rectangular but the density
    root3 = math.sqrt(3)
    parts = [
        0.5 / root3 / 65.5,  # high
        0.5 / root3 / 65.5,  # low
        0.5 / root3 / 65.5,  # zero: the mean of two differences has half the variance of one
        math.radians(0.25) / root3 / math.tan(math.radians(10)),
        0.1 / 997.2,
        0.1 / root3 / 997.2,
        0.0005 / root3 / 9.8124,
    ]
    parts.append(0.0)  # the zero did not move: 0.5 mm before and after
    assert drop[4].u / drop[4].value == pytest.approx(math.hypot(*parts), rel=1e-12)
    assert labels(drop) == [
        "manometer resolution, high column",
        "manometer resolution, low column",
        "manometer resolution, zero before, high column",
        "manometer resolution, zero before, low column",
        "manometer resolution, zero after, high column",
        "manometer resolution, zero after, low column",
        "manometer angle",
        "density",
        "air density",
        "gravity",
    ]


def test_an_absolute_calibration_error_cancels_between_the_columns():
    drop = manometer(accuracy=limits(2.0)).pressure_drop(high=320.0, low=280.0, **EXACT)
    assert drop.u == pytest.approx(1 / math.sqrt(6) * MMH2O, rel=1e-9)


def test_a_relative_calibration_error_acts_on_the_difference():
    given = EXACT | {"zero": (300.0, 290.0)}
    instrument = InclinedManometer(
        Scale(1, "mm", read_to=1e-9), angle=Angle(90, "deg"), accuracy=percent_of_reading(3)
    )
    drop = instrument.pressure_drop(high=320.0, low=280.0, **given)
    assert drop.value == pytest.approx(30 * MMH2O)
    assert drop.u / drop.value == pytest.approx(0.03 / math.sqrt(3), rel=1e-9)


def test_the_same_manometer_at_another_inclination():
    flat = manometer(10, limits(0.25), accuracy=percent_of_reading(3, k=1))
    steep = flat.at(Angle(30, "deg", limits(0.25)))
    a = flat.pressure_drop(high=400.0, low=200.0, **EXACT)
    b = steep.pressure_drop(high=400.0, low=200.0, **EXACT)
    # only the calibration of 3 % is common to both
    assert a.covariance(b) == pytest.approx(0.03**2 * a.value * b.value, rel=1e-12)


def test_two_manometers_have_nothing_in_common():
    a, b = (manometer(10, limits(0.25), accuracy=percent_of_reading(3)) for _ in range(2))
    drops = [m.pressure_drop(high=400.0, low=200.0, **EXACT) for m in (a, b)]
    assert drops[0].covariance(drops[1]) == 0.0


def test_one_angle_for_each_reading():
    drop = manometer([30, 90]).pressure_drop(high=320.0, low=280.0, **EXACT)
    assert drop.value == pytest.approx([20 * MMH2O, 40 * MMH2O], rel=1e-13)


def test_columns_read_before():
    instrument = manometer(accuracy=percent_of_reading(3))
    high, low = instrument.read([320.0, 330.0]), instrument.read([280.0, 270.0])
    assert isinstance(high, Length)
    drop = instrument.pressure_drop(high=high, low=low, **EXACT)
    assert drop.value == pytest.approx([40 * MMH2O, 60 * MMH2O], rel=1e-13)
    again = instrument.pressure_drop(high=high, low=low, **EXACT)
    assert (drop - again).u == pytest.approx([0, 0], abs=1e-12)


@pytest.mark.parametrize("again", [copy.deepcopy, lambda item: pickle.loads(pickle.dumps(item))])
def test_a_copy_is_the_same_manometer(again):
    instrument = manometer(10, limits(0.25), accuracy=percent_of_reading(3, k=1))
    a = instrument.pressure_drop(high=400.0, low=200.0, **EXACT)
    b = again(instrument).pressure_drop(high=400.0, low=200.0, **EXACT)
    common = a.value**2 * (0.03**2 + (math.radians(0.25) / math.tan(math.radians(10))) ** 2 / 3)
    assert a.covariance(b) == pytest.approx(common, rel=1e-12)


def test_default_gravity_is_common_to_all_manometers():
    given = EXACT | {"gravity": None}
    a, b = (manometer().pressure_drop(high=320.0, low=280.0, **given) for _ in range(2))
    assert a.covariance(b) == pytest.approx((0.03 / math.sqrt(3) * 40) ** 2, rel=1e-12)


def test_drawing_and_linearising_agree():
    # 3 standard errors of u from 40 000 trials are about 1 %
    drop = manometer(10, limits(0.25)).pressure_drop(
        high=HIGH, low=LOW, **EXACT | {"zero": [(300.5, 300.0), (301.0, 300.0)]}
    )
    drawn = drop.monte_carlo(trials=40_000, seed=1)
    assert drawn.mean == pytest.approx(drop.value, abs=float(np.max(drop.u)) / 50)
    assert drawn.u == pytest.approx(drop.u, rel=0.012)


def test_sets_join():
    flat, steep = manometer(10, limits(0.25)), manometer(30, limits(0.25))
    parts = [m.pressure_drop(high=[320.0], low=[280.0], **EXACT) for m in (flat, steep)]
    joined = concatenate(*parts)
    assert isinstance(joined, Pressure)
    assert joined.u == pytest.approx([parts[0].u[0], parts[1].u[0]], rel=1e-14)


# -- what is refused -----------------------------------------------------------------------------
def test_without_zero_readings_it_warns():
    with pytest.warns(FlowuncWarning, match="no zero reading.*before.*after") as caught:
        manometer().pressure_drop(high=320.0, low=280.0, **EXACT | {"zero": None})
    assert [w.filename for w in caught] == [__file__]


def test_exchanged_columns_are_refused_with_the_reading():
    with pytest.raises(RangeError) as caught:
        manometer().pressure_drop(high=[320.0, 280.0], low=[280.0, 320.0], **EXACT)
    assert str(caught.value).startswith(
        "manometer, reading 1: the difference is -40 mm with a standard uncertainty of 0.41 mm"
    )
    assert "high and low exchanged" in str(caught.value)


def test_a_difference_about_zero_is_noise():
    # u of the difference is 0.408 mm: 1 mm below zero is within three of it, 2 mm is not
    assert manometer().pressure_drop(high=300.0, low=301.0, **EXACT).value < 0
    with pytest.raises(RangeError, match="exchanged"):
        manometer().pressure_drop(high=300.0, low=302.0, **EXACT)


def test_readings_off_the_scale_are_refused():
    instrument = InclinedManometer(Scale(1, "mm", span=(0, 350)), angle=Angle(10, "deg"))
    with pytest.raises(RangeError, match="manometer, high column, reading 1: 351 mm"):
        instrument.pressure_drop(high=[333.0, 351.0], low=[267.0, 267.0], **EXACT)
    with pytest.raises(RangeError, match="manometer, zero, high column: 400 mm"):
        instrument.pressure_drop(high=333.0, low=267.0, **EXACT | {"zero": (400.0, 300.0)})


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        ({"high": [320.0] * 3}, ShapeError, "3 readings of the high column and 2 of the low"),
        ({"high": "320"}, RangeError, "'320'"),
        ({"high": Angle(1, "deg")}, DimensionError, "high=.*got Angle"),
        ({"density": 1000}, DimensionError, "density=.*got int 1000"),
        ({"density": Length(1, "m")}, DimensionError, "density=.*got Length"),
        ({"density": Density(1, "kg/m^3"), "air_density": None}, RangeError, "not above .*air"),
        ({"gravity": 9.81}, DimensionError, "gravity="),
        ({"zero": Angle(1, "deg")}, DimensionError, "zero=.*got Angle"),
    ],
)
def test_misuse_is_named(change, error, match):
    given = {"high": [320.0] * 2, "low": [280.0] * 2} | EXACT | change
    with pytest.raises(error, match=match):
        manometer().pressure_drop(**given)


def test_a_scale_that_is_no_length_is_refused():
    with pytest.raises(UnitError, match="degC"):
        InclinedManometer(Scale(1, "degC"), angle=Angle(10, "deg"))


def test_high_and_low_cannot_be_given_by_position():
    with pytest.raises(TypeError):
        manometer().pressure_drop(320.0, 280.0, density=WATER)


# -- columns that mirror each other ----------------------------------------------------------------
def mirrored_kinds():
    upright = Density(2000, "kg/m^3"), Density(0, "kg/m^3")
    return {
        "inclined": (manometer(90, mirrored=True), EXACT),
        "U-tube": (
            UTubeManometer(Scale(1, "mm"), upright[0], mirrored=True),
            {"density": WATER, "zero": NO_OFFSET, "gravity": STANDARD_GRAVITY},
        ),
        "inverted": (
            InvertedUTubeManometer(Scale(1, "mm"), upright[1], mirrored=True),
            {"density": WATER, "zero": NO_OFFSET, "gravity": STANDARD_GRAVITY},
        ),
    }


@pytest.mark.parametrize("kind", ["inclined", "U-tube", "inverted"])
def test_mirrored_columns_have_one_resolution_opposite_in_sign(kind):
    owner, given = mirrored_kinds()[kind]
    assert owner.mirrored
    drop = owner.pressure_drop(high=[320.0, 310.0], low=[280.0, 290.0], **given)
    # high + e and low - e: the difference is off by 2 e; each reading has an e of its own
    assert drop.u == pytest.approx([2 * READING * 1e3 * MMH2O] * 2, rel=1e-12)
    assert drop[0].correlation(drop[1]) == 0
    # rectangular within 1 mm: half lies beyond 0.5 mm, of the triangle of two a quarter would
    draws = drop[0].monte_carlo(100_000, seed=1).samples() - drop[0].value
    assert np.abs(draws).max() <= MMH2O
    assert np.mean(np.abs(draws) > 0.5 * MMH2O) == pytest.approx(0.5, abs=0.01)
    assert labels(drop) == ["manometer resolution, both columns"]


def test_zeros_of_mirrored_columns_are_rounded_together_too():
    owner = manometer(mirrored=True)
    both = owner.zero_offset([(300.0, 300.0), (300.0, 300.0)])
    assert both.to("mm").u == pytest.approx(2 * READING * 1e3 / math.sqrt(2), rel=1e-12)
    assert owner.zero_offset((301.0, 300.0)).to("mm").u == pytest.approx(2 * READING * 1e3)
    assert labels(both) == [
        "manometer resolution, zero before, both columns",
        "manometer resolution, zero after, both columns",
    ]


def test_mirrored_columns_keep_calibration_parallax_and_capillarity_of_their_own():
    scale = Scale(1, "mm", parallax=limits(0.2))
    owner = InclinedManometer(
        scale, Angle(90, "deg"), percent_of_reading(1), capillarity=limits(0.3), mirrored=True
    )
    drop = owner.pressure_drop(high=320.0, low=280.0, **EXACT)
    independent = 2 * (0.2**2 + 0.3**2) / 3
    calibration = 0.4**2 / 3  # 1 % of the difference of 40 mm
    resolution = (2 * 0.5) ** 2 / 3
    expected = math.sqrt(independent + calibration + resolution) * MMH2O
    assert drop.u == pytest.approx(expected, rel=1e-12)


def test_mirrored_columns_read_one_by_one_are_not_tied():
    owner = manometer(mirrored=True)
    high, low = owner.read(320.0), owner.read(280.0)
    with pytest.warns(FlowuncWarning, match="give high= and low= as the numbers that were read"):
        drop = owner.pressure_drop(high=high, low=low, **EXACT)
    assert drop.u == pytest.approx(math.sqrt(2) * READING * 1e3 * MMH2O, rel=1e-12)
    exact = Length(320.0, "mm"), Length(280.0, "mm")
    assert owner.pressure_drop(high=exact[0], low=exact[1], **EXACT).u == 0  # no warning


def test_mirrored_columns_come_in_pairs():
    with pytest.raises(ShapeError, match="2 readings of the high column and 1 of the low column"):
        manometer(mirrored=True).pressure_drop(high=[320.0, 310.0], low=280.0, **EXACT)
    with pytest.raises(DimensionError, match="mirrored='yes'; expected True where"):
        manometer(mirrored="yes")


def test_a_mirrored_manometer_stays_mirrored_in_copies_and_at_another_angle():
    owner = manometer(mirrored=True)
    for other in (copy.copy(owner), pickle.loads(pickle.dumps(owner))):
        assert other.at(Angle(30, "deg")).mirrored
    assert not manometer().mirrored
