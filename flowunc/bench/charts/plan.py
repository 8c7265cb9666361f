"""`plan_chart`: what is gained by the inclination of the board, or by the choice of the meter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from flowunc.bench.charts.canvas import axes_for
from flowunc.bench.charts.inclination_curves import draw_inclinations, inclination_curve
from flowunc.bench.charts.meter_curves import draw_meters, meter_crossovers, meter_curve
from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import (
    check_flows,
    check_meters,
    check_repeats,
    refuse_fixed,
)
from flowunc.bench.planning.cells import Cells
from flowunc.bench.planning.conditions import Conditions
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plan_chart"]

_FUNCTION = "plan_chart"
_MOST_CURVES = 6  # as many as there are marks


def plan_chart(
    plan: Cells | Bench,
    kind: Literal["inclination", "meter"] = "inclination",
    *,
    flows: VolumeFlowRate | None = None,
    meters: str | Sequence[str] | None = None,
    repeats: int | None = None,
    temperature: Temperature | None = None,
    scatter: Mapping[str, Quantity] | None = None,
    level: float | None = None,
    k: float | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw U(f)/f over the inclination of the board, or U(Re)/Re over the flow, meter by meter.

    Parameters
    ----------
    plan : Plan or Bench
        A plan brings its flows, meters, temperature, scatter and coverage, and the largest of
        its numbers of repeats.
    kind : {"inclination", "meter"}
    flows : VolumeFlowRate, scalar or shape (n,), optional
        For the inclination: up to six flows. Of a plan with more, six are taken that are spread
        over them.
    meters : str or sequence of str, optional
        Those of the plan, or all of the bench, if left out.
    repeats : int, optional
        Readings per run; they count where ``scatter`` is given.
    temperature, scatter, level, k
        For a bench, as for `flowunc.bench.plan`.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError
        Neither a plan nor a bench; conditions beside those of a plan.
    BenchError
        "inclination" for a manometer that is not set to any.
    RangeError
        No flows for a bench, too many, or one that cannot be read at any inclination.

    Notes
    -----
    A flow is followed on the meter that gives it the smaller U(f)/f at its best inclination,
    which is marked. Its curve begins at the flattest inclination at which the columns fit the
    board; flatter it cannot be read at all. Where two meters are equally good in Re is marked
    on the curves of U(Re)/Re, which columns and inclination do not enter. U is that of the
    linear method.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import VolumeFlowRate, load_bench
    >>> from flowunc.bench.charts import plan_chart
    >>> bench = load_bench(Path(flowunc.bench.__file__).parent / "example" / "bench.toml")
    >>> from matplotlib.figure import Figure
    >>> axes = plan_chart(bench, flows=VolumeFlowRate(60, "L/h"), ax=Figure().add_subplot())
    >>> axes.get_ylabel()
    'U(f)/f in %, coverage 95 %'
    """
    if kind not in ("inclination", "meter"):
        raise RangeError(f"{_FUNCTION}(kind={kind!r}): expected 'inclination' or 'meter'")
    if isinstance(plan, Cells):
        _refuse_conditions(temperature=temperature, scatter=scatter, level=level, k=k)
        conditions = plan.conditions
        names = plan.meters if meters is None else check_meters(meters, conditions.bench, _FUNCTION)
        number = plan.repeats[-1] if repeats is None else check_repeats([repeats], _FUNCTION)[0]
    elif isinstance(plan, Bench):
        made = Conditions.checked(plan, temperature, scatter, level, k, _FUNCTION)
        conditions = made
        names = check_meters(meters, conditions.bench, _FUNCTION)
        number = 1 if repeats is None else check_repeats([repeats], _FUNCTION)[0]
    else:
        raise DimensionError(
            f"{_FUNCTION}: got {type(plan).__name__}; expected a plan, as plan(...) gives it, or a "
            "Bench"
        )
    coverage = conditions.coverage
    if kind == "meter":
        if flows is not None:
            raise RangeError(
                f"{_FUNCTION}('meter', flows=...): the curves run over the scales of the meters; "
                "leave the flows out"
            )
        scales = [meter_curve(conditions, name, number) for name in names]
        crossovers = meter_crossovers(conditions, names, number)
        axes = axes_for(ax, _FUNCTION)
        unit = conditions.bench.meters[names[-1]].scale.unit
        draw_meters(axes, scales, crossovers, unit, coverage)
        return axes
    refuse_fixed(conditions.bench, _FUNCTION, "is nothing to draw; ask for kind='meter'")
    chosen = _flows(plan, flows)
    curves = [inclination_curve(conditions, flow, names, number) for flow in chosen]
    axes = axes_for(ax, _FUNCTION)
    draw_inclinations(axes, curves, coverage)
    return axes


def _refuse_conditions(**given: Any) -> None:
    names = [name for name, value in given.items() if value is not None]
    if names:
        raise DimensionError(
            f"{_FUNCTION}(plan, {names[0]}=...): a plan has its own {', '.join(names)}; make "
            "another plan, or give its bench"
        )


def _flows(plan: Cells | Bench, given: Any) -> list[VolumeFlowRate]:
    """Return the flows to follow, each by itself."""
    if given is None:
        if isinstance(plan, Bench):
            raise RangeError(
                f"{_FUNCTION}: a bench has no flows; give some, such as flows=VolumeFlowRate([60, "
                "200], 'L/h')"
            )
        given, several = plan.flows, plan.flows.size
        if several > _MOST_CURVES:
            order = np.argsort(np.asarray(given.value))
            kept = np.round(np.linspace(0, several - 1, _MOST_CURVES)).astype(int)
            given = given[order[kept]]
    found = check_flows(given, _FUNCTION)
    if found.size > _MOST_CURVES:
        raise RangeError(
            f"{_FUNCTION}: {found.size} flows; expected at most {_MOST_CURVES}, as more cannot be "
            "told apart"
        )
    return [found] if found.ndim == 0 else list(found)
