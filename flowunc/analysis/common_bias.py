"""Single errors in common that could explain a disagreement: the bore, a calibration, a zero.

Each error that several readings share is taken as unknown in its turn, all others as stated. The
readings then say by themselves how large it would have to be, how well that removes the
disagreement, and whether it is plausible against what was stated of it.
"""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.agreement import Agreement
from flowunc.analysis.chi_square import ChiSquare, joint_chi_square
from flowunc.analysis.settled_errors import Point, Step, law_of, settled
from flowunc.analysis.shared_errors import sources_of
from flowunc.core.arguments import check_coverage_factor
from flowunc.core.component import Component
from flowunc.core.dimensions import DIMENSIONLESS
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.rounding import round_pair
from flowunc.core.display.tables import WIDTH, mimebundle
from flowunc.core.distributions import Arcsine, Distribution, InexactRectangular, Trapezoidal
from flowunc.core.errors import DimensionError, PropagationError
from flowunc.core.quantity import Quantity
from flowunc.core.record import error_node, take
from flowunc.propagation.contributions import contributions

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CommonBias", "Explanation", "common_bias"]

Floats = NDArray[np.float64]

_NAME = "common_bias"
_NAME_WIDTH = 42
_NAMED = 4
_MOST_LINES = 40


@dataclass(frozen=True, eq=False)
class Explanation:
    """One component taken as unknown: what it would have to be, and what that explains.

    Attributes
    ----------
    component : Component
    label : str
        Of the component, with the reading of it where it has a fresh value for each.
    offset : Quantity, scalar
        What would have to be added to the stated value, in the unit of the component. Recorded,
        without the error of the component itself, which is what is estimated: its u is that of
        the readings and all other components.
    stated : str
        What was stated of it, in its unit.
    after : ChiSquare
        Of the deviations left with that offset, one degree of freedom less.
    multiple : float
        Size of the offset in stated standard uncertainties of the component.
    ratio : float
        Size of the offset over the largest one that is plausible.
    """

    component: Component
    label: str
    offset: Quantity
    stated: str
    after: ChiSquare
    multiple: float
    ratio: float

    @property
    def plausible(self) -> bool:
        """Whether the offset lies within what was stated, and the doubt about the offset."""
        return self.ratio <= 1

    @property
    def removes(self) -> bool:
        """Whether the offset leaves no disagreement (p of 5 % or more, or nothing to test)."""
        return not self.after.reason and self.after.verdict != "too large"

    @property
    def sentence(self) -> str:
        """The explanation in one clause."""
        value = float(self.offset.value)
        way = "smaller" if value < 0 else "larger"
        size = round_pair(abs(value), float(self.offset.u)).text
        unit = "" if self.offset.unit == "1" else f" {self.offset.unit}"
        doubt = "plausible" if self.plausible else "not plausible"
        return f"{self.label} {way} by {size}{unit}; stated were {self.stated}: {doubt}"


@dataclass(frozen=True, eq=False)
class CommonBias:
    """Single errors in common, each held against a disagreement.

    Attributes
    ----------
    deviation : Quantity
        What is to be explained: measured minus expected.
    k : float
        Coverage factor of what counts as plausible.
    before : ChiSquare
        Of the deviations with all components as stated.
    explanations : tuple of Explanation
        Best first: smallest chi-square left, among equals the smaller `Explanation.multiple`.
    left_out : tuple of str
        Components that are no error in common by themselves, with the reason.
    """

    deviation: Quantity
    k: float
    before: ChiSquare
    explanations: tuple[Explanation, ...]
    left_out: tuple[str, ...] = field(repr=False)

    @property
    def disagree(self) -> bool:
        """Whether the deviations are larger than the stated uncertainties explain."""
        return bool(self.before.reason) or self.before.verdict == "too large"

    @property
    def sentence(self) -> str:
        """The outcome in a few sentences."""
        if not self.disagree:
            return f"no disagreement to explain: {self.before}"
        if not self.explanations:
            return f"{self._disagreement()}; no component is shared, so none can explain it"
        able = [found for found in self.explanations if found.removes]
        if not able:
            best = self.explanations[0]
            left = "a contradiction" if best.after.reason else f"{best.after}"
            return (
                f"{self._disagreement()}; no single component removes it: {best.label}, the best "
                f"of them, leaves {left}"
            )
        likely = [found for found in able if found.plausible]
        first = (likely or able)[0]
        others = [found.label for found in (likely or able)[1:]]
        text = f"{self._disagreement()}; what would remove it: {first.sentence}"
        if not others:
            return text
        so = "so would, as plausibly" if likely else "so would, as little plausible"
        more = "" if len(others) <= _NAMED else f" and {len(others) - _NAMED} more"
        return f"{text}; {so}, {', '.join(others[:_NAMED])}{more}"

    def _disagreement(self) -> str:
        if self.before.reason:
            return "the deviations contradict the statements"
        return f"disagreement, {self.before}"

    def table(self) -> pd.DataFrame:
        """Return one line per component, best explanation first."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "component": found.label,
                    "offset": found.offset.value,
                    "u": found.offset.u,
                    "unit": found.offset.unit,
                    "stated": found.stated,
                    "chi_square": found.after.value,
                    "dof": found.after.dof,
                    "p_value": found.after.p_value,
                    "removes": found.removes,
                    "multiple": found.multiple,
                    "ratio": found.ratio,
                    "plausible": found.plausible,
                }
                for found in self.explanations
            ],
            columns=[
                "component", "offset", "u", "unit", "stated", "chi_square", "dof", "p_value",
                "removes", "multiple", "ratio", "plausible",
            ],
        )  # fmt: skip

    def __str__(self) -> str:
        lines = textwrap.wrap(self.sentence, WIDTH)
        if self.explanations:
            lines.append(
                f"{'one component unknown':<{_NAME_WIDTH}}{'offset ± u':>25}{'stated':>12}"
                f"{'chi-square':>11}{'plausible':>10}"
            )
        for found in self.explanations[:_MOST_LINES]:
            unit = "" if found.offset.unit == "1" else f" {found.offset.unit}"
            pair = round_pair(float(found.offset.value), float(found.offset.u)).text + unit
            stated = found.stated.removesuffix(unit)
            lines.append(
                f"{_short(found.label):<{_NAME_WIDTH}}{pair:>25}{stated:>12}"
                f"{found.after.value:>11.3g}{'yes' if found.plausible else 'no':>10}"
            )
        if len(self.explanations) > _MOST_LINES:
            lines.append(f" ... and {len(self.explanations) - _MOST_LINES} more: see .table()")
        for reason in self.left_out:
            lines += textwrap.wrap(f"left out: {reason}", WIDTH, subsequent_indent="  ")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return rounded_table(
            self.table(),
            uncertainty_of={"offset": "u"},
            formats={"chi_square": 3, "multiple": 2, "ratio": 2},
            notes=(self.sentence, *(f"left out: {reason}" for reason in self.left_out)),
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def common_bias(deviation: Quantity | Agreement, *, k: float = 2) -> CommonBias:
    """Find which single error in common could explain a disagreement.

    Parameters
    ----------
    deviation : Quantity, scalar or shape (n,), or Agreement
        Measured minus expected, expected to be 0.
    k : float
        Coverage factor of what counts as plausible.

    Returns
    -------
    CommonBias

    Raises
    ------
    DimensionError
        Neither an agreement nor a quantity that is a difference.
    PropagationError
        A deviation that is not 0 and has no uncertainty at all.

    Notes
    -----
    d = deviations, V their covariance from the record, s what one standard uncertainty u_c of
    the component contributes. With the component unknown V_0 = V - s s^T, and generalised least
    squares gives the offset z u_c that makes d + s z vanish: z = -s^T V_0^-1 d/(s^T V_0^-1 s),
    u^2(z) = 1/(s^T V_0^-1 s). Chi-square left is that of d + s z with V_0. Where V_0 has no
    inverse, V_0 + s s^T does the same [Rao 1973, 4i]. d, s and V_0 are then computed again with
    the component moved by that offset, until it stays (Gauss and Newton's method); where the
    formulas have no value there, or it does not settle in 10 steps, the first step stands.

    Plausible: of stated limits a, if abs(offset) <= a + k u(offset); else, if it is within
    sqrt(q^2 + k^2 u^2(offset)), q being the quantile of the stated distribution that goes with
    k (k u_c for a normal one).

    An error that is fresh for each reading but stands behind several (a zero for each set of
    runs) is taken one value at a time. Components estimated together from one sample are left
    out, as no single one of them means anything.

    Examples
    --------
    >>> from flowunc import Length, Ratio, common_bias, limits, standard
    >>> bore = Length(20, "mm", limits(0.04), label="bore")
    >>> ratio = Ratio([1.031, 1.028, 1.032], "1", standard(0.002)) * (bore / Length(20, "mm")) ** 5
    >>> found = common_bias(ratio - 1)
    >>> print(found.explanations[0].sentence)
    bore smaller by 0.1192 ± 0.0045 mm; stated were ±0.04 mm: not plausible
    """
    agreed = deviation if isinstance(deviation, Agreement) else None
    d = deviation if agreed is None else agreed.deviation
    factor = check_coverage_factor(k, _NAME)
    if not isinstance(d, Quantity) or d._absolute:
        raise DimensionError(
            f"{_NAME}(deviation=...): got {type(d).__name__} {d!r}; expected an agreement or a "
            "quantity that is a difference, such as f - laws.laminar(re)"
        )
    values = np.atleast_1d(d._node.value)
    size = np.abs(values)
    if agreed is not None:
        sides = (np.abs(side._node.value) for side in (agreed.measured, agreed.theory))
        size = np.broadcast_to(np.maximum(*sides), values.shape)
    u = np.atleast_1d(d._u_si())
    rows = np.flatnonzero(u > 1e-12 * size)
    without = np.flatnonzero((u <= 1e-12 * size) & (np.abs(values) > 1e-12 * size))
    if agreed is None and without.size:
        raise PropagationError(
            f"{_NAME}: the deviation at reading {without[0]} has no uncertainty at all, so no "
            "component could explain it: state the uncertainties, or leave it out"
        )
    sources = sources_of(contributions(d._node), rows, u[rows])
    data = _Data(values[rows], size[rows])
    start = Point(d._node, 0.0, data.deviation, sources)
    found = [
        _explained(settled(one, start, rows), data, d, rows, factor)
        for one in sources.shared
        if one.candidate
    ]
    # what would remove the disagreement first, and of that what asks for the least of its u
    found.sort(
        key=lambda one: (
            not one.removes,
            one.multiple if one.removes else 0.0,
            _rounded(one.after.value),
            one.multiple,
        )
    )
    before = _chi_square(data, sources.covariance())
    return CommonBias(d, factor, before, tuple(found), sources.left_out)


def _short(label: str) -> str:
    """Return a label that fits its column: the end, which tells parts apart, is kept."""
    most = _NAME_WIDTH - 1
    if len(label) <= most:
        return label
    return f"{label[: most - 32].rstrip()} ... {label[-28:].partition(' ')[2]}"


class _Data(NamedTuple):
    """Deviations, and the size of what they are differences of."""

    deviation: Floats
    size: Floats


def _rounded(value: float) -> float:
    """Return a chi-square with what rounding makes of equal ones taken out."""
    return value if math.isinf(value) else float(f"{value:.6e}") if value > 1e-6 else 0.0


def _chi_square(data: _Data, covariance: Floats) -> ChiSquare:
    u = np.sqrt(np.diag(covariance))
    rounding = 8 * np.finfo(np.float64).eps * data.size / u
    return joint_chi_square(data.deviation / u, covariance / np.outer(u, u), rounding)


def _explained(
    step: Step, data: _Data, deviation: Quantity, rows: NDArray[np.intp], k: float
) -> Explanation:
    one, found, z = step.one, step.estimate, step.z
    left = _Data(step.point.deviation + one.values * step.size, data.size)
    after = _chi_square(left, found.covariance)
    law = law_of(one)
    u_c = float(law.standard_uncertainty)
    return Explanation(
        one.component,
        one.label,
        _recorded(step, found.weights * u_c, step.point.z * u_c, deviation, rows),
        _stated(one.component, law),
        ChiSquare(after.value, after.dof - 1, after.reason),
        abs(z),
        abs(z) * u_c / _allowed(law, z, k, found.u * u_c),
    )


def _allowed(law: Distribution, z: float, k: float, u: float) -> float:
    """Return the largest plausible size of an offset towards the side of z, coherent SI."""
    if isinstance(law, (Trapezoidal, Arcsine)):
        return float(law.half_width) + k * u
    if isinstance(law, InexactRectangular):
        return float(law.half_width + law.inexact) + k * u
    tail = 0.5 * math.erfc(k / math.sqrt(2.0))
    quantile = float(law.quantile(tail if z < 0 else 1.0 - tail))
    return math.hypot(quantile, k * u)


def _stated(component: Component, law: Distribution) -> str:
    """Return what was stated of a component, in its unit."""
    unit = "" if str(component.unit) == "1" else f" {component.unit}"
    if isinstance(law, (Trapezoidal, Arcsine, InexactRectangular)):
        return f"±{float(law.half_width) / component.unit.factor:.3g}{unit}"
    return f"u = {float(law.standard_uncertainty) / component.unit.factor:.3g}{unit}"


def _recorded(
    step: Step, weights: Floats, start: float, deviation: Quantity, rows: NDArray[np.intp]
) -> Quantity:
    """Record the offset; the error of the component itself is taken out of it."""
    one = step.one
    dimension = one.component.unit.dimension
    # the weights bring the dimension
    moving = Quantity._result(step.point.node, DIMENSIONLESS)
    scalar = deviation.ndim == 0
    moving = moving * float(weights[0]) if scalar else (weights * moving[rows]).sum()
    itself = error_node(one.component, one.column or 0)
    if one.column is not None:
        itself = take(itself, one.column)
    own = Quantity._result(itself, dimension)
    offset: Quantity = Quantity._result((moving + start)._node, dimension) + own
    return offset.to(str(one.component.unit)).labelled(f"offset of {one.label}")
