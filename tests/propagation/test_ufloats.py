"""In and out of the `uncertainties` package with all correlations."""

from __future__ import annotations

import gc
import math
import pickle
import time

import numpy as np
import pytest
from uncertainties import correlated_values, covariance_matrix, ufloat, umath
from uncertainties.core import AffineScalarFunc, Variable

from flowunc import (
    Area,
    FlowuncError,
    Length,
    Ratio,
    ShapeError,
    StatementError,
    Temperature,
    Time,
    UnitError,
    concatenate,
    shared,
    standard,
)
from flowunc.propagation import ufloats


def readings():
    return Length([1.0, 2.0, 3.0], "mm", standard([0.1, 0.2, 0.3]), shared(standard(0.4)))


# -- out ---------------------------------------------------------------------------------------
def test_values_uncertainties_and_correlations_go_out():
    x = readings()
    numbers = x.to_ufloats()
    assert numbers.shape == (3,)
    assert numbers.dtype == object
    np.testing.assert_allclose([n.nominal_value for n in numbers], x.value, rtol=1e-15)
    np.testing.assert_allclose([n.std_dev for n in numbers], x.u, rtol=1e-14)
    np.testing.assert_allclose(covariance_matrix(numbers), x.covariance(x), rtol=1e-13)


def test_scalar_goes_out_as_one_number():
    number = Length(2.0, "mm", standard(0.1)).to_ufloats()
    assert isinstance(number, AffineScalarFunc)
    assert Length([2.0], "mm", standard(0.1)).to_ufloats().shape == (1,)


def test_two_results_meet_outside_correlated():
    x = readings()
    area = (x * x).to("mm^2")
    a, b = area.to_ufloats(), x.to_ufloats()
    for i in range(3):
        assert (a[i] - b[i] * b[i]).std_dev == pytest.approx(0.0, abs=1e-14)
    assert (x[1].to_ufloats() - b[1]).std_dev == 0.0
    assert (x[[1, 0]].to_ufloats()[0] - b[1]).std_dev == 0.0


def test_components_are_tagged_with_their_labels():
    number = Length(2.0, "mm", standard(0.1), label="bore").to_ufloats()
    assert [variable.tag for variable in number.derivatives] == ["bore"]


def test_certain_value_goes_out_without_a_variable():
    assert not Length(2.0, "mm").to_ufloats().derivatives


def test_temperature_goes_out_in_its_unit():
    number = Temperature(20.0, "degC", standard(0.3)).to_ufloats()
    assert (number.nominal_value, number.std_dev) == pytest.approx((20.0, 0.3), rel=1e-12)
    number = Temperature(20.0, "degC", standard(0.3)).to("degF").to_ufloats()
    assert (number.nominal_value, number.std_dev) == pytest.approx((68.0, 0.54), rel=1e-12)


# -- in ----------------------------------------------------------------------------------------
def test_numbers_come_in_with_unit_kind_and_label():
    length = Length.from_ufloats(ufloat(2.0, 0.1), "mm", label="gap")
    assert (type(length), length.unit, length.label) == (Length, "mm", "gap")
    assert (length.value, length.u) == pytest.approx((2.0, 0.1), rel=1e-14)
    assert length.si.u == pytest.approx(1e-4, rel=1e-14)


def test_correlations_come_in():
    x, y = correlated_values([1.0, 2.0], [[0.04, -0.03], [-0.03, 0.09]])
    both = Ratio.from_ufloats([x, y, x * y], "1")
    np.testing.assert_allclose(
        both.covariance(both), covariance_matrix([x, y, x * y]), rtol=1e-12, atol=1e-16
    )


def test_live_variable_is_the_same_component_at_every_call():
    x = ufloat(2.0, 0.1)
    first, second = Length.from_ufloats(x, "mm"), Length.from_ufloats(x + 1, "mm")
    assert (second - first).u == pytest.approx(0.0, abs=1e-18)
    assert Time.from_ufloats(2 * x, "s").correlation(first) == pytest.approx(1.0, abs=1e-14)
    other = Length.from_ufloats(ufloat(2.0, 0.1), "mm")
    assert other.correlation(first) == 0.0


def test_function_of_that_package_carries_its_derivative_in():
    angle = ufloat(0.3, 0.01)
    sine = Ratio.from_ufloats(umath.sin(angle), "1")
    assert sine.u == pytest.approx(0.01 * math.cos(0.3), rel=1e-13)
    assert (sine - np.sin(Ratio.from_ufloats(angle, "1"))).u == pytest.approx(0.0, abs=1e-16)


def test_array_of_numbers_and_list_of_numbers_come_in_alike():
    numbers = [ufloat(i, 0.1) for i in range(1, 4)]
    for given in (numbers, tuple(numbers), np.array(numbers)):
        assert Length.from_ufloats(given, "mm").shape == (3,)
    assert Length.from_ufloats([ufloat(1.0, 0.1)], "mm").shape == (1,)
    assert Length.from_ufloats(np.array([ufloat(1.0, 0.1)]), "mm").shape == (1,)


@pytest.mark.parametrize(
    ("plain", "shown"),
    [
        (2.5, "2.5"),
        (2, "2"),
        ("2+/-0.1", "2+/-0.1"),
        ([1.5, 2.0], "1.5"),
        ([ufloat(1, 0.1), 2.5], "item 1 is the plain number 2.5"),
        (np.array([1.5]), "1.5"),
        (None, "None"),
        (True, "True"),
    ],
)
def test_plain_numbers_are_refused_with_themselves(plain, shown):
    with pytest.raises(StatementError) as refusal:
        Length.from_ufloats(plain, "mm")
    assert shown in str(refusal.value)


@pytest.mark.parametrize(
    ("attempt", "error"),
    [
        (lambda: Length.from_ufloats([], "mm"), ShapeError),
        (lambda: Length.from_ufloats([[ufloat(1, 0.1)]], "mm"), ShapeError),
        (lambda: Length.from_ufloats(ufloat(1, 0.1), "kg"), UnitError),
        (lambda: Length.from_ufloats(ufloat(math.nan, 0.1), "mm"), FlowuncError),
        (lambda: Length.from_ufloats(ufloat(1, math.inf), "mm"), FlowuncError),
        (lambda: Temperature.from_ufloats(ufloat(-300.0, 0.1), "degC"), FlowuncError),
    ],
)
def test_numbers_that_do_not_fit_are_refused(attempt, error):
    with pytest.raises(error):
        attempt()


# -- round trips -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "make", [lambda: readings(), lambda: readings()[1], lambda: readings()[:1]]
)
def test_round_trip_keeps_correlation_with_the_original(make):
    x = make()
    back = Length.from_ufloats(x.to_ufloats(), "mm")
    assert back.shape == x.shape
    np.testing.assert_allclose(back.u, x.u, rtol=1e-13)
    np.testing.assert_allclose((back - x).u, 0.0, atol=1e-18)


def test_round_trip_of_readings_from_a_choice_and_a_mean():
    x = readings()
    built = concatenate(x[2], x.mean(), x[[0, 0]])
    back = Length.from_ufloats(built.to_ufloats(), "mm")
    np.testing.assert_allclose((back - built).u, 0.0, atol=1e-18)
    np.testing.assert_allclose((back[0] - x[2]).u, 0.0, atol=1e-18)


def test_arithmetic_outside_and_inside_is_the_same():
    x = readings()
    outside = x.to_ufloats()
    squares = Area.from_ufloats(outside * outside, "mm^2")
    np.testing.assert_allclose((squares - x * x).u, 0.0, atol=1e-20)
    number = ufloat(3.0, 0.2)
    inside = Ratio.from_ufloats(number, "1")
    assert (np.exp(inside).to_ufloats() - umath.exp(number)).std_dev == pytest.approx(0, abs=1e-14)


def test_draws_of_what_came_in_are_normal_with_the_covariance():
    x, y = correlated_values([1.0, 2.0], [[0.04, -0.03], [-0.03, 0.09]])
    both = Ratio.from_ufloats([x, y], "1")
    samples = both.monte_carlo(100_000, seed=1).samples()
    np.testing.assert_allclose(np.cov(samples.T), [[0.04, -0.03], [-0.03, 0.09]], atol=2e-3)


def test_enlarged_standard_deviation_is_the_same_error_enlarged():
    x = ufloat(2.0, 0.1)
    before = Length.from_ufloats(x, "mm")
    x.std_dev = 0.3
    after = Length.from_ufloats(x, "mm")
    assert before.u == pytest.approx(0.1)
    assert after.u == pytest.approx(0.3)
    assert after.correlation(before) == pytest.approx(1.0, abs=1e-14)


# -- life times (Ruling 7) ---------------------------------------------------------------------
def test_copy_that_outlives_the_original_keeps_its_correlation():
    # a result came back from a worker process; the original went out of scope meanwhile
    x = Length(2.0, "mm", standard(0.1))
    copy = pickle.loads(pickle.dumps(x))
    number = x.to_ufloats()
    del x
    gc.collect()
    assert (number - copy.to_ufloats()).std_dev == 0.0


def test_live_variable_keeps_its_key_when_the_quantity_is_gone():
    # "keyed by the live variable": the variable lives on, so its key must too
    x = ufloat(2.0, 0.1)
    first = Length.from_ufloats(x, "mm")
    stored = pickle.dumps(first)
    del first
    gc.collect()
    assert (pickle.loads(stored) - Length.from_ufloats(x, "mm")).u == 0.0


def test_number_that_outlives_its_quantity_comes_back_the_same():
    x = Length(2.0, "mm", standard(0.1), label="gap")
    square = x * x
    number = x.to_ufloats()
    del x
    gc.collect()
    back = Length.from_ufloats(number, "mm")
    assert (back * back - square).u == pytest.approx(0.0, abs=1e-20)


def test_dead_variables_leave_no_trace_behind():
    gc.collect()
    before = len(ufloats._origins)
    for _ in range(50):
        Length.from_ufloats(ufloat(1.0, 0.1), "mm")
        Length(1.0, "mm", standard(0.1)).to_ufloats()
    gc.collect()
    assert len(ufloats._origins) <= before + 2


@pytest.mark.slow
def test_cost_of_letting_go_grows_like_the_number_of_variables():
    def seconds(count):
        kept = [ufloat(1.0, 0.1) for _ in range(count)]
        start = time.thread_time()
        quantity = Length.from_ufloats(kept, "mm")
        del quantity
        gc.collect()
        return time.thread_time() - start

    seconds(50)
    assert min(seconds(3_000) for _ in range(3)) < 25 * max(
        min(seconds(300) for _ in range(3)), 2e-3
    )


def test_variables_are_plain_ones_of_that_package():
    number = readings().to_ufloats()[0]
    assert all(isinstance(variable, Variable) for variable in number.derivatives)
    assert len(number.derivatives) == 2
