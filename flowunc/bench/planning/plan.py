"""`plan`: what a session will give, for every meter and inclination, before any reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import (
    check_flows,
    check_fraction,
    check_inclinations,
    check_meters,
    check_repeats,
)
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.session import Plan
from flowunc.core.errors import RangeError, warn_user
from flowunc.core.kinds import Angle, Ratio, Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

__all__ = ["Plan", "plan"]

_FUNCTION = "plan"
_MOST_CELLS = 200_000  # beyond, the rows of a sheet take minutes and gigabytes


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
        Settings of the board, above 0 and up to 90 deg; from 5 to 90 deg if left out. A
        manometer that is not set to inclinations has none to choose.
    repeats : int or sequence of int
        Readings per run. They count where ``scatter`` is given.
    temperature : Temperature, scalar, optional
        Of the liquid; 20 degC if left out.
    scatter : mapping, optional
        Expected standard deviation of a single reading, by what is read: ``"flow"`` (a
        `VolumeFlowRate`, or a `Ratio` of the reading), ``"temperature"`` (a `Quantity` in K),
        ``"deflection"`` (a `Length` along the scale, or a `Ratio` of the deflection; of a
        transmitter, a `Pressure` as it shows it).
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
    BenchError
        Inclinations for a manometer that is not set to any.
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
    pressure drop, the deflection along the scale, and two columns symmetrically about the
    middle of the board, whose zero is read there before and after. A well manometer is read from
    the 0 of its scale (or its lowest mark) upwards, a transmitter from where it shows no
    pressure; the zero is read there. A calibration line is gone back along, within its span.
    These readings go through the model of `analyse`, with the same instruments and the same
    angle at each setting.

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
    settings = check_inclinations(inclinations, _FUNCTION, conditions.bench)
    numbers = check_repeats(repeats, _FUNCTION)
    wanted = check_fraction(target, _FUNCTION, "target")
    values = np.atleast_1d(given._node.value)
    shape = (len(settings), len(names), len(numbers), values.size)
    cells = int(np.prod(shape))
    inclined = f"{len(settings)} inclinations, " if conditions.bench.inclines else ""
    if cells > _MOST_CELLS:
        raise RangeError(
            f"{_FUNCTION}: {cells} cells of {values.size} flows, {len(names)} meters, "
            f"{inclined}{len(numbers)} numbers of repeats; expected at most {_MOST_CELLS}: plan "
            "fewer at a time"
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
