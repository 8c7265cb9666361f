"""Every error behind the results with what is stated of it, taken from the record."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from flowunc.bench.report.asked import MOST_ROWS, Asked
from flowunc.bench.report.content import Block, Paragraph, table
from flowunc.bench.report.wording import number, unit_text
from flowunc.core.component import Component
from flowunc.core.distributions import Exponential, ScaledT
from flowunc.core.statements import Statement
from flowunc.instruments.accuracy import ErrorLimit, PercentOfFullScale, PercentOfReading

__all__ = ["error_table"]


def error_table(asked: Asked) -> Iterator[Block]:
    """Show what is stated of each error, one line for each component."""
    statements = _statements(asked)
    rows = []
    for component in _components(asked):
        label = component.label if component.pool is None else component.pool.label
        rows.append(
            [
                label,
                component.source or component.label,
                _stated(component, statements.get(component.key)),
                _u(component),
                component.evaluation,
                "one for all" if component.scope == "shared" else "each reading",
            ]
        )
    head = ["error", "belongs to", "stated", "u", "type", "new for"]
    shown = rows[:MOST_ROWS]
    yield table("Errors, as they are stated, and as they act", head, shown, "wwwrll")
    if len(rows) > len(shown):
        yield Paragraph(f"{len(rows) - len(shown)} more errors are not shown.")
    yield Paragraph(
        "Type A is what repeated readings show, Type B all else [JCGM 100, 4.2 and 4.3]. An error "
        "that is one for all readings makes them correlated: it cancels in differences, and no "
        "number of runs averages it out."
    )


def _components(asked: Asked) -> list[Component]:
    """Return the components of all results, what was estimated together once."""
    runs = asked.runs
    expected = runs.laws(**asked.draws).expected
    results = [runs.reynolds, runs.friction, *([] if expected is None else [expected])]
    found: dict[str, Component] = {}
    for result in results:
        for component in result.components:
            if not np.all(component.distribution.is_zero):
                pool = component.pool
                found.setdefault(component.key if pool is None else pool.key, component)
    return list(found.values())


def _statements(asked: Asked) -> dict[str, Statement]:
    """Return the statement behind each calibration, by the key of its component."""
    bench = asked.runs.bench
    instruments: list[Any] = [*bench.meters.values(), bench.thermometer, bench.manometer]
    return {
        component.key: statement
        for instrument in instruments
        for statement, component in zip(instrument.accuracy, instrument.calibration, strict=False)
    }


def _stated(component: Component, statement: Statement | None) -> str:
    law: Any = component.distribution
    unit = unit_text(str(component.unit))
    if component.pool is not None:
        return f"scatter of repeats, degrees of freedom {_range(component.pool.dof, '')}"
    if hasattr(law, "half_width"):
        size = _range(np.asarray(law.half_width) / component.unit.factor, unit)
        text = f"within ±{size}{_of(statement)}, {law.name}"
    elif isinstance(law, ScaledT):
        text = f"u = {_u(component)}{_of(statement)}, Student's t with "
        text += f"{_range(law.dof, '')} degrees of freedom"
    elif isinstance(law, Exponential):
        text = f"exponential, mean {_range(np.asarray(law.mean) / component.unit.factor, unit)}"
    else:
        text = f"u = {_u(component)}{_of(statement)}, {law.name}"
    if np.all(np.isfinite(component.dof)) and not isinstance(law, ScaledT):
        text += f", degrees of freedom {_range(component.dof, '')}"
    return text


def _of(statement: Statement | None) -> str:
    """Say what a percentage refers to."""
    if isinstance(statement, ErrorLimit):
        return (
            f" of the reading, but of {statement.linearity_limit:g} % of full scale at least "
            "[VDI/VDE 3513-2]"
        )
    if isinstance(statement, PercentOfReading):
        return " of the reading"
    if isinstance(statement, PercentOfFullScale):
        return f" ({statement.percent:g} % of full scale)"
    return ""


def _u(component: Component) -> str:
    if component.pool is not None:
        return "from repeats"
    u = np.asarray(component.distribution.standard_uncertainty) / component.unit.factor
    return _range(u, unit_text(str(component.unit)))


def _range(values: Any, unit: str) -> str:
    """Write a number, or from where to where numbers go."""
    low, high = float(np.min(values)), float(np.max(values))
    text = number(low, 3)
    if not math.isclose(low, high, rel_tol=1e-9):
        text += f" to {number(high, 3)}"
    return f"{text} {unit}" if unit and unit != "°" else f"{text}{unit}"
