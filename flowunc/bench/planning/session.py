"""`Plan`: what is expected of a session, as quantities, as tables and as text."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.nearest_name import nearest
from flowunc.bench.planning.arguments import check_fraction, check_inclinations, refuse_fixed
from flowunc.bench.planning.cells import Cells
from flowunc.bench.planning.meters import find_crossover
from flowunc.bench.planning.record import PlannedResults
from flowunc.bench.planning.smallest_flow import find_smallest_flow
from flowunc.bench.planning.table import best_lines, cell_table, few_settings
from flowunc.bench.planning.text import plan_text
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Angle,
    FrictionFactor,
    Pressure,
    Ratio,
    ReynoldsNumber,
    VolumeFlowRate,
)

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["Plan"]


class Plan(Cells):
    """A planned session: every flow on every meter at every inclination.

    What can be asked of its `Cells`, whose attributes it has.
    """

    def __len__(self) -> int:
        return len(self.readings)

    def __repr__(self) -> str:
        settings = f", {len(self.inclinations)} inclinations" if self._bench.inclines else ""
        return (
            f"<Plan {self._bench.file!r}: {self.flows.size} flows, {len(self.meters)} "
            f"meters{settings}>"
        )

    @property
    def _bench(self) -> Bench:
        return self.conditions.bench

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
            angle = check_inclinations(inclination, "Plan", self._bench)[0]
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
            place = f" at {setting:g} deg" if self._bench.inclines else ""
            raise RangeError(f"no flow can be read on {meter}{place}: {first}")
        found: NDArray[np.intp] = np.flatnonzero(mine[readings.readable])
        return found

    # -- tables --------------------------------------------------------------------------------
    def table(self) -> pd.DataFrame:
        """Return one line for each cell, sorted by flow, meter, inclination and repeats.

        Returns
        -------
        pandas.DataFrame
            ``inclination`` is in deg, that of the manometer itself where it is not set;
            ``reading`` is what the meter shows, in ``reading unit``; ``deflection``, ``high`` and
            ``low`` are along the scale, in ``scale unit``. A manometer with one reading has
            ``manometer reading`` in place of ``high`` and ``low``; its zero is read at that less
            the deflection. ``U(Re)/Re`` and ``U(f)/f`` are fractions. A cell that cannot be read
            has NaN there, and ``note`` says why.
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

        Raises
        ------
        BenchError
            A manometer that is not set to inclinations.
        RangeError
            Something else than a fraction.

        Notes
        -----
        From the smallest flow on, a stretch goes on while one inclination is left that serves all
        of its flows; the one with the smallest excess is taken. No other choice of inclinations
        needs fewer stretches.
        """
        refuse_fixed(self._bench, "Plan.settings", "are none to choose")
        allowed = check_fraction(nearly, "Plan.settings", "nearly")
        return few_settings(self.table(), allowed)

    # -- text ----------------------------------------------------------------------------------
    def chart(
        self,
        kind: Literal["inclination", "meter"] = "inclination",
        *,
        ax: Axes | None = None,
        **options: Any,
    ) -> Axes:
        """Draw U(f)/f over the inclination, or U(Re)/Re over the flow, meter by meter.

        Parameters
        ----------
        kind : {"inclination", "meter"}
        ax : matplotlib Axes, optional
        **options
            Of `flowunc.bench.charts.plan_chart`, such as ``flows=`` and ``meters=``.
        """
        from flowunc.bench.charts import plan_chart

        return plan_chart(self, kind, ax=ax, **options)

    def text(self) -> str:
        """Return the printed plan: the best choice for each flow, and what follows from it."""
        most = self.repeats[-1]
        found = [find_crossover(self.conditions, pair, most) for pair in pairwise(self.meters)]
        sentences = [crossover.sentence for crossover in found]
        if self.results is not None:
            smallest = find_smallest_flow(self.conditions, self.target, self.meters, most)
            with_repeats = f" ({most} repeats)" if most > 1 else ""
            sentences.append(f"{smallest.sentence[:-1]}{with_repeats}.")
        settings = self.settings() if self._bench.inclines else None
        return plan_text(self.conditions, self.best(), settings, sentences)

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
