"""An error of a reading is one error, however often and in whatever part the reading is used."""

from __future__ import annotations

import copy
import math
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from flowunc.core.errors import StatementError
from flowunc.core.kinds import Length, Mass
from flowunc.core.readings import concatenate
from flowunc.core.statements import Reference, Statement, limits
from flowunc.core.units import parse_unit
from flowunc.instruments import Balance, Scale, percent_of_reading
from flowunc.instruments.reading_errors import ReadingError

BALANCE = Balance(Scale(1, "g"), limits(3))


def errors(statement: Statement | None = None) -> ReadingError:
    return ReadingError(statement or limits(2), Reference("balance", parse_unit("g")))


@pytest.mark.parametrize("statement", [limits(2), percent_of_reading(0.1)])
def test_parts_and_joined_parts_have_the_errors_of_what_was_read(statement: Statement) -> None:
    drip, masses = errors(statement), BALANCE.read([4090.0, 4120.0, 4150.0])
    one = BALANCE.read(900.0)
    whole = drip.of(masses, "drip")
    # rectangular, in g
    half_widths = np.full(3, 2.0) if statement == limits(2) else [4.09, 4.12, 4.15]
    assert np.asarray(whole.to("g").u) * math.sqrt(3) == pytest.approx(half_widths, rel=1e-12)
    for rows in (1, slice(1, None), [2, 0]):
        assert np.max((drip.of(masses[rows], "drip") - whole[rows]).u) < 1e-18
    joined = concatenate([one, masses[2], masses[:2]])
    found = drip.of(joined, "drip")
    assert (found[0] - drip.of(one, "drip")).u < 1e-18
    assert np.max((found[1:] - whole[[2, 0, 1]]).u) < 1e-18


def test_every_reading_has_one_of_its_own() -> None:
    drip = errors()
    first, second = (drip.of(BALANCE.read(4090.0), "drip") for _ in range(2))
    assert first.correlation(second) == 0
    series = drip.of(BALANCE.read([4090.0, 4090.0]), "drip")
    assert series[0].correlation(series[1]) == 0
    assert drip.of(Mass(4090, "g"), "drip").correlation(drip.of(Mass(4090, "g"), "drip")) == 0


def test_instruments_and_parts_are_told_apart() -> None:
    mass, drip = BALANCE.read(4090.0), errors()
    assert drip.of(mass, "drip").correlation(errors().of(mass, "drip")) == 0
    assert drip.of(mass, "high", "high").correlation(drip.of(mass, "low", "low")) == 0


@pytest.mark.parametrize("again", [copy.deepcopy, lambda given: pickle.loads(pickle.dumps(given))])
def test_copies_of_reading_and_instrument_are_the_same(again: Callable[[Any], Any]) -> None:
    drip, masses = errors(), BALANCE.read([4090.0, 4120.0])
    other_drip, other = again((drip, masses[1:]))
    assert (other_drip.of(other, "drip")[0] - drip.of(masses, "drip")[1]).u == 0


def test_a_series_joined_one_by_one() -> None:
    drip, joined = errors(), BALANCE.read([1.0])
    first = joined
    for _ in range(1500):  # deeper than Python recurses
        joined = concatenate([joined, BALANCE.read(2.0)])
    found = drip.of(joined, "drip")
    assert len(found) == 1501
    assert (found[0] - drip.of(first, "drip")[0]).u == 0


def test_a_size_for_each_reading_belongs_to_what_is_given() -> None:
    drip, lengths = errors(limits([1.0, 3.0])), BALANCE.read([10.0, 20.0, 30.0])
    assert drip.of(lengths[1:], "drip").to("g").u * math.sqrt(3) == pytest.approx([1, 3])
    with pytest.raises(StatementError, match="2 uncertainties for 3 readings"):
        drip.of(lengths, "drip")


def test_draws_are_the_same_as_by_the_linear_method() -> None:
    drip, masses = errors(percent_of_reading(0.1)), BALANCE.read([4090.0, 4120.0])
    change = drip.of(masses[1], "drip") - drip.of(masses, "drip")[1]
    assert change.monte_carlo(1000, seed=1).u < 1e-15
    assert isinstance(drip.of(masses, "drip"), Mass)
    assert isinstance(ReadingError(limits(1), Reference("rule", parse_unit("mm"))).of(
        Length(3.0, "mm", limits(1)), "meniscus"), Length)  # fmt: skip
