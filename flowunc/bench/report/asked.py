"""What a report asks of the runs: every result of one level, number of draws and seed, once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, TypedDict, TypeVar

import numpy as np

from flowunc.analysis.agreement import Agreement
from flowunc.bench.checks.consistency import Consistency
from flowunc.bench.conclusions import RunLine
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_text import EXAMPLE
from flowunc.core.errors import FlowuncError
from flowunc.propagation.cross_check import CrossCheck

__all__ = ["MOST_ROWS", "Asked", "file_name", "is_invented"]

T = TypeVar("T")

_IN_PYTHON = "<bench>"  # what a bench has for a file that was not read from one
K = 2.0  # of all comparisons
MOST_ROWS = 300  # of one table


class Draws(TypedDict):
    """What every method takes that needs draws."""

    trials: int
    seed: int


@dataclass(frozen=True, eq=False)
class Asked:
    """Runs, and what is asked about them.

    Attributes
    ----------
    runs : Runs
    level : float
    trials, seed : int
    same_flow : tuple of sequences of str
        As for `flowunc.consistency`.
    run : str
        Label of the run that is shown in full; chosen here if "".
    """

    runs: RunDecisions
    level: float
    trials: int
    seed: int
    same_flow: tuple[Sequence[str | int], ...] = ()
    run: str = ""

    @property
    def draws(self) -> Draws:
        """What every method takes that needs draws."""
        return Draws(trials=self.trials, seed=self.seed)

    @cached_property
    def lines(self) -> tuple[RunLine, ...]:
        """What is concluded for each run."""
        return self.runs.lines(level=self.level, **self.draws)

    def check(self, of: str) -> CrossCheck:
        """Return the cross-check of one result."""
        return self.runs.cross_check(of, level=self.level, **self.draws)

    @cached_property
    def place(self) -> int:
        """Where the run stands that is shown in full.

        Of those where value ± U holds, the one whose f is known worst: there is most to see.
        """
        if self.run:
            return self.runs.position(self.run)
        f, u = np.asarray(self.runs.friction.value), np.asarray(self.runs.friction.u)
        relative = np.abs(u / np.where(f == 0, np.nan, f))
        relative = np.nan_to_num(relative, nan=-1.0)
        holds = self.check("friction").holds
        return int(np.argmax(np.where(holds, relative, -1.0) if holds.any() else relative))

    @property
    def label(self) -> str:
        """Label of that run."""
        return self.runs.labels[self.place]

    @cached_property
    def compared(self) -> int:
        """How many runs have a law."""
        return int(self.runs.laws(**self.draws).compared.size)

    @cached_property
    def agreement(self) -> Agreement | str:
        """The runs that have a law, held against it; or why not."""
        if not self.compared:
            return "No run has a law that it could be held against, for the reasons given above."
        return self.attempt(lambda: self.runs.agreement(k=K, **self.draws))

    @cached_property
    def consistency(self) -> Consistency | str:
        """The readings held against each other; or why not."""
        return self.attempt(
            lambda: self.runs.consistency(same_flow=self.same_flow, k=K, **self.draws)
        )

    def regime_rows(self, regime: str) -> tuple[str, ...]:
        """Return the labels of the runs whose most probable regime it is."""
        return tuple(line.run for line in self.lines if line.regime == regime)

    def attempt(self, ask: Callable[[], T]) -> T | str:
        """Return what is found, or in one sentence why nothing could be."""
        try:
            return ask()
        except (FlowuncError, np.linalg.LinAlgError) as error:
            reason = str(error).replace(self.runs.sheet.file, file_name(self.runs.sheet.file))
            reason = reason.replace(self.runs.bench.file, file_name(self.runs.bench.file))
            return f"This could not be computed: {reason}."


def file_name(file: str) -> str:
    """Return the name of a file without its folder: where it lay is nobody's business.

    Examples
    --------
    >>> file_name("course/week 3/sheet.csv")
    'sheet.csv'
    """
    if file == _IN_PYTHON:
        return "described in Python"
    return file.replace("\\", "/").rstrip("/").rpartition("/")[2] or file


def is_invented(file: str) -> bool:
    """Tell whether a file is one of the invented example, or a copy of one."""
    path = Path(file)
    try:
        if not path.is_file():
            return False
        data = path.read_bytes()
        return any(found.read_bytes() == data for found in _example_files())
    except (OSError, ValueError):  # ValueError: a path with a zero byte
        return False


def _example_files() -> list[Any]:
    return [found for found in sorted(EXAMPLE.iterdir()) if found.suffix in (".csv", ".toml")]
