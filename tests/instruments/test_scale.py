"""The scale: resolution of a reading, its span, and what cannot be a scale."""

import dataclasses
import math
import pickle

import numpy as np
import pytest

from flowunc.core.errors import FlowuncError, RangeError, ShapeError, StatementError, UnitError
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
    ],
)
def test_half_width(scale, half_width):
    assert scale.half_width == pytest.approx(half_width, rel=1e-14)


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
