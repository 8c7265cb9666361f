"""Flow in a round pipe: from measured quantities to Re and f, and what theory says of them.

==============  ================================================================
`flow`          mean velocity and Reynolds number
`friction`      Darcy and Fanning friction factor, wall shear stress
`laws`          reference laws of the friction factor with range and own uncertainty
`inverse`       back to the roughness of the wall, and to the viscosity of the liquid
`drop_to_flow`  the flow that a pressure drop drives
`regimes`       laminar, transitional or turbulent, as probabilities
`critical`      where laminar flow ended, from runs with notes of the dye
`entrance`      length until the profile is developed
`developed`     that length held against the place of the taps
`profile`       velocity across the pipe
`dye_front`     mean velocity from a timed dye front
`wall`          friction velocity, viscous sublayer, how rough the wall acts
`losses`        fittings, head, hydraulic gradient; why the pipe need not be level
`shares`        shares of draws below, between and above thresholds
`signs`         the refusal of values that must be above 0
==============  ================================================================

Uses `flowunc.core`, the error components of `flowunc.fluids` and the default gravity of
`flowunc.instruments`. Formulas are plain arithmetic on quantities, so the formula in the code
*is* the recorded model; only laws that f does not stand alone in have a solution of their own.
"""

from flowunc.pipe import laws
from flowunc.pipe.critical import CriticalReynolds, critical_reynolds
from flowunc.pipe.developed import DevelopedFlow, developed_flow
from flowunc.pipe.drop_to_flow import flow_from_drop
from flowunc.pipe.dye_front import dye_front_velocity, mean_velocity_from_centreline
from flowunc.pipe.entrance import entrance_length
from flowunc.pipe.flow import mean_velocity, reynolds_number
from flowunc.pipe.friction import darcy_friction_factor, fanning, wall_shear_stress
from flowunc.pipe.inverse import roughness_from_friction, viscosity_from_laminar_drop
from flowunc.pipe.losses import head_loss, hydraulic_gradient, minor_loss, pressure_from_head
from flowunc.pipe.profile import (
    centreline_ratio,
    laminar_velocity,
    power_law_exponent,
    turbulent_velocity,
)
from flowunc.pipe.regimes import Regimes, regime
from flowunc.pipe.wall import (
    WallRegimes,
    friction_velocity,
    roughness_reynolds_number,
    viscous_sublayer_thickness,
    wall_regime,
)

__all__ = [
    "CriticalReynolds",
    "DevelopedFlow",
    "Regimes",
    "WallRegimes",
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
    "reynolds_number",
    "roughness_from_friction",
    "roughness_reynolds_number",
    "turbulent_velocity",
    "viscosity_from_laminar_drop",
    "viscous_sublayer_thickness",
    "wall_regime",
    "wall_shear_stress",
]
