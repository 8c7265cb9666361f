"""The notebooks run from top to bottom, and print what stands in them."""

from __future__ import annotations

import contextlib
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def cells_of(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [cell for cell in found if cell["cell_type"] == "code"]


def printed_in(cell: dict[str, Any]) -> str:
    return "".join(
        "".join(output["text"])
        for output in cell["outputs"]
        if output["output_type"] == "stream" and output["name"] == "stdout"
    )


def test_there_are_five() -> None:
    assert [path.name[0] for path in NOTEBOOKS] == ["1", "2", "3", "4", "5"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_prints_what_stands_in_it(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from matplotlib import pyplot

    namespace: dict[str, Any] = {"__name__": "notebook"}
    with mpl.rc_context({"backend": "Agg"}):
        for number, cell in enumerate(cells_of(path), start=1):
            source = "".join(cell["source"])
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                exec(compile(source, f"{path.name}, code cell {number}", "exec"), namespace)
            assert out.getvalue() == printed_in(cell), f"{path.name}, code cell {number}"
        pyplot.close("all")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_outputs_are_kept_and_none_is_an_error(path: Path) -> None:
    outputs = [output for cell in cells_of(path) for output in cell["outputs"]]
    assert outputs
    assert not [o for o in outputs if o["output_type"] == "error" or o.get("name") == "stderr"]
    assert "invented" in path.read_text(encoding="utf-8")


# A slash that begins a word, or a drive: not a slash of a tag, a unit or an address.
MACHINE_PATH = re.compile(r"(?<![\w<.:/)\]²³%}$])/\w+/|\b[A-Z]:\\")


def words_of(path: Path) -> Iterator[str]:
    """Yield all sources and outputs but the pictures."""
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        yield "".join(cell["source"])
        for output in cell.get("outputs", []):
            yield "".join(output.get("text", []))
            for kind, content in output.get("data", {}).items():
                if kind.startswith("text/"):
                    yield "".join(content)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_no_path_of_a_machine_is_in_it(path: Path) -> None:
    assert [found[0] for words in words_of(path) if (found := MACHINE_PATH.search(words))] == []


@pytest.mark.parametrize("text", ["/srv/a", "'/home/me/a'", "file /Users/me", r"C:\me", "\n/usr/a"])
def test_path_of_a_machine_is_recognised(text: str) -> None:
    assert MACHINE_PATH.search(text)


def test_what_only_looks_like_a_path_is_not() -> None:
    assert not MACHINE_PATH.search("m/s, <td>1</td>, kg/(m*s), $u/k$, 64/Re, https://a.b/c/d")
