"""Lines of all budgets as arrays, and U after a change."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from flowunc import DimensionError, Length, RangeError, limits, repeated, standard
from flowunc.analysis import fit_line
from flowunc.analysis.budget_lines import (
    budget_lines,
    check_grouping,
    relative_expanded,
    require_quantity,
)


def line_of_points():
    """A predicted point whose slope and height come from one sample, and an exact offset."""
    x = Length([1.0, 2.0, 3.0, 4.0, 5.0], "m")
    y = Length([1.1, 1.9, 3.2, 3.9, 5.1], "m")
    fit = fit_line(x, y, scatter=True)
    return fit.predict(Length([0.0, 3.0, 9.0], "m", standard(0.2), label="place"))


def test_pools_are_one_line_with_the_size_of_all_their_parts():
    predicted = line_of_points()
    lines = budget_lines(predicted)
    assert lines.signed.shape == (2, 3)
    np.testing.assert_allclose(np.hypot.reduce(lines.signed, axis=0), predicted.u, rtol=1e-12)
    np.testing.assert_allclose(lines.share.sum(axis=0), 1.0, rtol=1e-12)
    assert list(lines.groups("component")) == ["scatter about the line", "place"]
    # an unweighted line of 5 points has 3 degrees of freedom [JCGM 100, H.3]
    np.testing.assert_array_equal(lines.dof[0], [3, 3, 3])


def test_terms_of_the_degrees_of_freedom_add_up_to_those_of_the_result():
    predicted = line_of_points()
    np.testing.assert_allclose(
        1 / budget_lines(predicted).loss.sum(axis=0), predicted.dof, rtol=1e-12
    )


def test_tiny_uncertainties_have_shares():
    a, b = (Length(1.0, "m", standard(size * 1e-180), label=str(size)) for size in (3, 4))
    np.testing.assert_allclose(budget_lines(a + b).share[:, 0], [0.36, 0.64], rtol=1e-12)


def test_what_cancels_in_every_reading_is_a_line_without_share():
    a = Length([1.0, 2.0], "m", standard(0.1), label="a")
    b = Length(1.0, "m", standard(0.1), label="b")
    lines = budget_lines(a + b - b)
    assert lines.acts.all()
    np.testing.assert_allclose(lines.share, [[1, 1], [0, 0]], rtol=1e-14)


def test_no_uncertainty_is_no_line():
    lines = budget_lines(Length([1.0, 2.0], "m"))
    assert lines.signed.shape == (0, 2)
    assert lines.groups("source") == {}


def test_expanded_uncertainty_after_a_change_is_that_of_the_changed_model():
    def expanded(factor):
        a = Length(1.0, "m", standard(0.3 * factor, dof=3), label="a")
        b = Length(1.0, "m", standard(0.4, dof=7), label="b")
        c = Length(1.0, "m", limits(0.2), label="c")
        return (a + b + c).expanded(0.9).U, (a + b + c).u

    lines = budget_lines(
        Length(1.0, "m", standard(0.3, dof=3), label="a")
        + Length(1.0, "m", standard(0.4, dof=7), label="b")
        + Length(1.0, "m", limits(0.2), label="c")
    )
    share, loss = lines.share[:, 0], lines.loss[:, 0]
    u = expanded(1.0)[1]
    for factor in (0.0, 0.5, 1.0, 3.0):
        found = relative_expanded(share[1:].sum(), loss[1:].sum(), share[0], loss[0], factor, 0.9)
        wanted = expanded(factor)[0] if factor else _without_a()
        assert float(found) * u == pytest.approx(wanted, rel=1e-12)


def _without_a():
    b = Length(1.0, "m", standard(0.4, dof=7), label="b")
    return (b + Length(1.0, "m", limits(0.2), label="c")).expanded(0.9).U


def test_halving_the_only_source_halves_u():
    lines = budget_lines(Length(1.0, "m", repeated([0.9, 1.0, 1.2]), label="a"))
    assert lines.gain_if_halved(np.array([0]), 0.95) == pytest.approx([0.5], rel=1e-12)


def test_halving_what_hides_few_repeats_makes_u_larger():
    # contributions 1 (certain) and 1 (1 dof): u = sqrt(2), dof = 4/1; halved: u = sqrt(1.25),
    # dof = 1.25^2/1 (Welch-Satterthwaite by hand, t from scipy.stats)
    certain = Length(1.0, "m", standard(1.0), label="certain")
    scarce = Length(1.0, "m", standard(1.0, dof=1), label="scarce")
    lines = budget_lines(certain + scarce)
    before = math.sqrt(2) * stats.t.ppf(0.975, 4)
    after = math.sqrt(1.25) * stats.t.ppf(0.975, 1.25**2)
    assert after > before
    found = lines.gain_if_halved(np.array([0]), 0.95)
    assert found == pytest.approx([1 - after / before], rel=1e-10)


def test_nothing_uncertain_left_is_no_expanded_uncertainty():
    assert float(relative_expanded(0.0, 0.0, 1.0, 0.2, 0.0, 0.95)) == 0.0


def test_arguments_are_checked():
    with pytest.raises(DimensionError, match=r"budget_table\(\): got float 1.5"):
        require_quantity(1.5, "budget_table")
    with pytest.raises(RangeError, match=r"by='kind'.*component, source, scope, evaluation"):
        check_grouping("kind", "budget_table")
