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


def _documented() -> Iterator[tuple[str, doctest.DocTest]]:
    """Give the examples of each public name, and of the public methods that classes define."""
    for name in flowunc.__all__:
        thing = getattr(flowunc, name)
        owned = [(name, thing)]
        if inspect.isclass(thing):
            owned += [
                (f"{name}.{member}", getattr(thing, member))
                for member in vars(thing)
                if not member.startswith("_")
            ]
        for title, item in owned:
            text = inspect.getdoc(item) if not isinstance(item, str) else None
            if text and ">>>" in text:
                example = doctest.DocTestParser().get_doctest(text, {}, title, None, None)
                yield title, example


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
