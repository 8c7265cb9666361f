"""Statements of uncertainty: u from the standards, scope, refusals with the value."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from flowunc import (
    FlowuncError,
    Length,
    Mass,
    StatementError,
    Temperature,
    arcsine,
    expanded,
    exponential,
    limits,
    percent_of_reading,
    repeated,
    shared,
    standard,
    trapezoidal,
    triangular,
)
from flowunc.core.distributions import Rectangular
from flowunc.core.statements import Statement
from flowunc.core.units import parse_unit

# [JCGM 100, 4.3.4 to 4.3.9; JCGM 101, 6.4]: u of a half-width a = 0.6.
SPREADS = [
    (limits(0.6), 0.6 / math.sqrt(3)),
    (triangular(0.6), 0.6 / math.sqrt(6)),
    (trapezoidal(0.6, 0.5), 0.6 * math.sqrt(1.25 / 6)),
    (trapezoidal(0.6, 1.0), 0.6 / math.sqrt(3)),
    (trapezoidal(0.6, 0.0), 0.6 / math.sqrt(6)),
    (arcsine(0.6), 0.6 / math.sqrt(2)),
    (exponential(0.6), 0.6),
    (standard(0.6), 0.6),
    (expanded(0.6, k=2), 0.3),
    (expanded(0.6, k=3), 0.2),
    (limits(0.6, inexact=0.3), math.sqrt(0.36 / 3 + 0.09 / 9)),
    # t factors of [JCGM 100, table G.2] [M]: 1.960 (infinite), 2.26 (dof 9), 3.25 (dof 9, 99 %)
    (expanded(0.6, level=0.95), 0.6 / 1.959964),
    (expanded(0.6, level=0.95, dof=9), 0.6 / 2.262157),
    (expanded(0.6, level=0.99, dof=9), 0.6 / 3.249836),
]


@pytest.mark.parametrize(("statement", "u"), SPREADS)
def test_standard_uncertainty_is_that_of_the_standards(statement, u):
    assert Length(10, "mm", statement).u == pytest.approx(u, rel=1e-6)


def test_expanded_with_level_inverts_its_own_coverage_factor():
    # U / t is u, and t u with the same dof is U again
    mass = Mass(1.0, "kg", expanded(0.01, level=0.95, dof=9))
    assert mass.dof == pytest.approx(9.0)
    wide, _ = mass.expanded(0.95)
    assert wide == pytest.approx(0.01, rel=1e-12)


def test_statement_in_a_unit_of_its_own():
    assert Length(1.0, "m", limits(3, "mm")).u == pytest.approx(0.003 / math.sqrt(3), rel=1e-14)
    assert Length(1.0, "m", limits(3, "mm")).to("mm").u == pytest.approx(math.sqrt(3), rel=1e-14)
    assert Temperature(68, "degF", limits(0.9)).to("K").u == pytest.approx(0.5 / math.sqrt(3))
    assert Temperature(20, "degC", limits(0.9, "degF")).u == pytest.approx(0.5 / math.sqrt(3))


def test_several_statements_add_up_as_independent_errors():
    length = Length(1.0, "m", standard(0.3), standard(0.4))
    assert length.u == pytest.approx(0.5, rel=1e-15)
    assert len(length.components) == 2
    assert length.budget()["component"].is_unique


def test_repeats_are_type_a_with_the_textbook_values():
    # [JCGM 100, 4.2.3 and G.3.2]: s/sqrt(n), n - 1 [C]: 1, 2, 3, 4, 5 has s^2 = 2.5
    bore = Length(3.0, "mm", repeated([1, 2, 3, 4, 5]))
    assert bore.u == pytest.approx(math.sqrt(2.5 / 5), rel=1e-14)
    assert bore.dof == 4.0
    assert [part.evaluation for part in bore.components] == ["A"]
    assert bore.expanded(0.95).k == pytest.approx(2.776445, rel=1e-6)  # t(4), table G.2


def test_repeats_of_several_readings_are_their_own():
    readings = Length([1.0, 2.0], "m", repeated([[0.9, 1.1], [1.8, 2.0, 2.2]]))
    np.testing.assert_allclose(readings.u, [0.1, 0.2 / math.sqrt(3)], rtol=1e-14)
    np.testing.assert_allclose(readings.dof, [1.0, 2.0], rtol=1e-14)
    # Welch-Satterthwaite of a mean over readings [JCGM 100, G.4.1]
    u1, u2 = 0.1, 0.2 / math.sqrt(3)
    expected = (u1**2 + u2**2) ** 2 / (u1**4 / 1 + u2**4 / 2)
    assert readings.mean().dof == pytest.approx(expected, rel=1e-12)


def test_on_readings_a_statement_is_an_error_for_each_unless_shared():
    own = Length([1.0, 2.0], "m", limits(0.3))
    one = Length([1.0, 2.0], "m", shared(limits(0.3)))
    assert own[0].correlation(own[1]) == 0.0
    assert one[0].correlation(one[1]) == pytest.approx(1.0, abs=1e-15)
    assert [own.components[0].scope, one.components[0].scope] == ["each", "shared"]


def test_statement_made_once_is_a_new_error_on_every_quantity():
    statement = shared(limits(0.3))
    assert (Length(1, "m", statement) - Length(1, "m", statement)).u > 0.2


def test_uncertainty_for_each_reading():
    readings = Length([1.0, 2.0, 3.0], "m", standard([0.1, 0.2, 0.0]))
    assert readings.u.tolist() == [0.1, 0.2, 0.0]


@pytest.mark.parametrize("make", [limits, triangular, arcsine, standard, exponential])
@pytest.mark.parametrize("width", [math.nan, math.inf, "0.1", True, None, [[0.1]], {}, 1j])
def test_width_that_is_no_finite_number_is_refused_with_itself(make, width):
    with pytest.raises(StatementError) as refusal:
        make(width)
    assert str(width) in str(refusal.value)


@pytest.mark.parametrize("make", [limits, triangular, arcsine, standard])
def test_negative_width_is_refused_with_itself(make):
    with pytest.raises(StatementError, match=r"-0\.25"):
        make(-0.25)
    with pytest.raises(StatementError, match=r"-0\.25 at reading 1"):
        make([0.1, -0.25])
    with pytest.raises(StatementError, match=r"-0\.25"):
        expanded(-0.25, k=2)


@pytest.mark.parametrize("dof", [0, -1, math.nan, "9", True, None])
def test_degrees_of_freedom_not_above_zero_are_refused_with_themselves(dof):
    for attempt in (
        lambda: standard(0.1, dof=dof),
        lambda: limits(0.1, dof=dof),
        lambda: expanded(0.1, level=0.95, dof=dof),
    ):
        with pytest.raises(StatementError, match=f"dof={dof!r}"):
            attempt()


@pytest.mark.parametrize("k", [0, -2, math.nan, math.inf, "2", True])
def test_coverage_factor_not_above_zero_is_refused_with_itself(k):
    with pytest.raises(StatementError, match=str(k)):
        expanded(0.1, k=k)


@pytest.mark.parametrize("level", [0, 1, 95, -0.5, math.nan, "0.95", True])
def test_level_outside_0_to_1_is_refused_with_itself(level):
    with pytest.raises(StatementError, match=str(level)):
        expanded(0.1, level=level)


def test_level_too_small_for_a_coverage_factor_is_refused():
    # 0.5 + 1e-17/2 is 0.5 in binary, and the quantile of that is 0
    with pytest.raises(StatementError, match=r"expanded\(0.3, level=1e-17\): so small a level"):
        expanded(0.3, level=1e-17)


def test_expanded_needs_exactly_one_of_factor_and_level():
    with pytest.raises(StatementError, match=r"0\.1.*k=.*level="):
        expanded(0.1)
    with pytest.raises(StatementError, match=r"0\.1.*k=.*level="):
        expanded(0.1, k=2, level=0.95)


@pytest.mark.parametrize("top", [-0.1, -1e-9, 1.001, 1.1, math.nan])
def test_top_outside_0_to_1_is_refused_with_itself(top):
    with pytest.raises(StatementError, match=str(top)):
        trapezoidal(0.1, top)


@pytest.mark.parametrize("inexact", [-0.1, 0.6001, math.nan])
def test_inexactness_beyond_the_limits_is_refused_with_itself(inexact):
    with pytest.raises(StatementError, match=str(inexact)):
        limits(0.6, inexact=inexact)


@pytest.mark.parametrize(
    ("readings", "shown"),
    [
        ([1.0], r"\[1\.0\]"),
        ([], r"\[\]"),
        ([1.0, math.nan], "nan"),
        ([1.0, math.inf], "inf"),
        ("12", "12"),
        (3.0, r"3\.0"),
        (["one", "two"], "one"),
        ([[1.0, 2.0], [3.0]], r"\[3\.0\]"),
        ([[1.0, 2.0], 3.0], r"3\.0"),
    ],
)
def test_repeats_that_show_no_scatter_are_refused_with_themselves(readings, shown):
    with pytest.raises(StatementError, match=shown):
        repeated(readings)


@pytest.mark.parametrize("readings", [["1.0", "2.0"], [True, False], [1.0, True]])
def test_text_and_truth_values_are_no_repeats(readings):
    # numpy turns both into numbers without a word
    with pytest.raises(StatementError):
        repeated(readings)


@pytest.mark.parametrize(
    "attempt",
    [
        lambda: Length(1, "m", limits(0.1, "kg")),
        lambda: Length(1, "m", limits(0.1, "degC")),
        lambda: limits(0.1, "furlong"),
        lambda: limits(0.1, 2),
        lambda: Length(1, "m", limits([0.1, 0.2])),
        lambda: Length([1, 2, 3], "m", limits([0.1, 0.2])),
        lambda: Length([1, 2], "m", shared(limits([0.1, 0.2]))),
        lambda: Length([1, 2, 3], "m", repeated([[1, 2], [1, 3]])),
        lambda: Length([1, 2], "m", shared(repeated([[1, 2], [1, 3]]))),
        lambda: shared(0.1),
    ],
)
def test_statement_that_does_not_fit_the_value_is_refused(attempt):
    with pytest.raises(StatementError):
        attempt()


def test_swapped_arguments_are_explained():
    with pytest.raises(StatementError, match=r"expanded\(\.\.\., 2\).*k="):
        expanded(0.1, 2, k=2)


LIMITS = [
    ("limits", lambda a, **how: limits(a, **how)),
    ("triangular limits", lambda a, **how: triangular(a, **how)),
    ("trapezoidal limits", lambda a, **how: trapezoidal(a, 0.5, **how)),
    ("arcsine limits", lambda a, **how: arcsine(a, **how)),
    ("exponential", lambda a, **how: exponential(a, **how)),
]


@pytest.mark.parametrize(("words", "make"), LIMITS, ids=lambda each: each if each else None)
def test_limits_have_a_name_a_unit_and_words_of_their_own(words, make):
    length = Length(2.0, "m", make(3.0, unit="mm", label="as drawn"))
    plain = Length(2.0, "m", make(0.003))
    assert length.u == pytest.approx(plain.u, rel=1e-14)  # 3 mm are 0.003 m
    (component,) = length.components
    assert component.label == "as drawn"
    with pytest.raises(StatementError, match=rf"^{words} of .*: 3 uncertainties for 2 readings"):
        Length([1.0, 2.0], "m", make([0.1, 0.2, 0.3]))
    with pytest.raises(StatementError, match=rf"^{words} of .*: 2 uncertainties for one value;"):
        Length(1.0, "m", make([0.1, 0.2]))
    two = Length(2.0, "m", make(0.003), standard(0.001))
    assert words in two.components[0].label


@pytest.mark.parametrize(
    "make",
    [
        lambda **how: standard(0.1, **how),
        lambda **how: expanded(0.2, k=2, **how),
        lambda **how: repeated([1.0, 1.1, 1.2], **how),
    ],
)
def test_spreads_have_a_name_of_their_own(make):
    (component,) = Length(2.0, "m", make(label="from the certificate")).components
    assert component.label == "from the certificate"


@pytest.mark.parametrize("given", [0.5, "0.5", None, [limits(0.5)], limits])
def test_what_is_no_statement_is_refused_with_itself(given):
    with pytest.raises(
        FlowuncError, match=r"expected a statement such as limits\(0\.5\)"
    ) as caught:
        Length(1.0, "m", given)
    assert repr(given) in str(caught.value)


def test_misspelt_option_fails():
    with pytest.raises(TypeError):
        standard(0.1, degrees=3)


def test_zero_width_is_allowed_and_stands_in_no_budget():
    length = Length(1.0, "m", limits(0.0), standard(0.1))
    assert length.u == pytest.approx(0.1)
    assert len(length.budget()) == 1
    certain = Length(1.0, "m", limits(0.0))
    assert certain.u == 0.0
    assert certain.components == ()


@dataclass(frozen=True, kw_only=True)
class OwnStatement(Statement):
    """A statement that somebody adds, with no more than it has to say."""

    @property
    def role(self):
        return "own"

    def distribution_for(self, reference):
        return Rectangular(0.003), parse_unit("mm")


def test_statement_of_ones_own_is_type_b_and_certain_of_its_width():
    length = Length([1.0, 2.0], "m", OwnStatement())
    (component,) = length.components
    assert component.evaluation == "B"
    assert component.dof == math.inf
    assert component.scope == "each"
    np.testing.assert_allclose(length.u, 0.003 / math.sqrt(3), rtol=1e-14)
    assert length[0].correlation(length[1]) == 0
    common = Length([1.0, 2.0], "m", shared(OwnStatement(label="the same one")))
    assert [c.label for c in common.components] == ["the same one"]
    assert common[0].correlation(common[1]) == pytest.approx(1, abs=1e-15)


def test_every_refusal_is_one_of_ours_and_a_built_in_error():
    with pytest.raises(FlowuncError):
        limits(-1)
    with pytest.raises(ValueError, match="-1"):
        limits(-1)


# -- numbers at the ends of float64 ------------------------------------------------------------
@pytest.mark.parametrize(
    "make",
    [
        lambda: standard(1, dof=10**400),
        lambda: expanded(1, k=10**400),
        lambda: percent_of_reading(10**400),
        lambda: expanded(1.0, level=1e-300),  # a factor of 0
    ],
)
def test_whole_numbers_beyond_float64_and_levels_without_a_factor_are_refused(make):
    with pytest.raises(FlowuncError):
        make()


@pytest.mark.parametrize("scale", [1e-320, 1e-170, 1e160, 1.7e308])
def test_repeats_of_any_size(scale):
    # two readings apart by 2 a: s = sqrt(2) a, of the mean a [JCGM 100, 4.2.2 and 4.2.3]
    assert Length(0.0, "m", repeated([scale, -scale])).u == pytest.approx(scale, rel=1e-3)


def test_masked_repeats_are_refused():
    # a warning of NumPy, and NaN
    masked = np.ma.array([[1.0, 2.0], [3.0, 4.0]], mask=[[False, True], [False, False]])
    for readings in (masked, masked[0], list(masked), [1.0, np.ma.masked]):
        with pytest.raises(StatementError, match=r"masked|--"):
            repeated(readings)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Length([1.0, 2.0], "mm", standard(1.7e308, "km")),
        lambda: Length(1.0, "mm", limits([1.0, 1e308], "km")),
        lambda: Length([1e10, 2.0], "m", percent_of_reading(1e308)),
    ],
)
def test_uncertainties_beyond_float64_in_si_are_refused(make):
    # infinite with a warning of NumPy
    with pytest.raises(StatementError):
        make()


def test_an_uncertainty_beyond_float64_in_si_says_how_large_it_may_be():
    with pytest.raises(StatementError, match=r"'km' on length.*1\.8e\+305"):
        Length([1.0, 2.0], "mm", standard(1.7e308, "km"))
