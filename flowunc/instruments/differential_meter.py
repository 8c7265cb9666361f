"""`DifferentialMeter`: flow of a liquid from the pressure drop across a narrowed section.

What orifice plate and venturi tube have in common: the equation of flow, the bores, and a
discharge coefficient of one's own calibration in place of that of the standard.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Term
from flowunc.core.distributions import Normal
from flowunc.core.errors import RangeError, ShapeError, StatementError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    Length,
    MassFlowRate,
    Pressure,
    Ratio,
    ReynoldsNumber,
    VolumeFlowRate,
    require_kind,
)
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.units import parse_unit
from flowunc.instruments.instrument import _name, first_at

__all__ = ["DifferentialMeter", "Floats", "refuse_outside"]

Floats = NDArray[np.float64]

_PERCENT = parse_unit("%")


class DifferentialMeter(ABC):
    """Base of meters that make a pressure drop.

    Parameters
    ----------
    throat : Length, scalar
        Bore of the orifice or of the throat.
    bore : Length, scalar
        Bore of the pipe upstream, wider than the throat.
    coefficient : Ratio, scalar, optional
        Discharge coefficient of a calibration of one's own, which takes the place of that of
        the standard and of its range.
    label : str, optional
        Name in budgets.
    """

    _role: ClassVar[str] = "differential meter"
    _throat_word: ClassVar[str] = "throat"
    _source: ClassVar[str] = ""

    def __init__(
        self, throat: Length, bore: Length, coefficient: Ratio | None, label: str | None
    ) -> None:
        self._label = self._role if label is None else _name(label, type(self).__name__)
        self._throat = self._one(throat, self._throat_word)
        self._bore = self._one(bore, "bore")
        beta = self._throat.si.value / self._bore.si.value
        if not beta < 1:
            raise RangeError(
                f"{self._label}: {self._throat_word} {self._throat} in a bore of {self._bore}; "
                "expected it narrower than the pipe: exchanged?"
            )
        self._coefficient: Ratio | None = None
        if coefficient is not None:
            given = require_kind(coefficient, Ratio, type(self).__name__, "coefficient")
            if given.ndim:
                raise ShapeError(f"{self._label}: {given.size} coefficients; expected one")
            if not 0 < given.si.value < 1.2:
                raise RangeError(
                    f"{self._label}: discharge coefficient {given.si.value:g}; expected about "
                    "0.6 for an orifice plate and just below 1 for a venturi tube"
                )
            self._coefficient = named_by_role(given, f"{self._label} discharge coefficient")
        # the error of one meter's coefficient, in units of its standard uncertainty
        self._model_error = Component(
            label=f"{self._label} discharge coefficient",
            distribution=Normal(0.01),
            unit=_PERCENT,
            source=self._source,
        )

    def _one(self, value: Any, word: str) -> Length:
        given = require_kind(value, Length, type(self).__name__, word)
        if given.ndim:
            raise ShapeError(f"{self._label}: {given.size} values of {word}; expected one")
        if not given.si.value > 0:
            raise RangeError(f"{self._label}: {word} {given}; expected above 0")
        return named_by_role(given, f"{self._label} {word}")

    @property
    def label(self) -> str:
        """Name in budgets."""
        return self._label

    @property
    def bore(self) -> Length:
        """Bore of the pipe upstream."""
        return self._bore

    @property
    def coefficient(self) -> Ratio | None:
        """Discharge coefficient of its own calibration; None for that of the standard."""
        return self._coefficient

    @property
    def diameter_ratio(self) -> Ratio:
        """Throat over bore."""
        ratio: Ratio = self._throat / self._bore
        return ratio.labelled(f"{self._label} diameter ratio")

    @abstractmethod
    def _standard_coefficient(self, phi: Ratio) -> tuple[Ratio, Floats]:
        """Return C of the standard, without its error, and its U (k = 2) in per cent.

        ``phi`` is the Reynolds number of the pipe if C were 1; refuses what is out of range.
        """

    def mass_flow(
        self,
        pressure_drop: Pressure,
        *,
        density: Density,
        viscosity: DynamicViscosity | None = None,
    ) -> MassFlowRate:
        """Compute the mass flow rate of a liquid.

        Parameters
        ----------
        pressure_drop : Pressure, scalar or shape (n,)
            Between the taps, above 0; at equal height, or piezometric as a manometer with
            limbs full of the flowing liquid shows it.
        density : Density, scalar or shape (n,)
            Of the flowing liquid.
        viscosity : DynamicViscosity, scalar or shape (n,)
            Of the flowing liquid; has no use with a coefficient of one's own.

        Returns
        -------
        MassFlowRate, scalar or shape (n,)
            In kg/s.

        Raises
        ------
        DimensionError
            Quantities of another kind.
        RangeError
            A drop, density or viscosity not above 0; a meter or Reynolds number outside the
            range of the standard.
        StatementError
            A viscosity missing.

        Notes
        -----
        q_m = C / sqrt(1 - beta^4) (pi/4) d^2 sqrt(2 dp rho), with the expansibility 1 of a
        liquid [ISO 5167-1]. The bore also enters beta, once, and C.
        """
        dp, rho = self._inputs(pressure_drop, density)
        ideal = self._ideal(dp, rho)
        flow: MassFlowRate = self._c(ideal, viscosity) * ideal
        return flow.labelled(f"{self._label} mass flow")

    def flow(
        self,
        pressure_drop: Pressure,
        *,
        density: Density,
        viscosity: DynamicViscosity | None = None,
    ) -> VolumeFlowRate:
        """Compute the volume flow rate of a liquid.

        Parameters
        ----------
        pressure_drop, density, viscosity
            As for `mass_flow`.

        Returns
        -------
        VolumeFlowRate, scalar or shape (n,)
            In m^3/s.

        Raises
        ------
        DimensionError, RangeError, StatementError
            As for `mass_flow`.

        Notes
        -----
        Q = q_m / rho, so the density enters as rho^(-1/2).
        """
        dp, rho = self._inputs(pressure_drop, density)
        ideal = self._ideal(dp, rho)
        flow: VolumeFlowRate = self._c(ideal, viscosity) * ideal / rho
        return flow.labelled(self._label)

    def discharge_coefficient(
        self,
        pressure_drop: Pressure,
        *,
        density: Density,
        viscosity: DynamicViscosity | None = None,
    ) -> Ratio:
        """Compute the discharge coefficient at a pressure drop, its uncertainty included.

        Parameters
        ----------
        pressure_drop, density, viscosity
            As for `mass_flow`.

        Returns
        -------
        Ratio, scalar or shape (n,)

        Raises
        ------
        DimensionError, RangeError, StatementError
            As for `mass_flow`.
        """
        dp, rho = self._inputs(pressure_drop, density)
        return self._c(self._ideal(dp, rho), viscosity)

    def reynolds_number(
        self,
        pressure_drop: Pressure,
        *,
        density: Density,
        viscosity: DynamicViscosity,
    ) -> ReynoldsNumber:
        """Compute the Reynolds number of the pipe upstream, Re = 4 q_m / (pi mu D).

        Parameters
        ----------
        pressure_drop, density, viscosity
            As for `mass_flow`.

        Returns
        -------
        ReynoldsNumber, scalar or shape (n,)

        Raises
        ------
        DimensionError, RangeError, StatementError
            As for `mass_flow`.
        """
        dp, rho = self._inputs(pressure_drop, density)
        ideal = self._ideal(dp, rho)
        mu = self._viscosity(viscosity)
        re = self._c(ideal, viscosity) * self._phi(ideal, mu)
        return ReynoldsNumber._from_node(re._node, label="Reynolds number")

    def _inputs(self, pressure_drop: Any, density: Any) -> tuple[Pressure, Density]:
        dp = require_kind(pressure_drop, Pressure, "flow", "pressure_drop")
        rho = named_by_role(require_kind(density, Density, "flow", "density"), "density")
        hint = "a run without flow is a zero check; or the taps are exchanged"
        _refuse_not_positive(dp, f"{self._label}: pressure drop", hint)
        _refuse_not_positive(rho, f"{self._label}: density", "check number and unit")
        return dp, rho

    def _viscosity(self, viscosity: Any) -> DynamicViscosity:
        if viscosity is None:
            raise StatementError(
                f"{self._label}: viscosity= of the liquid is missing, on which the Reynolds "
                "number depends; give DynamicViscosity(1.0, 'mPa*s', ...)"
            )
        mu = require_kind(viscosity, DynamicViscosity, "flow", "viscosity")
        _refuse_not_positive(mu, f"{self._label}: viscosity", "check number and unit")
        return named_by_role(mu, "viscosity")

    def _ideal(self, dp: Pressure, rho: Density) -> MassFlowRate:
        """Return the mass flow if C were 1."""
        d, beta = self._throat, self._throat / self._bore
        ideal: MassFlowRate = math.pi / 4 * d**2 * np.sqrt(2 * dp * rho / (1 - beta**4))
        return ideal

    def _phi(self, ideal: MassFlowRate, viscosity: DynamicViscosity) -> Ratio:
        phi: Ratio = 4 * ideal / (math.pi * viscosity * self._bore)
        return phi

    def _c(self, ideal: MassFlowRate, viscosity: Any) -> Ratio:
        if self._coefficient is not None:
            return self._coefficient
        found, percent = self._standard_coefficient(self._phi(ideal, self._viscosity(viscosity)))
        half = percent / 2.0  # U has k = 2
        gain: Any = float(half) if half.ndim == 0 else half
        error = Ratio._from_terms(np.ones(half.shape), (Term(self._model_error, gain),), _PERCENT)
        coefficient: Ratio = found * error
        return coefficient.labelled("discharge coefficient")


def _refuse_not_positive(quantity: Quantity, what: str, hint: str) -> None:
    values = np.asarray(quantity.value)
    bad = values <= 0
    if bad.any():
        raise RangeError(
            f"{what}{first_at(bad)}: {float(values[bad].flat[0]):g} {quantity.unit}; expected "
            f"above 0: {hint}"
        )


def refuse_outside(
    values: Floats, low: Floats | float, high: float, what: str, unit: str, source: str
) -> None:
    """Refuse values outside the range of a standard, naming the first."""
    slack = 1e-9
    bad = (values < np.asarray(low) * (1 - slack)) | (values > high * (1 + slack))
    if bad.any():
        lows = np.broadcast_to(np.asarray(low), bad.shape)
        shown = float(values[bad].flat[0])
        lowest = float(lows[bad].flat[0])
        limits = f"{lowest:.6g} to {high:.6g}" if math.isfinite(high) else f"at least {lowest:.6g}"
        raise RangeError(
            f"{what}{first_at(bad)}: {shown:.6g}{unit}; expected {limits}{unit}, the range of "
            f"{source}: calibrate the meter and give it coefficient=Ratio(...), with its "
            "uncertainty"
        )
