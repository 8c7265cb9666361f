"""Platinum resistance thermometers: resistance and temperature, and the tolerance classes.

Both directions are exact, with exact derivatives. What is measured may be a temperature, on a
display that knows the curve (`Thermometer` with ``accuracy=iec_60751(...)``), or a resistance
(`PlatinumResistance`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Term
from flowunc.core.dimensions import TEMPERATURE
from flowunc.core.distributions import Distribution, Rectangular
from flowunc.core.errors import DimensionError, RangeError, StatementError
from flowunc.core.kinds import Ratio, Temperature, require_kind
from flowunc.core.naming import named_by_role
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.quantity import Quantity
from flowunc.core.record import elementwise
from flowunc.core.statements import Gain, Reference, Statement
from flowunc.core.units import Unit, parse_unit
from flowunc.instruments.instrument import first_at

__all__ = ["PlatinumResistance", "iec_60751"]

_ICE = 273.15  # K, 0 degC
# R = R0 (1 + A t + B t^2 + C (t - 100) t^3), t in degC, the last term below 0 only [IEC 60751]
_A, _B, _C = 3.9083e-3, -5.775e-7, -4.183e-12
_LOWEST, _HIGHEST = -200.0, 850.0  # degC, range of the equation [IEC 60751]
_KELVIN, _CELSIUS, _OHM = parse_unit("K"), parse_unit("degC"), parse_unit("Ohm")

# Tolerance in K is constant + slope |t|, with t in degC [IEC 60751].
_TOLERANCE = {"AA": (0.10, 0.0017), "A": (0.15, 0.002), "B": (0.30, 0.005), "C": (0.60, 0.01)}
# degC, where the tolerance holds [IEC 60751]
_VALID = {
    "film": {"AA": (0, 150), "A": (-30, 300), "B": (-50, 500), "C": (-50, 600)},
    "wire-wound": {"AA": (-50, 250), "A": (-100, 450), "B": (-196, 600), "C": (-196, 600)},
}


@dataclass(frozen=True, kw_only=True)
class ToleranceClass(Statement):
    """An error of a platinum thermometer that grows with the distance from 0 degC."""

    letters: str
    construction: str

    @property
    def role(self) -> str:
        """What it is called in messages and budgets."""
        return f"class {self.letters}"

    def distribution_for(self, reference: Reference) -> tuple[Distribution, Unit]:
        """Return the distribution of the error at 0 degC."""
        if reference.unit.dimension is not TEMPERATURE:
            raise StatementError(
                f"{self.role} [IEC 60751] on {reference.label} in '{reference.unit}'; expected a "
                "temperature"
            )
        return Rectangular(_TOLERANCE[self.letters][0]), _KELVIN

    def gain_for(self, values: NDArray[np.float64], reference: Reference) -> Gain:
        """Return how many times the tolerance is that at 0 degC; refuse what has none."""
        celsius = np.asarray(values) - _ICE
        low, high = _VALID[self.construction][self.letters]
        bad = (celsius < low - 1e-9) | (celsius > high + 1e-9)
        if bad.any():
            advice = "another class, or limits(...)"
            if self.construction == "film":
                advice += ", or construction='wire-wound' if the data sheet says so"
            raise RangeError(
                f"{reference.label}{first_at(bad)}: {float(celsius[bad].flat[0]):g} degC; "
                f"{self.role} of a {self.construction} resistor holds from {low} to {high} degC "
                f"[IEC 60751]; expected {advice}"
            )
        constant, slope = _TOLERANCE[self.letters]
        gain: NDArray[np.float64] = 1.0 + slope / constant * np.abs(celsius)
        return gain if gain.ndim else float(gain)


def iec_60751(
    tolerance_class: Literal["AA", "A", "B", "C"],
    *,
    construction: Literal["film", "wire-wound"] = "film",
    label: str | None = None,
) -> Statement:
    """State the tolerance class of a platinum resistance thermometer.

    Parameters
    ----------
    tolerance_class : {"AA", "A", "B", "C"}
        As marked on the sensor.
    construction : {"film", "wire-wound"}
        Each class holds over a wider range for a wire-wound sensor; if in doubt "film".
    label : str, optional
        Name of the component in budgets.

    Returns
    -------
    Statement
        For a temperature, for ``accuracy=`` of a `Thermometer`, or for ``tolerance=`` of a
        `PlatinumResistance`.

    Raises
    ------
    StatementError
        Another class or construction; something that is no temperature.
    RangeError
        A temperature at which the class does not hold.

    Notes
    -----
    Limits in K, with t in degC: AA 0.10 + 0.0017 abs(t), A 0.15 + 0.002 abs(t),
    B 0.30 + 0.005 abs(t), C 0.60 + 0.01 abs(t). Film, wire-wound in degC: AA 0 to 150, -50 to
    250; A -30 to 300, -100 to 450; B -50 to 500, -196 to 600; C -50 to 600, -196 to 600.
    Source: [IEC 60751]. Rectangular, one error behind all readings of a sensor, in proportion
    to the tolerance. It does not cover self-heating, the resistance of the leads, nor the
    error of the display.

    Examples
    --------
    >>> from flowunc import Scale, Thermometer, iec_60751
    >>> tank = Thermometer(Scale(0.01, "degC", kind="digital"), accuracy=iec_60751("A"))
    >>> round(tank.read(20.0).u, 4)  # 0.19 / sqrt(3)
    0.1097
    """
    if str(tolerance_class) not in _TOLERANCE:
        raise StatementError(
            f"iec_60751({tolerance_class!r}): expected the class marked on the sensor, 'AA', 'A', "
            "'B' or 'C'; a fraction such as 1/3 B is none: state its limits(...)"
        )
    if str(construction) not in _VALID:
        raise StatementError(
            f"iec_60751(construction={construction!r}): expected 'film' or 'wire-wound'"
        )
    return ToleranceClass(letters=tolerance_class, construction=construction, label=label)


class PlatinumResistance:
    """Convert between the resistance and the temperature of a platinum sensor.

    Parameters
    ----------
    at_zero : Quantity, scalar, optional
        Resistance at 0 degC; exactly 100 Ohm (Pt100) if left out.
    tolerance : Statement, optional
        Error of the sensor as a temperature, such as ``iec_60751("A")``: one behind all
        conversions. Leave it out for a sensor whose calibrated ``at_zero`` says it.
    label : str
        Name in budgets.

    Raises
    ------
    DimensionError
        A resistance at zero that is none.
    RangeError
        One that is not above 0.
    StatementError
        A tolerance that is no statement, or does not fit a temperature.

    Notes
    -----
    R = R0 (1 + A t + B t^2 + C (t - 100 degC) t^3), the last term below 0 degC only, with
    A = 3.9083e-3, B = -5.775e-7, C = -4.183e-12 (t in degC), from -200 to 850 degC
    [IEC 60751].

    Examples
    --------
    >>> from flowunc import PlatinumResistance, Quantity, iec_60751, limits
    >>> sensor = PlatinumResistance(tolerance=iec_60751("A"))
    >>> warm = sensor.temperature(Quantity(109.73, "Ohm", limits(0.01)))
    >>> round(warm.value, 2), round(warm.u, 3)
    (24.99, 0.116)
    """

    def __init__(
        self,
        at_zero: Quantity | None = None,
        *,
        tolerance: Statement | None = None,
        label: str = "platinum sensor",
    ) -> None:
        given: Any = label
        if not isinstance(given, str) or not given.strip():
            raise RangeError(f"PlatinumResistance(label={label!r}): expected a name")
        self._label = label
        resistance = Quantity(100.0, "Ohm") if at_zero is None else at_zero
        zero = named_by_role(_resistance(resistance, "at_zero"), f"{label} at 0 degC")
        if zero.ndim or not zero.si.value > 0:
            raise RangeError(
                f"PlatinumResistance(at_zero=...): {zero.value} {zero.unit}; expected one "
                "resistance above 0, such as Quantity(100, 'Ohm')"
            )
        self._at_zero = zero
        if tolerance is not None and not isinstance(tolerance, Statement):
            raise StatementError(
                f"PlatinumResistance(tolerance={tolerance!r}): expected a statement such as "
                "iec_60751('A') or limits(0.2)"
            )
        self._reference = Reference(label, _CELSIUS)
        self._tolerance: tuple[Statement, Component] | None = None
        if tolerance is not None:
            component = tolerance.component(self._reference, f"{label} tolerance")
            self._tolerance = tolerance, replace(component, role="calibration")

    @property
    def at_zero(self) -> Quantity:
        """Resistance at 0 degC."""
        return self._at_zero

    def temperature(self, resistance: Quantity) -> Temperature:
        """Return the temperature at which the sensor has a resistance.

        Parameters
        ----------
        resistance : Quantity, scalar or shape (n,)
            Of the sensor itself, without its leads.

        Returns
        -------
        Temperature, scalar or shape (n,)
            In degC.

        Raises
        ------
        DimensionError
            Something that is no resistance.
        RangeError
            A resistance outside -200 to 850 degC.
        """
        found = named_by_role(_resistance(resistance, "resistance"), f"{self._label} resistance")
        ratio: Ratio = found / self._at_zero
        value = np.asarray(ratio._node.value)
        low, high = _ratio(np.array([_LOWEST + _ICE, _HIGHEST + _ICE]))
        bad = (value < low) | (value > high)
        if bad.any():
            first = float(value[bad].flat[0])
            raise RangeError(
                f"{self._label}{first_at(bad)}: {first:.6g} times its resistance of "
                f"{self._at_zero.value:g} {self._at_zero.unit} at 0 degC; expected {low:.4f} to "
                f"{high:.4f}, -200 to 850 degC [IEC 60751]: a sensor of another resistance "
                "(Pt1000) needs at_zero="
            )
        kelvin = Temperature._from_node(elementwise(PLATINUM_TEMPERATURE, ratio._node), _CELSIUS)
        if self._tolerance is not None:
            kelvin = kelvin + self._error(kelvin, *self._tolerance)
        return kelvin.to("degC").labelled(self._label)

    def resistance(self, temperature: Temperature) -> Quantity:
        """Return the resistance that the sensor has at a temperature.

        Parameters
        ----------
        temperature : Temperature, scalar or shape (n,)
            From -200 to 850 degC.

        Returns
        -------
        Quantity, scalar or shape (n,)
            In the unit of ``at_zero``.

        Raises
        ------
        DimensionError
            Something that is no temperature.
        RangeError
            A temperature out of range.

        Examples
        --------
        >>> from flowunc import PlatinumResistance, Temperature
        >>> round(PlatinumResistance().resistance(Temperature(100, "degC")).value, 4)
        138.5055
        """
        found = require_kind(temperature, Temperature, "PlatinumResistance", "temperature")
        celsius = np.asarray(found._node.value) - _ICE
        bad = (celsius < _LOWEST - 1e-9) | (celsius > _HIGHEST + 1e-9)
        if bad.any():
            raise RangeError(
                f"{self._label}{first_at(bad)}: {float(celsius[bad].flat[0]):g} degC; expected "
                "-200 to 850 degC, the range of the equation [IEC 60751]"
            )
        if self._tolerance is not None:  # what the sensor takes for its temperature is off
            found = found - self._error(found, *self._tolerance)
        ratio = Ratio._from_node(elementwise(PLATINUM_RATIO, found._node))
        resistance: Quantity = ratio * self._at_zero
        return resistance.to(self._at_zero.unit).labelled(f"{self._label} resistance")

    def _error(
        self, temperature: Temperature, tolerance: Statement, component: Component
    ) -> Quantity:
        """Return the error of the sensor at temperatures, as a difference of mean 0."""
        kelvin = np.asarray(temperature._node.value)
        term = Term(component, tolerance.gain_for(kelvin, self._reference))
        return Quantity._from_terms(np.zeros(kelvin.shape), (term,), _KELVIN)


def _resistance(value: Any, argument: str) -> Quantity:
    expected = "expected a resistance such as Quantity(109.73, 'Ohm', limits(0.01))"
    if not isinstance(value, Quantity):
        raise DimensionError(
            f"PlatinumResistance({argument}=...): got {type(value).__name__} {value!r}; {expected}"
        )
    if value._unit.dimension is not _OHM.dimension:
        raise DimensionError(
            f"PlatinumResistance({argument}=...): got {type(value).__name__} in '{value.unit}'; "
            f"{expected}"
        )
    return value


# Written without a branch, so that Taylor polynomials pass through as arrays do.
def _ratio(kelvin: Value, out: Value | None = None) -> Value:
    t = kelvin - _ICE
    cold = np.minimum(t, 0.0)
    return np.asarray(np.add(1.0 + t * (_A + _B * t), _C * (cold - 100.0) * cold**3, out=out))


def _slope(kelvin: Value) -> Value:
    t = kelvin - _ICE
    return np.asarray(_A + 2.0 * _B * t + _cold_slope(np.minimum(t, 0.0)))


def _cold_slope(t: Any) -> Any:
    return _C * (4.0 * t - 300.0) * t**2


def _kelvin(ratio: Value, out: Value | None = None) -> Value:
    # The quadratic is exact above 0 degC. Below it starts Newton's method, 2.4 K off at worst:
    # three steps reach rounding, five do so for second derivatives too.
    warm, cold = np.maximum(ratio - 1.0, 0.0), np.minimum(ratio - 1.0, 0.0)
    below = _root(cold)
    for _ in range(5):
        miss = below * (_A + _B * below) + _C * (below - 100.0) * below**3 - cold
        below = below - miss / (_A + 2.0 * _B * below + _cold_slope(below))
    return np.asarray(np.add(_root(warm) + below, _ICE, out=out))


def _root(excess: Any) -> Any:
    """Return t of A t + B t^2 = excess, written so that nothing cancels near 0."""
    return 2.0 * excess / (_A + np.sqrt(np.maximum(_A * _A + 4.0 * _B * excess, 0.0)))


def _pull_ratio(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return (weight * _slope(values[0]),)


def _pull_kelvin(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return (weight / _slope(result),)


PLATINUM_RATIO = Elementwise(
    "PLATINUM_RATIO", "platinum resistance ratio", _ratio, _pull_ratio, module=__name__
)
PLATINUM_TEMPERATURE = Elementwise(
    "PLATINUM_TEMPERATURE", "platinum temperature", _kelvin, _pull_kelvin, module=__name__
)
