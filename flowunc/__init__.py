"""flowunc: measurement uncertainty of pipe-flow benches, from readings to conclusions."""

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
