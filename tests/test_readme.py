"""The script in the README prints what the README says it prints."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_script_prints_the_output_shown() -> None:
    (script,) = blocks("python")
    (output,) = blocks("text")
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
