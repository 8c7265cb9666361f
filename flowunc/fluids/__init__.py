"""Properties of fluids and the local gravity, each with the uncertainty of its formulation.

==================  ============================================================
`water`             density and viscosity of liquid water, at 0.1 MPa and up to 1 MPa
`seawater`          the same from temperature and salinity
`glycerol_water`    the same for mixtures of glycerol and water
`tabulated_liquid`  the same from a data sheet's table: `TabulatedLiquid`
`gauge_liquids`     densities of mercury, ethanol and kerosene for manometers
`air`               density of moist air, or a constant for when air hardly matters
`local_gravity`     free-fall acceleration from latitude and height
`formulations`      the published coefficients, with source and unit; no code
`water_operations`  the formulas of water as recorded operations
`water_pressure`    what another pressure than 0.1 MPa changes, and where water is steam
`model_error`       what a formula leaves open, as a factor of the record
`ranges`            the check of a stated validity range
==================  ============================================================

Uses `flowunc.core`, and from `flowunc.instruments` the default for air that was not measured.
What is uncertain about a formulation is one shared component with a fixed key: results of two
processes still correlate through it. A table is its user's own, and so are its components.
"""

from flowunc.fluids import air, gauge_liquids, glycerol_water, seawater, water
from flowunc.fluids.local_gravity import gravity
from flowunc.fluids.tabulated_liquid import TabulatedLiquid

__all__ = [
    "TabulatedLiquid",
    "air",
    "gauge_liquids",
    "glycerol_water",
    "gravity",
    "seawater",
    "water",
]
