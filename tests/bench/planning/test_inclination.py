"""The best inclination against its closed form.

With an error u_d of the deflection and u_theta of the angle, a head h and all else exact,

    (u/f)^2 = (u_d sin(theta)/h)^2 + (u_theta cot(theta))^2 + what no angle changes,

which is smallest at sin(theta)^2 = u_theta h/u_d (set the derivative with respect to
sin(theta)^2 to zero). The head is that of laminar flow, Hagen-Poiseuille [White 2003, ch. 6],

    h = 128 mu L Q / (pi (rho - rho_air) g D^4),

with rho and mu from the `iapws` package. Two columns and a zero that is the mean of two
differences give u_d^2 = (2 + 4/4) (w/sqrt 3)^2 = w^2 for a half-width w of one reading.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import scipy
from iapws._iapws import _Liquid

from flowunc import (
    Acceleration,
    Angle,
    Bench,
    Density,
    DimensionError,
    InclinedManometer,
    Length,
    RangeError,
    Ratio,
    Scale,
    StatementError,
    Thermometer,
    VariableAreaMeter,
    VolumeFlowRate,
    WellManometer,
    limits,
)
from flowunc.bench.planning.inclination import best_inclination
from flowunc.bench.planning.plan import plan

BORE, TAPS, GRAVITY, AIR, CELSIUS = 20e-3, 2.5, 9.81, 1.2, 20.0
LITRE_A_MINUTE = 1e-3 / 60
SPAN = 500.0  # mm


def exact_bench(*, division: float = 1.0, angle: float = 0.3, span: float | None = SPAN) -> Bench:
    """Make a bench with errors of the columns and of the angle only (the meter's is minute)."""
    return Bench(
        bore=Length(BORE, "m", limits(0)),
        tap_spacing=Length(TAPS, "m", limits(0)),
        meters={
            "tube": VariableAreaMeter(Scale(1e-6, "L/min", span=(0.1, 4)), limits(0), label="tube")
        },
        thermometer=Thermometer(Scale(1e-6, "degC"), limits(0)),
        manometer=InclinedManometer(
            Scale(division, "mm", span=None if span is None else (0, span)), Angle(90, "deg")
        ),
        angle_accuracy=limits(angle),
        gravity=Acceleration(GRAVITY, "m/s^2", limits(0)),
        air_density=Density(AIR, "kg/m^3", limits(0)),
    )


def head(litres: float) -> float:
    liquid = _Liquid(CELSIUS + 273.15, 0.1)
    flow = litres * LITRE_A_MINUTE
    weight = (liquid["rho"] - AIR) * GRAVITY
    return 128 * liquid["mu"] * TAPS * flow / (math.pi * weight * BORE**4)


def degrees(angle: Angle) -> float:
    return float(np.degrees(angle.si.value))


@pytest.mark.parametrize(
    ("litres", "division", "angle"),
    [(0.5, 1.0, 0.3), (1.5, 1.0, 0.3), (1.5, 0.2, 0.1), (1.0, 2.0, 3.0)],
)
def test_interior_optimum(litres: float, division: float, angle: float) -> None:
    found = best_inclination(
        exact_bench(division=division, angle=angle), VolumeFlowRate(litres, "L/min"), k=2
    )
    u_d, u_theta = division / 2 * 1e-3, math.radians(angle) / math.sqrt(3)
    square = u_theta * head(litres) / u_d
    assert 0 < square < 1
    assert found.position == "interior"
    # the minimum is flat: its place is found to some 1e-4, its value to all digits
    assert math.sin(math.radians(degrees(found.inclination))) ** 2 == pytest.approx(
        square, rel=1e-3
    )
    theta = math.asin(math.sqrt(square))
    smallest = 2 * math.hypot(u_d * math.sin(theta) / head(litres), u_theta / math.tan(theta))
    # besides, salts (0.05 %) enter through buoyancy in air only, by 1e-6
    assert found.expanded == pytest.approx(smallest, rel=1e-4)
    assert found.limited_by in ("manometer resolution", "manometer angle")
    assert found.flatter_limited_by == "manometer angle"
    assert found.steeper_limited_by == "manometer resolution"
    assert degrees(found.nearly_from) < degrees(found.inclination) < degrees(found.nearly_to)


def test_nearly_as_good_where_the_closed_form_is_five_percent_larger() -> None:
    litres, division, angle = 0.5, 1.0, 0.3
    found = best_inclination(
        exact_bench(division=division, angle=angle), VolumeFlowRate(litres, "L/min"), k=2
    )
    u_d, u_theta = division / 2 * 1e-3, math.radians(angle) / math.sqrt(3)
    for edge in (found.nearly_from, found.nearly_to):
        theta = math.radians(degrees(edge))
        there = 2 * math.hypot(u_d * math.sin(theta) / head(litres), u_theta / math.tan(theta))
        assert there == pytest.approx(1.05 * found.expanded, rel=2e-3)


def test_upright_where_the_angle_is_worse_than_the_columns() -> None:
    found = best_inclination(exact_bench(division=0.05, angle=3.0), VolumeFlowRate(1.5, "L/min"))
    assert found.position == "upright"
    assert degrees(found.inclination) == pytest.approx(90)
    assert found.steeper_limited_by == ""
    assert "upright" in found.sentence


def test_flattest_where_the_angle_is_known_well() -> None:
    span = 100.0
    found = best_inclination(
        exact_bench(division=5.0, angle=0.001, span=span), VolumeFlowRate(1.5, "L/min")
    )
    flattest = math.asin(head(1.5) / (span * 1e-3))
    assert found.position == "flattest"
    assert degrees(found.flattest) == pytest.approx(math.degrees(flattest), rel=1e-6)
    assert degrees(found.inclination) == pytest.approx(math.degrees(flattest), rel=1e-4)
    assert found.deflection == pytest.approx(span, rel=1e-4)
    assert found.flatter_limited_by == ""
    assert "the flattest that fits the board" in found.sentence


def test_flattest_that_is_tried_on_a_board_without_end() -> None:
    found = best_inclination(
        exact_bench(division=5.0, angle=0, span=None), VolumeFlowRate(1.5, "L/min")
    )
    assert found.position == "flattest"
    assert "is tried" in found.sentence


def test_indifferent_where_neither_counts() -> None:
    bench = exact_bench(division=1e-7, angle=0)
    found = best_inclination(bench, VolumeFlowRate(1.5, "L/min"), scatter={"flow": Ratio(2, "%")})
    assert found.position == "indifferent"
    assert "makes no difference" in found.sentence


def test_the_optimum_is_no_worse_than_any_setting_of_a_plan(bench: Bench) -> None:
    for litres in (0.8, 2.0, 3.5):
        flow = VolumeFlowRate(litres, "L/min")
        found = best_inclination(bench, flow)
        session = plan(bench, flows=flow, inclinations=np.linspace(2, 90, 30))
        assert found.expanded <= session.best()["U(f)/f"].iloc[0] * (1 + 1e-9)
        at_it = plan(bench, flows=flow, inclinations=found.inclination, meters=found.meter)
        assert at_it.best()["U(f)/f"].iloc[0] == pytest.approx(found.expanded, rel=1e-6)


def test_the_search_leaves_nothing_behind(bench: Bench) -> None:
    known, before = bench.angle(20), dict(vars(bench))
    best_inclination(bench, VolumeFlowRate(2, "L/min"))
    assert vars(bench) == before
    assert (bench.angle(20) - known).u == 0


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"flow": VolumeFlowRate(9, "L/s")}, RangeError, "off the scale of large"),
        ({"flow": VolumeFlowRate([1, 2], "L/min")}, RangeError, "got 2 flows; expected one"),
        ({"flow": 2.0}, DimensionError, "VolumeFlowRate"),
        ({"flow": Length(2, "m")}, DimensionError, "VolumeFlowRate"),
        ({"meter": "smal"}, RangeError, "did you mean 'small'"),
        ({"repeats": 0}, RangeError, "0 repeats; expected a whole number from 1"),
        ({"bench": "bench.toml"}, DimensionError, "expected a Bench, as load_bench gives it"),
        ({"level": 95}, StatementError, "between 0 and 1"),
        ({"level": 0.95, "k": 2}, StatementError, "give one of the two"),
    ],
)
def test_mistakes(bench: Bench, change: dict[str, Any], error: type[Exception], words: str) -> None:
    given: dict[str, Any] = {"bench": bench, "flow": VolumeFlowRate(2, "L/min"), **change}
    with pytest.raises(error, match=words):
        best_inclination(given.pop("bench"), given.pop("flow"), **given)


def test_a_flow_whose_head_does_not_fit_even_upright() -> None:
    short = exact_bench(span=2.0)
    with pytest.raises(RangeError, match=r"even upright; expected at most 2 mm, the span"):
        best_inclination(short, VolumeFlowRate(2, "L/min"))


# -- a well manometer that is set ------------------------------------------------------------------
def well(*, division: float, angle: float, ratio: float, span: tuple[float, float]) -> Bench:
    tube = WellManometer(Scale(division, "mm", span=span), area_ratio=Ratio(ratio, "1"))
    return replace(exact_bench(angle=angle), manometer=tube)


def test_flattest_of_a_well_has_its_area_ratio_taken_off() -> None:
    # h = d (sin(theta) + ratio), and the whole rise is from the lowest mark, 10 mm, to 30 mm
    bench = well(division=5.0, angle=0.001, ratio=0.05, span=(10, 30))
    found = best_inclination(bench, VolumeFlowRate(1.5, "L/min"))
    sine = head(1.5) / 0.02 - 0.05
    assert found.position == "flattest"
    assert degrees(found.flattest) == pytest.approx(math.degrees(math.asin(sine)), rel=1e-6)
    assert found.deflection == pytest.approx(20, rel=1e-4)
    # with a wide tube, flatter than any board stands
    bench = well(division=5.0, angle=0.001, ratio=0.9, span=(10, 30))
    assert degrees(best_inclination(bench, VolumeFlowRate(1.5, "L/min")).flattest) == 0.1
    bench = well(division=1, angle=0.3, ratio=0.05, span=(10, 11))
    with pytest.raises(RangeError, match=r"needs a rise of .* even upright; expected at most 1 mm"):
        best_inclination(bench, VolumeFlowRate(1.5, "L/min"))


def test_best_of_a_well_by_its_own_closed_form() -> None:
    ratio, angle = 0.05, 0.3
    found = best_inclination(
        well(division=1.0, angle=angle, ratio=ratio, span=(0, 500)),
        VolumeFlowRate(0.5, "L/min"),
        k=2,
    )
    # one reading, less the mean of two: u_d^2 = (1 + 2/4) w^2/3
    u_d, u_theta = 0.5e-3 * math.sqrt(1.5 / 3), math.radians(angle) / math.sqrt(3)

    def relative(theta: float) -> float:
        effective = math.sin(theta) + ratio
        return 2 * math.hypot(u_d * effective / head(0.5), u_theta * math.cos(theta) / effective)

    least = scipy.optimize.minimize_scalar(relative, bounds=(0.01, math.pi / 2), method="bounded")
    assert found.position == "interior"
    assert math.radians(degrees(found.inclination)) == pytest.approx(least.x, rel=1e-3)
    assert found.expanded == pytest.approx(least.fun, rel=1e-4)
