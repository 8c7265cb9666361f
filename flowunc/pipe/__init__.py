"""Flow in a round pipe: from measured quantities to Re and f, and what theory says of them.

============  ==================================================================
`flow`        mean velocity and Reynolds number
`friction`    Darcy and Fanning friction factor, wall shear stress
`laws`        reference laws of the friction factor with range and own uncertainty
`regimes`     laminar, transitional or turbulent, as probabilities
`entrance`    length until the profile is developed
`signs`       the refusal of values that must be above 0
============  ==================================================================

Uses `flowunc.core`, and `flowunc.fluids` for range checks. Every formula is plain arithmetic on
quantities, so the formula in the code *is* the recorded model.
"""

from flowunc.pipe import laws
from flowunc.pipe.entrance import entrance_length
from flowunc.pipe.flow import mean_velocity, reynolds_number
from flowunc.pipe.friction import darcy_friction_factor, fanning, wall_shear_stress
from flowunc.pipe.regimes import Regimes, regime

__all__ = [
    "Regimes",
    "darcy_friction_factor",
    "entrance_length",
    "fanning",
    "laws",
    "mean_velocity",
    "regime",
    "reynolds_number",
    "wall_shear_stress",
]
