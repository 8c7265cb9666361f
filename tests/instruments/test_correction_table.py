"""Correction tables: values and covariance between the points, signs, and what is refused."""

import math
import pickle

import numpy as np
import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import Length, Mass, Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import Scale, Thermometer
from flowunc.instruments.correction_table import CorrectionTable

POINTS = Temperature([0, 20, 40], "degC")
VALUES = [0.05, -0.10, -0.20]
COMMON, OWN = 0.03, 0.02


def table(**options):
    corrections = Quantity(VALUES, "K", shared(standard(COMMON)), standard(OWN))
    return CorrectionTable(points=POINTS, corrections=corrections, **options)


def exact(values, unit="degC"):
    return Temperature(values, unit)


def test_values_are_those_of_a_linear_interpolation():
    read = np.array([0.0, 5.0, 20.0, 31.0, 40.0])
    added = table().at(exact(read))
    assert added.value == pytest.approx(np.interp(read, [0, 20, 40], VALUES), abs=1e-12)
    assert added.unit == "K"
    assert table().at(exact(31.0)).value == pytest.approx(-0.155, abs=1e-12)


def test_covariance_follows_from_common_and_own_errors():
    # by the definition of covariance for weights W over the points: W (OWN^2 1 + COMMON^2) W'
    read = [5.0, 20.0, 25.0, 40.0]
    weights = np.array([[0.75, 0.25, 0], [0, 1, 0], [0, 0.75, 0.25], [0, 0, 1]])
    matrix = weights @ (OWN**2 * np.eye(3) + COMMON**2) @ weights.T
    added = table().at(exact(read))
    np.testing.assert_allclose(added.covariance(added), matrix, rtol=1e-10)
    # two corrections far apart have only the common error between them
    assert added[1].correlation(added[3]) == pytest.approx(
        COMMON**2 / (COMMON**2 + OWN**2), rel=1e-10
    )


def test_drawn_and_linear_agree():
    added = table(interpolation=limits(0.01)).at(Temperature([5.0, 25.0], "degC", limits(2)))
    drawn = added.monte_carlo(40_000, seed=2)
    np.testing.assert_allclose(drawn.u, added.u, rtol=5 / math.sqrt(2 * 40_000))


def test_the_reading_enters_with_the_slope_of_its_segment():
    # -0.10 to -0.20 over 20 K: -0.005 K per K; corrected reading moves by 0.995
    plain = CorrectionTable(points=POINTS, corrections=Quantity(VALUES, "K"))
    corrected = plain.corrected(Temperature(30, "degC", standard(1)))
    assert corrected.u == pytest.approx(0.995, rel=1e-10)
    assert corrected.unit == "degC"


def test_a_thermometer_adds_it_to_every_reading():
    tank = Thermometer(Scale(0.5, "degC"), correction=table())
    first, second = tank.read(25.0), tank.read(25.0)
    assert first.value == pytest.approx(24.875, abs=1e-10)
    # the table cancels between readings of one temperature, the resolution (slope 0.995) not
    assert (first - second).u == pytest.approx(0.995 * math.sqrt(2) * 0.25 / math.sqrt(3))
    labels = [component.label for component in first.components]
    assert labels == [
        "thermometer resolution",
        "thermometer correction standard uncertainty",
        "thermometer correction standard uncertainty 2",
    ]


def test_errors_of_indication_have_the_other_sign():
    corrections = Quantity(VALUES, "K", standard(OWN))
    of_errors = CorrectionTable.from_errors(points=POINTS, errors=corrections)
    read = exact([5.0, 25.0])
    assert of_errors.at(read).value == pytest.approx([-0.0125, 0.125], abs=1e-12)
    names = {c.label for c in of_errors.at(read, "tank").components}
    assert names == {"tank correction"}


def test_a_relative_correction_is_multiplied_with_the_reading():
    meter = CorrectionTable(
        points=VolumeFlowRate([1, 3], "L/min"), corrections=Quantity([2, 1], "%", standard(0.5))
    )
    flow = meter.corrected(VolumeFlowRate([1.0, 2.0, 3.0], "L/min"))
    assert isinstance(flow, VolumeFlowRate)
    assert flow.value == pytest.approx([1.02, 2.03, 3.03], rel=1e-12)
    # halfway the own errors of both points meet with half weight: 0.5 % / sqrt(2)
    assert flow.u == pytest.approx([0.005, 2 * 0.005 / math.sqrt(2), 0.015], rel=1e-10)


def test_other_units_of_points_and_readings():
    balance = CorrectionTable(points=Mass([0, 5], "kg"), corrections=Mass([0, 3], "g"))
    assert balance.corrected(Mass(2500, "g")).value == pytest.approx(2501.5, rel=1e-12)
    # 68 degF is 20 degC [NIST SP 811, B.8]
    assert table().at(exact(68.0, "degF")).value == pytest.approx(-0.10, abs=1e-12)


def test_the_interpolation_is_one_error_of_the_table():
    wide = table(interpolation=limits(0.06))
    added = wide.at(exact([20.0, 40.0]), "tank")
    expected = math.sqrt(COMMON**2 + OWN**2 + 0.06**2 / 3)
    assert added.u == pytest.approx([expected] * 2, rel=1e-10)
    assert (added[0] - added[1]).u == pytest.approx(OWN * math.sqrt(2), rel=1e-10)
    assert "tank correction interpolation" in {c.label for c in added.components}


def test_a_pickled_table_is_the_same_table():
    mine = table(label="certificate")
    copy = pickle.loads(pickle.dumps(mine))
    assert copy.label == "certificate"
    assert (mine.at(exact(25.0)) - copy.at(exact(25.0))).u == pytest.approx(0.0, abs=1e-18)


@pytest.mark.parametrize(("read", "place"), [(41.0, ": 41"), ([20.0, -0.5], ", reading 1: -0.5")])
def test_it_is_not_extrapolated(read, place):
    tank = Thermometer(Scale(0.5, "degC"), correction=table(), label="tank")
    with pytest.raises(RangeError, match=rf"^tank{place} degC lies outside .*0 to 40 degC"):
        tank.read(read)


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"points": [0, 20, 40]}, DimensionError, "Temperature"),
        ({"points": Temperature(20, "degC")}, ShapeError, "single correction is Quantity"),
        ({"points": Temperature([0, 40, 20], "degC")}, RangeError, "20 follows 40 degC"),
        ({"points": Temperature([0, 0, 20], "degC")}, RangeError, "each once"),
        ({"points": Temperature([0, 20, 40], "degC", limits(1))}, StatementError, "exact"),
        ({"corrections": VALUES}, DimensionError, r"Quantity\(\[...\], 'K'\)"),
        ({"corrections": Temperature([1, 2, 3], "K")}, DimensionError, "got Temperature in 'K'"),
        ({"corrections": Quantity([1, 2, 3], "%")}, DimensionError, "in '%' for points in 'degC'"),
        ({"corrections": Length([1, 2, 3], "mm")}, DimensionError, "in 'mm'"),
        ({"corrections": Quantity([1, 2], "K")}, ShapeError, "2 corrections for 3 points"),
        ({"interpolation": 0.1}, StatementError, "0.1"),
        ({"label": 3}, RangeError, "label=3"),
    ],
)
def test_what_is_no_table_is_refused(options, error, match):
    with pytest.raises(error, match=match):
        CorrectionTable(**{"points": POINTS, "corrections": Quantity(VALUES, "K"), **options})


@pytest.mark.parametrize("reading", [25.0, Length(25, "mm"), Quantity(25, "K")])
def test_readings_of_another_kind_are_refused(reading):
    with pytest.raises(DimensionError, match="expected Temperature like its points in 'degC'"):
        table().at(reading)


def test_a_table_of_lengths_does_not_correct_a_thermometer():
    wrong = CorrectionTable(points=Length([0, 1], "mm"), corrections=Length([0, 1], "um"))
    with pytest.raises(DimensionError, match="table with points in 'mm'"):
        Thermometer(Scale(0.5, "degC"), correction=wrong)
