"""`Quantity` itself: what it refuses, units, identity, copying, pickling."""

from __future__ import annotations

import copy
import math
import os
import pickle
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest

from flowunc import (
    Area,
    DimensionError,
    FlowuncError,
    Length,
    Mass,
    Pressure,
    Quantity,
    RangeError,
    Ratio,
    ShapeError,
    StatementError,
    Temperature,
    Time,
    UnitError,
    Velocity,
    VolumeFlowRate,
    expanded,
    limits,
    shared,
    standard,
)


# -- bad input ---------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (math.nan, "NaN"),
        (math.inf, "infinity"),
        ([1.0, -math.inf], "reading 1"),
        ([1.0, None], "None|reading 1"),
        ("19.05", "'19.05'"),
        (["1", "2"], r"\['1', '2'\]"),
        ([1.0, "two"], "two"),
        (True, "True"),
        ([True, False], "True"),
        (np.True_, "True"),
        (None, "None"),
        (2 + 1j, "2\\+1j"),
        (b"1", "b'1'"),
        ({"a": 1}, "'a'"),
        ([[1.0, 2.0]], r"\(1, 2\)"),
        (np.ones((2, 2, 2)), r"\(2, 2, 2\)"),
        ([], "no readings"),
        (np.array(["2020-01-01"], dtype="datetime64[D]"), "2020"),
    ],
)
def test_value_that_is_no_finite_number_is_refused_with_itself(value, shown):
    with pytest.raises((RangeError, ShapeError), match=shown):
        Length(value, "m")


@pytest.mark.parametrize(
    "value",
    [
        [1.0, True],
        [Fraction(1), "2"],
        [Decimal(1), True],
        np.ma.array([1.0, 2.0], mask=[False, True]),
        [1.0, np.ma.masked],
    ],
    ids=[
        "bool among numbers",
        "text among fractions",
        "bool among decimals",
        "masked reading",
        "masked entry",
    ],
)
def test_bad_reading_among_good_ones_is_refused(value):
    # only the first entry was looked at; a masked reading came back to life
    with pytest.raises(FlowuncError):
        Length(value, "m")


@pytest.mark.parametrize("value", [10**400, [1, 10**400]], ids=["one", "among readings"])
def test_whole_number_beyond_float64_is_refused_as_ours(value):
    # used to leak Python's own OverflowError
    with pytest.raises(FlowuncError):
        Length(value, "m")


def test_value_that_overflows_in_si_is_refused():
    # 1e308 km is no float64 in metres: it became infinity with numpy's RuntimeWarning
    with pytest.raises(FlowuncError):
        Length(1e308, "km")


def test_quantity_as_a_value_is_refused():
    with pytest.raises(FlowuncError, match="plain numbers"):
        Length(Length(1, "m"), "m")
    with pytest.raises(FlowuncError):
        Length([Length(1, "m"), Length(2, "m")], "m")


@pytest.mark.parametrize("value", [3, np.float32(3), Fraction(3), Decimal(3), np.array(3)])
def test_any_real_number_will_do(value):
    length = Length(value, "m")
    assert length.value == 3.0
    assert type(length.value) is float


def test_series_and_tuples_are_readings():
    for values in ((1, 2), pd.Series([1.0, 2.0]), range(1, 3), np.array([1, 2], dtype=np.int8)):
        assert Length(values, "m").value.tolist() == [1.0, 2.0]


@pytest.mark.parametrize("unit", ["furlong", "mm mm", "", "m^", "m/", "kg"])
def test_unit_that_is_unknown_or_of_another_dimension_is_named(unit):
    with pytest.raises(UnitError, match=unit.replace("^", r"\^") or "unit"):
        Length(1, unit)


@pytest.mark.parametrize("unit", [None, 1, b"m", ["m"]])
def test_unit_that_is_no_text_is_refused(unit):
    with pytest.raises(FlowuncError):
        Length(1, unit)


def test_unit_has_to_fit_on_conversion():
    with pytest.raises(UnitError, match="kg"):
        Length(1, "m").to("kg")
    with pytest.raises(UnitError, match="parsec"):
        Length(1, "m").to("parsec")


@pytest.mark.parametrize(("value", "unit"), [(-1.0, "K"), (-273.16, "degC"), (-460.0, "degF")])
def test_temperature_below_absolute_zero_is_refused(value, unit):
    with pytest.raises(RangeError, match=f"{value:g} {unit}"):
        Temperature(value, unit)
    with pytest.raises(RangeError, match="absolute zero"):
        Temperature([20.0, value], unit)


@pytest.mark.parametrize("statement", [0.5, "0.5", None, limits, np.array([0.1])])
def test_what_is_no_statement_is_refused(statement):
    with pytest.raises(StatementError, match="statement"):
        Length(1, "m", statement)


@pytest.mark.parametrize("label", [5, None, b"bore"])
def test_label_that_is_no_text_is_refused(label):
    with pytest.raises(FlowuncError, match=str(label).strip("b'") or "label"):
        Length(1, "m", label=label)


def test_label_given_later_is_checked_as_well():
    with pytest.raises(FlowuncError, match="5"):
        Length(1, "m").labelled(5)


@pytest.mark.parametrize("level", [0.0, 1.0, 95, -0.1, math.nan, "0.95", True])
def test_level_outside_0_to_1_is_refused_with_itself(level):
    length = Length(1, "m", standard(0.1))
    for attempt in (length.expanded, length.interval):
        with pytest.raises(FlowuncError, match=str(level)):
            attempt(level)


@pytest.mark.parametrize("k", [0, -2.0, math.nan, math.inf, "2", True])
def test_coverage_factor_not_above_zero_is_refused_with_itself(k):
    with pytest.raises(FlowuncError, match=str(k)):
        Length(1, "m", standard(0.1)).expanded(k=k)


def test_level_and_factor_together_are_refused():
    with pytest.raises(FlowuncError, match=r"0\.95.*2"):
        Length(1, "m", standard(0.1)).expanded(0.95, k=2)


# -- units -------------------------------------------------------------------------------------
def test_conversion_changes_numbers_not_the_quantity():
    flow = VolumeFlowRate([2.0, 3.0], "L/min", standard(0.1), label="flow")
    other = flow.to("m^3/h")
    np.testing.assert_allclose(other.value, [0.12, 0.18], rtol=1e-14)
    np.testing.assert_allclose(other.u, 0.006, rtol=1e-14)
    assert (type(other), other.unit, other.label) == (VolumeFlowRate, "m^3/h", "flow")
    np.testing.assert_array_equal((other - flow).u, 0.0)
    assert flow.si.unit == "m^3/s"


def test_covariance_is_in_the_product_of_both_units():
    length = Length(2.0, "mm", standard(0.1))
    time = Time(3.0, "min", standard(0.2))
    speed = (length / time).to("mm/min")
    # cov(l, l/t) = u(l)^2 / t
    assert length.covariance(speed) == pytest.approx(0.01 / 3.0, rel=1e-13)
    assert speed.covariance(time) == pytest.approx(-2.0 / 9.0 * 0.04, rel=1e-13)
    assert length.covariance(time) == 0.0
    fahrenheit = Temperature(68, "degF", standard(0.9))
    assert fahrenheit.covariance(fahrenheit) == pytest.approx(0.81, rel=1e-13)


def test_correlation_with_a_certain_value_is_refused_but_covariance_is_zero():
    length, exact = Length(2.0, "mm", standard(0.1)), Length(3.0, "mm")
    assert length.covariance(exact) == 0.0
    with pytest.raises(FlowuncError, match="no uncertainty"):
        length.correlation(exact)
    with pytest.raises(DimensionError, match="float"):
        length.covariance(2.0)


def test_uncertainties_that_square_out_of_float64_are_kept():
    # 1e-170 squared underflows, 1e170 squared overflows
    for scale in (1e-170, 1e170):
        length = Length(scale, "m", standard(3 * scale), standard(4 * scale))
        assert length.u == pytest.approx(5 * scale, rel=1e-14)
        assert length.correlation(length) == pytest.approx(1.0, rel=1e-14)


def test_interval_and_expanded_agree():
    length = Length(10.0, "mm", standard(0.1))
    wide, k = length.expanded(0.95)
    assert k == pytest.approx(1.959963985, rel=1e-9)  # normal distribution [JCGM 100, table G.1]
    assert length.interval(0.95) == pytest.approx((10 - wide, 10 + wide), rel=1e-15)
    threefold, _ = length.expanded(k=3)
    assert threefold == pytest.approx(0.3, rel=1e-14)
    assert length.expanded() == length.expanded(0.95)


# -- identity (Ruling 7) -----------------------------------------------------------------------
def result():
    bore = Length(20.0, "mm", limits(0.05), label="bore")
    flow = VolumeFlowRate([2.0, 3.0], "L/min", standard(0.1), shared(limits(0.2)))
    return (flow / (math.pi / 4 * bore**2)).to("cm/s").labelled("speed")


@pytest.mark.parametrize(
    "copied",
    [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))],
    ids=["copy", "deepcopy", "pickle"],
)
def test_copy_stays_fully_correlated(copied):
    speed = result()
    other = copied(speed)
    assert (type(other), other.unit, other.label) == (Velocity, "cm/s", "speed")
    np.testing.assert_array_equal(other.value, speed.value)
    np.testing.assert_array_equal(other.u, speed.u)
    np.testing.assert_array_equal((other - speed).u, 0.0)
    assert not other.value.flags.writeable


@pytest.mark.parametrize("protocol", range(2, pickle.HIGHEST_PROTOCOL + 1))
def test_every_pickle_protocol_keeps_correlation(protocol):
    speed = result()
    other = pickle.loads(pickle.dumps(speed, protocol))
    np.testing.assert_array_equal((other - speed).u, 0.0)


def test_container_of_quantities_keeps_correlation():
    speed = result()
    kept = copy.deepcopy({"speed": speed, "double": [2 * speed]})
    np.testing.assert_allclose((kept["double"][0] - 2 * kept["speed"]).u, 0.0, atol=0)
    one, two = pickle.loads(pickle.dumps((speed, 2 * speed)))
    np.testing.assert_array_equal((two - 2 * one).u, 0.0)
    np.testing.assert_array_equal((two - 2 * speed).u, 0.0)


def test_result_of_another_process_correlates_with_its_input():
    bore = Length(20.0, "mm", standard(0.05))
    program = (
        "import pickle, sys\n"
        "bore = pickle.load(sys.stdin.buffer)\n"
        "pickle.dump(bore ** 2, sys.stdout.buffer)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        input=pickle.dumps(bore),
        capture_output=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    area = pickle.loads(done.stdout)
    assert type(area) is Area
    assert (area - bore**2).u == 0.0
    assert area.correlation(bore) == pytest.approx(1.0, abs=1e-15)


def test_same_statement_twice_is_two_errors():
    statement = standard(0.1)
    first, second = Length(1, "m", statement), Length(1, "m", statement)
    assert (first - second).u == pytest.approx(0.1 * math.sqrt(2), rel=1e-14)
    assert first.correlation(second) == 0.0


def test_relabelled_and_converted_quantities_share_their_components():
    length = Length(1, "m", expanded(0.2, k=2), label="rod")
    other = length.to("mm").labelled("stick")
    assert (other.si - length).u == 0.0
    assert other.components == length.components
    assert [part.label for part in other.components] == ["rod"]


def test_given_arrays_may_be_changed_afterwards():
    values, u = np.array([1.0, 2.0]), np.array([0.1, 0.2])
    length = Length(values, "m", standard(u))
    values[:], u[:] = 99.0, 99.0
    assert length.value.tolist() == [1.0, 2.0]
    assert length.u.tolist() == [0.1, 0.2]


def test_components_come_in_the_order_of_the_record():
    a, b, c = (Ratio(1.0, "1", standard(0.1), label=name) for name in "abc")
    assert [part.label for part in (c * a + b - a).components] == ["c", "a", "b"]


# -- depth -------------------------------------------------------------------------------------
def test_model_of_ten_thousand_operations():
    start = Ratio(1.0, "1", standard(0.01))
    value = start
    for _ in range(5_000):
        value = value * 1.0001 - 0.0001  # slope 1.0001 a step, fixed point 1
    assert value.value == pytest.approx(1.0, rel=1e-12)
    assert value.u == pytest.approx(0.01 * 1.0001**5_000, rel=1e-10)
    back = pickle.loads(pickle.dumps(value))
    assert (back - value).u == 0.0
    drawn = value.monte_carlo(2_000, seed=3)
    by_hand = 1.0 + (start.monte_carlo(2_000, seed=3).samples() - 1.0) * 1.0001**5_000
    np.testing.assert_allclose(drawn.samples(), by_hand, rtol=1e-11)


def test_plain_quantity_takes_any_product_of_units():
    power = Quantity(12.0, "kg*m^2/s^3", standard(0.5))
    assert (power / (Pressure(2, "Pa") * VolumeFlowRate(3, "m^3/s"))).value == pytest.approx(2.0)
    assert type(power / Velocity(2, "m/s") / Mass(1, "kg") * Time(1, "s")) is Velocity


def test_a_result_without_a_kind_is_shown_in_units_of_its_dimension_only():
    fourth = Length(2.0, "m", standard(0.1)) ** 4
    assert fourth.to("mm^4").value == pytest.approx(1.6e13, rel=1e-14)
    with pytest.raises(UnitError, match=r"'m\^4' to 'm': the dimensions differ; .* like 'm\^4'"):
        fourth.to("m")
