"""The JSON Schema of a document agrees with what is written and with what is read.

The validator here knows the words of [JSON Schema 2020-12] that the schema uses, and fails on
any other.
"""

from __future__ import annotations

import json
import re
from importlib import resources
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc.core import kinds
from flowunc.core.distributions import Distribution
from flowunc.core.errors import DocumentError
from flowunc.core.exchange.json_components import _LAWS
from flowunc.core.exchange.json_curves import MOST_KNOTS
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.core.exchange.known_operations import EXACT, known_operations

SCHEMA = json.loads(
    resources.files("flowunc.core.exchange").joinpath("quantities.schema.json").read_text("utf-8")
)
TYPES: dict[str, Any] = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "integer": lambda value: isinstance(value, int) and not isinstance(value, bool),
    "number": lambda value: isinstance(value, (int, float)) and not isinstance(value, bool),
}
LIMITS: dict[str, Any] = {  # word, the type it speaks about, and what it asks
    "minimum": ("number", lambda value, low: value >= low),
    "exclusiveMinimum": ("number", lambda value, low: value > low),
    "minItems": ("array", lambda value, least: len(value) >= least),
    "maxItems": ("array", lambda value, most: len(value) <= most),
    "minLength": ("string", lambda value, least: len(value) >= least),
    "pattern": ("string", lambda value, pattern: re.search(pattern, value) is not None),
}
NOTES = {"$schema", "title", "description", "$defs", "properties"}


def equal(value: Any, wanted: Any) -> bool:
    return type(value) is type(wanted) and value == wanted


def valid(value: Any, schema: dict[str, Any]) -> bool:
    """Tell whether a value is what a schema says."""
    return all(_holds(word, asked, value, schema) for word, asked in schema.items())


def _holds(word: str, asked: Any, value: Any, schema: dict[str, Any]) -> bool:
    if word in NOTES:
        return (
            not isinstance(value, dict)
            or word != "properties"
            or all(valid(value[name], inner) for name, inner in asked.items() if name in value)
        )
    if word == "type":
        return bool(TYPES[asked](value))
    if word == "const":
        return equal(value, asked)
    if word == "enum":
        return any(equal(value, each) for each in asked)
    if word == "oneOf":
        return sum(valid(value, each) for each in asked) == 1
    if word == "$ref":
        return valid(value, SCHEMA["$defs"][asked.removeprefix("#/$defs/")])
    if word == "items":
        return not isinstance(value, list) or all(valid(each, asked) for each in value)
    if word == "required":
        return not isinstance(value, dict) or all(name in value for name in asked)
    if word == "additionalProperties":
        assert asked is False
        return not isinstance(value, dict) or value.keys() <= schema["properties"].keys()
    kind, holds = LIMITS[word]
    return not TYPES[kind](value) or bool(holds(value, asked))


def test_what_is_written_is_valid(documents):
    for document in documents:
        assert valid(document, SCHEMA)


@pytest.mark.parametrize(
    ("path", "new"),
    [
        (["version"], 2),
        (["version"], True),
        (["holds"], "set"),
        (["more"], 1),
        (["quantities"], []),
        (["quantities", 0, "step"], -1),
        (["quantities", 0, "kind"], "Height"),
        (["components", 0, "dof"], "infinite"),
        (["components", 0, "dof"], 0),
        (["components", 0, "key"], ""),
        (["components", 0, "distribution"], {"law": "normal", "half_width": 1.0}),
        (["steps", 0, "value"], "1"),
        (["steps", 0, "operation"], "exec"),
    ],
)
def test_what_is_not_a_document_is_not_valid(documents, path, new):
    for document in json.loads(json.dumps(documents)):
        holder = document
        for key in path[:-1]:
            holder = holder[key]
        holder[path[-1]] = new
        assert not valid(document, SCHEMA)
        with pytest.raises(DocumentError):
            from_json(json.dumps(document))


@given(st.data())
def test_what_is_read_is_valid(documents, data):
    # a field left out or another value, somewhere
    document = json.loads(json.dumps(data.draw(st.sampled_from(documents))))
    holder: Any = document
    while True:
        keys = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
        key = data.draw(st.sampled_from(keys))
        if not isinstance(holder[key], (dict, list)) or not holder[key] or data.draw(st.booleans()):
            break
        holder = holder[key]
    if data.draw(st.booleans()):
        del holder[key]
    else:
        values = [0, 1, -1, 0.5, "inf", "", "m", "1", True, None, [], [0], [1.0, 2.0], {}]
        holder[key] = data.draw(st.sampled_from(values))
    try:
        found = from_json(json.dumps(document))
    except DocumentError:
        return
    assert valid(document, SCHEMA)
    assert valid(json.loads(to_json(found)), SCHEMA)


def alternatives(name: str, field: str) -> list[set[str]]:
    """Return the words that the alternatives of a definition allow in a field."""
    found = [each["properties"][field] for each in SCHEMA["$defs"][name]["oneOf"]]
    return [set(each.get("enum", [each.get("const")])) for each in found]


def test_the_schema_lists_what_the_package_knows():
    steps = alternatives("step", "operation")
    assert steps[:4] == [{"input"}, {"take"}, {"concatenate"}, {"total"}]
    # this pins the names, which the variables of the operations must keep for ever
    assert steps[4:] == [known_operations().keys() - EXACT, {"piecewise_cubic"}, EXACT]
    curve = SCHEMA["$defs"]["step"]["oneOf"][5]["properties"]
    assert curve["knots"]["maxItems"] == MOST_KNOTS
    assert curve["coefficients"]["items"]["maxItems"] == MOST_KNOTS + 1
    assert set.union(*alternatives("distribution", "law")) == set(_LAWS)
    listed = SCHEMA["$defs"]["quantity"]["properties"]["kind"]["enum"]
    assert set(listed) == {"Quantity", *(name for name in kinds.__all__ if name[0].isupper())}


def test_every_law_of_the_package_has_its_name():
    def below(law: type[Distribution]) -> set[type[Distribution]]:
        return {law}.union(*(below(each) for each in law.__subclasses__()))

    own = {law for law in below(Distribution) if law.__module__ == Distribution.__module__}
    assert own - {Distribution} == set(_LAWS.values())
