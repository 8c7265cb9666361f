"""A liquid from a data sheet: density and viscosity interpolated in a table of temperatures."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Rectangular
from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Ratio,
    Temperature,
    require_kind,
)
from flowunc.core.naming import named_by_role
from flowunc.core.piecewise_cubic import PiecewiseCubic
from flowunc.core.quantity import Quantity
from flowunc.core.record import elementwise, take
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.fluids.ranges import require_within

__all__ = ["TabulatedLiquid"]

Q = TypeVar("Q", bound=Quantity)


class TabulatedLiquid:
    """A liquid known from a table of temperature, density and viscosity.

    Parameters
    ----------
    temperature : Temperature, shape (n,)
        Three entries or more, rising, without uncertainty.
    density : Density, shape (n,)
        With what is known of its uncertainty: ``shared(limits(2))`` is one error behind the
        whole table, as of the batch or of the meter that measured it; ``limits(0.5)`` is an
        error of its own for each entry, as of rounding.
    viscosity : DynamicViscosity or KinematicViscosity, shape (n,)
        Likewise, such as ``shared(percent_of_reading(2))``.
    label : str
        Name in budgets and messages.

    Raises
    ------
    DimensionError
        Plain numbers, or another kind of quantity.
    ShapeError
        Fewer than three entries, or columns of different lengths.
    RangeError
        Temperatures that do not rise; a density or viscosity that is not above 0.
    StatementError
        A temperature with an uncertainty.

    Notes
    -----
    Density and the logarithm of the viscosity are interpolated over temperature by the monotone
    cubic of [Fritsch 1984], with its exact derivative; temperatures outside the table are
    refused. Errors of entries (of the viscosity: relative ones) are interpolated linearly.

    Interpolation: rectangular, half-width (T - T_i)(T_i+1 - T) k between entries i and i + 1,
    where k is half the second derivative that the table shows there and next to it; one shared
    component for the density and one for the viscosity. That is what a straight line would
    miss, and so wide for a smooth table, but an estimate all the same: three entries cannot
    show that the curvature changes. It falls with the square of the distance between entries.

    Examples
    --------
    >>> from flowunc import Density, DynamicViscosity, Temperature, limits
    >>> from flowunc import TabulatedLiquid, percent_of_reading, shared
    >>> oil = TabulatedLiquid(  # invented
    ...     temperature=Temperature([10, 20, 30, 40], "degC"),
    ...     density=Density([871, 864, 857, 850], "kg/m^3", shared(limits(2))),
    ...     viscosity=DynamicViscosity([61, 37, 24, 16.4], "mPa*s", shared(percent_of_reading(2))),
    ...     label="test oil",
    ... )
    >>> print(oil.viscosity(Temperature(23, "degC", limits(0.5))).to("mPa*s"))
    test oil viscosity: 32.29 ± 0.57 mPa*s
    """

    def __init__(
        self,
        temperature: Temperature,
        density: Density,
        viscosity: DynamicViscosity | KinematicViscosity,
        *,
        label: str = "tabulated liquid",
    ) -> None:
        self._label = _checked_label(label)
        kelvin = self._temperatures(temperature)
        self._range = float(kelvin[0]) - 273.15, float(kelvin[-1]) - 273.15
        self._density = self._column(density, Density, "density", kelvin.size)
        self._kinematic = isinstance(viscosity, KinematicViscosity)
        kind = KinematicViscosity if self._kinematic else DynamicViscosity
        self._viscosity: Quantity = self._column(viscosity, kind, "viscosity", kelvin.size)
        self._density_curve = PiecewiseCubic.through(
            f"{label} density", kelvin, self._density._node.value
        )
        self._viscosity_curve = PiecewiseCubic.through(
            f"{label} viscosity", kelvin, np.log(self._viscosity._node.value)
        )
        # made once: one error behind all that comes from this table
        self._density_departure = self._departure(
            self._density_curve, "density", float(self._density._node.value.min())
        )
        self._viscosity_departure = self._departure(self._viscosity_curve, "viscosity", 1.0)

    def __repr__(self) -> str:
        low, high = self._range
        entries = self._density_curve.knots.size
        return f"<{self._label}: {entries} entries, {low:g} degC to {high:g} degC>"

    @property
    def label(self) -> str:
        """Name in budgets and messages."""
        return self._label

    def density(self, temperature: Temperature) -> Density:
        """Interpolate the density.

        Parameters
        ----------
        temperature : Temperature, scalar or shape (m,)
            Within the table.

        Returns
        -------
        Density, shaped as ``temperature``
            In kg/m^3.

        Raises
        ------
        DimensionError
            Something else than a Temperature.
        RangeError
            A temperature outside the table.
        """
        found = self._checked(temperature, "density")
        curve = Density._from_node(elementwise(self._density_curve, found._node))
        width = self._density_curve.departure(found._node.value) / curve._node.value
        between = self._between(
            self._density - self._plain(self._density), self._density_curve, found
        )
        result = curve * self._within(self._density_departure, width) + between
        return Density._from_node(result._node, label=f"{self._label} density")

    def viscosity(self, temperature: Temperature) -> DynamicViscosity:
        """Interpolate the dynamic viscosity; from kinematic entries, times the density.

        Parameters
        ----------
        temperature : Temperature, scalar or shape (m,)
            Within the table.

        Returns
        -------
        DynamicViscosity, shaped as ``temperature``
            In Pa s.

        Raises
        ------
        DimensionError, RangeError
            As `density`.
        """
        result = self._interpolated_viscosity(temperature, "viscosity")
        if self._kinematic:
            result = result * self.density(temperature)
        return DynamicViscosity._from_node(result._node, label=f"{self._label} viscosity")

    def kinematic_viscosity(self, temperature: Temperature) -> KinematicViscosity:
        """Interpolate the kinematic viscosity; from dynamic entries, over the density.

        Parameters
        ----------
        temperature : Temperature, scalar or shape (m,)
            Within the table.

        Returns
        -------
        KinematicViscosity, shaped as ``temperature``
            In m^2/s.

        Raises
        ------
        DimensionError, RangeError
            As `density`.
        """
        result = self._interpolated_viscosity(temperature, "kinematic_viscosity")
        if not self._kinematic:
            result = result / self.density(temperature)
        name = f"{self._label} kinematic viscosity"
        return KinematicViscosity._from_node(result._node, label=name)

    def _interpolated_viscosity(self, temperature: Temperature, function: str) -> Quantity:
        found = self._checked(temperature, function)
        logarithm = Ratio._from_node(elementwise(self._viscosity_curve, found._node))
        curve = Quantity(1.0, self._viscosity.si.unit) * np.exp(logarithm)
        width = self._viscosity_curve.departure(found._node.value)
        result: Quantity = curve * self._within(self._viscosity_departure, width)
        relative = self._viscosity / self._plain(self._viscosity)
        result = result * self._between(relative, self._viscosity_curve, found)
        return result

    @staticmethod
    def _plain(column: Quantity) -> Quantity:
        """Return the entries without their errors."""
        return Quantity(column._node.value, column.si.unit)

    @staticmethod
    def _between(column: Quantity, curve: PiecewiseCubic, found: Temperature) -> Quantity:
        """Interpolate errors of entries linearly at each temperature."""
        below, share = curve.bracket(found._node.value)
        low, high = (
            column._with(take(column._node, int(at) if at.ndim == 0 else at))
            for at in (below, below + 1)
        )
        result: Quantity = low * Ratio(1.0 - share, "1") + high * Ratio(share, "1")
        return result

    @staticmethod
    def _within(component: Component, width: Any) -> Ratio:
        largest = component.distribution.standard_uncertainty * np.sqrt(3.0)
        return one_within(Term(component, width / largest if largest else np.zeros_like(width)))

    def _departure(self, curve: PiecewiseCubic, what: str, size: float) -> Component:
        knots = curve.knots
        widest = float(np.max(curve.departure(0.5 * (knots[:-1] + knots[1:])))) / size
        return Component(
            label=f"{self._label} {what}, interpolation",
            distribution=Rectangular(widest),
            unit=PERCENT,
            source=self._label,
        )

    def _temperatures(self, temperature: Temperature) -> Any:
        found = self._required(temperature, Temperature, "temperature")
        kelvin = found._node.value
        if kelvin.ndim == 0 or kelvin.size < 3:
            raise ShapeError(
                f"TabulatedLiquid(temperature=...): {kelvin.size} entries; expected three or more: "
                "two show no curvature, and so not how far the interpolation may be off"
            )
        steps = np.diff(kelvin)
        if not (steps > 0).all():
            place = int(np.argmin(steps > 0))
            first, second = (float(t) - 273.15 for t in kelvin[place : place + 2])
            raise RangeError(
                f"TabulatedLiquid(temperature=...): {second:.6g} degC at entry {place + 1} follows "
                f"{first:.6g} degC; expected rising temperatures, each once: sort all three columns"
            )
        if found._node.active:
            raise StatementError(
                "TabulatedLiquid(temperature=...): has an uncertainty; expected the plain "
                "temperatures of the table, with what is uncertain stated on density and viscosity"
            )
        return kelvin

    def _column(self, given: Any, kind: type[Q], name: str, size: int) -> Q:
        column = self._required(given, kind, name)
        if column._node.size != size:
            entries = "one value" if column._node.size is None else f"{column._node.size} entries"
            raise ShapeError(
                f"TabulatedLiquid({name}=...): {entries} for {size} temperatures; expected one "
                "entry for each"
            )
        bad = column._node.value <= 0
        if bad.any():
            first = int(np.argmax(bad))
            shown = float(column._unit.from_si(column._node.value[first]))
            raise RangeError(
                f"TabulatedLiquid({name}=...): {shown:.6g} {column.unit} at entry {first}; "
                "expected numbers above 0"
            )
        return named_by_role(column, f"{self._label} {name}")

    @staticmethod
    def _required(given: Any, kind: type[Q], name: str) -> Q:
        if not isinstance(given, Quantity):
            example = {
                "temperature": "Temperature([10, 20, 30], 'degC')",
                "density": "Density([871, 864, 857], 'kg/m^3', shared(limits(2)))",
                "viscosity": "DynamicViscosity([61, 37, 24], 'mPa*s', shared(limits(1)))",
            }[name]
            raise DimensionError(
                f"TabulatedLiquid({name}={given!r}): expected a column with its unit, such as "
                f"{example}"
            )
        return require_kind(given, kind, "TabulatedLiquid", name)

    def _checked(self, temperature: Temperature, function: str) -> Temperature:
        name = f"TabulatedLiquid.{function}"
        found = require_kind(temperature, Temperature, name, "temperature")
        require_within(
            found,
            *self._range,
            "degC",
            argument=f"{name}(temperature=...)",
            source=f"the table of {self._label}",
            hint="a table is not extrapolated; add entries from the data sheet",
        )
        return found


def _checked_label(label: Any) -> str:
    if not isinstance(label, str) or not label.strip():
        raise RangeError(f"TabulatedLiquid(label={label!r}): expected text such as 'test oil'")
    return label
