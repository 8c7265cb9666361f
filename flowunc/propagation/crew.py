"""Who runs the blocks of a simulation: this thread, several threads, or any executor.

Blocks are independent and their results are merged in the order of the blocks, so who runs
them changes no bit. An executor of `concurrent.futures` (a process pool, or what a cluster's
client gives) gets a few runs of blocks for each of its workers, the pickled simulation with each
run; a process unpickles it once and sends results back.
"""

from __future__ import annotations

import functools
import pickle
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar

from flowunc.core.errors import BlockError, PropagationError, RangeError, StatementError
from flowunc.propagation.draws import BLOCK, check_workers
from flowunc.propagation.progress import Progress

__all__ = ["Crew", "check_executor", "go_on"]

Result = TypeVar("Result")

RUNS_PER_WORKER = 4  # few, as each carries the record; several, so that no worker waits long
MOST_RUNS = 64  # where an executor does not say how many workers it has


class _Duty(threading.local):
    """Why a thread of a crew is to leave off: no reason as long as it is not."""

    reasons: list[BaseException] | None = None

    def begin(self, reasons: list[BaseException]) -> None:
        self.reasons = reasons


_duty = _Duty()


def go_on() -> None:
    """Leave off in a thread whose results nobody waits for any more; elsewhere do nothing."""
    if _duty.reasons:
        raise _duty.reasons[0]


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
    progress : Progress, optional
        Told of every block.
    """

    workers: int = 1
    executor: Executor | None = None
    progress: Progress | None = None

    def __post_init__(self) -> None:
        check_workers(self.workers)
        check_executor(self.executor)
        if self.workers > 1 and self.executor is not None:
            raise StatementError(
                f"workers={self.workers} and executor={self.executor!r}: give one of the two; an "
                "executor has workers of its own"
            )

    def expect(self, trials: int) -> None:
        """Say how many trials it will be, where that shows only on the way."""
        if self.progress is not None:
            self.progress.expect(trials)

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
        results: Iterator[tuple[int, Any]]
        if self.executor is not None:
            results = self._from_executor(
                self.executor, simulation, method, blocks, trials, arguments
            )
        elif self.workers == 1 or len(blocks) == 1:
            results = ((block, here(block)) for block in blocks)
        else:
            results = self._from_threads(here, blocks, trials)
        for block, result in results:
            if self.progress is not None:
                self.progress.advance(min((block + 1) * BLOCK, trials) - block * BLOCK)
            yield result

    def _from_threads(
        self, here: Callable[[int], Any], blocks: range, trials: int
    ) -> Iterator[tuple[int, Any]]:
        reasons: list[BaseException] = []
        pool = ThreadPoolExecutor(self.workers, initializer=_duty.begin, initargs=(reasons,))
        futures = {}
        try:
            for block in blocks:
                futures[range(block, block + 1)] = pool.submit(_listed, here, block)
            yield from _gathered(futures, trials)
        finally:
            reasons.append(CancelledError())  # Ctrl-C does not wait for the blocks in the making
            pool.shutdown(wait=True, cancel_futures=True)

    def _from_executor(
        self,
        executor: Executor,
        simulation: Any,
        method: str,
        blocks: range,
        trials: int,
        arguments: tuple[Any, ...],
    ) -> Iterator[tuple[int, Any]]:
        payload = pickle.dumps(simulation)
        futures: dict[range, Future[list[Any]]] = {}
        try:
            for run in _runs(blocks, executor):
                futures[run] = executor.submit(_elsewhere, payload, method, run, trials, arguments)
        except RuntimeError as error:  # shut down, or broken by what it did before
            for future in futures.values():
                future.cancel()
            raise PropagationError(
                f"executor={executor!r} takes no work ({type(error).__name__}: {error}): give one "
                "that is running"
            ) from error
        try:
            yield from _gathered(futures, trials)
        finally:
            _simulation.cache_clear()  # threads of this process keep nothing of the user's


def _runs(blocks: range, executor: Executor) -> list[range]:
    """Cut the blocks into a few runs for each worker."""
    workers = getattr(executor, "_max_workers", None)
    most = RUNS_PER_WORKER * workers if isinstance(workers, int) else MOST_RUNS
    length = -(-len(blocks) // most)
    return [blocks[start : start + length] for start in range(0, len(blocks), length)]


def _gathered(futures: dict[range, Future[list[Any]]], trials: int) -> Iterator[tuple[int, Any]]:
    try:
        for run in list(futures):
            try:
                results = futures.pop(run).result()
            except BlockError as error:
                raise PropagationError(str(error)) from (error.__cause__ or error)
            except Exception as error:
                raise PropagationError(_failure(run, trials, error)) from error
            yield from zip(run, results, strict=True)
    finally:
        for future in futures.values():
            future.cancel()


def _failure(run: range, trials: int, error: Exception) -> str:
    first, last = run.start * BLOCK, min(run.stop * BLOCK, trials) - 1
    name = f"block {run.start}" if len(run) == 1 else f"blocks {run.start} to {run.stop - 1}"
    return (
        f"{name} (trials {first} to {last}) failed in a worker: "
        f"{type(error).__name__}: {error}; a partial result is not given"
    )


def _listed(here: Callable[[int], Result], block: int) -> list[Result]:
    try:
        return [here(block)]
    except (KeyboardInterrupt, SystemExit) as reason:
        if _duty.reasons is not None:
            _duty.reasons.append(reason)  # the others need not end what they are at
        raise


@functools.lru_cache(maxsize=4)
def _simulation(payload: bytes) -> Any:
    return pickle.loads(payload)  # what this package pickled itself a moment ago


def _elsewhere(
    payload: bytes, method: str, run: range, trials: int, arguments: tuple[Any, ...]
) -> list[Any]:
    """Run some blocks in another process."""
    draw = getattr(_simulation(payload), method)
    results = []
    for block in run:
        try:
            results.append(draw(block, trials, *arguments))
        except Exception as error:
            one = range(block, block + 1)
            raise BlockError(_failure(one, trials, error)) from error
    return results
