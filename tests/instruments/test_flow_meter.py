"""The variable-area meter: error limits on the scale, and the density of what flows."""

import math

import numpy as np
import pytest

from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    RangeError,
    StatementError,
    UnitError,
)
from flowunc.core.kinds import Density, VolumeFlowRate
from flowunc.core.statements import limits, standard
from flowunc.instruments import Scale, VariableAreaMeter, error_limit, percent_of_reading

SCALE = Scale(0.1, "L/min", span=(0.4, 4.0))


def dense_meter(**options):
    return VariableAreaMeter(
        SCALE,
        accuracy=limits(0),
        calibration_density=options.pop("calibration_density", Density(1000, "kg/m^3")),
        float_density=options.pop("float_density", Density(8000, "kg/m^3")),
    )


def test_error_limits_of_the_standard_on_a_reading():
    # [VDI/VDE 3513-2], G = 2.5 %, qG = 50 %: at 30 % of full scale 4.1667 % of reading [T]
    meter = VariableAreaMeter(
        Scale(0.1, "L/min", span=(0.4, 4.0), read_to=1e-9),
        accuracy=error_limit(2.5, linearity_limit=50),
    )
    flow = meter.read([1.2, 2.0, 4.0])
    relative = flow.u / flow.value * math.sqrt(3)
    assert relative == pytest.approx([0.0416667, 0.025, 0.025], rel=1e-6)


def test_the_accuracy_and_the_resolution_add_as_squares():
    meter = VariableAreaMeter(SCALE, accuracy=error_limit(2.5, linearity_limit=50))
    flow = meter.read([0.8, 1.2, 1.8, 2.6, 3.6])
    # half-widths in L/min: 0.05 of resolution; 1.25 % of 4 L/min, or 2.5 % of the reading
    accuracy = np.array([0.05, 0.05, 0.05, 0.065, 0.09])
    assert flow.u == pytest.approx(np.hypot(0.05, accuracy) / math.sqrt(3), rel=1e-12)


def test_a_meter_without_accuracy_warns_with_what_to_do():
    with pytest.warns(FlowuncWarning, match=r"flow meter: no accuracy stated.*error_limit"):
        VariableAreaMeter(SCALE)


def test_an_accuracy_of_zero_is_a_statement_too():
    meter = VariableAreaMeter(SCALE, accuracy=limits(0))
    assert [c.label for c in meter.read(2.0).components] == ["flow meter resolution"]


@pytest.mark.parametrize(("values", "place"), [(0.0, ":"), ([1.0, -0.5], " at reading 1:")])
def test_no_flow_is_a_zero_check(values, place):
    meter = VariableAreaMeter(Scale(0.1, "L/min"), accuracy=percent_of_reading(2))
    with pytest.raises(RangeError, match=f"flow meter{place} .*zero check of the manometer"):
        meter.read(values)


def test_a_scale_in_another_unit_is_refused():
    with pytest.raises(UnitError, match="scale in 'kg/s'; expected a unit of volume flow rate"):
        VariableAreaMeter(Scale(0.1, "kg/s"), accuracy=percent_of_reading(2))


# The float formula of [VDI/VDE 3513-1], from memory. Closed forms: float 8000, scale for 1000,
# fluid 2000 kg/m^3: sqrt(6000 * 1000 / (7000 * 2000)) = sqrt(3/7).
def test_density_shifts_the_scale():
    flow = dense_meter().read([2.0, 3.5], density=Density(2000, "kg/m^3"))
    assert isinstance(flow, VolumeFlowRate)
    assert flow.unit == "L/min"
    assert flow.label == "flow meter"
    assert flow.value == pytest.approx(np.array([2.0, 3.5]) * math.sqrt(3 / 7), rel=1e-13)


def test_for_a_gas_it_is_the_root_of_the_density_ratio():
    # a float much denser than the gas: q goes as 1 / sqrt(rho) (common practice, no source)
    meter = dense_meter(calibration_density=Density(1.2, "kg/m^3"))
    flow = meter.read(2.0, density=Density(4.8, "kg/m^3"))
    assert flow.value == pytest.approx(1.0, rel=3e-4)


def test_at_the_calibration_density_nothing_changes_but_the_uncertainty():
    flow = dense_meter().read(2.0, density=Density(1000, "kg/m^3", standard(10)))
    assert flow.value == pytest.approx(2.0, rel=1e-14)
    # d ln q / d ln rho = -rho_f / (2 (rho_f - rho)), here -4/7, times 1 %
    resolution = 0.05 / math.sqrt(3) / 2.0
    assert flow.u / 2.0 == pytest.approx(math.hypot(resolution, 0.04 / 7), rel=1e-12)


def test_the_same_density_on_both_sides_cancels():
    water = Density(998.2, "kg/m^3", standard(10))
    meter = dense_meter(calibration_density=water)
    flow = meter.read(2.0, density=water)
    assert flow.u == pytest.approx(0.05 / math.sqrt(3), rel=1e-12)


def test_densities_are_named_by_role():
    meter = dense_meter(
        calibration_density=Density(1000, "kg/m^3", standard(1)),
        float_density=Density(8000, "kg/m^3", standard(1)),
    )
    flow = meter.read(2.0, density=Density(1100, "kg/m^3", standard(1), label="brine"))
    assert {c.label for c in flow.components} == {
        "flow meter resolution",
        "flow meter calibration density",
        "flow meter float density",
        "brine",
    }


def test_a_meter_that_knows_its_densities_asks_for_that_of_the_fluid():
    with pytest.warns(FlowuncWarning, match=r"not corrected.*density="):
        flow = dense_meter().read(2.0)
    assert flow.value == pytest.approx(2.0, rel=1e-15)


def test_a_density_for_a_meter_that_does_not_know_its_own_is_refused():
    meter = VariableAreaMeter(SCALE, accuracy=percent_of_reading(2))
    with pytest.raises(StatementError, match="calibration_density= and float_density="):
        meter.read(2.0, density=Density(1000, "kg/m^3"))


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"calibration_density": None}, StatementError, "calibration_density= is missing"),
        ({"float_density": None}, StatementError, "float_density= is missing"),
        ({"float_density": 8000}, DimensionError, "float_density.*got int 8000"),
        ({"float_density": Density(900, "kg/m^3")}, RangeError, "900 kg/m.*denser than the fluid"),
        ({"float_density": Density([8, 9], "g/cm^3")}, RangeError, "got 1 and 2"),
    ],
)
def test_densities_that_do_not_fit_are_refused(options, error, match):
    with pytest.raises(error, match=match):
        dense_meter(**options)


def test_a_fluid_denser_than_the_float_is_refused():
    with pytest.raises(RangeError, match=r"at reading 1: fluid of 9000 kg/m\^3.*8000"):
        dense_meter().read([2.0, 2.0], density=Density([1000, 9000], "kg/m^3"))
