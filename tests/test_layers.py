"""The shape of the package, read from its source: layers, cycles, module size and names.

A package may import from itself and from packages earlier in `LAYERS`. One door is open the
other way: the methods of a quantity reach the engines through `core.engine`, which may import
`flowunc.propagation` inside functions.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = "flowunc"
PACKAGE = Path(__file__).parents[1] / ROOT
LAYERS = ("core", "propagation", "instruments", "fluids", "pipe", "analysis", "bench")
DOOR, BEHIND_DOOR = "flowunc.core.engine", "propagation"
TOP_MODULES = {ROOT, f"{ROOT}.__main__"}
MOST_LINES = 400
VAGUE_NAMES = {"common", "helper", "helpers", "misc", "util", "utils"}
# Slow to import, so only the functions that use them may do it.
HEAVY = ("matplotlib", "pandas", "pint", "scipy.stats", "uncertainties")


@dataclass(frozen=True)
class Import:
    """One imported module, with where and when the import happens."""

    importer: str
    line: int
    target: str
    in_function: bool
    for_typing: bool
    star: bool = False

    @property
    def at_import_time(self) -> bool:
        return not (self.in_function or self.for_typing)

    @property
    def place(self) -> str:
        return f"{self.importer}, line {self.line}"


def module_files(package: Path) -> dict[str, Path]:
    """Map each dotted module name under `package` to its file."""
    files = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(package.parent).with_suffix("").parts
        files[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return files


def layer_of(module: str) -> int:
    """Position in `LAYERS`; the top level itself stands after all of them."""
    parts = module.split(".")
    return LAYERS.index(parts[1]) if len(parts) > 1 and parts[1] in LAYERS else len(LAYERS)


class ImportReader(ast.NodeVisitor):
    """Collects every import of one module, those inside functions and given as text included."""

    def __init__(self, module: str, path: Path, modules: Mapping[str, Path]) -> None:
        self.module = module
        self.package = module if path.name == "__init__.py" else module.rpartition(".")[0]
        self.modules = modules
        self.found: list[Import] = []
        self._functions = 0
        self._typing = 0
        self.visit(ast.parse(path.read_text(encoding="utf-8"), filename=str(path)))

    def _add(self, node: ast.stmt | ast.expr, target: str, *, star: bool = False) -> None:
        when = {"in_function": self._functions > 0, "for_typing": self._typing > 0}
        self.found.append(Import(self.module, node.lineno, target, **when, star=star))

    def _visit_function(self, node: ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) -> None:
        self._functions += 1
        self.generic_visit(node)
        self._functions -= 1

    visit_FunctionDef = visit_AsyncFunctionDef = visit_Lambda = _visit_function  # noqa: N815 - names set by ast

    def visit_If(self, node: ast.If) -> None:
        typing_only = ast.unparse(node.test) in {"TYPE_CHECKING", "typing.TYPE_CHECKING"}
        self._typing += typing_only
        for statement in node.body:
            self.visit(statement)
        self._typing -= typing_only
        for statement in node.orelse:
            self.visit(statement)

    def visit_Import(self, node: ast.Import) -> None:
        for alias in node.names:
            self._add(node, alias.name)

    def visit_ImportFrom(self, node: ast.ImportFrom) -> None:
        source = self._absolute("." * node.level + (node.module or ""))
        for alias in node.names:
            whole = f"{source}.{alias.name}"
            # `from package import module` imports the module, not the package's list of names.
            is_module = whole in self.modules or whole in HEAVY
            self._add(node, whole if is_module else source, star=alias.name == "*")

    def visit_Call(self, node: ast.Call) -> None:
        name = ast.unparse(node.func).rpartition(".")[2]
        if name in {"import_module", "__import__"} and node.args:
            text = self._known_text(node.args[0])
            self._add(node, self._absolute(text) if text else "?")
        self.generic_visit(node)

    @staticmethod
    def _known_text(argument: ast.expr) -> str:
        """Return the name, of f"package.{module}" the package, and "" where none can be read."""
        if isinstance(argument, ast.JoinedStr):
            first = argument.values[0] if argument.values else None
            return str(first.value).rpartition(".")[0] if isinstance(first, ast.Constant) else ""
        return str(argument.value) if isinstance(argument, ast.Constant) else ""

    def _absolute(self, name: str) -> str:
        """Resolve leading dots against the package this module lies in."""
        bare = name.lstrip(".")
        level = len(name) - len(bare)
        if level == 0:
            return bare
        parts = self.package.split(".")
        base = parts[: len(parts) - (level - 1)]
        return ".".join([*base, bare] if bare else base)


def read_imports(files: Mapping[str, Path]) -> list[Import]:
    """All imports of all modules, in order of module and line."""
    return [
        found for module, path in files.items() for found in ImportReader(module, path, files).found
    ]


def within(module: str, package: str) -> bool:
    return module == package or module.startswith(f"{package}.")


def layer_faults(imports: list[Import]) -> Iterator[str]:
    for found in imports:
        if found.target == "?":
            yield f"{found.place}: imports a module whose name cannot be read here"
        if not within(found.target, ROOT) or layer_of(found.target) <= layer_of(found.importer):
            continue
        door = found.importer == DOOR and within(found.target, f"{ROOT}.{BEHIND_DOOR}")
        if not (door and found.in_function):
            yield f"{found.place}: imports {found.target}, which is a later layer"


def heavy_faults(imports: list[Import]) -> Iterator[str]:
    for found in imports:
        if found.at_import_time and any(within(found.target, heavy) for heavy in HEAVY):
            yield f"{found.place}: imports {found.target} outside the function that uses it"


def star_faults(imports: list[Import]) -> Iterator[str]:
    for found in imports:
        if found.star:
            yield f"{found.place}: imports * from {found.target}"


def cycle_faults(imports: list[Import], files: Mapping[str, Path]) -> Iterator[str]:
    graph: dict[str, set[str]] = {module: set() for module in files}
    for found in imports:
        target = found.target
        # The parent packages that Python runs first do not count: they are already there,
        # half made, when one of their modules imports its neighbour. An import inside a function
        # or for types alone does count: it works, but ties the two together all the same.
        if found.importer != DOOR and target in files and target != found.importer:
            graph[found.importer].add(target)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        yield "circular import: " + " <- ".join(error.args[1])


def file_faults(files: Mapping[str, Path]) -> Iterator[str]:
    for module, path in files.items():
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > MOST_LINES:
            yield f"{module}: {lines} lines, more than {MOST_LINES}"
        if module.rpartition(".")[2].strip("_") in VAGUE_NAMES:
            yield f"{module}: the name says nothing about the subject"
        if layer_of(module) == len(LAYERS) and module not in TOP_MODULES:
            yield f"{module}: lies in none of the layers {', '.join(LAYERS)}"


def faults(package: Path) -> list[str]:
    """Everything wrong with the shape of `package`."""
    files = module_files(package)
    imports = read_imports(files)
    return [
        *layer_faults(imports),
        *heavy_faults(imports),
        *star_faults(imports),
        *cycle_faults(imports, files),
        *file_faults(files),
    ]


def test_every_layer_is_there() -> None:
    # Without this, a moved package would leave the next test with nothing to read.
    assert set(LAYERS) <= {name.split(".")[1] for name in module_files(PACKAGE) if "." in name}


def test_the_package_keeps_its_shape() -> None:
    found = faults(PACKAGE)
    assert not found, "\n".join(["", *found])


# --- the checker itself, on small trees ---

GOOD = {
    "__init__.py": "from flowunc.core import Quantity\nfrom flowunc.fluids import water\n",
    "__main__.py": "from flowunc.bench.run import main\nmain()\n",
    "core/__init__.py": "from flowunc.core.quantity import Quantity\n",
    "core/quantity.py": (
        "from typing import TYPE_CHECKING\n"
        "from . import units\n"
        "if TYPE_CHECKING:\n"
        "    import pandas\n"
        "    from flowunc.core.engine import run\n"
        "class Quantity: ...\n"
    ),
    "core/units.py": "import numpy\nimport scipy.constants\n",
    "core/engine.py": (
        "from flowunc.core.quantity import Quantity\n"
        "def run(quantity):\n"
        "    from flowunc.propagation.linear import evaluate\n"
        "    import importlib, pandas\n"
        "    importlib.import_module(f'flowunc.propagation.{quantity}')\n"
        "    return evaluate(quantity)\n"
    ),
    "propagation/__init__.py": "from .linear import evaluate\n",
    "propagation/linear.py": "from ..core.quantity import Quantity\ndef evaluate(q): ...\n",
    "fluids/__init__.py": "from flowunc.fluids import water\n",
    "fluids/water.py": "from flowunc.core import Quantity\n",
    "bench/__init__.py": "",
    "bench/run.py": "import flowunc.fluids.water as water\ndef main(): ...\n",
}

BAD = {
    "later layer": (
        {"core/new.py": "from flowunc.propagation import evaluate\n"},
        "flowunc.core.new, line 1: imports flowunc.propagation, which is a later layer",
    ),
    "later layer, plain import": (
        {"propagation/new.py": "import json, flowunc.bench.run as run\n"},
        "flowunc.propagation.new, line 1: imports flowunc.bench.run, which is a later layer",
    ),
    "later layer, relative": (
        {"core/new.py": "from ..fluids import water\n"},
        "flowunc.core.new, line 1: imports flowunc.fluids.water, which is a later layer",
    ),
    "later layer, in a method": (
        {"fluids/new.py": "class A:\n  def f(self):\n    import flowunc.bench\n"},
        "flowunc.fluids.new, line 3: imports flowunc.bench, which is a later layer",
    ),
    "later layer, for typing": (
        {"core/new.py": "if TYPE_CHECKING:\n    from flowunc.fluids import water\n"},
        "flowunc.core.new, line 2: imports flowunc.fluids.water, which is a later layer",
    ),
    "later layer, by text": (
        {"core/new.py": "import importlib\nimportlib.import_module('flowunc.bench')\n"},
        "flowunc.core.new, line 2: imports flowunc.bench, which is a later layer",
    ),
    "later layer, by formatted text": (
        {"core/new.py": "def f(name):\n    import_module(f'flowunc.bench.{name}')\n"},
        "flowunc.core.new, line 2: imports flowunc.bench, which is a later layer",
    ),
    "layer by formatted text": (
        {"core/new.py": "def f(name):\n    import_module(f'flowunc.{name}')\n"},
        "flowunc.core.new, line 2: imports flowunc, which is a later layer",
    ),
    "computed text": (
        {"core/new.py": "def f(name):\n    return __import__(name)\n"},
        "flowunc.core.new, line 2: imports a module whose name cannot be read here",
    ),
    "the top level from inside": (
        {"fluids/new.py": "from flowunc import Quantity\n"},
        "flowunc.fluids.new, line 1: imports flowunc, which is a later layer",
    ),
    "the door, but at import time": (
        {"core/engine.py": "from flowunc.propagation.linear import evaluate\n"},
        "flowunc.core.engine, line 1: imports flowunc.propagation.linear, which is a later layer",
    ),
    "the door, but into another room": (
        {"core/engine.py": "def f():\n    from flowunc.fluids import water\n"},
        "flowunc.core.engine, line 2: imports flowunc.fluids.water, which is a later layer",
    ),
    "another door": (
        {"core/new.py": "def f():\n    from flowunc.propagation import linear\n"},
        "flowunc.core.new, line 2: imports flowunc.propagation.linear, which is a later layer",
    ),
    "cycle of two": (
        {"core/units.py": "from flowunc.core.quantity import Quantity\n"},
        "circular import: flowunc.core.",
    ),
    "cycle at first use": (
        {"core/units.py": "def f():\n    from flowunc.core.quantity import Quantity\n"},
        "circular import: flowunc.core.",
    ),
    "cycle for types": (
        {
            "core/units.py": "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n"
            "    from flowunc.core.quantity import Quantity\n"
        },
        "circular import: flowunc.core.",
    ),
    "cycle through the package": (
        {"propagation/linear.py": "try:\n    from . import evaluate\nfinally: ...\n"},
        "circular import: flowunc.propagation",
    ),
    "star": (
        {"bench/run.py": "from flowunc.core import *\n"},
        "flowunc.bench.run, line 1: imports * from flowunc.core",
    ),
    "heavy": (
        {"bench/run.py": "from scipy import stats\n"},
        "flowunc.bench.run, line 1: imports scipy.stats outside the function that uses it",
    ),
    "too long": (
        {"bench/run.py": "x = 1\n" * 401},
        "flowunc.bench.run: 401 lines, more than 400",
    ),
    "vague module": (
        {"bench/_utils.py": ""},
        "flowunc.bench._utils: the name says nothing about the subject",
    ),
    "vague package": (
        {"bench/helpers/__init__.py": ""},
        "flowunc.bench.helpers: the name says nothing about the subject",
    ),
    "no layer": (
        {"extras/__init__.py": ""},
        "flowunc.extras: lies in none of the layers",
    ),
}


def write_tree(folder: Path, files: Mapping[str, str]) -> Path:
    for name, text in files.items():
        path = folder / ROOT / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder / ROOT


def test_a_good_tree_passes(tmp_path: Path) -> None:
    assert faults(write_tree(tmp_path, GOOD)) == []


@pytest.mark.parametrize("case", BAD)
def test_a_bad_tree_fails_with_that_one_fault(case: str, tmp_path: Path) -> None:
    change, expected = BAD[case]
    found = faults(write_tree(tmp_path, GOOD | change))
    assert len(found) == 1, found
    assert found[0].startswith(expected)
