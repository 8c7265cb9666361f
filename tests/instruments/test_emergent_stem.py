"""The emergent stem: size and sign of the correction, its uncertainty, and what is refused."""

import math

import numpy as np
import pytest

from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Length, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.statements import standard
from flowunc.instruments import Scale, Thermometer
from flowunc.instruments.emergent_stem import EmergentStem

STEM = Temperature(25, "degC")
COLUMN = Quantity(20, "K")


# n = 20, 60 degC read, 25 degC stem: +0.112 K for mercury, +0.7 K for an organic liquid, with the
# coefficients of [NBS Monograph 150] from memory; 0.000085 /degF in a Fahrenheit text, read
@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ({}, 0.112),
        ({"filling": "organic"}, 0.7),
        ({"coefficient": Quantity(0.000085 * 1.8, "1/K")}, 0.000153 * 20 * 35),
    ],
)
def test_size_of_the_correction(options, expected):
    stem = EmergentStem(stem_temperature=STEM, emergent=COLUMN, **options)
    added = stem.at(Temperature(60, "degC"))
    assert added.value == pytest.approx(expected, rel=1e-9)
    assert added.unit == "K"


def test_a_stem_warmer_than_the_liquid_reads_too_high():
    stem = EmergentStem(stem_temperature=STEM, emergent=COLUMN)
    assert stem.at(Temperature(5, "degC")).value < 0


# Handbook cubic expansions in 1e-6 /K near 20 degC, from memory: mercury 181.8; ethanol 1090 to
# 1120, toluene 1080; glass 27 (soda-lime) and 10 (borosilicate). The difference is k.
@pytest.mark.parametrize(
    ("filling", "liquid"),
    [("mercury", 181.8e-6), ("organic", 1.12e-3), ("organic", 1.08e-3)],
)
@pytest.mark.parametrize("glass", [10e-6, 27e-6])
def test_the_limits_hold_for_the_usual_glasses_and_liquids(filling, liquid, glass):
    stem = EmergentStem(stem_temperature=STEM, emergent=COLUMN, filling=filling)
    (component,) = stem.at(Temperature(60, "degC")).components
    value = stem.at(Temperature(60, "degC")).value / (20 * 35)
    assert abs(liquid - glass - value) <= component.distribution.half_width


def test_a_column_from_the_surface_of_the_liquid_grows_with_the_reading():
    stem = EmergentStem(stem_temperature=STEM, surface=Temperature(40, "degC"))
    # n is 20 and 40 here
    added = stem.at(Temperature([60, 80], "degC"))
    assert added.value == pytest.approx([0.112, 0.00016 * 40 * 55], rel=1e-9)


def test_uncertainties_of_column_stem_and_coefficient_all_enter():
    stem = EmergentStem(
        stem_temperature=Temperature(25, "degC", standard(3)),
        emergent=Quantity(20, "K", standard(1)),
    )
    bath = Thermometer(Scale(0.1, "degC"), correction=stem, label="bath")
    reading = bath.read(60.0)
    # relative parts of 0.112 K: k 0.015/0.16/sqrt(3), n 1/20, t_stem 3/35; resolution with
    # slope 1 + k n = 1.0032
    parts = 0.112 * np.array([0.015 / 0.16 / math.sqrt(3), 1 / 20, 3 / 35])
    resolution = 1.0032 * 0.05 / math.sqrt(3)
    expected = math.sqrt(np.sum(parts**2) + resolution**2)
    assert reading.u == pytest.approx(expected, rel=1e-9)
    assert [component.label for component in reading.components] == [
        "bath resolution",
        "bath stem coefficient",
        "bath emergent column",
        "bath stem temperature",
    ]
    drawn = reading.monte_carlo(40_000, seed=3)
    assert drawn.u == pytest.approx(reading.u, rel=5 / math.sqrt(80_000))


def test_the_coefficient_is_one_for_all_readings():
    stem = EmergentStem(stem_temperature=STEM, emergent=COLUMN)
    two = stem.at(Temperature([60, 60], "degC"))
    assert (two[0] - two[1]).u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({}, StatementError, "got neither"),
        ({"emergent": COLUMN, "surface": STEM}, StatementError, "got both"),
        ({"emergent": 20}, DimensionError, "got int 20; expected degrees of the scale"),
        ({"emergent": Temperature(20, "degC")}, DimensionError, "got Temperature in 'degC'"),
        ({"emergent": Length(20, "mm")}, DimensionError, "in 'mm'"),
        ({"emergent": Quantity([1, -2], "K")}, RangeError, "at reading 1: -2 K"),
        ({"surface": Quantity(20, "K")}, DimensionError, "expected Temperature"),
        ({"emergent": COLUMN, "filling": "water"}, StatementError, "'mercury' or 'organic'"),
        ({"emergent": COLUMN, "coefficient": 0.00016}, DimensionError, "got float 0.00016"),
        ({"emergent": COLUMN, "coefficient": Quantity(1, "K")}, DimensionError, "in 'K'"),
        ({"emergent": COLUMN, "coefficient": Quantity(1.6, "1/K")}, RangeError, "1.6 1/K"),
        ({"emergent": COLUMN, "stem_temperature": Quantity(25, "K")}, DimensionError, "stem_temp"),
    ],
)
def test_misuse_is_named(options, error, match):
    with pytest.raises(error, match=match):
        EmergentStem(**{"stem_temperature": STEM, **options})


def test_a_reading_below_the_surface_has_no_emergent_column():
    stem = EmergentStem(stem_temperature=STEM, surface=Temperature(40, "degC"))
    tank = Thermometer(Scale(0.1, "degC"), correction=stem, label="tank")
    with pytest.raises(RangeError, match=r"^tank at reading 1: the column ends 10 K below"):
        tank.read([50.0, 30.0])
