"""`agreement_chart`: E_n of each run, and what draws say where they differ."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.agreement import Agreement
from flowunc.analysis.drawn_agreement import DrawnAgreement
from flowunc.bench.charts.canvas import TEXT_SIZE, axes_for, label_axes, legend_above, plain
from flowunc.bench.charts.palette import INK, ZONE, marks
from flowunc.bench.charts.run_labels import MOST_LABELS, label_runs
from flowunc.bench.charts.scales import log_limits, log_scale
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_results import TRIALS
from flowunc.core.errors import DimensionError, RangeError, ShapeError
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["agreement_chart", "drawn_normalised_error"]

Floats = NDArray[np.float64]

_FUNCTION = "agreement_chart"
_LEAST_REACH = 1.5  # E_n, so that the band of agreement is always seen whole
_VISIBLE = 0.03  # of E_n; markers closer than this are one


def agreement_chart(
    agreement: RunDecisions | Agreement | DrawnAgreement,
    against: Quantity | None = None,
    *,
    drawn: DrawnAgreement | bool | None = None,
    names: Sequence[str] | None = None,
    ax: Axes | None = None,
    trials: int = TRIALS,
    seed: int = 0,
) -> Axes:
    """Draw E_n of each run with the band in which measured and expected agree.

    Parameters
    ----------
    agreement : Runs, Agreement or DrawnAgreement
        Runs are held against the laws, as by `Runs.agreement`.
    against : Quantity, shape (n,), optional
        What to draw E_n over, such as the Reynolds number; for runs that is the default. Else
        the readings stand side by side.
    drawn : DrawnAgreement or bool, optional
        Draws of the same differences, shown where they differ visibly. For runs they are made
        unless this is False.
    names : sequence of str, length n, optional
        Of the readings; for runs their labels.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure if left out.
    trials, seed
        Of the draws, for runs.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    MissingPackageError
        matplotlib is not installed.
    DimensionError, ShapeError, RangeError
        Data that do not fit together.

    Notes
    -----
    E_n = difference / U(difference), in agreement from -1 to 1 [ISO/IEC 17043]. What the draws
    give in its place is difference / (distance from it to that end of its coverage interval
    which lies towards 0): the same number where the interval is value ± U, and within ±1 exactly
    where the interval holds 0.

    Examples
    --------
    >>> from flowunc import Length, agreement, limits, standard
    >>> from flowunc.bench.charts import agreement_chart
    >>> rule = Length([100.0, 50.1], "mm", limits(0.5), label="rule")
    >>> caliper = Length([100.2, 50.0], "mm", standard(0.05), label="caliper")
    >>> from matplotlib.figure import Figure
    >>> axes = agreement_chart(agreement(rule, caliper), ax=Figure().add_subplot())
    >>> [float(end) for end in axes.get_ylim()]
    [-1.5, 1.5]
    """
    found, drawn, against, names = _gathered(agreement, against, drawn, names, trials, seed)
    errors = np.atleast_1d(np.asarray(found.normalised_error, dtype=np.float64))
    positions = _positions(against, errors.size)
    labels = _names(names, errors.size)
    axes = axes_for(ax, _FUNCTION)
    linear_mark, drawn_mark = marks(2)
    handles: list[Any] = []
    texts: list[str] = []
    others = np.full(errors.size, np.nan)
    if drawn is not None:
        others = drawn_normalised_error(drawn)
        if others.size != errors.size:
            raise ShapeError(
                f"{_FUNCTION}(drawn=...): {others.size} differences drawn for {errors.size} of the "
                "linear method; expected the same readings"
            )
        others[np.abs(others - errors) < _VISIBLE] = np.nan
    shown = ~np.isnan(others)
    everything = np.abs(np.concatenate([errors, others[np.isfinite(others)]]))
    reach = max(_LEAST_REACH, 1.15 * float(everything.max(initial=0.0)))
    others = np.clip(others, -reach, reach)  # an infinite one stands at the edge
    handles.append(axes.axhspan(-1.0, 1.0, facecolor=ZONE, edgecolor="none", zorder=0.2))
    texts.append(r"agreement: $|E_n| \leq 1$")
    for height in (-1.0, 0.0, 1.0):
        axes.axhline(height, color=INK, linewidth=0.8, linestyle="-" if height else ":", zorder=1.0)
    axes.vlines(
        positions[shown], errors[shown], others[shown], colors="0.4", linewidths=0.9, zorder=2.0
    )
    for values, rows, mark, size, text in (
        (errors, np.ones(errors.size, dtype=np.bool_), linear_mark, 5.0, "linear method"),
        (others, shown, drawn_mark, 4.5, "draws, where they differ"),
    ):
        if not rows.any():
            continue
        (points,) = axes.plot(
            positions[rows],
            values[rows],
            linestyle="none",
            marker=mark.marker,
            markersize=size,
            color=mark.colour,
            markerfacecolor=mark.face,
            zorder=3.0,
        )
        handles.append(points)
        texts.append(text)
    axes.set_ylim(-reach, reach)
    _name_readings(axes, against, positions, errors, others, labels)
    label_axes(axes, axes.get_xlabel(), "normalised error $E_n$")
    legend_above(axes, handles, texts)
    return axes


def drawn_normalised_error(drawn: DrawnAgreement) -> Floats:
    """Return what takes the place of E_n for draws, shape (n,); NaN where there is no interval.

    Infinite where the difference itself lies outside its interval, away from 0.
    """
    difference, low, high = (
        np.atleast_1d(np.asarray(x, dtype=np.float64))
        for x in (drawn.difference, drawn.low, drawn.high)
    )
    towards_zero = np.where(difference > 0, difference - low, high - difference)
    room = np.maximum(towards_zero, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.where(difference == 0, 0.0, difference / room)
    return np.where(np.isfinite(low) & np.isfinite(high), found, np.nan)


def _gathered(
    given: Any, against: Any, drawn: Any, names: Any, trials: int, seed: int
) -> tuple[Agreement | DrawnAgreement, DrawnAgreement | None, Quantity | None, Any]:
    found: Agreement | DrawnAgreement
    if isinstance(given, RunDecisions):
        rows = given.laws(trials=trials, seed=seed).compared
        found = given.agreement(trials=trials, seed=seed)
        if drawn is None or drawn is True:
            drawn = given.drawn_agreement(trials=trials, seed=seed)
        if against is None:
            against = given.reynolds[rows]
        elif isinstance(against, Quantity) and against.size == len(given):
            against = against[rows]  # of all runs, those without a law included
        names = [given.labels[row] for row in rows] if names is None else names
    elif isinstance(given, (Agreement, DrawnAgreement)):
        found = given
        if isinstance(given, DrawnAgreement) and drawn is None:
            drawn = given
    else:
        raise DimensionError(
            f"{_FUNCTION}: got {type(given).__name__}; expected analysed runs, or what "
            "agreement(...) or drawn_agreement(...) gave"
        )
    if drawn is False or drawn is None:
        return found, None, against, names
    if not isinstance(drawn, DrawnAgreement):
        raise DimensionError(
            f"{_FUNCTION}(drawn=...): got {type(drawn).__name__}; expected what "
            "drawn_agreement(...) gave, or False"
        )
    return found, drawn, against, names


def _positions(against: Any, count: int) -> Floats:
    if against is None:
        return np.arange(count, dtype=np.float64)
    if not isinstance(against, Quantity):
        raise DimensionError(
            f"{_FUNCTION}(against=...): got {type(against).__name__}; expected a quantity, such "
            "as the Reynolds number"
        )
    if against.size != count:
        raise ShapeError(
            f"{_FUNCTION}(against=...): {against.size} values for {count} readings; expected one "
            "for each"
        )
    return np.atleast_1d(np.asarray(against.value, dtype=np.float64))


def _names(names: Any, count: int) -> tuple[str, ...]:
    if names is None:
        return tuple(str(place + 1) for place in range(count))
    if isinstance(names, str) or len(names) != count:
        raise RangeError(f"{_FUNCTION}(names={names!r}): expected {count} names")
    return tuple(str(name) for name in names)


def _name_readings(
    ax: Axes,
    against: Quantity | None,
    positions: Floats,
    errors: Floats,
    others: Floats,
    names: Sequence[str],
) -> None:
    """Set the horizontal axis, and name the readings on it or beside their markers."""
    if against is None:
        step = -(-len(names) // MOST_LABELS)
        shown = [plain(name) for name in names][::step]
        ax.set_xlim(-0.6, len(names) - 0.4)
        ax.set_xticks(range(0, len(names), step), shown, fontsize=TEXT_SIZE)
        ax.set_xlabel("reading")
        return
    spread = float(positions.max() - positions.min()) or abs(float(positions[0])) or 1.0
    if (positions > 0).all() and positions.max() > 3 * positions.min():
        log_scale(ax, "x", *log_limits(positions, margin=0.08))
    else:
        ax.set_xlim(positions.min() - 0.08 * spread, positions.max() + 0.08 * spread)
    unit = "" if against.unit == "1" else f" in {against.unit}"
    name = against.label or type(against).__name__
    ax.set_xlabel(f"{name} Re" if name == "Reynolds number" else plain(f"{name}{unit}"))
    if len(names) <= MOST_LABELS:
        label_runs(ax, positions, errors, names, [np.column_stack([positions, others])])
