"""What is drawn of each run: Re and f, what both are known to, and the sort of run it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.run_decisions import RunDecisions
from flowunc.core.errors import DimensionError, RangeError, ShapeError, warn_user
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber, require_kind
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.pipe import laws as known_laws
from flowunc.pipe.laws import FrictionLaw
from flowunc.pipe.regimes import Regimes, check_thresholds, regime
from flowunc.propagation.cross_check import CrossCheck, compare
from flowunc.propagation.monte_carlo import monte_carlo_joint

__all__ = ["FrictionPoints", "Sorts", "friction_points"]

Floats = NDArray[np.float64]
Sorts = Literal["meter", "regime"]

_FUNCTION = "friction_chart"


@dataclass(frozen=True, eq=False, kw_only=True)
class FrictionPoints:
    """Runs on a chart of f against Re, those that a logarithmic axis can show.

    Attributes
    ----------
    reynolds : ReynoldsNumber, shape (n,)
    friction : FrictionFactor, shape (n,)
    labels : tuple of str
    sorts : tuple of str
        Of each run: its meter or its regime; "" where none is known.
    reynolds_drawn, friction_drawn : ndarray, shape (n, 2)
        Drawn intervals; NaN where the linear method holds.
    thresholds : tuple of float
        Between them flow is transitional.
    laws : tuple of FrictionLaw
        What the runs are held against.
    roughness : Ratio or None
        Relative roughness of the wall, for laws that take one.
    """

    reynolds: ReynoldsNumber
    friction: FrictionFactor
    labels: tuple[str, ...]
    sorts: tuple[str, ...]
    reynolds_drawn: Floats
    friction_drawn: Floats
    thresholds: tuple[float, float]
    laws: tuple[FrictionLaw, ...]
    roughness: Ratio | None

    def __len__(self) -> int:
        return len(self.labels)


def friction_points(
    runs: Any,
    by: Sorts | None,
    *,
    roughness: Ratio | None,
    thresholds: tuple[float, float] | None,
    drawn: bool,
    level: float,
    trials: int,
    seed: int,
) -> FrictionPoints:
    """Gather what is drawn, from analysed runs or from a pair (Re, f).

    Parameters
    ----------
    runs : Runs or tuple of ReynoldsNumber and FrictionFactor
    by : {"meter", "regime"} or None
        By meter for None, where meters are known.
    roughness, thresholds
        In place of those of the bench, or of a smooth wall and 2300 to 4000.
    drawn : bool
        Whether the linear method is held against draws.
    level, trials, seed
        Of that.
    """
    if by not in ("meter", "regime", None):
        raise RangeError(f"{_FUNCTION}(by={by!r}): expected 'meter' or 'regime'")
    checks: tuple[CrossCheck, ...] = ()
    if isinstance(runs, RunDecisions):
        bench = runs.bench
        re, f, names = runs.reynolds, runs.friction, runs.labels
        between = thresholds or (bench.laminar_below, bench.turbulent_above)
        laws = (known_laws.laminar, bench.law)
        if roughness is None and bench.roughness is not None:
            roughness = bench.roughness / bench.bore
        meters = tuple(run.meter for run in runs.sheet.runs)
        if drawn:
            options: Any = {"level": level, "trials": trials, "seed": seed}
            checks = tuple(runs.cross_check(of, **options) for of in ("reynolds", "friction"))
    else:
        re, f = _pair(runs)
        names = tuple(str(place + 1) for place in range(len(re)))
        between = thresholds or (2300.0, 4000.0)
        laws = (known_laws.laminar, known_laws.prandtl_smooth)
        meters = None
        if drawn:
            both = monte_carlo_joint([re, f], trials, seed=seed)
            checks = tuple(
                compare(one, draws, level=level, digits=1, kind="symmetric")
                for one, draws in zip((re, f), both, strict=True)
            )
    between = check_thresholds(*between)
    sorts = _sorts(runs, re, by, meters, between, trials, seed)
    kept = _shown(re, f, names)
    nothing = np.full((len(re), 2), np.nan)
    intervals = [_where_linear_fails(check) for check in checks] or [nothing, nothing]
    return FrictionPoints(
        reynolds=re[kept],
        friction=f[kept],
        labels=tuple(names[row] for row in kept),
        sorts=tuple(sorts[row] for row in kept),
        reynolds_drawn=intervals[0][kept],
        friction_drawn=intervals[1][kept],
        thresholds=between,
        laws=laws,
        roughness=roughness,
    )


def _pair(given: Any) -> tuple[ReynoldsNumber, FrictionFactor]:
    if isinstance(given, Quantity) or not isinstance(given, Sequence) or len(given) != 2:
        raise DimensionError(
            f"{_FUNCTION}: got {type(given).__name__}; expected analysed runs, as analyse(...) "
            "gives them, or a pair (reynolds, friction)"
        )
    re = require_kind(given[0], ReynoldsNumber, _FUNCTION, "reynolds")
    f = require_kind(given[1], FrictionFactor, _FUNCTION, "friction")
    if re.size != f.size:
        raise ShapeError(
            f"{_FUNCTION}: {re.size} Reynolds numbers and {f.size} friction factors; expected one "
            "of each for every run"
        )
    return (re, f) if re.ndim and f.ndim else (concatenate([re]), concatenate([f]))


def _sorts(
    runs: Any,
    reynolds: ReynoldsNumber,
    by: Sorts | None,
    meters: tuple[str, ...] | None,
    thresholds: tuple[float, float],
    trials: int,
    seed: int,
) -> tuple[str, ...]:
    if by == "meter" and meters is None:
        raise RangeError(
            f"{_FUNCTION}(by='meter'): a pair (reynolds, friction) knows no meters; give analysed "
            "runs, or by='regime'"
        )
    if by == "regime":
        low, high = thresholds
        found: Regimes
        if isinstance(runs, RunDecisions) and thresholds == (
            runs.bench.laminar_below,
            runs.bench.turbulent_above,
        ):
            found = runs.regimes(trials=trials, seed=seed)
        else:
            found = regime(
                reynolds, laminar_below=low, turbulent_above=high, trials=trials, seed=seed
            )
        return tuple(found.name)
    return ("",) * len(reynolds) if meters is None else meters


def _shown(re: Quantity, f: Quantity, names: Sequence[str]) -> NDArray[np.intp]:
    """Return the runs that a logarithmic axis can show, with a warning about the others."""
    good = (np.asarray(re.value) > 0) & (np.asarray(f.value) > 0)
    if not good.any():
        raise RangeError(
            f"{_FUNCTION}: no run has Re and f above 0; expected at least one, as both axes are "
            "logarithmic"
        )
    if not good.all():
        lost = ", ".join(names[row] for row in np.flatnonzero(~good)[:12])
        warn_user(
            f"{_FUNCTION}: runs with Re or f of 0 or less cannot stand on logarithmic axes and "
            f"are left out: {lost}"
        )
    return np.flatnonzero(good)


def _where_linear_fails(check: CrossCheck) -> Floats:
    ends = np.column_stack([check.drawn_low, check.drawn_high])
    return np.where(check.holds[:, None], np.nan, ends)
