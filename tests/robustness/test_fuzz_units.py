"""Any text as a unit: a unit that can be written and read again, or a `UnitError`."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowunc import Length, RangeError, UnitError
from flowunc.core.units import parse_unit

FUZZ = settings(derandomize=True, max_examples=400, deadline=None, database=None)
PARTS = [
    "m", "kg", "s", "/", "*", "^", "(", ")", " ", "**", "-", "2", "1", "0.5", "(1/2)", "²", "⁻¹",
    "·", "⋅", "−", "degC", "%", "e9", "99999999", "1e99", "\0", "\n", "µ", "μ", "mm", "L", "min",
    "Pa", "US gal", "_", "[", "m" * 30, "٢", "\uff0e", "∞", "Qm", "^20", "^(1/1000)", "^(1/3)",
    "()",
    "0", "^0", "^0.3333", "qs", "°C", "\u202e", "\u017f", "K", "Ω", "{}", "%s", "µ", "\ud800",
]  # fmt: skip


@FUZZ
@given(st.one_of(st.lists(st.sampled_from(PARTS), max_size=9).map("".join), st.text(max_size=40)))
def test_any_text_is_a_unit_or_refused(answer, text):
    unit, error = answer(lambda: parse_unit(text))
    if error is not None:
        assert isinstance(error, UnitError)
        assert str(error).isprintable() or not text.isprintable()
        return
    assert 0.0 < unit.factor < math.inf
    assert parse_unit(str(unit)) == unit
    assert parse_unit(str(unit.dimension)).dimension is unit.dimension


SIMPLE = st.sampled_from(
    ["m", "mm", "kg", "s", "min", "Pa", "L", "K", "bar", "cSt", "ft", "US_gal"]
)
POWER = st.integers(-3, 3)


@FUZZ
@given(st.lists(st.tuples(SIMPLE, POWER), min_size=1, max_size=4))
def test_a_product_is_the_product_of_its_factors(pairs):
    # [SI Brochure 2019, 5.2]: algebraic symbols; n factors, each rounded
    found = parse_unit("*".join(f"{name}^{power}" for name, power in pairs))
    expected = math.prod(parse_unit(name).factor ** power for name, power in pairs)
    assert found.factor == pytest.approx(expected, rel=1e-14)
    quotient = parse_unit("1/(" + " ".join(f"{name}^({-power})" for name, power in pairs) + ")")
    assert quotient.dimension is found.dimension
    assert quotient.factor == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    "text",
    [
        "m" * 1_000_000, "(" * 150, "m^" + "9" * 150, "m^1e999999999", "*".join(["Qm^20"] * 30),
        "(" * 50 + "m" + ")" * 50, "m/" * 80, "m" + "^2" * 60, " " * 100_000,
        "((((Qm^20)^20)^20)^20)",
    ],
)  # fmt: skip
def test_hostile_text_is_refused(text, answer):
    _, error = answer(lambda: parse_unit(text))
    assert isinstance(error, UnitError)


@pytest.mark.parametrize("values", [1e307, [1.0, -1e307]])
def test_a_value_too_large_for_its_unit_is_refused(values):
    # was inf, with a RuntimeWarning of NumPy
    length = Length(values, "m").to("um")
    with pytest.raises(RangeError, match="too large to be given in 'um'"):
        _ = length.value


def test_a_value_just_fits_its_unit():
    assert Length(1.7e302, "m").to("um").value == pytest.approx(1.7e308, rel=1e-15)
