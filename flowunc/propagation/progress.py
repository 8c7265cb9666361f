"""Progress of long draws, shown when asked for: a bar where tqdm is installed, else a line."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import Any, Self

__all__ = ["Progress"]

SECONDS_BETWEEN_LINES = 0.5


class Progress:
    """Counts finished trials while a context is open; silent unless ``shown``.

    One progress serves one call of a public function, however many passes it makes.

    Parameters
    ----------
    total : int
        Trials to be drawn.
    shown : bool
    """

    def __init__(self, total: int, *, shown: bool) -> None:
        self._total = total
        self._shown = shown
        self._done = 0
        self._bar: Any = None
        self._last = 0.0
        self._longest = 0

    def __enter__(self) -> Self:
        if self._shown:
            try:
                from tqdm.auto import tqdm
            except ImportError:
                self._line()
            else:
                self._bar = tqdm(total=self._total, unit="trial", unit_scale=True)
        return self

    def advance(self, trials: int) -> None:
        """Count trials as finished."""
        self._done += trials
        if self._bar is not None:
            self._bar.update(trials)
        else:
            self._line_if_due()

    def expect(self, total: int) -> None:
        """Correct the number of trials to be drawn, where it shows only on the way."""
        if total == self._total:
            return
        self._total = total
        if self._bar is not None:
            self._bar.total = total
            self._bar.refresh()
        else:
            self._line_if_due()

    def _line_if_due(self) -> None:
        if self._shown and time.monotonic() - self._last >= SECONDS_BETWEEN_LINES:
            self._line()

    def _line(self) -> None:
        self._last = time.monotonic()
        text = f"{self._done:,} of {self._total:,} trials ({self._done / self._total:.0%})"
        # a shorter text must cover the end of a longer one
        self._longest = max(self._longest, len(text))
        sys.stderr.write(f"\r{text:<{self._longest}}")
        sys.stderr.flush()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            self._bar.close()
        elif self._shown:
            self._line()
            sys.stderr.write("\n")
