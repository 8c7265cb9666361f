"""Roughness of new tubes by material: a table to begin with, with the wide limits that it has."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Any

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Rectangular
from flowunc.core.errors import RangeError, StatementError
from flowunc.core.kinds import Length
from flowunc.core.units import parse_unit

__all__ = ["ROUGHNESS", "Surface", "roughness_of"]

_MILLIMETRE = parse_unit("mm")


@dataclass(frozen=True)
class Surface:
    """One line of the table: roughness in mm, its limits in per cent, where it is from."""

    value: float
    percent: float
    source: str


# Equivalent sand roughness in mm. The limits are those that White prints beside the values; where
# a value is Moody's alone they are ours.
_WHITE, _MOODY = "[White 2003, table 6.1]", "[Moody 1944]"
ROUGHNESS = {
    # 0 to 0.003 mm: smooth in any flow of a bench, and Moody lists it with drawn tubing
    "glass": Surface(0.0015, 100.0, _MOODY),
    "drawn tubing": Surface(0.0015, 60.0, _WHITE),
    "plastic": Surface(0.0015, 60.0, _WHITE),
    "brass": Surface(0.002, 50.0, _WHITE),
    "copper": Surface(0.0015, 60.0, _MOODY),
    "stainless steel": Surface(0.002, 50.0, _WHITE),
    "commercial steel": Surface(0.046, 30.0, _WHITE),
    "wrought iron": Surface(0.046, 20.0, _WHITE),
    "asphalted cast iron": Surface(0.12, 50.0, _WHITE),
    "galvanised iron": Surface(0.15, 40.0, _WHITE),
    "cast iron": Surface(0.26, 50.0, _WHITE),
    "smoothed concrete": Surface(0.04, 60.0, _WHITE),
    "rough concrete": Surface(2.0, 50.0, _WHITE),
    "riveted steel": Surface(3.0, 70.0, _WHITE),
    "rusted steel": Surface(2.0, 50.0, _WHITE),
}
_OTHER_NAMES = {
    "acrylic": "plastic",
    "pvc": "plastic",
    "polyethylene": "plastic",
    "galvanized iron": "galvanised iron",
    "galvanised steel": "galvanised iron",
    "galvanized steel": "galvanised iron",
}


def roughness_of(material: str, *, label: str = "roughness") -> Length:
    """Look up the roughness of a new tube by its material.

    Parameters
    ----------
    material : str
        Such as "glass", "plastic" (also "acrylic", "pvc"), "drawn tubing", "commercial
        steel", "galvanised iron" or "cast iron"; `ROUGHNESS` holds all.
    label : str
        Name in budgets. Two tubes of one material need two labels, or they count as one and
        the same surface.

    Returns
    -------
    Length, scalar
        Equivalent sand roughness in mm.

    Raises
    ------
    StatementError
        A material that is not in the table.
    RangeError
        A label that is none.

    Notes
    -----
    Limits of 20 % to 100 %, rectangular, as printed [White 2003, table 6.1]; glass and copper
    by [Moody 1944] with limits of our own. They hold for new and clean tubes. Deposits
    and rust raise the roughness many times: measure the pressure drop of a known flow instead
    of looking it up. A tube of glass or plastic is mostly smooth for the flows of a bench:
    compare with a law of a smooth wall first.

    Examples
    --------
    >>> from flowunc import roughness_of
    >>> print(roughness_of("galvanised iron"))
    roughness: 0.150 ± 0.035 mm
    """
    given: Any = label
    if not isinstance(given, str) or not given.strip():
        raise RangeError(f"roughness_of(label={label!r}): expected a name such as 'upper tube'")
    name = " ".join(str(material).lower().split())
    name = _OTHER_NAMES.get(name, name)
    surface = ROUGHNESS.get(name)
    if surface is None:
        near = difflib.get_close_matches(name, [*ROUGHNESS, *_OTHER_NAMES], n=1)
        advice = (
            f"did you mean '{near[0]}'?" if near else f"expected one of {', '.join(ROUGHNESS)}."
        )
        raise StatementError(
            f"roughness_of({material!r}): not in the table; {advice} For another one state "
            "Length(value, 'mm', limits(...))"
        )
    width = surface.value * surface.percent / 100.0
    component = Component(
        label=label,
        distribution=Rectangular(width * _MILLIMETRE.factor),
        unit=_MILLIMETRE,
        source=f"{name}, {surface.source}",
        key=f"flowunc.instruments.roughness.{name}.{label}",
    )
    value = _MILLIMETRE.to_si(surface.value)
    return Length._from_terms(value, (Term(component),), _MILLIMETRE, label)
