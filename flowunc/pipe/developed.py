"""The entrance length held against the place of the taps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from flowunc.core.display.frames import rounded_table
from flowunc.core.display.tables import mimebundle
from flowunc.core.kinds import Length, ReynoldsNumber
from flowunc.core.naming import named_argument
from flowunc.core.quantity import Numbers
from flowunc.core.record import common_size
from flowunc.pipe.entrance import entrance_length
from flowunc.pipe.shares import shares
from flowunc.pipe.signs import require_not_negative, require_positive

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["DevelopedFlow", "developed_flow"]

_NAME = "developed_flow"
_MOST_LINES = 40


@dataclass(frozen=True, eq=False)
class DevelopedFlow:
    """The entrance length held against the place of the taps, for one run or for several.

    Attributes
    ----------
    reynolds : ReynoldsNumber
    entrance_length : Length
        From the inlet to developed flow.
    excess : Length
        Entrance length less the distance to the first tap, recorded: above 0 it reaches beyond
        the tap.
    probability : float or ndarray, shape (n,)
        That the flow is developed at the first tap.
    share : float or ndarray, shape (n,), or None
        Share of the tap spacing that lies within the entrance length, 0 to 1; None where no tap
        spacing was given.
    trials, seed : int
        Draws that the probability comes from.
    """

    reynolds: ReynoldsNumber
    entrance_length: Length
    excess: Length
    probability: Numbers
    share: Numbers | None
    trials: int
    seed: int

    @property
    def developed(self) -> bool | NDArray[np.bool_]:
        """Whether the flow is developed at the first tap, by the values alone."""
        inside = np.asarray(self.excess._node.value) <= 0
        return bool(inside) if inside.ndim == 0 else inside

    def table(self) -> pd.DataFrame:
        """Return a table with one line per run, lengths in m."""
        import pandas as pd

        columns = {
            "Reynolds number": self.reynolds.value,
            "entrance length": self.entrance_length.si.value,
            "u": self.entrance_length.si.u,
            "excess": self.excess.si.value,
            "share of tap spacing": np.nan if self.share is None else self.share,
            "probability developed": self.probability,
            "developed": self.developed,
        }
        rows = max(np.size(column) for column in columns.values())
        return pd.DataFrame(
            {name: np.broadcast_to(column, (rows,)) for name, column in columns.items()}
        )

    def __str__(self) -> str:
        lines = [" run         Re  entrance length  beyond the tap  share of taps  developed"]
        rows = self.table().to_numpy()
        for run, (re, length, _, excess, share, probability, _) in enumerate(rows[:_MOST_LINES]):
            eaten = "-" if np.isnan(share) else f"{100 * share:.1f} %"
            beyond = f"{excess:.3g} m" if excess > 0 else "no"
            lines.append(
                f"{run:4d} {re:10.5g} {f'{length:.3g} m':>16} {beyond:>15} {eaten:>14} "
                f"{f'{100 * probability:.1f} %':>10}"
            )
        if len(rows) > _MOST_LINES:
            lines.append(f" ... and {len(rows) - _MOST_LINES} more: see .table()")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return rounded_table(
            self.table(),
            uncertainty_of={
                "Reynolds number": self.reynolds.u,
                "entrance length": "u",
                "excess": self.excess.si.u,
            },
            formats={"share of tap spacing": ".1%", "probability developed": ".1%"},
            index="run",
            title="Entrance length against the place of the taps, lengths in m",
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def developed_flow(
    reynolds: ReynoldsNumber,
    bore: Length,
    distance_to_first_tap: Length,
    tap_spacing: Length | None = None,
    *,
    laminar_below: float = 2300.0,
    turbulent_above: float = 4000.0,
    trials: int = 100_000,
    seed: int = 0,
) -> DevelopedFlow:
    """Find whether the flow is developed at the first tap behind an inlet.

    Parameters
    ----------
    reynolds : ReynoldsNumber, scalar or shape (n,)
        Above 0.
    bore : Length, scalar or shape (n,)
        Inside diameter. The three lengths are told apart by nothing but their place.
    distance_to_first_tap : Length, scalar or shape (n,)
        From the end of the inlet, such as a bell-mouth, to the upstream tap; 0 or more.
    tap_spacing : Length, scalar or shape (n,), optional
        Distance between the taps; given, the share of it within the entrance length is found.
    laminar_below, turbulent_above : float
        Reynolds numbers between which the flow is transitional.
    trials, seed : int
        Draws for the probability, which comes out to within sqrt(p (1 - p)/trials).

    Returns
    -------
    DevelopedFlow

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Reynolds number, bore or tap spacing not above 0, a distance below 0; thresholds not
        0 < laminar_below <= turbulent_above; trials or seed out of range.

    Notes
    -----
    The entrance length is that of `entrance_length` [White 2003, ch. 6], whose limits, 20 % for
    laminar and 30 % for turbulent flow, are most of what makes the probability unsure. The
    share is (entrance length - distance)/tap spacing, cut at 0 and 1.

    Where flow is still developing, the pressure drops faster than in developed flow: the wall
    shear is higher and the core gains speed. A friction factor from such taps comes out too
    high, and no uncertainty stated for the readings covers that. The share tells how much of
    the reading is concerned, not by how much it is wrong.

    Examples
    --------
    >>> from flowunc import Length, ReynoldsNumber, developed_flow
    >>> found = developed_flow(
    ...     ReynoldsNumber([600, 2000, 9000], "1"), Length(20, "mm"), Length(1.2, "m"),
    ...     Length(2.4, "m"), seed=1,
    ... )
    >>> found.developed, found.share
    (array([ True, False,  True]), array([0. , 0.5, 0. ]))
    """
    re = named_argument(reynolds, ReynoldsNumber, _NAME, "reynolds")
    distance = named_argument(distance_to_first_tap, Length, _NAME, "distance_to_first_tap")
    D = named_argument(bore, Length, _NAME, "bore")
    require_positive(re, _NAME, "reynolds")
    require_positive(D, _NAME, "bore")
    require_not_negative(distance, _NAME, "distance_to_first_tap")
    length = entrance_length(
        re, D, laminar_below=laminar_below, turbulent_above=turbulent_above
    ).labelled("entrance length")
    excess = length - distance
    share = None
    if tap_spacing is not None:
        L = named_argument(tap_spacing, Length, _NAME, "tap_spacing")
        require_positive(L, _NAME, "tap_spacing")
        common_size((excess._node, L._node))
        share = excess._shown(np.clip(excess._node.value / L._node.value, 0.0, 1.0))
    drawn = shares(
        excess, 0.0, 0.0, trials=trials, seed=seed, function=_NAME, name="entrance length"
    )
    return DevelopedFlow(
        re,
        length,
        Length._from_node(excess._node, label="entrance length beyond the first tap"),
        excess._shown(np.asarray(drawn.below) + np.asarray(drawn.between)),
        share,
        trials,
        seed,
    )
