"""Standard uncertainties, expanded uncertainties of certificates, and repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import check_coverage_factor, check_dof, check_level, read_values
from flowunc.core.distributions import Distribution, Normal, ScaledT
from flowunc.core.errors import FlowuncError, StatementError
from flowunc.core.magnitude import standard_deviation
from flowunc.core.statements.statement import Absolute, Statement, check_statement_unit

__all__ = ["expanded", "repeated", "standard"]


def standard(
    u: ArrayLike,
    unit: str | None = None,
    *,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State a standard uncertainty: normal, or scaled t where ``dof`` is finite.

    Parameters
    ----------
    u : float or array_like, shape (n,)
        Standard uncertainty, 0 or more.
    unit, label
        As in `limits`.
    dof : float
        Degrees of freedom. A finite number draws from the scaled and shifted t distribution
        [JCGM 101, 6.4.9].

    Raises
    ------
    StatementError
        Negative or not finite ``u``; ``dof`` not above 0.

    Examples
    --------
    >>> from flowunc import Mass, standard
    >>> Mass(1.0, "kg", standard(2, "g")).u
    0.002
    """
    return _standard(u, check_statement_unit(unit, "standard"), check_dof(dof, "standard"), label)


def _standard(u: ArrayLike, unit: str | None, dof: float, label: str | None) -> Statement:
    distribution: Distribution = Normal(u) if math.isinf(dof) else ScaledT(u, dof)
    return Absolute(
        distribution=distribution, unit=unit, dof=dof, wording="standard uncertainty", label=label
    )


def expanded(
    U: ArrayLike,  # noqa: N803 - U is the symbol of the expanded uncertainty, JCGM 100
    unit: str | None = None,
    *,
    k: float | None = None,
    level: float | None = None,
    dof: float = math.inf,
    label: str | None = None,
) -> Statement:
    """State an expanded uncertainty as a certificate does, with its factor or its level.

    Parameters
    ----------
    U : float or array_like, shape (n,)
        Expanded uncertainty, 0 or more.
    unit, label
        As in `limits`.
    k : float
        Coverage factor: u = U / k.
    level : float
        Coverage probability in place of ``k``: the factor is that of the t distribution
        with ``dof`` degrees of freedom, 1.96 for 0.95 and infinite dof.
    dof : float
        Degrees of freedom, if the certificate states them.

    Raises
    ------
    StatementError
        Neither or both of ``k`` and ``level``; values out of range.

    Notes
    -----
    [JCGM 100, 4.3.3, 4.3.4 and G.3].

    Examples
    --------
    >>> from flowunc import Temperature, expanded
    >>> Temperature(20, "degC", expanded(0.30, k=2)).u
    0.15
    """
    if (k is None) == (level is None):
        raise StatementError(
            f"expanded({U!r}): give either the coverage factor k= or the level=, as the "
            "certificate states it"
        )
    dof = check_dof(dof, "expanded")
    if k is not None:
        factor = check_coverage_factor(k, "expanded")
    else:
        tail = 0.5 + check_level(level) / 2
        factor = float(
            scipy.special.ndtri(tail) if math.isinf(dof) else scipy.special.stdtrit(dof, tail)
        )
    if not factor > 0:
        raise StatementError(
            f"expanded({U!r}, level={level!r}): so small a level has no coverage factor above 0; "
            "expected one such as 0.95"
        )
    values = Normal(U).u  # checks that U is a width
    return _standard(values / factor, check_statement_unit(unit, "expanded"), dof, label)


def repeated(
    readings: Sequence[Any] | NDArray[Any],
    unit: str | None = None,
    *,
    label: str | None = None,
) -> Statement:
    """State the scatter of a mean from its repeats: Type A, s / sqrt(n), dof n - 1.

    Parameters
    ----------
    readings : array_like, shape (m,), or a sequence of n of them
        The repeats behind one value; for ``n`` values one list of repeats each.
    unit, label
        As in `limits`.

    Raises
    ------
    StatementError
        Fewer than two repeats, NaN or infinite readings.

    Notes
    -----
    [JCGM 100, 4.2.2 and 4.2.3]; drawn from the scaled t distribution [JCGM 101, 6.4.9].

    Examples
    --------
    >>> from flowunc import Length, repeated
    >>> bore = Length(19.05, "mm", repeated([19.04, 19.06, 19.05, 19.05]))
    >>> round(bore.u, 5), bore.dof
    (0.00408, 3.0)
    """
    if isinstance(readings, str) or not np.iterable(readings):
        raise StatementError(f"repeated({readings!r}): expected the list of repeat readings")
    if np.ma.is_masked(readings):
        raise StatementError(f"repeated({readings!r}): masked readings; leave those out")
    items = list(readings)
    nested = bool(items) and all(np.iterable(item) and not isinstance(item, str) for item in items)
    sets = [_repeat_set(item) for item in (items if nested else [items])]
    scatter = np.array([standard_deviation(values, of_mean=True) for values in sets])
    dof = np.array([values.size - 1.0 for values in sets])
    spread: ArrayLike = scatter if nested else float(scatter[0])
    freedom: Any = dof if nested else float(dof[0])
    if nested:
        freedom.setflags(write=False)
    return Absolute(
        distribution=ScaledT(spread, freedom),
        unit=check_statement_unit(unit, "repeated"),
        kind_of_evaluation="A",
        dof=freedom,
        wording="repeats",
        label=label,
    )


def _repeat_set(readings: Any) -> NDArray[np.float64]:
    try:
        values = read_values(readings, "repeated")
    except FlowuncError as error:
        raise StatementError(f"{error}, in {readings!r}") from None
    if values.size < 2:
        raise StatementError(
            f"repeated({readings!r}): {values.size} reading cannot show scatter; expected two "
            "or more repeats"
        )
    return values
