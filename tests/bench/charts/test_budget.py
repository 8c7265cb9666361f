"""Stacked bars of variance shares, against shares in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes

from flowunc import DimensionError, Length, Quantity, RangeError, Runs, Time, limits, standard
from flowunc.bench.charts.budget import budget_chart, budget_shares


def legend(ax: Axes) -> list[str]:
    return [text.get_text() for text in ax.get_legend().get_texts()]


def speed() -> Quantity:
    way = Length([0.5, 2.0], "m", standard(0.01), label="way")
    return way / Time(20.0, "s", limits(0.2), label="stopwatch")


# (u/x)^2 of way and stopwatch: (0.01/0.5)^2, (0.01/2)^2; (0.2/sqrt(3)/20)^2 = 1/30000
WAY, WATCH = np.array([4e-4, 2.5e-5]), 1 / 30_000


def test_bars_are_the_shares_and_add_up_to_one(ax: Axes) -> None:
    budget_chart(speed(), ax=ax)
    bars = [[bar.get_height() for bar in group] for group in ax.containers]
    assert legend(ax) == ["way", "stopwatch"]
    assert np.array(bars) == pytest.approx(np.array([WAY, [WATCH] * 2]) / (WAY + WATCH))
    tops = [bar.get_y() + bar.get_height() for bar in ax.containers[-1]]
    assert tops == pytest.approx([1.0, 1.0])
    assert ax.get_ylim() == (0.0, 1.0)
    # beside the share stands the size: sqrt of the sum
    sizes = [text.get_text().split("\n")[1] for text in ax.get_xticklabels()]
    assert sizes == ["2.1 %", "0.76 %"]  # sqrt(4.333e-4), sqrt(5.833e-5)
    assert ax.get_xlabel().startswith("reading")


@pytest.mark.parametrize("of", ["friction", "reynolds", "pressure_drop"])
@pytest.mark.parametrize("by", ["component", "source", "scope", "evaluation"])
def test_bars_of_every_run_add_up_to_one(runs: Runs, ax: Axes, of: str, by: str) -> None:
    budget_chart(runs, of, by, ax=ax)
    heights = np.array([[bar.get_height() for bar in group] for group in ax.containers])
    assert heights.shape[1] == 10
    assert heights.shape[0] <= 7
    assert heights.sum(axis=0) == pytest.approx(np.ones(10), abs=1e-12)
    assert (heights >= 0).all()
    mean = heights[: len(legend(ax))].mean(axis=1)
    named = mean[:-1] if legend(ax)[-1] == "others" else mean
    assert (np.diff(named) <= 0).all()
    assert [text.get_text().split("\n")[0] for text in ax.get_xticklabels()] == list(runs.labels)


def test_settings_of_one_instrument_count_together(runs: Runs, ax: Axes) -> None:
    # the sheet has two inclinations, each with its own error of the angle
    budget_chart(runs, ax=ax)
    assert legend(ax).count("manometer angle") == 1


def test_type_a_against_type_b(runs: Runs, ax: Axes) -> None:
    budget_chart(runs, by="evaluation", ax=ax)
    assert legend(ax) == ["Type B", "Type A"]
    type_a = [bar.get_height() for bar in ax.containers[1]]
    assert np.flatnonzero(type_a).tolist() == [8]  # run 9 alone was repeated


def test_small_parts_are_the_others() -> None:
    terms = [
        Length(10.0, "mm", standard(u), label=name)
        for name, u in (("a", 3.0), ("b", 2.0), ("c", 1.0), ("d", 0.5), ("e", 0.1))
    ]
    total = sum(terms[1:], terms[0])
    whole = 9 + 4 + 1 + 0.25 + 0.01
    names, shares = budget_shares(total, "source", 0.05, 6)
    assert names == ("a", "b", "c", "others")
    assert shares[:, 0] == pytest.approx(np.array([9, 4, 1, 0.26]) / whole)
    names, shares = budget_shares(total, "source", 0.0, 2)
    assert names == ("a", "b", "others")
    assert shares[:, 0] == pytest.approx(np.array([9, 4, 1.26]) / whole)


def test_others_too_small_to_be_seen_are_not_in_the_legend(ax: Axes) -> None:
    total = Length(10.0, "mm", standard(3.0), label="a") + Length(
        1.0, "mm", standard(0.01), label="b"
    )
    budget_chart(total, ax=ax)
    assert legend(ax) == ["a"]
    assert len(ax.containers) == 2


def test_a_certain_result_has_no_bar(ax: Axes) -> None:
    budget_chart(Length([1.0, 2.0], "m", standard([0.0, 0.1]), label="rule") * 2, ax=ax)
    assert [bar.get_height() for bar in ax.containers[0]] == pytest.approx([0.0, 1.0])


def test_mistakes(runs: Runs, ax: Axes) -> None:
    with pytest.raises(DimensionError, match="got str; expected analysed runs"):
        budget_chart("runs", ax=ax)
    with pytest.raises(RangeError, match="no result 'f'"):
        budget_chart(runs, "f", ax=ax)
    with pytest.raises(RangeError, match="by='meter'"):
        budget_chart(runs, by="meter", ax=ax)
    with pytest.raises(RangeError, match="least=2"):
        budget_chart(runs, least=2, ax=ax)
    with pytest.raises(RangeError, match="most=9"):
        budget_chart(runs, most=9, ax=ax)
