"""The length a pipe needs until its velocity profile is developed."""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component
from flowunc.core.distributions import Rectangular
from flowunc.core.kinds import Length, ReynoldsNumber
from flowunc.core.naming import named_argument
from flowunc.fluids.model_error import PERCENT, one_within
from flowunc.pipe.regimes import check_thresholds
from flowunc.pipe.signs import require_positive

__all__ = ["entrance_length"]

_LAMINAR = Component(
    label="laminar entrance rule",
    distribution=Rectangular(0.20),
    unit=PERCENT,
    source="entrance length",
    key="flowunc.entrance.laminar",
)
_TURBULENT = Component(
    label="turbulent entrance rule",
    distribution=Rectangular(0.30),
    unit=PERCENT,
    source="entrance length",
    key="flowunc.entrance.turbulent",
)


def entrance_length(
    reynolds: ReynoldsNumber,
    bore: Length,
    *,
    laminar_below: float = 2300.0,
    turbulent_above: float = 4000.0,
) -> Length:
    """Estimate the length from the inlet to fully developed flow.

    Parameters
    ----------
    reynolds : ReynoldsNumber, scalar or shape (n,)
        Above 0.
    bore : Length, scalar or shape (n,)
        Inside diameter.
    laminar_below, turbulent_above : float
        Reynolds numbers between which the flow is transitional.

    Returns
    -------
    Length
        In m.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Reynolds number or bore not above 0; thresholds not 0 < laminar_below <= turbulent_above.

    Notes
    -----
    Laminar: l = 0.06 Re D. Turbulent: l = 4.4 Re^(1/6) D. Transitional: the longer of the two,
    since puffs of either kind pass; that is the laminar one (for any Re above 174). Source:
    [White 2003, ch. 6]. The value of Re chooses the rule; all draws of a simulation then follow it.

    Where a profile counts as developed is a convention, and texts differ: factors from 0.05 to
    0.065 for laminar flow, and 1.6 Re^(1/4) for turbulent flow (from memory), up to 28 % shorter.
    Hence limits of 20 % (laminar) and 30 % (turbulent) either way, one shared component each.
    From a smooth bell-mouth a turbulent profile needs longer than from a sharp edge, which trips
    the boundary layer at once (common practice, no source).

    Examples
    --------
    >>> from flowunc import Length, ReynoldsNumber, entrance_length
    >>> round(entrance_length(ReynoldsNumber(2000, "1"), Length(20, "mm")).value, 6)
    2.4
    """
    re = named_argument(reynolds, ReynoldsNumber, "entrance_length", "reynolds")
    D = named_argument(bore, Length, "entrance_length", "bore")
    low, high = check_thresholds(laminar_below, turbulent_above)
    require_positive(re, "entrance_length", "reynolds")
    require_positive(D, "entrance_length", "bore")

    laminar_rule = 0.06 * re
    turbulent_rule = 4.4 * re ** (1 / 6)

    longer_is_turbulent = turbulent_rule._node.value > laminar_rule._node.value
    is_turbulent = (re._node.value > high) | ((re._node.value >= low) & longer_is_turbulent)
    if is_turbulent.all():
        bores = turbulent_rule * one_within(_TURBULENT)
    elif not is_turbulent.any():
        bores = laminar_rule * one_within(_LAMINAR)
    else:
        chosen = is_turbulent.astype(np.float64)
        bores = (1.0 - chosen) * (laminar_rule * one_within(_LAMINAR))
        bores = bores + chosen * (turbulent_rule * one_within(_TURBULENT))
    return Length._from_node((bores * D)._node, label="entrance length")
