"""Every fluid property through both engines: for small errors they must agree.

The linear engine uses the derivative of an operation, drawing only its evaluation, so a
mistake in either shows. Tolerance: the standard deviation of n draws is known to 1/sqrt(2 n).
"""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import Angle, Length, Pressure, Quantity, Ratio, Temperature, limits, shared, standard
from flowunc.fluids import air, gravity, water

TRIALS = 40_000
TEMPERATURE = Temperature([3.0, 4.0, 20.0, 60.0, 95.0], "degC", shared(standard(0.4)), limits(0.3))
ROOM = (
    Temperature([16, 21], "degC", limits(0.3)),
    Pressure(99, "kPa", limits(0.2)),
    Ratio([20, 70], "%", limits(5)),
)
RESULTS = {
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
