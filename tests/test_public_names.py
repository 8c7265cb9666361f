"""What `import flowunc` offers: exactly the listed names, each with its docstring."""

from __future__ import annotations

import ast
import importlib
import inspect
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

import flowunc

# Written down once for type checkers, as imports, and once for the interpreter, as places.
SOURCE = Path(flowunc.__file__).read_text(encoding="utf-8")
NAMES = flowunc.__all__
LAYERS = ("core", "propagation", "instruments", "fluids", "pipe", "analysis", "bench")
# What the documentation promises of the modules that are themselves public names.
IN_MODULES = {
    "water": ["density", "viscosity"],
    "air": ["density"],
    "laws": ["laminar", "blasius", "prandtl_smooth", "colebrook_white"],
}


def has_docstring(thing: object) -> bool:
    """Whether a person wrote a docstring: not inherited, not the one dataclass makes up."""
    text = (getattr(thing, "__doc__", None) or "").strip()
    return bool(text) and not text.startswith(f"{getattr(thing, '__name__', '')}(")


def public_members(kind: type) -> Iterator[tuple[str, object]]:
    """Methods and properties that a class of this project defines under a public name."""
    for ancestor in kind.__mro__:
        if not ancestor.__module__.startswith("flowunc"):
            continue
        for name, member in vars(ancestor).items():
            if name.startswith("_"):
                continue
            if inspect.isfunction(member) or isinstance(member, property):
                yield f"{ancestor.__name__}.{name}", member
            elif isinstance(member, classmethod | staticmethod):
                yield f"{ancestor.__name__}.{name}", member.__func__


def names_by_place(source: str) -> dict[str, list[str]]:
    """Read what the block for type checkers imports: names by the module they come from."""
    (block,) = (
        node
        for node in ast.parse(source).body
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    )
    found: dict[str, list[str]] = {}
    for node in block.body:
        assert isinstance(node, ast.ImportFrom)
        for alias in node.names:
            # Only `name as name` is handed on to the modules that import it (PEP 484).
            assert alias.asname == alias.name, f"write {alias.name} as {alias.name}"
            found.setdefault(str(node.module), []).append(alias.name)
    return found


def test_type_checkers_and_the_interpreter_have_the_same_names_from_the_same_places() -> None:
    places = {f"flowunc.{place}": names.split() for place, names in flowunc._PLACES.items()}
    assert names_by_place(SOURCE) == places
    assert list(flowunc._PLACES) == sorted(flowunc._PLACES)
    assert [names for names in places.values() if names != sorted(names)] == []


def test_all_is_each_of_these_names_once() -> None:
    listed = [name for names in flowunc._PLACES.values() for name in names.split()]
    assert sorted(listed) == flowunc.__all__ == sorted(set(listed))
    assert not set(listed) & set(LAYERS), "a loaded layer would hide a name"


def test_a_name_missing_on_one_side_is_seen() -> None:
    line = "    from flowunc.core.kinds import Length as Length\n"
    assert SOURCE.count(line) == 1
    assert names_by_place(SOURCE.replace(line, "")) != names_by_place(SOURCE)
    with pytest.raises(AssertionError, match="write Length as Length"):
        names_by_place(SOURCE.replace(" Length as Length", " Length"))


def test_nothing_else_is_visible() -> None:
    visible = {name for name in dir(flowunc) if not name.startswith("_")}
    assert visible == {*NAMES, *LAYERS}
    assert set(flowunc._LAYERS) == set(LAYERS)


@pytest.mark.parametrize("name", NAMES)
def test_name_is_the_one_of_its_place(name: str) -> None:
    place = flowunc._PLACE_OF[name]
    assert getattr(flowunc, name) is getattr(importlib.import_module(f"flowunc.{place}"), name)


@pytest.mark.parametrize("name", NAMES)
def test_name_is_importable_and_documented(name: str) -> None:
    thing = getattr(flowunc, name)
    assert has_docstring(thing), f"flowunc.{name} has no docstring of its own"
    if inspect.isclass(thing):
        bare = [label for label, member in public_members(thing) if not has_docstring(member)]
        assert bare == []


@pytest.mark.parametrize("name", IN_MODULES)
def test_public_module_lists_documented_functions(name: str) -> None:
    module = getattr(flowunc, name)
    assert isinstance(module, ModuleType)
    assert set(IN_MODULES[name]) <= set(module.__all__)
    assert [entry for entry in module.__all__ if not has_docstring(getattr(module, entry))] == []


@pytest.mark.parametrize("layer", LAYERS)
def test_layer_lists_what_it_offers(layer: str) -> None:
    package = importlib.import_module(f"flowunc.{layer}")
    assert has_docstring(package)
    assert package.__all__
    assert [name for name in package.__all__ if not hasattr(package, name)] == []


def test_docstring_check_sees_its_absence() -> None:
    class Bare:
        def method(self) -> None: ...

    Bare.__module__ = "flowunc.invented"
    assert not has_docstring(Bare)
    assert [name for name, _ in public_members(Bare)] == ["Bare.method"]
    assert not has_docstring(Bare.method)
    assert has_docstring(public_members)
