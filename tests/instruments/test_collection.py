"""Timed collection: stopwatch, balance and vessel, and the buoyancy of the air."""

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError, UnitError
from flowunc.core.kinds import Density, Mass, Time, Volume, VolumeFlowRate
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import (
    Balance,
    Scale,
    Stopwatch,
    TimedCollection,
    Vessel,
    buoyancy_factor,
    percent_of_reading,
)

AIR = Density(1.2, "kg/m^3")
WATER = Density(998.2065, "kg/m^3")


def watch(reaction=None, **options):
    return Stopwatch(Scale(0.01, "s", kind="digital"), reaction=reaction, **options)


def balance(**options):
    return Balance(Scale(1, "g", kind="digital"), **options)


def labels(quantity):
    return [component.label for component in quantity.components]


# -- stopwatch -----------------------------------------------------------------------------------
def test_a_reading_has_a_reaction_at_start_and_one_at_stop():
    time = watch(limits(0.2)).read(60.0)
    assert isinstance(time, Time)
    assert (time.unit, time.label) == ("s", "stopwatch")
    assert time.value == pytest.approx(60.0, rel=1e-14)
    # variance in s^2: 2 * 0.2^2 / 3 and half the last digit, 0.005^2 / 3
    assert time.u == pytest.approx(math.sqrt((2 * 0.04 + 0.000025) / 3), rel=1e-12)
    assert labels(time) == [
        "stopwatch resolution", "stopwatch reaction at start", "stopwatch reaction at stop",
    ]  # fmt: skip


def test_the_reaction_is_new_at_every_reading_and_call():
    one = watch(limits(0.2))
    times = one.read([60.0, 60.0])
    assert (times[0] - times[1]).u == pytest.approx(math.sqrt(2) * times[0].u, rel=1e-12)
    assert (one.read(60.0) - one.read(60.0)).u == pytest.approx(times[0].u * math.sqrt(2))


def test_a_shared_reaction_is_a_habit_of_the_observer():
    one = watch(shared(standard(0.2)))
    first, second = one.read(60.0), one.read([30.0])
    assert first.u == pytest.approx(math.sqrt(2 * 0.04 + 0.000025 / 3), rel=1e-12)
    assert (first - second[0]).u == pytest.approx(0.005 * math.sqrt(2 / 3), rel=1e-9)


def test_a_labelled_reaction_keeps_its_name():
    time = watch(limits(0.2, label="thumb")).read(60.0)
    assert labels(time)[1:] == ["thumb at start", "thumb at stop"]


def test_the_rate_of_the_watch_is_shared():
    times = watch(accuracy=percent_of_reading(1, k=1)).read([10.0, 1000.0])
    assert times[1].u == pytest.approx(10.0, rel=1e-6)
    assert times.correlation(times)[0, 1] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("value", [0.0, -1.0])
def test_no_time_is_refused(value):
    with pytest.raises(RangeError, match="stopwatch: .*above 0"):
        watch().read(value)


def test_a_reaction_must_be_a_statement():
    with pytest.raises(StatementError, match=r"reaction=0\.2"):
        watch(0.2)
    assert watch(limits(0.2)).reaction == limits(0.2)


# -- buoyancy ------------------------------------------------------------------------------------
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
    assert labels(default) == ["air density"]


def test_a_liquid_lighter_than_air_is_refused():
    with pytest.raises(RangeError, match="buoyancy_factor: density of the liquid 1 kg"):
        buoyancy_factor(Density(1, "kg/m^3"))
    with pytest.raises(DimensionError, match="density=.*got float"):
        buoyancy_factor(998.2)


# -- collection ----------------------------------------------------------------------------------
def test_flow_by_weighing():
    bucket = TimedCollection(balance=balance(), stopwatch=watch())
    flow = bucket.read(mass=5982.5, time=60.0, density=WATER, air_density=AIR)
    assert isinstance(flow, VolumeFlowRate)
    assert flow.label == "flow"
    # 5.9825 kg of water of 998.2065 kg/m^3 in a minute, 1.0010534224 of it with buoyancy [C]
    litres = 5.9825 * 1.0010534224 / 998.2065 * 1000
    assert flow.to("L/min").value == pytest.approx(litres, rel=1e-10)


def test_the_calibration_of_the_balance_cancels_with_the_tare():
    bucket = TimedCollection(balance=balance(accuracy=limits(50)), stopwatch=watch())
    given = {"time": [60.0], "density": WATER, "air_density": AIR}
    flow = bucket.read(mass=[5140.0], tare=1140.0, **given)
    mass = 0.5 * math.sqrt(2 / 3) / 4000  # two readings
    time = 0.005 / math.sqrt(3) / 60
    assert flow.u[0] / flow.value[0] == pytest.approx(math.hypot(mass, time), rel=1e-9)
    assert labels(flow)[:3] == [
        "balance resolution, full", "balance calibration", "balance resolution, tare",
    ]  # fmt: skip
    # without the tare it stays
    tared = bucket.read(mass=[4000.0], **given)
    mass = math.sqrt((0.25 + 2500) / 3) / 4000
    assert tared.u[0] / tared.value[0] == pytest.approx(math.hypot(mass, time), rel=1e-9)


def test_reaction_and_density_enter_the_flow():
    bucket = TimedCollection(balance=balance(), stopwatch=watch(standard(0.3)))
    water = Density(1000, "kg/m^3", standard(4))
    flow = bucket.read(mass=1e4, time=100.0, density=water, air_density=Density(0, "kg/m^3"))
    # relative: 0.3 sqrt(2) / 100 of time, 0.4 % of density; the readings are below 1e-4
    assert flow.u / flow.value == pytest.approx(math.hypot(0.003 * math.sqrt(2), 0.004), rel=1e-3)


def test_flow_by_volume():
    cylinder = Vessel(Scale(10, "mL", span=(0, 1000)), accuracy=limits(5))
    bucket = TimedCollection(vessel=cylinder, stopwatch=watch())
    flow = bucket.read(volume=[900.0, 600.0], time=[30.0, 30.0], label="jet")
    assert isinstance(flow, VolumeFlowRate)
    assert flow.label == "jet"
    assert flow.to("L/min").value == pytest.approx([1.8, 1.2], rel=1e-13)
    relative = math.hypot(math.sqrt(50 / 3) / 900, 0.005 / math.sqrt(3) / 30)
    assert flow[0].u / flow[0].value == pytest.approx(relative, rel=1e-12)


def test_quantities_read_before_keep_their_errors():
    scale, timer = balance(), watch(limits(0.2))
    bucket = TimedCollection(balance=scale, stopwatch=timer)
    mass, time = scale.read(4000.0), timer.read(60.0)
    first, again = (bucket.read(mass=mass, time=time, density=WATER) for _ in range(2))
    assert (first - again).u == pytest.approx(0.0, abs=1e-20)
    assert bucket.balance is scale
    assert bucket.stopwatch is timer
    assert bucket.vessel is None


@pytest.mark.parametrize(
    ("given", "error", "match"),
    [
        ({"mass": 1.0}, StatementError, "density= of the liquid is missing"),
        ({"density": WATER}, StatementError, "balance: mass= is missing"),
        ({"mass": 1.0, "density": 998.2}, DimensionError, "density=.*float"),
        ({"mass": 1.0, "volume": 1.0, "density": WATER}, StatementError, "volume= has no use"),
        ({"mass": 1.0, "tare": 2.0, "density": WATER}, RangeError, "net mass -0.001 kg.*exchanged"),
        ({"mass": [2.0, 0.0], "density": WATER}, RangeError, "at reading 1: net mass 0 kg"),
        ({"mass": Volume(1, "L"), "density": WATER}, DimensionError, "mass=.*got Volume"),
        ({"mass": [1.0] * 3, "time": [1.0] * 2, "density": WATER}, ShapeError, "lengths 3 and 2"),
        ({"mass": 1.0, "time": Mass(1, "g"), "density": WATER}, DimensionError, "time=.*got Mass"),
    ],
)
def test_misuse_by_weighing_is_named(given, error, match):
    bucket = TimedCollection(balance=balance(), stopwatch=watch())
    with pytest.raises(error, match=match):
        bucket.read(**{"time": 60.0} | given)


@pytest.mark.parametrize(
    ("given", "error", "match"),
    [
        ({}, StatementError, "vessel: volume= is missing"),
        ({"volume": 1.0, "density": WATER}, StatementError, "density= has no use"),
        ({"volume": 1.0, "mass": 1.0}, StatementError, "mass= has no use"),
        ({"volume": 0.0}, RangeError, "volume 0"),
    ],
)
def test_misuse_by_volume_is_named(given, error, match):
    bucket = TimedCollection(vessel=Vessel(Scale(10, "mL")), stopwatch=watch())
    with pytest.raises(error, match=match):
        bucket.read(**{"time": 60.0} | given)


@pytest.mark.parametrize(
    ("parts", "error", "match"),
    [
        ({}, StatementError, "got neither"),
        ({"balance": True, "vessel": True}, StatementError, "both a balance and a vessel"),
        ({"balance": 1}, DimensionError, "balance=.*got int 1; expected a Balance"),
        ({"stopwatch": None, "balance": True}, DimensionError, "stopwatch=.*NoneType"),
    ],
)
def test_what_is_no_collection_is_refused(parts, error, match):
    made = {"stopwatch": watch(), "balance": balance(), "vessel": Vessel(Scale(10, "mL"))}
    given = {name: made[name] if item is True else item for name, item in parts.items()}
    with pytest.raises(error, match=match):
        TimedCollection(**{"stopwatch": watch()} | given)


def test_vessel_and_balance_refuse_scales_of_other_units():
    with pytest.raises(UnitError, match="volume"):
        Vessel(Scale(1, "g"))
    with pytest.raises(UnitError, match="time"):
        Stopwatch(Scale(1, "g"))
