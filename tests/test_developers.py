"""The recipes of DEVELOPERS.md run as they stand, and the modules it names exist."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
RECIPES = re.findall(r"^```python\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)
FILES = sorted(set(re.findall(r"[` ]((?:[a-z_]+/)*[a-z_*]+\.(?:py|md))`", TEXT)))
IN_PICTURE = sorted(set(re.findall(r" ((?:core|propagation)/[a-z_]+)(?= |:)", TEXT)))


def test_recipes_and_names_are_found() -> None:
    assert len(RECIPES) == TEXT.count("```python") >= 5
    assert {"tests/test_layers.py", "core/engine.py", "*_table.py"} <= set(FILES)
    assert {"core/record", "core/rules", "propagation/cross_check"} <= set(IN_PICTURE)


@pytest.mark.parametrize("recipe", RECIPES, ids=range(1, len(RECIPES) + 1))
def test_recipe_runs_as_it_stands(recipe: str, monkeypatch: pytest.MonkeyPatch) -> None:
    module = ModuleType("recipe")  # a real one, as dataclasses look up the module of a class
    monkeypatch.setitem(sys.modules, module.__name__, module)
    exec(compile(recipe, "DEVELOPERS.md", "exec"), vars(module))


@pytest.mark.parametrize("name", [*FILES, *IN_PICTURE])
def test_what_is_named_exists(name: str) -> None:
    file = name if "." in name else f"{name}*"
    assert [*ROOT.glob(file), *ROOT.glob(f"flowunc/**/{file}"), *ROOT.glob(f"tests/**/{file}")]
