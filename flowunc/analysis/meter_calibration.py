"""`fit_calibration`: the line of a meter against a reference, and the meter that goes by it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.analysis.line import LineFit, fit_line
from flowunc.core.arguments import read_values
from flowunc.core.component import Pool, Term
from flowunc.core.display.tables import mimebundle, paragraphs
from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError, warn_user
from flowunc.core.kinds import Density, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.meter_calibration import CalibratedByLine, ResidualScatter
from flowunc.propagation.contributions import contributions

__all__ = ["MeterCalibration", "fit_calibration"]

M = TypeVar("M", bound=CalibratedByLine[Any])


@dataclass(frozen=True, eq=False)
class MeterCalibration(Generic[M]):
    """The calibration of a meter against a reference.

    Attributes
    ----------
    meter : instrument
        The meter as calibrated: its readings go by the line.
    line : LineFit
        Reference against reading, with residuals, covariance and degrees of freedom.
    span : (float, float)
        Lowest and highest reading of the calibration, in the unit of the scale.
    """

    meter: M
    line: LineFit
    span: tuple[float, float]

    def __str__(self) -> str:
        low, high = self.span
        return f"{self.line}\n  holds for readings from {low:g} to {high:g} {self.line.x.unit}"

    def _repr_html_(self) -> str:
        holds = str(self).rpartition("\n")[2].strip()
        return f"{self.line._repr_html_()}\n{paragraphs([holds])}"

    _repr_mimebundle_ = mimebundle


def fit_calibration(
    meter: M,
    readings: ArrayLike,
    reference: Quantity,
    *,
    scatter: bool = True,
    drift: Statement | None = None,
    density: Density | None = None,
) -> MeterCalibration[M]:
    """Calibrate a meter against a reference: fit a line, and make the meter go by it.

    Parameters
    ----------
    meter : VariableAreaMeter or PressureTransmitter
        As on its data sheet; what that says of its accuracy is replaced.
    readings : array_like, shape (n,)
        Plain numbers read from its scale, in the unit of the scale.
    reference : Quantity, shape (n,)
        What the reference gave for each of them, such as `TimedCollection.read`.
    scatter : bool
        True: all points alike, and the scatter about the line from the residuals, at least
        three points, better ten. False: points weighted by their stated errors, the resolution
        of the meter among them, at least two points; no scatter beyond the resolution.
    drift : Statement, optional
        What may have changed since the calibration: one error behind all later readings.
    density : Density, scalar, optional
        Of the liquid in the calibration, for a variable-area meter that knows its densities.

    Returns
    -------
    MeterCalibration
        Its ``meter`` is used like the one given.

    Raises
    ------
    DimensionError
        Readings that are quantities; a reference of another kind; no meter that can go by a
        line.
    ShapeError
        Different numbers of readings and reference values, or one only.
    RangeError
        Too few points, all at one reading, readings off the scale, a line that falls.
    StatementError
        A density missing or without use.

    Warns
    -----
    FlowuncWarning
        ``scatter=False``, and the points scatter more than the stated errors allow.

    Notes
    -----
    reference = intercept + slope * reading by least squares [JCGM 100, H.3]. Errors that the
    reference values have in common (the balance, the density) go into the line in full and
    stay correlated with the reference. With ``scatter=True`` those of single reference values
    are left out, as the residuals already show them; the residual standard deviation goes
    with every later reading of the meter.

    Examples
    --------
    Invented calibration of a meter by timed collection.

    >>> from flowunc import Scale, VariableAreaMeter, VolumeFlowRate
    >>> from flowunc import fit_calibration, percent_of_full_scale, percent_of_reading, shared
    >>> sheet = VariableAreaMeter(
    ...     Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=percent_of_full_scale(4)
    ... )
    >>> weighed = VolumeFlowRate(
    ...     [0.87, 1.34, 1.91, 2.37, 2.94, 3.41], "L/min", shared(percent_of_reading(0.3))
    ... )
    >>> calibration = fit_calibration(sheet, [0.8, 1.3, 1.8, 2.3, 2.8, 3.3], weighed)
    >>> print(sheet.read(2.0), "->", calibration.meter.read(2.0))
    flow meter: 2.000 ± 0.097 L/min -> flow meter: 2.089 ± 0.033 L/min
    """
    options: dict[str, Any] = {}
    if density is not None:
        if not isinstance(meter, VariableAreaMeter):
            raise StatementError(
                f"fit_calibration: density= has no use for {meter.label}, which does not correct "
                "for it; leave it out"
            )
        options["density"] = density
    given, found = _points(meter, readings, reference)
    if scatter and given.size < 3:
        raise RangeError(
            f"calibration of {meter.label}: {given.size} points leave no scatter; measure at least "
            "three, or give scatter=False"
        )
    unit = meter.scale.parsed_unit
    name = f"{meter.label} reading"
    si = np.asarray(unit.to_si(given), dtype=np.float64)
    if scatter:
        x = meter._kind._from_terms(si, (), unit, name)
        line = fit_line(x, _common_errors(found), scatter=True)
    else:
        resolution = meter.scale.resolution_component(
            f"{meter.label} resolution, calibration", given.size, source=meter.label
        )
        parallax = meter.scale.parallax_terms(
            si, replace(meter._reference, size=given.size), "calibration"
        )
        x = meter._kind._from_terms(si, (Term(resolution), *parallax), unit, name)
        line = fit_line(x, found)
        if line.goodness is not None and line.dof and line.goodness.verdict == "too large":
            warn_user(
                f"calibration of {meter.label}: {line.sentence}; use scatter=True, which takes "
                "the scatter from the points, or look at the residuals for a bend"
            )
    span = float(given.min()), float(given.max())
    calibrated = meter.calibrated(
        intercept=line.intercept,
        slope=line.slope,
        span=span,
        scatter=_residual_scatter(line) if scatter else None,
        drift=drift,
        **options,
    )
    return MeterCalibration(calibrated, line, span)


def _points(meter: Any, readings: Any, reference: Any) -> tuple[NDArray[np.float64], Quantity]:
    if not isinstance(meter, CalibratedByLine):
        raise DimensionError(
            f"fit_calibration(meter=...): got {type(meter).__name__} {meter!r}; expected an "
            "instrument that can go by a line, such as a VariableAreaMeter"
        )
    if meter.line is not None:
        raise RangeError(
            f"{meter.label} goes by a calibration line already; calibrate the meter as it came, "
            "not the corrected one"
        )
    if isinstance(readings, Quantity):
        raise DimensionError(
            f"fit_calibration(readings=...): got {type(readings).__name__}; expected the plain "
            f"numbers on the scale in '{meter.scale.unit}': the accuracy of the data sheet, "
            "which readings carry, is what the calibration replaces"
        )
    found = require_kind(reference, meter._kind, "fit_calibration", "reference")
    given = read_values(readings, f"{meter.label} in '{meter.scale.unit}'")
    if given.ndim == 0 or found.ndim == 0 or given.size != len(found):
        counts = [1 if item.ndim == 0 else int(item.size) for item in (given, found)]
        raise ShapeError(
            f"fit_calibration: {counts[0]} readings and {counts[1]} reference values; expected "
            "one of each at several flows"
        )
    meter.scale.check(given, meter.label)
    return given, found.to(meter.scale.unit)


def _common_errors(reference: Quantity) -> Quantity:
    """Return the reference with the errors that its values have in common, to first order."""
    terms = []
    for part in contributions(reference._node):
        # a component that reaches one value only is that value's own, whatever its scope
        if part.component.scope == "each" or np.count_nonzero(part.values) == 1:
            continue
        gain = np.zeros(part.size)
        spread = float(np.max(part.component.distribution.standard_uncertainty))
        gain[part.row_indices()] = part.values / spread
        terms.append(Term(part.component, gain))
    return type(reference)._from_terms(
        np.array(reference.si.value), terms, reference._unit, reference.label or "reference"
    )


def _residual_scatter(line: LineFit) -> ResidualScatter:
    """Return the scatter of single readings, of one sample with the line."""
    s = line.y._unit.to_si(line.residual_standard_deviation)
    before = {item.pool.key for item in line.y.components if item.pool is not None}
    pools = {item.pool.key: item.pool for item in line.slope.components if item.pool is not None}
    # points exactly on a line have no scatter, and so no component with a pool
    own = [pool for key, pool in pools.items() if key not in before]
    return ResidualScatter(
        standard_deviation=float(s), pool=own[0] if own else Pool(dof=float(line.dof))
    )
