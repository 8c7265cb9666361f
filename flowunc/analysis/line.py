"""A straight line through measured points, its parameters recorded like every other result.

Both axes may have errors, shared or of each reading; the covariance comes from the record.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.chi_square import ChiSquare
from flowunc.analysis.fit_text import fit_html, fit_lines
from flowunc.analysis.least_squares import solve_line
from flowunc.analysis.parameters import (
    covariance_matrix,
    named_parameters,
    recorded_parameters,
)
from flowunc.analysis.point_errors import PointErrors
from flowunc.analysis.scatter import fit_scatter
from flowunc.core import operations as op
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import DimensionError, RangeError, ShapeError, warn_user
from flowunc.core.magnitude import LARGEST_EXPONENT, exponent_of, times_power_of_two
from flowunc.core.quantity import Quantity
from flowunc.core.record import Node, constant, elementwise, freeze
from flowunc.propagation.contributions import check_table, covariance

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LineFit", "fit_line"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LineFit:
    """A line y = intercept + slope x through measured points.

    Attributes
    ----------
    x, y : Quantity, shape (n,)
    intercept, slope : Quantity, scalar
        Recorded: they correlate with each other, with the data, and with all that shares
        components with the data.
    residuals : ndarray, shape (n,)
        y - intercept - slope x, in the unit of y.
    residual_u : ndarray, shape (n,)
        Standard uncertainty of y - slope x, in the unit of y: what the residuals should be
        like. With ``scatter=True`` the residual standard deviation.
    adjusted_x : ndarray, shape (n,)
        Most probable x, in the unit of x: both coordinates moved onto the line.
    goodness : ChiSquare or None
        None with ``scatter=True``, where the residuals themselves set the uncertainty.
    dof : int
        Points less fitted parameters, points that merely repeat another not counted.

    Notes
    -----
    Parameters depend on the data to first order only: how the weights and the adjusted x
    themselves move with the data is left out, as it is of the order of the residuals.
    """

    x: Quantity
    y: Quantity
    intercept: Quantity
    slope: Quantity
    residuals: Floats
    residual_u: Floats
    adjusted_x: Floats
    goodness: ChiSquare | None
    dof: int
    subject: str = field(default="they do not lie on one line", repr=False)

    @property
    def chi_square(self) -> float:
        """Sum of squares r^T V^-1 r at the best line; NaN with ``scatter=True``."""
        return math.nan if self.goodness is None else self.goodness.value

    @property
    def p_value(self) -> float:
        """Probability of a larger chi-square by chance; NaN where there is none."""
        return math.nan if self.goodness is None else self.goodness.p_value

    @property
    def residual_standard_deviation(self) -> float:
        """Root of the sum of squared residuals over dof, in the unit of y; NaN without dof."""
        exponent = exponent_of(self.residuals)
        squares = np.square(times_power_of_two(self.residuals, -exponent))
        if not self.dof:
            return math.nan
        return float(times_power_of_two(math.sqrt(float(np.sum(squares)) / self.dof), exponent))

    @property
    def covariance(self) -> Floats:
        """Covariance matrix of (intercept, slope) in their units, shape (2, 2)."""
        return covariance_matrix(self.intercept, self.slope)

    @property
    def correlation(self) -> float:
        """Correlation coefficient of intercept and slope; NaN where one of them is exact."""
        if self.intercept.u == 0 or self.slope.u == 0:
            return math.nan
        return float(self.intercept.correlation(self.slope))

    def predict(self, x: Quantity) -> Quantity:
        """Compute the line at x, its uncertainty included.

        Parameters
        ----------
        x : Quantity, scalar or shape (m,)
            In any unit of the dimension of the fitted x.

        Returns
        -------
        Quantity
            Of the kind and in the unit of y. The uncertainty is that of the line, not of a
            further reading, which scatters about it.

        Raises
        ------
        DimensionError
            Something else than a quantity of the dimension of x.
        """
        _require_difference(x, "predict", "x")
        if x._unit.dimension is not self.x._unit.dimension:
            raise DimensionError(
                f"predict(x=...): got {type(x).__name__} in '{x.unit}'; expected a quantity in a "
                f"unit like '{self.x.unit}'"
            )
        found = self.intercept + self.slope * x
        return self.y._with(found._node, label="line")

    def table(self) -> pd.DataFrame:
        """Return the points as a table, one line per reading, in the units of x and y."""
        import pandas as pd

        return pd.DataFrame(
            {
                "x": self.x.value,
                "u_x": self.x.u,
                "y": self.y.value,
                "u_y": self.y.u,
                "adjusted_x": self.adjusted_x,
                "fitted": self.y.value - self.residuals,
                "residual": self.residuals,
                "residual_u": self.residual_u,
            }
        )

    def __str__(self) -> str:
        return "\n".join(fit_lines(self._title(), self._parameters(), self._notes()))

    def _repr_html_(self) -> str:
        return fit_html(self._title(), self._parameters(), self._notes())

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        y_name = self.y.label or f"y ({type(self.y).__name__})"
        x_name = self.x.label or f"x ({type(self.x).__name__})"
        return f"line of {y_name} against {x_name}, {len(self.x)} points: y = intercept + slope x"

    def _parameters(self) -> tuple[Quantity, ...]:
        return self.intercept, self.slope

    def _notes(self) -> list[str]:
        notes = []
        if math.isfinite(self.correlation):
            notes.append(f"correlation of intercept and slope {self.correlation:.3f}")
        return [*notes, self.sentence]

    @property
    def sentence(self) -> str:
        """Say in one sentence how well the line fits."""
        if self.goodness is None:
            unit = "" if self.y.unit == "1" else f" {self.y.unit}"
            freedom = "degree" if self.dof == 1 else "degrees"
            return (
                f"residual standard deviation {self.residual_standard_deviation:.3g}{unit} on "
                f"{self.dof} {freedom} of freedom, taken from the points themselves"
            )
        if self.dof == 0:
            return (
                "the line goes through two points: there is no chi-square to say whether the "
                "stated uncertainties or a line are right; measure a third point"
            )
        advice = {
            "too large": "the points scatter more than the stated uncertainties allow: an "
            f"uncertainty is underestimated, or {self.subject}",
            "too small": "the points scatter less than the stated uncertainties suggest: they "
            "are overestimated, or errors stated for each reading are in fact shared",
            "as stated": "the scatter fits the stated uncertainties",
        }
        return f"{self.goodness}: {advice[self.goodness.verdict]}"


def fit_line(x: Quantity, y: Quantity, *, scatter: bool = False) -> LineFit:
    """Fit a straight line to points with errors in both axes.

    Parameters
    ----------
    x, y : Quantity, shape (n,)
        At least two points. A temperature must be a difference: ``t - Temperature(20, "degC")``.
    scatter : bool
        Take the scatter of y from the residuals instead of from statements: an unweighted fit
        with n - 2 degrees of freedom, for at least three points. Components that x and y
        share between readings are still carried through; those with a value for each reading
        are refused, as the residuals already show them.

    Returns
    -------
    LineFit

    Raises
    ------
    DimensionError
        Not quantities, or temperatures with a zero point.
    ShapeError
        Single values, or different lengths.
    RangeError
        Too few points, or all at the same x; a slope beyond float64.
    PropagationError
        Points without independent errors, which leave nothing to weigh; more than some ten
        thousand points.
    StatementError
        ``scatter=True`` for readings with stated errors of their own.

    Warns
    -----
    FlowuncWarning
        Another line fits nearly as well.

    Notes
    -----
    Minimises r^T V^-1 r, r = y - a - b x, V = V_yy - b (V_xy + V_xy^T) + b^2 V_xx with all
    covariances from the record; for independent points this is the solution of [York 1966],
    for exact x the weighted line. u of the parameters is from (D^T V^-1 D)^-1, D = [1, adjusted
    x] [York 2004]. ``scatter=True`` is the calibration line of [JCGM 100, H.3].

    Examples
    --------
    >>> from flowunc import Length, Time, fit_line, standard
    >>> time = Time([1.0, 2.0, 3.0, 4.0], "s", standard(0.02))
    >>> place = Length([12.1, 24.2, 35.9, 48.2], "mm", standard(0.2))
    >>> print(fit_line(time, place).slope.labelled("velocity"))
    velocity: 12.00 ± 0.14 mm/s
    """
    _require_points(x, y)
    return _scattered(x, y) if scatter else _weighted(x, y)


def _weighted(x: Quantity, y: Quantity) -> LineFit:
    check_table(
        len(x),
        len(y),
        "the covariance behind a fit",
        "fit fewer points, such as means over groups of readings",
    )
    (x_node, x_exponent), (y_node, y_exponent) = _near_one(x), _near_one(y)
    found = solve_line(
        x_node.value,
        y_node.value,
        PointErrors(
            covariance(x_node, x_node),
            covariance(y_node, y_node),
            covariance(x_node, y_node),
        ),
    ).of_larger(x_exponent, y_exponent)
    intercept, slope = recorded_parameters(x, y, found)
    if found.rivals:
        other, value = found.rivals[0]
        warn_user(
            f"fit of a line: slope {slope._unit.scale_from_si(other):.4g} fits nearly as well as "
            f"{slope.value:.4g} {slope.unit}, with chi-square {value:.3g} against "
            f"{found.chi_square:.3g}: the points do not fix the slope; measure over a wider range "
            "of x"
        )
    to_y, to_x = y._unit.scale_from_si, x._unit.scale_from_si
    return LineFit(
        x,
        y,
        intercept,
        slope,
        freeze(to_y(found.residuals)),
        freeze(to_y(found.residual_u)),
        freeze(to_x(found.adjusted_x)),
        ChiSquare(found.chi_square, found.dof),
        found.dof,
    )


def _near_one(quantity: Quantity) -> tuple[Node, int]:
    """Record a quantity over a power of two, so that its variances stay within float64."""
    sizes = np.maximum(np.abs(quantity._node.value), quantity._u_si())
    exponent = max(exponent_of(sizes), -LARGEST_EXPONENT)
    scale = constant(float(times_power_of_two(1.0, -exponent)))
    return elementwise(op.MULTIPLY, quantity._node, scale), exponent


def _scattered(x: Quantity, y: Quantity) -> LineFit:
    found = fit_scatter(x, y)
    moved = recorded_parameters(x, y, found.solution)
    own = named_parameters(x, y, found.intercept_error, found.slope_error)
    intercept, slope = (a + b for a, b in zip(moved, own, strict=True))
    intercept, slope = named_parameters(x, y, intercept, slope)
    return LineFit(
        x,
        y,
        intercept,
        slope,
        freeze(y._unit.scale_from_si(found.solution.residuals)),
        freeze(y._unit.scale_from_si(found.solution.residual_u)),
        freeze(x.value),
        None,
        found.solution.dof,
    )


def _require_difference(value: Any, function: str, argument: str) -> None:
    """Refuse what is no quantity, and temperatures with a zero point of their own."""
    if not isinstance(value, Quantity):
        raise DimensionError(
            f"{function}({argument}=...): got {type(value).__name__} {value!r}; expected a "
            "quantity, such as Length([1, 2, 3], 'm', standard(0.01))"
        )
    if value._absolute:
        raise DimensionError(
            f"{function}({argument}=...): got a Temperature in '{value.unit}', whose zero is "
            "arbitrary; expected a difference, such as t - Temperature(20, 'degC')"
        )


def _require_points(x: Quantity, y: Quantity) -> None:
    for argument, value in (("x", x), ("y", y)):
        _require_difference(value, "fit_line", argument)
        if value.ndim == 0:
            raise ShapeError(f"fit_line({argument}=...): a single value; expected readings")
    if len(x) != len(y):
        raise ShapeError(
            f"fit_line: {len(x)} readings of x and {len(y)} of y; expected one y for each x"
        )
    if len(x) < 2:
        raise RangeError("fit_line: 1 point; expected at least two, and three for a chi-square")
    if np.min(x._node.value) == np.max(x._node.value):
        raise RangeError(
            f"fit_line: all {len(x)} points at x = {np.atleast_1d(x.value)[0]:.6g} {x.unit}; "
            "expected at least two different ones"
        )
