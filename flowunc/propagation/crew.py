"""Who runs the blocks of a simulation: this thread, several threads, or any executor.

Blocks are independent and their results are merged in the order of the blocks, so who runs
them changes no bit. An executor of `concurrent.futures` (a process pool, or what a cluster's
client gives) gets the pickled simulation with every block, unpickles it once per process, and
sends results back.
"""

from __future__ import annotations

import functools
import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar

from flowunc.core.errors import PropagationError, RangeError
from flowunc.propagation.draws import BLOCK, check_workers
from flowunc.propagation.progress import Progress

__all__ = ["Crew", "check_executor"]

Result = TypeVar("Result")


def check_executor(executor: Any) -> Any:
    """Return an executor, refused unless it can submit."""
    is_class = isinstance(executor, type)  # ThreadPoolExecutor in place of ThreadPoolExecutor()
    if executor is not None and (is_class or not callable(getattr(executor, "submit", None))):
        raise RangeError(
            f"executor={executor!r}: expected an executor of concurrent.futures, such as "
            "ProcessPoolExecutor(), or an object with the same submit()"
        )
    return executor


@dataclass(frozen=True)
class Crew:
    """Threads or an executor that share the blocks.

    Attributes
    ----------
    workers : int
        Threads of this process.
    executor : Executor, optional
        In place of threads.
    progress : bool
        Show how far the draws are.
    """

    workers: int = 1
    executor: Executor | None = None
    progress: bool = False

    def __post_init__(self) -> None:
        check_workers(self.workers)
        check_executor(self.executor)

    def run(
        self,
        simulation: Any,
        method: str,
        blocks: range,
        trials: int,
        *arguments: Any,
        here: Callable[[int], Result],
    ) -> Iterator[Result]:
        """Yield the result of every block, in order.

        ``here(block)`` runs a block in this process; with an executor it is
        ``simulation.method(block, trials, *arguments)`` in another one.
        """
        total = trials - blocks.start * BLOCK
        with Progress(total, shown=self.progress) as progress:
            for block, result in self._results(simulation, method, blocks, trials, arguments, here):
                progress.advance(min((block + 1) * BLOCK, trials) - block * BLOCK)
                yield result

    def _results(
        self,
        simulation: Any,
        method: str,
        blocks: range,
        trials: int,
        arguments: tuple[Any, ...],
        here: Callable[[int], Any],
    ) -> Iterator[tuple[int, Any]]:
        if self.executor is not None:
            payload = pickle.dumps(simulation)
            futures = {
                block: self.executor.submit(_elsewhere, payload, method, block, trials, arguments)
                for block in blocks
            }
            yield from _gathered(futures, trials)
        elif self.workers == 1 or len(blocks) == 1:
            yield from ((block, here(block)) for block in blocks)
        else:
            pool = ThreadPoolExecutor(self.workers)
            try:
                yield from _gathered({block: pool.submit(here, block) for block in blocks}, trials)
            finally:
                pool.shutdown(wait=True, cancel_futures=True)


def _gathered(futures: dict[int, Future[Any]], trials: int) -> Iterator[tuple[int, Any]]:
    try:
        for block in list(futures):
            try:
                result = futures.pop(block).result()
            except Exception as error:
                first, last = block * BLOCK, min((block + 1) * BLOCK, trials) - 1
                raise PropagationError(
                    f"block {block} (trials {first} to {last}) failed in a worker: "
                    f"{type(error).__name__}: {error}; a partial result is not given"
                ) from error
            yield block, result
    finally:
        for future in futures.values():
            future.cancel()


@functools.lru_cache(maxsize=4)
def _simulation(payload: bytes) -> Any:
    return pickle.loads(payload)  # what this package pickled itself a moment ago


def _elsewhere(
    payload: bytes, method: str, block: int, trials: int, arguments: tuple[Any, ...]
) -> Any:
    """Run one block in another process."""
    return getattr(_simulation(payload), method)(block, trials, *arguments)
