"""Laminar, transitional or turbulent: how probable each is, given how well Re is known.

A run at Re = 2250 +- 80 is not simply laminar. The probabilities here are shares of draws of Re,
so they hold for a skewed distribution too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from flowunc.core.display.frames import rounded_table
from flowunc.core.display.rounding import round_cells
from flowunc.core.display.tables import mimebundle, row_names
from flowunc.core.kinds import ReynoldsNumber, require_kind
from flowunc.core.quantity import Numbers
from flowunc.pipe.shares import check_pair, most_probable, shares
from flowunc.pipe.signs import require_positive

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Regimes", "check_thresholds", "regime"]

_NAMES = ("laminar", "transitional", "turbulent")
_MOST_LINES = 40
_LONGEST_NAME = 20


def check_thresholds(laminar_below: Any, turbulent_above: Any) -> tuple[float, float]:
    """Return both thresholds as floats, refused unless 0 < laminar_below <= turbulent_above."""
    low, high = check_pair(
        laminar_below,
        turbulent_above,
        ("laminar_below", "turbulent_above"),
        "a Reynolds number such as 2300",
        "2300 and 4000",
    )
    return low, high


@dataclass(frozen=True, eq=False)
class Regimes:
    """Probability of each flow regime, for one run or for several.

    Attributes
    ----------
    reynolds : ReynoldsNumber
    laminar, transitional, turbulent : float or ndarray, shape (n,)
        Probabilities, which add up to 1; shaped as ``reynolds.value``.
    laminar_below, turbulent_above : float
        Thresholds used.
    trials, seed : int
        Draws they come from.
    names : tuple of str
        Of the runs; numbers stand for them where it is empty.
    """

    reynolds: ReynoldsNumber
    laminar: Numbers
    transitional: Numbers
    turbulent: Numbers
    laminar_below: float
    turbulent_above: float
    trials: int
    seed: int
    names: tuple[str, ...] = ()

    @property
    def name(self) -> Any:
        """Name of the most probable regime: a str, or a list of them for several runs.

        Of two equally probable ones the slower flow is named.
        """
        return most_probable((self.laminar, self.transitional, self.turbulent), _NAMES)

    def table(self) -> pd.DataFrame:
        """Return a table with one line per run: Re, u(Re), the probabilities, the regime."""
        import pandas as pd

        columns = {
            "Reynolds number": self.reynolds.value,
            "u": self.reynolds.u,
            "laminar": self.laminar,
            "transitional": self.transitional,
            "turbulent": self.turbulent,
            "regime": self.name,
        }
        return pd.DataFrame(
            {name: np.atleast_1d(column) for name, column in columns.items()},
            index=pd.Index(self.names, name="run") if self.names else None,
        )

    def __str__(self) -> str:
        head = (
            f"laminar below Re {self.laminar_below:g}, turbulent above {self.turbulent_above:g}; "
            f"probabilities from {self.trials} draws"
        )
        count = min(np.size(self.reynolds.value), _MOST_LINES)
        shown, wide = row_names(self.names, count, longest=_LONGEST_NAME)
        lines = [
            head,
            f"{'run':>{wide}}         Re      u(Re)   "
            "laminar  transitional  turbulent  most probable",
        ]
        values, widths = np.atleast_1d(self.reynolds.value), np.atleast_1d(self.reynolds.u)
        percent = np.atleast_2d(
            np.stack([self.laminar, self.transitional, self.turbulent], axis=-1) * 100
        )
        names = np.atleast_1d(self.name)
        for run in range(min(values.size, _MOST_LINES)):
            low, middle, high = (f"{share:.1f} %" for share in percent[run])
            re, u = round_cells(float(values[run]), float(widths[run]))
            lines.append(
                f"{shown[run]:>{wide}} {re:>10} {u:>10} {low:>9} {middle:>13} {high:>10}  "
                f"{names[run]}"
            )
        if values.size > _MOST_LINES:
            lines.append(f" ... and {values.size - _MOST_LINES} more: see .table()")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        head = (
            f"laminar below Re {self.laminar_below:g}, turbulent above {self.turbulent_above:g}; "
            f"probabilities from {self.trials} draws"
        )
        return rounded_table(
            self.table(),
            uncertainty_of={"Reynolds number": "u"},
            formats=dict.fromkeys(("laminar", "transitional", "turbulent"), ".1%"),
            index="run",
            title=head,
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def regime(
    reynolds: ReynoldsNumber,
    *,
    laminar_below: float = 2300.0,
    turbulent_above: float = 4000.0,
    trials: int = 100_000,
    seed: int = 0,
) -> Regimes:
    """Find how probable laminar, transitional and turbulent flow are in each run.

    Parameters
    ----------
    reynolds : ReynoldsNumber, scalar or shape (n,)
        Above 0.
    laminar_below, turbulent_above : float
        Thresholds, 2300 and 4000 as usually taken for pipes (common practice, no source).
        They are taken as exact.
    trials : int
        Draws; a probability p comes out to within sqrt(p (1 - p)/trials), 0.0016 at worst.
    seed : int
        The same seed gives the same probabilities.

    Returns
    -------
    Regimes

    Raises
    ------
    DimensionError
        Something else than a Reynolds number.
    RangeError
        Reynolds number not above 0; thresholds not 0 < laminar_below <= turbulent_above; trials
        or seed out of range.
    PropagationError
        Draws without a value.

    Notes
    -----
    The shares of draws below ``laminar_below`` and above ``turbulent_above``; the rest is
    transitional. Of very many runs only those are drawn whose value lies within 8 u of a
    threshold, or of which that says too little (u above 5 %, few degrees of freedom, a formula
    far from straight); the others come out as 0 or 1.

    The probabilities say how well Re is known, nothing of how disturbed the inlet is: behind a
    smooth bell-mouth laminar flow is seen far above 2300.

    Examples
    --------
    >>> from flowunc import ReynoldsNumber, regime, standard
    >>> found = regime(ReynoldsNumber([1900, 2300], "1", standard(50)), seed=1)
    >>> found.name[0], bool(abs(found.laminar[1] - 0.5) < 0.01)
    ('laminar', True)
    """
    re = require_kind(reynolds, ReynoldsNumber, "regime", "reynolds")
    require_positive(re, "regime", "reynolds")
    low, high = check_thresholds(laminar_below, turbulent_above)
    laminar, transitional, turbulent = shares(
        re, low, high, trials=trials, seed=seed, function="regime", name="Re", screened=True
    )
    return Regimes(re, laminar, transitional, turbulent, low, high, trials, seed)
