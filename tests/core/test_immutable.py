"""What the package hands out stays as it is: dataclasses refuse new values."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil

import pytest

import flowunc

FOUND = sorted(
    {
        member
        for module in pkgutil.walk_packages(flowunc.__path__, "flowunc.")
        if module.name.startswith(("flowunc.core.", "flowunc.pipe."))
        for _, member in inspect.getmembers(importlib.import_module(module.name), inspect.isclass)
        if dataclasses.is_dataclass(member)
        and member.__module__ == module.name
        and dataclasses.fields(member)
        and not inspect.isabstract(member)
    },
    key=lambda each: (each.__module__, each.__name__),
)


def test_there_are_dataclasses_to_look_at():
    assert len(FOUND) > 20


@pytest.mark.parametrize("kind", FOUND, ids=lambda each: each.__name__)
def test_dataclass_refuses_new_values(kind):
    made = object.__new__(kind)
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(made, dataclasses.fields(kind)[0].name, 1)
