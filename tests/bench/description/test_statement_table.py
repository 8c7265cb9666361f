"""Statements in a bench file against the same statements made in Python."""

from __future__ import annotations

import tomllib

import pytest

from flowunc import (
    Angle,
    BenchError,
    Density,
    Length,
    Scale,
    VariableAreaMeter,
    arcsine,
    error_limit,
    expanded,
    iec_60751,
    limits,
    percent_of_full_scale,
    percent_of_reading,
    repeated,
    standard,
    triangular,
)
from flowunc.bench.description.statement_table import (
    WORDS,
    is_name,
    quantity_of,
    read_quantity,
    read_statement,
    read_statements,
    series_of,
)
from flowunc.bench.description.toml_table import TomlTable
from flowunc.core.statements import Statement


def table(text: str) -> TomlTable:
    return TomlTable(tomllib.loads(text), "b.toml", "thing")


def reason(text: str) -> str:
    with pytest.raises(BenchError) as caught:
        read_statements(table(f"accuracy = {text}"), "accuracy", "meter")
    assert caught.value.file == "b.toml"
    return f"{caught.value.key}: {caught.value.reason}"


SAME = {
    "{ limits = 0.05 }": limits(0.05),
    '{ limits = "0.05 L/min" }': limits(0.05, "L/min"),
    "{ limits = 0.05, inexact = 0.01 }": limits(0.05, inexact=0.01),
    "{ limits = 0.05, dof = 8 }": limits(0.05, dof=8),
    "{ triangular = 0.05 }": triangular(0.05),
    "{ arcsine = 0.05 }": arcsine(0.05),
    "{ standard = 0.05, dof = 4 }": standard(0.05, dof=4),
    "{ expanded = 0.3, k = 2 }": expanded(0.3, k=2),
    "{ expanded = 0.3, level = 0.95, dof = 9 }": expanded(0.3, level=0.95, dof=9),
    "{ repeated = [2.0, 2.1, 2.3] }": repeated([2.0, 2.1, 2.3]),
    "{ percent_of_reading = 2 }": percent_of_reading(2),
    "{ percent_of_reading = 2, k = 2 }": percent_of_reading(2, k=2),
    "{ percent_of_full_scale = 2 }": percent_of_full_scale(2),
    "{ error_limit = 2.5, linearity_limit = 50 }": error_limit(2.5, linearity_limit=50),
}


@pytest.mark.parametrize("text", SAME)
def test_a_table_says_what_the_function_says(text: str) -> None:
    (found,) = read_statements(table(f"accuracy = {text}"), "accuracy", "meter")
    u = []
    for statement in (found, SAME[text]):
        meter = VariableAreaMeter(Scale(0.1, "L/min", span=(0.4, 4)), accuracy=statement)
        reading = meter.read([0.9, 3.1])
        u.append([*reading.u, *reading.dof])
    assert u[0] == pytest.approx(u[1], rel=1e-14)


OF_TEMPERATURES = {
    '{ iec_60751 = "A" }': iec_60751("A"),
    '{ iec_60751 = "B", construction = "wire-wound" }': iec_60751("B", construction="wire-wound"),
}


@pytest.mark.parametrize("text", OF_TEMPERATURES)
def test_a_table_says_what_the_function_says_of_a_temperature(text: str) -> None:
    (found,) = read_statements(table(f"accuracy = {text}"), "accuracy", "thermometer")
    assert found == OF_TEMPERATURES[text]


def test_every_word_is_tried_here() -> None:
    assert {text.split()[1] for text in SAME | OF_TEMPERATURES} == set(WORDS)


def test_shared_is_one_error_behind_all_values() -> None:
    text = 'x = { values = [871, 864], unit = "kg/m^3", limits = 2, shared = true }'
    found = series_of(table(text).table("x", ""), "values", Density, "rho", "x")
    assert found.value.tolist() == [871, 864]
    assert (found[1] - found[0]).u == 0.0
    own = series_of(
        table(text.replace("true", "false")).table("x", ""), "values", Density, "rho", "x"
    )
    assert (own[1] - own[0]).u == pytest.approx(2 * (2 / 3) ** 0.5, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('unit = "m", limits = 1', "thing.x.values: missing; expected how"),
        ('values = 3, unit = "m", limits = 1', "thing.x.values: got 3; expected a list of numb"),
        ('values = [], unit = "m", limits = 1', "thing.x.values: got a list of 0; expected a li"),
        ('values = [1, "2"], unit = "m", limits = 1', "thing.x.values: got the text '2'; expect"),
        ("values = [1, 2], limits = 1", "thing.x.unit: missing; expected how"),
        ('values = [1, 2], unit = "mn", limits = 1', "thing.x.unit: unit 'mn'"),
        ('values = [1, 2], unit = "s", limits = 1', "thing.x: Length in 's'"),
        ('values = [1, 2], unit = "m"', "thing.x: no uncertainty stated"),
        ('values = [1, 2], unit = "m", limts = 1', "thing.x.limts: unknown key; did you mean 'li"),
        ('values = [1, 2], unit = "m", limits = 1, shared = 1', "thing.x.shared: got 1; expected"),
        ('values = [1, 2], unit = "m", uncertainty = []', "thing.x.uncertainty: an empty list"),
    ],
)
def test_series_refusals(text: str, expected: str) -> None:
    with pytest.raises(BenchError) as caught:
        series_of(table(f"x = {{ {text} }}").table("x", ""), "values", Length, "x", "how")
    assert f"{caught.value.key}: {caught.value.reason}".startswith(expected)


def test_one_statement_where_only_one_has_a_meaning() -> None:
    assert read_statement(table("x = 1"), "parallax") is None
    assert read_statement(table("parallax = { limits = 0.3 }"), "parallax") == limits(0.3)
    with pytest.raises(BenchError, match=r"key 'thing.parallax': 2 statements; expected one"):
        read_statement(table("parallax = [{ limits = 1 }, { limits = 2 }]"), "parallax")


@pytest.mark.parametrize(
    ("value", "named"),
    [("glass", True), ("0.1 mm", False), (".5 mm", False), ("", False), (3, False)],
)
def test_what_names_something(value: object, named: bool) -> None:
    assert is_name(value) is named


def test_several_statements_and_labels() -> None:
    found = read_statements(
        table('accuracy = [{ limits = 1 }, { standard = 2, label = "drift" }]'), "accuracy", "x"
    )
    assert [type(item) for item in found] == [type(limits(1)), type(standard(1))]
    assert found[1].label == "drift"


@pytest.mark.parametrize(
    ("text", "key", "number"),
    [
        ("{ percent = 2.5 }", "thing.accuracy.percent", "2.5"),
        ('{ accuracy = "2 %" }', "thing.accuracy.accuracy", "2"),
        ('"±1.5 %"', "thing.accuracy", "1.5"),
        ('{ limits = "3 %" }', "thing.accuracy.limits", "3"),
        ('[{ limits = 1 }, "4%"]', "thing.accuracy", "4"),
    ],
)
def test_bare_percentage_is_asked_about(text: str, key: str, number: str) -> None:
    found = reason(text)
    assert found.startswith(f"{key}: got ")
    assert "a percentage of what? Ask whoever has the data sheet" in found
    assert f"{{ percent_of_reading = {number} }}" in found
    assert f"{{ percent_of_full_scale = {number} }}" in found


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2.0", "thing.accuracy: got 2.0; expected a table such as { limits = 0.05 }"),
        ("[]", "thing.accuracy: an empty list"),
        ("{}", "thing.accuracy: no uncertainty stated; expected one of limits, triangular"),
        ("{ limit = 1 }", "thing.accuracy.limit: unknown key; did you mean 'limits'?"),
        ("{ k = 2 }", "thing.accuracy: no uncertainty stated"),
        ("{ limits = 1, k = 2 }", "thing.accuracy.k: unknown key; expected limits, inexact"),
        ("{ limits = 1, standard = 2 }", "thing.accuracy: limits and standard in one table"),
        ("{ limits = -1 }", "thing.accuracy.limits: "),
        ("{ limits = [1] }", "thing.accuracy.limits: got a list of 1; expected a number"),
        ('{ limits = "0,05 mm" }', "thing.accuracy.limits: got the text '0,05 mm'; expected a nu"),
        ('{ limits = "0.05" }', "thing.accuracy.limits: got the text '0.05' has no unit"),
        ('{ limits = "0.05 mn" }', "thing.accuracy.limits: unit 'mn'"),
        ("{ expanded = 0.3 }", "thing.accuracy.expanded: expanded(0.3): give either the coverage"),
        ("{ error_limit = 2 }", "thing.accuracy.linearity_limit: missing; expected as in { error_"),
        ('{ percent_of_reading = "2" }', "thing.accuracy.percent_of_reading: got the text '2'; ex"),
        ("{ repeated = 3 }", "thing.accuracy.repeated: got 3; expected a list as in { repeated ="),
        ("{ repeated = [3] }", "thing.accuracy.repeated: repeated([3.0]): 1 reading cannot show"),
        ('{ limits = 1, label = "" }', "thing.accuracy.label: got the text ''; expected text"),
        ('{ iec_60751 = "D" }', "thing.accuracy.iec_60751: got the text 'D'; expected AA, A, B or"),
        ("{ iec_60751 = 1 }", "thing.accuracy.iec_60751: got 1; expected AA, A, B or C"),
        ('{ iec_60751 = "A", construction = "x" }', "thing.accuracy.iec_60751: iec_60751(construc"),
        ('{ iec_60751 = "A", contruction = "film" }', "thing.accuracy.contruction: unknown key; d"),
        ("{ shared = true }", "thing.accuracy: no uncertainty stated"),
        ("{ limits = 1, shared = 1 }", "thing.accuracy.shared: got 1; expected true or false"),
        ("[{ limits = 1 }, { limit = 2 }]", "thing.accuracy[1].limit: unknown key"),
    ],
)
def test_refusals(text: str, expected: str) -> None:
    assert reason(text).startswith(expected)


def test_missing_statement_shows_what_to_write() -> None:
    with pytest.raises(BenchError) as caught:
        read_statements(table("x = 1"), "accuracy", "meter")
    assert caught.value.key == "thing.accuracy"
    assert "{ limits = 0 } if it has no error" in caught.value.reason


EXAMPLE = 'bore = { value = "19.05 mm", limits = 0.05 }'


def read_bore(text: str) -> Length:
    return read_quantity(table(text), "bore", Length, "bore", EXAMPLE)


@pytest.mark.parametrize(
    ("text", "statements"),
    [
        (EXAMPLE, [limits(0.05)]),
        ('bore = { value = "19.05 mm", limits = "50 um" }', [limits(50, "um")]),
        (
            'bore = { value = "19.05 mm", uncertainty = [{ limits = 0.05 }, { standard = 0.02 }] }',
            [limits(0.05), standard(0.02)],
        ),
        ('bore = { value = "19.05 mm", limits = 0 }', [limits(0)]),
    ],
)
def test_value_with_unit(text: str, statements: list[Statement]) -> None:
    found, expected = read_bore(text), Length(19.05, "mm", *statements)
    assert (found.value, found.unit, found.label) == (19.05, "mm", "bore")
    assert found.u == pytest.approx(expected.u, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('bore = "19.05 mm"', "thing.bore: got the text '19.05 mm' without an uncertainty"),
        ("bore = 19.05", "thing.bore: got 19.05 without an uncertainty; expected bore = {"),
        ("other = 1", "thing.bore: missing; expected bore = {"),
        ("bore = { limits = 1 }", "thing.bore.value: missing"),
        ("bore = { value = 19.05, limits = 1 }", "thing.bore.value: got 19.05 without a unit"),
        ('bore = { value = "19.05", limits = 1 }', "thing.bore.value: got the text '19.05' has no"),
        ('bore = { value = "about 19 mm", limits = 1 }', "thing.bore.value: got the text 'about"),
        ('bore = { value = "19.05 mm" }', "thing.bore: no uncertainty stated; expected one of"),
        # was "unit '6,00 mm'": the pattern gave back a digit of the number
        (
            'bore = { value = "16,00 mm", limits = 1 }',
            "thing.bore.value: got the text '16,00 mm'; expected a number with a decimal point",
        ),
        ('bore = { value = "1.5.2 mm", limits = 1 }', "thing.bore.value: got the text '1.5.2 mm'"),
        ('bore = { value = "19 kg", limits = 1 }', "thing.bore: Length in 'kg'"),
        ('bore = { value = "1e999 mm", limits = 1 }', "thing.bore.value: got inf; expected a fini"),
        ('bore = { value = "19 mm", limits = "1 s" }', "thing.bore: limits in 's' on bore"),
        (
            'bore = { value = "19 mm", limits = 1, uncertainty = [] }',
            "thing.bore.limits: unknown key; expected value and uncertainty",
        ),
        ('bore = { value = "19 mm", uncertainty = 3 }', "thing.bore.uncertainty: got 3; expected"),
    ],
)
def test_value_refusals(text: str, expected: str) -> None:
    with pytest.raises(BenchError) as caught:
        read_bore(text)
    assert f"{caught.value.key}: {caught.value.reason}".startswith(expected)


def test_statement_may_be_left_out_where_that_is_allowed() -> None:
    for text in ('x = "47 deg"', 'x = { value = "47 deg" }'):
        found = read_quantity(table(text), "x", Angle, "x", "x", needs_statement=False)
        assert (found.value, found.u) == (pytest.approx(47.0, rel=1e-15), 0.0)
    found = quantity_of(table('value = "2 m"'), Length, "h", "h", needs_statement=False)
    assert found.u == 0.0
