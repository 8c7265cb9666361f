"""The docstring of each package is its map: it names the modules that exist, and no others.

Names count where they start a line, as entries of a table or of a list: ``name`` in backticks
and two spaces or more, or a dash, one or several names and a colon.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "flowunc"
# The top package is left out: its docstring is for users and names what they import.
PACKAGES = sorted(path.parent for path in PACKAGE.glob("*/**/__init__.py"))
ENTRY = re.compile(r"^(?:`(\w+)`  |- (`\w+`(?:, `\w+`)*):)", re.MULTILINE)


def mapped(docstring: str) -> list[str]:
    return [
        name
        for row, listed in ENTRY.findall(docstring)
        for name in ([row] if row else re.findall(r"\w+", listed))
    ]


def modules(folder: Path) -> set[str]:
    packages = {path.parent.name for path in folder.glob("*/__init__.py")}
    return {path.stem for path in folder.glob("*.py")} - {"__init__"} | packages


@pytest.mark.parametrize("folder", PACKAGES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_map_names_the_modules_that_exist(folder: Path) -> None:
    text = (folder / "__init__.py").read_text(encoding="utf-8")
    names = mapped(ast.get_docstring(ast.parse(text)) or "")
    assert len(set(names)) == len(names), "a module stands in the map twice"
    missing, surplus = sorted(modules(folder) - set(names)), sorted(set(names) - modules(folder))
    assert (missing, surplus) == ([], []), f"not in the map: {missing}; no such module: {surplus}"


def test_every_kind_of_entry_is_read() -> None:
    docstring = "`a`    one of `x`\n`not` an entry\n- `b`: one\n"
    docstring += "- `c`, `d`: two of `y`\n`z`: prose\n"
    assert mapped(docstring) == ["a", "b", "c", "d"]


def test_modules_and_packages_are_found(tmp_path: Path) -> None:
    for name in ("__init__.py", "a.py", "b/__init__.py", "b/c.py", "data/d.csv"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    assert modules(tmp_path) == {"a", "b"}
