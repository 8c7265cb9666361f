"""Timed collection: flow rate by weighing and by volume."""

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import Density, Mass, Volume, VolumeFlowRate
from flowunc.core.statements import limits, standard
from flowunc.instruments import Balance, Scale, Stopwatch, TimedCollection, Vessel

AIR = Density(1.2, "kg/m^3")
WATER = Density(998.2065, "kg/m^3")


def watch(reaction=None, **options):
    return Stopwatch(Scale(0.01, "s", kind="digital"), reaction=reaction, **options)


def balance(**options):
    return Balance(Scale(1, "g", kind="digital"), **options)


def labels(quantity):
    return [component.label for component in quantity.components]


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
