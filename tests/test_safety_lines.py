"""Where mercury or glass is named as a part of a bench, it says to ask qualified staff."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

import flowunc
from flowunc.instruments import Thermometer, Vessel

PACKAGE = Path(flowunc.__file__).parent
WITH_MERCURY = [
    path.relative_to(PACKAGE.parent).with_suffix("").as_posix().replace("/", ".")
    for folder in ("instruments", "bench")
    for path in sorted((PACKAGE / folder).rglob("*.py"))
    if re.search(r"\bmercury\b", path.read_text(encoding="utf-8"), re.IGNORECASE)
]


def says(text: str) -> bool:
    words = " ".join(text.replace('"', " ").split())
    return re.search(r"local rules,? (?:and )?ask qualified staff", words) is not None


@pytest.mark.parametrize("module", WITH_MERCURY)
def test_mercury(module: str) -> None:
    path = Path(importlib.import_module(module).__file__ or "")
    assert says(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("instrument", [Thermometer, Vessel])
def test_glass(instrument: type) -> None:
    assert "Glass breaks" in (instrument.__doc__ or "")
    assert says(instrument.__doc__ or "")
