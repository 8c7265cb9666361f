"""`second_order`: mean and standard uncertainty with the next Taylor term.

It shows what the curvature of a formula does to a result before anything is drawn
[JCGM 100, 5.1.2, note]. `higher_terms` has the equations and the sums.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import DimensionError
from flowunc.core.magnitude import times_power_of_two
from flowunc.core.quantity import Numbers, Quantity
from flowunc.propagation.higher_terms import higher_terms
from flowunc.propagation.tolerance import check_digits, numerical_tolerance

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Curvature", "SecondOrder", "second_order"]

Curvature = Literal["small", "large", "negative", "undefined"]

COVERAGE = 2.0  # the ends of an interval of about 95 % move by the shift and so many changes of u
ROUNDING = 1e-12  # of the value: what cancels leaves that much, and it is no curvature
DIVERGES = 2.0  # variance over first-order variance from which further terms are likely to count
NOTHING = 1e-9  # of u: a shift that small is left to rounding, and not written down
MOST_LINES, HEAD, TAIL = 40, 20, 10


@dataclass(frozen=True)
class SecondOrder:
    """Mean and u to second order, in the unit of the quantity; each shaped as its value.

    Attributes
    ----------
    quantity : Quantity
    mean : float or ndarray, shape (n,)
        Value plus ``shift``.
    shift : float or ndarray, shape (n,)
        What curvature adds to the value.
    u_first : float or ndarray, shape (n,)
        Standard uncertainty of first order, as `Quantity.u`; NaN where there is none.
    u : float or ndarray, shape (n,)
        Standard uncertainty of second order; NaN where the variance comes out negative.
    digits : int
        Significant digits of u at which ``curvatures`` judges.
    normal : bool
        Whether all components were taken as normal.
    curvatures : tuple of {"small", "large", "negative", "undefined"}
        For each reading: ``"small"``, the linear value and u stand; ``"large"``, they do not;
        ``"negative"``, the variance to this order is negative, so that the series says
        nothing; ``"undefined"``, a derivative up to the third does not exist.
    """

    quantity: Quantity
    mean: Numbers
    shift: Numbers
    u_first: Numbers
    u: Numbers
    digits: int
    normal: bool
    curvatures: tuple[Curvature, ...]

    @property
    def shift_ratio(self) -> Numbers:
        """Shift of the mean over u of first order; infinite or NaN where that is zero."""
        return self._ratio(self.shift)

    @property
    def u_ratio(self) -> Numbers:
        """Second-order over first-order u; infinite or NaN where the latter is zero."""
        return self._ratio(self.u)

    def _ratio(self, numerator: Numbers) -> Numbers:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.asarray(numerator, dtype=np.float64) / self.u_first
        return self.quantity._shown(ratio)

    def sentence(self, row: int = 0) -> str:
        """Say in one sentence what curvature does to a reading."""
        unit = "" if self.quantity.unit == "1" else f" {self.quantity.unit}"
        shift, before, after = (
            float(np.atleast_1d(numbers)[row]) for numbers in (self.shift, self.u_first, self.u)
        )
        curvature = self.curvatures[row]
        if curvature == "undefined":
            return (
                "no second-order result: a derivative up to the third does not exist here; use "
                ".monte_carlo()"
            )
        if shift == 0 and before == after:
            return "no curvature: the linear value and u stand"
        start = f"curvature shifts the mean by {shift:.2g}{unit}"
        if abs(shift) < NOTHING * max(before, after):
            start = "curvature leaves the mean where it is"
        if curvature == "negative":
            return (
                f"{start}, but the variance to second order is negative: the terms of the series "
                "do not get small here; use .monte_carlo()"
            )
        texts = f"{before:.3g}", f"{after:.3g}"
        if before == 0:
            change = f"gives u = {texts[1]}{unit} where it is zero to first order"
        elif texts[0] == texts[1]:
            change = f"leaves u at {texts[0]}{unit}"
        else:
            verb = "raises" if after > before else "lowers"
            change = f"{verb} u from {texts[0]} to {texts[1]}{unit}"
        figures = "1 digit" if self.digits == 1 else f"{self.digits} digits"
        if curvature == "small":
            return f"{start} and {change}; below {figures} of u: the linear value and u stand"
        if after > math.sqrt(DIVERGES) * before:
            return f"{start} and {change}; further terms may count as much: use .monte_carlo()"
        return f"{start} and {change}; above {figures} of u: hold it against draws by cross_check"

    def table(self) -> pd.DataFrame:
        """Return all numbers as a table, one line per reading."""
        import pandas as pd

        columns: dict[str, Any] = {
            "value": self.quantity.value,
            "mean": self.mean,
            "shift": self.shift,
            "shift_ratio": self.shift_ratio,
            "u_first": self.u_first,
            "u": self.u,
            "u_ratio": self.u_ratio,
        }
        return pd.DataFrame(
            {name: np.atleast_1d(numbers) for name, numbers in columns.items()}
            | {
                "curvature": list(self.curvatures),
                "sentence": [self.sentence(row) for row in range(len(self.curvatures))],
            }
        )

    def __str__(self) -> str:
        import textwrap

        from flowunc.core.display.rows import label_of, shown_positions

        name = label_of(self.quantity) or type(self.quantity).__name__
        shape = ", all components taken as normal" if self.normal else ""
        heading = f"Second order of {name}, judged at {self.digits} digit"
        heading += f"{'s' if self.digits > 1 else ''} of u{shape}"
        lines = textwrap.wrap(heading, 99, subsequent_indent="  ")
        count = len(self.curvatures)
        before = -1
        for row in shown_positions(count, MOST_LINES, HEAD, TAIL):
            if row != before + 1:
                lines.append(f"  ... {row - before - 1} of {count} readings not shown ...")
            before = row
            start = "  " if self.quantity.ndim == 0 else f"  {row:3d} "
            lines += textwrap.wrap(
                self.sentence(row), 99, initial_indent=start, subsequent_indent=" " * len(start)
            )
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        from flowunc.core.display.frames import rounded_table

        return rounded_table(
            self.table(),
            uncertainty_of={"value": self.u_first, "mean": self.u},
            # u to three digits, as in the sentence: two would often hide what changed
            formats={"u": 3, "u_first": 3, "shift": 2, "shift_ratio": 2, "u_ratio": 4},
            index="reading",
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def second_order(quantity: Quantity, *, digits: int = 1, normal: bool = False) -> SecondOrder:
    """Propagate mean and standard uncertainty to second order.

    Parameters
    ----------
    quantity : Quantity
        Scalar or readings; every reading is judged by itself.
    digits : int
        Significant digits of u at which the linear value and u are judged.
    normal : bool
        Take every component as normal, which is the formula of [JCGM 100, 5.1.2, note] to the
        letter. Otherwise each has the third and fourth moments of its own distribution.

    Returns
    -------
    SecondOrder

    Raises
    ------
    DimensionError
        Something else than a quantity.
    PropagationError
        The formula holds a function of the user's (`apply`), whose second derivatives are not
        known; or its readings depend on thousands of others each.

    Notes
    -----
    mean = y + 1/2 sum f_ii u_i^2. To the variance, sum (1/2 f_ij^2 + f_i f_ijj) u_i^2 u_j^2
    over all i and j is added for normal components [JCGM 100, 5.1.2, note]. For others the
    terms of i = j have the kurtosis k of the component, (k - 1)/4 f_ii^2 u_i^4 +
    k/3 f_i f_iii u_i^4, and its skewness g, g f_i f_ii u_i^3: all terms up to the fourth
    power of the errors. Derivatives are exact.

    A component with finite degrees of freedom counts as normal with its u: its few degrees of
    freedom belong to the coverage factor, and the moments of the t distribution need not
    exist. Components estimated together from one sample count as independent normal ones.
    Draws use the t distribution, so they come out wider for a reason that is not curvature.

    The linear value and u stand where the ends of the interval with k = 2 move by no more than
    the numerical tolerance of u, |shift| + 2 |change of u| <= delta [JCGM 101, 7.9.2]. That
    judges two moments, not the shape: an interval bent to one side, or narrower than k = 2
    because rectangular components prevail, shows in `cross_check` only. The series is one in
    the errors: it says nothing of a denominator whose errors reach zero, where neither mean
    nor variance exists.

    Cost: one forward and one backward sweep for each component. Where a row depends on m
    readings with errors of their own (a mean over m readings), each is a direction of its
    own, up to some thousand.

    Examples
    --------
    >>> from flowunc import Length, second_order, standard
    >>> side = Length(10, "mm", standard(1.5), label="side")
    >>> area = (side**2).labelled("area").to("mm^2")
    >>> second_order(area).sentence()
    'curvature shifts the mean by 2.2 mm^2 and raises u from 30 to 30.2 mm^2; below 1 digit of u:
    the linear value and u stand'
    """
    if not isinstance(quantity, Quantity):
        raise DimensionError(f"second_order of {type(quantity).__name__}: expected a quantity")
    check_digits(digits)
    terms = higher_terms(quantity._node, normal=normal)
    scale = quantity._unit.scale_from_si
    value = np.atleast_1d(quantity._node.value)
    first = np.where(np.isfinite(terms.u_first), terms.u_first, np.nan)
    shift, added = (
        np.where(np.isfinite(terms).all(axis=0), part, np.nan)
        for part in (terms.shift, terms.added)
    )
    with np.errstate(all="ignore"):
        # as a factor on u, because squares leave the range of float64 before u does
        own = np.where(first == 0, 1.0, np.ldexp(first, -terms.exponent))
        u = own * np.sqrt(np.where(first == 0, 0.0, 1.0) + added / own / own)
        u = times_power_of_two(u, terms.exponent)
    mean = quantity._unit.from_si(value + shift)
    shift, first, u = scale(shift), scale(first), scale(u)
    rounding = ROUNDING * np.abs(scale(value))
    curvatures = tuple(
        _judged(float(shift[i]), float(first[i]), float(u[i]), float(rounding[i]), digits)
        for i in range(value.size)
    )

    def shown(numbers: NDArray[np.float64]) -> Numbers:
        return quantity._shown(numbers.reshape(quantity._node.value.shape))

    return SecondOrder(
        quantity, shown(mean), shown(shift), shown(first), shown(u), digits, normal, curvatures
    )


def _judged(shift: float, first: float, u: float, rounding: float, digits: int) -> Curvature:
    """Judge what curvature does to one reading."""
    if math.isnan(shift):
        return "undefined"
    if math.isnan(u):
        return "negative"
    moved = abs(shift) + COVERAGE * abs(u - first)
    return "small" if moved <= max(numerical_tolerance(first, digits), rounding) else "large"
