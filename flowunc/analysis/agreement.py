"""Agreement of a measured result with a law, or with a second measurement.

The difference is propagated through the record of both, so what they have in common (flow, bore
and temperature are behind f *and* behind 64/Re of the same run) enters it once, with its sign.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.chi_square import ChiSquare, joint_chi_square
from flowunc.core.arguments import check_coverage_factor
from flowunc.core.dimensions import DIMENSIONLESS
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.rounding import round_pair
from flowunc.core.display.tables import WIDTH, mimebundle, row_names
from flowunc.core.errors import DimensionError, PropagationError
from flowunc.core.kinds import Ratio
from flowunc.core.quantity import Numbers, Quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["MOST_TOGETHER", "Agreement", "agreement"]

Floats = NDArray[np.float64]

# Readings that texts and reports test together: the work grows with their third power, and takes
# seconds from here on. `Agreement.joint` has no limit.
MOST_TOGETHER = 500
_MOST_LINES = 40
_LONGEST_NAME = 10  # that the width of a line leaves
# What is left of an uncertainty or a value that cancels, relative to its parts: rounding only.
_ROUNDING = 1e-12


@dataclass(frozen=True, eq=False)
class Agreement:
    """A measured result held against what is expected, reading by reading and together.

    Attributes
    ----------
    measured, theory : Quantity
    deviation : Quantity
        measured - theory, recorded: its budget says which component limits the comparison.
    k : float
        Coverage factor of the expanded uncertainty.
    difference : float or ndarray, shape (n,)
        measured - theory, in ``unit``.
    expanded : float or ndarray, shape (n,)
        k u(difference), in ``unit``.
    normalised_error : float or ndarray, shape (n,)
        E_n = difference / expanded; 0 where both are 0.
    independent_normalised_error : float or ndarray, shape (n,)
        What E_n would be if measured and theory had no component in common. Wrong where they
        have; shown for comparison.
    satisfied : bool or ndarray of bool, shape (n,)
        Whether abs(E_n) <= 1.
    names : tuple of str
        Of the readings, such as the labels of runs; numbers stand for them where it is empty.
    """

    measured: Quantity
    theory: Quantity
    deviation: Quantity
    k: float
    difference: Numbers
    expanded: Numbers
    normalised_error: Numbers
    independent_normalised_error: Numbers
    satisfied: bool | NDArray[np.bool_]
    names: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """Unit of `difference` and `expanded`."""
        return self.deviation.unit

    @cached_property
    def joint(self) -> ChiSquare:
        """All readings together, with the covariance of their differences.

        Computed when first asked for, and kept: it takes a time that grows with the third power
        of the number of readings.
        """
        sides = (np.abs(side._node.value) for side in (self.measured, self.theory))
        certain = _certain(self.measured, self.theory, self.deviation)
        return _joint(self.deviation, ~certain, np.maximum(*sides))

    @property
    def chi_square(self) -> float:
        """Joint chi-square of all readings, shared errors counted once."""
        return self.joint.value

    @property
    def dof(self) -> int:
        """Degrees of freedom of `chi_square`: the independent errors among the differences."""
        return self.joint.dof

    @property
    def p_value(self) -> float:
        """Probability of a larger `chi_square` by chance; NaN where there is none."""
        return self.joint.p_value

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        agree = np.atleast_1d(self.satisfied)
        count = f"{np.count_nonzero(agree)} of {agree.size} agree (|E_n| <= 1)"
        if agree.size > MOST_TOGETHER:
            return f"{count}; not tested together, as these are more than {MOST_TOGETHER}"
        if self.joint.reason:
            return f"{count}; together they contradict the statements: {self.joint.reason}"
        if self.dof == 0:
            return f"{count}: measured and expected are identical, uncertainty included"
        text = f"{count}; together {self.joint}"
        if self.joint.verdict == "too large":
            text += ": more than the stated uncertainties explain"
            if agree.all():
                text += ", though each reading agrees by itself: look for an error in common"
        elif self.joint.verdict == "too small" and self.dof > 1:
            # one reading may well be close by luck
            text += ": closer than the stated uncertainties suggest; they may be too large"
        return text

    def table(self) -> pd.DataFrame:
        """Return all numbers as a table, one line per reading, in the unit of ``measured``."""
        import pandas as pd

        columns = {
            "measured": self.measured.value,
            "theory": self.theory.to(self.measured.unit).value,
            "difference": self.difference,
            "expanded": self.expanded,
            "normalised_error": self.normalised_error,
            "independent_normalised_error": self.independent_normalised_error,
            "satisfied": self.satisfied,
        }
        rows = np.atleast_1d(self.difference).size
        return pd.DataFrame(
            {name: np.broadcast_to(column, (rows,)) for name, column in columns.items()},
            index=pd.Index(self.names, name="run") if self.names else None,
        )

    def __str__(self) -> str:
        lines = textwrap.wrap(self._title(), WIDTH, subsequent_indent="  ")
        count = min(np.atleast_1d(self.difference).size, _MOST_LINES)
        shown, wide = row_names(self.names, count, longest=_LONGEST_NAME)
        lines.append(
            f"{'run' if self.names else 'row':>{wide}} {'measured':>12} {'expected':>12} "
            f"{'difference ± U':>24} {'E_n':>8} {'if independent':>15} {'agrees':>7}"
        )
        table = self.table()
        numbers = table.drop(columns="satisfied").to_numpy()
        for row, (x, X, d, U, normalised, independent) in enumerate(numbers[:_MOST_LINES]):
            lines.append(
                f"{shown[row]:>{wide}} {x:12.5g} {X:12.5g} {round_pair(d, U).text:>24} "
                f"{normalised:8.2f} {independent:15.2f} "
                f"{'yes' if abs(normalised) <= 1 else 'no':>7}"
            )
        if len(table) > _MOST_LINES:
            lines.append(f" ... and {len(table) - _MOST_LINES} more: see .table()")
        return "\n".join([*lines, *textwrap.wrap(self.sentence, WIDTH)])

    def _repr_html_(self) -> str:
        spreads = {"measured": self.measured.u, "theory": self.theory.to(self.measured.unit).u}
        return rounded_table(
            self.table(),
            uncertainty_of=spreads | {"difference": "expanded"},
            index="run" if self.names else "reading",
            title=self._title(),
            notes=(self.sentence,),
        )._repr_html_()

    _repr_mimebundle_ = mimebundle

    def _title(self) -> str:
        names = [
            quantity.label or f"{role} {type(quantity).__name__}"
            for quantity, role in ((self.measured, "measured"), (self.theory, "expected"))
        ]
        unit = "" if self.measured.unit == "1" else f", in {self.measured.unit}"
        return f"{names[0]} against {names[1]}{unit}: E_n = difference / U, U = k u, k = {self.k:g}"


def agreement(measured: Quantity, theory: Quantity, *, k: float = 2) -> Agreement:
    """Hold a measured result against a law or a second measurement.

    Parameters
    ----------
    measured : Quantity, scalar or shape (n,)
    theory : Quantity, scalar or shape (n,)
        What is expected: what a law of `flowunc.laws` gives, or another measurement of the
        same quantity. An exact value is a quantity without a statement.
    k : float
        Coverage factor of the expanded uncertainty of the difference.

    Returns
    -------
    Agreement

    Raises
    ------
    DimensionError
        Not two quantities of the same kind.
    ShapeError
        Lengths neither equal nor one.
    PropagationError
        A difference without any uncertainty that is not zero.
    StatementError
        k not above 0.

    Notes
    -----
    E_n = (x - X) / (k u(x - X)), satisfactory up to 1 in absolute value [ISO/IEC 17043, annex
    on performance statistics]. The difference is propagated by the record, so components in
    common cancel as far as they enter both alike: u^2(x - X) = u^2(x) + u^2(X) -
    2 r u(x) u(X) [JCGM 100, 5.2.2]. The joint chi-square is d^T V^-1 d with the covariance V
    of the differences: twenty readings with one calibration error do not count as twenty
    witnesses.

    Examples
    --------
    >>> from flowunc import Length, agreement, limits, standard
    >>> rule = Length(100.0, "mm", limits(0.5), label="rule")
    >>> caliper = Length(100.2, "mm", standard(0.05), label="caliper")
    >>> found = agreement(rule, caliper)
    >>> round(found.normalised_error, 3), found.satisfied
    (-0.341, True)
    """
    _require_comparable(measured, theory)
    factor = check_coverage_factor(k, "agreement")
    recorded = measured - theory
    deviation = recorded if measured._unit.is_offset else recorded.to(measured.unit)
    scale = deviation._unit.scale_from_si

    x, X = measured._node.value, theory._node.value
    separate = np.hypot(measured._u_si(), theory._u_si())
    u = deviation._u_si()
    certain = _certain(measured, theory, deviation)
    difference = deviation._node.value
    same = np.abs(difference) <= _ROUNDING * np.maximum(np.abs(x), np.abs(X))
    _refuse_unexplained(deviation, certain & ~same)

    known = np.where(certain, 1.0, u)
    normalised = np.where(certain, 0.0, difference / (factor * known))
    apart = np.where(separate > 0, separate, 1.0)
    independent = np.where(separate > 0, difference / (factor * apart), 0.0)
    return Agreement(
        measured,
        theory,
        deviation,
        factor,
        Quantity._shown(scale(difference)),
        Quantity._shown(scale(factor * u)),
        Quantity._shown(normalised),
        Quantity._shown(independent),
        _truth(np.abs(normalised) <= 1),
    )


def _certain(measured: Quantity, theory: Quantity, deviation: Quantity) -> NDArray[np.bool_]:
    """Tell which differences have no uncertainty."""
    separate = np.hypot(measured._u_si(), theory._u_si())
    return np.asarray(deviation._u_si() <= _ROUNDING * separate)


def _truth(flags: NDArray[np.bool_]) -> bool | NDArray[np.bool_]:
    if np.ndim(flags) == 0:
        return bool(flags)
    flags.setflags(write=False)
    return flags


def _joint(deviation: Quantity, uncertain: NDArray[np.bool_], size: Floats) -> ChiSquare:
    """Compute the joint chi-square of the readings that have an uncertainty."""
    mask = np.atleast_1d(uncertain)
    if not mask.any():
        return ChiSquare(0.0, 0)
    kept = deviation if deviation.ndim == 0 else deviation[mask]
    u = np.atleast_1d(kept._u_si())
    rounding = 8 * np.finfo(np.float64).eps * np.atleast_1d(size)[mask] / u
    correlation = np.atleast_2d(kept.correlation(kept))
    return joint_chi_square(np.atleast_1d(kept._node.value) / u, correlation, rounding)


def _refuse_unexplained(deviation: Quantity, bad: NDArray[np.bool_]) -> None:
    rows = np.flatnonzero(bad)
    if rows.size:
        first = int(rows[0])
        value = np.atleast_1d(deviation.value)[first]
        unit = "" if deviation.unit == "1" else f" {deviation.unit}"
        place = "" if deviation.ndim == 0 else f" at reading {first}"
        raise PropagationError(
            f"agreement: the difference {value:.6g}{unit}{place} has no uncertainty, so E_n would "
            "be infinite: either no uncertainty is stated, or all of it is common to both and "
            "cancels. State the independent errors, such as resolution, or compare with a law"
        )


def _require_comparable(measured: Quantity, theory: Quantity) -> None:
    for argument, value in (("measured", measured), ("theory", theory)):
        if not isinstance(value, Quantity):
            raise DimensionError(
                f"agreement({argument}=...): got {type(value).__name__} {value!r}; expected a "
                "quantity: give an exact value its kind and unit, such as Ratio(-1, '1')"
            )
    one, other = type(measured), type(theory)
    plain = Quantity in (one, other) or Ratio in (one, other)
    kinds_differ = (
        measured._unit.dimension is DIMENSIONLESS and one is not other and not plain
    ) or measured._absolute != theory._absolute
    if measured._unit.dimension is not theory._unit.dimension or kinds_differ:
        raise DimensionError(
            f"agreement of {one.__name__} in '{measured.unit}' with {other.__name__} in "
            f"'{theory.unit}': expected the same kind of quantity twice, such as a friction "
            "factor and laws.laminar(re)"
        )
