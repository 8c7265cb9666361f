"""What is concluded for each run: one `RunLine`, from which table and text are made."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.law_choice import LawChoice, normalised_errors
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.component import Component
from flowunc.core.quantity import Quantity
from flowunc.pipe.regimes import Regimes
from flowunc.propagation.contributions import contributions
from flowunc.propagation.cross_check import CrossCheck

__all__ = ["Outcome", "RunLine", "limiting_instruments", "limiting_sources", "run_lines"]


class Outcome(NamedTuple):
    """One result of one run with its coverage interval.

    Attributes
    ----------
    value : float
    expanded : float
        U of the linear method; NaN where that does not hold to one digit of u.
    low, high : float
        Coverage interval: value -+ U, or from the draws where the linear method does not hold.
    verdict : str
        "holds", "fails" or "undecided".
    digits : int
        Of u, to which the linear method holds.
    """

    value: float
    expanded: float
    low: float
    high: float
    verdict: str
    digits: int


class RunLine(NamedTuple):
    """One line of the table of runs."""

    run: str
    line: int
    repeats: int
    meter: str
    flow: float
    flow_unit: str
    temperature: float
    temperature_unit: str
    reynolds: Outcome
    friction: Outcome
    regime: str
    probability: float
    law: str
    no_law_because: str
    friction_by_law: float
    normalised_error: float
    limited_by: str
    share: float


def run_lines(
    sheet: Sheet, reynolds: CrossCheck, friction: CrossCheck, regimes: Regimes, choice: LawChoice
) -> tuple[RunLine, ...]:
    """Draw the conclusions of all runs, in the order of the sheet.

    Parameters
    ----------
    sheet : Sheet
    reynolds, friction : CrossCheck
        Of Re and f of its runs.
    regimes : Regimes
    choice : LawChoice
        What f is held against.
    """
    of_reynolds, of_friction = _outcomes(reynolds), _outcomes(friction)
    shares = np.stack([regimes.laminar, regimes.transitional, regimes.turbulent])
    expected = np.full(len(of_friction), np.nan)
    if choice.expected is not None:
        expected[choice.compared] = choice.expected.value
    errors = normalised_errors(friction.quantity, choice)
    sources = limiting_sources(friction.quantity)
    lines = []
    for place, run in enumerate(sheet.runs):
        means = run.readings().mean(axis=0)
        lines.append(
            RunLine(
                run=run.label,
                line=run.line,
                repeats=len(run.rows),
                meter=run.meter,
                flow=float(means[0]),
                flow_unit=sheet.units[f"meters.{run.meter}"],
                temperature=float(means[1]),
                temperature_unit=sheet.units["thermometer"],
                reynolds=of_reynolds[place],
                friction=of_friction[place],
                regime=regimes.name[place],
                probability=float(shares[:, place].max()),
                law=choice.names[place],
                no_law_because=choice.reasons[place],
                friction_by_law=float(expected[place]),
                normalised_error=float(errors[place]),
                limited_by=sources[place][0],
                share=sources[place][1],
            )
        )
    return tuple(lines)


def _outcomes(check: CrossCheck) -> list[Outcome]:
    values = np.atleast_1d(check.quantity.value)
    widths = (check.linear_high - check.linear_low) / 2
    holds = check.holds
    low = np.where(holds, check.linear_low, check.drawn_low)
    high = np.where(holds, check.linear_high, check.drawn_high)
    widths = np.where(holds, widths, np.nan)
    return [
        Outcome(
            float(values[row]),
            float(widths[row]),
            float(low[row]),
            float(high[row]),
            check.verdicts[row],
            int(check.supported_digits[row]),
        )
        for row in range(values.size)
    ]


def source_variances(quantity: Quantity) -> dict[str, NDArray[np.float64]]:
    """Return the variance that each source gives to each reading, coherent SI, shape (n,).

    Parts of one source count together: the resolutions of both columns, with flow and at the
    zero, are the "manometer resolution"; what was estimated from one sample is one source. In
    labels, a part stands behind a comma.
    """
    return _variances(quantity, _source_of)


def limiting_sources(quantity: Quantity) -> list[tuple[str, float]]:
    """Return the source that contributes most to each reading, with its share of the variance."""
    return _largest(source_variances(quantity), quantity.size)


def limiting_instruments(quantity: Quantity) -> list[str]:
    """Return the instrument that contributes most to each reading, all its errors together.

    As `flowunc.budget_table` groups by "source".
    """
    variances = _variances(quantity, lambda component: component.source or component.label)
    return [name for name, _ in _largest(variances, quantity.size)]


def _source_of(component: Component) -> str:
    label = component.label if component.pool is None else component.pool.label
    return label.partition(",")[0]


def _variances(
    quantity: Quantity, group_of: Callable[[Component], str]
) -> dict[str, NDArray[np.float64]]:
    """Return the variance that each group of components gives to each reading, coherent SI."""
    variances: dict[str, NDArray[np.float64]] = {}
    for part in contributions(quantity._node):
        group = group_of(part.component)
        variances[group] = variances.get(group, 0.0) + part.variances()
    return variances


def _largest(variances: dict[str, NDArray[np.float64]], size: int) -> list[tuple[str, float]]:
    if not variances:
        return [("-", 0.0)] * size
    names = list(variances)
    table = np.stack(list(variances.values()))
    total = table.sum(axis=0)
    most = table.argmax(axis=0)
    shares = table.max(axis=0) / np.where(total > 0, total, 1.0)
    return [
        (names[source] if whole > 0 else "-", float(share))
        for source, share, whole in zip(most, shares, total, strict=True)
    ]
