"""The scale: resolution of a reading, its span, and what cannot be a scale."""

import dataclasses
import math
import pickle

import numpy as np
import pytest

from flowunc.core.errors import FlowuncError, RangeError, ShapeError, StatementError, UnitError
from flowunc.core.statements import expanded, limits, shared, standard
from flowunc.instruments import Balance, Thermometer, percent_of_full_scale, percent_of_reading
from flowunc.instruments.scale import Scale


# Common practice, no source: to the nearest mark unless stated. A display: half the last digit
# [JCGM 100, F.2.2.1].
@pytest.mark.parametrize(
    ("scale", "half_width"),
    [
        (Scale(1, "mm"), 0.5),
        (Scale(1, "mm", read_to=1.0), 0.5),
        (Scale(1, "mm", read_to=0.5), 0.25),
        (Scale(0.5, "degC", read_to=0.2), 0.05),
        (Scale(0.01, "s", kind="digital"), 0.005),
        (Scale(0.01, "s", kind="digital", read_to=1.0), 0.005),
        # verniers of 0.1, 0.05 and 0.02 mm; half of that (common practice, no source)
        (Scale(1, "mm", kind="vernier", vernier_divisions=10), 0.05),
        (Scale(1, "mm", kind="vernier", vernier_divisions=20), 0.025),
        (Scale(1, "mm", kind="vernier", vernier_divisions=np.int64(50)), 0.01),
        (Scale(0.5, "deg", kind="vernier", vernier_divisions=30), 0.5 / 60),
    ],
)
def test_half_width(scale, half_width):
    assert scale.half_width == pytest.approx(half_width, rel=1e-14)


def vernier(divisions, **options):
    return Scale(1, "mm", kind="vernier", vernier_divisions=divisions, **options)


def test_resolution_is_rectangular_and_each():
    component = Scale(1, "mm").resolution_component("ruler resolution", 3, source="ruler")
    # [JCGM 100, 4.3.7] for half a millimetre either way
    assert component.distribution.standard_uncertainty == pytest.approx(0.5e-3 / math.sqrt(3))
    assert (component.label, component.scope, component.source) == (
        "ruler resolution", "each", "ruler",
    )  # fmt: skip
    assert Scale(1, "mm").resolution_component("ruler resolution").scope == "shared"


def test_every_resolution_is_an_error_of_its_own():
    scale = Scale(1, "mm")
    assert scale.resolution_component("a") != scale.resolution_component("a")


def test_resolution_in_fahrenheit_is_a_difference():
    # 1 degF is 5/9 K as a difference [NIST SP 811, B.8]
    component = Scale(1, "degF").resolution_component("thermometer resolution")
    assert component.distribution.half_width == pytest.approx(0.5 * 5 / 9)
    assert str(component.unit) == "K"


def test_readings_at_both_ends_are_on_the_scale():
    Scale(0.1, "L/min", span=(0.4, 4.0)).check([0.4, 4.0])


def test_the_rounding_of_a_computed_reading_does_not_take_it_off_the_scale():
    assert 3 * 0.1 > 0.3
    Scale(0.1, "L/min", span=(0.0, 0.3)).check([3 * 0.1])


@pytest.mark.parametrize(("values", "place"), [([1.0, 4.2], ", reading 1:"), (4.2, ":")])
def test_a_reading_off_the_scale_is_named(values, place):
    with pytest.raises(RangeError) as caught:
        Scale(0.1, "L/min", span=(0.4, 4.0)).check(values, "small meter")
    assert str(caught.value).startswith(
        f"small meter{place} 4.2 L/min lies off the scale, which spans 0.4 to 4 L/min"
    )


def test_a_reading_below_the_scale_is_refused_too():
    with pytest.raises(RangeError, match=r"reading 0: 0\.3 L/min"):
        Scale(0.1, "L/min", span=(0.4, 4.0)).check([0.3, 1.0])


@pytest.mark.parametrize(
    ("values", "error"),
    [("2.0", RangeError), ([1.0, math.nan], RangeError), ([[1.0]], ShapeError), ([], ShapeError)],
)
def test_what_is_no_reading_is_refused(values, error):
    with pytest.raises(error):
        Scale(1, "mm").check(values)


def test_a_display_may_show_what_is_no_multiple_of_its_digit():
    # a mean of repeats is none; refusing it would be wrong
    Scale(0.1, "g", kind="digital").check([1.23456])


@pytest.mark.parametrize(
    ("make", "error", "match"),
    [
        (lambda: Scale(0, "mm"), RangeError, "division 0.*above 0"),
        (lambda: Scale(-1, "mm"), RangeError, "division -1"),
        (lambda: Scale(math.nan, "mm"), RangeError, "division nan"),
        (lambda: Scale(math.inf, "mm"), RangeError, "division inf"),
        (lambda: Scale("1", "mm"), RangeError, "division '1'"),
        (lambda: Scale(True, "mm"), RangeError, "division True"),
        (lambda: Scale(1, "furlong"), UnitError, "furlong"),
        (lambda: Scale(1, None), UnitError, "None"),
        (lambda: Scale(1, "mm", span=(10, 0)), RangeError, r"\(10, 0\).*lowest reading first"),
        (lambda: Scale(1, "mm", span=(5, 5)), RangeError, "lowest reading first"),
        (lambda: Scale(1, "mm", span="04"), RangeError, "span '04'"),
        (lambda: Scale(1, "mm", span=("0", "4")), RangeError, "span '0'"),
        (lambda: Scale(1, "mm", span=(0, 1, 2)), RangeError, "lowest, highest"),
        (lambda: Scale(1, "mm", span=10), RangeError, "span 10"),
        (lambda: Scale(1, "mm", span=(0, math.inf)), RangeError, "inf"),
        (lambda: Scale(500, "mm", span=(0, 1)), RangeError, "wider than the span"),
        (lambda: Scale(1, "mm", kind="analogue"), StatementError, "'analogue'.*'graduated'"),
        (lambda: Scale(1, "mm", read_to=0), RangeError, "read_to 0"),
        (lambda: Scale(1, "mm", read_to=2), RangeError, "up to 1"),
        (lambda: Scale(1, "mm", read_to="half"), RangeError, "'half'"),
        (lambda: Scale(1, "mm", kind="digital", read_to=0.5), StatementError, "last digit"),
        (lambda: vernier(20, read_to=0.5), StatementError, "vernier, which is read to the line"),
        (lambda: vernier(None), StatementError, "vernier_divisions None.*a caliper that reads"),
        (lambda: vernier(1), StatementError, "2 or more"),
        (lambda: vernier(20.0), StatementError, "whole number"),
        (lambda: vernier(True), StatementError, "whole number"),
        (lambda: Scale(1, "mm", vernier_divisions=20), StatementError, "of a graduated scale"),
        (
            lambda: Scale(1, "mm", parallax=0.3),
            StatementError,
            "parallax 0.3; expected a statement",
        ),
        (lambda: Scale(1, "mm", zero_error=-0.02), StatementError, "subtract what is known"),
        (lambda: Scale(1, "mm", zero_error=limits(1, "g")), StatementError, "zero_error.*'mm'"),
        (lambda: Scale(1, "mm", zero_error=limits([1, 2])), StatementError, "2 uncertainties"),
        (
            lambda: Scale(1, "mm", parallax=percent_of_reading(1)),
            StatementError,
            "grows with the reading",
        ),
    ],
)
def test_what_is_no_scale_is_refused(make, error, match):
    with pytest.raises(error, match=match) as caught:
        make()
    assert isinstance(caught.value, FlowuncError)


def test_a_scale_is_a_value():
    scale = Scale(1, "mm", span=[0, 400])
    assert scale == Scale(1.0, "mm", span=(0.0, 400.0))
    assert hash(scale) == hash(Scale(1, "mm", span=(0, 400)))
    assert pickle.loads(pickle.dumps(scale)) == scale
    with pytest.raises(dataclasses.FrozenInstanceError):
        scale.division = 2


def test_span_in_si_is_shifted_for_a_temperature():
    low, high = Scale(0.5, "degC", span=(0, 50)).span_si
    assert (low, high) == pytest.approx((273.15, 323.15))
    assert Scale(0.5, "degC").span_si is None


def test_numpy_numbers_are_numbers():
    assert Scale(np.float64(0.1), "mm", span=np.array([0.0, 4.0])) == Scale(0.1, "mm", span=(0, 4))


# -- parallax and zero error -----------------------------------------------------------------
def labels(quantity):
    return [component.label for component in quantity.components]


def test_parallax_is_new_at_every_reading():
    balance = Balance(Scale(1e-6, "g", parallax=limits(0.3)))
    two = balance.read([100.0, 100.0])
    assert two.u == pytest.approx([0.3 / math.sqrt(3)] * 2, rel=1e-6)
    # [JCGM 100, 5.1.2]: two independent errors
    assert (two[0] - two[1]).to("g").u == pytest.approx(0.3 * math.sqrt(2 / 3), rel=1e-6)
    assert labels(two) == ["balance resolution", "balance parallax"]
    assert labels(balance.read(100.0, label="full"))[1] == "balance parallax, full"


def test_parallax_of_one_eye_stands_behind_all_readings():
    balance = Balance(Scale(1e-6, "g", parallax=shared(limits(0.3, label="eye"))))
    first, second = balance.read(100.0), balance.read([200.0, 300.0])
    assert first.u == pytest.approx(0.3 / math.sqrt(3), rel=1e-6)
    assert (second[1] - first).to("g").u == pytest.approx(0.0, abs=2e-6)
    assert labels(first)[1] == "eye"


def test_a_zero_error_is_one_for_an_instrument_and_another_for_the_next():
    scale = Scale(1e-6, "g", zero_error=standard(2))
    one, other = Balance(scale), Balance(scale)
    assert (one.read(500.0) - one.read(100.0)).to("g").u == pytest.approx(0.0, abs=2e-6)
    difference = one.read(500.0) - other.read(100.0)
    assert difference.to("g").u == pytest.approx(2 * math.sqrt(2), rel=1e-6)


def test_a_zero_error_in_per_cent_of_full_scale_needs_the_span():
    scale = Scale(1, "g", span=(0, 500), zero_error=percent_of_full_scale(1, k=2))
    # 0.5 % of 500 g beside the resolution of 0.5 g either way
    assert Balance(scale).read(100.0).u == pytest.approx(math.sqrt(2.5**2 + 0.25 / 3), rel=1e-12)
    with pytest.raises(StatementError, match="no full scale"):
        Scale(1, "g", zero_error=percent_of_full_scale(1))


def test_a_zero_error_of_a_thermometer_is_a_difference():
    # 1.8 degF are 1 K [NIST SP 811, B.8]
    reading = Thermometer(Scale(1e-6, "degF", zero_error=limits(1.8, "degF"))).read(68.0)
    assert reading.to("K").u == pytest.approx(1 / math.sqrt(3), rel=1e-6)


def test_a_scale_with_errors_is_a_value_and_its_instrument_keeps_them():
    scale = Scale(1, "g", parallax=limits(0.3), zero_error=limits(1))
    assert hash(scale) == hash(pickle.loads(pickle.dumps(scale)))
    balance = Balance(scale)
    again = pickle.loads(pickle.dumps(balance))
    # resolution and parallax are new, the zero error is the same
    variance = 2 * (0.5**2 + 0.3**2) / 3
    assert (balance.read(5.0) - again.read(5.0)).to("g").u == pytest.approx(math.sqrt(variance))


# -- the part that a component plays -----------------------------------------------------------
def test_resolution_and_calibration_say_what_they_are():
    scale = Scale(1, "g", zero_error=limits(1), parallax=limits(1))
    reading = Balance(scale, accuracy=(expanded(4, k=2), limits(1))).read([1.0, 2.0], limits(2))
    roles = {component.label: component.role for component in reading.components}
    assert roles == {
        "balance resolution": "resolution",
        "balance calibration, standard uncertainty": "calibration",
        "balance calibration, limits": "calibration",
        "balance zero error": "",
        "balance parallax": "",
        "balance reading": "",
    }


def test_the_part_survives_copying_and_pickling():
    reading = Balance(Scale(1, "g"), accuracy=limits(2)).read(1.0)
    again = pickle.loads(pickle.dumps(reading))
    assert [c.role for c in again.components] == ["resolution", "calibration"]
    assert again.components == reading.components
    alone = pickle.loads(pickle.dumps(reading.components[1]))
    assert (alone.role, alone) == ("calibration", reading.components[1])
