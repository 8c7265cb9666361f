"""Components, pools, distributions and units as JSON, and back with the same keys.

A component that is still in memory is taken up again, so results that are read correlate with
those that were never written. One key with two different errors behind it is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from fractions import Fraction
from typing import Any, TypeAlias, cast

import numpy as np

from flowunc.core import distributions
from flowunc.core.component import Component, Pool
from flowunc.core.component import _restored as component_in_memory
from flowunc.core.dimensions import Dimension
from flowunc.core.distributions import Distribution
from flowunc.core.errors import PropagationError, UnitError
from flowunc.core.exchange.json_parts import Numbers, Part
from flowunc.core.units import Unit, coherent_unit, parse_unit

__all__ = [
    "Json",
    "component_from",
    "component_json",
    "misfit",
    "numbers_json",
    "pool_from",
    "pool_json",
    "unit_from",
    "unit_json",
]

Json: TypeAlias = dict[str, Any]

_LAWS: dict[str, type[Distribution]] = {
    law.name: law
    for law in (
        distributions.Normal,
        distributions.Rectangular,
        distributions.Triangular,
        distributions.Trapezoidal,
        distributions.InexactRectangular,
        distributions.Arcsine,
        distributions.Exponential,
        distributions.ScaledT,
    )
}
_LARGEST_EXPONENT = 10_000  # of a base unit, and of its parts: far beyond any formula
_BASE_UNITS = 7


def numbers_json(value: Any, what: str) -> float | list[float]:
    """Return a number, or one per reading, as JSON; refused unless finite."""
    array = np.asarray(value, dtype=np.float64)
    if not np.isfinite(array).all():
        raise PropagationError(f"{what} is not finite and cannot be written as JSON")
    found: float | list[float] = array.tolist()
    return found


def _dof_json(dof: Any) -> Any:
    listed = np.asarray(dof, dtype=np.float64).tolist()
    if isinstance(listed, list):
        return ["inf" if np.isinf(each) else each for each in listed]
    return "inf" if np.isinf(listed) else listed


# -- units ---------------------------------------------------------------------------------------
def unit_json(unit: Unit) -> Any:
    """Return a unit as the text that is read as this unit, else as its dimension."""
    try:
        if parse_unit(unit.symbol) == unit:
            return unit.symbol
    except UnitError:
        pass  # products of high powers have no text that is read
    if unit != coherent_unit(unit.dimension):
        raise PropagationError(
            f"the unit '{unit}' cannot be written as JSON: change to coherent SI with .si"
        )
    return {"dimension": [str(exponent) for exponent in unit.dimension.exponents]}


def unit_from(part: Part) -> Unit:
    """Read a unit."""
    if isinstance(part.value, str):
        with part.placed():
            return parse_unit(part.value)
    given = list(part.object(("dimension",))["dimension"].items())
    if len(given) != _BASE_UNITS:
        part.expected("a unit as text, or seven exponents of base units")
    exponents = [_exponent(entry) for entry in given]
    with part.placed():
        return coherent_unit(Dimension(*exponents))


def _exponent(part: Part) -> Fraction:
    above, _, below = part.text().partition("/")
    digits = above.removeprefix("-"), below or "1"
    if all(text.isascii() and text.isdigit() and len(text) <= 5 for text in digits):
        exponent = Fraction(int(above), int(digits[1]) or 1)
        if abs(exponent) <= _LARGEST_EXPONENT and int(digits[1]):
            return exponent
    part.expected('an exponent as text, such as "-2" or "1/2"')


# -- distributions, pools, components ------------------------------------------------------------
def _parameters(law: type[Distribution]) -> list[str]:
    return [item.name for item in fields(law) if item.init]


def _distribution_json(distribution: Distribution) -> Json:
    law = _LAWS.get(distribution.name)
    if law is not type(distribution):
        raise PropagationError(
            f"the distribution {distribution!r} cannot be written as JSON: expected one of "
            f"{', '.join(_LAWS)}"
        )
    return {"law": distribution.name} | {
        name: numbers_json(getattr(distribution, name), name) for name in _parameters(law)
    }


def _distribution_from(part: Part) -> Distribution:
    named = part.optional_field("law")
    if named is None:
        part.refuse("the field 'law' is missing")
    law = _LAWS[named.choice(_LAWS)]
    parameters = _parameters(law)
    given = part.object(("law", *parameters))
    values = [given[name].numbers() for name in parameters]
    with part.placed():
        return law(*values)


def pool_json(pool: Pool) -> Json:
    """Return a pool as JSON."""
    return {"key": pool.key, "label": pool.label, "dof": _dof_json(pool.dof)}


def pool_from(part: Part) -> Pool:
    """Read a pool."""
    given = part.object(("key", "label", "dof"))
    return Pool(given["dof"].dof(finite=True), given["label"].text(), _key(given["key"]))


def _key(part: Part) -> str:
    return part.text() or part.expected("a key, which is not empty")


def component_json(component: Component, pool: int | None) -> Json:
    """Return a component as JSON, with the place of its pool."""
    found: Json = {
        "key": component.key,
        "label": component.label,
        "distribution": _distribution_json(component.distribution),
        "unit": unit_json(component.unit),
        "scope": component.scope,
        "evaluation": component.evaluation,
        "dof": _dof_json(component.dof),
        "source": component.source,
        "role": component.role,
    }
    return found if pool is None else found | {"pool": pool}


_REQUIRED = ("key", "label", "distribution", "unit", "scope", "evaluation", "dof", "source", "role")


def component_from(part: Part, pools: Sequence[Pool]) -> Component:
    """Read a component: the very one if it still lives, else one of the same key."""
    given = part.object(_REQUIRED, ("pool",))
    pool = given.get("pool")
    parts: dict[str, Any] = {
        "label": given["label"].text(),
        "distribution": _distribution_from(given["distribution"]),
        "unit": unit_from(given["unit"]),
        "scope": given["scope"].choice(("shared", "each")),
        "evaluation": given["evaluation"].choice(("A", "B")),
        "dof": given["dof"].dof(),
        "source": given["source"].text(),
        "pool": None if pool is None else pools[pool.whole(0, len(pools) - 1, "place of a pool")],
        "key": _key(given["key"]),
        "role": given["role"].text(),
    }
    with part.placed():
        made = Component(**parts)
    known = component_in_memory(*(getattr(made, item.name) for item in fields(Component)))
    if _alike(known, made):
        return known
    other = misfit(known, made)
    if other:
        part.refuse(
            f"{other}; expected one error behind one key: the file was changed, or made "
            "by a flowunc that states this error otherwise"
        )
    return made  # the same error under another name


def misfit(first: Component, second: Component) -> str:
    """Say how two components of one key contradict each other, "" if they do not."""
    if first.distribution != second.distribution:
        found: tuple[Any, Any] = (first.distribution, second.distribution)
    elif first.scope != second.scope:
        found = (first.scope, second.scope)
    else:
        return ""
    return (
        f"the component {second.label[:80]!r} of key {second.key[:80]!r} is {found[1]!r} here and "
        f"{found[0]!r} elsewhere"
    )


def _alike(first: Component, second: Component) -> bool:
    pools = [
        None if each.pool is None else (each.pool.key, each.pool.label) for each in (first, second)
    ]
    return (
        pools[0] == pools[1]
        and _same(first.dof, second.dof)
        and (first.pool is None or _same(first.pool.dof, cast(Pool, second.pool).dof))
        and all(
            getattr(first, name) == getattr(second, name)
            for name in ("label", "distribution", "unit", "scope", "evaluation", "source", "role")
        )
    )


def _same(first: Numbers, second: Numbers) -> bool:
    return first is second or np.array_equal(first, second)
