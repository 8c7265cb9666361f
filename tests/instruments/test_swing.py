"""Swinging readings: which distribution stands behind a band, and what it is added to."""

import math

import numpy as np
import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import Density, VolumeFlowRate
from flowunc.core.statements import limits
from flowunc.instruments import Scale, Thermometer, VariableAreaMeter, percent_of_reading
from flowunc.instruments.swing import read_band, swinging

FINE = Scale(0.1, "L/min", span=(0.4, 4.0), read_to=1e-6)


def meter(**options):
    return VariableAreaMeter(FINE, accuracy=percent_of_reading(0), **options)


# u / a: [JCGM 100, 4.3.7] rectangular, [JCGM 100, 4.3.9] triangular, [JCGM 101, table 1] arcsine
@pytest.mark.parametrize(
    ("shape", "divisor"), [("rectangular", 3), ("triangular", 6), ("arcsine", 2)]
)
def test_shapes(shape, divisor):
    flow = VolumeFlowRate(2.0, "L/min", swinging(1.9, 2.1, shape=shape))
    assert flow.u == pytest.approx(0.1 / math.sqrt(divisor), rel=1e-12)


def test_a_reading_caught_in_a_sinusoidal_swing_is_off_as_the_arcsine_says():
    # readings of 2.0 + 0.1 sin(phase) at moments evenly spread over the period, from the
    # definition of a root mean square; with any other shape the linear u would differ by 18 %
    phase = 2 * np.pi * np.arange(1000) / 1000
    caught = 2.0 + 0.1 * np.sin(phase)
    rms = math.sqrt(np.mean((caught - 2.0) ** 2))
    flow = VolumeFlowRate(2.0, "L/min", swinging(1.9, 2.1, shape="arcsine"))
    assert flow.u == pytest.approx(rms, rel=1e-9)
    drawn = flow.monte_carlo(20_000, seed=1)
    low, high = drawn.interval(0.999)
    assert 1.9 - 1e-9 <= low < 1.901
    assert 2.099 < high <= 2.1 + 1e-9


def test_the_default_claims_no_more_than_the_band():
    assert swinging(1.9, 2.1).role == "limits"


def test_the_middle_of_a_band_is_read_with_the_band_as_an_error():
    flow = read_band(meter(), [1.9, 2.9], [2.1, 3.3])
    assert isinstance(flow, VolumeFlowRate)
    assert flow.value == pytest.approx([2.0, 3.1], rel=1e-12)
    assert flow.u == pytest.approx(np.array([0.1, 0.2]) / math.sqrt(3), rel=1e-9)
    # independent from reading to reading
    assert (flow[0] - flow[1]).to("L/min").u == pytest.approx(math.hypot(0.1, 0.2) / math.sqrt(3))


def test_the_swing_comes_on_top_of_resolution_and_calibration():
    tank = Thermometer(Scale(0.5, "degC"), accuracy=limits(0.3))
    reading = read_band(tank, 19.0, 20.0, limits(0.1))
    # half-widths 0.25, 0.3, 0.5 and 0.1, each over sqrt(3) [JCGM 100, 4.3.7]
    expected = math.sqrt((0.25**2 + 0.3**2 + 0.5**2 + 0.1**2) / 3)
    assert reading.u == pytest.approx(expected, rel=1e-12)
    assert reading.unit == "degC"
    assert [c.label for c in reading.components][2] == "thermometer swing"


def test_two_columns_have_swings_of_two_names():
    tank = Thermometer(Scale(0.5, "degC"))
    labels = [
        component.label
        for part in ("in", "out")
        for component in read_band(tank, 19, 20, label=part).components
    ]
    assert len(set(labels)) == len(labels)


def test_options_reach_the_instrument():
    heavy = meter(
        calibration_density=Density(998.2, "kg/m^3"), float_density=Density(7900, "kg/m^3")
    )
    brine = Density(1100, "kg/m^3")
    band = read_band(heavy, 1.9, 2.1, density=brine)
    assert band.value == pytest.approx(heavy.read(2.0, density=brine).value, rel=1e-12)


def test_no_swing_is_no_error():
    assert read_band(meter(), 2.0, 2.0).u == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("make", "error", "match"),
    [
        (lambda: swinging(2.1, 1.9), RangeError, "2.1 to 1.9; expected the lowest reading first"),
        (lambda: swinging([1, 3], [2, 2]), RangeError, "at reading 1: 3 to 2"),
        (lambda: swinging([1, 3], 4), ShapeError, "2 lower and 1 upper"),
        (lambda: swinging(1, math.nan), RangeError, "high: NaN"),
        (lambda: swinging(1, 2, shape="sine"), StatementError, "'sine'.*'arcsine'"),
        (lambda: swinging(1, 2, shape=["arcsine"]), StatementError, "expected 'rectangular'"),
        (lambda: read_band(meter(), 3.9, 4.1), RangeError, "4.1 L/min lies off the scale"),
        (lambda: read_band(1.9, 2.1, 2.0), DimensionError, "expected the instrument"),
    ],
)
def test_misuse_is_named(make, error, match):
    with pytest.raises(error, match=match):
        make()
