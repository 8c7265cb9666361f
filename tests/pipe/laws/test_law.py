"""What all laws have in common: ranges, refusals, arguments, display."""

from __future__ import annotations

import pickle
import re

import numpy as np
import pytest

from flowunc import (
    DimensionError,
    FrictionFactor,
    Length,
    Quantity,
    RangeError,
    Ratio,
    ReynoldsNumber,
    ShapeError,
    Temperature,
    standard,
)
from flowunc.pipe import laws

SMOOTH = [laws.laminar, laws.blasius, laws.prandtl_smooth, laws.filonenko, laws.mckeon]
ROUGH = [
    laws.colebrook_white,
    laws.haaland,
    laws.swamee_jain,
    laws.nikuradse_rough,
    laws.churchill_1977,
]
NAMES = [law.name for law in SMOOTH + ROUGH]


def evaluated(law: laws.FrictionLaw, re: object) -> FrictionFactor:
    # only a very rough wall is fully rough at the lowest Reynolds number of the law for that
    return law(re) if law in SMOOTH else law(re, 0.05 if law == laws.nikuradse_rough else 1e-3)


@pytest.mark.parametrize("law", SMOOTH + ROUGH, ids=NAMES)
class TestEveryLaw:
    def test_both_ends_belong_to_the_range(self, law: laws.FrictionLaw) -> None:
        low, high = law.reynolds_range
        re = ReynoldsNumber([max(low, 1.0), high], "1")
        found = evaluated(law, re)
        assert type(found) is FrictionFactor
        assert law.title in found.label
        assert law.covers(re).tolist() == [True, True]

    def test_above_is_refused_with_value_limits_and_source(self, law: laws.FrictionLaw) -> None:
        high = law.reynolds_range[1]
        re = ReynoldsNumber([high, 1.01 * high], "1")
        with pytest.raises(RangeError) as caught:
            evaluated(law, re)
        for part in (f"laws.{law.name}", f"{1.01 * high:.6g} at reading 1", f"{high:g}", "["):
            assert part in str(caught.value)
        assert law.covers(re).tolist() == [True, False]

    def test_first_reading_outside_is_named_and_the_others_counted(self, law) -> None:
        high = law.reynolds_range[1]
        re = ReynoldsNumber([high, 2 * high, 3 * high, 4 * high], "1")
        with pytest.raises(RangeError) as caught:
            evaluated(law, re)
        assert f"number {2 * high:.6g} at reading 1 (and 2 more); expected" in str(caught.value)

    def test_error_of_the_law_is_a_factor_of_it(self, law: laws.FrictionLaw) -> None:
        # f (1 + e) with symmetric e has the mean f; that of f/(1 + e) is larger by (u/f)^2
        found = evaluated(law, ReynoldsNumber(0.9 * law.reynolds_range[1], "1"))
        relative = found.u / found.value
        trials = 200_000
        drawn = found.monte_carlo(trials, seed=3)
        assert abs(drawn.mean / found.value - 1) <= 4 * relative / trials**0.5
        assert 4 * relative / trials**0.5 < relative**2 or relative < 0.01

    def test_zero_is_refused(self, law: laws.FrictionLaw) -> None:
        with pytest.raises(RangeError, match="Reynolds number 0; expected"):
            evaluated(law, ReynoldsNumber(0, "1"))
        assert law.covers(ReynoldsNumber(0, "1")) is False

    def test_covered_rows_can_be_asked_about(self, law: laws.FrictionLaw) -> None:
        re = ReynoldsNumber(np.geomspace(0.1, 1e9, 41), "1", standard(0.01))
        inside = law.covers(re)
        assert 0 < inside.sum() < 41
        assert evaluated(law, re[inside]).value.shape == (inside.sum(),)

    def test_shapes(self, law: laws.FrictionLaw) -> None:
        at = 0.9 * law.reynolds_range[1]
        assert isinstance(evaluated(law, ReynoldsNumber(at, "1")).value, float)
        assert evaluated(law, ReynoldsNumber([at], "1")).u.shape == (1,)

    def test_ratio_is_taken_for_a_reynolds_number_but_no_other_kind(self, law) -> None:
        at = 0.9 * law.reynolds_range[1]
        expected = evaluated(law, ReynoldsNumber(at, "1")).value
        assert evaluated(law, Ratio(at, "1")).value == expected
        for other, named in (
            (FrictionFactor(at, "1"), "FrictionFactor"),
            (Length(at, "m"), "Length"),
            (Temperature(at, "K"), "Temperature"),
            (at, "float"),
        ):
            with pytest.raises(DimensionError, match=rf"{law.name}.*got {named}.*ReynoldsNumber"):
                evaluated(law, other)

    def test_pickles_with_its_results(self, law: laws.FrictionLaw) -> None:
        re = ReynoldsNumber(0.9 * law.reynolds_range[1], "1", standard(3))
        made = evaluated(law, re)
        copy = pickle.loads(pickle.dumps(made))
        assert (copy - made).u < 1e-15 * made.u
        again = pickle.loads(pickle.dumps(law))
        assert again == law
        assert (evaluated(again, re) - made).u < 1e-15 * made.u

    def test_text_says_what_to_know(self, law: laws.FrictionLaw) -> None:
        text = str(law)
        for part in (law.formula, f"{law.reynolds_range[1]:g}", law.uncertainty, law.source):
            assert part in text
        assert "[" in law.source


@pytest.mark.parametrize("law", ROUGH, ids=NAMES[len(SMOOTH) :])
class TestRoughness:
    def test_number_ratio_and_quotient_of_lengths_are_alike(self, law: laws.FrictionLaw) -> None:
        re = ReynoldsNumber(3e6, "1")  # fully rough as well
        expected = law(re, 1e-3).value
        bore, height = Length(20, "mm"), Length(20, "um")
        for given in (Ratio(0.1, "%"), Quantity(1e-3, "1"), height / bore, np.float64(1e-3)):
            assert law(re, given).value == pytest.approx(expected, rel=1e-14)
        assert law(re, [1e-3, 2e-3]).value.shape == (2,)

    def test_outside_is_refused(self, law: laws.FrictionLaw) -> None:
        re = ReynoldsNumber([3e6, 3e6], "1")
        with pytest.raises(RangeError, match=r"relative roughness 0\.06 at reading 1.*0 to 0\.05"):
            law(re, [0.01, 0.06])
        with pytest.raises(RangeError, match=r"relative roughness -0\.001"):
            law(re, -1e-3)
        with pytest.raises(ShapeError, match="lengths 2 and 3"):
            law(re, [0.01, 0.02, 0.03])
        with pytest.raises(ShapeError, match="lengths 2 and 3"):
            law.covers(re, [0.01, 0.02, 0.03])
        assert law.covers(re, [0.01, 0.06]).tolist() == [True, False]
        assert law.covers(re).tolist() == [True, True]

    def test_missing_is_refused(self, law: laws.FrictionLaw) -> None:
        with pytest.raises(
            DimensionError, match="no relative roughness; expected roughness / bore"
        ):
            law(ReynoldsNumber(3e4, "1"))

    def test_other_kinds_are_refused(self, law: laws.FrictionLaw) -> None:
        with pytest.raises(DimensionError, match=r"relative_roughness=.*Length in 'um'.*Ratio"):
            law(ReynoldsNumber(3e4, "1"), Length(20, "um"))
        with pytest.raises(DimensionError, match=r"relative_roughness=.*str 'smooth'.*Ratio"):
            law(ReynoldsNumber(3e4, "1"), "smooth")
        with pytest.raises(RangeError, match="NaN"):
            law(ReynoldsNumber(3e4, "1"), float("nan"))


@pytest.mark.parametrize("law", SMOOTH, ids=NAMES[: len(SMOOTH)])
def test_roughness_is_refused_by_laws_that_take_none(law: laws.FrictionLaw) -> None:
    with pytest.raises(DimensionError, match=f"{law.name}: got a relative roughness"):
        law(ReynoldsNumber(2000, "1"), 1e-3)


def test_first_reading_that_is_not_fully_rough_is_named() -> None:
    # fully rough from Re sqrt(f) eps/D of some 200 on: 1e7 and 0.05 is, 2e4 and 0.001 is not
    with pytest.raises(
        RangeError, match=r"number 20000 with relative roughness 0\.001 at reading 1"
    ):
        laws.nikuradse_rough(ReynoldsNumber([1e7, 2e4, 3e4], "1"), Ratio([0.05, 0.001, 0.001], "1"))


# Where the laws hold: [White 2003, ch. 6], [Blasius 1913], [Prandtl 1933], [Petukhov 1970] for
# Filonenko, [McKeon 2005], and the ends of the chart of [Moody 1944] for rough walls; all [M].
RANGES = [
    (laws.blasius, 4e3, 1e5),
    (laws.prandtl_smooth, 4e3, 3.4e6),
    (laws.filonenko, 1e4, 5e6),
    (laws.mckeon, 1e4, 3.5e7),
    (laws.colebrook_white, 4e3, 1e8),
    (laws.haaland, 4e3, 1e8),
    (laws.swamee_jain, 4e3, 1e8),
    (laws.churchill_1977, 1, 1e8),
]


@pytest.mark.parametrize(("law", "low", "high"), RANGES, ids=lambda each: getattr(each, "name", ""))
def test_range_is_the_published_one(law: laws.FrictionLaw, low: float, high: float) -> None:
    just = 1e-12
    re = ReynoldsNumber([low * (1 - just), low, high, high * (1 + just)], "1")
    assert law.covers(re).tolist() == [False, True, True, False]


def test_laminar_flow_ends_at_2300() -> None:
    # [White 2003, ch. 6]
    assert laws.laminar.covers(ReynoldsNumber([1e-9, 2300, 2300.0001], "1")).tolist() == [
        True,
        True,
        False,
    ]


@pytest.mark.parametrize("law", ROUGH, ids=lambda each: each.name)
def test_walls_are_those_of_the_chart(law: laws.FrictionLaw) -> None:
    # [Moody 1944]: eps/D up to 0.05
    found = law.covers(ReynoldsNumber(1e8, "1"), [-1e-9, 0.05, 0.05 * (1 + 1e-12)])
    assert found.tolist() == [False, True, False]


@pytest.mark.parametrize("law", SMOOTH[1:], ids=lambda each: each.name)
def test_error_of_the_law_is_the_one_its_text_states(law: laws.FrictionLaw) -> None:
    (percent,) = re.findall(r"^\+-([\d.]+) % \(rectangular\)", law.uncertainty)
    found = law(ReynoldsNumber([law.reynolds_range[0], law.reynolds_range[1]], "1"))
    expected = float(percent) / 100 / 3**0.5  # [JCGM 100, 4.3.7]
    np.testing.assert_allclose(found.u / found.value, expected, rtol=1e-12)


def test_components_of_the_laws_name_their_source() -> None:
    found = laws.blasius(ReynoldsNumber(1e4, "1"))
    (component,) = found.components
    assert component.key == "flowunc.law.blasius"
    assert component.source == "law blasius"
    assert found.budget()["unit"].tolist() == ["%"]


def test_draws_beyond_the_range_are_evaluated() -> None:
    drawn = laws.laminar(ReynoldsNumber(2299, "1", standard(30))).monte_carlo(20_000, seed=1)
    assert drawn.samples().min() < 64 / 2330
    assert drawn.not_finite == 0


def test_table_has_every_law() -> None:
    table = laws.table()
    assert table["name"].tolist() == NAMES
    assert table["Re to"].tolist() == [2300, 1e5, 3.4e6, 5e6, 3.5e7, 1e8, 1e8, 1e8, 1e8, 1e8]
    assert table["eps/D to"].isna().tolist() == [True] * 5 + [False] * 5
    conditions = dict(zip(table["name"], table["condition"], strict=True))
    assert "70 or more" in conditions.pop("nikuradse_rough")
    assert set(conditions.values()) == {""}


def test_all_names_every_law_of_the_package_once() -> None:
    public = {name for name, found in vars(laws).items() if isinstance(found, laws.FrictionLaw)}
    assert list(laws.ALL) == NAMES
    assert set(laws.ALL) == public == set(laws.__all__) - {"FrictionLaw", "table"}
    assert all(law is getattr(laws, name) for name, law in laws.ALL.items())
    with pytest.raises(TypeError):
        laws.ALL["own"] = laws.blasius


def test_laws_are_immutable() -> None:
    with pytest.raises(AttributeError):
        laws.blasius.reynolds_range = (0, 1e9)
