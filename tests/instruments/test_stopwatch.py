"""The stopwatch: a reaction at both ends, new at every reading."""

import math

import pytest

from flowunc.core.errors import RangeError, StatementError, UnitError
from flowunc.core.kinds import Time
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import Scale, Stopwatch, percent_of_reading


def watch(reaction=None, **options):
    return Stopwatch(Scale(0.01, "s", kind="digital"), reaction=reaction, **options)


def labels(quantity):
    return [component.label for component in quantity.components]


def test_a_reading_has_a_reaction_at_start_and_one_at_stop():
    time = watch(limits(0.2)).read(60.0)
    assert isinstance(time, Time)
    assert (time.unit, time.label) == ("s", "stopwatch")
    assert time.value == pytest.approx(60.0, rel=1e-14)
    # variance in s^2: 2 * 0.2^2 / 3 and half the last digit, 0.005^2 / 3
    assert time.u == pytest.approx(math.sqrt((2 * 0.04 + 0.000025) / 3), rel=1e-12)
    assert labels(time) == [
        "stopwatch resolution", "stopwatch reaction at start", "stopwatch reaction at stop",
    ]  # fmt: skip


def test_the_reaction_is_new_at_every_reading_and_call():
    one = watch(limits(0.2))
    times = one.read([60.0, 60.0])
    assert (times[0] - times[1]).u == pytest.approx(math.sqrt(2) * times[0].u, rel=1e-12)
    assert (one.read(60.0) - one.read(60.0)).u == pytest.approx(times[0].u * math.sqrt(2))


def test_a_shared_reaction_is_a_habit_of_the_observer():
    one = watch(shared(standard(0.2)))
    first, second = one.read(60.0), one.read([30.0])
    assert first.u == pytest.approx(math.sqrt(2 * 0.04 + 0.000025 / 3), rel=1e-12)
    assert (first - second[0]).u == pytest.approx(0.005 * math.sqrt(2 / 3), rel=1e-9)


def test_a_labelled_reaction_keeps_its_name():
    time = watch(limits(0.2, label="thumb")).read(60.0)
    assert labels(time)[1:] == ["thumb at start", "thumb at stop"]


def test_the_rate_of_the_watch_is_shared():
    times = watch(accuracy=percent_of_reading(1, k=1)).read([10.0, 1000.0])
    assert times[1].u == pytest.approx(10.0, rel=1e-6)
    assert times.correlation(times)[0, 1] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("value", [0.0, -1.0])
def test_no_time_is_refused(value):
    with pytest.raises(RangeError, match=r"stopwatch: .*above 0"):
        watch().read(value)


def test_a_reaction_must_be_a_statement():
    with pytest.raises(StatementError, match=r"reaction=0\.2"):
        watch(0.2)
    assert watch(limits(0.2)).reaction == limits(0.2)


def test_a_scale_of_another_unit_is_refused():
    with pytest.raises(UnitError, match=r"stopwatch: scale in 'g'; expected a unit of time"):
        Stopwatch(Scale(1, "g"))
