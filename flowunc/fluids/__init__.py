"""Properties of fluids and the local gravity, each with the uncertainty of its formulation.

==================  ==========================================================
`water`             density and viscosity of liquid water at 0.1 MPa
`air`               density of moist air, or a constant for when air hardly matters
`local_gravity`     free-fall acceleration from latitude and height
`formulations`      the published coefficients, with source and unit; no code
`model_error`       what a formula leaves open, as a factor of the record
`ranges`            the check of a stated validity range
==================  ==========================================================

Uses `flowunc.core`, and from `flowunc.instruments` the default for air that was not measured.
What is uncertain about a formulation is one shared component with a fixed key: results of two
processes still correlate through it.
"""

from flowunc.fluids import air, water
from flowunc.fluids.local_gravity import gravity

__all__ = ["air", "gravity", "water"]
