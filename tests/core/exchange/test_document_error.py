"""The error of a document names the place and keeps its parts."""

from __future__ import annotations

import pickle

from flowunc import FlowuncError
from flowunc.core.exchange.document_error import DocumentError


def test_text_names_file_and_pointer():
    assert str(DocumentError("expected text")) == "<text>: expected text"
    error = DocumentError("expected text", "/steps/3", "runs.json")
    assert str(error) == "runs.json, at /steps/3: expected text"
    assert isinstance(error, FlowuncError)
    assert isinstance(error, ValueError)


def test_parts_survive_pickling():
    error = DocumentError("expected text", "/steps/3", "runs.json")
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is DocumentError
    assert (back.reason, back.pointer, back.file) == ("expected text", "/steps/3", "runs.json")
    assert str(back) == str(error)
