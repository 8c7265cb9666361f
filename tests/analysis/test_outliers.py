"""Grubbs' test against printed tables, a published example, and simulated samples."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from flowunc import DimensionError, Length, RangeError, ShapeError, StatementError, standard
from flowunc.analysis.outliers import grubbs_critical_value, outliers

# [NIST/SEMATECH 2012, section 1.3.5.17.1] (data and results from memory): uranium isotope
# ratios; G = 2.4687, upper critical value for one side at 5 %, n = 8: 2.032.
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


@pytest.mark.parametrize(
    ("count", "five_percent", "one_percent"),
    # [ISO 5725-2, table 5], one outlying observation (from memory [M]; printed to 3 decimals)
    [
        (3, 1.155, 1.155),
        (4, 1.481, 1.496),
        (5, 1.715, 1.764),
        (6, 1.887, 1.973),
        (7, 2.020, 2.139),
        (8, 2.126, 2.274),
        (9, 2.215, 2.387),
        (10, 2.290, 2.482),
        (15, 2.549, 2.806),
        (20, 2.709, 3.001),
        (40, 3.036, 3.381),
    ],
)
def test_printed_critical_values(count: int, five_percent: float, one_percent: float) -> None:
    assert grubbs_critical_value(count, 0.95) == pytest.approx(five_percent, abs=0.0015)
    assert grubbs_critical_value(count, 0.99) == pytest.approx(one_percent, abs=0.0015)


@pytest.mark.parametrize(
    ("count", "printed"),
    # [Grubbs 1969, table 1] (from memory [M]): 5 % on one side, which is 10 % on both
    [(3, 1.153), (4, 1.463), (5, 1.672), (8, 2.032), (10, 2.176), (20, 2.557)],
)
def test_printed_one_sided_values_are_those_of_twice_the_risk(count: int, printed: float) -> None:
    assert grubbs_critical_value(count, 0.90) == pytest.approx(printed, abs=0.0015)


def test_published_example() -> None:
    found = outliers(URANIUM, level=0.90)
    (test,) = found.tests
    assert test.statistic == pytest.approx(2.4687, abs=0.0001)
    assert test.critical == pytest.approx(2.032, abs=0.0005)
    assert (test.reading, test.value, test.flagged) == (7, 245.57, True)
    assert found.readings.tolist() == URANIUM, "flagged, never removed"
    assert "reading 8 (245.57) stands apart: G = 2.469 exceeds 2.032 among 8" in found.sentence


def test_statistic_is_scale_and_shift_free() -> None:
    moved = outliers(5 - 3 * np.array(URANIUM)).tests[0]
    assert moved.statistic == pytest.approx(2.4687, abs=0.0001)
    assert moved.reading == 7


@pytest.mark.parametrize("count", [4, 10])
def test_normal_samples_are_flagged_as_often_as_stated(count: int) -> None:
    # 4000 samples: the share flagged is 0.05 with a standard deviation of 0.0034
    draws = np.random.default_rng(1).normal(size=(4000, count))
    flagged = sum(bool(outliers(row).flagged) for row in draws)
    assert flagged / 4000 == pytest.approx(0.05, abs=3 * 0.0034)


def test_the_critical_value_is_exact_for_three_readings() -> None:
    # Among three normal readings G > (n-1)/sqrt(n) cos(a) has a closed form: the deviations lie
    # at a uniform angle on a circle, G = 2/sqrt(3) cos(angle from the nearest of six axes), the
    # angle uniform up to 30 degrees. P(G > g) = 0.05 at 30 * 0.05 = 1.5 degrees.
    expected = 2 / np.sqrt(3) * np.cos(np.radians(1.5))
    assert grubbs_critical_value(3, 0.95) == pytest.approx(expected, rel=1e-9)


def test_two_outliers_one_after_the_other() -> None:
    readings = [10.0, 10.1, 9.9, 10.05, 9.95, 10.02, 30.0, 8.5, 10.03, 9.97]
    assert outliers(readings).flagged == (6,)
    both = outliers(readings, most=3)
    assert both.flagged == (6, 7)
    assert [test.among for test in both.tests] == [10, 9, 8]
    assert not both.tests[-1].flagged
    # second step: the rest tested as a sample of its own, with numpy
    rest = np.delete(readings, 6)
    expected = np.abs(rest - rest.mean()).max() / np.std(rest, ddof=1)
    assert both.tests[1].statistic == pytest.approx(expected, rel=1e-12)
    assert len(both.table()) == 3


def test_at_least_three_readings_remain() -> None:
    found = outliers([1.0, 1.0, 1.0 + 1e-6, 9.0, 100.0], most=5)
    assert min(test.among for test in found.tests) >= 3


def test_readings_rounded_to_marks_are_no_outliers_within_one_step() -> None:
    # of four readings, three equal, the fourth always has the largest G there is, 3/sqrt(4) = 1.5
    rounded = [14.0, 14.25, 14.0, 14.0]
    assert outliers(rounded).tests[0].statistic == pytest.approx(1.5, rel=1e-12)
    assert outliers(rounded).flagged == (1,)
    spared = outliers(rounded, step=0.25)
    assert spared.flagged == ()
    assert spared.tests[0].within_step
    assert "no more than one step of the scale" in spared.sentence
    assert outliers([14.0, 14.5, 14.0, 14.0], step=0.25).flagged == (1,)


def test_equal_readings_need_no_test() -> None:
    found = outliers([0.3, 0.1 + 0.2, 0.3])
    assert (found.tests, found.flagged) == ((), ())
    assert str(found) == "all 3 readings are equal"


def test_quantities_keep_their_unit_in_the_text() -> None:
    found = outliers(Length([310.0, 310.5, 309.5, 310.0, 301.5], "mm", standard(0.3)))
    assert found.flagged == (4,)
    assert "(301.5 mm)" in found.sentence
    calm = outliers(Length([310.0, 311, 309.5, 308], "mm"))
    assert "no outlier: the farthest, reading 4 (308 mm)" in calm.sentence


def test_critical_value_against_the_studentised_deviation() -> None:
    # one-reading form: G sqrt(n)/(n-1) is the correlation of the sample with that reading's axis,
    # and r sqrt(n-2)/sqrt(1-r^2) has Student's distribution (scipy's)
    n = 7
    r = grubbs_critical_value(n, 0.95) * np.sqrt(n) / (n - 1)
    t = r * np.sqrt(n - 2) / np.sqrt(1 - r**2)
    assert 2 * n * stats.t.sf(t, n - 2) == pytest.approx(0.05, rel=1e-9)


@pytest.mark.parametrize(
    ("readings", "options", "error", "text"),
    [
        ([1.0, 2.0], {}, RangeError, "2 readings; expected at least 3"),
        (3.0, {}, ShapeError, "single value"),
        (Length(3.0, "mm"), {}, ShapeError, "single value"),
        ([1.0, float("nan"), 2.0], {}, RangeError, "NaN"),
        (URANIUM, {"level": 95}, StatementError, "level=95"),
        (URANIUM, {"most": 0}, RangeError, "most=0"),
        (URANIUM, {"most": 1.5}, RangeError, "most=1.5"),
        (URANIUM, {"step": -1}, RangeError, "step=-1"),
        (URANIUM, {"step": Length(1, "mm")}, DimensionError, "plain number"),
    ],
)
def test_what_cannot_be_tested_is_refused(
    readings: object, options: dict[str, object], error: type[Exception], text: str
) -> None:
    with pytest.raises(error, match=text):
        outliers(readings, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [2, 2.5, True])
def test_too_few_for_a_critical_value(count: object) -> None:
    with pytest.raises(RangeError, match="expected at least 3"):
        grubbs_critical_value(count)  # type: ignore[arg-type]


@pytest.mark.parametrize("scale", [1e-310, 1e-200, 1e200, 1e307])
def test_sizes_whose_squares_leave_float64(scale):
    # "all readings are equal" below 1e-162, a warning of NumPy above 1e154
    values = np.array(URANIUM)
    found = outliers(values / 100 * scale, most=2, step=0.001 * scale).tests
    ordinary = outliers(values / 100, most=2, step=0.001).tests
    assert [test.reading for test in found] == [test.reading for test in ordinary]
    assert [test.flagged for test in found] == [test.flagged for test in ordinary]
    # [NIST/SEMATECH 2012, section 1.3.5.17.1]
    assert found[0].statistic == pytest.approx(2.4687, abs=1e-4)
    assert found[0].value == pytest.approx(2.4557 * scale)


def test_an_outlier_that_dwarfs_the_others_leaves_them_to_be_tested():
    found = outliers([1e200, 1.0, 1.1, 0.9, 1.05, 0.95, 1.02, 9.0], most=2)
    assert found.flagged == (0, 7)
