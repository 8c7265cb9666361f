"""Calibration of a meter: the thermometer example of the GUM, read as flows, and its use."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc.analysis import fit_line
from flowunc.analysis.meter_calibration import fit_calibration
from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    RangeError,
    ShapeError,
    StatementError,
)
from flowunc.core.kinds import Density, Length, VolumeFlowRate
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import (
    Balance,
    Scale,
    Stopwatch,
    TimedCollection,
    VariableAreaMeter,
    percent_of_full_scale,
    percent_of_reading,
)
from flowunc.instruments.transmitter import PressureTransmitter

# [JCGM 100, H.3, table H.6], from memory [M]: readings and corrections, here in L/min.
READING = np.array(
    [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
)
CORRECTION = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)
S = 0.003497564  # residual standard deviation [JCGM 100, H.3.2]; computed [C], printed 0.0035
REFERENCE = VolumeFlowRate(READING + CORRECTION, "L/min")


def meter(read_to=1e-9, **options):
    return VariableAreaMeter(
        Scale(0.001, "L/min", span=(20, 30), read_to=read_to),
        accuracy=percent_of_full_scale(2),
        **options,
    )


def own_line():
    """Line and covariance of its parameters by another library, about x = 20."""
    parameters, unscaled = np.polyfit(READING - 20, CORRECTION, 1, cov="unscaled")
    return parameters, unscaled * S**2


def test_the_line_is_that_of_the_gum() -> None:
    found = fit_calibration(meter(), READING, REFERENCE)
    line = found.line
    # value = reading + correction, so slope and height are those of table H.6 plus 1 and 20
    assert line.slope.value - 1 == pytest.approx(0.00218270, abs=5e-9)
    assert line.slope.u == pytest.approx(0.00066794, abs=5e-9)
    assert line.residual_standard_deviation == pytest.approx(S, abs=5e-10)
    at_20 = line.predict(VolumeFlowRate(20, "L/min"))
    assert at_20.value - 20 == pytest.approx(-0.17120379, abs=5e-9)
    assert at_20.u == pytest.approx(0.00287760, abs=5e-9)
    at_30 = line.predict(VolumeFlowRate(30, "L/min"))
    assert at_30.value - 30 == pytest.approx(-0.14937681, abs=5e-9)
    assert at_30.u == pytest.approx(0.00413860, abs=5e-9)
    assert found.span == (21.521, 26.511)
    assert "holds for readings from 21.521 to 26.511 L/min" in str(found)


def test_a_reading_has_the_line_and_one_scatter() -> None:
    calibrated = fit_calibration(meter(), READING, REFERENCE).meter
    flow = calibrated.read([22.0, 26.0])
    (slope, height), covariance = own_line()
    x = np.array([2.0, 6.0])
    np.testing.assert_allclose(flow.value, 20 + x + height + slope * x, rtol=1e-12)
    rows = np.stack([x, np.ones(2)], axis=1)
    expected = rows @ covariance @ rows.T
    matrix = np.asarray(flow.covariance(flow))
    # the errors of the line are common to the readings, the scatter is each one's own
    np.testing.assert_allclose(matrix[0, 1], expected[0, 1], rtol=1e-6)
    np.testing.assert_allclose(np.diag(matrix), np.diag(expected) + S**2, rtol=1e-6)
    # line and scatter are one sample: 9 degrees of freedom, not 9 for each
    np.testing.assert_allclose(flow.dof, 9, rtol=1e-6)
    assert flow[0].expanded(0.95).k == pytest.approx(stats.t.ppf(0.975, 9), rel=1e-6)


def test_the_resolution_is_part_of_the_scatter() -> None:
    # read to 0.001, u = 0.00029: within s = 0.0035
    fine, coarse = (
        fit_calibration(meter(read_to), READING, REFERENCE).meter.read(24.0)
        for read_to in (1e-9, 1.0)
    )
    assert coarse.u == pytest.approx(fine.u, rel=1e-7)


def test_a_common_error_of_the_reference_stays_in_full() -> None:
    gain = percent_of_reading(0.1, k=1)
    common = VolumeFlowRate(READING + CORRECTION, "L/min", shared(gain), label="reference")
    plain = fit_calibration(meter(), READING, REFERENCE).meter.read(24.0)
    flow = fit_calibration(meter(), READING, common).meter.read(24.0)
    assert flow.u == pytest.approx(math.hypot(plain.u, 0.001 * flow.value), rel=1e-6)
    # two meters on one reference are correlated through it
    other = fit_calibration(meter(), READING, common).meter.read(26.0)
    assert flow.covariance(other) == pytest.approx(1e-6 * flow.value * other.value, rel=1e-6)


def test_own_errors_of_the_reference_are_in_the_scatter() -> None:
    noisy = VolumeFlowRate(READING + CORRECTION, "L/min", standard(0.5))
    with pytest.raises(StatementError):  # a plain fit asks for a decision
        fit_line(VolumeFlowRate(READING, "L/min"), noisy, scatter=True)
    flow = fit_calibration(meter(), READING, noisy).meter.read(24.0)
    assert flow.u == pytest.approx(
        fit_calibration(meter(), READING, REFERENCE).meter.read(24.0).u, rel=1e-9
    )


def test_stated_errors_can_weigh_the_points() -> None:
    weights = np.where(READING < 24, 0.002, 0.004)
    stated = VolumeFlowRate(READING + CORRECTION, "L/min", standard(weights))
    found = fit_calibration(meter(), READING, stated, scatter=False)
    expected = np.polyfit(READING, READING + CORRECTION, 1, w=1 / weights, cov="unscaled")
    assert found.line.slope.value == pytest.approx(expected[0][0], rel=1e-9)
    assert found.line.slope.u == pytest.approx(math.sqrt(expected[1][0, 0]), rel=1e-4)
    rows = np.array([24.0, 1.0])
    line = math.sqrt(rows @ expected[1] @ rows)
    assert found.meter.read(24.0).u == pytest.approx(line, rel=1e-4)


def test_too_much_scatter_for_the_stated_errors_is_said() -> None:
    stated = VolumeFlowRate(READING + CORRECTION, "L/min", standard(0.0005))
    with pytest.warns(FlowuncWarning, match=r"calibration of flow meter: .*scatter=True"):
        fit_calibration(meter(), READING, stated, scatter=False)


def test_a_calibration_by_weighing() -> None:
    bucket = TimedCollection(
        stopwatch=Stopwatch(Scale(0.01, "s", kind="digital"), reaction=limits(0.1)),
        balance=Balance(Scale(1, "g", kind="digital"), accuracy=limits(5)),
    )
    weighed = bucket.read(
        mass=[3000.0, 4510.0, 6020.0, 7480.0, 8990.0, 10500.0, 12010.0],
        time=[180.0] * 7,
        density=Density(998.2, "kg/m^3", limits(1)),
    )
    small = VariableAreaMeter(Scale(0.1, "L/min", span=(0.4, 5)), accuracy=percent_of_full_scale(4))
    found = fit_calibration(small, [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0], weighed)
    flow = found.meter.read(2.5)
    assert flow.u < small.read(2.5).u / 2
    assert {"balance calibration", "density"} <= {c.label for c in flow.components}
    drawn = flow.monte_carlo(20_000, seed=1)
    assert drawn.mean == pytest.approx(flow.value, abs=5 * flow.u / math.sqrt(20_000))


def test_points_on_a_line_have_no_scatter() -> None:
    found = fit_calibration(meter(), [22, 24, 26], VolumeFlowRate([22, 24, 26], "L/min"))
    assert found.meter.read(23.0).value == pytest.approx(23)
    assert found.meter.read(23.0).u < 1e-9


def test_a_transmitter_is_calibrated_alike() -> None:
    cell = PressureTransmitter(
        Scale(0.001, "kPa", span=(0, 10), kind="digital"), accuracy=percent_of_full_scale(1)
    )
    reference = type(cell.read(1.0))([0.0, 2.02, 4.04, 6.06], "kPa")
    found = fit_calibration(cell, [0.0, 2.0, 4.0, 6.0], reference)
    assert found.meter.read(5.0).value == pytest.approx(5.05)
    with pytest.raises(StatementError, match="density= has no use"):
        fit_calibration(cell, [0.0, 2.0], reference[:2], density=Density(1, "kg/m^3"))


def test_density_of_the_calibration_is_handed_on() -> None:
    dense = meter(
        calibration_density=Density(1000, "kg/m^3"), float_density=Density(8000, "kg/m^3")
    )
    water = Density(1000, "kg/m^3")
    with pytest.raises(StatementError, match="density= of the liquid in the calibration"):
        fit_calibration(dense, READING, REFERENCE)
    found = fit_calibration(dense, READING, REFERENCE, density=water)
    assert found.meter.read(24.0, density=water).value == pytest.approx(23.8375, abs=1e-4)


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        ({"meter": Stopwatch(Scale(1, "s"))}, DimensionError, "got Stopwatch"),
        ({"readings": REFERENCE}, DimensionError, "what the calibration replaces"),
        ({"readings": [21.5] * 3}, ShapeError, "3 readings and 11 reference"),
        ({"readings": 21.5}, ShapeError, "1 readings and 11"),
        ({"readings": READING + 10}, RangeError, "off the scale"),
        ({"readings": READING[:2], "reference": REFERENCE[:2]}, RangeError, "2 points leave no"),
        ({"readings": [22.0] * 11}, RangeError, "at least two different"),
        ({"readings": READING[::-1]}, RangeError, "slope -"),
        ({"reference": Length(READING, "mm")}, DimensionError, "reference=.*got Length"),
        ({"reference": READING}, DimensionError, "reference="),
    ],
)
def test_what_is_no_calibration_is_refused(change, error, match) -> None:
    given = {"meter": meter(), "readings": READING, "reference": REFERENCE} | change
    with pytest.raises(error, match=match):
        fit_calibration(**given)


def test_a_corrected_meter_is_not_calibrated_again() -> None:
    calibrated = fit_calibration(meter(), READING, REFERENCE).meter
    with pytest.raises(RangeError, match="goes by a calibration line already"):
        fit_calibration(calibrated, READING, REFERENCE)
