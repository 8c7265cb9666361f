"""The time that starting and stopping add: from closed forms of a steady flow."""

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import Mass, Time, Volume
from flowunc.core.statements import standard
from flowunc.instruments.switching import switching_error


def found(bursts=20, **change):
    # 2 kg/s for 0.3 s longer than shown: 60 s in one go, and 20 times 3 s
    given = {
        "mass": Mass(2 * 60.3, "kg"),
        "time": Time(60, "s"),
        "burst_mass": Mass(2 * (60 + 20 * 0.3), "kg"),
        "burst_time": Time(60, "s"),
    }
    return switching_error(**given | change, bursts=bursts)


def test_a_steady_flow_gives_back_its_delay():
    assert isinstance(found(), Time)
    assert found().value == pytest.approx(0.3, rel=1e-12)
    assert found().label == "switching time"


def test_a_clock_that_runs_longer_than_the_flow():
    early = found(mass=Mass(2 * 59.8, "kg"), burst_mass=Mass(2 * (60 - 20 * 0.2), "kg"))
    assert early.value == pytest.approx(-0.2, rel=1e-11)


def test_the_steadiness_of_the_flow_limits_it():
    # 0.1 % of the ratio of both flows shifts it by 0.1 % of (60 + 20 * 0.3) s over 19 bursts
    # and less: d(delay) = (M/m) e t / (n - M/m), from the defining equation [C]
    uneven = found(burst_mass=Mass(132, "kg", standard(0.132)))
    ratio = 132 / 120.6
    expected = ratio * 1e-3 * 60.3 / (20 - ratio)
    assert uneven.u == pytest.approx(expected, rel=1e-9)
    assert not math.isclose(uneven.u, 0)


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        ({"bursts": 1}, RangeError, "bursts=1"),
        ({"bursts": 2.5}, RangeError, r"bursts=2\.5"),
        ({"mass": Volume(1, "L")}, DimensionError, "mass=.*got Volume"),
        ({"time": Time(0, "s")}, RangeError, "time=0 s"),
        ({"burst_time": Time(700, "s")}, RangeError, "bursts of 35 s on average against 60 s"),
    ],
)
def test_misuse_is_named(change, error, match):
    with pytest.raises(error, match=match):
        found(**change)
