"""A power law f = coefficient Re^exponent through measured friction factors.

Flow, bore and temperature stand behind both axes: an error of the flow moves a point along a
steep line in the plot of log f against log Re. The fit takes that covariance from the record.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.fit_text import fit_html, fit_lines
from flowunc.analysis.line import LineFit, fit_line
from flowunc.analysis.parameters import covariance_matrix
from flowunc.core import operations as op
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import ShapeError
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.record import elementwise
from flowunc.pipe.signs import require_positive

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PowerLawFit", "fit_power_law"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PowerLawFit:
    """A power law f = coefficient Re^exponent.

    Attributes
    ----------
    reynolds : ReynoldsNumber, shape (n,)
    friction : FrictionFactor, shape (n,)
    coefficient, exponent : Ratio, scalar
        Recorded: correlated with each other and with all that shares components with the
        data. The coefficient is f at Re = 1, far from the data, and where its relative u is
        large the first-order u is too small (`cross_check` says so): rather use `predict`.
    line : LineFit
        The line of ln f against ln Re behind it.
    """

    reynolds: ReynoldsNumber
    friction: FrictionFactor
    coefficient: Ratio
    exponent: Ratio
    line: LineFit = field(repr=False)

    @property
    def chi_square(self) -> float:
        """Sum of squares of the fit in the logarithms; NaN with ``scatter=True``."""
        return self.line.chi_square

    @property
    def dof(self) -> int:
        """Degrees of freedom: points less two."""
        return self.line.dof

    @property
    def p_value(self) -> float:
        """Probability of a larger chi-square by chance; NaN where there is none."""
        return self.line.p_value

    @property
    def residuals(self) -> Floats:
        """Relative deviation of each point from the law, ln(f/fitted), shape (n,)."""
        return self.line.residuals

    @property
    def covariance(self) -> Floats:
        """Covariance matrix of (coefficient, exponent), shape (2, 2)."""
        return covariance_matrix(self.coefficient, self.exponent)

    @property
    def correlation(self) -> float:
        """Correlation coefficient of coefficient and exponent; NaN where one is exact."""
        return self.line.correlation

    @property
    def sentence(self) -> str:
        """Say in one sentence how well the law fits."""
        return self.line.sentence

    def predict(self, reynolds: ReynoldsNumber) -> FrictionFactor:
        """Compute f by the fitted law, its uncertainty included.

        Parameters
        ----------
        reynolds : ReynoldsNumber, scalar or shape (m,)
            Above 0. Beyond the fitted points the law is only as good as the idea of it.

        Returns
        -------
        FrictionFactor
            The uncertainty is that of the law, not of a further run.

        Raises
        ------
        DimensionError
            Another kind of quantity.
        RangeError
            A Reynolds number not above 0.
        """
        re = require_kind(reynolds, ReynoldsNumber, "predict", "reynolds")
        require_positive(re, "predict", "reynolds")
        found = elementwise(op.EXP, self.line.predict(_logarithm(re, "ln Re"))._node)
        return FrictionFactor._from_node(found, label="friction factor, fitted power law")

    def table(self) -> pd.DataFrame:
        """Return the points as a table, one line per run."""
        import pandas as pd

        return pd.DataFrame(
            {
                "Reynolds number": self.reynolds.value,
                "u_reynolds": self.reynolds.u,
                "friction factor": self.friction.value,
                "u_friction": self.friction.u,
                "fitted": self.friction.value * np.exp(-self.residuals),
                "relative_residual": self.residuals,
                "relative_residual_u": self.line.residual_u,
            }
        )

    def __str__(self) -> str:
        return "\n".join(fit_lines(self._title(), self._shown(), self._notes()))

    def _repr_html_(self) -> str:
        return fit_html(self._title(), self._shown(), self._notes())

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        values = np.asarray(self.reynolds.value)
        return (
            f"power law f = coefficient Re^exponent through {values.size} points, "
            f"Re {values.min():.4g} to {values.max():.4g}"
        )

    def _shown(self) -> tuple[Quantity, ...]:
        # the coefficient alone says little: it lies far outside the points
        middle = float(np.exp(np.mean(self.line.x.value)))
        at_middle = self.predict(ReynoldsNumber(middle, "1")).labelled(f"f at Re {middle:.4g}")
        return self.coefficient, self.exponent, at_middle

    def _notes(self) -> list[str]:
        notes = []
        if math.isfinite(self.correlation):
            notes.append(f"correlation of coefficient and exponent {self.correlation:.4f}")
        return [*notes, self.sentence]


def fit_power_law(
    reynolds: ReynoldsNumber, friction: FrictionFactor, *, scatter: bool = False
) -> PowerLawFit:
    """Fit a power law to friction factors, with the errors that Re and f share.

    Parameters
    ----------
    reynolds : ReynoldsNumber, shape (n,)
        Above 0; at least two runs, three for a chi-square.
    friction : FrictionFactor, shape (n,)
        Above 0; Darcy's or Fanning's, the coefficient is for the same.
    scatter : bool
        As in `fit_line`: take the scatter of ln f from the residuals.

    Returns
    -------
    PowerLawFit

    Raises
    ------
    DimensionError
        Another kind of quantity.
    ShapeError
        Single values, or different lengths.
    RangeError
        A value not above 0, too few points, or all at one Re.
    PropagationError
        Points without independent errors, which leave nothing to weigh.
    StatementError
        ``scatter=True`` for readings with stated errors of their own.

    Warns
    -----
    FlowuncWarning
        Another law fits nearly as well.

    Notes
    -----
    A line of ln f against ln Re by `fit_line`, errors in both axes and between them taken from
    the record. Relative uncertainties should be well below 1: a logarithm is linearised.

    Examples
    --------
    >>> from flowunc import FrictionFactor, ReynoldsNumber, fit_power_law, standard
    >>> re = ReynoldsNumber([800, 1200, 1900], "1", standard([8, 12, 19]))
    >>> f = FrictionFactor([0.0805, 0.0530, 0.0338], "1", standard([0.0016, 0.0010, 0.0007]))
    >>> print(fit_power_law(re, f).exponent)
    exponent: -1.003 ± 0.037
    """
    name = "fit_power_law"
    re = require_kind(reynolds, ReynoldsNumber, name, "reynolds")
    f = require_kind(friction, FrictionFactor, name, "friction")
    for argument, value in (("reynolds", re), ("friction", f)):
        if value.ndim == 0:
            raise ShapeError(f"{name}({argument}=...): a single value; expected one for each run")
        require_positive(value, name, argument)
    line = replace(
        fit_line(_logarithm(re, "ln Re"), _logarithm(f, "ln f"), scatter=scatter),
        subject="they do not follow one power law",
    )
    return PowerLawFit(
        re,
        f,
        Ratio._from_node(elementwise(op.EXP, line.intercept._node), label="coefficient"),
        Ratio._from_node(line.slope._node, label="exponent"),
        line,
    )


def _logarithm(quantity: Quantity, label: str) -> Ratio:
    return Ratio._from_node(elementwise(op.LOG, quantity._node), label=label)
