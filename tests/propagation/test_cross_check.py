"""Linear against draws, JCGM 101 clause 8: verdicts, digits, sentences."""

from __future__ import annotations

import math
import re
import sys
import warnings

import numpy as np
import pytest
from scipy import stats

from flowunc import (
    DimensionError,
    FlowuncError,
    FlowuncWarning,
    Length,
    Ratio,
    Temperature,
    concatenate,
    cross_check,
    limits,
    standard,
)


def test_symmetric_intervals_are_compared_unless_asked():
    # Ruling 5; for a skewed result the two kinds differ by much more than the draws scatter
    skewed = math.e ** Ratio(0.0, "1", standard(0.5))
    check = cross_check(skewed, seed=1)
    low, high = check.drawn.interval(0.95, "symmetric")
    assert (check.drawn_low[0], check.drawn_high[0]) == (low, high)
    # quantiles of the log-normal
    assert (low, high) == pytest.approx((math.exp(-0.979982), math.exp(0.979982)), rel=0.01)
    shortest = cross_check(skewed, kind="shortest", seed=1)
    assert shortest.drawn_high[0] < high - 0.1
    assert shortest.kind == "shortest"


def test_distances_are_those_of_the_interval_ends():
    check = cross_check(Ratio(2.0, "1", standard(0.3)) ** 2, seed=1)
    linear = 4.0 - 1.959964 * 1.2, 4.0 + 1.959964 * 1.2
    assert (check.linear_low[0], check.linear_high[0]) == pytest.approx(linear, rel=1e-6)
    np.testing.assert_allclose(check.d_low, abs(check.linear_low - check.drawn_low), rtol=1e-12)
    # the square of a normal: ends are squares of the ends of X (X > 0 but for 1e-11)
    exact = (2 - 1.959964 * 0.3) ** 2, (2 + 1.959964 * 0.3) ** 2
    assert check.d_low[0] == pytest.approx(exact[0] - linear[0], abs=0.02)
    assert check.d_high[0] == pytest.approx(exact[1] - linear[1], abs=0.02)


def test_digits_supported_are_counted_from_the_distance():
    # u = 1.2: delta 0.5, 0.05, ...; d = 0.3457 at both ends
    for digits, verdict in ((1, "holds"), (2, "fails")):
        check = cross_check(Ratio(2.0, "1", standard(0.3)) ** 2, digits=digits, seed=1)
        assert check.verdicts == (verdict,)
        assert check.supported_digits[0] == 1
        assert check.holds.tolist() == [verdict == "holds"]
        assert check.tolerance[0] == pytest.approx(0.5 * 10.0 ** (1 - digits), rel=1e-12)


def test_exactly_linear_model_is_undecided_when_the_draws_are_too_few():
    x = Ratio(5.0, "1", standard(1.0))
    check = cross_check(x, digits=3, trials=20_000, seed=1, sampler="random")
    assert check.verdicts == ("undecided",)
    assert "more trials" in check.sentence()


@pytest.mark.parametrize("sampler", ["random", None])
@pytest.mark.parametrize("kind", ["symmetric", "shortest"])
def test_exactly_linear_model_never_fails(kind, sampler):
    # "a verdict counts two standard numerical errors of the drawn ends": the ends of a shortest
    # interval wander far more than those of the symmetric one, whose errors were used for both
    x = Ratio(0.0, "1", standard(1.0))
    options = {} if sampler is None else {"sampler": sampler}
    verdicts = [
        cross_check(x, kind=kind, digits=2, trials=20_000, seed=seed, **options).verdicts[0]
        for seed in range(30)
    ]
    assert "fails" not in verdicts


LEVELS = np.array([0.5, 0.7, 0.85, 0.9, 0.95, 0.97, 0.98, 1.02, 1.03, 1.05, 1.1, 1.15, 1.3, 1.6])


def squares_near_the_limit():
    """Squares of normal X with u = 1.4, whose ends lie about LEVELS tolerances of 0.5 apart.

    The linear ends of X**2 are m**2 +/- 2 m k s; those of the drawn ones are (m +/- k s)**2
    for m > 3 s, so both distances are (k s)**2. X is a sum of eight, for as many dimensions.
    """
    s = np.sqrt(0.5 * LEVELS) / stats.norm.ppf(0.975)
    m = 1.4 / (2 * s)
    assert np.all(m > 3 * s)
    parts = [Ratio(np.zeros(m.size), "1", standard(1.0)) for _ in range(8)]
    return (m + s / math.sqrt(8) * sum(parts[1:], start=parts[0])) ** 2


def test_verdict_does_not_flip_with_the_seed():
    # the first few draws gave a verdict as soon as two of their errors, which eight scramblings
    # tell to a quarter only, cleared the limit: "holds" with one seed, "fails" with another
    quantity = squares_near_the_limit()
    found = np.array([cross_check(quantity, seed=seed).verdicts for seed in range(20)])
    for level, verdicts in zip(LEVELS, found.T, strict=True):
        true, false = ("holds", "fails") if level < 1 else ("fails", "holds")
        assert false not in verdicts, level
        if abs(level - 1) >= 0.1:
            assert set(verdicts) == {true}, level


def test_every_reading_has_a_verdict_of_its_own():
    x = Ratio([0.0, 1.0, 30.0], "1", standard(0.3))
    check = cross_check(x**2, seed=1)
    assert check.verdicts == ("fails", "fails", "holds")
    table = check.table()
    assert list(table["verdict"]) == ["fails", "fails", "holds"]
    assert len(table) == 3
    assert len(str(check).splitlines()) >= 4


def test_reading_without_a_derivative_does_not_spoil_the_others():
    # abs has no slope at 0, but at 50 it has: that reading holds, its neighbour fails
    x = abs(Ratio([0.0, 50.0], "1", limits(0.1), standard(1.0)))
    check = cross_check(x, seed=1)
    assert check.verdicts == ("fails", "holds")
    assert "no derivative" in check.sentence(0)
    assert "no derivative" not in check.sentence(1)


def test_near_zero_flow_the_linear_friction_factor_fails():
    # f goes with v**-2: at v = 5 u it is skewed, at v = 500 u it is not
    speed = Ratio([0.05, 5.0], "1", standard(0.01))
    assert cross_check(1 / speed**2, seed=1).verdicts == ("fails", "holds")


def test_linear_result_stands_in_the_sentence_with_its_expanded_uncertainty():
    # 1.96 times 0.1 mm, two digits
    sentence = cross_check(Length(10, "mm", standard(0.1)), seed=1).sentence()
    assert sentence.startswith("report the linear result 10.00 ± 0.20 mm (95 %): ")


def test_no_uncertainty_to_first_order_is_said_in_the_sentence():
    # x^2 at x = 0: the slope is 0, and x^2/u^2 has the chi-square distribution with one dof
    sentence = cross_check(Ratio(0.0, "1", standard(0.1)) ** 2, seed=1).sentence()
    found = re.fullmatch(
        r"report the drawn 95 % interval (\S+) to (\S+): to first order u is zero, which the draws "
        r"refute",
        sentence,
    )
    low, high = stats.chi2(1).ppf([0.025, 0.975]) * 0.01
    assert float(found[1]) == pytest.approx(low, abs=1e-4)
    assert float(found[2]) == pytest.approx(high, rel=0.01)


def test_text_has_a_line_for_each_reading_with_its_number():
    lines = str(cross_check(Ratio([3.0, 4.0], "1", standard(0.1)) ** 2, seed=1)).splitlines()
    assert [line.split()[:2] for line in lines if "holds" in line] == [
        ["0", "holds"],
        ["1", "holds"],
    ]
    starts = [line for line in lines[2:] if "holds" not in line]
    indent = lines[2].index("report")
    assert all(line[:indent].isspace() and line[indent] != " " for line in starts)
    single = str(cross_check(Ratio(3.0, "1", standard(0.1)) ** 2, seed=1)).splitlines()
    assert single[2].split()[0] == "holds"


def test_pole_is_said_in_the_sentence():
    with pytest.warns(FlowuncWarning, match="changes sign"):
        check = cross_check(1 / Ratio(0.1, "1", standard(0.1)), seed=1)
    assert check.verdicts == ("fails",)
    assert "do not exist" in check.sentence()


def test_draws_without_a_value_make_neither_result_reportable():
    with pytest.warns(FlowuncWarning, match="no finite value"):
        check = cross_check(np.sqrt(Ratio(0.1, "1", standard(0.1))), seed=1)
    assert check.verdicts == ("fails",)
    assert "neither" in check.sentence()


def test_units_and_offsets_are_those_of_the_quantity():
    bath = Temperature(20.0, "degC", standard(0.3), label="bath")
    check = cross_check(bath, seed=1)
    assert check.linear_low[0] == pytest.approx(20 - 0.587989, abs=1e-5)
    assert check.drawn_low[0] == pytest.approx(check.linear_low[0], abs=0.01)
    assert check.verdicts == ("holds",)
    assert "bath" in str(check)
    assert "degC" in check.sentence()


def test_verdict_does_not_depend_on_the_unit():
    # one digit of u: 0.3 mm and 0.0003 m are the same digit
    length = Length(10.0, "mm", standard(0.3)) ** 2
    for unit in ("mm^2", "m^2", "cm^2"):
        check = cross_check(length.to(unit), seed=1)
        assert check.verdicts == ("holds",)
        assert check.supported_digits[0] == cross_check(length, seed=1).supported_digits[0]


def test_few_degrees_of_freedom_hold_with_the_t_factor():
    # a single scaled t: the linear interval with t is exactly the drawn one
    check = cross_check(Ratio(10.0, "1", standard(1.0, dof=4)), seed=1)
    assert check.linear_high[0] == pytest.approx(10 + 2.776445, rel=1e-6)
    assert check.verdicts == ("holds",)


def test_level_is_used_by_both():
    check = cross_check(Ratio(0.0, "1", standard(1.0)), level=0.6827, seed=1)
    assert check.linear_high[0] == pytest.approx(1.0, abs=1e-4)
    assert check.drawn_high[0] == pytest.approx(1.0, abs=0.02)
    assert check.level == 0.6827


def test_certain_quantity_holds():
    check = cross_check(concatenate(Ratio(3.0, "1"), Ratio(4.0, "1", standard(0.1))), seed=1)
    assert check.verdicts == ("holds", "holds")


def test_same_seed_same_check_for_any_number_of_workers():
    x = Ratio([1.0, 2.0], "1", standard(0.3)) ** 2
    first, second = (cross_check(x, seed=4, sampler="random", workers=n) for n in (1, 2))
    np.testing.assert_array_equal(first.drawn_low, second.drawn_low)
    np.testing.assert_array_equal(first.error_high, second.error_high)


@pytest.mark.parametrize(
    ("options", "shown"),
    [
        ({"level": 1.5}, "1.5"),
        ({"kind": "wide"}, "wide"),
        ({"trials": 0}, "0"),
        ({"trials": 2.5}, "2.5"),
        ({"digits": 0}, "0"),
        ({"seed": -1}, "-1"),
        ({"workers": 0}, "0"),
    ],
)
def test_bad_options_are_refused_with_themselves(options, shown):
    with pytest.raises(FlowuncError, match=shown):
        cross_check(Ratio(1.0, "1", standard(0.1)), **options)


def test_too_few_trials_for_an_interval_are_refused():
    with pytest.raises(FlowuncError, match="10"):
        cross_check(Ratio(1.0, "1", standard(0.1)), trials=10, sampler="random")


def test_what_is_no_quantity_is_refused():
    with pytest.raises(DimensionError, match="cross_check of float"):
        cross_check(2.0)


def test_html_is_escaped():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        check = cross_check(Ratio(1.0, "1", standard(0.1), label="<b>"), seed=1)
        text = check._repr_html_()
    assert "<b>" not in text
    assert "<table" in text


def test_only_readings_that_stay_open_are_drawn_again(monkeypatch):
    # u = 0.11 is judged to 0.05, u = 0.94 to 0.05 as well: of the first that is 45 %, of the
    # second 5 %, as much as its end scatters in 4000 draws [JCGM 101, 7.9.2]
    module = sys.modules["flowunc.propagation.cross_check"]
    monkeypatch.setattr(module, "RANDOM_STEPS", (4_000, 64_000))
    x = Ratio([1.0, 2.0], "1", standard([0.11, 0.94]))
    check = cross_check(x, sampler="random", seed=1, kind="shortest", level=0.9)
    assert check.trials.tolist() == [4_000, 64_000]
    assert check.verdicts[0] == "holds"
    scatter = [check.error_low[0] / 0.11, check.error_low[1] / 0.94]
    assert scatter[1] < scatter[0]
    wanted = cross_check(x, sampler="random", seed=1, trials=4_000)
    assert wanted.trials.tolist() == [4_000, 4_000]
