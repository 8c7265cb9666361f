"""The bore of a tube: from diameters in several sections and directions, or from water.

In the friction factor the bore stands to the fifth power, so it earns the care. Diameters can
mostly be taken near the ends only; the mass of water that fills a measured length gives the mean
over all of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.errors import DimensionError, RangeError, ShapeError, warn_user
from flowunc.core.kinds import Density, Length, Mass, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import repeated
from flowunc.instruments.balance import buoyancy_factor
from flowunc.instruments.instrument import first_at
from flowunc.instruments.length_instruments import Caliper

__all__ = ["BoreSurvey", "bore_from_diameters", "bore_from_water_mass"]

_SUSPICIOUS_OVALITY = 0.05  # of the diameter; drawn and extruded tube stays below 0.02


@dataclass(frozen=True, eq=False)
class BoreSurvey:
    """What diameters in several sections and directions say of a tube.

    Attributes
    ----------
    bore : Length, scalar
        Diameter of the round tube of the same cross-section: for velocities and laws.
    mean_diameter : Length, scalar
        Plain mean, correlated with ``bore`` in full.
    sections : ndarray, shape (s,)
        Diameter of equal area of each section, in the unit of the caliper.
    ovality : float
        Largest difference of two directions of one section over its mean. A plain list counts
        as one section; in a table with one direction it is 0, since no oval can be seen.
    """

    bore: Length
    mean_diameter: Length
    sections: NDArray[np.float64]
    ovality: float


def bore_from_diameters(
    readings: ArrayLike, caliper: Caliper, *, label: str = "bore"
) -> BoreSurvey:
    """Find the bore from diameters measured in several sections and directions.

    Parameters
    ----------
    readings : array_like, shape (sections, directions) or (n,)
        Inside diameters in the unit of the caliper, the directions spread evenly over half a
        turn; a plain list for one section, or for one direction in several.
    caliper : Caliper
        With which all were read: its calibration is one error behind them.
    label : str
        Name of the bore.

    Returns
    -------
    BoreSurvey
        With ``bore``, ``mean_diameter``, ``sections`` and ``ovality``.

    Raises
    ------
    DimensionError
        Something else than a caliper.
    ShapeError
        One reading only, or sections with different numbers of directions.
    RangeError
        Readings off the scale, or not above 0.

    Warns
    -----
    FlowuncWarning
        Directions of one section that differ by more than 5 %.

    Notes
    -----
    The cross-section follows from the mean of the *squared* diameters, D^2 = sum d_i^2 / n: of
    diameters through the centre this is exact for any outline that is symmetric about it,
    since its area is half the integral of the squared radius over the angle. It exceeds the
    plain mean by the factor 1 + (s/d)^2 / 2, 6 parts in 10^6 for an oval of 0.5 % either way.

    The scatter is of Type A [JCGM 100, 4.2.3]. With two directions or more in two sections
    or more it is that of the sections, s / sqrt(sections), dof sections - 1: evenly spread
    directions average an oval out, so it is no scatter. Otherwise it is that of all readings.
    The resolution stays that of one reading, since readings rounded to the same mark have the
    same error.

    Examples
    --------
    >>> from flowunc import Caliper, Scale, bore_from_diameters, limits
    >>> caliper = Caliper(
    ...     Scale(1, "mm", kind="vernier", vernier_divisions=20), accuracy=limits(0.05)
    ... )
    >>> survey = bore_from_diameters([[19.00, 19.10], [19.05, 19.05], [19.05, 19.15]], caliper)
    >>> round(survey.bore.value, 3), round(survey.bore.u, 3), round(survey.ovality, 4)
    (19.067, 0.036, 0.0052)
    """
    if not isinstance(caliper, Caliper):
        raise DimensionError(
            f"bore_from_diameters(caliper=...): got {type(caliper).__name__} {caliper!r}; "
            "expected the Caliper that was read"
        )
    diameters = _checked_diameters(readings, caliper)
    sections = np.sqrt(np.mean(diameters**2, axis=1))
    spread = np.ptp(diameters, axis=1) / np.mean(diameters, axis=1)
    ovality = float(spread.max())
    if ovality > _SUSPICIOUS_OVALITY:
        worst = int(np.argmax(spread))
        warn_user(
            f"{label}: directions of section {worst} differ by {100 * ovality:.2g} % of the "
            "diameter; check that no outside diameter, radius or other unit is among them"
        )
    nested = min(diameters.shape) > 1
    repeats = sections if nested else diameters.ravel()
    equal_area = float(np.sqrt(np.mean(diameters**2)))
    bore = caliper.read(equal_area, repeated(repeats, label=f"{label} scatter"), label=label)
    mean: Length = bore * (float(np.mean(diameters)) / equal_area)
    sections.setflags(write=False)
    return BoreSurvey(bore, mean.to(bore.unit).labelled("mean diameter"), sections, ovality)


def bore_from_water_mass(
    mass: Mass,
    *,
    length: Length,
    density: Density,
    air_density: Density | None = None,
    label: str = "bore",
) -> Length:
    """Find the mean bore from the mass of water that fills a measured length.

    Parameters
    ----------
    mass : Mass, scalar or shape (n,)
        As the balance indicates it, full less empty: ``balance.read(full) -
        balance.read(empty)``.
    length : Length, scalar or shape (n,)
        Between the plugs, or the plane ends, that close the water in.
    density : Density, scalar or shape (n,)
        Of the water at its temperature: ``water.density(temperature)``.
    air_density : Density, optional
        1.20 kg/m^3 ± 0.10 kg/m^3, usual indoor air up to some 400 m, if left out.
    label : str
        Name of the bore.

    Returns
    -------
    Length, scalar or shape (n,)
        In m: the diameter of the round tube of the same mean cross-section.

    Raises
    ------
    DimensionError
        Arguments of another kind.
    RangeError
        A mass or length not above 0; a bore that exceeds the length.

    Notes
    -----
    D = sqrt(4 m / (pi density length)), with m the indicated mass times `buoyancy_factor`:
    without it the bore comes out 0.05 % small. The air inside the empty tube and the tube
    itself need no further correction. Dry the tube before it is weighed empty: a film of
    0.01 mm left behind takes 0.02 mm off the bore, and a bubble makes it small too; state them
    with the mass. The bore holds at the temperature of the water; see `thermally_expanded`.

    Examples
    --------
    >>> from flowunc import Density, Length, Mass, bore_from_water_mass, limits, standard
    >>> bore = bore_from_water_mass(
    ...     Mass(426.6, "g", limits(1.0)),
    ...     length=Length(1.5, "m", limits(0.002)),
    ...     density=Density(998.2, "kg/m^3", standard(0.1)),
    ... ).to("mm")
    >>> round(bore.value, 3), round(bore.u, 3)
    (19.056, 0.015)
    """
    name = "bore_from_water_mass"
    indicated = _positive(require_kind(mass, Mass, name, "mass"), name, "mass")
    along = _positive(require_kind(length, Length, name, "length"), name, "length")
    water = named_by_role(require_kind(density, Density, name, "density"), "water density")
    net = indicated * buoyancy_factor(water, air_density)
    bore: Length = np.sqrt(net / water / along * (4.0 / np.pi))
    bad = np.asarray(bore._node.value > along._node.value)
    if bad.any():
        raise RangeError(
            f"{name}{first_at(bad)}: a bore of {float(np.max(bore._node.value)):.3g} m exceeds "
            f"the length of {float(np.max(along._node.value)):.3g} m; check the units of mass, "
            "length and density"
        )
    return bore.labelled(label)


def _positive(quantity: Any, function: str, argument: str) -> Any:
    given: Quantity = quantity
    bad = np.asarray(given._node.value <= 0)
    if bad.any():
        raise RangeError(
            f"{function}({argument}=...){first_at(bad)}: "
            f"{float(given._node.value[bad].flat[0]):g} {given.si.unit}; expected above 0: full "
            "and empty exchanged?"
        )
    return named_by_role(given, "water mass" if argument == "mass" else "filled length")


def _is_flat(readings: Any) -> bool:
    return all(np.ndim(row) == 0 for row in readings)


def _checked_diameters(readings: Any, caliper: Caliper) -> NDArray[np.float64]:
    """Return the readings as sections times directions, each checked against the caliper."""
    owner = f"{caliper.label}, diameters"
    if isinstance(readings, (str, Quantity)) or not np.iterable(readings):
        raise DimensionError(
            f"{owner}: got {readings!r}; expected a list of plain numbers, or one for each section"
        )
    rows = [readings] if _is_flat(readings) else list(readings)
    checked = []
    for number, row in enumerate(rows):
        values = np.atleast_1d(read_values(row, f"{owner}, section {number}"))
        caliper.scale.refuse_off_span(values, f"{owner}, section {number}")
        caliper._check_readings(values)
        checked.append(values)
    counts = sorted({values.size for values in checked})
    if len(counts) > 1:
        raise ShapeError(
            f"{owner}: sections with {counts[0]} to {counts[-1]} directions; expected the same "
            "directions in every section"
        )
    if len(checked) * counts[0] < 2:
        raise ShapeError(
            f"{owner}: one reading cannot show scatter; expected several sections or directions, "
            f"or {type(caliper).__name__}.read for a single one"
        )
    return np.array(checked)
