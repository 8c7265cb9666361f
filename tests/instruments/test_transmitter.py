"""The pressure transmitter: span, zero, drift and the effect of temperature."""

import math

import pytest

from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    RangeError,
    ShapeError,
    StatementError,
    UnitError,
)
from flowunc.core.kinds import Length, Pressure, Ratio, Temperature
from flowunc.core.statements import limits, standard
from flowunc.instruments import Scale, percent_of_full_scale, percent_of_reading
from flowunc.instruments.transmitter import PressureTransmitter

ROOT3 = math.sqrt(3)
FINE = Scale(1e-9, "kPa", span=(0, 10), kind="digital")
WARM = Temperature(30, "degC")


EXACT = limits(0)


def cell(scale=FINE, accuracy=EXACT, **options):
    return PressureTransmitter(scale, accuracy, **options)


def labels(quantity):
    return [component.label for component in quantity.components]


def test_accuracy_is_one_error_in_full_whatever_the_zero() -> None:
    drop = cell(accuracy=percent_of_full_scale(0.25)).pressure_drop(
        reading=[2.0, 6.0], zero=(0.01, 0.01)
    )
    assert isinstance(drop, Pressure)
    assert (drop.unit, drop.label) == ("kPa", "pressure drop")
    assert drop.value == pytest.approx([1.99, 5.99])
    # 0.25 % of 10 kPa, rectangular [JCGM 100, 4.3.7]
    assert drop.u == pytest.approx([0.025 / ROOT3] * 2, rel=1e-6)
    assert (drop[1] - drop[0]).to("kPa").u == pytest.approx(0, abs=1e-8)


def test_the_zero_has_its_resolution_and_its_drift() -> None:
    drop = cell(Scale(0.01, "kPa", span=(0, 10), kind="digital")).pressure_drop(
        reading=[4.0, 5.0], zero=(0.02, 0.06)
    )
    assert drop.value == pytest.approx([3.96, 4.96])
    # half digits of 0.005: one of the reading, two of the zero halved; drift of 0.02 either way
    variance = (0.005**2 * 1.5 + 0.02**2) / 3
    assert drop.u == pytest.approx([math.sqrt(variance)] * 2, rel=1e-9)
    assert labels(drop) == [
        "pressure transmitter resolution",
        "pressure transmitter resolution, zero before",
        "pressure transmitter resolution, zero after",
        "pressure transmitter zero drift",
    ]
    # the zero is common to both
    assert drop[0].covariance(drop[1]) == pytest.approx((0.005**2 / 2 + 0.02**2) / 3, rel=1e-9)


def test_one_zero_ties_two_calls() -> None:
    instrument = cell(Scale(0.01, "kPa", span=(0, 10), kind="digital"))
    zero = instrument.zero_offset(0.02)
    assert (zero.value, zero.label) == (pytest.approx(0.02), "pressure transmitter zero")
    a, b = (instrument.pressure_drop(reading=4.0, zero=zero) for _ in range(2))
    assert a.covariance(b) == pytest.approx(0.005**2 / 3, rel=1e-9)


# 0.02 % of 10 kPa a kelvin, 10 K away: 0.02 kPa; 0.01 % of 4 kPa a kelvin: 0.004 kPa
@pytest.mark.parametrize(
    ("effect", "half_width"),
    [(percent_of_full_scale(0.02), 0.02), (limits(0.002), 0.02), (percent_of_reading(0.01), 0.004)],
)
def test_a_kelvin_away_from_the_reference(effect, half_width) -> None:
    with pytest.warns(FlowuncWarning, match="no zero reading"):
        drop = cell(temperature_effect=effect).pressure_drop(reading=4.0, temperature=WARM)
    assert drop.value == pytest.approx(4.0)
    assert drop.u == pytest.approx(half_width / ROOT3, rel=1e-6)


def test_a_zero_reading_takes_off_the_effect_on_the_zero() -> None:
    both = cell(temperature_effect=(percent_of_full_scale(0.02), percent_of_reading(0.01)))
    same = both.pressure_drop(reading=4.0, zero=0.0, temperature=WARM)
    assert same.u == pytest.approx(0.004 / ROOT3, rel=1e-6)
    cold = both.pressure_drop(
        reading=4.0,
        zero=0.0,
        temperature=WARM,
        zero_temperature=Temperature(25, "degC"),
    )
    # 5 K since the zero, 10 K from the reference
    assert cold.u == pytest.approx(math.hypot(0.01, 0.004) / ROOT3, rel=1e-6)
    assert labels(cold)[-2:] == [
        "pressure transmitter temperature effect, zero",
        "pressure transmitter temperature effect, span",
    ]


def test_the_reference_temperature_is_that_of_the_data_sheet() -> None:
    at_25 = cell(
        temperature_effect=percent_of_reading(0.01),
        reference_temperature=Temperature(25, "degC"),
    )
    drop = at_25.pressure_drop(
        reading=[4.0, 4.0], zero=0.0, temperature=Temperature([25, 30], "degC")
    )
    assert drop.u == pytest.approx([0, 0.002 / ROOT3], rel=1e-6, abs=2e-9)


def test_drawing_and_linearising_agree() -> None:
    drop = cell(
        accuracy=percent_of_full_scale(0.1), temperature_effect=percent_of_reading(0.05)
    ).pressure_drop(reading=[4.0, 8.0], zero=(0.0, 0.02), temperature=Temperature(40, "degC"))
    drawn = drop.monte_carlo(40_000, seed=3)
    assert drawn.u == pytest.approx(drop.u, rel=5 / math.sqrt(80_000))


def test_against_a_zero_the_intercept_of_a_calibration_drops_out() -> None:
    line = {
        "intercept": Pressure(0.05, "kPa", standard(0.03)),
        "slope": Ratio(1.01, "1", standard(0.001)),
        "span": (0.0, 8.0),
    }
    calibrated = cell(accuracy=percent_of_full_scale(2)).calibrated(**line)
    drop = calibrated.pressure_drop(reading=4.1, zero=0.1)
    assert drop.value == pytest.approx(4.04)
    assert drop.u == pytest.approx(4 * 0.001, rel=1e-6)
    assert calibrated.read(4.0).u == pytest.approx(math.hypot(0.03, 0.004), rel=1e-6)
    with pytest.raises(RangeError, match="outside its calibration"):
        calibrated.pressure_drop(reading=9.0, zero=0.0)


def test_without_accuracy_it_warns() -> None:
    with pytest.warns(FlowuncWarning, match="no accuracy stated"):
        PressureTransmitter(FINE)


@pytest.mark.parametrize(
    ("given", "error", "match"),
    [
        ({"reading": 11.0}, RangeError, "off the scale"),
        ({"reading": Length(1, "m")}, DimensionError, "reading=.*got Length"),
        ({"zero": (1.0, 2.0, 3.0)}, ShapeError, "3 zero readings"),
        ({"zero": Length(1, "m")}, DimensionError, "zero=.*got Length"),
        ({"reading": 0.5, "zero": 0.9}, RangeError, "difference is -0.4 kPa.*ports exchanged"),
        ({"temperature": None}, StatementError, "temperature= of the transmitter is missing"),
        ({"temperature": 20}, DimensionError, "temperature="),
    ],
)
def test_misuse_is_named(given, error, match) -> None:
    instrument = cell(temperature_effect=percent_of_reading(0.01))
    with pytest.raises(error, match=match):
        instrument.pressure_drop(**{"reading": 4.0, "zero": 0.0, "temperature": WARM} | given)


def test_a_temperature_without_use_is_refused() -> None:
    with pytest.raises(StatementError, match="no use without temperature_effect="):
        cell().pressure_drop(reading=4.0, zero=0.0, temperature=WARM)
    with (
        pytest.warns(FlowuncWarning, match="no zero"),
        pytest.raises(StatementError, match="zero_temperature= without a zero reading"),
    ):
        cell(temperature_effect=limits(0.01)).pressure_drop(
            reading=4.0, temperature=WARM, zero_temperature=WARM
        )


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"scale": Scale(1, "mm")}, UnitError, "scale in 'mm'; expected a unit of pressure"),
        ({"temperature_effect": 0.02}, StatementError, "got 0.02"),
        ({"reference_temperature": WARM}, StatementError, "without temperature_effect="),
        (
            {
                "temperature_effect": limits(1),
                "reference_temperature": Temperature([20, 25], "degC"),
            },
            ShapeError,
            "2 reference temperatures",
        ),
    ],
)
def test_what_is_no_transmitter_is_refused(options, error, match) -> None:
    with pytest.raises(error, match=match):
        cell(**options)
