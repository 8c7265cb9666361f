"""What all of these tests ask: a right answer, or a reason that a user can act on."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import flowunc.bench
from flowunc import Bench, FlowuncError, FlowuncWarning, load_bench

LONGEST_MESSAGE = 1_500  # characters: nobody reads more, and a hostile cell must not come back


def attempt(make: Callable[[], Any]) -> tuple[Any, FlowuncError | None]:
    """Return what was made, or why not; any other error or warning goes through."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", FlowuncWarning)
        try:
            return make(), None
        except FlowuncError as error:
            found = error
    assert 0 < len(str(found).strip()) <= LONGEST_MESSAGE
    return None, found


@pytest.fixture(scope="session")
def answer() -> Callable[[Callable[[], Any]], tuple[Any, FlowuncError | None]]:
    return attempt


@pytest.fixture(scope="session")
def example() -> Path:
    return Path(flowunc.bench.__file__).parent / "example"


@pytest.fixture(scope="session")
def bench(example: Path) -> Bench:
    return load_bench(example / "bench.toml")
