"""What a user may ask a plan wrongly, and what is said to it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flowunc import (
    Angle,
    Bench,
    BenchError,
    DimensionError,
    FlowuncError,
    FlowuncWarning,
    Length,
    Pressure,
    Quantity,
    RangeError,
    Ratio,
    ShapeError,
    StatementError,
    Temperature,
    VolumeFlowRate,
    best_inclination,
    load_bench,
    smallest_flow,
    standard,
    worthwhile_repeats,
)
from flowunc.bench.planning.arguments import (
    SETTINGS,
    ExpectedScatter,
    check_inclinations,
    check_repeats,
    check_scatter,
)
from flowunc.bench.planning.plan import plan

DATA = Path(__file__).parents[1] / "data"
FLOWS = VolumeFlowRate([1.0, 2.0], "L/min")


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"flows": [1, 2]}, DimensionError, "expected VolumeFlowRate"),
        ({"flows": Length(2, "m")}, DimensionError, "Length in 'm'; expected VolumeFlowRate"),
        ({"flows": VolumeFlowRate([1, 0], "L/min")}, RangeError, "flow 1: 0 L/min; expected"),
        ({"flows": VolumeFlowRate(-1, "L/min")}, RangeError, "-1 L/min; expected a flow above 0"),
        ({"meters": "smal"}, RangeError, "did you mean 'small'"),
        ({"meters": ["small", "tiny"]}, RangeError, "no meter 'tiny' on the bench; expected one"),
        ({"meters": []}, RangeError, "no meter given"),
        ({"meters": 3}, RangeError, "expected names among small, large"),
        ({"inclinations": 0}, RangeError, "inclination 0 deg"),
        ({"inclinations": [10, 91]}, RangeError, "inclination 91 deg; expected"),
        ({"inclinations": Angle(-5, "deg")}, RangeError, "inclination -5 deg"),
        ({"inclinations": Length(5, "mm")}, DimensionError, "expected Angle"),
        ({"inclinations": "flat"}, RangeError, "expected a number"),
        ({"inclinations": math.nan}, RangeError, "NaN"),
        ({"inclinations": [[5, 10]]}, ShapeError, "one axis"),
        ({"repeats": 0}, RangeError, "0 repeats; expected a whole number from 1"),
        ({"repeats": 2.5}, RangeError, "2.5 repeats"),
        ({"repeats": True}, RangeError, "True repeats"),
        ({"repeats": "3"}, RangeError, "expected whole numbers"),
        ({"repeats": ()}, RangeError, "no number of repeats"),
        ({"temperature": 20}, DimensionError, "expected Temperature"),
        ({"temperature": Temperature([20, 21], "degC")}, RangeError, "got 2 temperatures"),
        ({"temperature": Temperature(120, "degC")}, RangeError, "120"),
        ({"target": 10}, RangeError, r"did you mean Ratio\(10, '%'\)"),
        ({"level": 95}, StatementError, "between 0 and 1"),
        ({"level": 0.95, "k": 2}, StatementError, "give one of the two"),
        ({"k": 0}, StatementError, "above 0"),
        ({"scatter": "1 %"}, StatementError, "by what is read"),
        ({"scatter": {"flwo": Ratio(1, "%")}}, StatementError, "did you mean 'flow'"),
        ({"scatter": {"flow": 0.01}}, StatementError, "got 0.01; expected the standard"),
        ({"scatter": {"flow": standard(0.01)}}, StatementError, "expected the standard deviation"),
        ({"scatter": {"flow": Length(1, "mm")}}, StatementError, "Length 1.0 'mm'"),
        ({"scatter": {"flow": Ratio(-1, "%")}}, StatementError, "0 or more"),
        ({"scatter": {"flow": Ratio([1, 2], "%")}}, StatementError, "Ratio array"),
        ({"scatter": {"temperature": Ratio(1, "%")}}, StatementError, "Quantity.0.1, 'K'"),
        ({"scatter": {"temperature": Temperature(1, "K")}}, StatementError, "temperature"),
        ({"scatter": {"deflection": VolumeFlowRate(1, "L/h")}}, StatementError, "Length.2, 'mm'"),
    ],
)
def test_mistakes(
    bench: Bench, options: dict[str, Any], error: type[FlowuncError], words: str
) -> None:
    with pytest.raises(error, match=words):
        plan(bench, **{"flows": FLOWS, **options})


def test_the_bench_itself() -> None:
    with pytest.raises(DimensionError, match="got str; expected a Bench, as load_bench gives it"):
        plan("bench.toml", flows=FLOWS)  # type: ignore[arg-type]


def test_too_many_cells(bench: Bench) -> None:
    flows = VolumeFlowRate(np.linspace(1, 2, 20_000), "L/min")
    with pytest.raises(RangeError, match="560000 cells of 20000 flows, 2 meters, 14 incl"):
        plan(bench, flows=flows)


def test_repeats_without_scatter_are_warned_of(bench: Bench) -> None:
    with pytest.warns(FlowuncWarning, match="without scatter= change nothing") as caught:
        session = plan(bench, flows=FLOWS, inclinations=10, repeats=(1, 5))
    assert caught[0].filename == __file__
    same = session.table().pivot(index=["flow", "meter"], columns="repeats", values="U(f)/f")
    np.testing.assert_allclose(same[1], same[5], rtol=1e-12)
    assert session.best()["repeats"].tolist() == [1, 1]  # the fewest of equals


def test_settings_in_any_unit_and_order(bench: Bench) -> None:
    given = Angle([math.pi / 2, 0.1, 0.1], "rad")
    assert check_inclinations(given, "plan", bench) == (round(math.degrees(0.1), 9), 90.0)
    assert check_inclinations(None, "plan", bench) == SETTINGS
    assert check_repeats(np.array([3, 1, 3]), "plan") == (1, 3)


def test_scatter_in_any_unit() -> None:
    scatter = ExpectedScatter(
        flow=Ratio(2, "%"), temperature=Quantity(100, "mK"), deflection=Length(0.2, "cm")
    )
    readings = np.array([1.0, 3.0])
    assert scatter.of("flow", readings).tolist() == pytest.approx([0.02, 0.06])
    assert scatter.of("temperature", readings).tolist() == pytest.approx([0.1, 0.1])
    assert scatter.of("deflection", readings).tolist() == pytest.approx([0.002, 0.002])
    assert ExpectedScatter().of("flow", readings).tolist() == [0, 0]


# -- manometers that are not set to inclinations ---------------------------------------------------
@pytest.mark.parametrize("name", ["u_tube", "transmitter"])
def test_no_inclination_to_choose(name: str) -> None:
    bench = load_bench(DATA / f"{name}.toml")
    title = {"u_tube": "an upright U-tube", "transmitter": "a pressure transmitter"}[name]
    assert check_inclinations(None, "plan", bench) == (90.0,)
    assert check_inclinations(Angle(math.pi / 2, "rad"), "plan", bench) == (90.0,)
    flow, scatter = VolumeFlowRate(8, "L/min"), {"flow": Ratio(1, "%")}
    asked = (
        lambda: plan(bench, flows=flow, inclinations=[10, 90]),
        lambda: plan(bench, flows=flow).friction("small" if name == "u_tube" else "oil", 10),
        lambda: plan(bench, flows=flow).settings(),
        lambda: best_inclination(bench, flow),
        lambda: smallest_flow(bench, 0.1, inclination=10),
        lambda: worthwhile_repeats(bench, flow, scatter=scatter, inclination=10),
    )
    for ask in asked:
        with pytest.raises(BenchError, match=f"{title} is not set to inclinations, so there ") as e:
            ask()
        assert e.value.key == "manometer"
        assert "angle_accuracy" not in str(e.value)


def test_a_well_at_a_fixed_angle_says_how_it_could_be_set(write_bench: Any) -> None:
    inclined = (
        'angle_accuracy = { limits = 0.3 }\nair_density = { value = "1.19 kg/m^3", limits = 0.03 }'
    )
    keys = 'type = "well"\narea_ratio = 0\nangle = { value = "30 deg", limits = 0.2 }'
    bench = load_bench(write_bench((inclined, keys)))
    assert check_inclinations(None, "plan", bench) == (30.0,)
    with pytest.raises(BenchError, match="none to choose; leave inclinations out; if yours is, st"):
        check_inclinations(90, "plan", bench)
    with pytest.raises(RangeError, match="inclination 91 deg"):
        check_inclinations(91, "plan", bench)


def test_scatter_of_a_transmitter_is_a_pressure() -> None:
    bench = load_bench(DATA / "transmitter.toml")
    given = {"deflection": Pressure(5, "Pa")}
    assert check_scatter(given, "plan", bench).deflection is given["deflection"]
    with pytest.raises(StatementError, match=r"Length 2.0 'mm'; expected .* Pressure\(5, 'Pa'\)"):
        check_scatter({"deflection": Length(2, "mm")}, "plan", bench)
    with pytest.raises(StatementError, match=r"Length\(2, 'mm'\)"):
        check_scatter(given, "plan", load_bench(DATA / "u_tube.toml"))
