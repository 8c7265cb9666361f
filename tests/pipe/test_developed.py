"""Developed flow at the taps: the table in White, and the exact probability of a uniform law."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import numpy as np
import pytest
from scipy import stats

from flowunc import DimensionError, Length, RangeError, ReynoldsNumber, ShapeError, limits
from flowunc.pipe import DevelopedFlow, developed_flow

TRIALS = 40_000
BORE = Length(20, "mm")


def found_at(re: float, distance: float, **options: object) -> DevelopedFlow:
    return developed_flow(
        ReynoldsNumber(re, "1"), BORE, Length(distance, "m"), trials=TRIALS, **options
    )


# [White 2003]: Re 2300 -> 138 D; turbulent 4.4 Re^(1/6): 1e4 -> 20.42 D, 1e5 -> 29.98 D
# (rules read, computed)
@pytest.mark.parametrize(("re", "bores"), [(2299.99, 138), (1e4, 20.42), (1e5, 29.98)])
def test_entrance_length_against_the_distance(re: float, bores: float) -> None:
    length = bores * 0.02
    assert found_at(re, length + 0.001).developed is True
    found = found_at(re, length - 0.01)
    assert found.developed is False
    assert found.excess.value == pytest.approx(0.01, abs=2e-4)
    assert found.entrance_length.value == pytest.approx(length, rel=3e-4)
    assert found.share is None
    assert found.excess.label == "entrance length beyond the first tap"


@pytest.mark.parametrize("distance", [0.9, 1.0, 1.2, 1.35, 1.5])
def test_probability_is_that_of_the_rule(distance: float) -> None:
    # laminar rule 0.06 Re D within 20 % (uniform): at Re 1000 1.2 m within 0.24 m
    p = stats.uniform(0.96, 0.48).cdf(distance)
    found = found_at(1000, distance, seed=4)
    assert found.probability == pytest.approx(p, abs=4 * math.sqrt(p * (1 - p) / TRIALS) + 1e-12)


def test_uncertain_distance_counts() -> None:
    # 1.2 m +- 0.24 m against 1.2 m +- 0.24 m, both uniform: the difference is symmetric
    re, distance = ReynoldsNumber(1000, "1"), Length(1.5, "m", limits(0.24))
    found = developed_flow(re, BORE, distance, trials=TRIALS)
    # P(difference of two uniforms of half-width a exceeds d) = (2 a - d)^2/(8 a^2), d = 0.3
    p = 1 - (0.48 - 0.3) ** 2 / (8 * 0.24**2)
    assert found.probability == pytest.approx(p, abs=4 * math.sqrt(p * (1 - p) / TRIALS))


def test_share_of_the_tap_spacing() -> None:
    # entrance lengths 0.72, 1.8 and 2.64 m at Re 600, 1500, 2200; taps at 1.2 and 2.4 m
    found = developed_flow(
        ReynoldsNumber([600, 1500, 2200], "1"),
        BORE,
        Length(1.2, "m"),
        Length(1.2, "m"),
        trials=100,
    )
    np.testing.assert_allclose(found.share, [0, 0.5, 1], rtol=1e-12)
    assert found.developed.tolist() == [True, False, False]
    with pytest.raises(ValueError, match="read-only"):
        found.share[0] = 1


def test_several_runs_and_table() -> None:
    re = ReynoldsNumber([600, 1500, 9000], "1", limits(20))
    found = developed_flow(re, BORE, Length(1.2, "m"), Length(1.2, "m"), trials=TRIALS, seed=2)
    table = found.table()
    assert list(table["developed"]) == [True, False, True]
    assert table["probability developed"].tolist() == found.probability.tolist()
    assert found.probability[0] == found.probability[2] == 1.0
    lines = str(found).splitlines()
    assert len(lines) == 4
    # 0.06 * 600 * 0.02 m = 0.72 m, before the tap
    assert lines[1].split() == ["0", "600", "0.72", "m", "no", "0.0", "%", "100.0", "%"]
    assert lines[2].split() == ["1", "1500", "1.8", "m", "0.6", "m", "50.0", "%", "0.0", "%"]
    single = developed_flow(re[1], BORE, Length(1.2, "m"), Length([1.2, 2.4], "m"), trials=100)
    assert single.table()["share of tap spacing"].tolist() == pytest.approx([0.5, 0.25])
    many = developed_flow(ReynoldsNumber(np.full(50, 900.0), "1"), BORE, Length(1, "m"), trials=9)
    assert str(many).splitlines()[-1].strip() == "... and 10 more: see .table()"
    assert " - " in str(many).splitlines()[1]


def test_notebook_table_has_what_the_text_has() -> None:
    re = ReynoldsNumber([600, 2000], "1")
    found = developed_flow(re, BORE, Length(1.2, "m"), Length(2.4, "m"), trials=100)
    table = ElementTree.fromstring(found._repr_html_())
    head, *rows = [[cell.text for cell in row] for row in table.iter("tr")]
    assert head[:5] == ["run", "Reynolds number", "entrance length", "u", "excess"]
    # 0.06 Re D and 20 %/sqrt 3 of it, two digits of u
    assert rows == [
        ["0", "600", "0.720", "0.083", "-0.480", "0.0%", "100.0%", "yes"],
        ["1", "2000", "2.40", "0.28", "1.20", "50.0%", "0.0%", "no"],
    ]


def test_same_seed_same_numbers_and_thresholds_of_ones_own() -> None:
    assert found_at(1000, 1.2, seed=1).probability == found_at(1000, 1.2, seed=1).probability
    assert found_at(1000, 1.2, seed=1).probability != found_at(1000, 1.2, seed=2).probability
    # turbulent above 2500: 4.4 * 3000^(1/6) * 0.02 = 0.334 m in place of 3.6 m
    options = {"laminar_below": 2300, "turbulent_above": 2500}
    assert found_at(3000, 0.4, **options).developed is True
    assert found_at(3000, 0.4).developed is False


def test_refusals() -> None:
    re = ReynoldsNumber([1000, 2000], "1")
    with pytest.raises(RangeError, match=r"distance_to_first_tap=.*-1 m; expected a value 0"):
        developed_flow(re, BORE, Length(-1, "m"))
    with pytest.raises(RangeError, match=r"developed_flow\(reynolds=.*0 at reading 1"):
        developed_flow(ReynoldsNumber([1, 0], "1"), BORE, Length(1, "m"))
    with pytest.raises(RangeError, match=r"developed_flow\(bore=.*0 mm; expected a value above 0"):
        developed_flow(re, Length(0, "mm"), Length(1, "m"))
    with pytest.raises(RangeError, match=r"tap_spacing=.*0 m; expected a value above 0"):
        developed_flow(re, BORE, Length(1, "m"), Length(0, "m"))
    with pytest.raises(ShapeError):
        developed_flow(re, BORE, Length(1, "m"), Length([1, 2, 3], "m"))
    with pytest.raises(DimensionError, match=r"distance_to_first_tap=.*ReynoldsNumber.*Length"):
        developed_flow(re, BORE, re)
