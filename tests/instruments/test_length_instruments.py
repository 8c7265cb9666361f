"""Rule and caliper: what counts at two marks, what cancels, and thermal expansion."""

import math

import pytest

from flowunc.core.errors import DimensionError, RangeError, ShapeError, UnitError
from flowunc.core.kinds import Length, Temperature
from flowunc.core.quantity import Quantity
from flowunc.core.statements import limits, shared, standard
from flowunc.instruments import Scale, percent_of_reading
from flowunc.instruments.length_instruments import Caliper, Rule, thermally_expanded

RESOLUTION = 0.5 / math.sqrt(3)  # mm, to the nearest mark [JCGM 100, 4.3.7]


def labels(quantity):
    return [component.label for component in quantity.components]


def test_a_length_between_two_marks_has_two_resolutions():
    spacing = Rule(Scale(1, "mm")).between(100.0, 1624.0)
    assert isinstance(spacing, Length)
    assert (spacing.unit, spacing.label) == ("mm", "rule")
    assert spacing.value == pytest.approx(1524.0)
    assert spacing.u == pytest.approx(math.sqrt(2) * RESOLUTION, rel=1e-12)
    assert labels(spacing) == ["rule resolution, start", "rule resolution, end"]
    # two rounded readings: the triangular law of half-width 1 mm [JCGM 101, 6.4.5]
    drawn = spacing.monte_carlo(40_000, seed=6)
    assert drawn.u == pytest.approx(1 / math.sqrt(6), rel=5 / math.sqrt(80_000))


def test_the_accuracy_of_a_rule_counts_once_and_does_not_cancel():
    rule = Rule(Scale(1e-6, "mm"), accuracy=limits(0.4))
    assert rule.between(100.0, 400.0).u == pytest.approx(0.4 / math.sqrt(3), rel=1e-6)
    stretched = Rule(Scale(1e-6, "mm"), accuracy=percent_of_reading(0.1))
    # of the length between the marks, 300 mm, wherever they are
    for start in (0.0, 100.0, 900.0):
        u = stretched.between(start, start + 300.0).u
        assert u == pytest.approx(0.3 / math.sqrt(3), rel=1e-6)


def test_two_lengths_of_one_rule_share_its_calibration():
    rule = Rule(Scale(1, "mm"), accuracy=limits(0.4))
    first, second = rule.between([100.0, 200.0], [400.0, 500.0])
    assert (first - second).to("mm").u == pytest.approx(2 * RESOLUTION, rel=1e-12)


def test_zero_error_and_parallax_of_one_eye_cancel_between_marks():
    scale = Scale(1e-6, "mm", zero_error=limits(1), parallax=shared(limits(1)))
    rule = Rule(scale)
    assert rule.between(100.0, 400.0).u == pytest.approx(0.0, abs=1e-6)
    assert rule.read(300.0).u == pytest.approx(math.sqrt(2 / 3), rel=1e-6)


def test_parallax_counts_at_both_marks():
    rule = Rule(Scale(1e-6, "mm", parallax=limits(0.6)))
    spacing = rule.between(100.0, 400.0, limits(0.3), label="tap spacing")
    expected = math.sqrt(2 * 0.6**2 / 3 + 0.3**2 / 3)
    assert spacing.u == pytest.approx(expected, rel=1e-6)
    assert labels(spacing) == [
        "rule resolution, tap spacing, start",
        "rule parallax, tap spacing, start",
        "rule resolution, tap spacing, end",
        "rule parallax, tap spacing, end",
        "tap spacing",
    ]


def test_a_vernier_caliper():
    scale = Scale(1, "mm", span=(0, 150), kind="vernier", vernier_divisions=50)
    caliper = Caliper(scale, accuracy=limits(0.03))
    bore = caliper.read([19.04, 19.06])
    # 0.02 mm vernier: 0.01 either way
    assert bore.u == pytest.approx([math.hypot(0.01, 0.03) / math.sqrt(3)] * 2, rel=1e-12)
    assert (bore[0] - bore[1]).to("mm").u == pytest.approx(0.01 * math.sqrt(2 / 3), rel=1e-12)


@pytest.mark.parametrize(
    ("make", "error", "match"),
    [
        (lambda r: r.between(400, 100), RangeError, "400 to 100 mm.*exchanged"),
        (lambda r: r.between([1, 5], [2, 5]), RangeError, "at reading 1: from 5 to 5"),
        (lambda r: r.between([1, 2], 5), ShapeError, "2 marks at the start and 1"),
        (lambda r: r.between(1, 2001), RangeError, "rule, end: 2001 mm lies off"),
        (lambda r: r.between(Length(1, "mm"), 2), DimensionError, "plain numbers"),
        (lambda r: r.read(-1), RangeError, "-1 mm"),
        (lambda r: Caliper(Scale(1, "mm")).read([19, 0]), RangeError, "reading 1: 0 mm"),
        (lambda r: Rule(Scale(1, "degC")), UnitError, "expected a unit of length"),
    ],
)
def test_misuse_is_named(make, error, match):
    with pytest.raises(error, match=match):
        make(Rule(Scale(1, "mm", span=(0, 2000))))


def test_expansion_of_a_steel_rule():
    # 11.5e-6 /K over 1 m and 10 K: 0.115 mm, a figure of every workshop book (from memory)
    rule = Rule(Scale(1, "mm"))
    length = thermally_expanded(
        rule.between(100.0, 1100.0, label="spacing"),
        temperature=Temperature(30, "degC"),
        expansion=Quantity(1.15e-5, "1/K"),
    )
    assert (length.unit, length.label) == ("mm", "spacing")
    assert length.value - 1000.0 == pytest.approx(0.115, rel=1e-9)


def test_expansion_carries_its_uncertainties():
    length = thermally_expanded(
        Length(1, "m"),
        temperature=Temperature(30, "degC", standard(2)),
        expansion=Quantity(7e-5, "1/K", standard(1e-5)),
        reference=Temperature(20, "degC", standard(1)),
    )
    # sum of squares: 1e-5 * 10, 7e-5 * 2 and 7e-5 * 1
    assert length.u == pytest.approx(math.sqrt(1e-4**2 + 1.4e-4**2 + 0.7e-4**2), rel=1e-10)
    assert "thermal expansion" in labels(length)
    drawn = length.monte_carlo(40_000, seed=7)
    assert drawn.u == pytest.approx(length.u, rel=0.03)  # the product has a second-order part


@pytest.mark.parametrize(
    ("options", "error", "match"),
    [
        ({"expansion": 1e-5}, DimensionError, "got 1e-05"),
        ({"expansion": Quantity(1e-5, "K")}, DimensionError, "in 'K'"),
        ({"expansion": Quantity(11.5, "1/K")}, RangeError, "1e-6 /K"),
        ({"temperature": Quantity(5, "K")}, DimensionError, "expected Temperature"),
        ({"reference": 20}, DimensionError, "reference"),
    ],
)
def test_expansion_refuses(options, error, match):
    given = {"temperature": Temperature(30, "degC"), "expansion": Quantity(1e-5, "1/K")}
    with pytest.raises(error, match=match):
        thermally_expanded(Length(1, "m"), **{**given, **options})
