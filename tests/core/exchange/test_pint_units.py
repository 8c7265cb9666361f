"""Quantities of pint: sizes and zeros of units agree with those of its registries."""

from __future__ import annotations

import importlib
import subprocess
import sys

import numpy as np
import pint
import pytest

from flowunc import (
    Angle,
    DimensionError,
    Length,
    Pressure,
    Quantity,
    RangeError,
    Ratio,
    Temperature,
    UnitError,
    VolumeFlowRate,
    limits,
    standard,
)
from flowunc.core.exchange import pint_units
from flowunc.core.exchange.pint_units import from_pint, to_pint
from flowunc.core.unit_table import UNITS


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


# -- to pint -------------------------------------------------------------------------------------
def test_value_and_uncertainty_go_out_in_the_unit(registry):
    value, u = to_pint(VolumeFlowRate([90.0, 120.0], "L/h", standard(2.0)), registry)
    assert value.units == u.units == registry.Unit("liter/hour")
    assert value.magnitude.tolist() == [90.0, 120.0]
    assert u.to("milliliter/hour").magnitude == pytest.approx([2000.0, 2000.0], rel=1e-14)
    pair = to_pint(Length(19.05, "mm", limits(0.05)), registry)
    assert isinstance(pair.value.magnitude, float)
    assert pair.u.to("micrometer").magnitude == pytest.approx(50.0 / 3**0.5, rel=1e-14)


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_goes_out_and_comes_back_in_its_size(registry, unit):
    old = Quantity(3.0, unit, standard(0.5))
    value, u = to_pint(old, registry)
    base = old.si
    assert value.to_base_units().magnitude == pytest.approx(_base(registry, base, 3.0), rel=1e-12)
    assert u.to(value.units).magnitude / value.magnitude == pytest.approx(1 / 6, rel=1e-14)
    back = from_pint(Quantity, value, [standard(u.magnitude)])
    assert back.si.value == pytest.approx(base.value, rel=1e-12)
    assert back.si.u == pytest.approx(base.u, rel=1e-12)
    assert back._unit.dimension is old._unit.dimension


def _base(registry, quantity, value) -> float:
    """Return a coherent value in the base units of pint, which has grams among them or not."""
    text = str(quantity.unit).replace("^", "**")
    made = registry.Quantity(quantity.value, text) if text != "1" else quantity.value
    return made if isinstance(made, float) else made.to_base_units().magnitude


@pytest.mark.parametrize("text", ["L", "mL", "um", "kOhm", "US_gal", "imp_gal", "mH2O", "psi", "%"])
def test_units_of_the_trade_keep_their_names(registry, text):
    value, _ = to_pint(Quantity(1.0, text), registry)
    back = from_pint(Quantity, value)
    assert back.value == pytest.approx(1.0, rel=1e-14)
    assert back.unit == text  # it was U+00B5 or U+03BC for micro, by the version of pint


def test_a_unit_of_another_size_goes_out_in_base_units():
    # mmHg is the Torr here; a registry with the conventional column of mercury,
    # 13595.1 kg/m^3 * 9.80665 m/s^2 * 1 mm, differs by 1.4e-7 [NIST SP 811, B.8]
    registry = pint.UnitRegistry()
    value, u = to_pint(Pressure(760.0, "mmHg", standard(1.0)), registry)
    assert value.to("pascal").magnitude == pytest.approx(101325.0, rel=1e-13)
    assert u.to("torr").magnitude == pytest.approx(1.0, rel=1e-13)
    column = registry.Quantity(760.0, "mmHg")
    assert column.to("pascal").magnitude > 101325.0 * (1 + 1e-7)
    with pytest.raises(UnitError, match="no unit of the name and size of 'millimeter_Hg'"):
        from_pint(Pressure, column)


def test_a_registry_with_other_definitions_is_not_believed():
    registry = pint.UnitRegistry()
    registry.define("L = 2 * liter")
    value, _ = to_pint(VolumeFlowRate(90.0, "L/h"), registry)
    assert value.to("liter/hour").magnitude == pytest.approx(90.0, rel=1e-13)


def test_a_scale_with_another_zero_goes_out_in_kelvins():
    registry = pint.UnitRegistry()
    registry.define("degree_Celsius = kelvin; offset: 273.0 = °C = degC")  # rounded
    value, u = to_pint(Temperature(20.0, "degC", standard(0.5)), registry)
    assert value.units == u.units == registry.Unit("kelvin")
    assert value.magnitude == pytest.approx(293.15, rel=1e-14)
    assert u.magnitude == pytest.approx(0.5, rel=1e-14)
    with pytest.raises(UnitError, match="no unit of the name and size of 'degree_Celsius'"):
        from_pint(Temperature, registry.Quantity(20.0, "degC"))


def test_celsius_and_its_differences(registry):
    value, u = to_pint(Temperature([20.0, 25.0], "degC", standard(0.5)), registry)
    assert value.units == registry.Unit("degree_Celsius")
    assert u.units == registry.Unit("delta_degree_Celsius")
    # 0 degC is 273.15 K [SI Brochure 2019, 2.3.1]; a difference has no zero
    assert value.to("kelvin").magnitude == pytest.approx([293.15, 298.15], rel=1e-14)
    assert u.to("kelvin").magnitude == pytest.approx([0.5, 0.5], rel=1e-12)
    assert (value + u).magnitude == pytest.approx([20.5, 25.5], rel=1e-12)


def test_fahrenheit_and_its_differences(registry):
    value, u = to_pint(Temperature(68.0, "degF", standard(0.5, "K")), registry)
    assert value.to("degC").magnitude == pytest.approx(20.0, rel=1e-12)
    assert u.units == registry.Unit("delta_degree_Fahrenheit")
    assert u.magnitude == pytest.approx(0.9, rel=1e-12)


def test_differences_go_out_in_kelvins(registry):
    warm = Temperature(25.0, "degC", standard(0.5)) - Temperature(20.0, "degC")
    value, u = to_pint(warm, registry)
    assert value.units == u.units == registry.Unit("kelvin")
    assert value.magnitude == pytest.approx(5.0, rel=1e-12)


def test_the_application_registry_serves_by_default():
    value, _ = to_pint(Length(2.0, "m"))
    assert value == pint.get_application_registry().Quantity(2.0, "meter")


def test_what_goes_out_is_a_copy(registry):
    length = Length([1.0, 2.0], "m", standard(0.1))
    value, u = to_pint(length, registry)
    value.magnitude[0] = u.magnitude[0] = 9.0
    assert length.value.tolist() == [1.0, 2.0]
    assert length.u.tolist() == pytest.approx([0.1, 0.1], rel=1e-14)
    with pytest.raises(DimensionError, match="to_pint of float: expected a quantity"):
        to_pint(2.0, registry)


# -- from pint -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "text", "unit"),
    [
        (Length, "millimeter", "mm"),
        (Length, "inch", "in"),
        (VolumeFlowRate, "liter/hour", "L/h"),
        (VolumeFlowRate, "gallon/minute", "US_gal/min"),
        (VolumeFlowRate, "imperial_gallon/day", "imp_gal/d"),
        (Pressure, "kilogram/meter/second**2", "kg/(m*s^2)"),
        (Pressure, "millibar", "mbar"),
        (Angle, "degree", "deg"),
        (Ratio, "percent", "%"),
        (Ratio, "dimensionless", "1"),
        (Quantity, "meter**0.5", "m^(1/2)"),
        (Quantity, "1/second", "1/s"),
        (Quantity, "joule/kilogram/delta_degC", "J/(kg*K)"),
        (Temperature, "degC", "degC"),
        (Temperature, "degF", "degF"),
        (Temperature, "kelvin", "K"),
        (Quantity, "delta_degC", "K"),
    ],
)
def test_units_come_in_under_their_names(registry, kind, text, unit):
    made = from_pint(kind, registry.Quantity(np.array([300.0, 310.0]), text), label="own")
    assert (type(made), made.unit, made.label) == (kind, unit, "own")
    assert made.value == pytest.approx([300.0, 310.0], rel=1e-14)


def test_statements_are_in_the_unit_of_pint(registry):
    bore = from_pint(Length, 0.75 * registry.inch, [standard(0.002), standard(0.0381, "mm")])
    # 0.002 in are 0.0508 mm; 0.0381 and 0.0508 are 3 and 4 times 0.0127, together 0.0635 mm
    assert bore.to("mm").u == pytest.approx(0.0635, rel=1e-12)
    assert bore.to("mm").value == pytest.approx(19.05, rel=1e-14)


def test_numbers_of_any_sort_come_in(registry):
    assert from_pint(Length, 2 * registry.meter).value == 2.0
    assert from_pint(Length, registry.Quantity([1, 2], "m")).value.tolist() == [1.0, 2.0]
    for wrong in (np.nan, np.inf, "2.0"):
        with pytest.raises(RangeError):
            from_pint(Length, pint.Quantity(wrong, "m") if wrong != "2.0" else _text(registry))
    magnitudes = np.array([1.0, 2.0])
    made = from_pint(Length, registry.Quantity(magnitudes, "m"))
    magnitudes[0] = 9.0
    assert made.value.tolist() == [1.0, 2.0]


def _text(registry):
    made = registry.Quantity(1.0, "m")
    made._magnitude = "2.0"
    return made


@pytest.mark.parametrize("text", ["furlong", "knot", "delta_degF", "revolution/minute", "decibel"])
def test_units_that_flowunc_does_not_have_are_refused(registry, text):
    with pytest.raises(UnitError, match="flowunc has no unit of the name and size of"):
        from_pint(Quantity, registry.Quantity(1.0, text))


def test_kinds_are_checked(registry):
    with pytest.raises(UnitError, match="Length in 's'"):
        from_pint(Length, 1.0 * registry.second)
    with pytest.raises(UnitError, match=r"made with Temperature"):
        from_pint(Quantity, registry.Quantity(20.0, "degC"))
    with pytest.raises(
        DimensionError,
        match=r"^from_pint\(Temperature, \.\.\.\): .* is a temperature difference; ",
    ):
        from_pint(Temperature, registry.Quantity(20.0, "delta_degC"))
    with pytest.raises(RangeError, match="below absolute zero"):
        from_pint(Temperature, registry.Quantity(-300.0, "degC"))
    for wrong in (2.0, "2 m", Length(2.0, "m"), None):
        with pytest.raises(
            DimensionError, match=r"^from_pint\(Length, \.\.\.\) of .*expected a quantity of pint"
        ):
            from_pint(Length, wrong)


def test_registries_do_not_have_to_be_one():
    own = pint.UnitRegistry()
    made = from_pint(Length, own.Quantity(2.0, "mm"), [standard(0.5)])
    value, _ = to_pint(made, pint.UnitRegistry())
    assert value.magnitude == 2.0


# -- without pint --------------------------------------------------------------------------------
def test_the_extra_is_named_where_pint_is_absent(monkeypatch):
    def absent(name):
        raise ImportError(name)

    monkeypatch.setattr(importlib, "import_module", absent)
    for use in (lambda: to_pint(Length(1.0, "m")), lambda: from_pint(Length, 1.0)):
        with pytest.raises(ImportError, match=r'pip install "flowunc\[pint\]"'):
            use()


def test_pint_is_loaded_only_where_it_is_used():
    script = f"import sys, {pint_units.__name__}; print('pint' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"
