"""A few small inputs that together reach every branch that a whole corpus reaches."""

from __future__ import annotations

import sys
from pathlib import Path
from types import FrameType
from typing import Any

import flowunc

Branch = tuple[str, int, int]  # file, line before, line
PACKAGE = Path(flowunc.__file__).parent
_WATCHED = (
    str(PACKAGE / "bench"),
    str(PACKAGE / "core" / "exchange"),
    str(PACKAGE / "core" / "unit"),
)


def branches(target: str, data: bytes) -> set[Branch]:
    """Return the steps from line to line that reading an input takes."""
    import fuzz_targets

    found: set[Branch] = set()

    def watch(frame: FrameType, event: str, _: Any) -> Any:
        file = frame.f_code.co_filename
        if event != "call" or not file.startswith(_WATCHED):
            return None
        before = 0

        def step(frame: FrameType, event: str, _: Any) -> Any:
            nonlocal before
            found.add((file, before, frame.f_lineno))
            before = frame.f_lineno
            return step

        return step

    sys.settrace(watch)
    try:
        fuzz_targets.TARGETS[target](data)
    except Exception:
        found.add(("failed", 0, 0))
    finally:
        sys.settrace(None)
    return found


def distil(target: str, inputs: list[bytes], most: int) -> list[bytes]:
    """Return inputs that reach something that no smaller one does, ``most`` bytes in all."""
    from fuzz_targets import TARGETS

    assert target in TARGETS
    reached: set[Branch] = set()
    kept: list[bytes] = []
    size = 0
    for data in sorted(set(inputs), key=lambda data: (len(data), data)):
        new = branches(target, data) - reached
        if new and ("failed", 0, 0) not in new and size + len(data) <= most:
            kept.append(data)
            size += len(data)
            reached |= new
    return kept
