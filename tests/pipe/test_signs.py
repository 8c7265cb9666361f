"""Every argument of which the docstrings say "above 0" or "0 or more" is held to it, by name."""

from __future__ import annotations

import inspect
from typing import Any

import pytest

from flowunc import (
    Density,
    DynamicViscosity,
    FrictionFactor,
    Length,
    Pressure,
    Quantity,
    RangeError,
    Ratio,
    ReynoldsNumber,
    Time,
    Velocity,
    VolumeFlowRate,
    pipe,
    standard,
)

RE = ReynoldsNumber([1500, 1800], "1")
DROP = Pressure([10, 12], "Pa")
FLOW = VolumeFlowRate([1.0, 1.1], "L/min")
BORE, SPACING, ROUGH = Length(20, "mm"), Length(2.4, "m"), Length(0.01, "mm")
SPEED = Velocity([0.05, 0.06], "m/s")
F = FrictionFactor([0.04, 0.05], "1")
RHO, MU = Density(998.2, "kg/m^3"), DynamicViscosity(1.0, "mPa*s")

# function, good arguments, those above 0, those that may be 0
TABLE: list[tuple[str, dict[str, Any], str, str]] = [
    (
        "darcy_friction_factor",
        {"pressure_drop": DROP, "density": RHO, "velocity": SPEED, "bore": BORE,
         "tap_spacing": SPACING},
        "density velocity bore tap_spacing",
        "",
    ),
    (
        "developed_flow",
        {"reynolds": RE, "bore": BORE, "distance_to_first_tap": SPACING, "tap_spacing": SPACING,
         "trials": 100},
        "reynolds bore tap_spacing",
        "distance_to_first_tap",
    ),
    ("dye_front_velocity", {"distance": SPACING, "time": Time([8, 9], "s")}, "distance time", ""),
    ("entrance_length", {"reynolds": RE, "bore": BORE}, "reynolds bore", ""),
    (
        "flow_from_drop",
        {"pressure_drop": DROP, "bore": BORE, "tap_spacing": SPACING, "density": RHO,
         "viscosity": MU, "roughness": ROUGH},
        "pressure_drop bore tap_spacing density viscosity",
        "roughness",
    ),
    (
        "friction_velocity",
        {"wall_shear_stress": DROP, "density": RHO},
        "wall_shear_stress density",
        "",
    ),
    ("head_loss", {"pressure_drop": DROP, "density": RHO}, "density", ""),
    (
        "hydraulic_gradient",
        {"pressure_drop": DROP, "density": RHO, "tap_spacing": SPACING},
        "density tap_spacing",
        "",
    ),
    (
        "laminar_velocity",
        {"velocity": SPEED, "bore": BORE, "radius": Length(5, "mm")},
        "bore",
        "radius",
    ),
    ("mean_velocity", {"flow": FLOW, "bore": BORE}, "bore", ""),
    ("mean_velocity_from_centreline", {"centreline": SPEED, "regime": "laminar"}, "", "centreline"),
    (
        "minor_loss",
        {"loss_coefficient": Ratio(0.5, "1"), "density": RHO, "velocity": SPEED},
        "density",
        "loss_coefficient velocity",
    ),
    ("power_law_exponent", {"friction": F}, "friction", ""),
    ("pressure_from_head", {"head": SPACING, "density": RHO}, "density", ""),
    ("regime", {"reynolds": RE, "trials": 100}, "reynolds", ""),
    (
        "reynolds_number",
        {"velocity": SPEED, "bore": BORE, "density": RHO, "viscosity": MU},
        "bore density viscosity",
        "velocity",
    ),
    (
        "roughness_from_friction",
        {"reynolds": ReynoldsNumber([2e4, 3e4], "1"), "friction": F},
        "friction",
        "",
    ),
    (
        "roughness_reynolds_number",
        {"roughness": ROUGH, "friction_velocity": SPEED, "density": RHO, "viscosity": MU},
        "friction_velocity density viscosity",
        "roughness",
    ),
    (
        "turbulent_velocity",
        {"velocity": SPEED, "bore": BORE, "radius": Length(5, "mm"), "friction": F},
        "bore friction",
        "radius",
    ),
    (
        "viscosity_from_laminar_drop",
        {"pressure_drop": DROP, "flow": FLOW, "bore": BORE, "tap_spacing": SPACING,
         "density": RHO},
        "pressure_drop flow bore tap_spacing density",
        "",
    ),
    (
        "viscous_sublayer_thickness",
        {"friction_velocity": SPEED, "density": RHO, "viscosity": MU},
        "friction_velocity density viscosity",
        "",
    ),
    (
        "wall_shear_stress",
        {"pressure_drop": DROP, "bore": BORE, "tap_spacing": SPACING},
        "bore tap_spacing",
        "",
    ),
]  # fmt: skip
ABOVE = [(name, given, each) for name, given, above, _ in TABLE for each in above.split()]
ZERO = [(name, given, each) for name, given, _, zero in TABLE for each in zero.split()]


def replaced(given: dict[str, Any], argument: str, value: float | list[float]) -> dict[str, Any]:
    old = given[argument]
    return {**given, argument: type(old)(value, old.unit)}


@pytest.mark.parametrize(("name", "given"), [row[:2] for row in TABLE])
def test_the_arguments_of_the_table_are_good_ones(name: str, given: dict[str, Any]) -> None:
    getattr(pipe, name)(**given)


@pytest.mark.parametrize(("name", "given"), [row[:2] for row in TABLE])
def test_results_have_a_name_of_their_own(name: str, given: dict[str, Any]) -> None:
    # what a budget or a message calls them; without it a friction velocity is "Velocity"
    found = getattr(pipe, name)(**given)
    if isinstance(found, Quantity):
        assert found.label


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("regime", {"reynolds": RE, "trials": 100}),
        ("wall_regime", {"roughness_reynolds": Ratio([3, 90], "1"), "trials": 100}),
        ("developed_flow", {"reynolds": RE, "bore": BORE, "distance_to_first_tap": SPACING}),
        ("critical_reynolds", {"reynolds": RE, "regimes_noted": ["laminar", "turbulent"]}),
    ],
)
def test_two_results_are_told_apart_without_comparing_their_arrays(
    name: str, given: dict[str, Any]
) -> None:
    one, other = getattr(pipe, name)(**given), getattr(pipe, name)(**given)
    assert one == one
    assert one != other
    assert len({one, other, one}) == 2


OPTIONS = {"gravity", "laminar_below", "turbulent_above", "smooth_below", "rough_above"}
OPTIONS |= {"trials", "seed", "regime"}


@pytest.mark.parametrize("name", [each for each in pipe.__all__ if each.islower()])
def test_options_are_given_by_name_only(name: str) -> None:
    function = getattr(pipe, name)
    if inspect.isfunction(function):
        for argument in inspect.signature(function).parameters.values():
            by_name = argument.kind is argument.KEYWORD_ONLY
            assert by_name or argument.name not in OPTIONS
            assert argument.kind is not argument.POSITIONAL_ONLY


@pytest.mark.parametrize(("name", "given", "argument"), ABOVE)
@pytest.mark.parametrize("value", [0.0, -1.0])
def test_not_above_zero_is_refused(
    name: str, given: dict[str, Any], argument: str, value: float
) -> None:
    with pytest.raises(
        RangeError, match=rf"^{name}\({argument}=\.\.\.\): {value:g}( .*)?; expected a value above"
    ):
        getattr(pipe, name)(**replaced(given, argument, value))


@pytest.mark.parametrize(("name", "given", "argument"), ZERO)
def test_below_zero_is_refused_and_zero_is_not(
    name: str, given: dict[str, Any], argument: str
) -> None:
    getattr(pipe, name)(**replaced(given, argument, 0.0))
    with pytest.raises(
        RangeError, match=rf"^{name}\({argument}=\.\.\.\): -1( .*)?; expected a value 0 or more"
    ):
        getattr(pipe, name)(**replaced(given, argument, -1.0))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([1.0, 0.0, 2.0], "0 mm at reading 1; expected"),
        ([1.0, 2.0, -3.5], "-3.5 mm at reading 2; expected"),
        ([0.0, 2.0, -3.5], r"0 mm at reading 0 \(and 1 more\); expected"),
        ([-1.0, -2.0, 0.0], r"-1 mm at reading 0 \(and 2 more\); expected"),
    ],
)
def test_the_first_bad_reading_is_named_and_the_others_counted(
    values: list[float], said: str
) -> None:
    bore = Length(values, "mm", standard(0.1))
    with pytest.raises(RangeError, match=said):
        pipe.mean_velocity(VolumeFlowRate(1.0, "L/min"), bore)


def test_zero_is_not_counted_among_the_readings_below_zero() -> None:
    with pytest.raises(RangeError, match=r"velocity=\.\.\.\): -1 m/s at reading 2; expected"):
        pipe.reynolds_number(Velocity([0.0, 2.0, -1.0], "m/s"), BORE, RHO, MU)
