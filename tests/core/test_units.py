import ast
import copy
import math
import pickle
import sys
import time
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from flowunc.core import dimensions as dim
from flowunc.core import unit_notation, unit_table, units
from flowunc.core.errors import RangeError, UnitError
from flowunc.core.units import Unit, coherent_unit, parse_unit

# [NIST SP 811, B.8], 7 digits as printed there (exact where it prints fewer); from memory [M].
SP811 = [
    ("in", 2.54e-2, dim.LENGTH), ("ft", 3.048e-1, dim.LENGTH), ("yd", 9.144e-1, dim.LENGTH),
    ("lb", 4.535924e-1, dim.MASS), ("oz", 2.834952e-2, dim.MASS),
    ("US_gal", 3.785412e-3, dim.VOLUME), ("imp_gal", 4.54609e-3, dim.VOLUME),
    ("L", 1e-3, dim.VOLUME), ("min", 60.0, dim.TIME), ("h", 3600.0, dim.TIME),
    ("d", 86400.0, dim.TIME), ("bar", 1e5, dim.PRESSURE), ("mbar", 1e2, dim.PRESSURE),
    ("atm", 1.01325e5, dim.PRESSURE), ("psi", 6.894757e3, dim.PRESSURE),
    ("Torr", 1.333224e2, dim.PRESSURE), ("mmHg", 1.333224e2, dim.PRESSURE),
    ("mmH2O", 9.80665, dim.PRESSURE), ("cmH2O", 9.80665e1, dim.PRESSURE),
    ("mH2O", 9.80665e3, dim.PRESSURE), ("inH2O", 2.490889e2, dim.PRESSURE),
    ("deg", 1.745329e-2, dim.DIMENSIONLESS), ("arcmin", 2.908882e-4, dim.DIMENSIONLESS),
    ("arcsec", 4.848137e-6, dim.DIMENSIONLESS), ("P", 1e-1, dim.DYNAMIC_VISCOSITY),
    ("cP", 1e-3, dim.DYNAMIC_VISCOSITY), ("St", 1e-4, dim.KINEMATIC_VISCOSITY),
    ("cSt", 1e-6, dim.KINEMATIC_VISCOSITY), ("US_gal/min", 6.309020e-5, dim.VOLUME_FLOW_RATE),
    ("ft^3/min", 4.719474e-4, dim.VOLUME_FLOW_RATE), ("lb/ft^3", 1.601846e1, dim.DENSITY),
    ("lb/(ft*s)", 1.488164, dim.DYNAMIC_VISCOSITY),
    ("lb/min", 7.559873e-3, dim.MASS_FLOW_RATE),
]  # fmt: skip

# [SI Brochure 2019, table 7]: the 24 SI prefixes and their powers of ten.
PREFIXES = {
    "Q": 30, "R": 27, "Y": 24, "Z": 21, "E": 18, "P": 15, "T": 12, "G": 9, "M": 6, "k": 3,
    "h": 2, "da": 1, "d": -1, "c": -2, "m": -3, "u": -6, "n": -9, "p": -12, "f": -15,
    "a": -18, "z": -21, "y": -24, "r": -27, "q": -30,
}  # fmt: skip

SI_SYMBOLS = ["m", "g", "s", "K", "A", "mol", "cd", "rad", "Pa", "N", "J", "W", "Hz", "V", "L"]
SINGLE = sorted(unit_table.UNITS)
VALUES = st.floats(min_value=1e-9, max_value=1e9)


@pytest.mark.parametrize(("text", "factor", "dimension"), SP811)
def test_factor_is_the_published_one(text, factor, dimension):
    unit = parse_unit(text)
    assert unit.dimension is dimension
    assert unit.factor == pytest.approx(factor, rel=5e-7)
    assert not unit.is_offset


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("in", "inch"), ("ft", "foot"), ("yd", "yard"), ("US_gal", "gallon"),
        ("imp_gal", "gallon_imp"), ("psi", "psi"), ("bar", "bar"), ("atm", "atm"),
        ("mmHg", "mmHg"), ("Torr", "torr"), ("deg", "degree"), ("arcmin", "arcmin"),
        ("arcsec", "arcsec"), ("min", "minute"), ("h", "hour"), ("d", "day"), ("L", "litre"),
        ("lb", "lb"), ("oz", "oz"), ("g", "gram"),
    ],
)  # fmt: skip
def test_factor_agrees_with_scipy(text, name):
    # A few roundings: scipy multiplies floats, parse_unit fractions.
    assert parse_unit(text).factor == pytest.approx(getattr(constants, name), rel=5e-16)


# Exact definitions: US gallon 231 in^3, inch 25.4 mm, pound 0.45359237 kg, g_n 9.80665 m/s^2
# [NIST SP 811, B.6 and B.8 footnotes], from memory [M]; psi from these by decimal arithmetic [C].
def test_defined_units_are_exact_to_the_last_bit():
    assert parse_unit("US_gal").to_si(1.0) == 0.003785411784
    assert parse_unit("US_gal").to_si(1.0) == parse_unit("in^3").to_si(231.0)
    assert parse_unit("ft").to_si(1.0) == 0.3048
    assert parse_unit("lb").to_si(1.0) == 0.45359237
    assert parse_unit("mmH2O").to_si(1.0) == 9.80665
    assert parse_unit("inH2O").to_si(1.0) == 249.08891
    assert parse_unit("psi").to_si(1.0) == pytest.approx(6894.757293168, abs=5e-10)


@given(VALUES)
def test_values_are_correct_to_one_rounding(x):
    assert parse_unit("mm").to_si(x) == float(Fraction(x) / 1000)
    assert parse_unit("L/min").to_si(x) == float(Fraction(x) / 60_000)
    assert parse_unit("mm").from_si(x) == float(Fraction(x) * 1000)
    assert parse_unit("cSt").to_si(x) == float(Fraction(x) / 1_000_000)
    assert parse_unit("kPa").to_si(x) == float(Fraction(x) * 1000)


def test_a_number_too_large_for_its_unit_is_refused():
    # 1e308 m is 1e314 um, beyond the largest float64 of 1.8e308
    with pytest.raises(RangeError, match=r"too large to be given in 'um'; use a larger unit"):
        parse_unit("um").from_si(np.array(1e308))
    with pytest.raises(RangeError, match="um"):
        parse_unit("um").scale_from_si(np.array([1.0, 1e308]))
    with pytest.raises(RangeError, match="um"):
        parse_unit("um").from_si(1e308)
    assert parse_unit("um").from_si(math.inf) == math.inf  # a width without an end stays one
    assert parse_unit("km").from_si(np.array(1e308)) == pytest.approx(1e305, rel=1e-15)


def test_a_right_angle_is_half_pi():
    assert parse_unit("deg").to_si(90.0) == pytest.approx(math.pi / 2, rel=2.3e-16)
    assert parse_unit("°").factor == parse_unit("deg").factor


@pytest.mark.parametrize("symbol", SI_SYMBOLS)
@pytest.mark.parametrize(("prefix", "power"), PREFIXES.items())
def test_prefixes_are_the_published_powers_of_ten(symbol, prefix, power):
    unit, bare = parse_unit(prefix + symbol), parse_unit(symbol)
    assert unit.dimension is bare.dimension
    assert unit.factor == pytest.approx(float(f"1e{power}") * bare.factor, rel=4e-16)


def test_kilogram_is_the_coherent_unit_of_mass():
    kilogram = parse_unit("kg")
    assert (kilogram.numerator, kilogram.denominator) == (1.0, 1.0)
    assert kilogram.dimension is dim.MASS


def test_symbols_do_not_clash():
    made = [
        p + s for _, prefixes, table in unit_table._TABLE for s in table for p in ("", *prefixes)
    ]
    assert len(made) == len(set(made))
    assert not set(made) & set(unit_table.OFFSET_UNITS)
    assert parse_unit("min").dimension is dim.TIME
    assert parse_unit("cd").dimension is dim.LUMINOUS_INTENSITY
    assert parse_unit("Pa").dimension is dim.PRESSURE
    assert parse_unit("ft").dimension is dim.LENGTH
    assert parse_unit("h").dimension is dim.TIME
    assert parse_unit("d").dimension is dim.TIME
    assert parse_unit("MPa").factor / parse_unit("mPa").factor == pytest.approx(1e9, rel=1e-15)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("kg*m^2/s^3", "W"), ("m**2", "m^2"), ("m²", "m^2"), ("m⁻²", "1/m^2"),
        ("m³/h", "m^3*h^-1"), ("kg/(m*s)", "Pa*s"), ("kg/m/s", "kg/(m*s)"), ("mPa s", "cP"),
        ("mPa·s", "cP"), ("mPa⋅s", "cP"), ("Pa  s", "Pa*s"), ("s^-1", "Hz"), ("s^−1", "1/s"),
        ("1/s", "Hz"), ("m^(1/2)", "m^0.5"), ("(m^2)^(1/2)", "m"), ("m^(-2)", "1/m^2"),
        ("m^+2", "m^2"), ("N*m", "J"), ("V*A", "W"), ("V/A", "Ohm"), ("\u03a9", "Ohm"),
        ("\u2126", "Ohm"), ("\u00b5m", "um"), ("\u03bcm", "um"), ("US gal/min", "US_gal/min"),
        ("imp gal", "imp_gal"), ("ml", "cm^3"), ("°C", "degC"), ("°F", "degF"), ("m^0", "1"),
        ("J/(kg K)", "m^2/s^2*K^-1"),
    ],
)  # fmt: skip
def test_spellings_of_one_unit_agree(one, other):
    a, b = parse_unit(one), parse_unit(other)
    assert a.dimension is b.dimension
    assert (a.numerator, a.denominator, a.offset) == (b.numerator, b.denominator, b.offset)


@given(st.sampled_from(SINGLE), st.sampled_from(SINGLE), st.sampled_from(["*", "/", " ", "·"]))
def test_parse_of_a_product_is_the_product_of_parses(a, b, sign):
    first, second, both = parse_unit(a), parse_unit(b), parse_unit(a + sign + b)
    if sign == "/":
        assert both.dimension is first.dimension / second.dimension
        assert both.factor == pytest.approx(first.factor / second.factor, rel=1e-15)
    else:
        assert both.dimension is first.dimension * second.dimension
        assert both.factor == pytest.approx(first.factor * second.factor, rel=1e-15)


@given(st.sampled_from(SINGLE), st.fractions(min_value=-4, max_value=4, max_denominator=9))
def test_parse_of_a_power_is_the_power_of_the_parse(name, exponent):
    base, raised = parse_unit(name), parse_unit(f"{name}^({exponent})")
    assert raised.dimension is base.dimension**exponent
    # A relative error of one rounding in the base grows by the exponent and the logarithm.
    assert raised.factor == pytest.approx(base.factor ** float(exponent), rel=1e-13)


@given(st.sampled_from([*SINGLE, "degC", "degF", "L/min", "kg/(m*s)", "m^0.5"]), VALUES)
def test_round_trips(name, x):
    unit = parse_unit(name)
    # With an offset the rounding is that of the absolute temperature.
    assert unit.from_si(unit.to_si(x)) == pytest.approx(x, rel=5e-16, abs=2e-13 * unit.is_offset)
    assert unit.scale_from_si(unit.scale_to_si(x)) == pytest.approx(x, rel=5e-16)


@given(st.sampled_from(["mm", "degF", "psi", "L/min"]), st.lists(VALUES, min_size=1, max_size=5))
def test_arrays_convert_as_their_elements_do_and_stay_untouched(name, values):
    unit, array = parse_unit(name), np.array(values)
    for convert in (unit.to_si, unit.from_si, unit.scale_to_si, unit.scale_from_si):
        result = convert(array)
        assert result is not array
        assert result.tolist() == [convert(x) for x in values]
    assert array.tolist() == values


def test_conversion_of_coherent_values_does_not_share_memory():
    array = np.array([1.0, 2.0])
    assert not np.shares_memory(parse_unit("m").to_si(array), array)
    assert not np.shares_memory(parse_unit("m").from_si(array), array)


# Fixed points: ice 32 degF = 0 degC, steam 212 degF = 100 degC, -40 the same on both
# [NIST SP 811, B.8 and 4.2.1.1].
@pytest.mark.parametrize(
    ("name", "value", "kelvin"),
    [
        ("degF", 32.0, 273.15), ("degF", 212.0, 373.15), ("degF", -40.0, 233.15),
        ("degF", -459.67, 0.0), ("degC", 0.0, 273.15), ("degC", 100.0, 373.15),
        ("degC", -40.0, 233.15), ("degC", -273.15, 0.0), ("K", 293.15, 293.15),
        ("mK", 293150.0, 293.15),
    ],
)  # fmt: skip
def test_temperature_points(name, value, kelvin):
    unit = parse_unit(name)
    # One unit in the last place of 459.67 is 5.7e-14.
    assert unit.to_si(value) == pytest.approx(kelvin, rel=0, abs=6e-14)
    assert unit.from_si(kelvin) == pytest.approx(value, rel=3e-16, abs=1.2e-13)
    assert unit.dimension is dim.TEMPERATURE


@given(st.floats(min_value=-200, max_value=2000))
def test_temperatures_agree_with_scipy(x):
    for name, word in (("degC", "Celsius"), ("degF", "Fahrenheit")):
        expected = float(constants.convert_temperature(x, word, "Kelvin"))
        assert parse_unit(name).to_si(x) == pytest.approx(expected, rel=5e-16, abs=2e-13)


def test_differences_never_get_the_offset():
    assert parse_unit("degC").is_offset
    assert parse_unit("degC").scale_to_si(1.5) == 1.5
    assert parse_unit("degC").scale_from_si(1.5) == 1.5
    # 1 degF is 5/9 K as a difference [NIST SP 811, B.8].
    assert parse_unit("degF").scale_to_si(9.0) == 5.0
    assert parse_unit("degF").scale_from_si(5.0) == 9.0
    assert parse_unit("degF").factor == 5 / 9
    assert not parse_unit("K").is_offset


@pytest.mark.parametrize(
    "text", ["degC/m", "1/degC", "W/(m^2*degC)", "degC^2", "degF*s", "°C·m", "degC²", "m °F"]
)
def test_an_offset_unit_inside_a_product_or_power_is_refused(text):
    with pytest.raises(UnitError, match=r"zero of its own.*use 'K' for temperature differences"):
        parse_unit(text)


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("mmm", "did you mean 'mm'"), ("mpa", "did you mean 'MPa' or 'mPa'"),
        ("KPA", "did you mean 'kPa'"), ("PSI", "did you mean 'psi'"),
        ("Tor", "did you mean 'Torr'"), ("degc", "did you mean 'degC'"),
        ("L/arcmim", "did you mean 'arcmin'"), ("gal", "US_gal.*imp_gal"),
        ("gal/min", "US_gal.*imp_gal"), ("gpm", "US_gal.*imp_gal"), ("m2", r"'m\^2'"),
        ("m3/h", r"'m\^3'"), ("sec", "write 's'"), ("Litres", "write 'L'"), ("C", "write 'degC'"),
        ("deg C", "write 'degC'"), ("mPas", r"write 'mPa\*s'"),
        ("zzzzqq", "products? of powers of known units"),
    ],
)  # fmt: skip
def test_an_unknown_unit_is_named_with_what_may_be_meant(text, advice):
    with pytest.raises(UnitError, match=advice) as caught:
        parse_unit(text)
    assert repr(text) in str(caught.value)
    assert "not a known unit" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "empty"), ("   ", "empty"), ("2", "no number but 1"), ("10 m", "no number but 1"),
        ("m*", "missing at the end"), ("*m", "missing before"), ("m//s", "missing before"),
        ("()", "missing before"), ("(m", r"'\)' is missing"), ("m)", "not expected"),
        ("m(s)", "not expected"), ("s-1", r"not expected.*s\^-3"), ("m^2^2", "not expected"),
        ("m²^2", "not expected"), ("m^", "exponent"), ("m^x", "exponent"),
        ("m^(1/0)", "exponent"), ("m^(1.5/2.5)", "exponent"), ("m^(1/2", "exponent"),
        ("J/kg K", "ambiguous"), ("W/m²·K", "ambiguous"),
    ],
)  # fmt: skip
def test_malformed_text_is_refused_with_the_reason(text, reason):
    with pytest.raises(UnitError, match=reason):
        parse_unit(text)


@pytest.mark.parametrize("given_value", [None, 1, 1.0, b"mm", ["mm"], np.array(["mm"]), {}])
def test_what_is_not_text_is_refused(given_value):
    with pytest.raises(UnitError, match="must be given as text"):
        parse_unit(given_value)


@pytest.mark.parametrize(
    "text",
    [
        "(" * 100 + "m" + ")" * 99,
        "(" * 9 + "m" + ")" * 9,
        "(" * 200,
        "m" * 200,
        "m" * 1_000_000,
        "m*" * 1_000_000 + "m",
        "m^1e9",
        "m^1e999999999",
        "m^1e-999999999",
        "m^999999999",
        "m^" + "9" * 190,
        "m^0." + "3" * 180,
        "m^(1/" + "9" * 180 + ")",
        "(((((km^20)^20)^20)^20)^20)",
        "((((((((atm/bar)^20)^20)^20)^20)^20)^20)^20)",
        "*".join(["Qm"] * 60),
        "*".join(["qm"] * 60),
        "m^\u0662",
        "m\u0663",
        "\uff4d",
        "m\u00b2\u0662",
        "m\x00",
        "\ud800",
        "\u2103",
        "__import__('os')",
    ],
    ids=lambda text: ascii(text[:12]),
)
def test_hostile_text_is_refused_at_once(text):
    start = time.thread_time()
    with pytest.raises(UnitError) as caught:
        parse_unit(text)
    # About a millisecond is usual; an exponential or astronomic effort takes far longer than this.
    assert time.thread_time() - start < 0.5
    assert len(str(caught.value)) < 2000


@given(st.text(max_size=40) | st.text("mskgKPa%°²⁻()*/^·. 0123456789e-+", max_size=40))
def test_any_text_gives_a_unit_or_a_unit_error(text):
    try:
        unit = parse_unit(text)
    except UnitError:
        return
    assert 0 < unit.factor < math.inf


@pytest.mark.parametrize(
    ("given_text", "symbol"),
    [
        ("  L / min ", "L/min"),
        ("kg / ( m * s )", "kg/(m*s)"),
        ("mPa \t s", "mPa s"),
        ("m\u00b2", "m\u00b2"),
        ("Pa\u00a0s", "Pa s"),
    ],
)
def test_symbol_is_as_written_with_normalised_space(given_text, symbol):
    unit = parse_unit(given_text)
    assert unit.symbol == symbol
    assert str(unit) == symbol
    assert parse_unit(symbol) == unit


# Customary symbols [SI Brochure 2019, tables 2, 4 and 5], base-unit products elsewhere.
@pytest.mark.parametrize(
    ("dimension", "symbol"),
    [
        (dim.LENGTH, "m"), (dim.AREA, "m^2"), (dim.VOLUME, "m^3"), (dim.TIME, "s"),
        (dim.MASS, "kg"), (dim.TEMPERATURE, "K"), (dim.PRESSURE, "Pa"), (dim.DENSITY, "kg/m^3"),
        (dim.DYNAMIC_VISCOSITY, "Pa*s"), (dim.KINEMATIC_VISCOSITY, "m^2/s"),
        (dim.VELOCITY, "m/s"), (dim.VOLUME_FLOW_RATE, "m^3/s"), (dim.MASS_FLOW_RATE, "kg/s"),
        (dim.ACCELERATION, "m/s^2"), (dim.ENERGY, "kg*m^2/s^2"), (dim.DIMENSIONLESS, "1"),
    ],
)  # fmt: skip
def test_coherent_unit_has_the_customary_symbol(dimension, symbol):
    assert coherent_unit(dimension).symbol == symbol


@given(st.builds(dim.Dimension, *[st.fractions(-9, 9, max_denominator=9)] * 7))
def test_coherent_unit_reads_back_as_itself(dimension):
    unit = coherent_unit(dimension)
    assert unit.dimension is dimension
    assert unit.factor == 1.0
    if len(unit.symbol) <= 200:
        assert parse_unit(unit.symbol) == unit


def test_units_are_immutable_and_survive_copying_and_pickling():
    unit = parse_unit("US gal/min")
    with pytest.raises(AttributeError):
        unit.symbol = "m"
    assert pickle.loads(pickle.dumps(unit)) == unit == copy.deepcopy(unit)
    assert pickle.loads(pickle.dumps(unit)).dimension is dim.VOLUME_FLOW_RATE
    assert hash(copy.copy(unit)) == hash(unit)


@pytest.mark.parametrize("numerator", [0.0, -1.0, math.inf, math.nan])
def test_a_unit_without_a_positive_factor_is_refused(numerator):
    with pytest.raises(UnitError, match="must be positive"):
        Unit("x", numerator, 1.0, 0.0, dim.LENGTH)
    with pytest.raises(UnitError, match=f"must be positive, got 1.0/{numerator}"):
        Unit("x", 1.0, numerator, 0.0, dim.LENGTH)


@pytest.mark.parametrize(
    ("text", "coherent"),
    # [NIST SP 811, 4.1 and 4.2]: SI base units and their products are coherent; prefixed ones
    # are not, but the kilogram is a base unit
    [
        ("m", True), ("mm", False), ("kg", True), ("g", False), ("Pa*s", True), ("K", True),
        ("degC", False), ("rad", True), ("deg", False), ("1", True), ("%", False), ("L", False),
    ],
)  # fmt: skip
def test_coherent_units_are_those_of_the_si(text, coherent):
    unit = parse_unit(text)
    assert unit.is_coherent is coherent
    if coherent:
        assert unit.to_si(1.25) == 1.25


def test_parsing_is_looked_up_the_second_time():
    assert parse_unit("kg*mm/min^2") is parse_unit("kg*mm/min^2")


def test_units_imports_only_numpy_and_scipy_constants():
    found = set()
    for module in (units, unit_notation, unit_table):
        with open(module.__file__, encoding="utf-8") as file:
            tree = ast.parse(file.read())
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                found |= {f"{node.module}.{alias.name}" for alias in node.names}
    outside = {name for name in found if name.split(".")[0] not in sys.stdlib_module_names}
    outside = {name for name in outside if not name.startswith("flowunc.core.")}
    assert outside == {"numpy", "numpy.typing.NDArray", "scipy.constants"}
