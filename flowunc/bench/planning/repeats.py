"""How many repeats of a run are worth making."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from flowunc.bench.description.bench import Bench
from flowunc.bench.planning.arguments import (
    check_flows,
    check_fraction,
    check_inclinations,
    check_meters,
    check_repeats,
    single,
)
from flowunc.bench.planning.conditions import Conditions
from flowunc.bench.planning.inclination import best_in
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.tables import mimebundle, wrapped
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.kinds import Angle, Ratio, Temperature, VolumeFlowRate
from flowunc.core.quantity import Quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["WorthwhileRepeats", "worthwhile_repeats"]

_FUNCTION = "worthwhile_repeats"


@dataclass(frozen=True, eq=False, kw_only=True)
class WorthwhileRepeats:
    """How U(f)/f falls with the number of repeats of one run.

    Attributes
    ----------
    repeats : int
        The smallest number beyond which no further repeat gains the stated fraction; 1 where
        repeating does not pay.
    gain : float
        The stated fraction.
    meter : str
    inclination : Angle, scalar
        That of the manometer itself where it is not set.
    sentence : str
    """

    repeats: int
    gain: float
    meter: str
    inclination: Angle
    _lines: pd.DataFrame = field(repr=False)
    sentence: str

    def table(self) -> pd.DataFrame:
        """Return what each number of repeats gives, one line each.

        By ``repeats``: ``u(f)/f``, ``dof`` (effective), ``k``, ``U(f)/f``, and the ``gain`` of
        one more repeat as a fraction of U, negative where U grows.
        """
        return self._lines.copy()

    def __str__(self) -> str:
        return wrapped(self.sentence)

    def _repr_html_(self) -> str:
        return rounded_table(
            self._lines,
            formats={"u(f)/f": ".2%", "U(f)/f": ".2%", "k": ".2f", "gain": ".1%"},
            notes=(self.sentence,),
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def worthwhile_repeats(
    bench: Bench,
    flow: VolumeFlowRate,
    *,
    scatter: Mapping[str, Quantity],
    gain: Ratio | float = 0.05,
    most: int = 30,
    meter: str | None = None,
    inclination: Angle | float | None = None,
    temperature: Temperature | None = None,
    level: float | None = None,
    k: float | None = None,
) -> WorthwhileRepeats:
    """Find the number of repeats beyond which one more gains little.

    Parameters
    ----------
    bench : Bench
    flow : VolumeFlowRate, scalar
    scatter : mapping
        As for `plan`; without scatter no repeat gains anything.
    gain : Ratio or float
        Fraction of U(f) that one more repeat must gain to be worth its time.
    most : int
        Repeats that are looked at, 2 or more.
    meter : str, optional
        The better one if left out.
    inclination : Angle or float in deg, optional
        The best one for a single reading if left out; none to choose where the manometer is
        not set to any.
    temperature, level, k
        As for `plan`.

    Returns
    -------
    WorthwhileRepeats

    Raises
    ------
    RangeError
        A run that cannot be read; numbers out of range.
    BenchError
        An inclination for a manometer that is not set to any.
    StatementError
        No scatter, or not in the form of `plan`.

    Notes
    -----
    The scatter of the mean of n readings is s/sqrt(n), with n - 1 degrees of freedom [JCGM 100,
    4.2.3]; k is the t factor for the effective degrees of freedom. It does not reach calibration
    and resolution, which no repeat makes smaller. A single reading has the scatter as expected,
    taken as known; two readings have to find it out and know it badly, so that U may grow at
    first.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import Ratio, VolumeFlowRate, load_bench, worthwhile_repeats
    >>> bench = load_bench(Path(flowunc.bench.__file__).parent / "example" / "bench.toml")
    >>> found = worthwhile_repeats(
    ...     bench, VolumeFlowRate(14, "L/min"), scatter={"deflection": Ratio(5, "%")}
    ... )
    >>> list(found.table()["repeats"][:3])
    [1, 2, 3]
    """
    conditions = Conditions.checked(bench, temperature, scatter, level, k, _FUNCTION)
    if all(given is None for given in conditions.scatter):
        raise StatementError(
            f"{_FUNCTION}: no scatter expected; without it no repeat gains anything, as the "
            "resolution of a mean is that of one reading: give scatter={'flow': Ratio(1, '%')}"
        )
    wanted = check_fraction(gain, _FUNCTION, "gain")
    last = check_repeats([most], _FUNCTION)[0]
    if last < 2:
        raise RangeError(f"{_FUNCTION}(most={last}): expected 2 repeats or more")
    value = single(check_flows(flow, _FUNCTION, "flow"), _FUNCTION)
    name, setting = _where(conditions, flow, meter, inclination)
    numbers = np.arange(1, last + 1)
    readings = conditions.readings(name, value, setting, numbers)
    results = conditions.results(readings)
    if results is None:
        raise RangeError(f"{_FUNCTION}: {readings.note[0]}")
    table = _table(conditions, numbers, results.friction)
    gains, expanded = table["gain"].to_numpy(), table["U(f)/f"].to_numpy()
    paying = np.flatnonzero(gains[:-1] >= wanted)
    found = int(numbers[paying[-1] + 1]) if paying.size else 1
    reached = found < last
    if expanded[found - 1] >= expanded[0]:
        found = 1
    return WorthwhileRepeats(
        repeats=found,
        gain=wanted,
        meter=name,
        inclination=Angle(setting, "deg"),
        _lines=table,
        sentence=_sentence(conditions, name, value, found, expanded, wanted, reached),
    )


def _where(
    conditions: Conditions, flow: VolumeFlowRate, meter: str | None, inclination: Any
) -> tuple[str, float]:
    names = check_meters(meter, conditions.bench, _FUNCTION)
    if inclination is not None or not conditions.bench.inclines:
        settings = check_inclinations(inclination, _FUNCTION, conditions.bench)
        if len(settings) != 1:
            raise RangeError(
                f"{_FUNCTION}(inclination=...): got {len(settings)} settings; expected one, or "
                "leave it out for the best one"
            )
        value = single(flow, _FUNCTION)
        values = [
            conditions.of_friction(conditions.readings(name, value, settings[0]))[0]
            for name in names
        ]
        finite = np.where(np.isnan(values), np.inf, values)
        return names[int(np.argmin(finite))], settings[0]
    best = best_in(conditions, _FUNCTION, flow, names, 1)
    return best.meter, float(best.inclination.to("deg").value)


def _table(conditions: Conditions, numbers: Any, friction: Quantity) -> pd.DataFrame:
    import pandas as pd

    values = np.asarray(friction.value)
    found = friction.expanded(conditions.level, k=conditions.k)
    expanded = np.asarray(found.U) / values
    return pd.DataFrame(
        {
            "repeats": numbers,
            "u(f)/f": np.asarray(friction.u) / values,
            "dof": friction.dof,
            "k": found.k,
            "U(f)/f": expanded,
            "gain": np.append(1 - expanded[1:] / expanded[:-1], np.nan),
        }
    )


def _sentence(
    conditions: Conditions,
    meter: str,
    flow: float,
    found: int,
    expanded: Any,
    gain: float,
    reached: bool,
) -> str:
    start = f"{conditions.shown(flow, meter)} on {meter}: "
    one = f"{100 * expanded[0]:.3g} %"
    if found == 1:
        return f"{start}repeats do not pay; a single reading has U(f)/f = {one}."
    text = f"{found} repeats bring U(f)/f from {one} to {100 * expanded[found - 1]:.3g} %"
    beyond = f"{100 * gain:.3g} % of U"
    if not reached:
        return f"{start}{text}, and the last still gained {beyond}: look at more with most=."
    return f"{start}{text}; one more gains less than {beyond}."
