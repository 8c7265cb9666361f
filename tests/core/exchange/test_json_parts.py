"""Values of a document are read as what they have to be, or refused with their place."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from flowunc import UnitError
from flowunc.core.errors import DocumentError
from flowunc.core.exchange.json_parts import Part, read_document


def part(text: str) -> Part:
    return read_document('{"a": {"b/~": [' + text + "]}}", "own.json")


def inner(text: str) -> Part:
    return next(part(text).object(["a"])["a"].object(["b/~"])["b/~"].items())


def test_places_are_json_pointers():
    # RFC 6901, 3: "~" is written ~0 and "/" is written ~1
    assert inner("7").pointer == "/a/b~1~0/0"
    with pytest.raises(DocumentError, match=r"^own.json, at /a/b~1~0/0: got 7; expected text$"):
        inner("7").text()


@pytest.mark.parametrize(
    ("name", "shown"),
    # RFC 6901, 5: in a JSON string, with its escapes
    [("\\u001b[2J", "\\u001b[2J"), ("\\u202ea", "\\u202ea"), ("x" * 5_000, "x" * 40 + "...")],
)
def test_names_in_messages_are_short_and_move_no_cursor(name, shown):
    with pytest.raises(DocumentError) as caught:
        read_document(f'{{"{name}": 1}}', "own.json").object([])
    assert caught.value.pointer == f"/{shown}"
    assert str(caught.value).startswith(f"own.json, at /{shown}: unknown field")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("null", "null"),
        ("true", "true"),
        ("NaN", "NaN"),
        ("-Infinity", "-Infinity"),
        ("1e999", "a number too large for floating point"),
        ('"word"', "the text 'word'"),
        ('"%s"' % ("x" * 90), f"the text '{'x' * 40}'... of 90"),
        ("{}", "an object"),
        ("[[]]", "a list of 1"),
        ('{"k": 1, "k": 2}', "an object with the field 'k' twice"),
        ("9" * 5000, "a whole number of 5000 digits"),
        ("1" + "0" * 350, "1" + "0" * 39),
    ],
)
def test_what_is_no_finite_number_is_named(text, shown):
    with pytest.raises(DocumentError) as caught:
        inner(text)._number()
    assert caught.value.reason == f"got {shown}; expected a finite number"
    assert caught.value.pointer == "/a/b~1~0/0"


@pytest.mark.parametrize(
    "number", [0.1, -0.0, 5e-324, 1.7976931348623157e308, 1 / 3, 2.0**53 + 2, math.pi]
)
def test_numbers_keep_every_bit(number):
    found = inner(repr(number)).numbers()
    assert np.float64(found).tobytes() == np.float64(number).tobytes()
    listed = inner(f"[{number!r}, 1]").numbers()
    assert listed.dtype == np.float64
    assert listed[:1].tobytes() == np.float64(number).tobytes()


@pytest.mark.parametrize("bad", ["true", '"1.5"', "null", "[1.5]", "1e400", "NaN", "1" + "0" * 350])
def test_no_entry_of_a_list_is_taken_for_a_number(bad):
    with pytest.raises(DocumentError, match="expected a finite number") as caught:
        inner(f"[1.5, 2, {bad}]").numbers()
    assert caught.value.pointer == "/a/b~1~0/0/2"
    with pytest.raises(DocumentError, match="expected numbers, one or more"):
        inner("[]").numbers()


def test_degrees_of_freedom_need_not_be_whole():
    assert inner("0.5").dof() == 0.5
    assert inner("[0.5, 16.74]").dof().tolist() == [0.5, 16.74]
    with pytest.raises(DocumentError, match="expected degrees of freedom, one or more"):
        inner("[]").dof()


@pytest.mark.parametrize("bad", ["0", "-1", '"infinity"', "null", "true", "NaN", "1e999", "{}"])
def test_degrees_of_freedom_are_above_zero(bad):
    for text in (bad, f'[3, "inf", {bad}]'):
        with pytest.raises(DocumentError, match="expected"):
            inner(text).dof()


def test_infinite_degrees_of_freedom_are_a_text():
    assert inner('"inf"').dof() == math.inf
    assert inner('[2, 3.5, "inf"]').dof().tolist() == [2.0, 3.5, math.inf]
    with pytest.raises(DocumentError, match="the text 'inf'; expected degrees of freedom above 0"):
        inner('"inf"').dof(finite=True)


@pytest.mark.parametrize("bad", ["3", "-1", "1.0", "true", '"1"', "null", "1e0"])
def test_places_are_whole_numbers_within_bounds(bad):
    assert inner("2").whole(0, 2, "a reading") == 2
    with pytest.raises(DocumentError, match="expected a reading, from 0 to 2"):
        inner(bad).whole(0, 2, "a reading")
    with pytest.raises(DocumentError, match="there is none so far"):
        inner("0").whole(0, -1, "a reading")


def test_fields_are_those_expected():
    given = inner('{"x": 1, "z": 2}')
    assert set(given.object(["x"], ["y", "z"])) == {"x", "z"}
    with pytest.raises(DocumentError, match="the field 'y' is missing"):
        given.object(["x", "y"])
    with pytest.raises(DocumentError, match="/0/z: unknown field; expected x, y"):
        given.object(["x"], ["y"])
    for text in ("[]", "1", '"x"'):
        with pytest.raises(DocumentError, match="expected an object"):
            inner(text).object(["x"])
        with pytest.raises(DocumentError, match="expected an object"):
            inner(text).optional_field("x")
    with pytest.raises(DocumentError, match="expected a list"):
        given.items()


def test_choices_are_listed():
    assert inner('"each"').choice(("shared", "each")) == "each"
    for text in ('"both"', "1", "[]", "{}"):
        with pytest.raises(DocumentError, match="expected one of 'shared', 'each'"):
            inner(text).choice(("shared", "each"))


def test_other_errors_get_the_place():
    with pytest.raises(DocumentError, match="at /a/b~1~0/0: no such unit"), inner("1").placed():
        raise UnitError("no such unit")


@pytest.mark.parametrize("text", ["{", '{"a": }', "{'a': 1}", '{"a": 1} 2', '{"a": 01}', "{\x00}"])
def test_text_that_is_no_json_names_line_and_column(text):
    with pytest.raises(DocumentError, match=r"this is no JSON: .*line 1, column \d+"):
        read_document(text, "own.json")


@pytest.mark.parametrize("opening", ["[", '{"a":'])
def test_deep_nesting_is_refused_and_not_followed(opening):
    with pytest.raises(DocumentError, match="nested too deeply"):
        read_document(opening * 200_000, "own.json")


def test_many_fields_cost_no_more_than_their_number():
    def seconds(count: int) -> float:
        fields = ",".join(f'"{i}":0' for i in range(count))
        text = "{" + fields + f',"{count - 1}":1' + "}"
        start = time.process_time()
        read_document(text, "own.json")
        return time.process_time() - start

    few, many = (min(seconds(count) for _ in range(5)) for count in (4_000, 128_000))
    assert many < 32 * 8 * few  # a search among all fields for the one twice there costs 1024 few
