"""Unlabelled inputs are called after their role; the errors behind them stay the same ones."""

from __future__ import annotations

import pytest

from flowunc import DimensionError, Length, Pressure, limits, shared, standard
from flowunc.core.naming import named_argument, named_by_role


def labels(quantity):
    return [component.label for component in quantity.components]


def test_unlabelled_input_and_its_error_are_called_after_the_role():
    bore = Length(19.05, "mm", limits(0.05))
    named = named_by_role(bore, "pipe bore")
    assert named.label == "pipe bore"
    assert labels(named) == ["pipe bore"]
    assert [component.source for component in named.components] == ["pipe bore"]
    assert (named.value, named.unit, named.u) == (bore.value, bore.unit, bore.u)
    assert type(named) is Length


def test_several_errors_keep_what_tells_them_apart():
    bore = Length(19.05, "mm", standard(0.05), limits(0.01))
    before = labels(bore)
    assert len(set(before)) == 2
    after = labels(named_by_role(bore, "pipe bore"))
    assert [each.replace("pipe bore", "length", 1) for each in after] == before


def test_error_with_a_label_of_its_own_keeps_it():
    bore = Length(19.05, "mm", standard(0.05, label="gauge block"), limits(0.01))
    named = named_by_role(bore, "pipe bore")
    assert labels(named)[0] == labels(bore)[0] == "gauge block"
    assert labels(named)[1].startswith("pipe bore")
    assert named.u == bore.u


def test_named_input_is_the_same_error():
    bore = Length(19.05, "mm", shared(limits(0.05)))
    named = named_by_role(bore, "pipe bore")
    assert (named - bore).u == 0.0
    assert [c.key for c in named.components] == [c.key for c in bore.components]


def test_labelled_input_keeps_its_label_and_a_result_gets_one():
    labelled = Length(19.05, "mm", limits(0.05), label="tube 3")
    assert named_by_role(labelled, "pipe bore") is labelled
    result = named_by_role(labelled * 2, "pipe bore")
    assert result.label == "pipe bore"
    assert labels(result) == ["tube 3"]


@pytest.mark.parametrize(
    ("argument", "role"), [("tap_spacing", "tap spacing"), ("reynolds", "Reynolds number")]
)
def test_argument_is_named_in_words(argument, role):
    assert named_argument(Length(1, "m"), Length, "somewhere", argument).label == role


def test_argument_of_another_kind_is_refused_with_its_place():
    with pytest.raises(DimensionError, match=r"somewhere\(bore=.*Pressure.*Length"):
        named_argument(Pressure(1, "Pa"), Length, "somewhere", "bore")
