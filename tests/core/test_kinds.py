"""Typed quantities: each with its dimension, and which kind may stand for which."""

from __future__ import annotations

import pickle
import pydoc

import numpy as np
import pytest

from flowunc import (
    Acceleration,
    Angle,
    Area,
    Density,
    DimensionError,
    DynamicViscosity,
    FrictionFactor,
    KinematicViscosity,
    Length,
    Mass,
    MassFlowRate,
    Pressure,
    Quantity,
    RangeError,
    Ratio,
    ReynoldsNumber,
    Temperature,
    Time,
    UnitError,
    Velocity,
    Volume,
    VolumeFlowRate,
    concatenate,
    standard,
)
from flowunc.core.kinds import require_kind

# Coherent SI units [SI Brochure 2019, tables 2, 4 and 5].
KINDS = {
    Length: "m",
    Area: "m^2",
    Volume: "m^3",
    Time: "s",
    Mass: "kg",
    Temperature: "K",
    Angle: "rad",
    Pressure: "Pa",
    Density: "kg/m^3",
    DynamicViscosity: "Pa*s",
    KinematicViscosity: "m^2/s",
    Velocity: "m/s",
    VolumeFlowRate: "m^3/s",
    MassFlowRate: "kg/s",
    Acceleration: "m/s^2",
    ReynoldsNumber: "1",
    FrictionFactor: "1",
    Ratio: "1",
}
PURE = (Angle, ReynoldsNumber, FrictionFactor, Ratio)
each_kind = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)


@each_kind
def test_kind_takes_its_coherent_unit_and_refuses_another(kind):
    assert kind(2.0, KINDS[kind], standard(0.1)).si.value == 2.0
    wrong = "kg" if kind is not Mass else "m"
    with pytest.raises(UnitError, match=f"{kind.__name__} in '{wrong}'"):
        kind(2.0, wrong)


@each_kind
def test_kind_survives_pickling_indexing_and_joining(kind):
    many = kind([300.0, 400.0], KINDS[kind], standard(1.0), label="x")
    for made in (pickle.loads(pickle.dumps(many)), many[1], many[:1], many[[1, 0]], many.mean()):
        assert type(made) is kind
        assert made.label == "x"
    assert type(concatenate(many, many)) is kind


@pytest.mark.parametrize("kind", PURE, ids=lambda kind: kind.__name__)
def test_arithmetic_of_kinds_of_dimension_one_gives_a_ratio(kind):
    number = kind(2.0, "1" if kind is not Angle else "rad", standard(0.1))
    for result in (number * 2, number / number, number + 1, -number, np.sin(number), abs(number)):
        assert type(result) is Ratio


@pytest.mark.parametrize("kind", PURE, ids=lambda kind: kind.__name__)
@pytest.mark.parametrize("wanted", PURE, ids=lambda kind: kind.__name__)
def test_only_a_ratio_stands_for_another_kind_of_dimension_one(kind, wanted):
    number = kind(0.5, "1" if kind is not Angle else "rad", standard(0.1), label="x")
    if kind in (wanted, Ratio):
        made = require_kind(number, wanted, "f", "argument")
        assert type(made) is wanted
        assert made.label == "x"
        assert (made - number).u == 0.0
    else:
        with pytest.raises(DimensionError, match=rf"{kind.__name__}.*{wanted.__name__}"):
            require_kind(number, wanted, "f", "argument")


def test_refusal_names_function_argument_and_both_kinds():
    with pytest.raises(DimensionError, match=r"speed\(bore=.*\).*Pressure in 'kPa'.*Length"):
        require_kind(Pressure(1, "kPa"), Length, "speed", "bore")
    with pytest.raises(DimensionError, match=r"speed\(bore=.*\).*float 0.02.*Length"):
        require_kind(0.02, Length, "speed", "bore")


def test_plain_quantity_of_the_right_dimension_is_accepted():
    made = require_kind(Quantity(2.0, "mm", standard(0.1), label="gap"), Length, "f", "x")
    assert (type(made), made.unit, made.label, made.u) == (Length, "mm", "gap", 0.1)


def test_difference_does_not_stand_for_a_temperature():
    difference = Temperature(300, "K") - Temperature(299, "K")
    with pytest.raises(DimensionError, match=r"Quantity in 'K'.*Temperature.*degC"):
        require_kind(difference, Temperature, "density", "temperature")


@pytest.mark.parametrize("kind", [Length, Pressure, Ratio], ids=lambda kind: kind.__name__)
def test_celsius_is_for_temperatures_only(kind):
    with pytest.raises(UnitError, match="degC"):
        kind(20.0, "degC")


def test_negative_values_have_a_meaning_for_other_kinds():
    assert Pressure(-5.0, "Pa").value == -5.0
    assert Temperature(-5.0, "degC").value == pytest.approx(-5.0, abs=1e-12)


@pytest.mark.parametrize("kind", Quantity.__subclasses__(), ids=lambda kind: kind.__name__)
def test_help_of_a_kind_tells_how_it_is_made(kind):
    if kind.__module__ != "flowunc.core.kinds":
        pytest.skip("a kind of a test")
    text = pydoc.render_doc(kind, renderer=pydoc.plaintext)
    assert "Parameters: value, unit, ``*statements``" in text
    assert f">>> from flowunc import {kind.__name__}" in text or kind is Temperature
    assert "Number or readings in ``unit``" in text
    assert "# --" not in text


@pytest.mark.parametrize(
    ("zero", "below", "unit"), [(0.0, -0.001, "K"), (-273.15, -273.151, "degC")]
)
def test_temperatures_end_at_absolute_zero(zero, below, unit):
    # 0 K is -273.15 degC [NIST SP 811, 4.2.1.1]
    assert Temperature([20.0, zero], unit).si.value[1] == 0.0
    with pytest.raises(RangeError, match="below absolute zero"):
        Temperature([20.0, below], unit)
