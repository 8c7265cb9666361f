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
- what limits a result: `budget_table`, `improvements`, `shortcuts`
- agreement: `agreement`, `drawn_agreement`, `consistency`, `weighted_mean`, `common_bias`,
  `compare_laws`, `residual_pattern`, `outliers`, `cross_check`
- fits: `fit_line`, `fit_power_law`, `fit_laminar_constant`, `fit_roughness`
- planning: `plan`, `best_inclination`, `meter_crossover`, `smallest_flow`, `worthwhile_repeats`,
  `compare_with_plan`
- a whole bench: `load_bench`, `read_sheet`, `analyse`; ``python -m flowunc``
"""

from flowunc.analysis import (
    agreement,
    budget_table,
    common_bias,
    compare_laws,
    drawn_agreement,
    fit_laminar_constant,
    fit_line,
    fit_power_law,
    fit_roughness,
    improvements,
    outliers,
    residual_pattern,
    shortcuts,
    weighted_mean,
)
from flowunc.bench import Bench, Runs, analyse, consistency, load_bench, read_sheet
from flowunc.bench.planning import (
    best_inclination,
    compare_with_plan,
    meter_crossover,
    plan,
    smallest_flow,
    worthwhile_repeats,
)
from flowunc.core.apply import apply
from flowunc.core.component import Component
from flowunc.core.errors import (
    BenchError,
    DimensionError,
    FlowuncError,
    FlowuncWarning,
    PropagationError,
    RangeError,
    ShapeError,
    SheetError,
    StatementError,
    UnitError,
)
from flowunc.core.kinds import (
    Acceleration,
    Angle,
    Area,
    Density,
    DynamicViscosity,
    FrictionFactor,
    KinematicViscosity,
    Length,
    Mass,
    MassFlowRate,
    Pressure,
    Ratio,
    ReynoldsNumber,
    Temperature,
    Time,
    Velocity,
    Volume,
    VolumeFlowRate,
)
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.core.statements import (
    arcsine,
    expanded,
    exponential,
    limits,
    repeated,
    shared,
    standard,
    trapezoidal,
    triangular,
)
from flowunc.fluids import air, gravity, water
from flowunc.instruments import (
    Balance,
    InclinedManometer,
    Scale,
    Stopwatch,
    Thermometer,
    TimedCollection,
    UTubeManometer,
    VariableAreaMeter,
    Vessel,
    WellManometer,
    error_limit,
    percent_of_full_scale,
    percent_of_reading,
)
from flowunc.pipe import (
    darcy_friction_factor,
    entrance_length,
    fanning,
    laws,
    mean_velocity,
    regime,
    reynolds_number,
    wall_shear_stress,
)
from flowunc.propagation.cross_check import cross_check
from flowunc.propagation.monte_carlo import monte_carlo, monte_carlo_joint
from flowunc.propagation.second_order import second_order

__all__ = [
    "Acceleration",
    "Angle",
    "Area",
    "Balance",
    "Bench",
    "BenchError",
    "Component",
    "Density",
    "DimensionError",
    "DynamicViscosity",
    "FlowuncError",
    "FlowuncWarning",
    "FrictionFactor",
    "InclinedManometer",
    "KinematicViscosity",
    "Length",
    "Mass",
    "MassFlowRate",
    "Pressure",
    "PropagationError",
    "Quantity",
    "RangeError",
    "Ratio",
    "ReynoldsNumber",
    "Runs",
    "Scale",
    "ShapeError",
    "SheetError",
    "StatementError",
    "Stopwatch",
    "Temperature",
    "Thermometer",
    "Time",
    "TimedCollection",
    "UTubeManometer",
    "UnitError",
    "VariableAreaMeter",
    "Velocity",
    "Vessel",
    "Volume",
    "VolumeFlowRate",
    "WellManometer",
    "agreement",
    "air",
    "analyse",
    "apply",
    "arcsine",
    "best_inclination",
    "budget_table",
    "common_bias",
    "compare_laws",
    "compare_with_plan",
    "concatenate",
    "consistency",
    "cross_check",
    "darcy_friction_factor",
    "drawn_agreement",
    "entrance_length",
    "error_limit",
    "expanded",
    "exponential",
    "fanning",
    "fit_laminar_constant",
    "fit_line",
    "fit_power_law",
    "fit_roughness",
    "gravity",
    "improvements",
    "laws",
    "limits",
    "load_bench",
    "mean_velocity",
    "meter_crossover",
    "monte_carlo",
    "monte_carlo_joint",
    "outliers",
    "percent_of_full_scale",
    "percent_of_reading",
    "plan",
    "read_sheet",
    "regime",
    "repeated",
    "residual_pattern",
    "reynolds_number",
    "second_order",
    "shared",
    "shortcuts",
    "smallest_flow",
    "standard",
    "trapezoidal",
    "triangular",
    "wall_shear_stress",
    "water",
    "weighted_mean",
    "worthwhile_repeats",
]
