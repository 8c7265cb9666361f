"""Operators and NumPy functions: kinds that come out, refusals, rulings of temperature."""

from __future__ import annotations

import math
import operator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from flowunc import (
    Acceleration,
    Angle,
    Area,
    Density,
    DimensionError,
    DynamicViscosity,
    FlowuncError,
    KinematicViscosity,
    Length,
    Mass,
    MassFlowRate,
    Pressure,
    PropagationError,
    Quantity,
    RangeError,
    Ratio,
    ShapeError,
    Temperature,
    Time,
    Velocity,
    Volume,
    VolumeFlowRate,
    limits,
    standard,
)

L = Length([1.0, 2.0, 3.0], "m", standard(0.1))
T20 = Temperature(20.0, "degC", standard(0.2))


def q(kind, unit):
    return kind(2.0, unit, standard(0.1))


@pytest.mark.parametrize(
    ("result", "kind", "unit"),
    [
        (q(Length, "mm") * q(Length, "mm"), Area, "m^2"),
        (q(Length, "mm") ** 3, Volume, "m^3"),
        (q(Volume, "L") / q(Time, "min"), VolumeFlowRate, "m^3/s"),
        (q(Mass, "g") / q(Volume, "mL"), Density, "kg/m^3"),
        (q(Mass, "g") / q(Time, "s"), MassFlowRate, "kg/s"),
        (q(VolumeFlowRate, "L/min") / q(Area, "mm^2"), Velocity, "m/s"),
        (q(DynamicViscosity, "mPa*s") / q(Density, "kg/m^3"), KinematicViscosity, "m^2/s"),
        (q(Velocity, "m/s") / q(Time, "s"), Acceleration, "m/s^2"),
        (q(Density, "kg/m^3") * q(Velocity, "m/s") ** 2, Pressure, "Pa"),
        (q(Length, "m") / q(Length, "mm"), Ratio, "1"),
        (q(Pressure, "Pa") / q(Length, "m"), Quantity, "kg/(m^2*s^2)"),
        (np.sqrt(q(Area, "mm^2")), Length, "m"),
        (np.cbrt(q(Volume, "L")), Length, "m"),
        (1 / q(Time, "s"), Quantity, "1/s"),
        (np.sin(Angle(30, "deg")), Ratio, "1"),
        (Angle(30, "deg") * 2, Ratio, "1"),
        (np.arctan2(q(Length, "mm"), q(Length, "m")), Ratio, "1"),
    ],
    ids=lambda p: getattr(p, "__name__", None),
)
def test_result_is_the_kind_of_its_dimension_in_coherent_si(result, kind, unit):
    assert type(result) is kind
    assert result._unit.factor == 1.0
    # the same unit, whatever the spelling
    assert result.to(unit).value == result.value


def test_units_are_converted_before_the_arithmetic():
    # 1 L / 1 min = 1e-3 m^3 / 60 s; 2 mm + 1 m = 1.002 m
    assert (Volume(1, "L") / Time(1, "min")).value == pytest.approx(1e-3 / 60, rel=1e-15)
    assert (Length(2, "mm") + Length(1, "m")).value == pytest.approx(1.002, rel=1e-15)
    assert np.sin(Angle(30, "deg")).value == pytest.approx(0.5, rel=1e-15)


@pytest.mark.parametrize(
    "mixed",
    [
        lambda: L + Mass(1, "kg"),
        lambda: L - Mass(1, "kg"),
        lambda: L + 1.0,
        lambda: 1.0 - L,
        lambda: 5 + L,
        lambda: 0.0 + L,
        lambda: L + np.array([1.0, 2.0, 3.0]),
        lambda: L < 2.0,
        lambda: L == 0,
        lambda: L != 0,
        lambda: np.array([1.0, 2.0, 3.0]) >= L,
        lambda: np.maximum(L, 1.0),
        lambda: np.hypot(L, Time(1, "s")),
        lambda: np.arctan2(L, Time(1, "s")),
        lambda: np.exp(L),
        lambda: np.log(Temperature(20, "degC")),
        lambda: np.sin(L),
        lambda: 2**L,
        lambda: L ** Length(2, "m"),
        lambda: L ** Ratio(2, "1", standard(0.1)),
        lambda: L ** np.array([1.0, 2.0, 3.0]),
    ],
)
def test_dimensions_that_do_not_fit_are_refused(mixed):
    with pytest.raises(DimensionError):
        mixed()


def test_refused_sum_names_both_by_label_kind_and_unit():
    with pytest.raises(DimensionError, match=r"'bore' \(Length, mm\).*'head' \(Pressure, Pa\)"):
        Length(19, "mm", label="bore") + Pressure(5, "Pa", label="head")


# -- Ruling 1: temperatures --------------------------------------------------------------------
def test_difference_of_temperatures_is_a_plain_quantity_in_kelvin():
    difference = Temperature(25, "degC", standard(0.3)) - Temperature(68, "degF", standard(0.4))
    assert type(difference) is Quantity
    assert difference.unit == "K"
    assert difference.value == pytest.approx(5.0, abs=1e-12)
    assert difference.u == pytest.approx(math.hypot(0.3, 0.4 * 5 / 9), rel=1e-14)
    with pytest.raises(FlowuncError, match="degC"):
        difference.to("degC")


def test_temperature_and_difference_make_a_temperature():
    correction = Quantity(-0.3, "K", standard(0.1))
    for corrected in (T20 + correction, correction + T20, T20 - -correction):
        assert type(corrected) is Temperature
        assert corrected.to("degC").value == pytest.approx(19.7, abs=1e-12)
        assert corrected.u == pytest.approx(math.hypot(0.2, 0.1), rel=1e-14)


@pytest.mark.parametrize(
    "meaningless",
    [
        lambda: T20 + T20,
        lambda: Quantity(1, "K") - T20,
        lambda: -T20,
        lambda: sum([T20, T20]),
        lambda: Temperature([20, 21], "degC").sum(),
        lambda: np.sum(Temperature([20, 21], "degC")),
        lambda: T20 + 0.3,
        lambda: Quantity(20, "degC"),
    ],
)
def test_arithmetic_that_has_no_meaning_for_temperatures_is_refused(meaningless):
    with pytest.raises(FlowuncError):
        meaningless()


def test_temperature_below_absolute_zero_is_refused_as_a_result_too():
    # 20 degC - 400 K came out as -106.85 K without a word
    with pytest.raises(RangeError, match="absolute zero"):
        T20 - Quantity(400, "K")


@pytest.mark.parametrize(
    "mixed",
    [
        lambda: np.maximum(T20, Quantity(300, "K")),
        lambda: Quantity(300, "K") > T20,
    ],
    ids=["maximum", "comparison"],
)
def test_a_point_on_the_scale_is_not_mixed_with_a_difference(mixed):
    # a temperature and a difference are different things even though both are in kelvin
    with pytest.raises(DimensionError):
        mixed()


@pytest.mark.parametrize(("unit", "scale"), [("degC", 1.0), ("K", 1.0), ("degF", 1.8)])
def test_uncertainty_of_a_temperature_is_scale_only(unit, scale):
    here = T20.to(unit)
    assert here.u == pytest.approx(0.2 * scale, rel=1e-14)
    low, high = here.interval(0.95)
    assert high - low == pytest.approx(2 * 1.959964 * 0.2 * scale, rel=1e-6)
    assert here.covariance(here) == pytest.approx(here.u**2, rel=1e-13)


def test_limits_in_celsius_are_a_difference():
    stated = Temperature(293.15, "K", limits(1, "degC"))
    assert stated.u == pytest.approx(1 / math.sqrt(3), rel=1e-14)


def test_comparisons_and_extremes_of_temperatures_compare_points():
    assert Temperature(20, "degC") < Temperature(69, "degF")
    warmest = np.maximum(T20, Temperature(15, "degC", standard(0.1)))
    assert type(warmest) is Temperature
    assert warmest.u == pytest.approx(0.2)


# -- Ruling 9: NumPy ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    "call",
    [
        lambda: np.floor(L),
        lambda: np.round(L),
        lambda: np.mod(L, L),
        lambda: np.deg2rad(Angle([1.0, 2.0], "deg")),
        lambda: np.add.reduce(L),
        lambda: np.multiply.outer(L, L),
        lambda: np.cumsum(L),
        lambda: np.max(L),
        lambda: np.std(L),
        lambda: np.dot(L, L),
        lambda: np.where(np.array([True, False, True]), L, L),
        lambda: np.stack([L, L]),
        lambda: np.interp(L, [0, 1], [0, 1]),
        lambda: np.trapezoid(L, L),
        lambda: np.add(L, L, out=np.empty(3)),
        lambda: np.add(L, L, where=np.array([True, False, True])),
        lambda: np.sum(L, keepdims=True),
        lambda: np.sum(L, axis=1),
        lambda: np.array([L, L]),
        lambda: np.array(L),
        lambda: np.asarray(L, dtype=object),
        lambda: np.array([L[0], L[1]], dtype=object),
        lambda: special.gamma(Ratio(2.0, "1")),
    ],
)
def test_numpy_function_that_is_not_recorded_raises(call):
    with pytest.raises(FlowuncError):
        call()


def test_unsupported_function_is_named_with_the_way_out():
    with pytest.raises(PropagationError, match=r"'floor'.*flowunc\.apply"):
        np.floor(L)
    with pytest.raises(PropagationError, match=r"'add\.reduce'"):
        np.add.reduce(L)


@pytest.mark.parametrize(
    "result",
    [
        np.float64(2.0) * L,
        np.array([1.0, 2.0, 3.0]) * L,
        np.int64(2) * L,
        L * np.array([1, 2, 3]),
        np.multiply(np.array([1.0, 2.0, 3.0]), L),
    ],
)
def test_numpy_numbers_and_arrays_never_make_object_arrays(result):
    assert type(result) is Length
    assert result.value.dtype == np.float64


def test_array_cannot_swallow_a_quantity_in_place():
    numbers = np.ones(3)
    with pytest.raises(PropagationError):
        numbers *= L
    assert numbers.tolist() == [1.0, 1.0, 1.0]


@pytest.mark.parametrize("other", [True, False, np.True_, "2", None, [1, 2, 3], 2j, {}])
def test_something_that_is_no_number_does_not_take_part(other):
    for attempt in (
        lambda: L * other,
        lambda: other * L,
        lambda: L + other,
        lambda: other + L,
        lambda: np.multiply(L, other),
    ):
        with pytest.raises((TypeError, FlowuncError)):
            attempt()


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_number_that_is_not_finite_is_refused_in_a_formula(number):
    with pytest.raises(RangeError, match=str(number)):
        L * number
    with pytest.raises(RangeError, match="NaN or infinity"):
        L * np.array([1.0, number, 2.0])


def test_whole_number_beyond_float64_is_refused_as_ours():
    # used to leak Python's own OverflowError
    with pytest.raises(FlowuncError):
        L * 10**400


def test_array_of_two_axes_is_refused_in_a_formula():
    with pytest.raises(ShapeError, match=r"\(2, 3\)"):
        L * np.ones((2, 3))


def test_masked_reading_in_a_formula_is_refused():
    # the mask was dropped and the number under it used
    masked = np.ma.array([1.0, 2.0, 3.0], mask=[False, True, False])
    for attempt in (lambda: L * masked, lambda: masked * L):
        with pytest.raises(FlowuncError):
            attempt()


def test_python_sum_works_and_keeps_correlation():
    same = Length(1.0, "m", standard(0.1))
    assert sum([same, same, same]).u == pytest.approx(0.3, rel=1e-15)
    assert sum(L).u == pytest.approx(0.1 * math.sqrt(3), rel=1e-15)


# -- comparisons -------------------------------------------------------------------------------
def test_comparison_is_of_values_in_si():
    assert (Length(1, "m") > Length(999, "mm")) is True
    assert (Length(1, "m") == Length(1000, "mm")) is True
    assert (Ratio(2, "1") > 1) is True
    assert (Length([1.0, 2.0], "m") <= Length(1, "m")).tolist() == [True, False]
    assert (np.float64(3.0) > Ratio(2.0, "1")) is True


@pytest.mark.parametrize("name", ["lt", "le", "gt", "ge", "eq", "ne"])
def test_every_comparison_is_that_of_numpy_on_the_values(name):
    compare = getattr(operator, name)
    one, other = [1.0, 2.0, 3.0, 2.0], [2.0, 2.0, 2.0, 1.5]
    expected = compare(np.array(one), np.array(other)).tolist()
    found = compare(Length(one, "m", standard(0.1)), Length(other, "m"))
    assert found.tolist() == expected
    assert compare(Ratio(one, "1", standard(0.1)), np.array(other)).tolist() == expected
    single = [compare(Length(a, "m"), Length(b, "m")) for a, b in zip(one, other, strict=True)]
    assert single == expected
    assert all(type(each) is bool for each in single)


@pytest.mark.parametrize("test", [np.isfinite, np.isnan, np.isinf, np.signbit])
def test_questions_about_a_value_are_those_of_numpy(test):
    values = [-2.0, 0.0, 3.5]
    assert test(Length(values, "m", standard(0.1))).tolist() == test(values).tolist()
    found = test(Length(-2.0, "m"))
    assert type(found) is bool
    assert found == test(-2.0)


def test_plus_sign_changes_nothing():
    assert (+L - L).u.tolist() == [0.0, 0.0, 0.0]
    assert (+L).value.tolist() == L.value.tolist()


def test_comparison_of_lengths_that_do_not_fit_is_ours():
    # numpy's own ValueError came through
    with pytest.raises(ShapeError, match=r"lengths 2 and 3"):
        L[:2] > L  # noqa: B015 - the comparison itself must raise


def test_quantity_has_no_truth_no_hash_and_no_silent_number():
    one = Length(1.0, "m")
    for refused in (bool, float, int):
        with pytest.raises(DimensionError):
            refused(one)
    with pytest.raises(TypeError):
        hash(one)
    with pytest.raises(FlowuncError):
        math.sqrt(Ratio(2.0, "1"))
    assert (one == None) is False  # noqa: E711 - identity is what Python falls back to
    assert (one == "1 m") is False


# -- powers ------------------------------------------------------------------------------------
@pytest.mark.parametrize("power", [-3, -2, -1.5, -1, -0.5, 0.5, 1, 1.5, 2, 2.5, 3, np.float64(2)])
def test_powers_have_their_value_slope_and_dimension(power):
    # d(x^p) = p x^(p-1) dx
    x = [1.3, 4.0, 0.2]
    found = Length(x, "m", standard(0.01)) ** power
    for value, u, base in zip(found.value, found.u, x, strict=True):
        assert value == pytest.approx(math.pow(base, power), rel=1e-14)
        assert u == pytest.approx(abs(power) * math.pow(base, power - 1) * 0.01, rel=1e-13)
    back = found ** (1 / power)
    assert type(back) is Length
    assert back.value == pytest.approx(x, rel=1e-14)
    np.testing.assert_allclose((back - Length(x, "m")).u, 0.01, rtol=1e-12)


def test_power_of_a_pure_number_may_vary_or_be_uncertain():
    base = Ratio([2.0, 3.0], "1")
    exponent = Ratio(3.0, "1", standard(0.01))
    # d(x**y)/dy = x**y ln x
    result = base**exponent
    expected = np.array([8 * math.log(2), 27 * math.log(3)]) * 0.01
    np.testing.assert_allclose(result.u, expected, rtol=1e-14)
    assert (base ** np.array([1.0, 2.0])).value.tolist() == [2.0, 9.0]
    assert (2**exponent).u == pytest.approx(8 * math.log(2) * 0.01, rel=1e-14)


def test_negative_base_with_a_broken_power_is_refused():
    with pytest.raises(PropagationError, match=r"power\(-8, 0.333333\)"):
        Ratio(-8.0, "1") ** (1 / 3)


def test_division_by_a_zero_value_says_what_was_divided():
    with pytest.raises(PropagationError, match=r"divide\(3, 0\)"):
        3 / Time(0.0, "s")
    with pytest.raises(PropagationError, match=r"divide\(2, 0\) at reading 1"):
        Ratio([1.0, 2.0], "1") / Ratio([1.0, 0.0], "1")


# -- properties --------------------------------------------------------------------------------
positive = st.floats(0.1, 10.0)


@given(positive, positive, st.floats(0.001, 0.05), st.floats(0.001, 0.05))
def test_units_of_the_inputs_change_nothing(diameter, flow, u_d, u_q):
    def speed(length_unit, flow_unit, length_factor, flow_factor):
        bore = Length(diameter * length_factor, length_unit, standard(u_d * length_factor))
        rate = VolumeFlowRate(flow * flow_factor, flow_unit, standard(u_q * flow_factor))
        return rate / (math.pi / 4 * bore**2)

    si = speed("m", "m^3/s", 1.0, 1.0)
    other = speed("mm", "L/min", 1e3, 60e3)
    assert other.value == pytest.approx(si.value, rel=1e-13)
    assert other.u == pytest.approx(si.u, rel=1e-13)


@given(positive, st.floats(0.01, 1.0), st.floats(-5.0, 5.0).filter(lambda c: abs(c) > 1e-3))
def test_scaling_scales_value_and_uncertainty(value, u, factor):
    length = Length(value, "m", standard(u))
    scaled = factor * length
    assert scaled.value == pytest.approx(factor * value, rel=1e-15)
    assert scaled.u == pytest.approx(abs(factor) * u, rel=1e-15)
    assert (scaled - length * factor).u == 0.0
    assert scaled.correlation(length) == pytest.approx(math.copysign(1.0, factor), abs=1e-15)


@given(positive, st.floats(0.001, 0.1))
def test_a_quantity_minus_itself_is_certain(value, u):
    length = Length(value, "m", standard(u))
    assert (length - length).u == 0.0
    assert (length * length / length - length).u == pytest.approx(0.0, abs=1e-15 * u / 1e-3)
    assert (length / length).u == pytest.approx(0.0, abs=1e-15)
