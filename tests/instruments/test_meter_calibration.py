"""Meters that go by a calibration line: what the line brings, and what it replaces."""

from __future__ import annotations

import copy
import math
import pickle

import numpy as np
import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import Density, Length, Ratio, VolumeFlowRate
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import Scale, VariableAreaMeter, percent_of_full_scale

SCALE = Scale(0.1, "L/min", span=(0.4, 4.0))
FINE = Scale(0.1, "L/min", span=(0.4, 4.0), read_to=1e-9)
RESOLUTION = 0.05 / math.sqrt(3)  # [JCGM 100, F.2.2.1]
LINE = {
    "intercept": VolumeFlowRate(0.1, "L/min", standard(0.03)),
    "slope": Ratio(0.95, "1", standard(0.01)),
    "span": (0.5, 3.5),
}


def sheet(scale=SCALE, **options):
    return VariableAreaMeter(scale, accuracy=percent_of_full_scale(4), **options)


def labels(quantity):
    return [component.label for component in quantity.components]


def test_the_line_takes_the_place_of_the_data_sheet() -> None:
    flow = sheet().calibrated(**LINE).read([1.0, 3.0], label="flow")
    assert isinstance(flow, VolumeFlowRate)
    assert (flow.unit, flow.label) == ("L/min", "flow")
    # 0.1 + 0.95 x
    np.testing.assert_allclose(flow.value, [1.05, 2.95], rtol=1e-13)
    expected = [math.sqrt(0.03**2 + (x * 0.01) ** 2 + (0.95 * RESOLUTION) ** 2) for x in (1, 3)]
    np.testing.assert_allclose(flow.u, expected, rtol=1e-12)
    assert labels(flow) == [
        "flow meter calibration intercept",
        "flow meter calibration slope",
        "flow meter resolution, flow",
    ]


def test_errors_of_the_line_are_shared_and_scatter_is_not() -> None:
    meter = sheet(FINE).calibrated(**LINE, scatter=standard(0.05))
    a, b = meter.read([1.0, 3.0])
    # cov = u_a^2 + x1 x2 u_b^2
    assert a.covariance(b) == pytest.approx(0.03**2 + 3 * 0.01**2, rel=1e-9)
    # so the difference has 2 u_b and two scatters
    assert (b - a).to("L/min").u == pytest.approx(math.sqrt(0.02**2 + 2 * 0.05**2), rel=1e-9)
    again = meter.read(1.0)
    assert (again - a).to("L/min").u == pytest.approx(math.sqrt(2) * 0.05, rel=1e-9)


# The scatter of residuals holds the resolution of the readings already: the larger counts.
@pytest.mark.parametrize(("scatter", "total"), [(0.05, 0.05), (0.01, 0.95 * RESOLUTION)])
def test_the_resolution_does_not_count_twice(scatter, total) -> None:
    exact = {"intercept": VolumeFlowRate(0.1, "L/min"), "slope": Ratio(0.95, "1")}
    meter = sheet().calibrated(**exact, span=(0.5, 3.5), scatter=standard(scatter))
    assert meter.read(2.0).u == pytest.approx(total, rel=1e-12)


def test_drift_is_one_error_behind_all_readings() -> None:
    meter = sheet(FINE).calibrated(
        intercept=VolumeFlowRate(0, "L/min"),
        slope=Ratio(1, "1"),
        span=(0.5, 3.5),
        drift=limits(0.03),
    )
    a, b = meter.read(1.0), meter.read(3.0)
    assert a.u == pytest.approx(0.03 / math.sqrt(3), rel=1e-9)
    assert (a - b).to("L/min").u == pytest.approx(0, abs=1e-8)
    assert "flow meter drift since its calibration" in labels(a)


def test_the_meter_as_it_came_stays() -> None:
    came = sheet()
    assert came.calibrated(**LINE).line is not None
    assert came.line is None
    assert came.read(2.0).value == pytest.approx(2.0)
    assert "flow meter calibration" in labels(came.read(2.0))


def test_a_zero_error_of_the_scale_is_in_the_intercept() -> None:
    scale = Scale(0.1, "L/min", span=(0.4, 4.0), zero_error=limits(0.2))
    assert "flow meter zero error" in labels(sheet(scale).read(2.0))
    assert "flow meter zero error" not in labels(sheet(scale).calibrated(**LINE).read(2.0))


@pytest.mark.parametrize("again", [copy.deepcopy, lambda item: pickle.loads(pickle.dumps(item))])
def test_a_copy_is_the_same_meter(again) -> None:
    meter = sheet(FINE).calibrated(**LINE)
    assert (meter.read(2.0) - again(meter).read(2.0)).to("L/min").u == pytest.approx(0, abs=1e-8)


def test_drawing_and_linearising_agree() -> None:
    flow = sheet().calibrated(**LINE, scatter=standard(0.04)).read([1.0, 3.0])
    drawn = flow.monte_carlo(40_000, seed=2)
    np.testing.assert_allclose(drawn.u, flow.u, rtol=5 / math.sqrt(2 * 40_000))


# [VDI/VDE 3513-1]; float 8000, calibrated in a liquid of 1000, used in 2000: sqrt(3/7).
def test_the_line_holds_for_the_liquid_of_the_calibration() -> None:
    heavy = Density(8000, "kg/m^3")
    came = sheet(calibration_density=Density(800, "kg/m^3"), float_density=heavy)
    meter = came.calibrated(**LINE, density=Density(1000, "kg/m^3"))
    same = meter.read(2.0, density=Density(1000, "kg/m^3"))
    assert same.value == pytest.approx(2.0, rel=1e-13)
    other = meter.read(2.0, density=Density(2000, "kg/m^3"))
    assert other.value == pytest.approx(2.0 * math.sqrt(3 / 7), rel=1e-13)
    with pytest.raises(StatementError, match="density= of the liquid in the calibration"):
        came.calibrated(**LINE)
    with pytest.raises(StatementError, match="does not know its own"):
        sheet().calibrated(**LINE, density=Density(1000, "kg/m^3"))


@pytest.mark.parametrize(("values", "place"), [(0.45, ":"), ([1.0, 3.6], ", reading 1:")])
def test_outside_the_calibration_a_reading_is_refused(values, place) -> None:
    meter = sheet().calibrated(**LINE)
    with pytest.raises(RangeError, match=f"flow meter{place} .*outside its calibration from 0.5"):
        meter.read(values)
    meter.read([0.5, 3.5])  # the ends belong to it


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        ({"intercept": Length(1, "mm")}, DimensionError, "intercept=.*got Length"),
        ({"slope": 0.95}, DimensionError, "slope=.*got float"),
        ({"slope": Ratio(-1, "1")}, RangeError, "slope -1; expected above 0"),
        ({"slope": Ratio([1, 2], "1")}, ShapeError, "2 values of the slope"),
        ({"span": (3.5, 0.5)}, RangeError, "lowest reading first"),
        ({"span": (0.2, 3.5)}, RangeError, "off the scale"),
        ({"span": None}, RangeError, "expected"),
        ({"scatter": 0.05}, StatementError, "scatter=0.05"),
        ({"drift": 0.05}, StatementError, "drift=0.05"),
        ({"scatter": shared(standard(0.05))}, StatementError, "shared"),
    ],
)
def test_what_is_no_line_is_refused(change, error, match) -> None:
    with pytest.raises(error, match=match):
        sheet().calibrated(**LINE | change)
