"""Every result of the package through both engines: for small errors they must agree.

The linear engine uses the derivative of an operation, drawing only its evaluation, so a
mistake in either shows. The terms of second order come on top of the linear result, so that the
draws are what must be left. Tolerance: the standard deviation of n draws is known to 1/sqrt(2 n).
"""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import (
    Density,
    DynamicViscosity,
    FrictionFactor,
    Length,
    Pressure,
    Quantity,
    Ratio,
    ReynoldsNumber,
    Time,
    Velocity,
    VolumeFlowRate,
    limits,
    pipe,
    second_order,
    shared,
    standard,
)
from flowunc.pipe import laws

TRIALS = 40_000
RHO, MU = Density(998.2, "kg/m^3", limits(1)), DynamicViscosity(1.0, "mPa*s", limits(0.01))
BORE, SPACING = Length(20, "mm", limits(0.05)), Length(2.4, "m", limits(0.002))
DROP = Pressure([8, 15, 400, 900], "Pa", shared(standard(0.1)), limits(0.3))
SLOW = VolumeFlowRate([0.8, 1.5], "L/min", limits(0.02))
RE = ReynoldsNumber([2e4, 3e5, 2e6], "1", shared(standard(60)), limits(200))
RELATIVE = Ratio(0.01, "1", standard(2e-4))
F = FrictionFactor([0.045, 0.04, 0.0385], "1", standard(3e-4))
VELOCITY = Velocity([0.2, 0.5, 1.1], "m/s", limits(0.01))
RADIUS = Length([2, 6, 9], "mm", limits(0.1))
STAR = pipe.friction_velocity(Pressure([0.2, 2.0], "Pa", limits(0.01)), RHO)
SMOOTH = (laws.prandtl_smooth, laws.filonenko, laws.mckeon)
ROUGH = (laws.colebrook_white, laws.haaland, laws.swamee_jain, laws.churchill_1977)
RESULTS: dict[str, Quantity] = {
    **{law.name: law(RE) for law in SMOOTH},
    **{law.name: law(RE, RELATIVE) for law in ROUGH},
    "fully rough": laws.nikuradse_rough(RE[1:], RELATIVE),
    "relative roughness": pipe.roughness_from_friction(RE, F),
    "viscosity": pipe.viscosity_from_laminar_drop(DROP[:2], SLOW, BORE, SPACING),
    "flow, laminar": pipe.flow_from_drop(DROP[:2], BORE, SPACING, RHO, MU),
    "flow, turbulent": pipe.flow_from_drop(DROP[2:], BORE, SPACING, RHO, MU),
    "flow": pipe.flow_from_drop(DROP, BORE, SPACING, RHO, MU, Length(0.1, "mm", limits(0.02))),
    "critical": pipe.critical_reynolds(RE[:2], ["laminar", "turbulent"]).reynolds,
    "entrance": pipe.developed_flow(RE, BORE, Length(0.5, "m", limits(0.01)), trials=10).excess,
    "exponent": pipe.power_law_exponent(F),
    "centreline": pipe.centreline_ratio(F, regime="turbulent"),
    "laminar profile": pipe.laminar_velocity(VELOCITY, BORE, RADIUS),
    "turbulent profile": pipe.turbulent_velocity(VELOCITY, BORE, RADIUS, F),
    "front": pipe.dye_front_velocity(Length(1, "m", limits(0.002)), Time(8, "s", limits(0.2))),
    "mean of front": pipe.mean_velocity_from_centreline(VELOCITY, F, regime="turbulent"),
    "friction velocity": STAR,
    "sublayer": pipe.viscous_sublayer_thickness(STAR, RHO, MU),
    "roughness Reynolds number": pipe.roughness_reynolds_number(
        Length(0.2, "mm", limits(0.02)), STAR, RHO, MU
    ),
    "minor loss": pipe.minor_loss(Ratio(0.5, "1", limits(0.05)), RHO, VELOCITY),
    "head": pipe.head_loss(DROP, RHO),
    "pressure of head": pipe.pressure_from_head(Length(12, "mm", limits(0.2)), RHO),
    "gradient": pipe.hydraulic_gradient(DROP, RHO, SPACING),
}


@pytest.mark.parametrize("name", RESULTS)
def test_linear_and_drawn_agree(name: str) -> None:
    result = RESULTS[name]
    drawn, curved = result.monte_carlo(TRIALS, seed=3), second_order(result)
    # the wide limits of a law bend the roughness, and what a law at that gives
    assert np.all(np.abs(curved.u / result.u - 1) < 0.03)
    np.testing.assert_allclose(drawn.u, curved.u, rtol=5 / np.sqrt(2 * TRIALS))
    deviation = np.asarray(drawn.mean) - result.value - curved.shift
    assert np.all(np.abs(deviation) < 5 * np.asarray(result.u) / np.sqrt(TRIALS))
