"""Readings along one axis: picking, joining, summing, averaging, correlations kept."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import (
    Angle,
    DimensionError,
    FlowuncError,
    Length,
    Mass,
    PropagationError,
    Ratio,
    ReynoldsNumber,
    ShapeError,
    Temperature,
    Time,
    concatenate,
    limits,
    shared,
    standard,
)

VALUES = [3.0, 1.0, 2.0, 5.0]


def readings(values=VALUES):
    """Readings with an error of their own (0.3) and a shared one (0.4)."""
    return Length(values, "m", standard(0.3), shared(standard(0.4)))


# -- shapes (Ruling 4) -------------------------------------------------------------------------
def test_scalar_gives_floats_and_readings_give_arrays():
    one, single, many = Length(1, "m"), Length([1], "m"), readings()
    assert type(one.value) is float
    assert type(one.u) is float
    assert (one.shape, one.ndim, one.size) == ((), 0, 1)
    assert (single.shape, single.ndim, single.size) == ((1,), 1, 1)
    assert single.value.shape == single.u.shape == (1,)
    assert many.u.shape == (4,)
    low, high = many.interval()
    assert low.shape == high.shape == (4,)
    assert type(one.interval()[0]) is float
    assert type(one.expanded().U) is float
    assert many.dof.shape == (4,)


def test_correlation_is_a_number_for_two_scalars_else_a_matrix():
    many = readings()
    assert type(many[0].correlation(many[1])) is float
    assert many.correlation(many).shape == (4, 4)
    assert many[:2].covariance(many).shape == (2, 4)
    assert many[0].covariance(many).shape == (1, 4)
    assert many[:1].covariance(many[0]).shape == (1, 1)
    expected = np.full((4, 4), 0.16) + 0.09 * np.eye(4)
    np.testing.assert_allclose(many.covariance(many), expected, rtol=1e-14)
    np.testing.assert_allclose(many.correlation(many), expected / 0.25, rtol=1e-14)


def test_single_reading_broadcasts_and_its_own_error_acts_as_one_value():
    thermometer = Length([10.0], "m", standard(0.5))  # one reading, `each` error
    flow = Length([1.0, 2.0, 3.0], "m", standard(0.1))
    total = flow + thermometer
    assert total.shape == (3,)
    np.testing.assert_allclose(total.u, math.hypot(0.5, 0.1), rtol=1e-14)
    np.testing.assert_allclose((total[0] - total[2]).u, 0.1 * math.sqrt(2), rtol=1e-14)
    covariance = total.covariance(total)
    np.testing.assert_allclose(covariance, 0.25 + 0.01 * np.eye(3), rtol=1e-13)


def test_value_and_uncertainty_cannot_be_written():
    many = readings()
    for array in (many.value, many.u, many.dof, many.interval()[0], many.expanded().U):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0


# -- picking -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("index", "expected"),
    [
        (slice(1, 3), [1.0, 2.0]),
        (slice(None, None, -1), [5.0, 2.0, 1.0, 3.0]),
        (slice(None, None, 2), [3.0, 2.0]),
        (slice(-2, None), [2.0, 5.0]),
        ([0, 0, 3], [3.0, 3.0, 5.0]),
        ([-1, 0], [5.0, 3.0]),
        (np.array([True, False, False, True]), [3.0, 5.0]),
        (np.array([2], dtype=np.uint8), [2.0]),
        ([True, False, True, False], [3.0, 2.0]),
    ],
)
def test_index_picks_what_numpy_picks(index, expected):
    picked = readings()[index]
    assert picked.value.tolist() == expected
    np.testing.assert_allclose(picked.u, 0.5, rtol=1e-15)


def test_whole_number_picks_a_scalar():
    many = readings()
    for index in (1, -3, np.int64(1), np.array(1)):
        assert many[index].value == 1.0
        assert many[index].ndim == 0
        assert (many[index] - many[1]).u == 0.0


def test_kind_unit_and_label_stay():
    angle = Angle([10, 20], "deg", limits(0.1), label="tilt")
    for part in (angle[0], angle[::-1], angle.to("rad")[1], angle.mean()):
        assert type(part) is Angle
        assert part.label == "tilt"
    assert angle[0].unit == "deg"
    number = ReynoldsNumber([1e3, 2e3], "1", standard(10.0))
    assert type(number[1:]) is ReynoldsNumber


@pytest.mark.parametrize("index", [4, -5, np.int64(9)])
def test_index_outside_names_itself(index):
    with pytest.raises(IndexError, match=str(index)):
        readings()[index]


@pytest.mark.parametrize(
    "index",
    [
        True,
        1.5,
        [0.5],
        [9],
        [-5],
        np.array([[0]]),
        np.array([True, False]),
        [],
        None,
        Ellipsis,
        "0",
        (0, 1),
    ],
)
def test_index_that_makes_no_sense_is_refused(index):
    with pytest.raises(FlowuncError):
        readings()[index]


@pytest.mark.parametrize(
    "index", [slice(2, 2), np.zeros(4, dtype=bool)], ids=["slice", "mask without a hit"]
)
def test_no_reading_at_all_is_refused(index):
    # the constructor refuses zero readings; picking none gave an empty quantity whose mean,
    # text and draws failed later with messages about something else
    with pytest.raises(ShapeError):
        readings()[index]


def test_scalar_has_no_length_no_index_and_no_iteration():
    for attempt in (len, list, lambda x: x[0]):
        with pytest.raises(ShapeError, match="single value"):
            attempt(Length(1, "m"))


def test_iteration_and_reversal_keep_correlation():
    many = readings()
    for position, reading in enumerate(many):
        assert (reading - many[position]).u == 0.0
    backwards = concatenate(*reversed(many))
    assert backwards.value.tolist() == VALUES[::-1]
    np.testing.assert_array_equal((backwards - many[::-1]).u, 0.0)


# -- joining -----------------------------------------------------------------------------------
def test_concatenation_keeps_correlation_and_unit():
    first = Length([1, 2], "mm", standard(0.1), label="run")
    joined = concatenate(first[1], first, first[:1])
    assert joined.unit == "mm"
    assert joined.value.tolist() == [2.0, 1.0, 2.0, 1.0]
    assert joined.label == "run"
    same = np.array([[1, 0, 1, 0], [0, 1, 0, 1], [1, 0, 1, 0], [0, 1, 0, 1]])
    np.testing.assert_allclose(joined.correlation(joined), same, atol=1e-15)
    np.testing.assert_array_equal((np.concatenate([first, first])[2:] - first).u, 0.0)


def test_concatenation_of_different_units_comes_out_in_si():
    joined = concatenate([Length(1, "mm"), Length(2, "m")])
    assert joined.unit == "m"
    np.testing.assert_allclose(joined.value, [0.001, 2.0], rtol=1e-15)


def test_concatenation_of_kinds_of_one_dimension_is_the_general_kind():
    joined = concatenate(Angle(0.5, "rad"), Ratio(2.0, "1"))
    assert type(joined) is Ratio


@pytest.mark.parametrize(
    "attempt",
    [
        lambda: concatenate(Length(1, "m"), Mass(1, "kg")),
        lambda: concatenate(Length(1, "m"), 2.0),
        lambda: concatenate(Temperature(20, "degC"), Temperature(1, "K") - Temperature(0, "K")),
        lambda: np.concatenate([Length([1], "m"), np.array([1.0])]),
    ],
)
def test_concatenation_of_what_does_not_belong_together_is_refused(attempt):
    with pytest.raises(DimensionError):
        attempt()


def test_concatenation_of_nothing_is_refused():
    with pytest.raises(ShapeError):
        concatenate()
    with pytest.raises(ShapeError):
        concatenate([])


# -- sums and means ----------------------------------------------------------------------------
def test_own_errors_average_out_and_shared_ones_stay():
    many = readings()
    assert many.mean().value == pytest.approx(2.75)
    assert many.mean().u == pytest.approx(math.sqrt(0.09 / 4 + 0.16), rel=1e-14)
    assert many.sum().u == pytest.approx(math.sqrt(4 * 0.09 + 16 * 0.16), rel=1e-14)


def test_numpy_and_python_sums_are_the_same_result():
    many = readings()
    for other in (
        np.sum(many),
        np.sum(many, axis=0),
        sum(many),
        many.mean() * 4,
        np.mean(many) * 4,
    ):
        assert other.value == pytest.approx(11.0, rel=1e-15)
        assert (other - many.sum()).u == pytest.approx(0.0, abs=1e-15)


def test_mean_of_temperatures_is_a_temperature_in_its_unit():
    mean = Temperature([19.0, 21.0], "degC", standard(0.3)).mean()
    assert type(mean) is Temperature
    assert mean.unit == "degC"
    assert mean.value == pytest.approx(20.0, abs=1e-12)
    assert mean.u == pytest.approx(0.3 / math.sqrt(2), rel=1e-14)


def test_sum_and_mean_of_a_scalar_are_itself():
    one = Length(2.0, "mm", standard(0.1))
    assert one.mean().value == 2.0
    assert (one.sum() - one).u == 0.0
    assert (Length([2.0], "m", standard(0.1)).sum()).u == pytest.approx(0.1)


def test_deviations_from_the_mean_have_the_textbook_variance():
    # var(x_i - mean) = s^2 (1 - 1/n), cov = -s^2/n; a shared error cancels
    many = readings()
    deviations = many - many.mean()
    expected = 0.09 * (np.eye(4) - 0.25)
    np.testing.assert_allclose(deviations.covariance(deviations), expected, atol=1e-16)
    assert deviations.sum().u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("options", [{"axis": 1}, {"keepdims": True}, {"dtype": float}])
def test_sum_with_options_that_are_not_recorded_is_refused(options):
    with pytest.raises(PropagationError, match=r"numpy\.sum"):
        np.sum(readings(), **options)


# -- properties --------------------------------------------------------------------------------
@given(st.permutations(range(6)), st.integers(0, 2**32 - 1))
def test_permuting_readings_permutes_results(order, seed):
    generator = np.random.default_rng(seed)
    values, u = generator.uniform(1, 5, 6), generator.uniform(0.01, 0.3, 6)
    wide = generator.uniform(0.01, 0.3)

    def model(x, t):
        speed = x / t
        return np.log(speed / speed.mean()) + np.exp(-speed * Time(1, "s") / x)

    def inputs(index):
        length = Length(values[index], "m", standard(u[index]), shared(standard(wide)))
        return length, Time(2.0, "s", standard(0.1))

    straight = model(*inputs(np.arange(6)))
    picked = np.array(order)
    permuted = model(*inputs(picked))
    np.testing.assert_allclose(permuted.value, straight.value[picked], rtol=1e-13, atol=1e-14)
    np.testing.assert_allclose(permuted.u, straight.u[picked], rtol=1e-12)
    moved = straight[list(order)]
    np.testing.assert_array_equal(moved.value, straight.value[picked])
    np.testing.assert_allclose(
        moved.covariance(moved), permuted.covariance(permuted), rtol=1e-9, atol=1e-15
    )


@given(st.integers(1, 7), st.integers(0, 2**32 - 1))
def test_reading_by_reading_equals_all_at_once(count, seed):
    generator = np.random.default_rng(seed)
    bore = Length(0.02, "m", standard(1e-4))
    high = Length(generator.uniform(1, 2, count), "m", standard(0.01), shared(limits(0.02)))
    time = Time(generator.uniform(10, 20, count), "s", standard(generator.uniform(0.1, 0.5, count)))

    def model(height, seconds):
        speed = height / seconds
        return np.sqrt(speed * speed + (bore / seconds) ** 2) * bore / height**2

    together = model(high, time)
    separate = concatenate(*[model(high[i], time[i]) for i in range(count)])
    np.testing.assert_allclose(separate.value, together.value, rtol=1e-14)
    np.testing.assert_allclose(separate.u, together.u, rtol=1e-12)
    np.testing.assert_allclose((separate - together).u, 0.0, atol=1e-14 * together.u.max())


@pytest.mark.parametrize("index", [np.array([], dtype=int), [], np.zeros((0, 2), dtype=int), ()])
def test_no_places_are_no_index(index):
    x = Length([1.0, 2.0], "m", standard(0.1))
    with pytest.raises(ShapeError, match=r"index .*: expected a whole number, a slice"):
        x[index]
