"""Every result class: text of 100 columns without endless digits, and HTML for any page."""

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

import flowunc as fu
import flowunc.bench

NASTY = "<b>50 % & $x_1$ </b> " + "long " * 30


@cache
def runs() -> fu.Runs:
    folder = Path(flowunc.bench.__file__).parent / "example"
    bench = fu.load_bench(folder / "bench.toml")
    return fu.analyse(fu.read_sheet(folder / "sheet.csv", bench), bench)


def bench() -> fu.Bench:
    return runs().bench


def re_and_f(low: float = 0, high: float = 1e9) -> tuple[Any, Any]:
    inside = (runs().reynolds.value > low) & (runs().reynolds.value < high)
    return runs().reynolds[inside].labelled(NASTY), runs().friction[inside].labelled(NASTY)


def laminar() -> tuple[Any, Any]:
    re, f = re_and_f(high=2100)
    return f, fu.laws.laminar(re)


def flows() -> fu.VolumeFlowRate:
    return fu.VolumeFlowRate([30, 60, 200], "L/h")


SCATTER = {"deflection": fu.Length(1, "mm")}
RESULTS: dict[str, Callable[[], Any]] = {
    "draws": lambda: re_and_f()[0].monte_carlo(2000, seed=1),
    "joint draws": lambda: fu.monte_carlo_joint(re_and_f(), trials=2000, seed=1),
    "cross-check": lambda: fu.cross_check(re_and_f()[1], trials=1 << 14),
    "second order": lambda: fu.second_order(re_and_f()[1]),
    "regimes": lambda: fu.regime(re_and_f()[0], trials=2000),
    "wall": lambda: fu.wall_regime(re_and_f()[0] / 100, trials=2000),
    "critical": lambda: fu.critical_reynolds(
        re_and_f()[0], ["laminar"] * 3 + ["turbulent"] * (len(runs()) - 3)
    ),
    "developed": lambda: fu.developed_flow(
        re_and_f()[0], fu.Length(16, "mm"), fu.Length(1, "m"), fu.Length(2, "m"), trials=2000
    ),
    "law": lambda: fu.laws.blasius,
    "agreement": lambda: fu.agreement(*laminar()),
    "drawn agreement": lambda: fu.drawn_agreement(*laminar(), trials=2000),
    "common bias": lambda: fu.common_bias(fu.agreement(*laminar())),
    "pattern": lambda: fu.residual_pattern(fu.agreement(*laminar()), re_and_f(high=2100)[0]),
    "weighted mean": lambda: fu.weighted_mean(re_and_f(high=4000)[1]),
    "laws": lambda: fu.compare_laws(*re_and_f(low=4000)),
    "laminar constant": lambda: fu.fit_laminar_constant(*re_and_f(high=2100)),
    "roughness": lambda: fu.fit_roughness(*re_and_f(low=4000)),
    "power law": lambda: fu.fit_power_law(*re_and_f(low=4000)),
    "line": lambda: fu.fit_line(
        fu.Length([1.0, 2, 3], "m", label=NASTY), fu.Time([1.0, 2.1, 2.9], "s", fu.standard(0.1))
    ),
    "outliers": lambda: fu.outliers(fu.Length([1.0, 1.1, 1.05, 1.02, 3], "m")),
    "consistency": lambda: fu.consistency(runs(), trials=2000),
    "runs": runs,
    "plan": lambda: fu.plan(bench(), flows=flows(), inclinations=[8, 20]),
    "inclination": lambda: fu.best_inclination(bench(), flows()[0]),
    "meters": lambda: fu.meter_crossover(bench()),
    "smallest flow": lambda: fu.smallest_flow(bench(), 0.05),
    "repeats": lambda: fu.worthwhile_repeats(bench(), flows()[1], scatter=SCATTER),
    "expanded": lambda: re_and_f()[1].expanded(),
}


@cache
def result(name: str) -> Any:
    return RESULTS[name]()


@pytest.mark.parametrize("name", RESULTS)
def test_text_fits_the_page_and_has_no_endless_digits(name: str) -> None:
    text = str(result(name))
    assert text == text.strip("\n")
    assert max(map(len, text.splitlines())) <= 100
    # a seed or a number of draws has up to six digits; a float that slipped through has 15
    assert not re.search(r"\d\.\d{9}", text)


@pytest.mark.parametrize("name", [name for name in RESULTS if name != "expanded"])
def test_html_is_sound_escaped_rounded_and_without_colours(name: str) -> None:
    source = result(name)._repr_html_()
    page = ElementTree.fromstring(f"<div>{source}</div>")
    assert {element.tag for element in page.iter()} <= {
        *("div", "table", "caption", "thead", "tbody", "tr", "th", "td", "p", "ul", "li"),
    }
    assert not re.search("colo|class=|border|background|http", source)
    for cell in page.iter("td"):
        assert not re.fullmatch(r"-?\d+\.\d{8,}", cell.text or "")


@pytest.mark.parametrize("name", ["cross-check", "agreement", "plan", "runs", "weighted mean"])
def test_bundle_of_a_result(name: str) -> None:
    bundle = result(name)._repr_mimebundle_()
    assert bundle == {
        "text/plain": str(result(name)),
        "text/html": result(name)._repr_html_(),
    }


def test_what_is_shown_is_what_was_found() -> None:
    found = fu.agreement(
        fu.Length([5.4321, 6.5], "mm", fu.standard(0.31)), fu.Length([0.5, 0.6], "cm")
    )
    table = ElementTree.fromstring(f"<div>{found._repr_html_()}</div>").find("table")
    head = [cell.text for cell in table.find("thead/tr")]
    first = [cell.text for cell in table.find("tbody/tr")]
    # by hand: u = 0.31 mm, U = 2 u = 0.62 mm, difference 0.4321 mm, E_n = 0.4321/0.62 = 0.697
    shown = dict(zip(head, first, strict=True))
    assert shown["measured"] == "5.43"
    assert shown["theory"] == "5"
    assert shown["difference"] == "0.43"
    assert shown["expanded"] == "0.62"
    assert shown["normalised_error"] == "0.70"
    assert shown["satisfied"] == "yes"


@pytest.mark.parametrize("count", [1, 2, 5, 1000])
def test_any_number_of_readings(count: int) -> None:
    re_numbers = fu.ReynoldsNumber(np.linspace(1000, 5000, count), "1", fu.standard(50))
    for found in (fu.regime(re_numbers, trials=500), fu.second_order(re_numbers)):
        rows = list(ElementTree.fromstring(found._repr_html_()).find("tbody"))
        assert len(rows) == (count if count <= 40 else 31)
        assert rows[-1][0].text == str(count - 1)
