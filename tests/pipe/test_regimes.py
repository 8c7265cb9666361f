"""Regime probabilities against the exact distribution functions of scipy.stats."""

from __future__ import annotations

import math
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    DimensionError,
    FlowuncWarning,
    FrictionFactor,
    PropagationError,
    RangeError,
    Ratio,
    ReynoldsNumber,
    limits,
    shared,
    standard,
)
from flowunc.pipe import Regimes, regime, shares

TRIALS = 40_000


def tolerance(p: float) -> float:
    """Four standard errors of a share of draws."""
    return 4 * math.sqrt(max(p * (1 - p), 0.0) / TRIALS) + 1e-12


@pytest.mark.parametrize("value", [1000, 2200, 2300, 2390, 3000, 3900, 4100, 9000])
@pytest.mark.parametrize(
    ("statement", "law"),
    [
        (standard(80), stats.norm(scale=80)),
        (limits(300), stats.uniform(-300, 600)),
        (standard(400), stats.norm(scale=400)),
    ],
)
def test_probabilities_are_those_of_the_distribution(
    value: float, statement: object, law: stats.rv_continuous
) -> None:
    found = regime(ReynoldsNumber(value, "1", statement), trials=TRIALS, seed=5)
    laminar, turbulent = law.cdf(2300 - value), law.sf(4000 - value)
    assert found.laminar == pytest.approx(laminar, abs=tolerance(laminar))
    assert found.turbulent == pytest.approx(turbulent, abs=tolerance(turbulent))
    between = 1 - laminar - turbulent
    assert found.transitional == pytest.approx(between, abs=tolerance(between))


def test_skewed_distribution_is_drawn_not_taken_as_normal() -> None:
    # Re = 2000/x with x rectangular 1 +- 0.4: P(Re < 2300) = P(x > 2000/2300)
    x = Ratio(1, "1", limits(0.4))
    found = regime(2000 / x, trials=TRIALS, seed=5)
    laminar = stats.uniform(0.6, 0.8).sf(2000 / 2300)
    assert found.laminar == pytest.approx(laminar, abs=tolerance(laminar))
    assert found.turbulent == 0.0  # 2000/0.6 is the highest value there is


def test_several_runs() -> None:
    re = ReynoldsNumber([1900, 2300, 3000, 12_000], "1", standard(50), label="Reynolds number")
    found = regime(re, trials=TRIALS)
    assert isinstance(found, Regimes)
    assert found.laminar.shape == found.transitional.shape == found.turbulent.shape == (4,)
    np.testing.assert_allclose(found.laminar + found.transitional + found.turbulent, 1, rtol=1e-15)
    assert found.name[0] == "laminar"
    assert found.name[2:] == ["transitional", "turbulent"]
    with pytest.raises(ValueError, match="read-only"):
        found.laminar[0] = 0.5


def test_single_value_gives_floats_and_a_word() -> None:
    found = regime(ReynoldsNumber(1200, "1", standard(20)), trials=TRIALS)
    assert (found.laminar, found.transitional, found.turbulent) == (1.0, 0.0, 0.0)
    assert isinstance(found.laminar, float)
    assert found.name == "laminar"


@pytest.mark.parametrize(
    ("value", "name"),
    [(2299, "laminar"), (2300, "transitional"), (4000, "transitional"), (4001, "turbulent")],
)
def test_certain_reynolds_number(value: float, name: str) -> None:
    assert regime(ReynoldsNumber(value, "1"), trials=1000).name == name


def test_thresholds_of_ones_own() -> None:
    re = ReynoldsNumber(2500, "1", standard(100))
    found = regime(re, laminar_below=2500, turbulent_above=2500, trials=TRIALS, seed=1)
    assert found.transitional == 0.0
    assert found.laminar == pytest.approx(0.5, abs=tolerance(0.5))


def test_same_seed_same_numbers() -> None:
    re = ReynoldsNumber([2250, 2350], "1", standard(50))
    first, again, other = (regime(re, trials=TRIALS, seed=s) for s in (1, 1, 2))
    assert np.array_equal(first.laminar, again.laminar)
    assert not np.array_equal(first.laminar, other.laminar)


def test_runs_in_portions_give_the_same_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    re = ReynoldsNumber(np.linspace(2200, 2400, 7), "1", standard(30), shared(limits(90)))
    whole = regime(re, trials=TRIALS, seed=3)
    monkeypatch.setattr(shares, "_MOST_DRAWS", 2 * TRIALS + 1)
    portions = regime(re, trials=TRIALS, seed=3)
    assert np.array_equal(whole.laminar, portions.laminar)
    assert np.array_equal(whole.turbulent, portions.turbulent)


def test_table() -> None:
    re = ReynoldsNumber([1900, 9000], "1", standard(50))
    table = regime(re, trials=TRIALS).table()
    assert list(table.columns) == [
        "Reynolds number",
        "u",
        "laminar",
        "transitional",
        "turbulent",
        "regime",
    ]
    assert table["regime"].tolist() == ["laminar", "turbulent"]
    assert table["u"].tolist() == [50.0, 50.0]
    assert len(regime(re[0], trials=TRIALS).table()) == 1


def test_runs_are_called_by_their_names() -> None:
    found = regime(ReynoldsNumber([1900, 9000], "1", standard(50)), trials=100)
    assert found.table().index.tolist() == [0, 1]
    named = replace(found, names=("slow", "fast"))
    assert named.table().index.tolist() == ["slow", "fast"]
    assert named.table().index.name == "run"
    assert [line.split()[0] for line in str(named).splitlines()[2:]] == ["slow", "fast"]


def test_text() -> None:
    text = str(regime(ReynoldsNumber([1900, 3.2e7], "1", standard(50)), trials=TRIALS))
    assert "laminar below Re 2300, turbulent above 4000; probabilities from 40000 draws" in text
    first, second = text.splitlines()[2:]
    assert first.split() == ["0", "1900", "50", "100.0", "%", "0.0", "%", "0.0", "%", "laminar"]
    assert second.split()[-1] == "turbulent"
    many = str(regime(ReynoldsNumber(np.linspace(1e3, 9e3, 60), "1"), trials=100))
    assert many.splitlines()[-1].strip() == "... and 20 more: see .table()"
    assert max(len(line) for line in (text + "\n" + many).splitlines()) <= 100


def test_notebook_table_has_what_the_text_has() -> None:
    re = ReynoldsNumber([1900, 3.2e7], "1", standard(50))
    table = ElementTree.fromstring(regime(re, trials=100)._repr_html_())
    assert "turbulent above 4000; probabilities from 100 draws" in table.findtext("caption")
    rows = [[cell.text for cell in row] for row in table.iter("tr")]
    assert rows == [
        ["run", "Reynolds number", "u", "laminar", "transitional", "turbulent", "regime"],
        ["0", "1900", "50", "100.0%", "0.0%", "0.0%", "laminar"],
        ["1", "32000000", "50", "0.0%", "0.0%", "100.0%", "turbulent"],
    ]


@pytest.mark.parametrize(
    ("low", "high"),
    [(4000, 2300), (0, 4000), (-1, 2), (math.nan, 4000), (2300, math.inf), ("2", 3), (2300, True)],
)
def test_thresholds_without_meaning_are_refused(low: float, high: float) -> None:
    with pytest.raises(RangeError, match=r"(laminar_below|turbulent_above).* expected"):
        regime(ReynoldsNumber(1000, "1"), laminar_below=low, turbulent_above=high)


def test_other_kinds_are_refused() -> None:
    with pytest.raises(DimensionError, match=r"reynolds=.*FrictionFactor.*ReynoldsNumber"):
        regime(FrictionFactor(0.03, "1"))


def test_draws_without_a_value_are_refused() -> None:
    root = np.sqrt(Ratio([2500**2, 1.0], "1", standard(2.0)))
    with (
        pytest.warns(FlowuncWarning, match="no finite value"),
        pytest.raises(PropagationError, match=r"of 1000 draws of Re in run 1 have no value"),
    ):
        regime(root, trials=1000)


@pytest.mark.parametrize("value", [0.0, -2000.0])
def test_reynolds_numbers_not_above_zero_are_refused(value: float) -> None:
    with pytest.raises(RangeError, match=r"regime\(reynolds=.*at reading 1.*above 0"):
        regime(ReynoldsNumber([1000.0, value], "1"))


def test_very_many_runs_take_the_draws_near_the_thresholds_only(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    re = ReynoldsNumber(np.linspace(500, 9000, 60), "1", standard(50), shared(limits(60)))
    whole = regime(re, trials=TRIALS, seed=3)
    monkeypatch.setattr(shares, "_MOST_DRAWS", 10 * TRIALS)
    drawn: list[int] = []
    counted = shares.shares_of_draws

    def counting(draws: np.ndarray, *args: object, **options: object) -> object:
        drawn.extend(options["runs"])
        return counted(draws, *args, **options)

    monkeypatch.setattr(shares, "shares_of_draws", counting)
    screened = regime(re, trials=TRIALS, seed=3)
    for name in ("laminar", "transitional", "turbulent"):
        assert np.array_equal(getattr(whole, name), getattr(screened, name))
    u = float(re.u[0])
    near = np.minimum(np.abs(re.value - 2300), np.abs(re.value - 4000)) <= 8 * u
    assert set(np.flatnonzero(near)) <= set(drawn)
    assert len(drawn) < 30


@pytest.mark.parametrize(
    "case",
    ["flat", "flat and seldom beyond", "heavy tails", "wide", "no slope"],
    ids=lambda case: case.replace(" ", "-"),
)
def test_runs_of_which_u_says_too_little_are_drawn(
    case: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    x = Ratio(np.zeros(20), "1", standard(30))
    cases = {
        "flat": 2000 + x**2,  # slope 0, so u is 0, and yet many draws are above 2300
        # beyond 2300 from 3.1 u of x on, 0.2 % of the draws
        "flat and seldom beyond": 2000 + 0.035 * x**2,
        "heavy tails": ReynoldsNumber(np.full(20, 2000.0), "1", standard(30, dof=4)),
        "wide": 2000 / Ratio(np.ones(20), "1", standard(0.06)) ** 0.5 - 500,
        "no slope": 2000 + 8 * np.abs(x),
    }
    monkeypatch.setattr(shares, "_MOST_DRAWS", 20 * TRIALS)
    whole = regime(cases[case], trials=TRIALS, seed=3)
    monkeypatch.setattr(shares, "_MOST_DRAWS", 2 * TRIALS)
    screened = regime(cases[case], trials=TRIALS, seed=3)
    assert np.array_equal(whole.laminar, screened.laminar)
    assert np.array_equal(whole.turbulent, screened.turbulent)
    if case != "wide":
        assert np.all(screened.laminar < 1)


def test_trials_are_checked_though_nothing_is_drawn() -> None:
    far = ReynoldsNumber([1e6, 2e6], "1", standard(1.0))
    for trials in (1, "many", 10**15):
        with pytest.raises(RangeError, match="trials="):
            regime(far, trials=trials)
