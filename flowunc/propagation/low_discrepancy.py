"""Low-discrepancy points in place of random draws: scrambled Sobol sequences.

Points that fill the unit cube evenly find mean, standard deviation and coverage interval with
far fewer evaluations. Several independent scramblings are used, and the scatter of their
results is the numerical standard error of the pooled one [Owen 1997]. The points come from
`scipy.stats.qmc`; each component turns its coordinate into draws by its quantile function.

What is shared: every reading's own result is found with the lowest dimensions the sequence
has, because they are the best ones. Readings then use the *same* coordinates for their own
(``each``) components, so such draws of two readings must not be set side by side.
`LowDiscrepancy.joint` therefore draws anew, with dimensions of its own for every reading.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.core.component import Component, Pool
from flowunc.core.errors import PropagationError, RangeError
from flowunc.core.record import Node, topological_order
from flowunc.propagation.contributions import contributions
from flowunc.propagation.draws import Places
from flowunc.propagation.evaluation import Program, Signs, compile_rows
from flowunc.propagation.pieces import rows_of

__all__ = ["LowDiscrepancy", "check_points"]

Values = NDArray[np.float64]
Address = tuple[str, int]  # key of a component or pool, and reading

SCRAMBLINGS = 8
FEWEST = 64  # points of one scrambling, below which it says little about its own scatter
MOST_DIMENSIONS = 21_201  # of the Sobol sequence in scipy
HALF_STEP = 2.0**-31  # coordinates are multiples of 2**-30: centred, so that none is 0


def check_points(trials: int, scramblings: int = SCRAMBLINGS) -> int:
    """Return the number of points of one scrambling: a power of two, at least as many as asked."""
    per_scrambling = max(FEWEST, -(-trials // scramblings))
    power = int(per_scrambling - 1).bit_length()
    if power > 30:
        raise RangeError(f"trials={trials}: expected at most {scramblings * 2**30} points")
    return 1 << power


class Coordinates:
    """Draws from the coordinates of the points: one dimension for each address, first come."""

    def __init__(self, points: Values, places: dict[Address, int]) -> None:
        self.points = points  # shape (dimensions, trials)
        self.places = places
        self._drawn: dict[tuple[Address, int], Values] = {}

    def shared(self, component: Component, count: int) -> Values:
        """Return the draws of a shared component, shape (count,)."""
        return self._draws(component, 0)

    def each(self, component: Component, reading: int, out: Values) -> None:
        """Fill the draws of one reading of a component."""
        out[:] = self._draws(component, reading)

    def _draws(self, component: Component, reading: int) -> Values:
        distribution: Any = component.distribution
        if distribution.size is not None:
            distribution = distribution.at(reading)
        address = (component.key, reading)
        place = self.places[address]
        # two readings that share a dimension and a distribution share the draws as well
        alike = component.distribution.size is None
        known = ((component.key, -1) if alike else address, place)
        draws = self._drawn.get(known)
        if draws is None:
            draws = np.asarray(distribution.quantile(self.points[place]), dtype=np.float64)
            if component.pool is not None:
                draws = draws * self._pool_factor(component.pool, reading)
            else:  # a pool has a coordinate of its own, which may differ from row to row
                self._drawn[known] = draws
        return draws

    def _pool_factor(self, pool: Pool, reading: int) -> Values:
        dof = float(pool.dof) if np.ndim(pool.dof) == 0 else float(np.ravel(pool.dof)[reading])
        coordinate = self.points[self.places[(f"pool {pool.key}", reading)]]
        chi_square = 2.0 * scipy.special.gammaincinv(dof / 2.0, coordinate)
        factor: Values = np.sqrt(dof / chi_square)
        return factor


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
        self.points = points
        self.scramblings = scramblings
        self.seed = seed
        self.bounds = np.cumsum([0] + [rows_of(node) for node in outputs])
        self.order = topological_order(outputs)
        self.signs = Signs()
        self._cube = np.empty((0, self.trials))
        self._slots: dict[int, dict[str, int]] = {}

    @property
    def trials(self) -> int:
        """Points of all scramblings together."""
        return self.points * self.scramblings

    @property
    def rows(self) -> int:
        """Rows of all outputs together."""
        return int(self.bounds[-1])

    def draw_rows(self, rows: list[int]) -> Values:
        """Return draws of each row by itself, shape (len(rows), trials); see the module text."""
        result = np.empty((len(rows), self.trials))
        position = 0
        for which, output in enumerate(self.outputs):
            first, last = int(self.bounds[which]), int(self.bounds[which + 1])
            wanted = [row - first for row in rows if first <= row < last]
            if wanted:
                self._own_rows(output, wanted, result[position : position + len(wanted)])
                position += len(wanted)
        return result

    def joint(self) -> Values:
        """Return draws of all rows that may be set side by side, shape (rows, trials)."""
        wanted = {
            id(node): (node, np.arange(rows_of(node))) for node in self.outputs if node.active
        }
        program = compile_rows(self.order, wanted, set())
        places = _places(program, {}, {})
        self._need(len(places))
        draws = Coordinates(self._cube, places)
        with np.errstate(all="ignore"):
            found = program.run(draws, self.trials, {}, self.signs)
        result = np.empty((self.rows, self.trials))
        for which, node in enumerate(self.outputs):
            rows = slice(int(self.bounds[which]), int(self.bounds[which + 1]))
            result[rows] = found[id(node)] if node.active else np.atleast_1d(node.value)[:, None]
        return result

    def _own_rows(self, output: Node, rows: list[int], result: Values) -> None:
        if not output.active:
            result[:] = np.atleast_1d(output.value)[rows, None]
            return
        behind = topological_order([output], active_only=True)
        scalars = [node for node in behind if node.size is None]
        first = np.zeros(1, dtype=np.intp)
        scalar_program = compile_rows(self.order, {id(n): (n, first) for n in scalars}, set())
        ready_nodes = {id(node) for node in scalars}
        slots = self._slots_of(output)
        common = _places(scalar_program, {}, slots)
        programs = [
            compile_rows(self.order, {id(output): (output, np.array([row]))}, ready_nodes)
            if output.size is not None
            else scalar_program
            for row in rows
        ]
        every = [_places(program, common, slots) for program in programs]
        self._need(1 + max(max(places.values(), default=0) for places in every))
        draws = Coordinates(self._cube, common)
        with np.errstate(all="ignore"):
            ready = scalar_program.run(draws, self.trials, {}, self.signs)
            for position, (program, places) in enumerate(zip(programs, every, strict=True)):
                draws.places = places
                found = ready
                if program is not scalar_program:
                    found = program.run(draws, self.trials, ready, self.signs)
                result[position] = found[id(output)][0]

    def _slots_of(self, output: Node) -> dict[str, int]:
        """Rank the components of an output once, however many of its rows are asked for."""
        if id(output) not in self._slots:
            self._slots[id(output)] = _by_importance(output)
        return self._slots[id(output)]

    def _need(self, dimensions: int) -> None:
        """Make the points once, with as many dimensions as are asked for."""
        if dimensions > MOST_DIMENSIONS:
            raise PropagationError(
                f"{dimensions} independent draws a trial are more than the {MOST_DIMENSIONS} "
                "dimensions of the Sobol sequence: use sampler='random'"
            )
        if dimensions <= self._cube.shape[0]:
            return
        # the scrambling depends on the number of dimensions: rounded up, so that it rarely changes
        dimensions = min(MOST_DIMENSIONS, max(32, 1 << (dimensions - 1).bit_length()))
        from scipy.stats import qmc

        cube = np.empty((dimensions, self.trials))
        for scrambling in range(self.scramblings):
            sequence = np.random.SeedSequence(self.seed, spawn_key=(2, scrambling))
            engine = qmc.Sobol(dimensions, scramble=True, seed=np.random.default_rng(sequence))
            part = slice(scrambling * self.points, (scrambling + 1) * self.points)
            cube[:, part] = engine.random(self.points).T
        cube += HALF_STEP
        self._cube = cube


def _by_importance(output: Node) -> dict[str, int]:
    """Give a dimension to every component, the lowest ones to what contributes most.

    The lowest dimensions of the sequence are the most even. Where the linear method has no
    answer the order of the record stands.
    """
    try:
        parts = contributions(output)
    except PropagationError:
        places = Places(topological_order([output]))
        return {component.key: place for component, place in places.components.items()}
    with np.errstate(all="ignore"):
        variances = [part.variances() for part in parts]
        total = np.sum(variances, axis=0)
        shares = [float(np.nan_to_num(variance / total).mean()) for variance in variances]
    ranked = np.argsort(-np.array(shares), kind="stable")
    return {parts[which].component.key: slot for slot, which in enumerate(ranked)}


def _places(
    program: Program, common: dict[Address, int], slots: dict[str, int]
) -> dict[Address, int]:
    """Give a dimension to every draw that a program asks for.

    ``common`` holds those given before. The first reading of a component takes the slot of the
    component; whatever else is asked for comes after all slots.
    """
    places = dict(common)
    taken = set(places.values())
    beyond = max([len(slots) - 1, *taken]) + 1
    for component, rows in program.drawn():
        addresses = [
            (component.key, reading)
            for reading in ([0] if component.scope == "shared" else rows.tolist())
        ]
        if component.pool is not None:
            addresses += [(f"pool {component.pool.key}", reading) for _, reading in addresses]
        for address in addresses:
            if address in places:
                continue
            slot = slots.get(address[0], beyond)
            if slot in taken:
                slot = beyond
            places[address] = slot
            taken.add(slot)
            beyond = max(beyond, slot + 1)
    return places
