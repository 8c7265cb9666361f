"""Low-discrepancy points in place of random draws: scrambled Sobol sequences.

Points that fill the unit cube evenly find mean, standard deviation and coverage interval with
far fewer evaluations. Several independent scramblings are used, and the scatter of their
results is the numerical standard error of the pooled one [Owen 1997]. Each component turns its
coordinate into draws by its quantile function; blocks of trials bound the memory.

What is shared: every reading's own result is found with the lowest dimensions the sequence
has, because they are the best ones. Readings then use the *same* coordinates for their own
(``each``) components, so such draws of two readings must not be set side by side.
`LowDiscrepancy.joint` therefore draws anew, with dimensions of its own for every reading.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.core.component import Component, Pool
from flowunc.core.errors import PropagationError, RangeError
from flowunc.core.operations import Elementwise
from flowunc.core.record import Input, Node, topological_order
from flowunc.propagation.evaluation import Program, Rows, Signs, compile_rows
from flowunc.propagation.pieces import rows_of
from flowunc.propagation.sobol_places import (
    Address,
    Dimensions,
    by_importance,
    keys_of,
    places_of,
)
from flowunc.propagation.sobol_points import MOST_DIMENSIONS, MOST_POINTS, Block, SobolPoints

__all__ = ["SCRAMBLINGS", "LowDiscrepancy", "check_points"]

Values = NDArray[np.float64]

SCRAMBLINGS = 8
FEWEST = 64  # points of one scrambling, below which it says little about its own scatter
GROUP = 16  # readings computed together where each depends on itself alone
CACHED = 1 << 18  # values of one intermediate result: 2 MB, larger ones leave the cache
DRAWN = 1 << 21  # values of all draws of a block: 16 MB
SMALLEST_BLOCK, LARGEST_BLOCK = 1 << 10, 1 << 14  # below, calls cost more than numbers


def check_points(trials: int, scramblings: int = SCRAMBLINGS) -> int:
    """Return the number of points of one scrambling: a power of two, at least as many as asked."""
    points = 1 << (max(FEWEST, -(-trials // scramblings)) - 1).bit_length()
    if points > MOST_POINTS:
        raise RangeError(f"trials={trials}: expected at most {scramblings * MOST_POINTS} points")
    return points


class Coordinates:
    """Draws of one block of trials, from the coordinates of its points."""

    def __init__(self, points: SobolPoints, block: Block) -> None:
        self._points = points
        self._block = block
        self._places: Dimensions = {}
        self._alike: dict[tuple[str, int, int], Values] = {}
        self._own: dict[Address, Values] = {}

    def use(self, places: Dimensions) -> None:
        """Give the draws their dimensions from here on."""
        self._places = places
        self._own.clear()

    def shared(self, component: Component, count: int) -> Values:
        """Return the draws of a shared component, shape (count,)."""
        return self._draws(component, 0)

    def each(self, component: Component, readings: Rows, out: Values) -> None:
        """Fill the draws of some readings of a component, shape (readings, count)."""
        for reading, row in zip(readings.tolist(), out, strict=True):
            row[:] = self._draws(component, reading)

    def _draws(self, component: Component, reading: int) -> Values:
        pool = component.pool
        place = self._places[component.key, reading]
        beside = -1 if pool is None else self._places[keys_of(component)[1], reading]
        if component.distribution.size is None and (pool is None or np.ndim(pool.dof) == 0):
            # readings that share dimension and distribution share the draws as well
            known = component.key, place, beside
            if known not in self._alike:
                self._alike[known] = self._made(component, reading, place, beside)
            return self._alike[known]
        address = component.key, reading
        if address not in self._own:
            self._own[address] = self._made(component, reading, place, beside)
        return self._own[address]

    def _made(self, component: Component, reading: int, place: int, beside: int) -> Values:
        distribution: Any = component.distribution
        if distribution.size is not None:
            distribution = distribution.at(reading)
        draws: Values = distribution.quantile(self._points.coordinates(place, self._block))
        if component.pool is not None:
            draws = draws * self._pool_factor(component.pool, reading, beside)
        return draws

    def _pool_factor(self, pool: Pool, reading: int, place: int) -> Values:
        dof = float(pool.dof) if np.ndim(pool.dof) == 0 else float(np.ravel(pool.dof)[reading])
        coordinate = self._points.coordinates(place, self._block)
        chi_square = 2.0 * scipy.special.gammaincinv(dof / 2.0, coordinate)
        factor: Values = np.sqrt(dof / chi_square)
        return factor


@dataclass
class Group:
    """Rows of an output that are computed together."""

    program: Program
    places: Dimensions
    positions: Rows  # in the result
    picked: Rows  # of what the program gives


@dataclass
class Plan:
    """How the rows of one output are computed: scalars first, which serve all of them."""

    output: Node
    scalars: Program
    common: Dimensions
    groups: list[Group]

    def fill(self, draws: Coordinates, count: int, signs: Signs, result: Values) -> None:
        """Compute one block; ``result`` has shape (rows of all outputs, count)."""
        draws.use(self.common)
        ready = self.scalars.run(draws, count, {}, signs)
        for group in self.groups:
            found = ready
            if group.program is not self.scalars:
                draws.use(group.places)
                found = group.program.run(draws, count, ready, signs)
            result[group.positions] = found[id(self.output)][group.picked]


class LowDiscrepancy:
    """Results of several nodes from scrambled Sobol points.

    Parameters
    ----------
    outputs : list of Node
    seed : int
    points : int
        Points of one scrambling, a power of two.
    scramblings : int
    """

    def __init__(
        self, outputs: list[Node], seed: int, points: int, scramblings: int = SCRAMBLINGS
    ) -> None:
        self.outputs = outputs
        self.points = SobolPoints(seed, points, scramblings)
        self.bounds = np.cumsum([0] + [rows_of(node) for node in outputs])
        self.order = topological_order(outputs)
        self.signs = Signs()
        self._slots: dict[int, dict[str, int]] = {}

    @property
    def trials(self) -> int:
        """Points of all scramblings together."""
        return self.points.trials

    @property
    def rows(self) -> int:
        """Rows of all outputs together."""
        return int(self.bounds[-1])

    def draw_rows(self, rows: list[int]) -> Values:
        """Return draws of each row by itself, shape (len(rows), trials); see the module text."""
        result = np.empty((len(rows), self.trials))
        chosen = np.asarray(rows, dtype=np.intp)
        plans = []
        for which, output in enumerate(self.outputs):
            first, last = self.bounds[which], self.bounds[which + 1]
            positions = np.flatnonzero((first <= chosen) & (chosen < last))
            wanted = chosen[positions] - first
            if not output.active:
                result[positions] = np.atleast_1d(output.value)[wanted, None]
            elif wanted.size:
                plans.append(self._plan(output, wanted, positions))
        programs = [group.program for plan in plans for group in plan.groups]
        programs += [plan.scalars for plan in plans]
        places = [group.places for plan in plans for group in plan.groups]
        for block in self._blocks(programs, places):
            draws = Coordinates(self.points, block)
            with np.errstate(all="ignore"):
                for plan in plans:
                    plan.fill(draws, block.length, self.signs, result[:, block.trials])
        return result

    def joint(self) -> Values:
        """Return draws of all rows that may be set side by side, shape (rows, trials)."""
        wanted = {
            id(node): (node, np.arange(rows_of(node))) for node in self.outputs if node.active
        }
        program = compile_rows(self.order, wanted, set())
        places = places_of(program.drawn(), {}, {})
        result = np.empty((self.rows, self.trials))
        parts = [
            (node, result[self.bounds[which] : self.bounds[which + 1]])
            for which, node in enumerate(self.outputs)
        ]
        for node, part in parts:
            if not node.active:
                part[:] = np.atleast_1d(node.value)[:, None]
        for block in self._blocks([program], [places]):
            draws = Coordinates(self.points, block)
            draws.use(places)
            with np.errstate(all="ignore"):
                found = program.run(draws, block.length, {}, self.signs)
            for node, part in parts:
                if node.active:
                    part[:, block.trials] = found[id(node)]
        return result

    def _plan(self, output: Node, rows: Rows, positions: Rows) -> Plan:
        """Lay out some rows of an output, so that each is drawn as if it were the only one."""
        behind = topological_order([output], active_only=True)
        first = np.zeros(1, dtype=np.intp)
        scalars = {id(node): (node, first) for node in behind if node.size is None}
        slots = self._slots_of(output)
        program = compile_rows(self.order, scalars, set())
        common = places_of(program.drawn(), {}, slots)
        plan = Plan(output, program, common, [])
        if output.size is None:
            plan.groups.append(Group(program, common, positions, first))
            return plan
        together = GROUP if _row_by_row(output, behind, common) else 1
        for start in range(0, rows.size, together):
            part = slice(start, start + together)
            program = compile_rows(self.order, {id(output): (output, rows[part])}, set(scalars))
            held = program.outputs[id(output)][1]
            drawn = list(program.drawn())
            if together > 1:  # what the first row asks for, then the same for all others
                drawn = [(component, asked[:1]) for component, asked in drawn]
            places = places_of(drawn, common, slots)
            if held.size > 1:
                places |= {
                    (key, int(reading)): places[key, int(held[0])]
                    for component, _ in drawn
                    if component.scope == "each"
                    for key in keys_of(component)
                    for reading in held[1:]
                }
            picked = np.searchsorted(held, rows[part])
            plan.groups.append(Group(program, places, positions[part], picked))
        return plan

    def _slots_of(self, output: Node) -> dict[str, int]:
        """Rank the components of an output once, however many of its rows are asked for."""
        if id(output) not in self._slots:
            self._slots[id(output)] = by_importance(output)
        return self._slots[id(output)]

    def _blocks(self, programs: list[Program], places: list[Dimensions]) -> Iterable[Block]:
        """Divide the trials so that results stay in cache and draws in memory."""
        dimensions = 1 + max((max(each.values(), default=0) for each in places), default=0)
        if dimensions > MOST_DIMENSIONS:
            raise PropagationError(
                f"{dimensions} independent draws a trial are more than the {MOST_DIMENSIONS} "
                "dimensions of the Sobol sequence: use sampler='random'"
            )
        widest = max((program.widest for program in programs), default=1)
        most = max(SMALLEST_BLOCK, min(LARGEST_BLOCK, CACHED // widest, DRAWN // dimensions))
        return self.points.blocks(1 << (most.bit_length() - 1))


def _row_by_row(output: Node, behind: list[Node], common: Dimensions) -> bool:
    """Tell whether each row depends on its own reading alone, and no draw on other results."""
    for node in behind:
        if node.size is None:
            continue
        if node.size != output.size or not isinstance(node.operation, (Elementwise, Input)):
            return False
    keys = {key for key, _ in common}
    return not any(
        key in keys
        for node in behind
        if node.size is not None and isinstance(node.operation, Input)
        for term in node.operation.terms
        if term.component.scope == "each"
        for key in keys_of(term.component)
    )
