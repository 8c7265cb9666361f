"""The thermometer: temperatures on a scale with a zero of its own, differences for the rest."""

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError, UnitError
from flowunc.core.kinds import Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.statements import expanded, limits, standard
from flowunc.instruments import Scale, Thermometer, percent_of_reading
from flowunc.instruments.correction_table import CorrectionTable
from flowunc.instruments.emergent_stem import EmergentStem

RESOLUTION = 0.25 / math.sqrt(3)


def test_a_reading_is_a_temperature_in_the_unit_of_the_scale():
    reading = Thermometer(Scale(0.5, "degC"), accuracy=expanded(0.30, k=2)).read([19.0, 19.5])
    assert isinstance(reading, Temperature)
    assert reading.unit == "degC"
    assert reading.value == pytest.approx([19.0, 19.5], rel=1e-13)
    assert reading.u == pytest.approx([math.hypot(RESOLUTION, 0.15)] * 2, rel=1e-12)
    assert [c.label for c in reading.components] == [
        "thermometer resolution",
        "thermometer calibration",
    ]


def test_a_correction_is_added_and_its_error_shared():
    correction = Quantity(-0.3, "K", expanded(0.1, k=2))
    reading = Thermometer(Scale(0.5, "degC"), correction=correction).read([19.0, 19.0])
    assert isinstance(reading, Temperature)
    assert reading.unit == "degC"
    assert reading.label == "thermometer"
    assert reading.value == pytest.approx([18.7, 18.7], abs=1e-10)
    assert reading.u == pytest.approx([math.hypot(RESOLUTION, 0.05)] * 2, rel=1e-12)
    assert (reading[0] - reading[1]).u == pytest.approx(math.sqrt(2) * RESOLUTION, rel=1e-12)
    assert reading.components[-1].label == "thermometer correction"


def test_the_correction_is_one_for_all_calls():
    correction = Quantity(-0.3, "K", expanded(0.1, k=2))
    tank = Thermometer(Scale(0.5, "degC"), correction=correction)
    difference = tank.read(25.0) - tank.read(19.0)
    assert difference.value == pytest.approx(6.0)
    assert difference.u == pytest.approx(math.sqrt(2) * RESOLUTION, rel=1e-12)


def test_the_emergent_stem_of_mercury_in_glass():
    # [T]: k n (t_read - t_stem), k = 0.00016 /K, n = 20, 60 degC read, 25 degC stem: +0.112 K
    stem = Quantity(0.00016, "1/K") * Quantity(20, "K") * Quantity(60 - 25, "K")
    reading = Thermometer(Scale(0.1, "degC"), correction=stem).read(60.0)
    assert reading.value == pytest.approx(60.112, abs=1e-9)


def test_several_corrections_add_up():
    table = CorrectionTable(
        points=Temperature([0, 100], "degC"), corrections=Quantity([0.0, 0.5], "K", standard(0.1))
    )
    stem = EmergentStem(stem_temperature=Temperature(25, "degC"), emergent=Quantity(20, "K"))
    fixed = Quantity(-0.3, "K", standard(0.03)), Quantity(0.1, "K", standard(0.04))
    bath = Thermometer(Scale(0.1, "degC"), correction=(*fixed, table, stem), label="bath")
    reading = bath.read(60.0)
    # -0.3, +0.1, +0.3 by the table, +0.112 by the stem as above
    assert reading.value == pytest.approx(60.212, abs=1e-9)
    assert bath.correction.value == pytest.approx(-0.2)
    assert bath.correction.u == pytest.approx(0.05)
    assert bath.varying_corrections == (table, stem)
    assert [component.label for component in reading.components] == [
        "bath resolution",
        "bath correction 1",
        "bath correction 2",
        "bath correction",
        "bath stem coefficient",
    ]


def test_a_fahrenheit_scale():
    # 68 degF is 20 degC [NIST SP 811, B.8]; one division of 1 degF is 5/9 K wide
    reading = Thermometer(Scale(1, "degF")).read(68.0)
    assert reading.to("degC").value == pytest.approx(20.0, abs=1e-9)
    assert reading.to("K").u == pytest.approx(5 / 18 / math.sqrt(3), rel=1e-12)


def test_a_scale_in_millimetres_is_refused():
    with pytest.raises(UnitError, match="thermometer: scale in 'mm'; expected a unit of temp"):
        Thermometer(Scale(1, "mm"))


def test_per_cent_of_a_celsius_reading_is_refused_at_construction():
    with pytest.raises(StatementError, match="thermometer in 'degC'"):
        Thermometer(Scale(0.5, "degC"), accuracy=percent_of_reading(1))


@pytest.mark.parametrize(
    ("correction", "error", "match"),
    [
        (-0.3, DimensionError, r"got float -0\.3; expected a temperature difference"),
        (Temperature(0.3, "K"), DimensionError, "got Temperature in 'K'"),
        (Quantity(1, "mm"), DimensionError, "in 'mm'"),
        (Quantity([0.1, 0.2], "K"), ShapeError, "got 2 values; expected one.*CorrectionTable"),
        ((Quantity(0.1, "K"), 0.2), DimensionError, r"got float 0\.2"),
    ],
)
def test_what_is_no_correction_is_refused(correction, error, match):
    with pytest.raises(error, match=match):
        Thermometer(Scale(0.5, "degC"), correction=correction)


def test_readings_below_absolute_zero_are_refused():
    with pytest.raises(RangeError, match="absolute zero"):
        Thermometer(Scale(0.5, "degC")).read(-300.0)


def test_a_swinging_reading():
    reading = Thermometer(Scale(0.5, "degC")).read([19.0, 19.0], limits(0.5))
    assert reading.u == pytest.approx([math.sqrt(0.25**2 / 3 + 0.25 / 3)] * 2, rel=1e-12)
