"""`plan`: what a session will give, for every meter and inclination, before any reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.bench.bench import Bench
from flowunc.bench.nearest_name import nearest
from flowunc.bench.planning.arguments import (
    check_flows,
    check_fraction,
    check_inclinations,
    check_meters,
    check_repeats,
)
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.meters import find_crossover
from flowunc.bench.planning.readings import PlannedReadings
from flowunc.bench.planning.record import PlannedResults
from flowunc.bench.planning.smallest_flow import find_smallest_flow
from flowunc.bench.planning.table import best_lines, cell_table, few_settings
from flowunc.bench.planning.text import plan_text
from flowunc.core.errors import RangeError, warn_user
from flowunc.core.frame_shown import rounded_table
from flowunc.core.kinds import (
    Angle,
    FrictionFactor,
    Pressure,
    Ratio,
    ReynoldsNumber,
    Temperature,
    VolumeFlowRate,
)
from flowunc.core.quantity import Quantity
from flowunc.core.tables_shown import mimebundle

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["Plan", "plan"]


_FUNCTION = "plan"
_MOST_CELLS = 200_000  # beyond, the rows of a sheet take minutes and gigabytes


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Plan:
    """A planned session: every flow on every meter at every inclination.

    Attributes
    ----------
    conditions : Conditions
        Bench, temperature, scatter and coverage.
    flows : VolumeFlowRate, shape (n,)
        Asked for.
    meters : tuple of str
    inclinations : tuple of float
        In deg.
    repeats : tuple of int
    target : float
        U(f)/f that the printed plan looks for the smallest flow of.
    readings : PlannedReadings
        Of all cells: inclination by inclination, meter by meter, by repeats, by flow.
    results : PlannedResults or None
        Of the cells that can be read, one record behind all of them; None if there is none.
    """

    conditions: Conditions
    flows: VolumeFlowRate
    meters: tuple[str, ...]
    inclinations: tuple[float, ...]
    repeats: tuple[int, ...]
    target: float
    readings: PlannedReadings
    results: PlannedResults | None

    def __len__(self) -> int:
        return len(self.readings)

    def __repr__(self) -> str:
        return (
            f"<Plan {self.conditions.bench.file!r}: {self.flows.size} flows, "
            f"{len(self.meters)} meters, {len(self.inclinations)} inclinations>"
        )

    # -- planned quantities --------------------------------------------------------------------
    def friction(
        self, meter: str, inclination: Angle | float | None = None, repeats: int | None = None
    ) -> FrictionFactor:
        """Return the planned friction factors of the flows that can be read.

        They stand on the record of the bench's own instruments, so `Quantity.budget` says what
        limits them, and they are correlated with what is measured later.

        Parameters
        ----------
        meter : str
        inclination : Angle or float in deg, optional
            One of the plan; may be left out where it has one.
        repeats : int, optional
            One of the plan; may be left out where it has one.

        Returns
        -------
        FrictionFactor, shape (m,)
            For the flows of `flow`.

        Raises
        ------
        RangeError
            A meter or setting that is not in the plan, or at which no flow can be read.
        """
        return self._results().friction[self._rows(meter, inclination, repeats)]

    def reynolds(
        self, meter: str, inclination: Angle | float | None = None, repeats: int | None = None
    ) -> ReynoldsNumber:
        """Return the planned Reynolds numbers of the flows that can be read; see `friction`."""
        return self._results().reynolds[self._rows(meter, inclination, repeats)]

    def pressure_drop(
        self, meter: str, inclination: Angle | float | None = None, repeats: int | None = None
    ) -> Pressure:
        """Return the planned pressure drops of the flows that can be read; see `friction`."""
        return self._results().pressure_drop[self._rows(meter, inclination, repeats)]

    def flow(
        self, meter: str, inclination: Angle | float | None = None, repeats: int | None = None
    ) -> VolumeFlowRate:
        """Return the planned flows that can be read; see `friction`."""
        found = self._results().flow[self._rows(meter, inclination, repeats)]
        return found.to(self.flows.unit)

    def _results(self) -> PlannedResults:
        if self.results is None:
            raise RangeError(f"nothing of this plan can be read: {self.readings.note[0]}")
        return self.results

    def _rows(self, meter: Any, inclination: Any, repeats: Any) -> NDArray[np.intp]:
        """Return where the cells of one setting stand among the readable ones."""
        if meter not in self.meters:
            asked = nearest(meter, self.meters) if isinstance(meter, str) else ""
            raise RangeError(
                f"no meter {meter!r} in this plan; {asked}expected one of {', '.join(self.meters)}"
            )
        angle: Any = inclination
        if inclination is not None:
            angle = check_inclinations(inclination, "Plan")[0]
        setting = _chosen(angle, self.inclinations, "inclination", "deg")
        number = _chosen(repeats, self.repeats, "number of repeats", "")
        readings = self.readings
        mine = (
            (np.asarray(readings.meter) == meter)
            & (readings.inclination == setting)
            & (readings.repeats == number)
        )
        if not (mine & readings.readable).any():
            first = readings.note[int(np.argmax(mine))]
            raise RangeError(f"no flow can be read on {meter} at {setting:g} deg: {first}")
        found: NDArray[np.intp] = np.flatnonzero(mine[readings.readable])
        return found

    # -- tables --------------------------------------------------------------------------------
    def table(self) -> pd.DataFrame:
        """Return one line for each cell, sorted by flow, meter, inclination and repeats.

        Returns
        -------
        pandas.DataFrame
            ``inclination`` is in deg; ``reading`` is what the meter shows, in ``reading unit``;
            ``deflection``, ``high`` and ``low`` are along the scale, in ``scale unit``;
            ``U(Re)/Re`` and ``U(f)/f`` are fractions. A cell that cannot be read has NaN there,
            and ``note`` says why.
        """
        shape = (len(self.inclinations), len(self.meters), len(self.repeats), self.flows.size)
        cells = cell_table(self.conditions, self.flows, self.readings, self.results)
        # to flow, meter, inclination, repeats
        order = np.arange(len(self)).reshape(shape).transpose(3, 1, 0, 2).ravel()
        return cells.iloc[order].reset_index(drop=True)

    def best(self) -> pd.DataFrame:
        """Return for each flow the line of `table` with the smallest U(f)/f.

        Of equals it is the one with the fewest repeats. A flow that cannot be read at all has a
        line without meter and inclination, and what stands against it on each meter as its note.
        """
        return best_lines(self.table(), self.flows.size)

    def settings(self, nearly: Ratio | float = 0.05) -> pd.DataFrame:
        """Return few inclinations that serve all flows nearly as well as the best ones.

        Parameters
        ----------
        nearly : Ratio or float
            By how much of itself U(f)/f may exceed that of the best inclination.

        Returns
        -------
        pandas.DataFrame
            One line for each stretch of flows, ascending: ``from`` and ``to`` in ``flow unit``,
            ``inclination`` in deg, and ``excess``, the largest over the flows of the stretch.

        Notes
        -----
        From the smallest flow on, a stretch goes on while one inclination is left that serves all
        of its flows; the one with the smallest excess is taken. No other choice of inclinations
        needs fewer stretches.
        """
        allowed = check_fraction(nearly, "Plan.settings", "nearly")
        return few_settings(self.table(), allowed)

    # -- text ----------------------------------------------------------------------------------
    def chart(
        self,
        what: Literal["inclination", "meter"] = "inclination",
        *,
        ax: Axes | None = None,
        **options: Any,
    ) -> Axes:
        """Draw U(f)/f over the inclination, or U(Re)/Re over the flow, meter by meter.

        Parameters
        ----------
        what : {"inclination", "meter"}
        ax : matplotlib Axes, optional
        **options
            Of `flowunc.bench.charts.plan_chart`, such as ``flows=`` and ``meters=``.
        """
        from flowunc.bench.charts import plan_chart

        return plan_chart(self, what, ax=ax, **options)

    def text(self) -> str:
        """Return the printed plan: the best choice for each flow, and what follows from it."""
        searching, most = self.conditions.searching(), self.repeats[-1]
        found = [find_crossover(searching, pair, most) for pair in pairwise(self.meters)]
        sentences = [crossover.sentence for crossover in found]
        if self.results is not None:
            smallest = find_smallest_flow(searching, self.target, self.meters, most)
            with_repeats = f" ({most} repeats)" if most > 1 else ""
            sentences.append(f"{smallest.sentence[:-1]}{with_repeats}.")
        return plan_text(self.conditions, self.best(), self.settings(), sentences)

    def __str__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return rounded_table(
            self.best(), formats={"U(Re)/Re": ".1%", "U(f)/f": ".1%", "Re": ".0f"}
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def _chosen(given: Any, known: tuple[Any, ...], what: str, unit: str) -> Any:
    shown = ", ".join(f"{item:g}" for item in known) + (f" {unit}" if unit else "")
    if given is None:
        if len(known) > 1:
            raise RangeError(f"this plan has more than one {what}: say which of {shown}")
        return known[0]
    if given not in known:
        raise RangeError(f"{what} {given!r} is not in this plan; expected one of {shown}")
    return given


def plan(
    bench: Bench,
    *,
    flows: VolumeFlowRate,
    meters: str | Sequence[str] | None = None,
    inclinations: Angle | ArrayLike | None = None,
    repeats: int | Sequence[int] = (1,),
    temperature: Temperature | None = None,
    scatter: Mapping[str, Quantity] | None = None,
    target: Ratio | float = 0.1,
    level: float | None = None,
    k: float | None = None,
) -> Plan:
    """Plan a session: what U(Re) and U(f) will be, before any reading is taken.

    Parameters
    ----------
    bench : Bench
        Where it will be measured.
    flows : VolumeFlowRate, scalar or shape (n,)
        To be set; their values count.
    meters : str or sequence of str, optional
        Names of meters; all of the bench if left out.
    inclinations : Angle or array_like in deg, optional
        Settings of the board, above 0 and up to 90 deg; from 5 to 90 deg if left out.
    repeats : int or sequence of int
        Readings per run. They count where ``scatter`` is given.
    temperature : Temperature, scalar, optional
        Of the water; 20 degC if left out.
    scatter : mapping, optional
        Expected standard deviation of a single reading, by what is read: ``"flow"`` (a
        `VolumeFlowRate`, or a `Ratio` of the reading), ``"temperature"`` (a `Quantity` in K),
        ``"deflection"`` (a `Length` along the scale, or a `Ratio` of the deflection).
    target : Ratio or float
        U(f)/f of which the printed plan names the smallest flow, 10 % if left out.
    level : float, optional
        Coverage probability, 0.95 if left out.
    k : float, optional
        A fixed coverage factor in place of a level.

    Returns
    -------
    Plan

    Raises
    ------
    DimensionError
        Flows that are no volume flow rates, a temperature that is none.
    RangeError
        A flow of 0 or less, an unknown meter, an inclination or number of repeats out of range.
    StatementError
        Scatter of something else, or in another form.

    Warns
    -----
    FlowuncWarning
        Several repeats without scatter: they change nothing.

    Notes
    -----
    Expected f: 64/Re for laminar flow, the turbulent law of the bench else. In transitional flow
    no law holds; the turbulent one stands in as a guide, and the line says so. From f come the
    pressure drop, the deflection along the incline, and two columns symmetrically about the
    middle of the board, whose zero is read there before and after. These readings go through the
    model of `analyse`, with the same instruments and the same angle at each setting.

    A mean of n readings has the scatter s/sqrt(n) with n - 1 degrees of freedom [JCGM 100,
    4.2.3]; errors of flow, temperature and deflection are taken as independent. A single reading
    has the scatter s, taken as known. Resolution does not average out.

    U is that of the linear method. As f goes with 1/flow^2, it is skewed where the flow is known
    badly: ``cross_check(plan.friction(...))`` tells how far the linear method holds.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import VolumeFlowRate, load_bench, plan
    >>> bench = load_bench(Path(flowunc.bench.__file__).parent / "example" / "bench.toml")
    >>> session = plan(bench, flows=VolumeFlowRate([60, 200], "L/h"), inclinations=[10, 30, 90])
    >>> session.best()[["meter", "inclination"]].values.tolist()
    [['small', 10.0], ['small', 30.0]]
    """
    conditions = Conditions.checked(bench, temperature, scatter, level, k, _FUNCTION)
    given = check_flows(flows, _FUNCTION)
    names = check_meters(meters, conditions.bench, _FUNCTION)
    settings = check_inclinations(inclinations, _FUNCTION)
    numbers = check_repeats(repeats, _FUNCTION)
    wanted = check_fraction(target, _FUNCTION, "target")
    values = np.atleast_1d(given._node.value)
    shape = (len(settings), len(names), len(numbers), values.size)
    cells = int(np.prod(shape))
    if cells > _MOST_CELLS:
        raise RangeError(
            f"{_FUNCTION}: {cells} cells of {values.size} flows, {len(names)} meters, "
            f"{len(settings)} inclinations and {len(numbers)} numbers of repeats; expected at most "
            f"{_MOST_CELLS}: plan fewer at a time"
        )
    if numbers != (1,) and all(item is None for item in conditions.scatter):
        warn_user(
            f"{_FUNCTION}: repeats={numbers} without scatter= change nothing, as the resolution of "
            "a mean is that of one reading; give scatter={'flow': Ratio(1, '%')} or leave out "
            "repeats="
        )
    angle, meter, number, flow = (
        axis.ravel()
        for axis in np.meshgrid(settings, np.arange(len(names)), numbers, values, indexing="ij")
    )
    readings = conditions.readings([names[place] for place in meter], flow, angle, number)
    return Plan(
        conditions=conditions,
        flows=given,
        meters=names,
        inclinations=settings,
        repeats=numbers,
        target=wanted,
        readings=readings,
        results=conditions.results(readings),
    )
