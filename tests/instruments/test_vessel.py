"""The vessel: a volume on a graduated scale."""

import math

import pytest

from flowunc.core.errors import (
    DimensionError,
    RangeError,
    ShapeError,
    StatementError,
    UnitError,
)
from flowunc.core.kinds import Temperature, Volume
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits, standard
from flowunc.instruments import Scale, Vessel


def test_a_reading_is_a_volume():
    volume = Vessel(Scale(10, "mL", span=(0, 1000)), accuracy=limits(5)).read([0.0, 900.0])
    assert isinstance(volume, Volume)
    assert volume.unit == "mL"
    assert volume.value == pytest.approx([0.0, 900.0])
    # half a division and the limits of its class, 5 mL each [JCGM 100, 4.3.7]
    assert volume.u == pytest.approx([math.sqrt(50 / 3)] * 2, rel=1e-12)


def test_a_reading_below_zero_is_refused():
    with pytest.raises(RangeError, match=r"vessel at reading 1: -1 mL"):
        Vessel(Scale(1, "mL")).read([1.0, -1.0])


def test_a_scale_of_another_unit_is_refused():
    with pytest.raises(UnitError, match=r"vessel: scale in 'g'; expected a unit of volume"):
        Vessel(Scale(1, "g"))


# Cubic expansion of borosilicate glass 3.3, 9.9e-6 /K [ISO 4787], from memory: 100 mL at 20 degC
# hold 100.0099 mL at 30 degC.
def test_glass_grows_with_temperature():
    flask = Vessel(Scale(1e-6, "mL"), expansion=Quantity(9.9e-6, "1/K"))
    volume = flask.read([100.0, 100.0], temperature=Temperature([20, 30], "degC"))
    assert isinstance(volume, Volume)
    assert volume.unit == "mL"
    assert volume.value == pytest.approx([100.0, 100.0099], rel=1e-12)
    assert flask.read(100.0).value == 100.0
    assert flask.expansion is not None
    assert flask.expansion.label == "vessel expansion"


def test_uncertainty_of_expansion_and_temperature():
    tank = Vessel(
        Scale(1e-9, "L"),
        expansion=Quantity(5e-5, "1/K", standard(1e-5)),
        reference_temperature=Temperature(15, "degC"),
    )
    volume = tank.read(100.0, temperature=Temperature(45, "degC", standard(2)))
    # 100 L: 30 K of 1e-5 /K, and 5e-5 /K of 2 K
    assert volume.value == pytest.approx(100.15, rel=1e-12)
    assert volume.u == pytest.approx(math.hypot(0.03, 0.01), rel=1e-9)


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"expansion": 1e-5}, DimensionError, "expansion=.*got 1e-05"),
        ({"expansion": Quantity(1e-5, "K")}, DimensionError, "expansion="),
        ({"expansion": Quantity([1e-5] * 2, "1/K")}, ShapeError, "2 expansions"),
        ({"expansion": Quantity(1e-3, "1/K")}, RangeError, "not that of the liquid"),
        ({"reference_temperature": Temperature(20, "degC")}, StatementError, "without expansion"),
        (
            {
                "expansion": Quantity(1e-5, "1/K"),
                "reference_temperature": Temperature([15, 20], "degC"),
            },
            ShapeError,
            "2 reference temperatures",
        ),
    ],
)
def test_an_expansion_that_does_not_fit_is_refused(options, error, match):
    with pytest.raises(error, match=match):
        Vessel(Scale(1, "mL"), **options)


def test_a_temperature_for_a_vessel_without_expansion_is_refused():
    with pytest.raises(StatementError, match="give it expansion="):
        Vessel(Scale(1, "mL")).read(100.0, temperature=Temperature(30, "degC"))
