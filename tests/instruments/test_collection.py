"""Timed collection: flow rate by weighing and by volume."""

import math
import pickle

import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import Density, Mass, MassFlowRate, Time, Volume, VolumeFlowRate
from flowunc.core.statements import limits, shared, standard
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


# -- what is lost, what drips, and the switch -----------------------------------------------------
def test_what_drips_is_new_at_each_collection_or_one_habit():
    given = {"mass": [4000.0, 4000.0], "time": [60.0, 60.0], "density": WATER, "air_density": AIR}
    exact = Balance(Scale(1e-9, "g", kind="digital"))
    timer = Stopwatch(Scale(1e-9, "s", kind="digital"))
    each = TimedCollection(balance=exact, stopwatch=timer, drip=limits(6)).read(**given)
    # 6 g / sqrt 3 in 4000 g
    assert each.u / each.value == pytest.approx([6 / math.sqrt(3) / 4000] * 2, rel=1e-9)
    assert (each[1] - each[0]).u == pytest.approx(math.sqrt(2) * each[0].u, rel=1e-9)
    habit = TimedCollection(balance=exact, stopwatch=timer, drip=shared(limits(6)))
    first, later = habit.read(**given), habit.read(**given)
    assert first.u == pytest.approx(each.u, rel=1e-9)
    assert (later - first).u == pytest.approx([0.0] * 2, abs=1e-6 * float(each.u[0]))
    assert "drip and splash" in labels(first)
    assert habit.drip == shared(limits(6))


@pytest.mark.parametrize("tared", [False, True])
@pytest.mark.parametrize("drip", [limits(60), shared(limits(60))])
def test_what_drips_is_one_error_behind_both_flows_of_one_collection(drip, tared):
    scale, timer = balance(accuracy=limits(3)), watch(limits(0.2))
    bucket = TimedCollection(balance=scale, stopwatch=timer, drip=drip)
    given = {"mass": scale.read([5100.0, 5200.0]), "time": timer.read([60.0, 61.0])}
    given |= {"density": Density(998.2, "kg/m^3", limits(0.5))}
    if tared:
        given["tare"] = scale.read(1140.0)
    mass_flow = bucket.mass_flow(**given)
    assert (mass_flow.u / mass_flow.value).min() > 0.006  # the drip counts: 60/sqrt(3) of 5200
    difference = bucket.read(**given) * given["density"] - mass_flow
    assert difference.u / mass_flow.value == pytest.approx([0, 0], abs=1e-15)
    # one of the readings by itself, with a bucket out of a pickle
    alone = given | {"mass": given["mass"][1], "time": given["time"][1]}
    for same in (bucket, pickle.loads(pickle.dumps(bucket))):
        assert (same.mass_flow(**alone) - mass_flow[1]).u < 1e-15 * mass_flow.value[1]


def test_drip_by_volume_is_in_the_unit_of_the_vessel():
    bucket = TimedCollection(
        vessel=Vessel(Scale(1e-9, "mL")), stopwatch=watch(), drip=limits(1, "mL")
    )
    flow = bucket.read(volume=100.0, time=60.0)
    assert flow.u / flow.value == pytest.approx(
        math.hypot(0.01 / math.sqrt(3), 0.005 / math.sqrt(3) / 60), rel=1e-9
    )


def test_what_evaporated_is_added():
    bucket = TimedCollection(balance=balance(), stopwatch=watch())
    given = {"time": 60.0, "density": WATER, "air_density": AIR}
    flow = bucket.read(mass=3990.0, lost=Mass(10, "g", limits(5)), **given)
    whole = bucket.read(mass=4000.0, **given)
    assert flow.value == pytest.approx(whole.value, rel=1e-13)
    assert (flow.u / flow.value) ** 2 - (whole.u / whole.value) ** 2 == pytest.approx(
        (5 / math.sqrt(3) / 4000) ** 2, rel=1e-9
    )
    assert "lost in collecting" in labels(flow)


def test_a_vessel_that_was_not_empty():
    cylinder = Vessel(Scale(10, "mL", span=(0, 1000)), accuracy=limits(5))
    bucket = TimedCollection(vessel=cylinder, stopwatch=watch())
    flow = bucket.read(volume=900.0, volume_before=100.0, time=30.0)
    assert flow.to("L/min").value == pytest.approx(1.6, rel=1e-13)
    # the calibration of 5 mL cancels, two resolutions of 5 mL stay
    relative = math.hypot(math.sqrt(50 / 3) / 800, 0.005 / math.sqrt(3) / 30)
    assert flow.u / flow.value == pytest.approx(relative, rel=1e-12)


def test_the_switch_is_one_error_of_time_behind_all_collections():
    delay = Time(0.5, "s", standard(0.1))
    bucket = TimedCollection(
        vessel=Vessel(Scale(1e-9, "mL")),
        stopwatch=Stopwatch(Scale(1e-9, "s", kind="digital")),
        switching=delay,
    )
    flow = bucket.read(volume=[1000.0, 1000.0], time=[49.5, 99.5])
    assert flow.to("L/s").value == pytest.approx([0.02, 0.01], rel=1e-12)
    assert flow.u / flow.value == pytest.approx([0.002, 0.001], rel=1e-9)
    assert flow[0].correlation(flow[1]) == pytest.approx(1.0, rel=1e-9)
    assert bucket.switching is not None
    assert bucket.switching.label == "switching time"


def test_mass_flow_hardly_depends_on_the_density():
    bucket = TimedCollection(balance=balance(), stopwatch=watch())
    flow = bucket.mass_flow(mass=6000.0, time=60.0, density=WATER, air_density=AIR)
    assert isinstance(flow, MassFlowRate)
    assert flow.value == pytest.approx(0.1 * 1.0010534224, rel=1e-10)  # [ISO 4185], [C]
    thin = bucket.mass_flow(
        mass=6000.0, time=60.0, density=Density(1000, "kg/m^3"), air_density=AIR
    )
    assert thin.value == pytest.approx(0.1 * 1.0010512615, rel=1e-10)
    by_volume = TimedCollection(vessel=Vessel(Scale(10, "mL")), stopwatch=watch())
    with pytest.raises(StatementError, match="a mass flow needs a balance"):
        by_volume.mass_flow(mass=1.0, time=1.0, density=WATER)


@pytest.mark.parametrize(
    ("given", "error", "match"),
    [
        ({"lost": Mass(-1, "g")}, RangeError, "lost -1 g; expected 0 or more"),
        ({"lost": Volume(1, "mL")}, DimensionError, "lost=.*got Volume"),
        ({"volume_before": 1.0}, StatementError, "volume_before= has no use"),
    ],
)
def test_misuse_of_losses_is_named(given, error, match):
    bucket = TimedCollection(balance=balance(), stopwatch=watch())
    with pytest.raises(error, match=match):
        bucket.read(**{"mass": 4000.0, "time": 60.0, "density": WATER} | given)


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"drip": 2}, StatementError, "drip=2"),
        ({"drip": limits(2, "s")}, StatementError, "same dimension"),
        ({"switching": 0.1}, DimensionError, "switching="),
        ({"switching": Time([1, 2], "s")}, ShapeError, "2 switching times"),
    ],
)
def test_drip_and_switch_that_do_not_fit_are_refused(options, error, match):
    with pytest.raises(error, match=match):
        TimedCollection(balance=balance(), stopwatch=watch(), **options).read(
            mass=1.0, time=60.0, density=WATER
        )


def test_a_switch_longer_than_the_collection_is_refused():
    bucket = TimedCollection(
        vessel=Vessel(Scale(10, "mL")), stopwatch=watch(), switching=Time(-3, "s")
    )
    with pytest.raises(RangeError, match="at reading 1: the switching time"):
        bucket.read(volume=[500.0, 500.0], time=[30.0, 2.0])
