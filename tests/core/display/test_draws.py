from xml.etree import ElementTree

import numpy as np
import pytest

from flowunc import Length, Ratio, limits, monte_carlo_joint, repeated, standard
from flowunc.core.display.draws import drawn_table


def test_a_rectangular_length():
    # rectangular within 0.1: u = 0.1/sqrt(3) = 0.0577; the shortest 95 % are 0.19 wide
    drawn = Length(10, "mm", limits(0.1), label="side").monte_carlo(200_000, seed=1)
    shown = drawn_table(drawn)
    assert shown.title == "side, in mm: 200000 draws, seed 1"
    ((reading, mean, u, interval),) = shown.rows
    assert (reading, mean, u) == ("0", "10.000", "0.058")
    low, high = map(float, interval.split(" to "))
    assert high - low == pytest.approx(0.19, abs=0.002)
    assert str(drawn) == str(shown)
    assert drawn._repr_html_() == shown._repr_html_()


def test_readings_without_a_value_are_not_hidden():
    with pytest.warns(UserWarning, match="no finite value"):
        drawn = np.sqrt(Length([0.0, 4.0], "m", standard(0.02))).monte_carlo(2000, seed=1)
    first, second = drawn_table(drawn).rows
    assert first == ("0", "-", "-", "-")
    assert second[1].startswith("2.00")
    assert "draws of a reading have no value" in drawn_table(drawn).notes[0]


def test_a_mean_without_u_is_shown_alone():
    # t distribution of 3 repeats: a mean, and an infinite variance [JCGM 101, 6.4.9.4]
    length = Length([10.0, 12.0], "mm", repeated([10.1, 10.3, 10.2]))
    with pytest.warns(UserWarning, match="without a standard deviation"):
        drawn = length.monte_carlo(500, seed=1)
    assert not np.isfinite(drawn.u).any()
    for (_, mean, u, interval), value in zip(drawn_table(drawn).rows, [10, 12], strict=True):
        assert u == "-"
        assert float(mean) == pytest.approx(value, abs=0.1)
        assert len(mean) == 5  # four digits and the point
        assert " to " in interval


def test_a_pole_has_neither_mean_nor_u_and_a_note():
    # the quotient of normal variables has no moments when the denominator reaches zero
    with pytest.warns(UserWarning, match="denominator"):
        drawn = (1 / Ratio([0.1, 5.0], "1", standard(0.1))).monte_carlo(2000, seed=1)
    first, second = drawn_table(drawn).rows
    assert first[1:3] == ("-", "-")
    assert float(second[1]) == pytest.approx(0.2, rel=0.01)
    assert "a denominator reaches zero: no mean and no u there" in drawn_table(drawn).notes


def test_many_readings_and_many_draws():
    q = Length(np.linspace(1, 2, 3000), "m", standard(0.02), label="<x>")
    drawn = q.monte_carlo(5000, seed=1)
    shown = drawn_table(drawn)
    assert len(shown.rows) == 16
    assert "2985 of 3000 readings not shown" in str(shown)
    assert all(row[-1] == "-" for row in shown.rows if len(row) > 1)
    assert "ask for it" in shown.notes[0]
    ElementTree.fromstring(f"<div>{shown._repr_html_()}</div>")


def test_joint_results_show_each():
    x = Length(1.0, "m", standard(0.1), label="x")
    joint = monte_carlo_joint([x, (2 * x).labelled("y")], trials=2000, seed=1)
    assert str(joint).split("\n\n") == [str(joint[0]), str(joint[1])]
    assert joint._repr_html_().count("<table") == 2
