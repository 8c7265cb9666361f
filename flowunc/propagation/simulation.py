"""Runs a record over blocks of trials: moments, draws kept or drawn again, poles seen.

`Simulation` is the machinery under `monte_carlo`: it knows nodes and rows, not quantities.
Blocks are independent of each other and may run on several threads; their results are merged
in the order of the blocks, so the number of threads changes no bit.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import reduce
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.core import memory
from flowunc.core.errors import PropagationError
from flowunc.core.record import (
    FlatRecord,
    Node,
    from_flat,
    to_flat,
    topological_order,
)
from flowunc.propagation.crew import Crew, go_on
from flowunc.propagation.draws import BLOCK, BlockDraws, Places
from flowunc.propagation.evaluation import Program, Signs, compile_rows
from flowunc.propagation.moments import Moments
from flowunc.propagation.pieces import rows_of

__all__ = ["Simulation"]

Values = NDArray[np.float64]
Rows = NDArray[np.intp]

ALONE = Crew()
GROUP = 65_536  # values of one intermediate result: 512 kB, so that a few stay in cache
BESIDE_OTHERS = 4  # so much longer with several threads: each step has to ask for the lock again
WIDEST = 1 << 21  # values of the widest intermediate result: bounds memory for long sums


@dataclass
class Group:
    """Some rows computed together: their program and where each result belongs."""

    program: Program
    places: list[tuple[int, Rows, Rows]]  # node id, positions in the result, rows picked


@dataclass
class Plan:
    """What a pass over the blocks computes."""

    groups: list[Group]
    ready: list[tuple[Rows, int]]  # position and node id of scalars
    fixed: list[tuple[Rows, Values]]  # position and value of what has no uncertainty
    keep: bool  # draws are asked for more than once


class BlockResult(NamedTuple):
    """What one block says: moments of all rows, signs seen, and the draws if asked for."""

    moments: Moments
    signs: Signs
    draws: Values | None


class _Thread(threading.local):
    """What a thread keeps from block to block."""

    def __init__(self) -> None:
        self.pool = memory.Pool()


class Simulation:
    """Draws of several nodes together.

    Parameters
    ----------
    outputs : list of Node
    seed : int
    group : int
        Values of one intermediate result (rows times trials); changes speed only.
    """

    def __init__(self, outputs: list[Node], seed: int, *, group: int = GROUP) -> None:
        self.outputs = outputs
        self.seed = seed
        self.group = group
        self.bounds = np.cumsum([0] + [rows_of(node) for node in outputs])
        self.order = topological_order(outputs)
        self.places = Places(self.order)
        scalars = [node for node in self.order if node.active and node.size is None]
        self._ready = {id(node) for node in scalars}
        first = np.zeros(1, dtype=np.intp)
        self._scalar_program = compile_rows(
            self.order, {id(node): (node, first) for node in scalars}, set()
        )
        self._piece = int(np.clip(WIDEST // self._scalar_program.widest, 64, BLOCK))
        self._plans: dict[tuple[tuple[int, ...] | None, int], Plan] = {}
        self._thread = _Thread()

    def __reduce__(self) -> tuple[Any, ...]:
        return _restored, (to_flat(self.outputs), self.seed, self.group)

    @property
    def rows(self) -> int:
        """Rows of all outputs together."""
        return int(self.bounds[-1])

    def moments(
        self,
        trials: int,
        keep: Values | None = None,
        first_block: int = 0,
        crew: Crew = ALONE,
    ) -> tuple[Moments, Signs]:
        """Draw all rows, from block ``first_block`` on up to ``trials`` in all.

        ``keep``, shape (rows, trials drawn here), receives the draws.
        """
        origin = first_block * BLOCK
        blocks = range(first_block, -(-trials // BLOCK))
        plan = self._plan(None, trials, crew.workers)  # before threads would each lay it out

        def here(block: int) -> BlockResult:
            start = block * BLOCK - origin
            own = None if keep is None else keep[:, start : start + BLOCK]
            return BlockResult(*self._block(block, trials, plan, own), None)

        merged: Moments | None = None
        signs = Signs()
        with self._scratch():
            found = crew.run(self, "block", blocks, trials, keep is not None, here=here)
            for block, result in zip(blocks, found, strict=True):
                merged = result.moments if merged is None else merged.merge(result.moments)
                signs.merge(result.signs)
                if keep is not None and result.draws is not None:
                    start = block * BLOCK - origin
                    keep[:, start : start + result.draws.shape[1]] = result.draws
        if merged is None:
            raise PropagationError(f"no trials from block {first_block} up to {trials}")
        return merged, signs

    def block(self, block: int, trials: int, with_draws: bool) -> BlockResult:
        """Draw one block in another process, where there is no common memory to write into."""
        size = min(BLOCK, trials - block * BLOCK)
        draws = np.empty((self.rows, size)) if with_draws else None
        plan = self._plan(None, trials)
        return BlockResult(*self._block(block, trials, plan, draws), draws)

    def _block(
        self, block: int, trials: int, plan: Plan, draws: Values | None
    ) -> tuple[Moments, Signs]:
        """Draw one block; ``draws``, shape (rows, trials of the block), receives the draws."""
        first = block * BLOCK
        signs = Signs()
        pieces: dict[int, Moments] = {}
        for start, stop, positions, values in self._run(block, trials, plan, signs):
            if start not in pieces:
                pieces[start] = Moments.empty(self.rows, stop - start)
            if draws is not None:
                draws[_run_of(positions), start - first : stop - first] = values
            pieces[start].fill(positions, values)
        for positions, value in plan.fixed:
            for piece in pieces.values():
                piece.fill_certain(positions, value)
        return reduce(Moments.merge, pieces.values()), signs

    def draw_rows(self, rows: list[int], trials: int, crew: Crew = ALONE) -> Values:
        """Draw some rows (counted over all outputs) again, shape (len(rows), trials)."""
        result = np.empty((len(rows), trials))
        blocks = range(-(-trials // BLOCK))
        chosen = tuple(rows)
        plan = self._plan(chosen, trials, crew.workers)  # before threads would each lay it out

        def here(block: int) -> Values:
            return self._block_rows(block, trials, plan, len(chosen))

        with self._scratch():
            found = crew.run(self, "block_rows", blocks, trials, chosen, here=here)
            for block, draws in zip(blocks, found, strict=True):
                result[:, block * BLOCK : block * BLOCK + draws.shape[1]] = draws
        return result

    def block_rows(self, block: int, trials: int, rows: tuple[int, ...]) -> Values:
        """Draw one block of some rows in another process, shape (len(rows), its trials)."""
        return self._block_rows(block, trials, self._plan(rows, trials), len(rows))

    def _block_rows(self, block: int, trials: int, plan: Plan, rows: int) -> Values:
        first = block * BLOCK
        result = np.empty((rows, min(BLOCK, trials - first)))
        for start, stop, positions, values in self._run(block, trials, plan, Signs()):
            result[_run_of(positions), start - first : stop - first] = values
        return result

    @contextmanager
    def _scratch(self) -> Iterator[None]:
        """Drop the arrays that threads kept from block to block when all blocks are done."""
        try:
            yield
        finally:
            self._thread = _Thread()

    def _plan(self, rows: tuple[int, ...] | None, trials: int, threads: int = 1) -> Plan:
        """Return the plan for some rows (all of them if None), laid out once."""
        most = self.group if threads == 1 else self.group * BESIDE_OTHERS
        group = max(1, most // min(self._piece, trials))
        key = (rows, group)
        plan = self._plans.get(key)
        if plan is None:
            chosen = list(range(self.rows)) if rows is None else list(rows)
            plan = self._plans[key] = self._laid_out(chosen, group)
        return plan

    def _laid_out(self, rows: list[int], group: int) -> Plan:
        """Lay the rows out in groups that fit the cache; equal readings share a group."""
        fixed: list[tuple[Rows, Values]] = []
        ready: list[tuple[Rows, int]] = []
        wanted: dict[int, dict[int, list[tuple[int, int]]]] = {}
        for position, row in enumerate(rows):
            which = int(np.searchsorted(self.bounds, row, side="right")) - 1
            node, reading = self.outputs[which], row - int(self.bounds[which])
            if not node.active:
                fixed.append((np.array([position]), np.atleast_1d(node.value)[reading]))
            elif node.size is None:
                ready.append((np.array([position]), id(node)))
            else:
                wanted.setdefault(node.size, {}).setdefault(reading, []).append((which, position))
        groups = []
        for readings in wanted.values():
            ordered = sorted(readings)
            for begin in range(0, len(ordered), group):
                groups.append(self._one_group(readings, ordered[begin : begin + group]))
        return Plan(groups, ready, fixed, self._drawn_twice(groups))

    def _one_group(self, readings: dict[int, list[tuple[int, int]]], chosen: list[int]) -> Group:
        by_output: dict[int, list[tuple[int, int]]] = {}
        for reading in chosen:
            for which, position in readings[reading]:
                by_output.setdefault(which, []).append((reading, position))
        wanted: dict[int, tuple[Node, Rows]] = {}
        for which, pairs in by_output.items():
            node = self.outputs[which]
            need = np.array([reading for reading, _ in pairs])
            if id(node) in wanted:  # one quantity may stand twice among the outputs
                need = np.union1d(wanted[id(node)][1], need)
            wanted[id(node)] = (node, need)
        program = compile_rows(self.order, wanted, self._ready)
        places = []
        for which, pairs in by_output.items():
            key = id(self.outputs[which])
            held = program.outputs[key][1]
            picked = np.searchsorted(held, [reading for reading, _ in pairs])
            places.append((key, np.array([position for _, position in pairs]), picked))
        return Group(program, places)

    def _drawn_twice(self, groups: list[Group]) -> bool:
        """Tell whether any reading of a component is asked for by more than one step."""
        asked: dict[int, list[Rows]] = {}
        for program in [self._scalar_program, *(group.program for group in groups)]:
            for component, rows in program.drawn():
                if component.scope == "each":
                    asked.setdefault(self.places.components[component], []).append(rows)
        for lists in asked.values():
            if len(lists) > 1:
                joined = np.concatenate(lists)
                if np.unique(joined).size < joined.size:
                    return True
        return False

    def _run(
        self, block: int, trials: int, plan: Plan, signs: Signs
    ) -> Iterator[tuple[int, int, Rows, Values]]:
        """Yield (first trial, end, positions, draws) group by group, piece by piece."""
        with memory.reuse(self._thread.pool):
            draws = BlockDraws(self.places, self.seed, block, keep=plan.keep)
            end = min((block + 1) * BLOCK, trials)
            for start in range(block * BLOCK, end, self._piece):
                stop = min(start + self._piece, end)
                with np.errstate(all="ignore"):
                    ready = self._scalar_program.run(draws, stop - start, {}, signs)
                    for positions, value in plan.fixed:
                        yield start, stop, positions, np.full((1, stop - start), value)
                    for positions, key in plan.ready:
                        yield start, stop, positions, ready[key].copy()
                    for group in plan.groups:
                        go_on()
                        results = group.program.run(draws, stop - start, ready, signs)
                        for key, positions, picked in group.places:
                            values = results[key]
                            whole = picked.size == values.shape[0] and len(group.places) == 1
                            yield start, stop, positions, values if whole else values[picked]
                        memory.release(*results.values())
                memory.release(*ready.values())
                draws.forget()


def _run_of(positions: Rows) -> slice | Rows:
    """Return positions as a slice where they follow each other: copied without the lock."""
    first, last = int(positions[0]), int(positions[-1])
    if last - first == positions.size - 1 and bool(np.all(np.diff(positions) == 1)):
        return slice(first, last + 1)
    return positions


def _restored(flat: FlatRecord, seed: int, group: int) -> Simulation:
    return Simulation(from_flat(flat), seed, group=group)
