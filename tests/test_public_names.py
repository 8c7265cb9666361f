"""What `import flowunc` offers: exactly the documented names, each with its docstring."""

from __future__ import annotations

import importlib
import inspect
from collections.abc import Iterator
from types import ModuleType

import pytest

import flowunc

DOCUMENTED = {
    "statements of uncertainty": [
        "arcsine",
        "error_limit",
        "expanded",
        "exponential",
        "limits",
        "percent_of_full_scale",
        "percent_of_reading",
        "repeated",
        "shared",
        "standard",
        "trapezoidal",
        "triangular",
    ],
    "typed quantities": [
        "Acceleration",
        "Angle",
        "Area",
        "Density",
        "DynamicViscosity",
        "FrictionFactor",
        "KinematicViscosity",
        "Length",
        "Mass",
        "MassFlowRate",
        "Pressure",
        "Quantity",
        "Ratio",
        "ReynoldsNumber",
        "Temperature",
        "Time",
        "Velocity",
        "Volume",
        "VolumeFlowRate",
    ],
    "operations on quantities": [
        "Component",
        "apply",
        "concatenate",
        "monte_carlo",
        "monte_carlo_joint",
    ],
    "other programs": [
        "from_frame",
        "from_json",
        "from_pint",
        "to_frame",
        "to_json",
        "to_pint",
    ],
    "instruments": [
        "InvertedUTubeManometer",
        "OrificePlate",
        "PressureTransmitter",
        "VenturiTube",
        "capillarity",
        "capillary_rise",
        "mean_of_repeats",
        "switching_error",
        "swinging",
        "read_band",
        "CorrectionTable",
        "EmergentStem",
        "PlatinumResistance",
        "iec_60751",
        "Rule",
        "Caliper",
        "thermally_expanded",
        "bore_from_diameters",
        "bore_from_water_mass",
        "roughness_of",
        "Balance",
        "InclinedManometer",
        "Scale",
        "Stopwatch",
        "Thermometer",
        "TimedCollection",
        "UTubeManometer",
        "VariableAreaMeter",
        "Vessel",
        "WellManometer",
    ],
    "fluids": [
        "TabulatedLiquid",
        "air",
        "gauge_liquids",
        "glycerol_water",
        "gravity",
        "seawater",
        "water",
    ],
    "pipe": [
        "centreline_ratio",
        "critical_reynolds",
        "darcy_friction_factor",
        "developed_flow",
        "dye_front_velocity",
        "entrance_length",
        "fanning",
        "flow_from_drop",
        "friction_velocity",
        "head_loss",
        "hydraulic_gradient",
        "laminar_velocity",
        "laws",
        "mean_velocity",
        "mean_velocity_from_centreline",
        "minor_loss",
        "power_law_exponent",
        "pressure_from_head",
        "regime",
        "roughness_from_friction",
        "reynolds_number",
        "roughness_reynolds_number",
        "turbulent_velocity",
        "viscosity_from_laminar_drop",
        "viscous_sublayer_thickness",
        "wall_regime",
        "wall_shear_stress",
    ],
    "what limits a result": ["budget_table", "improvements", "shortcuts"],
    "for annotations": [
        "Agreement",
        "CrossCheck",
        "Instrument",
        "JointResult",
        "MonteCarloResult",
        "Plan",
        "SecondOrder",
        "Sheet",
        "Statement",
    ],
    "tables to read": ["rounded_budget", "rounded_table"],
    "checks and conclusions": [
        "agreement",
        "common_bias",
        "compare_laws",
        "consistency",
        "cross_check",
        "drawn_agreement",
        "outliers",
        "residual_pattern",
        "second_order",
        "weighted_mean",
    ],
    "fits": [
        "fit_calibration",
        "fit_laminar_constant",
        "fit_line",
        "fit_power_law",
        "fit_roughness",
    ],
    "planning": [
        "best_inclination",
        "compare_with_plan",
        "meter_crossover",
        "plan",
        "smallest_flow",
        "worthwhile_repeats",
    ],
    "bench": ["Bench", "Runs", "analyse", "load_bench", "read_sheet"],
    "errors and warnings": [
        "BenchError",
        "DimensionError",
        "DocumentError",
        "FlowuncError",
        "FlowuncWarning",
        "MissingPackageError",
        "PropagationError",
        "RangeError",
        "ReportError",
        "ShapeError",
        "SheetError",
        "StatementError",
        "UnitError",
    ],
}
NAMES = sorted(name for group in DOCUMENTED.values() for name in group)
LAYERS = ("core", "propagation", "instruments", "fluids", "pipe", "analysis", "bench")
# What the documentation promises of the modules that are themselves public names.
IN_MODULES = {
    "water": ["density", "viscosity"],
    "air": ["density"],
    "laws": ["laminar", "blasius", "prandtl_smooth", "colebrook_white"],
}


def has_docstring(thing: object) -> bool:
    """Whether a person wrote a docstring: not inherited, not the one dataclass makes up."""
    text = (getattr(thing, "__doc__", None) or "").strip()
    return bool(text) and not text.startswith(f"{getattr(thing, '__name__', '')}(")


def public_members(kind: type) -> Iterator[tuple[str, object]]:
    """Methods and properties that a class of this project defines under a public name."""
    for ancestor in kind.__mro__:
        if not ancestor.__module__.startswith("flowunc"):
            continue
        for name, member in vars(ancestor).items():
            if name.startswith("_"):
                continue
            if inspect.isfunction(member) or isinstance(member, property):
                yield f"{ancestor.__name__}.{name}", member
            elif isinstance(member, classmethod | staticmethod):
                yield f"{ancestor.__name__}.{name}", member.__func__


def test_all_is_the_documented_list() -> None:
    listed = set(flowunc.__all__)
    assert len(listed) == len(flowunc.__all__), "a name is listed twice"
    missing, surplus = sorted(set(NAMES) - listed), sorted(listed - set(NAMES))
    assert (missing, surplus) == ([], []), f"not in __all__: {missing}; undocumented: {surplus}"


def test_nothing_else_is_visible() -> None:
    # A layer becomes an attribute by being imported; `annotations` is left by the future import.
    visible = {name for name in vars(flowunc) if not name.startswith("_")}
    assert visible - {*NAMES, *LAYERS, "annotations"} == set()


@pytest.mark.parametrize("name", NAMES)
def test_name_is_importable_and_documented(name: str) -> None:
    thing = getattr(flowunc, name)
    assert has_docstring(thing), f"flowunc.{name} has no docstring of its own"
    if inspect.isclass(thing):
        bare = [label for label, member in public_members(thing) if not has_docstring(member)]
        assert bare == []


@pytest.mark.parametrize("name", IN_MODULES)
def test_public_module_lists_documented_functions(name: str) -> None:
    module = getattr(flowunc, name)
    assert isinstance(module, ModuleType)
    assert set(IN_MODULES[name]) <= set(module.__all__)
    assert [entry for entry in module.__all__ if not has_docstring(getattr(module, entry))] == []


@pytest.mark.parametrize("layer", LAYERS)
def test_layer_lists_what_it_offers(layer: str) -> None:
    package = importlib.import_module(f"flowunc.{layer}")
    assert has_docstring(package)
    assert package.__all__
    assert [name for name in package.__all__ if not hasattr(package, name)] == []


def test_docstring_check_sees_its_absence() -> None:
    class Bare:
        def method(self) -> None: ...

    Bare.__module__ = "flowunc.invented"
    assert not has_docstring(Bare)
    assert [name for name, _ in public_members(Bare)] == ["Bare.method"]
    assert not has_docstring(Bare.method)
    assert has_docstring(public_members)
