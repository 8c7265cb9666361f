import copy
import pickle
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc.core import dimensions as dim
from flowunc.core.dimensions import Dimension, exact_exponent
from flowunc.core.errors import UnitError

EXPONENTS = st.fractions(min_value=-6, max_value=6, max_denominator=6)
DIMENSIONS = st.builds(Dimension, *[EXPONENTS] * 7)


def test_equal_dimensions_are_one_object():
    assert Dimension(length=1, time=-1) is dim.LENGTH / dim.TIME
    assert Dimension(length=2.0) is Dimension(length=Fraction(2)) is dim.AREA
    assert dim.LENGTH != dim.TIME
    assert len({dim.LENGTH, Dimension(length=1), dim.TIME}) == 2


@given(DIMENSIONS)
def test_copies_and_pickles_are_the_same_object(dimension):
    assert copy.copy(dimension) is dimension
    assert copy.deepcopy([dimension])[0] is dimension
    for protocol in range(pickle.HIGHEST_PROTOCOL + 1):
        assert pickle.loads(pickle.dumps(dimension, protocol)) is dimension


def test_a_dimension_cannot_be_changed():
    with pytest.raises(AttributeError, match="cannot be changed"):
        dim.LENGTH.exponents = (0,) * 7
    with pytest.raises(AttributeError, match="cannot be changed"):
        del dim.LENGTH.exponents


@given(DIMENSIONS, DIMENSIONS, DIMENSIONS)
def test_dimensions_form_a_commutative_group(a, b, c):
    assert a * b is b * a
    assert (a * b) * c is a * (b * c)
    assert a * dim.DIMENSIONLESS is a
    assert a / a is dim.DIMENSIONLESS
    assert (a * b) / b is a


@given(DIMENSIONS, EXPONENTS, EXPONENTS)
def test_powers_follow_the_laws_of_exponents(a, p, q):
    assert a**p * a**q is a ** (p + q)
    assert (a**p) ** q is a ** (p * q)
    assert a**1 is a
    assert a**-1 is dim.DIMENSIONLESS / a


# Exponents of kg, m, s in coherent SI: [SI Brochure 2019, tables 4, 5 and 6], from memory [M].
@pytest.mark.parametrize(
    ("dimension", "mass", "length", "time"),
    [
        (dim.AREA, 0, 2, 0),
        (dim.VOLUME, 0, 3, 0),
        (dim.VELOCITY, 0, 1, -1),
        (dim.ACCELERATION, 0, 1, -2),
        (dim.FORCE, 1, 1, -2),
        (dim.ENERGY, 1, 2, -2),
        (dim.POWER, 1, 2, -3),
        (dim.PRESSURE, 1, -1, -2),
        (dim.DENSITY, 1, -3, 0),
        (dim.DYNAMIC_VISCOSITY, 1, -1, -1),
        (dim.KINEMATIC_VISCOSITY, 0, 2, -1),
        (dim.VOLUME_FLOW_RATE, 0, 3, -1),
        (dim.MASS_FLOW_RATE, 1, 0, -1),
    ],
)
def test_derived_dimensions_have_the_published_exponents(dimension, mass, length, time):
    assert dimension.exponents == (length, mass, time, 0, 0, 0, 0)


def test_reynolds_number_and_friction_factor_are_dimensionless():
    reynolds = dim.DENSITY * dim.VELOCITY * dim.LENGTH / dim.DYNAMIC_VISCOSITY
    friction = dim.LENGTH * dim.PRESSURE / (dim.DENSITY * dim.LENGTH * dim.VELOCITY**2)
    assert reynolds is dim.DIMENSIONLESS
    assert friction is dim.DIMENSIONLESS


@pytest.mark.parametrize(
    ("exponent", "exact"),
    [
        (0.5, Fraction(1, 2)),
        (1 / 3, Fraction(1, 3)),
        (1.852, Fraction(463, 250)),
        (np.float64(0.25), Fraction(1, 4)),
        (np.float32(0.5), Fraction(1, 2)),
        (np.int64(2), 2),
        (-2.0, -2),
        (Fraction(4, 2), 2),
    ],
)
def test_exponents_become_exact(exponent, exact):
    assert exact_exponent(exponent) == exact
    assert type(exact_exponent(exponent)) is type(exact)
    assert (dim.LENGTH**exponent).exponents[0] == exact


@pytest.mark.parametrize("exponent", [3.141592653589793, 2**0.5, 0.33333])
def test_an_exponent_that_is_no_simple_fraction_is_refused(exponent):
    with pytest.raises(UnitError, match=f"{exponent!r}.*not a simple fraction"):
        dim.LENGTH**exponent
    # A pure number may be raised to any power.
    assert dim.DIMENSIONLESS**exponent is dim.DIMENSIONLESS


@pytest.mark.parametrize("exponent", [float("nan"), float("inf")])
@pytest.mark.parametrize("base", [dim.LENGTH, dim.DIMENSIONLESS])
def test_an_exponent_that_is_not_finite_is_refused(base, exponent):
    with pytest.raises(UnitError, match="finite"):
        base**exponent


def test_other_operands_are_a_type_error():
    with pytest.raises(TypeError):
        dim.LENGTH * 2
    with pytest.raises(TypeError):
        2 / dim.LENGTH
    with pytest.raises(TypeError):
        dim.LENGTH ** [2]
    with pytest.raises(TypeError):
        dim.LENGTH**dim.LENGTH


@pytest.mark.parametrize(
    ("dimension", "text"),
    [
        (dim.DIMENSIONLESS, "1"),
        (dim.POWER, "kg*m^2/s^3"),
        (dim.PRESSURE, "kg/(m*s^2)"),
        (dim.DIMENSIONLESS / dim.TIME, "1/s"),
        (dim.LENGTH**0.5, "m^(1/2)"),
        (dim.TIME**-0.5, "1/s^(1/2)"),
        (dim.TEMPERATURE * dim.CURRENT * dim.AMOUNT * dim.LUMINOUS_INTENSITY, "K*A*mol*cd"),
    ],
)
def test_text_is_a_product_of_base_units(dimension, text):
    assert str(dimension) == text


def test_representation_can_be_evaluated():
    dimension = dim.PRESSURE**0.5
    namespace = {"Dimension": Dimension, "Fraction": Fraction}
    assert eval(repr(dimension), namespace) is dimension


def test_arithmetic_is_looked_up_not_computed():
    before = dim._product.cache_info()
    for _ in range(100):
        dim.DENSITY * dim.VELOCITY
    after = dim._product.cache_info()
    assert after.misses - before.misses <= 1
    assert after.hits - before.hits >= 99
