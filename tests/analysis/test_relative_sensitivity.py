"""Per cent of the result per per cent of the input: the exponent, where there is one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import (
    Angle,
    Density,
    Length,
    Pressure,
    Quantity,
    Ratio,
    Scale,
    Temperature,
    Time,
    VariableAreaMeter,
    VolumeFlowRate,
    concatenate,
    darcy_friction_factor,
    error_limit,
    limits,
    mean_velocity,
    percent_of_full_scale,
    percent_of_reading,
    repeated,
    shared,
    standard,
    water,
)
from flowunc.analysis.budget_lines import budget_lines
from flowunc.analysis.relative_sensitivity import relative_sensitivity


def by_label(quantity):
    lines = budget_lines(quantity)
    found = relative_sensitivity(lines)
    return {c.label: row for c, row in zip(lines.components, found, strict=True)}


def test_exponents_of_the_friction_factor():
    bore = Length(19.05, "mm", limits(0.05))  # unlabelled: named after its role, in two copies
    flow = VolumeFlowRate([1.2, 2.0, 3.1], "L/min", percent_of_reading(2), label="flow")
    drop = Pressure([20.0, 60.0, 130.0], "Pa", shared(limits(2.0)), label="drop")
    density = Density(998.2, "kg/m^3", standard(0.5), label="density")
    spacing = Length(2.4, "m", limits(0.002), label="spacing")
    f = darcy_friction_factor(drop, density, mean_velocity(flow, bore), bore, spacing)
    found = by_label(f)
    # f = pi^2 D^5 dp/(8 rho L Q^2), by substituting v = 4 Q/(pi D^2)
    exponents = {"bore": 5, "flow": -2, "drop": 1, "density": -1, "spacing": -1}
    assert set(found) == set(exponents)
    for label, exponent in exponents.items():
        np.testing.assert_allclose(found[label], exponent, rtol=1e-12)


def test_a_fraction_of_the_input_counts_as_such():
    # one per cent of the density formulation is one per cent of the density
    found = by_label(water.density(Temperature(20.0, "degC", standard(0.1))))
    assert found["water density formulation"] == pytest.approx([1.0], rel=1e-12)


@pytest.mark.parametrize(
    "accuracy",
    [
        percent_of_reading(2),
        percent_of_full_scale(2),
        error_limit(2.5, linearity_limit=50),
        limits(0.05),
    ],
)
def test_every_statement_on_a_meter_gives_the_same_exponent(accuracy):
    meter = VariableAreaMeter(Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy, label="meter")
    time = meter.read([0.5, 1.0, 3.0]) ** -2
    found = by_label(time)
    assert set(found) == {"meter calibration", "meter resolution"}
    for row in found.values():
        np.testing.assert_allclose(row, -2.0, rtol=1e-12)


def test_a_relative_error_has_it_even_behind_inputs_of_different_value():
    rule = Length([400.0, 300.0], "mm", shared(percent_of_reading(1)), label="rule")
    # 1 % of both columns is 1 % of their difference
    assert by_label(rule[0] - rule[1])["rule"] == pytest.approx([1.0], rel=1e-12)


def test_an_error_in_millimetres_behind_two_heights_has_none():
    rule = Length([400.0, 300.0], "mm", shared(limits(1.0)), label="rule")
    assert math.isnan(by_label(rule[0] + rule[1])["rule"][0])
    level = Length([300.0, 300.0], "mm", shared(limits(1.0)), label="rule")
    assert by_label(level[0] + level[1])["rule"] == pytest.approx([1.0], rel=1e-12)


def test_readings_taken_apart_and_joined_keep_their_own():
    gauge = Length([4.0, 2.0, 1.0], "m", shared(limits(0.1)), label="gauge")
    other = Length(8.0, "m", limits(0.1), label="other")
    mixed = concatenate(gauge[2], other, gauge[[1, 0]]) + Length(1.0, "m")
    found = by_label(mixed)
    # d ln(x + 1)/d ln x = x/(x + 1)
    expected = [1 / 2, np.nan, 2 / 3, 4 / 5]
    np.testing.assert_allclose(found["gauge"], expected, rtol=1e-12)
    np.testing.assert_allclose(found["other"], [np.nan, 8 / 9, np.nan, np.nan], rtol=1e-12)


def test_a_mean_has_it_for_the_shared_error_of_equal_readings_only():
    equal = Length([2.0, 2.0], "m", shared(limits(0.1)), label="gauge")
    assert by_label(equal.mean())["gauge"] == pytest.approx([1.0], rel=1e-12)
    different = Length([2.0, 4.0], "m", shared(limits(0.1)), label="gauge")
    assert math.isnan(by_label(different.mean())["gauge"][0])
    own = Length([2.0, 2.0], "m", limits(0.1), label="own")
    assert math.isnan(by_label(own.mean())["own"][0])


def test_angles_count_from_zero():
    # d ln sin(a)/d ln a = a cot(a)
    angle = Angle(30.0, "deg", limits(0.2), label="angle")
    found = by_label(np.sin(angle))["angle"]
    assert found == pytest.approx([math.pi / 6 / math.tan(math.pi / 6)], rel=1e-12)
    level = Angle(0.0, "deg", limits(0.2), label="angle")
    assert math.isnan(by_label(Ratio(1.0, "1") + np.sin(level))["angle"][0])


def test_no_number_where_a_zero_is_arbitrary_or_reached():
    bath = Temperature(20.0, "degC", standard(0.1), label="bath")
    assert math.isnan(by_label(water.viscosity(bath))["bath"][0])
    corrected = bath + Quantity(0.5, "K", standard(0.05), label="correction")
    assert all(math.isnan(row[0]) for row in by_label(corrected).values())
    length = Length(2.0, "m", standard(0.1), label="length")
    assert math.isnan(by_label(length - Length(2.0, "m"))["length"][0])


def test_no_number_for_what_was_estimated_together():
    from flowunc.analysis import fit_line

    x = Length([1.0, 2.0, 3.0, 4.0], "m")
    slope = fit_line(x, Length([1.1, 1.9, 3.2, 3.9], "m"), scatter=True).slope
    assert np.isnan(relative_sensitivity(budget_lines(slope))).all()


def test_several_statements_on_one_input_all_have_that_of_the_input():
    time = Time(4.0, "s", repeated([3.9, 4.0, 4.1]), limits(0.1, label="watch"), label="fall")
    found = by_label(time**2)
    assert len(found) == 2
    for row in found.values():
        assert row == pytest.approx([2.0], rel=1e-12)
