"""The refusal of values outside a stated range."""

from __future__ import annotations

import pytest

from flowunc import Length, RangeError
from flowunc.fluids.ranges import require_within


def check(values: object, unit: str = "mm") -> None:
    require_within(
        Length(values, unit), 1, 5, "mm", argument="thing(bore=...)", source="an invented rule"
    )


@pytest.mark.parametrize("value", [1, 5, 3, [1, 2, 5]])
def test_inside(value: object) -> None:
    check(value)
    check(0.3, "cm")


def test_message_names_argument_value_place_limits_and_source() -> None:
    with pytest.raises(RangeError) as caught:
        check([0.3, 0.62, 0.01, 0.9], "cm")
    assert str(caught.value) == (
        "thing(bore=...): 6.2 mm at reading 1 (and 2 more); expected 1 to 5 mm, the range of an "
        "invented rule: check number and unit of the reading"
    )


def test_close_to_the_end_shows_enough_digits() -> None:
    with pytest.raises(RangeError, match=r"5\.00001 mm; expected"):
        check(5.00001)
