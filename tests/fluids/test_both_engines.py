"""Every fluid property through both engines: for small errors they must agree.

The linear engine uses the derivative of an operation, drawing only its evaluation, so a
mistake in either shows. Tolerance: the standard deviation of n draws is known to 1/sqrt(2 n).
"""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import (
    Angle,
    Density,
    DynamicViscosity,
    Length,
    Pressure,
    Quantity,
    Ratio,
    Temperature,
    limits,
    percent_of_reading,
    shared,
    standard,
)
from flowunc.fluids import (
    TabulatedLiquid,
    air,
    gauge_liquids,
    glycerol_water,
    gravity,
    seawater,
    water,
)

TRIALS = 40_000
TEMPERATURE = Temperature([3.0, 4.0, 20.0, 60.0, 95.0], "degC", shared(standard(0.4)), limits(0.3))
ROOM = (
    Temperature([16, 21], "degC", limits(0.3)),
    Pressure(99, "kPa", limits(0.2)),
    Ratio([20, 70], "%", limits(5)),
)
PRESSURE = Pressure([110, 300, 500, 700, 950], "kPa", limits(20), shared(limits(10)))
SEA = Temperature([2, 15, 38], "degC", limits(0.4)), Ratio([0.5, 20, 41], "g/kg", limits(0.3))
# far from the ends of the fraction, where the viscosity is nearly linear over the errors
SYRUP = Temperature([5, 20, 35], "degC", limits(0.2)), Ratio([10, 50, 90], "%", limits(0.3))
OIL = TabulatedLiquid(  # invented
    Temperature([0, 10, 25, 40], "degC"),
    Density([878, 871, 861, 850], "kg/m^3", shared(limits(2)), limits(0.5)),
    DynamicViscosity(
        [110, 61, 30, 16.4], "mPa*s", shared(percent_of_reading(1)), percent_of_reading(0.5)
    ),
)
WARM = Temperature([3, 17, 25, 38], "degC", limits(0.2), shared(limits(0.2)))
RESULTS = {
    "compressed density": water.density(TEMPERATURE[2:], PRESSURE[2:], water="pure"),
    "viscosity under pressure": water.viscosity(TEMPERATURE, PRESSURE),
    "kinematic viscosity under pressure": water.kinematic_viscosity(TEMPERATURE, PRESSURE),
    "seawater density": seawater.density(*SEA),
    "seawater viscosity": seawater.viscosity(*SEA),
    "glycerol-water density": glycerol_water.density(*SYRUP),
    "glycerol-water viscosity": glycerol_water.viscosity(*SYRUP),
    "tabulated density": OIL.density(WARM),
    "tabulated viscosity": OIL.viscosity(WARM),
    "tabulated kinematic viscosity": OIL.kinematic_viscosity(WARM),
    "mercury": gauge_liquids.mercury.density(WARM),
    "ethanol": gauge_liquids.ethanol.density(),
    "density": water.density(TEMPERATURE),
    "pure density": water.density(TEMPERATURE[2:], water="pure"),
    "viscosity": water.viscosity(TEMPERATURE),
    "kinematic viscosity": water.kinematic_viscosity(TEMPERATURE),
    "air": air.density(*ROOM),
    "constant air": air.density(),
    "gravity": gravity(Angle([10, 52], "deg", limits(0.5)), Length(300, "m", limits(50))),
}


@pytest.mark.parametrize("name", RESULTS)
def test_linear_and_drawn_agree(name: str) -> None:
    result: Quantity = RESULTS[name]
    drawn = result.monte_carlo(TRIALS, seed=3)
    np.testing.assert_allclose(drawn.u, result.u, rtol=5 / np.sqrt(2 * TRIALS))
    # the curvature of viscosity shifts the mean by 0.01 % at most here
    np.testing.assert_allclose(
        np.asarray(drawn.mean) - result.value, 0, atol=5 * np.max(result.u) / np.sqrt(TRIALS) * 2
    )
