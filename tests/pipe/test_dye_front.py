"""The dye front: closed forms, and the agreement of two independent ways to a velocity."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import (
    DimensionError,
    FrictionFactor,
    Length,
    RangeError,
    Scale,
    Stopwatch,
    Time,
    VariableAreaMeter,
    Velocity,
    VolumeFlowRate,
    agreement,
    limits,
    mean_velocity,
    percent_of_full_scale,
    standard,
)
from flowunc.pipe import centreline_ratio, dye_front_velocity, mean_velocity_from_centreline

WATCH = Stopwatch(Scale(0.01, "s", kind="digital"), reaction=limits(0.2))


def test_velocity_of_a_metre_in_eight_seconds() -> None:
    found = dye_front_velocity(Length(1, "m"), Time([8, 4], "s"))
    assert type(found) is Velocity
    assert found.value.tolist() == [0.125, 0.25]
    assert found.label == "dye front velocity"


def test_reaction_at_both_ends_counts() -> None:
    # two presses of +-0.2 s: u(t) = 0.2 sqrt(2/3) s, the resolution of 0.005/sqrt 3 s besides
    found = dye_front_velocity(Length(1, "m", standard(0.001)), WATCH.read(8.0))
    time = math.hypot(0.2 * math.sqrt(2 / 3), 0.005 / math.sqrt(3))
    assert found.u / found.value == pytest.approx(math.hypot(0.001, time / 8), rel=1e-10)


def test_laminar_mean_is_half() -> None:
    front = dye_front_velocity(Length(1, "m", limits(0.002)), WATCH.read([8.0, 5.0]))
    found = mean_velocity_from_centreline(front, regime="laminar")
    assert found.label == "mean velocity from dye"
    np.testing.assert_allclose(found.value, [0.0625, 0.1], rtol=1e-14)
    np.testing.assert_allclose((found * 2 - front).u, 0, atol=1e-17)


@pytest.mark.parametrize(("n", "printed"), [(6, 0.791), (7, 0.817), (10, 0.865)])
def test_turbulent_mean_by_the_exponent(n: float, printed: float) -> None:
    # [Schlichting 1979, table 20.1], from memory
    found = mean_velocity_from_centreline(
        Velocity(1, "m/s"), FrictionFactor(n**-2, "1"), regime="turbulent"
    )
    assert found.value == pytest.approx(printed, abs=1e-3)
    # limits of the power law: 5 %
    assert found.u / found.value == pytest.approx(0.05 / math.sqrt(3), rel=1e-12)


def test_ten_per_cent_in_f_is_one_per_cent_in_the_mean() -> None:
    f = FrictionFactor(0.02, "1", standard(0.002))
    found = mean_velocity_from_centreline(Velocity(1, "m/s"), f, regime="turbulent")
    assert abs(found.correlation(f)) * found.u / found.value == pytest.approx(0.01, abs=0.001)
    ratio = centreline_ratio(f, regime="turbulent")
    assert (found * ratio).u == pytest.approx(0, abs=1e-16)


def test_comparison_with_the_meter() -> None:
    # invented: both see 1.2 L/min through 20 mm, 63.7 mm/s; the meter of another run is 20 % off
    meter = VariableAreaMeter(Scale(0.05, "L/min", span=(0, 2)), accuracy=percent_of_full_scale(2))
    bore = Length(20, "mm", limits(0.05))
    by_meter = mean_velocity(meter.read([1.2, 1.45]), bore)
    front = dye_front_velocity(Length(1, "m", limits(0.002)), WATCH.read([7.85, 7.85]))
    by_dye = mean_velocity_from_centreline(front, regime="laminar")
    found = agreement(by_dye, by_meter)
    assert found.satisfied.tolist() == [True, False]
    # nothing in common: the two are independent
    np.testing.assert_allclose(found.normalised_error, found.independent_normalised_error)


def test_refusals() -> None:
    with pytest.raises(RangeError, match=r"time=.*0 s at reading 1; expected a value above 0"):
        dye_front_velocity(Length(1, "m"), Time([8, 0], "s"))
    with pytest.raises(RangeError, match=r"distance=.*0 m; expected a value above 0"):
        dye_front_velocity(Length(0, "m"), Time(8, "s"))
    with pytest.raises(DimensionError, match=r"time=.*Length.*Time"):
        dye_front_velocity(Length(1, "m"), Length(1, "m"))
    velocity = Velocity(0.1, "m/s")
    with pytest.raises(RangeError, match=r"from_centreline\(regime='transitional'\)"):
        mean_velocity_from_centreline(velocity, regime="transitional")
    with pytest.raises(DimensionError, match="no friction factor"):
        mean_velocity_from_centreline(velocity, regime="turbulent")
    with pytest.raises(DimensionError, match="friction factor for laminar flow"):
        mean_velocity_from_centreline(velocity, FrictionFactor(0.03, "1"), regime="laminar")
    with pytest.raises(RangeError, match=r"centreline=.*-0\.1 m/s; expected a value 0 or more"):
        mean_velocity_from_centreline(-velocity, regime="laminar")
    with pytest.raises(DimensionError, match=r"centreline=.*VolumeFlowRate.*Velocity"):
        mean_velocity_from_centreline(VolumeFlowRate(1, "L/min"), regime="laminar")
