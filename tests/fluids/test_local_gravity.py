"""Normal gravity against the WGS 84 values, and what is added to it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import (
    Acceleration,
    Angle,
    DimensionError,
    Length,
    RangeError,
    Ratio,
    StatementError,
    Temperature,
    limits,
    standard,
)
from flowunc.fluids import gravity

SEA = Length(0, "m")
# [WGS 84] normal gravity: formula read, values computed; the pole is defined as 9.8321849378.
WGS_84 = [(0, 9.7803253359), (45, 9.8061977694), (52, 9.8124740779), (90, 9.8321849379)]


@pytest.mark.parametrize(("degrees", "expected"), WGS_84)
def test_normal_gravity(degrees: float, expected: float) -> None:
    for latitude in (degrees, -degrees):
        found = gravity(Angle(latitude, "deg"), SEA)
        assert isinstance(found, Acceleration)
        assert found.value == pytest.approx(expected, abs=1.01e-10)


def test_free_air_gradient() -> None:
    # Newton: g falls by 2/R of itself per metre, R = 6371.0 km (mean radius, IUGG); 0.4 % is what
    # the turning and the flattening of the earth add
    low, high = (gravity(Angle(45, "deg"), Length(h, "m"), anomaly=limits(0)) for h in (0, 1000))
    assert (low.value - high.value) / low.value == pytest.approx(2 * 1000 / 6371.0e3, rel=5e-3)


def test_default_anomaly() -> None:
    # up to some 5e-4 m/s2, so u = 2e-4 m/s2 (from memory)
    found = gravity(Angle(52, "deg"), SEA)
    assert found.u == pytest.approx(2e-4, rel=1e-12)
    assert [c.label for c in found.components] == ["gravity anomaly"]


def test_height_left_out_is_an_uncertain_one() -> None:
    found = gravity(Angle(52, "deg"))
    assert found.value == gravity(Angle(52, "deg"), SEA).value
    # 500 m either way, rectangular, by the free-air gradient of 3.086e-6 /s2 (from memory)
    assert found.u == pytest.approx(math.hypot(2e-4, 3.086e-6 * 500 / math.sqrt(3)), rel=1e-9)
    assert len(found.components) == 2


@pytest.mark.parametrize(
    ("statement", "expected"),
    [
        (limits(0), 0.0),
        (standard(5e-5), 5e-5),
        (standard(3, "cm/s^2"), 0.03),
        (limits(3e-4), 3e-4 / math.sqrt(3)),
    ],
)
def test_anomaly_as_stated(statement: object, expected: float) -> None:
    found = gravity(Angle(52, "deg"), SEA, anomaly=statement)
    assert found.u == pytest.approx(expected, rel=1e-12)


def test_anomaly_must_be_a_statement_in_its_unit() -> None:
    with pytest.raises(StatementError, match=r"0\.0002.*statement such as standard"):
        gravity(Angle(52, "deg"), anomaly=2e-4)
    with pytest.raises(StatementError, match="mm"):
        gravity(Angle(52, "deg"), anomaly=limits(3, "mm"))


def test_latitude_and_height_are_propagated() -> None:
    # leading term of normal gravity, 0.0517 m/s2 sin(2 latitude) per radian: half the difference
    # between pole and equator is 0.0259 m/s2 [WGS 84]
    latitude = Angle(45, "deg", standard(0.5))
    found = gravity(latitude, SEA, anomaly=limits(0))
    assert found.u == pytest.approx(0.0517 * math.radians(0.5), rel=5e-3)
    height = Length(300, "m", standard(100))
    found = gravity(Angle(45, "deg"), height, anomaly=limits(0))
    assert found.u == pytest.approx(2 * 9.806 * 100 / 6371.0e3, rel=5e-3)


def test_one_anomaly_behind_several_latitudes() -> None:
    found = gravity(Angle([50, 51], "deg"), SEA)
    assert (found[0] - found[1]).u == pytest.approx(0.0, abs=1e-18)
    stated = gravity(Angle([50, 51], "deg"), SEA, anomaly=standard(1e-4))
    assert (stated[0] - stated[1]).u == pytest.approx(0.0, abs=1e-18)
    assert np.allclose(stated.u, 1e-4)


@pytest.mark.parametrize("degrees", [90.01, -91, 180])
def test_latitudes_beyond_the_pole_are_refused(degrees: float) -> None:
    with pytest.raises(RangeError, match=rf"latitude=.*{degrees:g} deg; expected -90 to 90 deg"):
        gravity(Angle(degrees, "deg"))


@pytest.mark.parametrize("metres", [-501, 9001])
def test_heights_beyond_the_range_are_refused(metres: float) -> None:
    with pytest.raises(RangeError, match=f"height=.*{metres} m; expected -500 to 9000 m"):
        gravity(Angle(52, "deg"), Length(metres, "m"))


def test_other_kinds_are_refused() -> None:
    with pytest.raises(DimensionError, match=r"latitude.*float 52\.0.*Angle"):
        gravity(52.0)
    with pytest.raises(DimensionError, match=r"height.*Temperature.*Length"):
        gravity(Angle(52, "deg"), Temperature(20, "degC"))
    # a pure number counts in radians; degrees given as one lie far outside
    with pytest.raises(RangeError, match=r"2979\.38053 deg"):
        gravity(Ratio(52, "1"))
