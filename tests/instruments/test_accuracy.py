"""Accuracy statements: what stands on a data sheet, as half-widths of a rectangular error."""

import math
import pickle

import numpy as np
import pytest

from flowunc.core.distributions import Normal, Rectangular, ScaledT
from flowunc.core.errors import StatementError
from flowunc.core.kinds import Length, Temperature, VolumeFlowRate
from flowunc.core.statements import Reference, shared
from flowunc.core.units import parse_unit
from flowunc.instruments.accuracy import error_limit, percent_of_full_scale, percent_of_reading

LITRES = parse_unit("L/min")
METER = Reference("small meter", LITRES, None, (LITRES.to_si(0.4), LITRES.to_si(4.0)))
CELSIUS = parse_unit("degC")
TANK = Reference("tank", CELSIUS, None, (CELSIUS.to_si(0.0), CELSIUS.to_si(50.0)))


def half_width(statement, reading):
    """Largest error at a reading in L/min, per cent of that reading."""
    value = np.asarray(LITRES.to_si(reading))
    distribution, _ = statement.distribution_for(METER)
    assert isinstance(distribution, Rectangular)
    return distribution.half_width * statement.gain_for(value, METER) / value * 100


# [VDI/VDE 3513-2], G = 2.5 %, qG = 50 % of full scale [T]: at 30 % the text prints 4.166
# (truncated 4.1666...); at and above 50 % it is G; 25 % of full scale doubles it.
@pytest.mark.parametrize(
    ("share", "limit"), [(100, 2.5), (75, 2.5), (50, 2.5), (30, 25 / 6), (25, 5.0), (10, 12.5)]
)
def test_error_limit_is_that_of_the_standard(share, limit):
    statement = error_limit(2.5, linearity_limit=50)
    assert half_width(statement, 4.0 * share / 100) == pytest.approx(limit, rel=1e-12)


def test_absolute_error_limit_below_the_linearity_limit_is_constant():
    # [VDI/VDE 3513-2] [T]: 1.25 % of full scale in the example, 0.05 L/min of 4 L/min.
    statement = error_limit(2.5, linearity_limit=50)
    gains = statement.gain_for(LITRES.to_si(np.array([0.4, 1.2, 2.0])), METER)
    assert np.ptp(gains) == 0.0
    assert LITRES.from_si(gains * 0.025) == pytest.approx([0.05] * 3, rel=1e-12)


def test_the_three_statements_differ_as_their_words_say():
    # At a quarter of the scale 2 % of full scale is 8 % of reading.
    assert half_width(percent_of_reading(2), 1.0) == pytest.approx(2.0, rel=1e-12)
    distribution, unit = percent_of_full_scale(2).distribution_for(METER)
    assert LITRES.from_si(distribution.half_width) == pytest.approx(0.08, rel=1e-12)
    assert str(unit) == "L/min"


@pytest.mark.parametrize("statement", [percent_of_reading(2), error_limit(2.5, linearity_limit=50)])
def test_a_relative_error_is_shown_in_per_cent(statement):
    distribution, unit = statement.distribution_for(METER)
    assert str(unit) == "%"
    assert unit.from_si(distribution.half_width) == pytest.approx(statement.percent)


def test_k_makes_it_an_expanded_uncertainty():
    # [JCGM 100, 4.3.3]: u = U / k.
    distribution, _ = percent_of_reading(3, k=2).distribution_for(METER)
    assert distribution == Normal(0.015)
    distribution, _ = error_limit(3, linearity_limit=50, k=2, dof=9).distribution_for(METER)
    assert distribution == ScaledT(0.015, 9.0)
    assert percent_of_reading(3, k=2, dof=9).degrees_of_freedom == 9.0


def test_on_a_quantity_it_is_one_error_for_each_reading_unless_shared():
    independent = Length([2.0, 2.0], "m", percent_of_reading(3))
    assert (independent[0] - independent[1]).u == pytest.approx(0.06 * math.sqrt(2 / 3))
    common = Length([2.0, 2.0], "m", shared(percent_of_reading(3)))
    assert common.u == pytest.approx([0.06 / math.sqrt(3)] * 2)
    assert (common[0] - common[1]).u == 0.0


def test_the_error_follows_the_reading():
    # one relative error behind both: the ratio of two readings is free of it
    flow = VolumeFlowRate([1.0, 3.0], "L/min", shared(percent_of_reading(3)))
    assert flow.u == pytest.approx([0.03 / math.sqrt(3), 0.09 / math.sqrt(3)])
    assert (flow[1] / flow[0]).u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    "statement",
    [percent_of_reading(1), percent_of_full_scale(1), error_limit(1, linearity_limit=50)],
)
@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_percent_of_a_temperature_scale_is_refused(statement, unit):
    reference = Reference("tank", parse_unit(unit), None, (273.0, 373.0))
    with pytest.raises(StatementError, match=rf"tank in '{unit}'.*limits\(\.\.\.\)"):
        statement.component(reference, "calibration")


def test_percent_of_a_celsius_value_is_refused():
    with pytest.raises(StatementError, match="zero"):
        Temperature(20, "degC", percent_of_reading(1))
    assert Temperature(300, "K", percent_of_reading(1)).u == pytest.approx(math.sqrt(3))


@pytest.mark.parametrize(
    "statement", [percent_of_full_scale(2), error_limit(2, linearity_limit=50)]
)
def test_full_scale_needs_a_span(statement):
    with pytest.raises(StatementError, match=r"2 % .*on flow: no full scale.*span="):
        VolumeFlowRate(2.0, "L/min", statement, label="flow")


def test_full_scale_must_lie_above_zero():
    vacuum = Reference("gauge", parse_unit("mbar"), None, (-1e5, 0.0))
    with pytest.raises(StatementError, match="the span ends at 0 mbar"):
        percent_of_full_scale(1).component(vacuum, "calibration")


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: percent_of_reading(-1), r"percent_of_reading\(-1\).*0 or more"),
        (lambda: percent_of_reading(math.nan), "0 or more"),
        (lambda: percent_of_full_scale(math.inf), r"percent_of_full_scale\(inf\)"),
        (lambda: percent_of_reading("2 %"), r"p='2 %'.*number"),
        (lambda: percent_of_reading(True), "number"),
        (lambda: percent_of_reading([1, 2]), "number"),
        (lambda: percent_of_reading(1, k=0), "coverage factor"),
        (lambda: percent_of_reading(1, k=-2), "coverage factor"),
        (lambda: percent_of_reading(1, dof=0), "degrees of freedom"),
        (lambda: error_limit(None, linearity_limit=50), "G=None"),
        (lambda: error_limit(2.5, linearity_limit=0), r"linearity_limit=0\).*up to 100"),
        (lambda: error_limit(2.5, linearity_limit=101), "up to 100"),
        (lambda: error_limit(2.5, linearity_limit=math.nan), "up to 100"),
    ],
)
def test_numbers_without_meaning_are_refused(make, match):
    with pytest.raises(StatementError, match=match):
        make()


def test_zero_per_cent_is_allowed():
    assert Length(2.0, "m", percent_of_reading(0)).u == 0.0


def test_statements_pickle():
    statement = error_limit(2.5, linearity_limit=50, k=2, label="class 2.5")
    assert pickle.loads(pickle.dumps(statement)) == statement
