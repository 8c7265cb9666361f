"""Where laminar flow ended: closed forms of a rectangular distribution between two runs."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest

from flowunc import (
    DimensionError,
    FrictionFactor,
    RangeError,
    ReynoldsNumber,
    ShapeError,
    agreement,
    limits,
    shared,
    standard,
)
from flowunc.pipe import CriticalReynolds, critical_reynolds

NOTES = ["turbulent", "laminar", "", "transitional", "laminar"]
EXACT = ReynoldsNumber([5000, 1500, 2200, 2400, 2000], "1")


def test_rectangular_between_the_two_runs() -> None:
    # between 2000 and 2400: mean 2200, u = 400/sqrt 12, nothing outside [JCGM 100, 4.3.7]
    found = critical_reynolds(EXACT, NOTES)
    assert isinstance(found, CriticalReynolds)
    assert type(found.reynolds) is ReynoldsNumber
    assert (found.highest_laminar_run, found.lowest_other_run) == (4, 3)
    assert (found.highest_laminar.value, found.lowest_other.value) == (2000, 2400)
    assert found.reynolds.value == pytest.approx(2200, rel=1e-15)
    assert found.reynolds.u == pytest.approx(400 / math.sqrt(12), rel=1e-12)
    drawn = found.reynolds.monte_carlo(20_000, seed=1)
    assert drawn.samples().min() >= 2000
    assert drawn.samples().max() <= 2400
    assert drawn.u == pytest.approx(400 / math.sqrt(12), rel=0.02)
    assert (found.overlap, found.explained, found.without_note) == (False, True, 1)
    assert found.laminar_above == found.other_below == ()


def test_errors_of_each_run_and_in_common() -> None:
    # the middle of two ends: independent errors halve in the square, a common one stays whole
    each, common = 30.0, 50.0
    re = ReynoldsNumber(EXACT.value, "1", standard(each), shared(standard(common)))
    found = critical_reynolds(re, NOTES).reynolds
    assert found.u == pytest.approx(math.hypot(400 / math.sqrt(12), each / math.sqrt(2), common))
    # with the width uncertain as well, the draws have (2 each^2)/12 more: s(b - a) s(place)
    drawn = found.monte_carlo(100_000, seed=2)
    assert drawn.u == pytest.approx(math.sqrt(found.u**2 + 2 * each**2 / 12), rel=0.01)


def test_is_a_quantity_to_compare_with() -> None:
    found = critical_reynolds(EXACT, NOTES)
    assert agreement(found.reynolds, ReynoldsNumber(2300, "1")).satisfied
    assert pickle.loads(pickle.dumps(found)).reynolds.u == found.reynolds.u
    labels = [component.label for component in found.reynolds.components]
    assert labels == ["place between the runs"]


def test_overlap_beyond_the_uncertainty_is_said() -> None:
    re = ReynoldsNumber([1500, 2100, 2300, 2500, 4500], "1", standard(20))
    found = critical_reynolds(re, ["laminar", "transitional", "laminar", "laminar", "turbulent"])
    # 400 between them, 2 u(difference) = 2 sqrt(2) 20 = 57
    assert (found.overlap, found.explained) == (True, False)
    assert found.laminar_above == (2, 3)
    assert found.other_below == (1,)
    assert found.reynolds.value == pytest.approx(2300)
    assert found.reynolds.u == pytest.approx(math.hypot(400 / math.sqrt(12), 20 / math.sqrt(2)))
    assert "still at Re 2500 (run 3), no longer at Re 2100 (run 1)" in found.sentence
    assert "the notes overlap (runs 1, 2, 3), by more than the uncertainty" in found.sentence
    assert max(len(line) for line in str(found).splitlines()) <= 100


def test_overlap_within_the_uncertainty_is_said() -> None:
    re = ReynoldsNumber([2250, 2200], "1", standard(20))
    found = critical_reynolds(re, np.array(["laminar", "turbulent"]))
    assert (found.overlap, found.explained) == (True, True)
    assert "which the uncertainty of their Re explains" in found.sentence
    # an error in common moves both and explains nothing
    common = critical_reynolds(
        ReynoldsNumber([2250, 2200], "1", shared(standard(50))), ["laminar", "turbulent"]
    )
    assert common.explained is False


@pytest.mark.parametrize(("apart", "explained"), [(40, True), (60, False), (80, False)])
def test_overlap_is_explained_up_to_twice_the_uncertainty(apart: int, explained: bool) -> None:
    # u of the difference of two independent readings: 20 sqrt 2, twice that is 56.6
    re = ReynoldsNumber([2200 + apart, 2200], "1", standard(20))
    found = critical_reynolds(re, ["laminar", "turbulent"])
    assert (found.overlap, found.explained) == (True, explained)


def test_equal_values_of_both_kinds_overlap() -> None:
    found = critical_reynolds(ReynoldsNumber([2200, 2200], "1"), ["laminar", "turbulent"])
    assert found.overlap is True
    assert (found.laminar_above, found.other_below) == ((0,), (1,))
    assert found.reynolds.value == 2200


def test_text() -> None:
    text = str(critical_reynolds(ReynoldsNumber(EXACT.value, "1", limits(30)), NOTES))
    assert text.splitlines()[0].startswith("between laminar and other runs: (2.20 ")
    assert text.endswith("; 1 without a note left out")


@pytest.mark.parametrize(
    ("notes", "error", "message"),
    [
        (["laminar"] * 5, RangeError, "none of 5 runs is noted as transitional or turbulent"),
        (["turbulent"] * 5, RangeError, "none .* noted as laminar; .* add runs at a lower flow"),
        ([*NOTES[:4], "calm"], RangeError, r"'calm' at run 4; expected one of laminar, "),
        ([*NOTES[:4], None], RangeError, r"None at run 4"),
        (NOTES[:3], ShapeError, "3 notes for 5 Reynolds numbers"),
        ("laminar", ShapeError, "expected one note for each run"),
    ],
)
def test_notes_without_use_are_refused(notes: object, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        critical_reynolds(EXACT, notes)


def test_other_reynolds_numbers_are_refused() -> None:
    with pytest.raises(ShapeError, match="a single value; expected one for each run"):
        critical_reynolds(ReynoldsNumber(2000, "1"), ["laminar"])
    with pytest.raises(DimensionError, match=r"FrictionFactor.*ReynoldsNumber"):
        critical_reynolds(FrictionFactor([0.03], "1"), ["laminar"])
