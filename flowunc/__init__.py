"""Measurement uncertainty of pipe-flow benches, from readings to conclusions.

Every result is a `Quantity` whose uncertainty comes from named, independent components.
Arithmetic records the measurement model once; the linear method (`.u`, `.budget`) and the
Monte Carlo method (`.monte_carlo`) evaluate the same record, and `cross_check` holds one
against the other.

- statements: `limits`, `standard`, `expanded`, `repeated`, `percent_of_reading`, ...
- quantities: `Length`, `Temperature`, `VolumeFlowRate`, ..., `Quantity`, `apply`
- instruments: `Scale`, `Thermometer`, `VariableAreaMeter`, `InclinedManometer`, ...
- fluids and pipe: `water`, `air`, `gravity`, `mean_velocity`, `reynolds_number`,
  `darcy_friction_factor`, `laws`, `regime`, ...
- what limits a result: `rounded_budget`, `budget_table`, `improvements`, `shortcuts`
- agreement: `agreement`, `drawn_agreement`, `consistency`, `weighted_mean`, `common_bias`,
  `compare_laws`, `residual_pattern`, `outliers`, `cross_check`
- fits: `fit_line`, `fit_power_law`, `fit_laminar_constant`, `fit_roughness`
- planning: `plan`, `best_inclination`, `meter_crossover`, `smallest_flow`, `worthwhile_repeats`,
  `compare_with_plan`
- other programs: `to_json`, `from_json`, `to_frame`, `from_frame`, `to_pint`, `from_pint`
- a whole bench: `load_bench`, `read_sheet`, `analyse`; ``python -m flowunc``

A name loads the modules it needs when it is first used, so that `import flowunc` takes no time.
Threads may use names for the first time at once; a program that unpickles in several threads, or
imports parts such as `flowunc.core.kinds` there, uses a name such as `flowunc.Quantity` before.
"""

from importlib import import_module as _import_module
from threading import RLock as _RLock
from typing import TYPE_CHECKING

# Read by type checkers and editors only; `_PLACES` says the same to the interpreter.
if TYPE_CHECKING:
    from flowunc.analysis import Agreement as Agreement
    from flowunc.analysis import agreement as agreement
    from flowunc.analysis import budget_table as budget_table
    from flowunc.analysis import common_bias as common_bias
    from flowunc.analysis import compare_laws as compare_laws
    from flowunc.analysis import drawn_agreement as drawn_agreement
    from flowunc.analysis import fit_calibration as fit_calibration
    from flowunc.analysis import fit_laminar_constant as fit_laminar_constant
    from flowunc.analysis import fit_line as fit_line
    from flowunc.analysis import fit_power_law as fit_power_law
    from flowunc.analysis import fit_roughness as fit_roughness
    from flowunc.analysis import improvements as improvements
    from flowunc.analysis import outliers as outliers
    from flowunc.analysis import residual_pattern as residual_pattern
    from flowunc.analysis import shortcuts as shortcuts
    from flowunc.analysis import weighted_mean as weighted_mean
    from flowunc.bench import Bench as Bench
    from flowunc.bench import Plan as Plan
    from flowunc.bench import Runs as Runs
    from flowunc.bench import Sheet as Sheet
    from flowunc.bench import analyse as analyse
    from flowunc.bench import consistency as consistency
    from flowunc.bench import load_bench as load_bench
    from flowunc.bench import read_sheet as read_sheet
    from flowunc.bench.planning import best_inclination as best_inclination
    from flowunc.bench.planning import compare_with_plan as compare_with_plan
    from flowunc.bench.planning import meter_crossover as meter_crossover
    from flowunc.bench.planning import plan as plan
    from flowunc.bench.planning import smallest_flow as smallest_flow
    from flowunc.bench.planning import worthwhile_repeats as worthwhile_repeats
    from flowunc.core.apply import apply as apply
    from flowunc.core.component import Component as Component
    from flowunc.core.display.budget import rounded_budget as rounded_budget
    from flowunc.core.display.frames import rounded_table as rounded_table
    from flowunc.core.errors import BenchError as BenchError
    from flowunc.core.errors import DimensionError as DimensionError
    from flowunc.core.errors import FlowuncError as FlowuncError
    from flowunc.core.errors import FlowuncWarning as FlowuncWarning
    from flowunc.core.errors import MissingPackageError as MissingPackageError
    from flowunc.core.errors import PropagationError as PropagationError
    from flowunc.core.errors import RangeError as RangeError
    from flowunc.core.errors import ReportError as ReportError
    from flowunc.core.errors import ShapeError as ShapeError
    from flowunc.core.errors import SheetError as SheetError
    from flowunc.core.errors import StatementError as StatementError
    from flowunc.core.errors import UnitError as UnitError
    from flowunc.core.exchange import DocumentError as DocumentError
    from flowunc.core.exchange import from_frame as from_frame
    from flowunc.core.exchange import from_json as from_json
    from flowunc.core.exchange import from_pint as from_pint
    from flowunc.core.exchange import to_frame as to_frame
    from flowunc.core.exchange import to_json as to_json
    from flowunc.core.exchange import to_pint as to_pint
    from flowunc.core.kinds import Acceleration as Acceleration
    from flowunc.core.kinds import Angle as Angle
    from flowunc.core.kinds import Area as Area
    from flowunc.core.kinds import Density as Density
    from flowunc.core.kinds import DynamicViscosity as DynamicViscosity
    from flowunc.core.kinds import FrictionFactor as FrictionFactor
    from flowunc.core.kinds import KinematicViscosity as KinematicViscosity
    from flowunc.core.kinds import Length as Length
    from flowunc.core.kinds import Mass as Mass
    from flowunc.core.kinds import MassFlowRate as MassFlowRate
    from flowunc.core.kinds import Pressure as Pressure
    from flowunc.core.kinds import Ratio as Ratio
    from flowunc.core.kinds import ReynoldsNumber as ReynoldsNumber
    from flowunc.core.kinds import Temperature as Temperature
    from flowunc.core.kinds import Time as Time
    from flowunc.core.kinds import Velocity as Velocity
    from flowunc.core.kinds import Volume as Volume
    from flowunc.core.kinds import VolumeFlowRate as VolumeFlowRate
    from flowunc.core.quantity import Quantity as Quantity
    from flowunc.core.readings import concatenate as concatenate
    from flowunc.core.statements import Statement as Statement
    from flowunc.core.statements import arcsine as arcsine
    from flowunc.core.statements import expanded as expanded
    from flowunc.core.statements import exponential as exponential
    from flowunc.core.statements import limits as limits
    from flowunc.core.statements import repeated as repeated
    from flowunc.core.statements import shared as shared
    from flowunc.core.statements import standard as standard
    from flowunc.core.statements import trapezoidal as trapezoidal
    from flowunc.core.statements import triangular as triangular
    from flowunc.fluids import TabulatedLiquid as TabulatedLiquid
    from flowunc.fluids import air as air
    from flowunc.fluids import gauge_liquids as gauge_liquids
    from flowunc.fluids import glycerol_water as glycerol_water
    from flowunc.fluids import gravity as gravity
    from flowunc.fluids import seawater as seawater
    from flowunc.fluids import water as water
    from flowunc.instruments import Balance as Balance
    from flowunc.instruments import Caliper as Caliper
    from flowunc.instruments import CorrectionTable as CorrectionTable
    from flowunc.instruments import EmergentStem as EmergentStem
    from flowunc.instruments import InclinedManometer as InclinedManometer
    from flowunc.instruments import Instrument as Instrument
    from flowunc.instruments import InvertedUTubeManometer as InvertedUTubeManometer
    from flowunc.instruments import OrificePlate as OrificePlate
    from flowunc.instruments import PlatinumResistance as PlatinumResistance
    from flowunc.instruments import PressureTransmitter as PressureTransmitter
    from flowunc.instruments import Rule as Rule
    from flowunc.instruments import Scale as Scale
    from flowunc.instruments import Stopwatch as Stopwatch
    from flowunc.instruments import Thermometer as Thermometer
    from flowunc.instruments import TimedCollection as TimedCollection
    from flowunc.instruments import UTubeManometer as UTubeManometer
    from flowunc.instruments import VariableAreaMeter as VariableAreaMeter
    from flowunc.instruments import VenturiTube as VenturiTube
    from flowunc.instruments import Vessel as Vessel
    from flowunc.instruments import WellManometer as WellManometer
    from flowunc.instruments import bore_from_diameters as bore_from_diameters
    from flowunc.instruments import bore_from_water_mass as bore_from_water_mass
    from flowunc.instruments import capillarity as capillarity
    from flowunc.instruments import capillary_rise as capillary_rise
    from flowunc.instruments import error_limit as error_limit
    from flowunc.instruments import iec_60751 as iec_60751
    from flowunc.instruments import mean_of_repeats as mean_of_repeats
    from flowunc.instruments import percent_of_full_scale as percent_of_full_scale
    from flowunc.instruments import percent_of_reading as percent_of_reading
    from flowunc.instruments import read_band as read_band
    from flowunc.instruments import roughness_of as roughness_of
    from flowunc.instruments import swinging as swinging
    from flowunc.instruments import switching_error as switching_error
    from flowunc.instruments import thermally_expanded as thermally_expanded
    from flowunc.pipe import centreline_ratio as centreline_ratio
    from flowunc.pipe import critical_reynolds as critical_reynolds
    from flowunc.pipe import darcy_friction_factor as darcy_friction_factor
    from flowunc.pipe import developed_flow as developed_flow
    from flowunc.pipe import dye_front_velocity as dye_front_velocity
    from flowunc.pipe import entrance_length as entrance_length
    from flowunc.pipe import fanning as fanning
    from flowunc.pipe import flow_from_drop as flow_from_drop
    from flowunc.pipe import friction_velocity as friction_velocity
    from flowunc.pipe import head_loss as head_loss
    from flowunc.pipe import hydraulic_gradient as hydraulic_gradient
    from flowunc.pipe import laminar_velocity as laminar_velocity
    from flowunc.pipe import laws as laws
    from flowunc.pipe import mean_velocity as mean_velocity
    from flowunc.pipe import mean_velocity_from_centreline as mean_velocity_from_centreline
    from flowunc.pipe import minor_loss as minor_loss
    from flowunc.pipe import power_law_exponent as power_law_exponent
    from flowunc.pipe import pressure_from_head as pressure_from_head
    from flowunc.pipe import regime as regime
    from flowunc.pipe import reynolds_number as reynolds_number
    from flowunc.pipe import roughness_from_friction as roughness_from_friction
    from flowunc.pipe import roughness_reynolds_number as roughness_reynolds_number
    from flowunc.pipe import turbulent_velocity as turbulent_velocity
    from flowunc.pipe import viscosity_from_laminar_drop as viscosity_from_laminar_drop
    from flowunc.pipe import viscous_sublayer_thickness as viscous_sublayer_thickness
    from flowunc.pipe import wall_regime as wall_regime
    from flowunc.pipe import wall_shear_stress as wall_shear_stress
    from flowunc.propagation import CrossCheck as CrossCheck
    from flowunc.propagation import JointResult as JointResult
    from flowunc.propagation import MonteCarloResult as MonteCarloResult
    from flowunc.propagation import SecondOrder as SecondOrder
    from flowunc.propagation import cross_check as cross_check
    from flowunc.propagation import monte_carlo as monte_carlo
    from flowunc.propagation import monte_carlo_joint as monte_carlo_joint
    from flowunc.propagation import second_order as second_order

__version__ = "0.1.0"

_LAYERS = ("core", "propagation", "instruments", "fluids", "pipe", "analysis", "bench")
# Held against the imports above by tests/test_public_names.py; everything else follows from it.
_PLACES = {
    "analysis": (
        "Agreement agreement budget_table common_bias compare_laws drawn_agreement "
        "fit_calibration fit_laminar_constant fit_line fit_power_law fit_roughness "
        "improvements outliers residual_pattern shortcuts weighted_mean"
    ),
    "bench": "Bench Plan Runs Sheet analyse consistency load_bench read_sheet",
    "bench.planning": (
        "best_inclination compare_with_plan meter_crossover plan smallest_flow worthwhile_repeats"
    ),
    "core.apply": "apply",
    "core.component": "Component",
    "core.display.budget": "rounded_budget",
    "core.display.frames": "rounded_table",
    "core.errors": (
        "BenchError DimensionError FlowuncError FlowuncWarning MissingPackageError "
        "PropagationError RangeError ReportError ShapeError SheetError StatementError "
        "UnitError"
    ),
    "core.exchange": "DocumentError from_frame from_json from_pint to_frame to_json to_pint",
    "core.kinds": (
        "Acceleration Angle Area Density DynamicViscosity FrictionFactor KinematicViscosity "
        "Length Mass MassFlowRate Pressure Ratio ReynoldsNumber Temperature Time Velocity "
        "Volume VolumeFlowRate"
    ),
    "core.quantity": "Quantity",
    "core.readings": "concatenate",
    "core.statements": (
        "Statement arcsine expanded exponential limits repeated shared standard trapezoidal "
        "triangular"
    ),
    "fluids": "TabulatedLiquid air gauge_liquids glycerol_water gravity seawater water",
    "instruments": (
        "Balance Caliper CorrectionTable EmergentStem InclinedManometer Instrument "
        "InvertedUTubeManometer OrificePlate PlatinumResistance PressureTransmitter Rule "
        "Scale Stopwatch Thermometer TimedCollection UTubeManometer VariableAreaMeter "
        "VenturiTube Vessel WellManometer bore_from_diameters bore_from_water_mass "
        "capillarity capillary_rise error_limit iec_60751 mean_of_repeats "
        "percent_of_full_scale percent_of_reading read_band roughness_of swinging "
        "switching_error thermally_expanded"
    ),
    "pipe": (
        "centreline_ratio critical_reynolds darcy_friction_factor developed_flow "
        "dye_front_velocity entrance_length fanning flow_from_drop friction_velocity "
        "head_loss hydraulic_gradient laminar_velocity laws mean_velocity "
        "mean_velocity_from_centreline minor_loss power_law_exponent pressure_from_head "
        "regime reynolds_number roughness_from_friction roughness_reynolds_number "
        "turbulent_velocity viscosity_from_laminar_drop viscous_sublayer_thickness "
        "wall_regime wall_shear_stress"
    ),
    "propagation": (
        "CrossCheck JointResult MonteCarloResult SecondOrder cross_check monte_carlo "
        "monte_carlo_joint second_order"
    ),
}
_PLACE_OF = {name: place for place, names in _PLACES.items() for name in names.split()}

# One thread loads at a time: two that enter a package at different modules could each see the
# other's half made.
_loading = _RLock()


def _load_layers() -> None:
    """Load all layers: a pickle or a document names what may lie in any of them."""
    with _loading:
        for layer in _LAYERS:
            _import_module(f"flowunc.{layer}")


def _found(name: str) -> object:
    """Load a public name or a layer, once."""
    if name in _LAYERS:
        with _loading:
            return _import_module(f"flowunc.{name}")
    if name not in _PLACE_OF:
        # Given a name of its own, the interpreter does not append a second suggestion.
        raise AttributeError(
            f"module 'flowunc' has no attribute {name!r}{_nearest(name)}", name=name
        )
    with _loading:
        value: object = getattr(_import_module(f"flowunc.{_PLACE_OF[name]}"), name)
    globals()[name] = value
    return value


def _nearest(name: str) -> str:
    """Ask whether the nearest public name was meant."""
    if name.startswith("_"):  # what tools look for in any module
        return ""
    from difflib import get_close_matches

    known = (*_PLACE_OF, *_LAYERS)
    by_case = {item.casefold(): item for item in known}
    short = name[:40]
    close = [by_case[short.casefold()]] if short.casefold() in by_case else []
    close = close or get_close_matches(short, known, n=1)
    close = close or [by_case[item] for item in get_close_matches(short.casefold(), by_case, n=1)]
    return f"; did you mean {close[0]!r}?" if close else "; dir(flowunc) lists the names it has"


def __dir__() -> list[str]:
    special = {name for name in globals() if name.startswith("__")}
    return sorted({*_LAYERS, *_PLACE_OF, *special} - {"__dir__", "__getattr__"})  # as help shows it


# Out of sight of type checkers, which go by the imports above: they cannot read a computed
# `__all__`, and take every misspelt name for a good one where there is a `__getattr__`.
if not TYPE_CHECKING:
    __all__ = sorted(_PLACE_OF)
    __getattr__ = _found
