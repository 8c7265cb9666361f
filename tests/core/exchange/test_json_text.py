"""Documents as text and as files, what they cannot hold, and text that is anything at all."""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import (
    Angle,
    DimensionError,
    FlowuncError,
    Length,
    PropagationError,
    Quantity,
    RangeError,
    Ratio,
    ShapeError,
    apply,
    standard,
)
from flowunc.core.errors import DocumentError
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.core.operations import Elementwise
from flowunc.core.record import elementwise


def listed(quantities) -> list[Quantity]:
    return list(quantities.values()) if isinstance(quantities, dict) else quantities


@pytest.mark.parametrize("indent", [0, 1, 4])
def test_indented_text_says_the_same(several, indent):
    text = to_json(several, indent=indent)
    assert json.loads(text) == json.loads(to_json(several))
    assert to_json(from_json(text), indent=indent) == text
    lines = text.splitlines()
    assert sum('"operation"' in line for line in lines) == text.count('"operation"')


def test_one_many_and_named_quantities_come_back_so():
    side = Length(2.0, "m", standard(0.1), label="side \u00b0 \ud800 \"'\\")
    assert isinstance(from_json(to_json(side)), Length)
    assert from_json(to_json(side)).label == side.label
    assert [type(q) for q in from_json(to_json((side, side)))] == [Length, Length]
    back = from_json(to_json({"": side, "a/b": side}))
    assert list(back) == ["", "a/b"]
    assert [q.value for q in from_json(to_json(iter([side])))] == [2.0]


# -- files ---------------------------------------------------------------------------------------
def test_files_are_written_and_read(tmp_path: Path):
    path = tmp_path / "own.json"
    side = Length(2.0, "m", standard(0.1))
    text = to_json(side, path)
    assert path.read_bytes() == text.encode()
    for named in (path, str(path)):
        assert from_json(named).u == side.u
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())  # a byte order mark, as some editors write
    assert from_json(path).u == side.u
    assert from_json("\ufeff" + text).u == side.u


def test_files_that_cannot_be_read_are_named(tmp_path: Path):
    path = tmp_path / "own.json"
    with pytest.raises(DocumentError, match="no such file; expected a document of to_json"):
        from_json(path)
    path.write_bytes(to_json(Length(2.0, "m")).encode("utf-16"))
    with pytest.raises(DocumentError, match=f"^{path}: this is not UTF-8"):
        from_json(path)
    path.write_text('{"format": 1}')
    with pytest.raises(DocumentError, match=f"^{path}: no document of to_json"):
        from_json(str(path))
    with pytest.raises(DocumentError, match="this is no file"):
        from_json(tmp_path)
    with pytest.raises(DocumentError, match="cannot be read"):
        from_json("a\0b")
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)  # opening it would wait for ever
    with pytest.raises(DocumentError, match="this is no file"):
        from_json(pipe)


@pytest.mark.parametrize("wrong", ["", "  ", "[" * 5000, None, 3, b"{}", ["{}"], {}])
def test_what_is_neither_text_nor_path_is_refused(wrong):
    with pytest.raises(DocumentError, match="expected JSON text"):
        from_json(wrong)


# -- what JSON cannot hold -----------------------------------------------------------------------
def cubed(x):
    return x**3


def test_a_function_of_the_user_is_refused_by_name():
    made = apply(cubed, Ratio(2.0, "1", standard(0.1)))
    with pytest.raises(PropagationError, match="'cubed' cannot be written as JSON"):
        to_json(made + 1.0)


def test_an_operation_of_the_user_is_refused_by_name():
    own = Elementwise("OWN", "own sum", np.add, lambda w, x, y, n: (w, w))
    side = Ratio(2.0, "1", standard(0.1))
    made = Ratio._from_node(elementwise(own, side._node, side._node))
    with pytest.raises(PropagationError, match="'own sum' cannot be written as JSON"):
        to_json(made)


def test_a_kind_of_the_user_is_refused():
    class Height(Length):
        pass

    class Disguised(Angle):
        pass

    Disguised.__name__ = "Angle"  # passes itself off as one of ours
    for made in (Height(1.0, "m"), Disguised(1.0, "deg")):
        with pytest.raises(PropagationError, match="cannot be written as JSON"):
            to_json(made)


def test_what_is_no_quantity_is_refused():
    side = Length(1.0, "m")
    for wrong in (1.0, "text", None, b"x"):
        with pytest.raises(DimensionError, match="expected a quantity, several in a list"):
            to_json(wrong)
    with pytest.raises(DimensionError, match="1 is a float; expected quantities"):
        to_json([side, 2.0])
    with pytest.raises(DimensionError, match="'b' is a float"):
        to_json({"a": side, "b": 2.0})
    with pytest.raises(DimensionError, match="the name 3 is no text"):
        to_json({3: side})
    for empty in ([], {}):
        with pytest.raises(ShapeError, match="expected at least one"):
            to_json(empty)
    for indent in (-1, 17, "  ", True):
        with pytest.raises(RangeError, match="expected 0 to 16 spaces"):
            to_json(side, indent=indent)


# -- anything at all -----------------------------------------------------------------------------
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 12),
    st.integers(),
    st.floats(),
    st.sampled_from(["inf", "input", "take", "multiply", "total", "concatenate", "K", "degC", ""]),
    st.text(max_size=5),
)
ANYTHING = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=12,
)


def allowed_to_fail(action) -> None:
    """Run what may raise an error of ours, and no other; numbers of any size may overflow."""
    with contextlib.suppress(FlowuncError), np.errstate(all="ignore"):
        action()


@given(ANYTHING, st.booleans())
def test_any_json_is_refused_with_our_error(value, begun):
    if begun and isinstance(value, dict):
        value = {"format": "flowunc quantities", "version": 1} | value
    text = json.dumps(value)
    with pytest.raises(DocumentError):
        from_json(text if text.startswith("{") else '{"a": ' + text + "}")


def places(value):
    """Return the paths to everything in a parsed document, first levels first."""
    found, waiting = [], [((), value)]
    for path, inner in waiting:
        found.append(path)
        if isinstance(inner, (dict, list)):
            inside = inner.items() if isinstance(inner, dict) else enumerate(inner)
            waiting += [((*path, key), entry) for key, entry in inside]
    return found[1:]


def check_what_is_read(text: str) -> None:
    """Read a document that may be wrong: it must be refused, or be as good as any other."""
    try:
        found = from_json(text)
    except DocumentError:
        return
    for quantity in listed(found) if not isinstance(found, Quantity) else [found]:
        allowed_to_fail(lambda q=quantity: (q.u, q.dof, str(q)))
        allowed_to_fail(lambda q=quantity: q.monte_carlo(trials=20, seed=1))
    again = to_json(found)
    assert to_json(from_json(again)) == again


@pytest.mark.filterwarnings("ignore::flowunc.FlowuncWarning")
@given(st.data())
def test_a_changed_document_is_refused_or_right(documents, data):
    document = json.loads(json.dumps(data.draw(st.sampled_from(documents), label="document")))
    for _ in range(data.draw(st.integers(1, 2))):
        path = data.draw(st.sampled_from(places(document)), label="place")
        holder = document
        for key in path[:-1]:
            holder = holder[key]
        how = data.draw(st.sampled_from(["set", "delete", "copy", "scale"]), label="how")
        if how == "delete":
            del holder[path[-1]]
        elif how == "copy" and isinstance(holder, list):
            holder.append(holder[path[-1]])
        elif how == "scale" and isinstance(holder[path[-1]], float):
            holder[path[-1]] *= data.draw(st.sampled_from([-1.0, 0.0, 1e-200, 2.0, 1e200]))
        else:
            holder[path[-1]] = data.draw(ANYTHING, label="new")
    check_what_is_read(json.dumps(document))


@pytest.mark.filterwarnings("ignore::flowunc.FlowuncWarning")
@given(st.data())
def test_a_damaged_text_is_refused_or_right(documents, data):
    text = json.dumps(data.draw(st.sampled_from(documents)))
    start = data.draw(st.integers(1, len(text)))
    stop = data.draw(st.integers(start, min(len(text), start + 40)))
    check_what_is_read(text[:start] + data.draw(st.text(max_size=5)) + text[stop:])
