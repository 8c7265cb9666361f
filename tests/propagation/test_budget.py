"""The budget of one reading: lines, shares, sensitivities in units, labels."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import (
    Angle,
    Length,
    Ratio,
    ShapeError,
    Temperature,
    Time,
    arcsine,
    concatenate,
    limits,
    repeated,
    shared,
    standard,
    triangular,
)
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.units import parse_unit
from flowunc.propagation.budget import distinct_labels


def speed():
    length = Length(200.0, "mm", limits(0.3), label="length")
    time = Time(0.5, "min", standard(0.2, "s", dof=12), label="time")
    return (length / time).to("mm/s").labelled("speed")


def test_lines_state_each_component_in_its_own_unit():
    table = speed().budget().set_index("component")
    assert list(table.index) == ["time", "length"]  # largest first
    # v = l/t: c_l = 1/t = 1/30 1/s, c_t = -l/t^2 = -200/900 mm/s^2
    length, time = table.loc["length"], table.loc["time"]
    assert length["u"] == pytest.approx(0.3 / math.sqrt(3), rel=1e-13)
    assert length["unit"] == "mm"
    assert length["sensitivity"] == pytest.approx(1 / 30, rel=1e-13)
    assert length["contribution"] == pytest.approx(0.01 / math.sqrt(3), rel=1e-13)
    assert (length["evaluation"], length["distribution"]) == ("B", "rectangular")
    assert time["unit"] == "s"
    assert time["u"] == pytest.approx(0.2, rel=1e-13)
    assert time["sensitivity"] == pytest.approx(-200 / 900, rel=1e-13)
    assert time["dof"] == 12
    assert math.isinf(length["dof"])


def test_contributions_add_up_to_u_and_shares_to_one():
    table = speed().budget()
    assert math.sqrt((table["contribution"] ** 2).sum()) == pytest.approx(speed().u, rel=1e-13)
    assert table["share"].sum() == pytest.approx(1.0, rel=1e-13)
    shares = (table["contribution"] / speed().u) ** 2
    np.testing.assert_allclose(table["share"], shares, rtol=1e-12)


def test_component_in_two_places_is_one_line_with_the_sensitivity_of_both():
    # f = D^5: c = 5 D^4, from D^2 * D^3
    bore = Length(2.0, "m", standard(0.01), label="bore")
    table = (bore**2 * bore**3).budget()
    assert len(table) == 1
    assert table["sensitivity"][0] == pytest.approx(80.0, rel=1e-13)


def test_evaluation_distribution_and_source_are_said():
    length = Length(
        2.0,
        "mm",
        repeated([1.9, 2.0, 2.2]),
        triangular(0.1),
        arcsine(0.05, label="vibration"),
        label="gap",
    )
    table = length.budget()
    assert sorted(table["evaluation"]) == ["A", "B", "B"]
    assert table["component"].is_unique
    assert "vibration" in set(table["component"])
    assert set(table["source"]) == {"gap"}


def test_temperature_components_are_in_kelvin_of_difference():
    table = Temperature(68.0, "degF", standard(0.9), label="bath").budget()
    assert table["unit"][0] == "K"
    assert table["u"][0] == pytest.approx(0.5, rel=1e-13)
    assert table["contribution"][0] == pytest.approx(0.9, rel=1e-13)
    assert table["sensitivity"][0] == pytest.approx(1.8, rel=1e-13)


def test_row_picks_the_reading():
    angle = Angle([10.0, 30.0], "deg", shared(standard(0.25)), label="angle")
    height = Length(100.0, "mm", label="length") * np.sin(angle)
    first, second = (height.budget(row)["contribution"][0] for row in (0, 1))
    # cot(angle) u(angle): 2.4746 % at 10 deg, 0.7557 % at 30 deg [C]
    assert first / height.value[0] == pytest.approx(0.024746, abs=5e-7)
    assert second / height.value[1] == pytest.approx(0.007557, abs=5e-7)
    assert height.budget(-1).equals(height.budget(1))


@pytest.mark.parametrize("row", [None, 2, -3, 0.5, "0"])
def test_row_has_to_be_one_of_the_readings(row):
    with pytest.raises(ShapeError, match=str(row)):
        Length([1.0, 2.0], "m", standard(0.1)).budget(row)


@pytest.mark.parametrize("row", [1, "a"])
def test_single_value_has_no_other_row(row):
    with pytest.raises(ShapeError, match=str(row)):
        speed().budget(row)
    assert speed().budget(0).equals(speed().budget())


def test_own_errors_of_several_readings_are_one_line_of_a_mean():
    table = Length([1.0, 2.0, 3.0], "m", standard(0.3), label="gap").mean().budget()
    assert len(table) == 1
    assert table["contribution"][0] == pytest.approx(0.3 / math.sqrt(3), rel=1e-13)


def test_no_uncertainty_is_an_empty_budget():
    table = Length(1.0, "m").budget()
    assert len(table) == 0
    assert "contribution" in table.columns


def test_labels_are_never_alike():
    a, b = (Ratio(1.0, "1", standard(0.1), label="bore") for _ in range(2))
    c = Ratio(1.0, "1", standard(0.3), label="bore (2)")
    table = (a + b + c).budget()
    assert table["component"].is_unique
    assert distinct_labels(["x", "x", "x (2)", "x"]) == ["x", "x (2)", "x (2) (2)", "x (3)"]


def test_unnamed_components_are_named_by_kind_not_by_a_question_mark():
    names = (Length(1.0, "m", standard(0.1)) * Time(1.0, "s", standard(0.1))).budget()["component"]
    assert sorted(names) == ["length", "time"]


def test_contributions_of_extreme_size_keep_their_shares():
    small = Ratio(1.0, "1", standard(3e-200)) + Ratio(1.0, "1", standard(4e-200))
    np.testing.assert_allclose(small.budget()["share"], [0.64, 0.36], rtol=1e-12)


def test_reading_behind_a_concatenation_has_its_own_lines_only():
    joined = concatenate(
        Length(1.0, "m", standard(0.1), label="a"), Length(2.0, "m", standard(0.2), label="b")
    )
    assert list(joined.budget(0)["component"]) == ["a"]
    assert list(joined.budget(1)["component"]) == ["b"]


def test_components_of_one_sample_are_one_line():
    # what one fit estimated together reaches the result as sqrt(a^2 + b^2), with its dof
    metre, pool = parse_unit("m"), Pool(dof=7.0, label="fit of the line")
    a, b = (
        Length._from_terms(
            1.0, [Term(Component(name, Normal(u), metre, dof=7.0, pool=pool))], metre
        )
        for name, u in (("a", 0.3), ("b", 0.4))
    )
    other = Length(1.0, "m", standard(0.1), label="other")
    table = (a - 2 * b + other).to("mm").budget().set_index("component")
    assert list(table.index) == ["fit of the line", "other"]
    line = table.loc["fit of the line"]
    joined = 1000 * math.hypot(0.3, 0.8)
    assert line["contribution"] == pytest.approx(joined, rel=1e-13)
    assert line["u"] == pytest.approx(joined, rel=1e-13)
    assert (line["unit"], line["sensitivity"], line["dof"]) == ("mm", 1.0, 7.0)
    assert line["share"] == pytest.approx(0.73 / 0.74, rel=1e-13)


@pytest.mark.parametrize("size", [1e-200, 1.0, 1e200])
def test_rows_of_one_and_of_two_readings_side_by_side(size):
    # x0 + x1 has u sqrt 2 without a sign, -x2 and x3 keep theirs, at any size of the errors
    x = Ratio([size, size, size, size], "1", standard(0.1 * size))
    rows = concatenate(x[0] + x[1], -x[2], x[3], x[1] - x[3])
    found = [float(rows.budget(row)["sensitivity"].sum()) for row in range(4)]
    root = math.sqrt(2)
    assert found == pytest.approx([root, -1.0, 1.0, root], rel=1e-12)
    sizes = [float(rows.budget(row)["contribution"].sum()) / size for row in range(4)]
    assert sizes == pytest.approx([0.1 * root, 0.1, 0.1, 0.1 * root], rel=1e-12)
