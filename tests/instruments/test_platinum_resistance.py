"""Platinum resistance: tabulated values both ways, exact slopes, tolerance classes."""

import math
import pickle

import mpmath
import numpy as np
import pytest

from flowunc import second_order
from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Length, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits, standard
from flowunc.instruments import Scale, Thermometer
from flowunc.instruments.platinum_resistance import PlatinumResistance, iec_60751

# degC and Ohm: tables of [IEC 60751], from memory
TABLE = [
    (-200, 18.5201),
    (-100, 60.2558),
    (0, 100.0000),
    (50, 119.3971),
    (100, 138.5055),
    (200, 175.8560),
    (400, 247.0920),
    (600, 313.7080),
    (850, 390.4811),
]


@pytest.mark.parametrize(("celsius", "ohm"), TABLE)
def test_tabulated_resistances(celsius, ohm):
    found = PlatinumResistance().resistance(Temperature(celsius, "degC"))
    assert found.unit == "Ohm"
    assert found.value == pytest.approx(ohm, abs=0.51e-4)


@pytest.mark.parametrize(("celsius", "ohm"), TABLE[1:-1])
def test_tabulated_temperatures(celsius, ohm):
    # half of the last printed digit is 0.00013 K at least
    found = PlatinumResistance().temperature(Quantity(ohm, "Ohm"))
    assert isinstance(found, Temperature)
    assert found.unit == "degC"
    assert found.value == pytest.approx(celsius, abs=1.7e-4)


def test_there_and_back():
    sensor = PlatinumResistance(Quantity(1000, "Ohm"))
    celsius = np.linspace(-200, 850, 211)
    back = sensor.temperature(sensor.resistance(Temperature(celsius, "degC")))
    np.testing.assert_allclose(back.value, celsius, atol=1e-9)


@pytest.mark.parametrize("celsius", [-199.0, -50.0, -1e-3, 0.0, 25.0, 600.0])
def test_slopes_against_mpmath(celsius):
    def resistance(t):
        # an equation of two branches whose slopes agree at 0 [IEC 60751]
        below = mpmath.mpf("-4.183e-12") * (t - 100) * t**3 if t < 0 else 0
        return 100 * (1 + mpmath.mpf("3.9083e-3") * t + mpmath.mpf("-5.775e-7") * t**2 + below)

    slope = float(mpmath.diff(resistance, celsius))
    sensor = PlatinumResistance()
    forward = sensor.resistance(Temperature(celsius, "degC", standard(1e-3)))
    assert forward.u == pytest.approx(1e-3 * slope, rel=1e-9)
    back = sensor.temperature(Quantity(forward.value, "Ohm", standard(1e-3)))
    assert back.u == pytest.approx(1e-3 / slope, rel=1e-9)


def test_drawn_and_linear_agree():
    sensor = PlatinumResistance(tolerance=iec_60751("B", construction="wire-wound"))
    ohm = Quantity([60.0, 99.99, 110.0], "Ohm", standard(0.2))
    found = sensor.temperature(ohm)
    np.testing.assert_allclose(
        found.monte_carlo(40_000, seed=4).u, found.u, rtol=5 / math.sqrt(80_000)
    )
    back = sensor.resistance(Temperature([-80, 20], "degC", standard(0.3)))
    np.testing.assert_allclose(
        back.monte_carlo(40_000, seed=5).u, back.u, rtol=5 / math.sqrt(80_000)
    )


# tolerances in K as [IEC 60751] prints them, from memory
@pytest.mark.parametrize(
    ("letters", "celsius", "kelvin"),
    [
        ("AA", 0, 0.10),
        ("AA", 100, 0.27),
        ("A", 0, 0.15),
        ("A", 100, 0.35),
        ("A", 200, 0.55),
        ("A", -100, 0.35),
        ("B", 0, 0.30),
        ("B", 100, 0.80),
        ("B", 200, 1.30),
        ("B", -100, 0.80),
        ("C", 0, 0.60),
        ("C", 100, 1.60),
    ],
)
def test_tolerance_classes(letters, celsius, kelvin):
    statement = iec_60751(letters, construction="wire-wound")
    assert Temperature(celsius, "degC", statement).u == pytest.approx(kelvin / math.sqrt(3))


def test_a_display_in_fahrenheit_has_the_same_tolerance():
    # 212 degF is 100 degC: 0.35 K
    reading = Temperature(212, "degF", iec_60751("A"))
    assert reading.to("K").u == pytest.approx(0.35 / math.sqrt(3))


def test_one_sensor_has_one_error():
    tank = Thermometer(Scale(1e-6, "degC", kind="digital"), accuracy=iec_60751("B"), label="tank")
    cold, warm = tank.read([20.0, 40.0])
    # 0.005 K per K of the difference remains
    assert (warm - cold).u == pytest.approx(0.005 * 20 / math.sqrt(3), rel=1e-6)
    assert cold.components[-1].label == "tank calibration"
    assert str(cold.components[-1].unit) == "K"


def test_a_sensor_read_twice_has_one_tolerance():
    sensor = PlatinumResistance(tolerance=limits(0.2), label="inlet")
    first, second = (sensor.temperature(Quantity(110.0, "Ohm")) for _ in range(2))
    assert first.u == pytest.approx(0.2 / math.sqrt(3))
    assert (first - second).u == 0.0
    again = pickle.loads(pickle.dumps(sensor)).temperature(Quantity(110.0, "Ohm"))
    assert (first - again).u == 0.0
    (component,) = first.components
    assert (component.label, component.role) == ("inlet tolerance", "calibration")


def test_the_tolerance_cancels_there_and_back():
    sensor = PlatinumResistance(tolerance=iec_60751("A"))
    back = sensor.temperature(sensor.resistance(Temperature(40, "degC")))
    # to first order: the tolerance is taken at two temperatures that differ by nothing
    assert back.u == pytest.approx(0.0, abs=1e-12)


# ranges of the classes in degC, film and wire-wound [IEC 60751], from memory
@pytest.mark.parametrize(
    ("letters", "construction", "low", "high"),
    [
        ("AA", "film", 0, 150),
        ("A", "film", -30, 300),
        ("B", "film", -50, 500),
        ("C", "film", -50, 600),
        ("AA", "wire-wound", -50, 250),
        ("A", "wire-wound", -100, 450),
        ("B", "wire-wound", -196, 600),
        ("C", "wire-wound", -196, 600),
    ],
)
def test_a_class_holds_in_its_range_only(letters, construction, low, high):
    statement = iec_60751(letters, construction=construction)
    Temperature([low, high], "degC", statement)
    for outside in (low - 0.1, high + 0.1):
        with pytest.raises(RangeError, match=f"holds from {low} to {high} degC"):
            Temperature(outside, "degC", statement)


@pytest.mark.parametrize(
    ("make", "error", "match"),
    [
        (lambda: iec_60751("D"), StatementError, "'AA', 'A', 'B' or 'C'"),
        (lambda: iec_60751("1/3 B"), StatementError, "state its limits"),
        (lambda: iec_60751(["A"]), StatementError, "marked on the sensor"),
        (lambda: iec_60751("A", construction="thick"), StatementError, "'film' or 'wire-wound'"),
        (lambda: Length(1, "mm", iec_60751("A")), StatementError, "expected a temperature"),
        (lambda: PlatinumResistance(100), DimensionError, "got int 100; expected a resistance"),
        (lambda: PlatinumResistance(Quantity(0, "Ohm")), RangeError, "above 0"),
        (lambda: PlatinumResistance(tolerance=0.1), StatementError, r"iec_60751\('A'\)"),
        (lambda: PlatinumResistance(label=""), RangeError, "label=''"),
        (
            lambda: PlatinumResistance().temperature(Temperature(20, "degC")),
            DimensionError,
            "got Temperature in 'degC'",
        ),
        (
            lambda: PlatinumResistance().temperature(Quantity([109.7, 1097], "Ohm")),
            RangeError,
            "at reading 1: 10.97 times .*needs at_zero=",
        ),
        (
            lambda: PlatinumResistance().resistance(Temperature(900, "degC")),
            RangeError,
            "900 degC; expected -200 to 850",
        ),
        (
            lambda: PlatinumResistance().resistance(Quantity(100, "Ohm")),
            DimensionError,
            "expected Temperature",
        ),
    ],
)
def test_misuse_is_named(make, error, match):
    with pytest.raises(error, match=match):
        make()


def test_the_next_taylor_term_against_mpmath():
    # a mean is shifted by half the second derivative times u**2 [JCGM 100, 5.1.2, note]
    def temperature(ohm):
        return mpmath.findroot(
            lambda t: (
                1
                + mpmath.mpf("3.9083e-3") * t
                + mpmath.mpf("-5.775e-7") * t**2
                + (mpmath.mpf("-4.183e-12") * (t - 100) * t**3 if t < 0 else 0)
                - ohm / 100
            ),
            (ohm - 100) / mpmath.mpf("0.39"),
        )

    with mpmath.workdps(40):
        expected = [float(mpmath.diff(temperature, ohm, 2)) / 2 for ohm in (60, 110)]
    found = PlatinumResistance().temperature(Quantity([60.0, 110.0], "Ohm", standard(1)))
    assert second_order(found).shift == pytest.approx(expected, rel=1e-6)
