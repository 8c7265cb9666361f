"""Shares of draws against exact probabilities, and thresholds that have no meaning."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc import FlowuncWarning, Length, PropagationError, RangeError, Ratio, limits, standard
from flowunc.pipe import shares

TRIALS = 40_000
ASKED = {"trials": TRIALS, "seed": 5, "function": "asker", "name": "length"}


@pytest.mark.parametrize("value", [0.9, 1.0, 1.5, 2.2])
def test_shares_are_probabilities(value: float) -> None:
    found = shares.shares(Length(value, "m", standard(0.2)), 1.0, 2.0, **ASKED)
    law = stats.norm(value, 0.2)
    expected = (law.cdf(1), law.cdf(2) - law.cdf(1), law.sf(2))
    for share, p in zip(found, expected, strict=True):
        assert share == pytest.approx(p, abs=4 * math.sqrt(p * (1 - p) / TRIALS) + 1e-12)
        assert isinstance(share, float)
    assert sum(found) == pytest.approx(1, rel=1e-15)


def test_thresholds_are_in_the_unit_of_the_quantity_and_belong_to_the_middle() -> None:
    found = shares.shares(Length([10, 20, 30], "mm"), 10.0, 20.0, **(ASKED | {"trials": 10}))
    assert found.below.tolist() == [0, 0, 0]
    assert found.between.tolist() == [1, 1, 0]
    assert found.above.tolist() == [0, 0, 1]
    with pytest.raises(ValueError, match="read-only"):
        found.below[0] = 1


def test_first_of_equals_is_named() -> None:
    names = ("low", "middle", "high")
    assert shares.most_probable((0.5, 0.0, 0.5), names) == "low"
    several = tuple(np.array(share) for share in ([0.1, 0.4], [0.45, 0.2], [0.45, 0.4]))
    assert shares.most_probable(several, names) == ["middle", "low"]


def test_draws_without_a_value_are_refused() -> None:
    root = np.sqrt(Ratio([9.0, 1.0], "1", limits(2)))
    with (
        pytest.warns(FlowuncWarning, match="no finite value"),
        pytest.raises(PropagationError, match=r"asker: \d+ of 40000 draws of length in run 1 have"),
    ):
        shares.shares(root, 1.0, 2.0, **ASKED)


def test_draws_made_elsewhere_are_counted_by_the_same_rule() -> None:
    quantity = Length([1.0, 1.5], "m", standard(0.2))
    draws = quantity.monte_carlo(TRIALS, seed=5).samples()
    found = shares.shares_of_draws(draws, 1.0, 2.0, runs="ab", function="asker", name="length")
    for mine, theirs in zip(found, shares.shares(quantity, 1.0, 2.0, **ASKED), strict=True):
        assert mine.tolist() == theirs.tolist()
    draws = draws.copy()
    draws[7, 1] = math.nan
    with pytest.raises(PropagationError, match="asker: 1 of 40000 draws of length in run b have"):
        shares.shares_of_draws(draws, 1.0, 2.0, runs="ab", function="asker", name="length")


@pytest.mark.parametrize("most", [300, 3_000, 40_000])
def test_memory_for_draws_changes_no_share(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # readings near a threshold and far from any, pilots drawn in several parts
    quantity = Length(np.linspace(0.9, 40, 60), "m", standard(0.05))
    asked = ASKED | {"trials": 400, "screened": True}
    whole = shares.shares(quantity, 1.0, 30.0, **asked)
    monkeypatch.setattr(shares, "_MOST_DRAWS", most)
    pilots = []
    draw = Length.monte_carlo

    def counting(self: Length, trials: int, **options: object) -> object:
        pilots.append(self.size * trials)
        return draw(self, trials, **options)

    monkeypatch.setattr(Length, "monte_carlo", counting)
    parts = shares.shares(quantity, 1.0, 30.0, **asked)
    for mine, theirs in zip(parts, whole, strict=True):
        assert mine.tolist() == theirs.tolist()
    # one reading is drawn whole; beyond that no more at a time than there is memory for
    assert max(pilots) <= max(most + 256, 400)


def test_everything_is_drawn_unless_screening_is_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # a quantity that may be negative, of which u over the value says nothing
    monkeypatch.setattr(shares, "_MOST_DRAWS", 10)
    monkeypatch.setattr(shares, "_to_be_drawn", None)
    found = shares.shares(Length([-30.0, 5.0], "m"), 1.0, 2.0, **(ASKED | {"trials": 20}))
    assert found.below.tolist() == [1, 0]


@pytest.mark.parametrize(
    ("pair", "message"),
    [
        ((5, 4), "low=5 and high=4: expected 0 < low <= high, such as 1 and 2"),
        ((0, 4), "expected 0 < low <= high"),
        ((math.nan, 4), "low=nan: expected a width"),
        ((1, True), "high=True: expected a width"),
    ],
)
def test_pairs_without_meaning_are_refused(pair: tuple[float, float], message: str) -> None:
    with pytest.raises(RangeError, match=message):
        shares.check_pair(*pair, ("low", "high"), "a width", "1 and 2")
