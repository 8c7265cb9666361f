"""The scripts in the README print what the README says they print."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_each_script_has_its_output() -> None:
    assert len(blocks("python")) == len(blocks("text")) == 2


@pytest.mark.parametrize("number", [0, 1])
def test_script_prints_the_output_shown(number: int) -> None:
    script, output = blocks("python")[number], blocks("text")[number]
    run = subprocess.run(
        [sys.executable, "-X", "utf8", "-c", script],
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert run.stdout == output
    assert run.stderr == ""


def test_commands_are_marked_for_the_ci_script() -> None:
    for name in ("main", "tests"):
        marked = re.findall(rf"<!-- command: {name} -->\n```sh\n(.+)\n```", README)
        assert len(marked) == 1
