"""Every docstring example of the public names runs by itself, as copied from help().

The doctests of the package run in the namespace of their module and so would not notice an
example that forgets to import its own subject.
"""

from __future__ import annotations

import doctest
import inspect
import io
from collections.abc import Iterator

import pytest

import flowunc


def _public_members(owner: type) -> Iterator[tuple[str, object]]:
    """Give public methods and properties of a class, inherited ones too."""
    for member in dir(owner):
        if member.startswith("_"):
            continue
        found = inspect.getattr_static(owner, member)
        if isinstance(found, (classmethod, staticmethod)):
            found = found.__func__
        if isinstance(found, property) or inspect.isfunction(found):
            yield member, found


def _documented() -> Iterator[tuple[str, doctest.DocTest]]:
    """Give the examples of each public name and of the public members of classes, each once."""
    seen: set[int] = set()
    for name in flowunc.__all__:
        thing = getattr(flowunc, name)
        if not (inspect.isclass(thing) or inspect.isfunction(thing)):
            continue
        titled = [(name, thing)]
        if inspect.isclass(thing):
            titled += [(f"{name}.{member}", found) for member, found in _public_members(thing)]
        for title, item in titled:
            text = item.__doc__
            if id(item) not in seen and text and ">>>" in text:
                seen.add(id(item))
                yield title, doctest.DocTestParser().get_doctest(text, {}, title, None, None)


_EXAMPLES = dict(_documented())


def test_examples_are_found():
    assert len(_EXAMPLES) > 50


class _OnlyExceptions(doctest.OutputChecker):
    """Digits are compared by the doctests of the modules; here an example need only run."""

    def check_output(self, want: str, got: str, optionflags: int) -> bool:
        return True


@pytest.mark.parametrize("title", _EXAMPLES)
def test_example_runs_in_an_empty_namespace(title, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    report = io.StringIO()
    runner = doctest.DocTestRunner(_OnlyExceptions(), optionflags=doctest.ELLIPSIS)
    result = runner.run(_EXAMPLES[title], out=report.write, clear_globs=False)
    assert result.failed == 0, report.getvalue()
