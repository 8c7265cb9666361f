"""`distribution_chart`: the draws of one result against what the linear method takes it for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.charts.canvas import axes_for, label_axes, legend_above, plain
from flowunc.bench.charts.palette import INK, marks
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_results import TRIALS
from flowunc.core.arguments import check_level
from flowunc.core.errors import DimensionError, PropagationError, RangeError
from flowunc.core.quantity import Quantity
from flowunc.propagation.cross_check import CrossCheck, compare
from flowunc.propagation.monte_carlo import monte_carlo

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["distribution_chart"]

Floats = NDArray[np.float64]

_FUNCTION = "distribution_chart"
_SHOWN = (0.001, 0.999)  # of the draws, and of the linear density: tails run on for long
_REACH = 3.3  # u
_BINS = 60
_POINTS = 401


def distribution_chart(
    result: RunDecisions | Quantity,
    run: str | int | None = None,
    of: str = "friction",
    *,
    ax: Axes | None = None,
    level: float = 0.95,
    digits: int = 1,
    trials: int = TRIALS,
    seed: int = 0,
) -> Axes:
    """Draw the distribution of one result: draws, the linear method's density, both intervals.

    Parameters
    ----------
    result : Runs or Quantity
        Analysed runs, or any result.
    run : str or int, optional
        Label of the run; for a quantity its reading, counted from 0. May be left out where
        there is only one.
    of : str
        Which result of the runs; see `Runs.budget`. A quantity is drawn itself.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure if left out.
    level : float
        Coverage probability of both intervals.
    digits : int
        Significant digits of u to which the two are held against each other.
    trials, seed
        Of the draws.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError, RangeError, StatementError
        Data or options that do not fit.
    PropagationError
        A result that does not vary, or whose draws all lack a value.

    Notes
    -----
    The histogram is a density: its columns have the area 1 together with what lies beyond the
    axes, at most 0.1 % of the draws at each end. The line is the density that value ± U stands
    for: normal, or Student's t with the effective degrees of freedom, of width u [JCGM 100, G.3].
    The drawn interval leaves the same probability on both sides [JCGM 101, 7.7]; the verdict is
    that of `cross_check` on these draws.

    Examples
    --------
    >>> from flowunc import Length, standard
    >>> from flowunc.bench.charts import distribution_chart
    >>> swing = Length(10.0, "mm", standard(2.0), label="swing")
    >>> from matplotlib.figure import Figure
    >>> axes = distribution_chart(1 / swing**2, trials=20_000, ax=Figure().add_subplot())
    >>> axes.get_legend().get_title().get_text()
    'linear method fails at 1 digit of u: report the drawn interval'
    """
    level = check_level(level)
    check, row, name = _checked(result, run, of, level, digits, trials, seed)
    draws = _draws(check, row)
    value, u = (float(np.atleast_1d(x)[row]) for x in (check.quantity.value, check.quantity.u))
    if not draws.size or not np.ptp(draws) > 0:
        raise PropagationError(
            f"{_FUNCTION}: {name} does not vary in {check.drawn.trials} draws, so it has no "
            "distribution; expected a result with an uncertainty"
        )
    dof = float(np.atleast_1d(check.quantity.dof)[row])
    axes = axes_for(ax, _FUNCTION)
    axes.grid(False)
    low, high = np.quantile(draws, _SHOWN)
    if math.isfinite(u):
        low, high = min(low, value - _REACH * u), max(high, value + _REACH * u)
    edges = np.linspace(low, high, _BINS + 1)
    drawn_mark, linear_mark = marks(2)
    heights = np.histogram(draws, edges)[0] / (check.drawn.trials * np.diff(edges))
    histogram = axes.stairs(
        heights, edges, fill=True, facecolor=drawn_mark.colour, edgecolor="none", alpha=0.35
    )
    handles: list[Any] = [histogram]
    names = [f"{check.drawn.trials:,} draws".replace(",", " ")]
    top = float(heights.max())
    if math.isfinite(u) and u > 0:
        grid = np.linspace(low, high, _POINTS)
        density = _density((grid - value) / u, dof) / u
        (line,) = axes.plot(grid, density, color=linear_mark.colour, linewidth=1.4, linestyle="--")
        handles.append(line)
        names.append(f"linear method: {_law(dof)}")
        top = max(top, float(density.max()))
    _draw_intervals(axes, check, row, top, handles, names)
    axes.set_xlim(low, high)
    axes.set_ylim(0.0, 1.28 * top)
    unit = check.quantity.unit
    label_axes(
        axes,
        plain(name if unit == "1" else f"{name} in {unit}"),
        plain(f"probability density{_per(unit)}"),
    )
    legend_above(axes, handles, names, _verdict(check, row))
    return axes


def _checked(
    result: Any, run: Any, of: str, level: float, digits: int, trials: int, seed: int
) -> tuple[CrossCheck, int, str]:
    """Return the cross-check, the reading of it that is drawn, and the name of the result."""
    if isinstance(result, RunDecisions):
        if run is None and len(result) > 1:
            raise RangeError(
                f"{_FUNCTION}: {len(result)} runs; say which: run={result.labels[0]!r}, ..."
            )
        row = 0 if run is None else result.position(run)
        options: Any = {"level": level, "digits": digits, "trials": trials, "seed": seed}
        label = result.result(of).label or of
        return result.cross_check(of, **options), row, f"{label}, run {result.labels[row]}"
    if not isinstance(result, Quantity):
        raise DimensionError(
            f"{_FUNCTION}: got {type(result).__name__}; expected analysed runs, as analyse(...) "
            "gives them, or a quantity"
        )
    quantity, name = result, result.label or type(result).__name__
    if result.ndim:
        if run is None and result.size > 1:
            raise RangeError(f"{_FUNCTION}: {result.size} readings; say which: run=0, ...")
        place = 0 if run is None else run
        whole = isinstance(place, (int, np.integer)) and not isinstance(place, bool)
        if not whole or not 0 <= place < result.size:
            raise RangeError(
                f"{_FUNCTION}(run={run!r}): expected a reading, counted from 0 to {result.size - 1}"
            )
        quantity = result[int(place)]
        name = f"{name}, reading {place}"
    drawn = monte_carlo(quantity, trials, seed=seed)
    check = compare(quantity, drawn, level=level, digits=digits, kind="symmetric")
    return check, 0, name


def _draws(check: CrossCheck, row: int) -> Floats:
    """Return the draws of one reading that have a value, in the unit of the quantity."""
    draws = next(values for place, values in check.drawn._rows() if place == row)
    shown = np.asarray(check.quantity._unit.from_si(draws[np.isfinite(draws)]))
    return shown.astype(np.float64)


def _law(dof: float) -> str:
    if math.isinf(dof):
        return "normal"
    return f"t, {dof:.0f} dof" if dof >= 100 else f"t, {dof:.3g} dof"


def _per(unit: str) -> str:
    if unit == "1":
        return ""
    return f" in 1/{unit}" if unit.isalpha() else f" in 1/({unit})"


def _density(deviation: Floats, dof: float) -> Floats:
    from scipy import stats

    known = stats.norm if math.isinf(dof) else stats.t(dof)
    return np.asarray(known.pdf(deviation))


def _draw_intervals(
    ax: Axes, check: CrossCheck, row: int, top: float, handles: list[Any], names: list[str]
) -> None:
    """Draw both intervals above the density, and their ends down to the axis."""
    percent = f"{100 * check.level:g} % interval"
    drawn_mark, linear_mark = marks(2)
    style: Any
    for low, high, height, colour, style, whose in (
        (check.drawn_low[row], check.drawn_high[row], 1.19, drawn_mark.colour, "-", "drawn"),
        (check.linear_low[row], check.linear_high[row], 1.1, linear_mark.colour, "--", "value ± U"),
    ):
        if not np.isfinite(low):
            continue
        (bar,) = ax.plot(
            [low, high],
            [height * top] * 2,
            color=colour,
            linestyle=style,
            linewidth=1.6,
            marker="|",
            markersize=8,
        )
        ax.vlines([low, high], 0.0, height * top, colors=colour, linestyles=style, linewidths=0.8)
        handles.append(bar)
        names.append(f"{percent}, {whose}")
    value = float(np.atleast_1d(check.quantity.value)[row])
    ax.plot([value], [1.1 * top], linestyle="none", marker="o", markersize=4, color=INK)


def _verdict(check: CrossCheck, row: int) -> str:
    figures = "1 digit" if check.digits == 1 else f"{check.digits} digits"
    verdict = check.verdicts[row]
    if verdict == "holds":
        return f"linear method holds to {figures} of u"
    if verdict == "undecided":
        return f"linear method to {figures} of u: undecided, draw more"
    if not np.isfinite(check.drawn_low[row]):
        return "some draws have no value: no interval"
    return f"linear method fails at {figures} of u: report the drawn interval"
