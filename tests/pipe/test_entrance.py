"""Entrance length against the table in White and closed forms."""

from __future__ import annotations

import re as expressions

import numpy as np
import pytest
import scipy

from flowunc import DimensionError, Length, RangeError, ReynoldsNumber, standard
from flowunc.pipe import entrance_length

BORE = Length(1, "m")
# [White 2003], turbulent entrance 4.4 Re^(1/6) (read): as printed, and to two decimals (computed).
WHITE = [(4000.001, 18, 17.53), (1e4, 20, 20.42), (1e5, 30, 29.98)]


@pytest.mark.parametrize(("re", "printed", "computed"), WHITE)
def test_turbulent(re: float, printed: float, computed: float) -> None:
    found = entrance_length(ReynoldsNumber(re, "1"), BORE)
    assert type(found) is Length
    assert found.label == "entrance length"
    assert found.value == pytest.approx(printed, abs=0.5)
    assert found.value == pytest.approx(computed, abs=0.005)


@pytest.mark.parametrize(("re", "bores"), [(2300, 138), (1000, 60), (50, 3)])
def test_laminar(re: float, bores: float) -> None:
    # [White 2003]: Re 2300 -> 138 D (read)
    found = entrance_length(ReynoldsNumber(re, "1"), Length(20, "mm"))
    assert found.value == pytest.approx(bores * 0.02, rel=1e-14)


def test_transitional_takes_the_longer() -> None:
    # White's rules at Re 3000: 180 D laminar against 16.7 D turbulent
    assert entrance_length(ReynoldsNumber(3000, "1"), BORE).value == pytest.approx(180, rel=1e-14)
    # and where, with other thresholds, the turbulent one is longer: 4.4 * 64^(1/6) = 8.8
    low = entrance_length(ReynoldsNumber(64, "1"), BORE, laminar_below=50, turbulent_above=100)
    assert low.value == pytest.approx(8.8, rel=1e-14)


def test_thresholds_themselves_are_transitional() -> None:
    # laminar below 2300, turbulent above 4000: at either of them the longer rule counts
    at_high = entrance_length(ReynoldsNumber(4000, "1"), BORE)
    assert at_high.value == pytest.approx(240, rel=1e-14)  # 0.06 * 4000
    # 4.4 * 64^(1/6) = 8.8 against 0.06 * 64 = 3.84
    at_low = entrance_length(ReynoldsNumber(64, "1"), BORE, laminar_below=64)
    assert at_low.value == pytest.approx(8.8, rel=1e-14)
    above = entrance_length(ReynoldsNumber(64, "1"), BORE, laminar_below=64.001)
    assert above.value == pytest.approx(3.84, rel=1e-14)


def test_the_docstring_says_from_where_on_the_laminar_rule_is_the_longer() -> None:
    (said,) = expressions.findall(r"for any Re above (\d+)", entrance_length.__doc__ or "")
    crossing = scipy.optimize.brentq(lambda x: 0.06 * x - 4.4 * x ** (1 / 6), 10, 1e4)
    assert crossing < float(said) < crossing + 1


def test_each_run_by_its_own_rule() -> None:
    re = ReynoldsNumber([1000, 3000, 64e3], "1", standard(10))
    found = entrance_length(re, BORE)
    for run in range(3):
        alone = entrance_length(re[run], BORE)
        assert found[run].value == pytest.approx(alone.value, rel=1e-14)
        assert found[run].u == pytest.approx(alone.u, rel=1e-12)
        assert (found[run] - alone).u == pytest.approx(0, abs=1e-12)
    # the rules are unlike errors: laminar runs share one, the turbulent run has another
    rules = {c.label for c in found.components} - {"Reynolds number"}
    assert rules == {"laminar entrance rule", "turbulent entrance rule"}
    keys = {c.key for c in found.components if c.label in rules}
    assert keys == {"flowunc.entrance.laminar", "flowunc.entrance.turbulent"}
    sources = {c.label: c.source for c in found.components if c.label in rules}
    assert set(sources.values()) == {"entrance length"}  # what a budget names beside them


def test_uncertainty_covers_other_texts() -> None:
    # laminar 0.05 and 0.065 Re D; turbulent 1.6 Re^(1/4) D from 4000 up to 1e5 (from memory)
    laminar = entrance_length(ReynoldsNumber(2000, "1"), BORE)
    for factor in (0.05, 0.065):
        assert abs(factor * 2000 - laminar.value) < laminar.u * np.sqrt(3)
    for re in (4001, 1e4, 1e5):
        turbulent = entrance_length(ReynoldsNumber(re, "1"), BORE)
        assert abs(1.6 * re**0.25 - turbulent.value) < turbulent.u * np.sqrt(3)


def test_reynolds_number_and_bore_are_propagated() -> None:
    # relative sensitivities of Re^(1/6) D and Re D
    rule_laminar, rule_turbulent = 0.20 / np.sqrt(3), 0.30 / np.sqrt(3)
    bore = Length(20, "mm", standard(0.4))
    for re, power, rule in ((1000, 1, rule_laminar), (64e3, 1 / 6, rule_turbulent)):
        found = entrance_length(ReynoldsNumber(re, "1", standard(0.03 * re)), bore)
        expected = np.sqrt(rule**2 + (power * 0.03) ** 2 + 0.02**2)
        assert found.u / found.value == pytest.approx(expected, rel=1e-12)
        drawn = found.monte_carlo(40_000, seed=4)
        assert drawn.u == pytest.approx(found.u, rel=0.02)


def test_refusals() -> None:
    with pytest.raises(RangeError, match=r"reynolds=.*0 at reading 1; expected a value above 0"):
        entrance_length(ReynoldsNumber([1000, 0], "1"), BORE)
    with pytest.raises(RangeError, match=r"bore=.*-1 m"):
        entrance_length(ReynoldsNumber(1000, "1"), Length(-1, "m"))
    with pytest.raises(RangeError, match="0 < laminar_below <= turbulent_above"):
        entrance_length(ReynoldsNumber(1000, "1"), BORE, laminar_below=5000)
    with pytest.raises(DimensionError, match=r"reynolds=.*Length.*ReynoldsNumber"):
        entrance_length(BORE, BORE)
